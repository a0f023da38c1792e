"""Tables in and out: a file is looked at, its columns said, and then all of it kept or nothing.

Between the steps the file travels in the page's own form. Nothing of it lies on this machine
until it is kept.
"""

from __future__ import annotations

import base64
import binascii
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from rehang.book import queries, services
from rehang.decode.apart import read_table
from rehang.decode.tables import Table, write_table
from rehang.sheets.facts_table import (
    FACT_TABLES,
    FactsPlan,
    fact_fields,
    facts_table,
    field_words,
    guess_facts,
    kind_of_table,
    plan_facts,
)
from rehang.sheets.readings_table import (
    FIELDS,
    LEFT_OUT,
    Column,
    Plan,
    Settings,
    Target,
    check_choices,
    guess,
    plan,
    readings_table,
    target_text,
    wanted_checks,
)
from rehang.trade.facts.items import Check
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.terms.errors import BadInput, Refused
from rehang.web.shared import meters as meter_rows
from rehang.web.shared.desk import Desk, SeeOther, book_page, keeper, page, writes
from rehang.web.shared.meters import MeterChoice

KINDS = {
    "readings": "Every reading with its call, limit and place in the book",
    "meters": "Every meter, a row for each of its ranges",
    "limits": "Every limit with its document",
}
FORMATS = {
    "csv": "text/csv; charset=utf-8",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}
# It comes back as text in a form, a third longer, and a form may have 2.6 million bytes.
MOST_UPLOADED = 1_500_000


@dataclass(frozen=True, slots=True)
class ColumnRow:
    """One column of the mapping, ready to show. ``sample`` is its first cell with something."""

    number: int
    heading: str
    sample: str
    how: str
    choices: tuple[tuple[str, str, bool], ...]


@dataclass(frozen=True, slots=True)
class TableMeter:
    """The meters one check of the table may have been read on."""

    name: str
    label: str
    choices: tuple[MeterChoice, ...]


@dataclass(frozen=True, slots=True)
class Sent:
    """What the form says beside the file. ``said`` is the mapping, by the number of the column."""

    what: str
    said: Mapping[int, str]
    meters: Mapping[str, str]
    psi: str
    read_at: str
    bring_in: bool
    keep_unlikely: bool


def _kinds(desk: Desk) -> list[str]:
    """The tables of a book: the shop's own has no readings."""
    return [one for one in KINDS if one != "readings" or not desk.job.is_shop]


@require_http_methods(["GET", "HEAD", "POST"])
@book_page
@writes
def tables(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Tables of this book to take away, and a table to bring in."""
    if request.method == "GET":
        paste = request.GET.get("paste", "")
        return _page(request, desk, paste=paste if paste in _kinds(desk) else "")
    try:
        name, data = _file(request)
        table = read_table(name, data)
    except Refused as reason:
        return _page(request, desk, sentence=str(reason))
    sent = _sent(request, table)
    try:
        if sent.what not in _kinds(desk):
            raise BadInput("Readings are of a job. Bring them in on its own page of tables.")
        if sent.what == "readings":
            return _readings(request, desk, table, data, sent)
        return _facts(request, desk, table, data, sent)
    except Refused as reason:
        return _page(request, desk, sentence=str(reason))


@require_safe
@book_page
def table_file(request: HttpRequest, desk: Desk, what: str, file_format: str) -> HttpResponse:
    """Readings, meters or limits as a file."""
    if what not in _kinds(desk) or file_format not in FORMATS:
        raise BadInput(f'There is no table "{what}.{file_format}" here.')
    if what == "readings":
        headings, rows = readings_table(desk.judged)
    else:
        headings, rows = facts_table(what, queries.files(desk.job)[FACT_TABLES[what].file])
    answer = HttpResponse(
        write_table(file_format, headings, rows, what), content_type=FORMATS[file_format]
    )
    name = f"{desk.job.slug}-{what}-{desk.today().isoformat()}.{file_format}"
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer


# What was sent


def _file(request: HttpRequest) -> tuple[str, bytes]:
    sent, pasted = request.FILES.get("file"), request.POST.get("paste", "")
    if sent is None and pasted.strip():
        return "what you pasted", pasted.strip("\r\n").encode()
    if sent is not None:
        name = sent.name or "the table"
        if (sent.size or 0) > MOST_UPLOADED:
            raise BadInput(
                f"The file has {sent.size:,} bytes; a page takes {MOST_UPLOADED:,}. Save the one "
                "sheet with the table, or use the command rehang import.",
                name,
            )
        return name, sent.read()
    carried = request.POST.get("carried", "")
    if not carried:
        raise BadInput("Choose a CSV or XLSX file first, or paste the table.")
    try:
        return request.POST.get("name", "the table"), base64.b64decode(carried, validate=True)
    except (binascii.Error, ValueError):
        raise BadInput("The file did not come back whole. Choose it again.") from None


def _sent(request: HttpRequest, table: Table) -> Sent:
    post = request.POST
    what = post.get("what", "")
    if what not in KINDS:
        what = kind_of_table(table)
    # What was said of the columns of readings says nothing of the columns of meters.
    same = post.get("was", what) == what
    return Sent(
        what=what,
        said={
            number: post[f"c{number}"]
            for number in range(len(table.headings))
            if same and f"c{number}" in post
        },
        meters={
            name.removeprefix("m-"): post.get(name, "") for name in post if name.startswith("m-")
        },
        psi=post.get("psi", "").strip(),
        read_at=post.get("read_at", "").strip(),
        bring_in=post.get("bring_in") == "yes",
        keep_unlikely=post.get("keep_unlikely") == "yes",
    )


# Readings


def _readings(
    request: HttpRequest, desk: Desk, table: Table, data: bytes, sent: Sent
) -> HttpResponse:
    facts = desk.judged.facts
    columns: Sequence[Column] = []
    made: Plan | None = None
    meters: list[TableMeter] = []
    sentence = ""
    try:
        columns = guess(table, facts, sent.said)
        wanted = wanted_checks(table, columns, facts)
        meters = [_meter_row(desk, check, sent.meters.get(check.name, "")) for check in wanted]
        made = plan(table, columns, facts, queries.entries(desk.job), _settings(desk, sent, meters))
        if made.can_be_kept and request.POST.get("act") == "keep":
            return _keep_readings(request, desk, made)
    except Refused as reason:
        sentence = str(reason)
    if not columns:
        # Two columns said to be one thing: show what was said, to be mended.
        columns = guess(table, facts)
    return _preview(
        request,
        desk,
        table,
        data,
        sent,
        rows=_column_rows(table, columns, sent.said, _reading_choices(facts)),
        made=made,
        sentence=sentence,
        meters=meters,
        asks_psi=any(c.target.check == "spark" or c.target.field == "check" for c in columns)
        and not any(c.target.field == "at_psi" for c in columns),
        asks_at=not any(c.target.field == "at" for c in columns),
    )


def _settings(desk: Desk, sent: Sent, meters: Sequence[TableMeter]) -> Settings:
    now = desk.now()
    return Settings(
        by=desk.key,
        at=now,
        read_at=_read_at(desk, sent.read_at),
        own=True,
        meters={row.name: _meter(row) for row in meters},
        at_psi=_psi(sent.psi),
        bring_in=sent.bring_in,
        keep_unlikely=sent.keep_unlikely,
    )


def _meter(row: TableMeter) -> tuple[str, str]:
    value = next((choice.value for choice in row.choices if choice.chosen), "")
    meter, _, range_name = value.partition("|")
    return meter, range_name


def _meter_row(desk: Desk, check: Check, chosen: str) -> TableMeter:
    # Nothing is picked until a person picks it: the table does not say what it was read on.
    offered = meter_rows.meter_choices(desk.judged, check, chosen or "|")
    choices = [choice for choice in offered if choice.value]
    none = not any(choice.chosen for choice in choices)
    return TableMeter(check.name, check.label, (MeterChoice("", "not said", none), *choices))


def _psi(text: str) -> int | None:
    if not text:
        return None
    if not (text.isascii() and text.isdigit() and len(text) < 6):
        raise BadInput(f'The pressure is "{text}". Write whole psi, as in 100.')
    return int(text)


def _read_at(desk: Desk, text: str) -> datetime | None:
    if not text:
        return None
    try:
        when = datetime.fromisoformat(text) if len(text) > 10 else None
    except ValueError:
        when = None
    if when is None:
        raise BadInput(f'"{text}" is not a date and time. Write them as in 2026-10-13 10:30.')
    return when if when.tzinfo else when.replace(tzinfo=desk.zone)


def _keep_readings(request: HttpRequest, desk: Desk, made: Plan) -> HttpResponse:
    desk.write(made.entries)
    number = made.count("new")
    return _kept(request, desk, f"{number} reading{'' if number == 1 else 's'} came in.")


def _reading_choices(facts: JobFacts) -> tuple[tuple[str, str], ...]:
    found = [(LEFT_OUT, "left out")]
    found += list(FIELDS.items())
    found += [(f"item:{kind}", f"the item, a {kind}") for kind in facts.sheets]
    conditions = dict.fromkeys(n for c in check_choices(facts).values() for n in c.asks)
    found += [(f"with.{n}", f"{n.replace('_', ' ')}, written with the reading") for n in conditions]
    for check in check_choices(facts).values():
        found.append((check.name, f"readings of {check.label.lower()}"))
        if check.quantity is not None:
            units = dict.fromkeys((check.quantity.keyed, check.quantity.record))
            found += [
                (f"{check.name} in {unit}", f"readings of {check.label.lower()}, in {unit}")
                for unit in units
            ]
    return tuple(found)


# Meters and limits


def _facts(request: HttpRequest, desk: Desk, table: Table, data: bytes, sent: Sent) -> HttpResponse:
    file = FACT_TABLES[sent.what].file
    columns: Sequence[Column] = []
    made: FactsPlan | None = None
    sentence = ""
    try:
        columns = guess_facts(sent.what, table, sent.said)
        made = plan_facts(
            sent.what,
            table,
            columns,
            queries.files(desk.job)[file],
            desk.judged.facts.every_sheet,
            # Whoever confirms it; their PIN is asked for before it is filed.
            by=request.POST.get("who", "") or desk.key,
            on=desk.today(),
            torques={one.title: one.limit for one in desk.judged.facts.torque_groups.values()},
        )
        if made.can_be_kept and request.POST.get("act") == "keep":
            who, asked = keeper(request, desk, f"change the {sent.what}")
            if asked is not None:
                return asked
            services.file_text(job=desk.job, name=file, text=made.text, by=who, at=timezone.now())
            new, changed = made.count("new"), made.count("changed")
            return _kept(request, desk, f"{new} new and {changed} changed {sent.what} are on file.")
    except Refused as reason:
        sentence = str(reason)
    if not columns:
        columns = guess_facts(sent.what, table)
    choices = ((LEFT_OUT, "left out"), *((n, field_words(n)) for n in fact_fields(sent.what)))
    return _preview(
        request,
        desk,
        table,
        data,
        sent,
        rows=_column_rows(table, columns, sent.said, choices),
        made=made,
        sentence=sentence,
        meters=[],
        asks_psi=False,
        asks_at=False,
    )


# Pages


def _kept(request: HttpRequest, desk: Desk, sentence: str) -> HttpResponse:
    request.session["said"] = {"sentence": sentence, "undo": ""}
    return SeeOther(reverse("web:tables", args=[desk.job.slug]))


def _column_rows(
    table: Table,
    columns: Sequence[Column],
    said: Mapping[int, str],
    choices: Sequence[tuple[str, str]],
) -> list[ColumnRow]:
    rows = []
    for number, column in enumerate(columns):
        chosen = said.get(number, target_text(column.target))
        mine = list(choices)
        if chosen not in dict(mine):
            mine.append((chosen, column.words))
        cells = (row.cells[number] for row in table.rows)
        sample = next((s for s in map(str, cells) if s.strip()), "")
        how = column.how if column.target != Target() or number in said else column.words
        rows.append(
            ColumnRow(
                number,
                table.column(number),
                sample[:40],
                how,
                tuple((value, words, value == chosen) for value, words in mine),
            )
        )
    return rows


def _preview(
    request: HttpRequest,
    desk: Desk,
    table: Table,
    data: bytes,
    sent: Sent,
    *,
    rows: Sequence[ColumnRow],
    made: Plan | FactsPlan | None,
    sentence: str,
    meters: Sequence[TableMeter],
    asks_psi: bool,
    asks_at: bool,
) -> HttpResponse:
    bad = made.bad if made else ()
    good = tuple(row for row in made.rows if not row.is_bad) if made else ()
    carried = base64.b64encode(data).decode()
    return _page(
        request,
        desk,
        sentence=sentence,
        status=422 if sentence or request.POST.get("act") == "keep" else 200,
        table=table,
        what=sent.what,
        kinds=_kinds(desk),
        columns=rows,
        meters=meters,
        asks_psi=asks_psi,
        asks_at=asks_at,
        sent=sent,
        made=made,
        bad=bad,
        good=good,
        unlikely=made.count("unlikely") if made else 0,
        brings_in=isinstance(made, Plan)
        and (sent.bring_in or any("has not come into this job" in row.reason for row in bad)),
        number=made.count("new") + made.count("changed") if made else 0,
        carried=carried,
        # What KEEP sends is what this page shows, whatever is picked above it meanwhile.
        shown=_shown(sent, rows, meters),
    )


def _shown(
    sent: Sent, rows: Sequence[ColumnRow], meters: Sequence[TableMeter]
) -> list[tuple[str, str]]:
    fields = [("what", sent.what), ("psi", sent.psi), ("read_at", sent.read_at)]
    fields += [
        (f"c{row.number}", value) for row in rows for value, _, chosen in row.choices if chosen
    ]
    fields += [(f"m-{m.name}", c.value) for m in meters for c in m.choices if c.chosen]
    if sent.bring_in:
        fields.append(("bring_in", "yes"))
    if sent.keep_unlikely:
        fields.append(("keep_unlikely", "yes"))
    return fields


def _page(
    request: HttpRequest, desk: Desk, *, sentence: str = "", status: int = 0, **context: object
) -> HttpResponse:
    return page(
        request,
        desk,
        "files/import",
        status=status or (422 if sentence else 200),
        current="paper",
        sentence=sentence,
        field="file",
        outs=[(kind, KINDS[kind]) for kind in _kinds(desk)],
        **context,
    )
