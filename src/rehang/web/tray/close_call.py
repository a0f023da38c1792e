"""A close call: read again, called by a person, or left open."""

from __future__ import annotations

from collections.abc import Sequence
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
from rehang.trade.terms.days import last_day
from rehang.trade.terms.entries import is_a, new_entry
from rehang.trade.terms.errors import BadInput, Refused
from rehang.trade.terms.kinds.readings import ReadingTaken
from rehang.trade.terms.wording import listed, on_day
from rehang.trade.verdicts.calls import call_reading
from rehang.web.shared.access import pin_box, settled_by
from rehang.web.shared.desk import Desk, SeeOther, job_page
from rehang.web.shared.forms import BenchForm, Choose, TextField
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
NO_REASON = "Calling a close call takes a reason. Write it, or choose what the book holds."


class CallForm(BenchForm):
    """What a person calls a close call, and why: in their own words, or by what the book holds."""

    fallback = "call"
    groups = ("pin",)
    call = Choose("The call", (("WITHIN", "WITHIN"), ("OUT", "OUT")))
    words = TextField("The reason, in your own words", maxlength="300")
    reason = Choose("What the book holds", ())

    def __init__(self, request: HttpRequest, proved: Sequence[str]) -> None:
        super().__init__(request)
        self.proved = proved
        if proved:
            self["reason"].field.widget.choices = [(one, one) for one in proved]
        else:
            del self.fields["reason"]

    def taken(self) -> tuple[str, str]:
        """The call and its reason.

        Raises
        ------
        BadInput
            One of them is missing, or the reason picked is not what the book holds.
        """
        typed = self.checked()
        picked = typed.get("reason", "")
        if typed["call"] not in ("WITHIN", "OUT"):
            raise BadInput("Choose WITHIN or OUT.", "call")
        if picked and picked not in self.proved:
            raise BadInput(f'The book does not hold "{picked}". {NO_REASON}', "words")
        if not (picked or typed["words"]):
            raise BadInput(NO_REASON, "words")
        return typed["call"], " ".join(filter(None, (picked, typed["words"])))


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


def _proved(judged: JudgedJob, taken: Taken) -> tuple[str, ...]:
    """What the book itself says of a close reading: a person's reason may be no more than is there."""
    held = judged.state.items[taken.entry.item]
    name = taken.reading.check
    check = judged.facts.sheets[words.PLUG].check(name)
    by_meter: dict[str, list[str]] = {}
    for one in held.readings:
        if one.reading.check == name and one.counts and one.reading.value is not None:
            by_meter.setdefault(one.entry.fields.meter, []).append(one.reading.text(check))
    several = len(by_meter) > 1 or any(len(read) > 1 for read in by_meter.values())
    found = [f"Read as {listed(read)} on {meter}." for meter, read in by_meter.items() if several]
    for earlier in sorted(held.earlier, key=lambda one: one.service)[-1:]:
        before = earlier.left.get(name) or earlier.readings.get(name)
        if before is not None:
            found.append(f"It read {before.text(check)} on {on_day(last_day(earlier.service))}.")
    return tuple(found)


@require_safe
@job_page
def close_call(request: HttpRequest, desk: Desk, entry_id: str) -> HttpResponse:
    """A close call and the four ways to settle it."""
    taken, _ = _taken(desk.judged, entry_id)
    return _close_call(request, desk, entry_id, CallForm(request, _proved(desk.judged, taken)))


def _close_call(request: HttpRequest, desk: Desk, entry_id: str, form: CallForm) -> HttpResponse:
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
        "form": form,
        "calling": bool(form.sentence) or "call" in request.GET,
        "said": form.sentence,
        "pin_wrong": form.sentence if form.place == "pin" else "",
        "box": pin_box(judged, desk.key, need_for("called"), desk.today(), "call"),
        "may_write": not desk.why_not,
    }
    return render(request, "tray/close_call.html", context, status=form.status)


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


def _write(desk: Desk, entry_id: str, kind: str, confirmed: str = "", **data: str) -> HttpResponse:
    """Write one entry about a close call and go on to why it stands as it does."""
    at = timezone.now().astimezone(desk.zone)
    entry = new_entry(kind, at=at, by=confirmed or desk.key, entry=entry_id, **data)
    desk.write([entry], confirmed=confirmed)
    taken, hole = _taken(queries.judged(queries.job(desk.job.slug)), entry_id)
    query = urlencode({"why": f"{hole}.{taken.reading.check}", "check": taken.reading.check})
    return SeeOther(f"{reverse('web:tray', args=[desk.job.slug])}?{query}")


@sensitive_post_parameters("pin")
@require_POST
@job_page
def call_it(request: HttpRequest, desk: Desk, entry_id: str) -> HttpResponse:
    """A named person calls it WITHIN or OUT and says why."""
    taken, _ = _taken(desk.judged, entry_id)
    form = CallForm(request, _proved(desk.judged, taken))
    try:
        call, why = form.taken()
        confirmed = settled_by(request, desk.key)
        return _write(desk, entry_id, "called", confirmed, call=call, reason=why)
    except Refused as reason:
        form.refuse(reason)
        return _close_call(request, desk, entry_id, form)


@require_POST
@job_page
def leave_open(request: HttpRequest, desk: Desk, entry_id: str) -> HttpResponse:
    """Leave it open for a second opinion; it waits on the board."""
    try:
        return _write(desk, entry_id, "left_open", reason="second opinion")
    except Refused as reason:
        taken, _ = _taken(desk.judged, entry_id)
        form = CallForm(request, _proved(desk.judged, taken))
        form.refuse(reason)
        return _close_call(request, desk, entry_id, form)
