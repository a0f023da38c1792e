"""The rest of the job, one task of it, what to take to the bench, and the handover sheet."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from rehang.book import outlook
from rehang.paper.calendar import plan_ics
from rehang.trade.plan.plan_values import Plan
from rehang.trade.plan.planning import planned_data
from rehang.trade.release.consumed import unwritten_uses
from rehang.trade.terms.entries import canonical, new_entry
from rehang.trade.terms.errors import BadInput, NotAllowed
from rehang.web.shared import photo_rows
from rehang.web.shared.desk import Desk, SeeOther, entry_id, job_page, page, say, send_back, writes
from rehang.web.shared.paper import printed
from rehang.web.work import paper_rows, parts_rows, plan_rows, task_rows
from rehang.web.work import rows as work_rows
from rehang.web.work.at_once import at_once
from rehang.web.work.unjudged import unjudged_rows

__all__ = [
    "owner",
    "owner_pdf",
    "parts",
    "plan_calendar",
    "plan_live",
    "plan_pdf",
    "promise",
    "rest",
    "rotation",
    "task",
]

# A plan that is to be written down is waited for longer than one that is only shown.
PROMISE_WAIT_S = 10.0
# Why work stops, as the buttons say it and as the book keeps it.
STOPS = (
    ("phone", "PHONE"),
    ("helper", "HELPER"),
    ("part", "PART"),
    ("handover", "HANDOVER"),
    ("shift end", "SHIFT END"),
)


@require_safe
@job_page
def rest(request: HttpRequest, desk: Desk) -> HttpResponse:
    """The rail of what can be done now, what waits, the plan, and what is done."""
    return page(
        request,
        desk,
        "work/rest",
        current="rest",
        rest=work_rows.rest(desk.judged),
        today=desk.today().isoformat(),
        **_planned(desk),
    )


def _planned(desk: Desk) -> dict[str, Any]:
    found = outlook.plan(desk.job, desk.now())
    row = plan_rows.plan_page(found.plan, desk.judged) if found.plan is not None else None
    return {"plan": row, "plan_ready": found.ready}


@require_safe
@job_page
def plan_live(request: HttpRequest, desk: Desk) -> HttpResponse:
    """The finish and the calendar alone, for a page that waits for its plan."""
    # Not through page(): what was said last is for the next whole page.
    context = {
        "job": desk.job,
        "may_write": not desk.why_not,
        "once": uuid.uuid4().hex,
        "swap": True,
        "today": desk.today().isoformat(),
        **_planned(desk),
    }
    return render(request, "work/_plan_live.html", context)


@require_POST
@job_page
@writes
def promise(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Write the plan down as promised: a later one keeps its starts where it can."""
    found = outlook.plan(desk.job, desk.now(), wait_s=PROMISE_WAIT_S)
    onto = reverse("web:rest", args=[desk.job.slug])
    if found.plan is None or not found.ready:
        not_yet = NotAllowed("The plan is still being worked out. Promise it in a moment.")
        return send_back(request, onto, "promise", not_yet, {})
    data = planned_data(found.plan)
    entry = new_entry(
        "planned",
        at=desk.now(),
        by=desk.key,
        id=entry_id(request, "planned", canonical(data)),
        **data,
    )
    if not desk.has(entry.id):
        desk.write([entry])
    say(request, desk, entry)
    return SeeOther(onto)


@require_safe
@job_page
def task(request: HttpRequest, desk: Desk, name: str) -> HttpResponse:
    """One task: its places, what may be done there now, and all that it needs."""
    row = task_rows.task_page(desk.judged, name, desk.key)
    if row is None:
        raise BadInput(f'There is no task "{name}" in this job\'s task sheet.')
    return page(
        request,
        desk,
        "work/task",
        current="rest",
        task=row,
        stops=STOPS,
        at_once=at_once(row),
        unjudged=unjudged_rows(desk.judged, name),
    )


@require_safe
@job_page
def parts(request: HttpRequest, desk: Desk) -> HttpResponse:
    """What to order today, what is on its way, what is short, and what it costs."""
    judged = desk.judged
    return page(
        request,
        desk,
        "work/parts",
        current="rest",
        parts=parts_rows.parts_page(judged),
        unwritten=unwritten_uses(judged.facts, judged.state, judged.work),
    )


@require_safe
@job_page
def owner(request: HttpRequest, desk: Desk) -> HttpResponse:
    """For the owner: each part, why, its photo and its price."""
    row = parts_rows.owner_page(desk.judged)
    photos = {one.name: one for one in photo_rows.photo_rows(desk.judged)}

    def with_photos(rows: Sequence[parts_rows.OwnerRow]) -> list[dict[str, object]]:
        return [
            {"row": one, "photos": [photos[name] for name in one.photos if name in photos]}
            for one in rows
        ]

    return page(
        request,
        desk,
        "work/owner",
        current="rest",
        owner=row,
        fitted=with_photos(row.fitted),
        rows=with_photos(row.rows),
        decisions=with_photos(row.decisions),
        extra=[(title, with_photos(rows)) for title, rows in row.extra],
    )


@require_safe
@job_page
def rotation(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Where each plug goes, with the changes by hand and the rules they break."""
    row = parts_rows.rotation_page(desk.judged, best="best" in request.GET)
    return page(request, desk, "work/rotation", current="rest", rotation=row)


@require_safe
@job_page
def owner_pdf(request: HttpRequest, desk: Desk) -> HttpResponse:
    """The page for the owner."""
    row = parts_rows.owner_page(desk.judged)
    return printed(request, desk, paper_rows.owner_sheet(row, desk.judged), "owner")


@require_safe
@job_page
def plan_pdf(request: HttpRequest, desk: Desk) -> HttpResponse:
    """The plan's calendar."""
    row = plan_rows.plan_page(_plan_now(desk), desk.judged)
    return printed(request, desk, paper_rows.plan_sheet(row, desk.judged), "plan")


@require_safe
@job_page
def plan_calendar(request: HttpRequest, desk: Desk) -> HttpResponse:
    """The plan as a calendar file that other programs open."""
    made = plan_ics(_plan_now(desk), desk.judged.facts)
    answer = HttpResponse(made, content_type="text/calendar; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="{desk.job.slug}-plan.ics"'
    return answer


def _plan_now(desk: Desk) -> Plan:
    found = outlook.plan(desk.job, desk.now(), wait_s=PROMISE_WAIT_S)
    if found.plan is None:
        raise BadInput("The plan is still being worked out. Ask for it again in a moment.")
    return found.plan
