"""A close call: read again, called by a person, or left open."""

from __future__ import annotations

from urllib.parse import urlencode

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST, require_safe

from rehang.book import queries
from rehang.trade.gate.powers import need_for
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.state import Taken
from rehang.trade.terms.entries import is_a, new_entry
from rehang.trade.terms.errors import BadInput, Refused
from rehang.trade.terms.kinds.readings import ReadingTaken
from rehang.trade.verdicts.calls import call_reading
from rehang.web.shared.access import pin_box, settled_by
from rehang.web.shared.desk import Desk, SeeOther, job_page
from rehang.web.shared.forms import BenchForm, TextField
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


class CallForm(BenchForm):
    """A person's call with its reason, one of those given or in their own words."""

    fallback = "call"
    call = TextField(asks="Choose WITHIN or OUT.")
    reason = TextField()
    words = TextField()

    def called(self) -> tuple[str, str]:
        """The call and the reason for it."""
        typed = self.checked()
        if typed["call"] not in ("WITHIN", "OUT"):
            raise BadInput("Choose WITHIN or OUT.", "call")
        reason = typed["words"] or typed["reason"]
        if not reason:
            raise BadInput("Calling a close call takes a reason. Choose one or write it.", "reason")
        return typed["call"], reason


class LeaveForm(BenchForm):
    """Leaving it open, with what is waited for."""

    reason = TextField()


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
    while start > 0 and same[start].entry.fields.hidden_first:
        start -= 1
    found = [same[start]]
    for later in same[start + 1 :]:
        if not later.entry.fields.hidden_first:
            break
        found.append(later)
    return found


@require_safe
@job_page
def close_call(request: HttpRequest, desk: Desk, entry_id: str) -> HttpResponse:
    """A close call and the four ways to settle it."""
    return _close_call(request, desk, entry_id)


def _close_call(
    request: HttpRequest,
    desk: Desk,
    entry_id: str,
    *,
    said: str = "",
    kept: dict[str, str] | None = None,
    status: int = 200,
) -> HttpResponse:
    judged = desk.judged
    taken, hole = _taken(judged, entry_id)
    held = judged.at(hole)
    assert held is not None
    check = judged.facts.sheets[words.PLUG].check(taken.reading.check)
    current = held.call(check.name)
    reads = _reads(judged, taken)
    limit = current.limit_data if current is not None else None
    call = call_reading(taken, check, limit, judged.facts, state=judged.state)
    tag = why_rows.why_of(judged, held, call, check, hole, told_of(desk)(held.item))
    carries = current is not None and current.entry is not None
    context = {
        "job": desk.job,
        "current": "tray",
        "why": tag,
        "call": call,
        "sentence": why_rows.band_sentence(call),
        "reads": [
            (
                t.reading.text(check),
                f"{t.entry.at.astimezone(desk.zone):%H:%M}",
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
            and is_a(current.entry, ReadingTaken)
            else ""
        ),
        "current_call": current.call if current is not None else "",
        "reasons": REASONS,
        "said": said,
        "kept": kept or {},
        "calling": bool(kept) or "call" in request.GET,
        "box": pin_box(judged, desk.key, need_for("called"), desk.today(), "call"),
        "may_write": not desk.why_not,
    }
    return render(request, "tray/close_call.html", context, status=status)


@require_POST
@job_page
def read_again(request: HttpRequest, desk: Desk, entry_id: str) -> HttpResponse:
    """Go and read it again on the pad, with the first value hidden."""
    judged = desk.judged
    taken, hole = _taken(judged, entry_id)
    first = _reads(judged, taken)[0].entry
    query = urlencode(
        {
            "check": taken.reading.check,
            "hole": hole,
            "again": first.id,
            # The same meter again; another one is a different way to settle it.
            "meter": first.fields.meter,
            "range": first.fields.range,
        }
    )
    return SeeOther(f"{reverse('web:tray', args=[desk.job.slug])}?{query}")


def _write(request: HttpRequest, desk: Desk, entry_id: str, kind: str, **data: str) -> HttpResponse:
    """Write one entry about a close call and go on, or say why not beside what was typed."""
    confirmed = ""
    try:
        if kind == "called":
            confirmed = settled_by(request, desk.key)
        at = timezone.now().astimezone(desk.zone)
        entry = new_entry(kind, at=at, by=confirmed or desk.key, entry=entry_id, **data)
        desk.write([entry], confirmed=confirmed)
    except Refused as reason:
        return _close_call(request, desk, entry_id, said=reason.sentence, kept=data, status=422)
    taken, hole = _taken(queries.judged(queries.job(desk.job.slug)), entry_id)
    query = urlencode({"why": f"{hole}.{taken.reading.check}", "check": taken.reading.check})
    return SeeOther(f"{reverse('web:tray', args=[desk.job.slug])}?{query}")


@sensitive_post_parameters("pin")
@require_POST
@job_page
def call_it(request: HttpRequest, desk: Desk, entry_id: str) -> HttpResponse:
    """A named person calls it WITHIN or OUT and says why."""
    form = CallForm(request)
    with form.refusing():
        form.called()
    if form.sentence:
        kept = dict(form.data.items())
        return _close_call(request, desk, entry_id, said=form.sentence, kept=kept, status=422)
    call, reason = form.called()
    return _write(request, desk, entry_id, "called", call=call, reason=reason)


@require_POST
@job_page
def leave_open(request: HttpRequest, desk: Desk, entry_id: str) -> HttpResponse:
    """Leave it open for a second opinion; it waits on the board."""
    reason = LeaveForm(request).checked()["reason"] or "second opinion"
    return _write(request, desk, entry_id, "left_open", reason=reason)
