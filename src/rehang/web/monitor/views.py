"""The engine monitor: a table sent, what its columns are, and what it says and asks."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from rehang.book import queries, services
from rehang.book.waiting import let_go, put_by, waiting
from rehang.decode.apart import look_at_flight
from rehang.decode.flights import MOST_ROWS, MOST_SENT, FlightHead
from rehang.trade.facts.monitor_columns import Mapped, check_mapped
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.errors import BadInput, Refused
from rehang.trade.terms.kinds.monitor import MonitorRead
from rehang.web.monitor import rows
from rehang.web.shared.desk import Desk, SeeOther, entry_id, job_page, page, say, send_back, writes
from rehang.web.shared.mode import type_size
from rehang.web.shared.templatetags.bench import bench_mode

__all__ = ["monitor", "monitor_columns", "monitor_file", "monitors"]


@require_http_methods(["GET", "HEAD", "POST"])
@job_page
@writes
def monitors(request: HttpRequest, desk: Desk) -> HttpResponse:
    """The tables of this job; a post lays one by and asks what its columns are."""
    here = reverse("web:monitors", args=[desk.job.slug])
    if request.method == "POST":
        of = request.POST.get("of", "").strip()
        try:
            if not of:
                raise BadInput("Write which flight or run it is of.", "of")
            name, data = _sent(request)
            # Looked at before it is laid by: what is no table is refused here.
            look_at_flight(name, data)
        except Refused as reason:
            return send_back(request, here, "table", reason, {"of": of}, fields=("of", "file"))
        mark = put_by(desk.job.slug, data)
        request.session["monitor"] = {"mark": mark, "name": name, "of": of}
        return SeeOther(reverse("web:monitor_columns", args=[desk.job.slug, mark]))
    return page(
        request,
        desk,
        "monitor/monitors",
        current="rest",
        rows=rows.list_rows(desk.judged),
        most=f"{MOST_SENT // 1_000_000}",
        most_rows=f"{MOST_ROWS:,}",
        most_kept=f"{services.MOST_KEPT // 1_000_000}",
    )


def _sent(request: HttpRequest) -> tuple[str, bytes]:
    sent = request.FILES.get("file")
    if sent is None:
        raise BadInput("Choose the table of the flight first.", "file")
    name = (sent.name or "the table")[:200]
    if (sent.size or 0) > MOST_SENT:
        raise BadInput(
            f"The file has {sent.size:,} bytes; {MOST_SENT:,} may be sent. Pack it with gzip, or cut it "
            "into flights.",
            "file",
        )
    return name, sent.read()


@require_http_methods(["GET", "HEAD", "POST"])
@job_page
@writes
def monitor_columns(request: HttpRequest, desk: Desk, mark: str) -> HttpResponse:
    """What each column is, to be confirmed; a post reads the table and keeps what it says."""
    told = request.session.get("monitor") or {}
    name, of = (
        (str(told.get("name")), str(told.get("of")))
        if told.get("mark") == mark
        else ("the table", "")
    )
    data = waiting(desk.job.slug, mark)
    head = look_at_flight(name, data)
    posted, sentence = None, ""
    if request.method == "POST":
        posted = _posted(request, head)
        of = request.POST.get("of", "").strip() or of
        try:
            entry = _read(request, desk, name, data, head, of)
        except Refused as reason:
            sentence = str(reason)
        else:
            let_go(desk.job.slug, mark)
            say(request, desk, entry)
            return SeeOther(reverse("web:monitor", args=[desk.job.slug, entry.id]))
    learnt, learnt_of = queries.monitor_columns(head.headings)
    found = rows.column_rows(head, desk.judged.facts.layout, learnt, posted)
    return page(
        request,
        desk,
        "monitor/columns",
        status=422 if sentence else 200,
        current="rest",
        columns=found,
        picked=[row for row in found if not row.is_left_out],
        left_out=[row for row in found if row.is_left_out],
        learnt=learnt_of,
        commas=head.commas,
        decimal=request.POST.get("decimal", ""),
        name=name,
        of=of,
        sentence=sentence,
        field="",
    )


def _posted(request: HttpRequest, head: FlightHead) -> dict[int, tuple[str, str]]:
    return {
        number: (request.POST.get(f"c{number}", ""), request.POST.get(f"u{number}", ""))
        for number in range(len(head.headings))
    }


def _read(
    request: HttpRequest, desk: Desk, name: str, data: bytes, head: FlightHead, of: str
) -> Entry:
    columns: dict[str, int] = {}
    units: dict[str, str] = {}
    for number, (channel, unit) in _posted(request, head).items():
        if not channel:
            continue
        if channel in columns:
            both = f'"{head.headings[columns[channel]]}" and "{head.headings[number]}"'
            raise BadInput(f"{both} are said to be the same. Pick one, and leave the other out.")
        columns[channel] = number
        # What the heading says goes before what is picked.
        units[channel] = head.units[number] or head.clocks[number] or unit
    if not of:
        raise BadInput("Write which flight or run it is of.")
    decimal = request.POST.get("decimal", "") if head.commas else "."
    if decimal not in (".", ","):
        raise BadInput("Say whether decimals are written with a point or with a comma.")
    check_mapped(Mapped(columns, units), head.headings, desk.judged.facts.layout)
    said: dict[str, Any] = {"columns": columns, "units": units, "decimal": decimal}
    own = entry_id(request, "monitor_read", name, of, str(sorted(columns.items())), decimal)
    if not desk.has(own):
        services.add_monitor_table(
            job=desk.job, name=name, data=data, said=said, of=of, entry_id=own, by=desk.key,
            at=desk.now(),
        )  # fmt: skip
    return queries.judged(queries.job(desk.job.slug)).state.entries[own]


@require_safe
@job_page
def monitor(request: HttpRequest, desk: Desk, entry_id: str) -> HttpResponse:
    """One table: what it says, each cylinder within its fellows, its oil, what it asks."""
    entry = _entry(desk, entry_id)
    size = type_size(bench_mode({"request": request}).name)
    return page(
        request,
        desk,
        "monitor/monitor",
        current="rest",
        monitor=rows.monitor_page(desk.judged, entry, size),
    )


@require_safe
@job_page
def monitor_file(request: HttpRequest, desk: Desk, entry_id: str) -> HttpResponse:
    """The table as it was kept, every byte of it."""
    entry = _entry(desk, entry_id)
    if not entry.fields.table:
        raise BadInput(
            "This table was too large to be kept. Its sum tells whether a copy is the same."
        )
    answer = HttpResponse(
        queries.kept_file(entry.fields.table), content_type="text/csv; charset=utf-8"
    )
    answer["Content-Disposition"] = f'attachment; filename="{desk.job.slug}-monitor.csv"'
    answer["X-Content-Type-Options"] = "nosniff"
    return answer


def _entry(desk: Desk, wanted: str) -> Entry[MonitorRead]:
    found = next((one for one in desk.judged.state.live() if one.id == wanted), None)
    if found is None or not is_a(found, MonitorRead):
        raise BadInput("There is no such table in this book, or it is struck.")
    return found
