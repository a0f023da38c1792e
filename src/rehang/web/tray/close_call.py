"""A close call: read again, called by a person, or left open."""

from __future__ import annotations

from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST, require_safe

from rehang.book import models, queries, services
from rehang.trade.gate.powers import need_for
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.state import Taken
from rehang.trade.terms.entries import new_entry
from rehang.trade.terms.errors import BadInput, NotAllowed
from rehang.trade.verdicts.calls import call_reading
from rehang.web.shared.access import may_write, member_here, open_job, pin_box, settled_by
from rehang.web.shared.desk import SeeOther
from rehang.web.shared.times import today_of
from rehang.web.tray import why as why_rows
from rehang.web.tray import words
from rehang.web.tray.views import told_of

__all__ = [
    "call_it",
    "close_call",
    "leave_open",
    "read_again",
]
# First reading and two more; then the rule answers.
READS = 3
REASONS = (
    "Read again and steady",
    "Repeatable on a second meter",
    "Trend and history say so",
)


# The close call


def _taken(judged: JudgedJob, entry_id: str) -> tuple[Taken, str]:
    """A reading of the tray and the hole it is in."""
    for hole in judged.facts.layout.walk:
        held = judged.at(hole)
        if held is None:
            continue
        for taken in held.state.readings:
            if taken.entry.id == entry_id:
                return taken, hole
    raise Http404("There is no such reading on the tray.")


def _reads(judged: JudgedJob, taken: Taken) -> list[Taken]:
    """The first reading and those taken again with it hidden, in their order."""
    held = judged.state.items[taken.entry.item]
    same = [t for t in held.readings if t.reading.check == taken.reading.check and t.counts]
    if taken not in same:
        return [taken]
    start = same.index(taken)
    while start > 0 and same[start].entry.get("hidden_first"):
        start -= 1
    found = [same[start]]
    for later in same[start + 1 :]:
        if not later.entry.get("hidden_first"):
            break
        found.append(later)
    return found


@login_required
@require_safe
def close_call(request: HttpRequest, slug: str, entry_id: str) -> HttpResponse:
    """A close call and the four ways to settle it."""
    job = open_job(request, slug)
    return _close_call(request, job, entry_id)


def _close_call(
    request: HttpRequest,
    job: models.Job,
    entry_id: str,
    *,
    said: str = "",
    kept: dict[str, str] | None = None,
    status: int = 200,
) -> HttpResponse:
    judged = queries.judged(job)
    taken, hole = _taken(judged, entry_id)
    held = judged.at(hole)
    assert held is not None
    check = judged.facts.sheets[words.PLUG].check(taken.reading.check)
    current = held.call(check.name)
    reads = _reads(judged, taken)
    limit = current.limit_data if current is not None else None
    call = call_reading(taken, check, limit, judged.facts, state=judged.state)
    tag = why_rows.why_of(judged, held, call, check, hole, told_of(request, job)(held.item))
    carries = current is not None and current.entry is not None
    context = {
        "job": job,
        "current": "tray",
        "why": tag,
        "call": call,
        "sentence": why_rows.band_sentence(call),
        "reads": [
            (
                t.reading.text(check),
                f"{t.entry.at.astimezone(ZoneInfo(judged.facts.timezone_name)):%H:%M}",
            )
            for t in reads
        ],
        "reads_differ": len({t.reading.text(check) for t in reads}) > 1,
        "may_read_again": len(reads) < READS,
        "carried_by": (
            current.entry.id
            if carries
            and current is not None
            and current.entry is not None
            and current.entry.id != entry_id
            and current.entry.kind == "reading"
            else ""
        ),
        "current_call": current.call if current is not None else "",
        "reasons": REASONS,
        "said": said,
        "kept": kept or {},
        "box": pin_box(
            judged, member_here(request).key, need_for("called"), today_of(judged), "call"
        ),
        "may_write": may_write(request, judged),
    }
    return render(request, "tray/close_call.html", context, status=status)


@login_required
@require_POST
def read_again(request: HttpRequest, slug: str, entry_id: str) -> HttpResponse:
    """Go and read it again on the pad, with the first value hidden."""
    job = open_job(request, slug)
    judged = queries.judged(job)
    taken, hole = _taken(judged, entry_id)
    first = _reads(judged, taken)[0].entry
    query = urlencode(
        {
            "check": taken.reading.check,
            "hole": hole,
            "again": first.id,
            # The same meter again; another one is a different way to settle it.
            "meter": first.get("meter"),
            "range": first.get("range"),
        }
    )
    return SeeOther(f"{reverse('web:tray', args=[slug])}?{query}")


def _write(
    request: HttpRequest, job: models.Job, entry_id: str, kind: str, **data: str
) -> HttpResponse:
    """Write one entry about a close call and go on, or say why not beside what was typed."""
    member = member_here(request)
    now = timezone.now()
    judged = queries.judged(job)
    zone = ZoneInfo(judged.facts.timezone_name)
    try:
        by = settled_by(request, member.key) if kind == "called" else member.key
        entry = new_entry(kind, at=now.astimezone(zone), by=by, entry=entry_id, **data)
        services.append(
            job=job,
            entries=[entry],
            by=by,
            at=now,
            confirmed=by if kind == "called" else "",
        )
    except (BadInput, NotAllowed) as refusal:
        return _close_call(request, job, entry_id, said=str(refusal), kept=data, status=422)
    taken, hole = _taken(queries.judged(queries.job(job.slug)), entry_id)
    query = urlencode({"why": f"{hole}.{taken.reading.check}", "check": taken.reading.check})
    return SeeOther(f"{reverse('web:tray', args=[job.slug])}?{query}")


@sensitive_post_parameters("pin")
@login_required
@require_POST
def call_it(request: HttpRequest, slug: str, entry_id: str) -> HttpResponse:
    """A named person calls it WITHIN or OUT and says why."""
    job = open_job(request, slug)
    call = request.POST.get("call", "")
    reason = request.POST.get("words", "").strip() or request.POST.get("reason", "").strip()
    if call not in ("WITHIN", "OUT"):
        said = "Choose WITHIN or OUT."
    elif not reason:
        said = "Calling a close call takes a reason. Choose one or write it."
    else:
        return _write(request, job, entry_id, "called", call=call, reason=reason)
    kept = {"call": call, "reason": reason}
    return _close_call(request, job, entry_id, said=said, kept=kept, status=422)


@login_required
@require_POST
def leave_open(request: HttpRequest, slug: str, entry_id: str) -> HttpResponse:
    """Leave it open for a second opinion; it waits on the board."""
    job = open_job(request, slug)
    reason = request.POST.get("reason", "").strip() or "second opinion"
    return _write(request, job, entry_id, "left_open", reason=reason)
