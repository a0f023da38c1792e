"""Every engine that a person works on: what will need opening, on a page and as files."""

from __future__ import annotations

from urllib.parse import urlencode

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from rehang.book import members, outlook, queries
from rehang.sheets.tables import write_csv, write_xlsx
from rehang.trade.errors import BadInput
from rehang.trade.lives import Lives, lives_of
from rehang.web import fleet_rows
from rehang.web.views.desk import refused

FILES = {
    "csv": "text/csv; charset=utf-8",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "ics": "text/calendar; charset=utf-8",
}
USUAL = "100h"


def _rows(request: HttpRequest) -> tuple[str, list[fleet_rows.FleetRow], int]:
    """The window asked for, its rows, and on how many engines."""
    member = members.member_of(request.user)
    window = request.GET.get("within", USUAL)
    engines = []
    seen = set()
    for job in queries.jobs(person=member.key, put_away=None) if member is not None else []:
        judged = queries.judged(job)
        # The newest job of an engine knows it best; a job of no serial is an engine of its own.
        serial = str(judged.facts.engine.get("serial", "") or job.slug)
        if serial in seen:
            continue
        seen.add(serial)
        assert member is not None
        engines.append((judged, outlook.forecasts_of(job, person=member.key)))
    rows = fleet_rows.fleet_rows(engines)
    return window, fleet_rows.within(rows, window), len(engines)


def _lives(request: HttpRequest) -> Lives | None:
    """How long plugs last on all the engines this person works on; None where nothing shows it."""
    member = members.member_of(request.user)
    if member is None:
        return None
    try:
        return lives_of(
            [queries.judged(job) for job in queries.jobs(person=member.key, put_away=None)]
        )
    except BadInput:
        # No plug has two ages on record yet: there is nothing to say, and the page says the rest.
        return None


@require_GET
@login_required
def fleet(request: HttpRequest) -> HttpResponse:
    """What comes up on every engine within a window, the soonest first."""
    try:
        window, rows, engines = _rows(request)
    except BadInput as reason:
        return refused(request, reason, 404)
    return render(
        request,
        "web/fleet.html",
        {
            "rows": rows,
            "engines": engines,
            "window": window,
            "windows": [(name, words) for name, (_, _, words) in fleet_rows.WINDOWS.items()],
            "query": urlencode({"within": window}),
            "undated": sum(1 for row in rows if row.due_on is None),
            "lives": _lives(request),
        },
    )


@require_GET
@login_required
def fleet_file(request: HttpRequest, form: str) -> HttpResponse:
    """The same rows as a table or a calendar."""
    try:
        window, rows, _ = _rows(request)
        if form == "ics":
            made = fleet_rows.calendar_of(rows, timezone.now())
        elif form == "csv":
            made = write_csv(fleet_rows.HEADINGS, fleet_rows.export_rows(rows))
        else:
            made = write_xlsx(fleet_rows.HEADINGS, fleet_rows.export_rows(rows), "What comes due")
    except BadInput as reason:
        return refused(request, reason, 404)
    answer = HttpResponse(made, content_type=FILES[form])
    name = f"what-comes-due-{window}-{timezone.localdate().isoformat()}.{form}"
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer
