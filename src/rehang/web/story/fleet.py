"""Every engine that a person works on: what will need opening, on a page and as files."""

from __future__ import annotations

from math import inf
from urllib.parse import urlencode

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from rehang.book import members, outlook, queries
from rehang.decode.tables import write_csv, write_xlsx
from rehang.trade.life.lives import ShopLives, lives_of
from rehang.trade.papers.no_age_rule import without_age_rule
from rehang.trade.terms.errors import BadInput
from rehang.web.shared.desk import refused
from rehang.web.story import fleet_rows

FILES = {
    "csv": "text/csv; charset=utf-8",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "ics": "text/calendar; charset=utf-8",
}
USUAL = "100h"
NO_FLEET = outlook.Fleet((), 0)


# A page waits this long, then says how far it is and asks again.
WAIT_S = 1.5


def _fleet(request: HttpRequest, wait_s: float = inf) -> outlook.Fleet:
    member = members.member_of(request.user)
    return outlook.fleet_of(member.key, wait_s=wait_s) if member is not None else NO_FLEET


def _rows(window: str, fleet: outlook.Fleet) -> list[fleet_rows.FleetRow]:
    return fleet_rows.within(fleet_rows.fleet_rows(fleet.engines), window)


def _lives(request: HttpRequest) -> ShopLives | None:
    """How long plugs last on all the engines this person works on; None where nothing shows it."""
    member = members.member_of(request.user)
    if member is None:
        return None
    try:
        return lives_of(
            [
                queries.judged(job)
                for job in queries.readable(queries.jobs(person=member.key, put_away=None))
            ]
        )
    except BadInput:
        # No plug has two ages on record yet: there is nothing to say, and the page says the rest.
        return None


@require_safe
@login_required
def fleet(request: HttpRequest) -> HttpResponse:
    """What comes up on every engine within a window, the soonest first."""
    window = request.GET.get("within", USUAL)
    try:
        found = _fleet(request, WAIT_S)
        rows = _rows(window, found) if found.ready else []
    except BadInput as reason:
        return refused(request, reason, 404)
    return render(
        request,
        "story/fleet.html",
        {
            "fleet": found,
            "rows": rows,
            "lines": fleet_rows.engine_lines(found.engines, rows, window),
            "engines": found.of,
            "window": window,
            "windows": [(name, words) for name, (_, _, words) in fleet_rows.WINDOWS.items()],
            "query": urlencode({"within": window}),
            "undated": [row.job for row in rows if row.due_on is None],
            "no_rule": [
                (judged.facts.job, fleet_rows.engine_words(judged), rules)
                for judged, _ in found.engines
                if (rules := without_age_rule(judged.facts, judged.state))
            ],
            "lives": _lives(request) if found.ready else None,
        },
    )


@require_safe
@login_required
def fleet_file(request: HttpRequest, form: str) -> HttpResponse:
    """The same rows as a table or a calendar."""
    window = request.GET.get("within", USUAL)
    try:
        rows = _rows(window, _fleet(request))
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
