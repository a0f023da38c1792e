"""Plugs as they come out, held against the other books: where each was, and what became of it there."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from zoneinfo import ZoneInfo

from rehang.book import models, queries
from rehang.trade.job.judging import JudgedJob
from rehang.trade.job.last_time import SCRIBED, LastTime, last_time_of, next_scribed
from rehang.trade.known.state import JobState, item_kind, item_name
from rehang.trade.terms.entries import Entry, of_kind
from rehang.trade.terms.errors import NotAllowed
from rehang.trade.terms.kinds.decisions import Struck
from rehang.trade.terms.kinds.items import Fitted, Removed
from rehang.trade.terms.lookalikes import check_no_twin
from rehang.trade.terms.wording import at_time, on_day

__all__ = ["check_comes_out", "last_time", "scribe_next", "what_became"]


def last_time(job: models.Job, person: str = "") -> LastTime | None:
    """What stood in each hole at the end of the engine's job before this one; None where none is.

    With ``person`` (a key) only out of jobs whose list of people names them.
    """
    first = min(
        (entry.at for entry in of_kind(queries.state(job).live(), Removed) if _is_plug(entry)),
        default=None,
    )
    found = [
        told
        for one in queries.others_of_engine(job, person)
        if (told := last_time_of(queries.judged(one))) is not None
        and (first is None or told.at < first)
    ]
    return max(found, key=lambda told: told.at, default=None)


def scribe_next(job: models.Job, also: Collection[str] = ()) -> str:
    """The serial to scribe on a plug that has none: one that no plug of any book has.

    A plug's story is told by its serial, so that one of two engines would tell of both.
    """
    after = chr(ord(SCRIBED) + 1)
    read = models.Reading.objects.filter(item__gte=f"plug:{SCRIBED}", item__lt=f"plug:{after}")
    taken = [item_name(one) for one in read.values_list("item", flat=True).distinct()]
    for one in queries.same_engine(job):
        taken += [item.name for item in queries.state(one).items.values() if item.kind == "plug"]
    return next_scribed([*taken, *also])


def what_became(job: models.Job, serials: Collection[str], person: str = "") -> dict[str, str]:
    """A remark on each plug that another book knows as spoilt or rejected, by its serial.

    With ``person`` (a key) only out of jobs whose list of people names them.
    """
    items = {f"plug:{one}": one for one in serials}
    read = models.Reading.objects.filter(item__in=items).values_list("job_id", flat=True)
    keys = {*read.distinct(), *(one.pk for one in queries.same_engine(job))} - {job.pk}
    held = models.Job.objects.filter(pk__in=keys)
    if person:
        held = held.filter(people__key=person)
    found: dict[str, str] = {}
    for one in held.order_by("created_at", "pk"):
        judged = queries.judged(one)
        for item, serial in items.items():
            words = _became(judged, item)
            if words:
                # The later book is the later word.
                found[serial] = words
    return found


def check_comes_out(job: models.Job, entries: Sequence[Entry], by: str) -> None:
    """Whether plugs may be written as out of their holes, by this book and by the others.

    Raises
    ------
    NotAllowed
        A plug is out of that hole already; its serial is that of another plug in other capitals or
        look-alike letters; or another open job has it in its engine.
    """
    state = queries.state(job)
    fresh = [
        entry
        for entry in of_kind(entries, Removed)
        if _is_plug(entry) and entry.id not in state.entries
    ]
    if not fresh:
        return
    struck = {entry.fields.entry for entry in of_kind(entries, Struck)}
    went_in = {entry.item for entry in of_kind(entries, Fitted)}
    for entry in fresh:
        if entry.item not in went_in:
            _check_is_in(entry, state, struck)
        _check_spelled(entry, state)
    _check_in_no_other(job, [entry for entry in fresh if entry.item not in state.items], by)


def _is_plug(entry: Entry) -> bool:
    return item_kind(entry.item) == "plug"


def _became(judged: JudgedJob, item: str) -> str:
    """What a book says became of a plug, as one sentence; empty where it went on."""
    state = judged.state.items.get(item)
    if state is None:
        return ""
    where = f"in {judged.facts.title} ({judged.facts.job})"
    if state.disposed is not None:
        return (
            f"{state.name} was {state.disposed.fields.how} on {on_day(state.disposed.at)} {where}."
        )
    if state.ended:
        last = state.ended[-1]
        return f"{state.name} was {last.fields.became} on {on_day(last.at)} {where}."
    verdict = next((one.verdict for one in judged.items if one.item == item), "")
    if verdict == "REJECT" or state.replaced_by:
        return f"{state.name} was a REJECT {where}."
    return ""


def _check_is_in(entry: Entry[Removed], state: JobState, struck: Collection[str]) -> None:
    """A plug that is out is not taken out again: what was read of it since would count no more."""
    held = state.items.get(entry.item)
    if held is None or held.removed is None or held.removed.id in struck:
        return
    inside = {one.item for one in state.fitted.values()}
    # In another hole it is a slip of another kind, and the fold says which.
    if entry.item not in inside and entry.place.strip().casefold() == held.place.casefold():
        raise NotAllowed(
            f"{held.name} is out of {held.place} already, written "
            f"{at_time(held.removed.at.astimezone(entry.at.tzinfo))}. If it went in again since, "
            f"write that first, as in: in {held.place} {held.name}."
        )


def _check_spelled(entry: Entry[Removed], state: JobState) -> None:
    """Two serials of one job do not differ by capitals alone."""
    if entry.item in state.items:
        return
    name = item_name(entry.item)
    for one in state.items.values():
        if one.kind == "plug" and one.name.casefold() == name.casefold():
            raise NotAllowed(f"{name} is {one.name} in this job. Write it with the same letters.")


def _check_in_no_other(job: models.Job, fresh: Sequence[Entry[Removed]], by: str) -> None:
    """No plug comes out of this engine that another open job has in its own."""
    items = {entry.item for entry in fresh}
    if not items:
        return
    known = last_time(job)
    for entry in fresh:
        if known is not None:
            check_no_twin(entry.item, {f"plug:{one}" for one in known.plugs.values()})
    others = [one for one in queries.readable(queries.jobs()) if one.pk != job.pk]
    # Most books name none of them, and then none is opened.
    named = models.Entry.objects.filter(job__in=others, kind="fitted", item__in=items)
    keys = set(named.values_list("job_id", flat=True).distinct())
    engine = queries.engine_serial(job) if keys else ""
    for other in (one for one in others if one.pk in keys):
        if engine and queries.engine_serial(other) == engine:
            continue
        for one in queries.state(other).fitted.values():
            if one.item in items:
                raise NotAllowed(_is_in_words(one, other, by))


def _is_in_words(entry: Entry[Fitted], other: models.Job, by: str) -> str:
    name = item_name(entry.item)
    if not other.people.filter(key=by).exists():
        # Who is not in its list is told no more of a job than that it is there.
        where = "an engine of a job that you are not in"
    else:
        zone = ZoneInfo(queries.facts(other).timezone_name)
        where = f"{entry.place} of {other.title} ({other.slug}), put in {at_time(entry.at.astimezone(zone))}"
    return (
        f"{name} is in {where}. Read the serial again; if it is right, write in that job that it "
        "came out."
    )
