"""The story of a part over one or many books: where it flew, each reading, each thing done to it.

A plug has a serial and is followed from engine to engine. Any other item belongs to its engine and
is followed through the jobs of that engine. Nothing is left out: what was struck or does not count
stays in its place with the reason beside it, and a series says which of its readings it is
judged by.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, time

from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.fitting import hose_dates
from rehang.trade.known.state import Earlier, ItemState, item_kind, item_name
from rehang.trade.life.check_series import copied_services, reason_of, series_of
from rehang.trade.life.story_values import OIL, Event, Flight, PartStory, books_of
from rehang.trade.telling.sentences import entry_words, reading_words, with_stop
from rehang.trade.terms.days import last_day
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.kinds.decisions import CallMade, Closed, LeftOpen, Struck
from rehang.trade.terms.kinds.items import EarlierService, Replaced
from rehang.trade.terms.kinds.oil import PiecesCounted, Sampled
from rehang.trade.terms.kinds.papers import Promised
from rehang.trade.terms.kinds.readings import Pictured
from rehang.trade.terms.wording import on_day

__all__ = ["items_of", "story"]


# Which books, in which order


def items_of(judged: JudgedJob) -> tuple[str, ...]:
    """The items that have a story in a job: judged ones, parts of earlier services, the oil."""
    known = [one.item for one in judged.items if one.kind not in ("run",)]
    known += [
        item
        for item, state in sorted(judged.state.items.items())
        if item not in known and (state.earlier or state.samples)
    ]
    return tuple(known)


# The story


def story(books: JudgedJob | Sequence[JudgedJob], item: str, job: str = "") -> PartStory:
    """The story of an item over the books it is in.

    Parameters
    ----------
    books
        One judged job, or all of a shop's.
    item
        As in ``plug:K0411``, ``cylinder:3``, ``hose:HS2``, ``oil:engine``.
    job
        Name of the job whose engine is meant, where items of that name are in several.

    Raises
    ------
    BadInput
        None of the books knows the item.
    """
    if isinstance(books, JudgedJob):
        books = [books]
    held = books_of(books, item, job)
    home = held[-1]
    state = home.state.items[item]
    copied = copied_services(held, item)
    events = [event for one in held for event in _events(one, item, copied)]
    return PartStory(
        item=item,
        kind=item_kind(item),
        name=item_name(item),
        job=home.facts.job,
        title=home.facts.title,
        jobs=tuple(one.facts.job for one in held),
        hours=state.hours,
        flights=_flights(held, item, copied),
        series=series_of(held, item, job),
        events=tuple(sorted(events, key=lambda event: (event.on, event.at))),
        replaces=_replaces(held, item),
        replaced_by=next(
            (
                one.state.items[item].replaced_by
                for one in held
                if one.state.items[item].replaced_by
            ),
            "",
        ),
        verdict=next((one for one in home.items if one.item == item), None),
    )


# Where it flew


def _flights(
    held: Sequence[JudgedJob], item: str, copied: frozenset[tuple[str, str]]
) -> tuple[Flight, ...]:
    """Stretches between openings, by the holes it came out of."""
    stops: list[tuple[date, str, float | None, str]] = []
    for judged in held:
        state = judged.state.items[item]
        stops += [
            (last_day(e.service), e.place, e.item_hours, judged.facts.job)
            for e in state.earlier
            if (judged.facts.job, e.entry.id) not in copied
        ]
        if state.removed is not None:
            on = state.removed.at.date()
            stops.append((on, state.came_out_of, state.hours, judged.facts.job))
    stops.sort(key=lambda stop: stop[0])
    flights = []
    before: tuple[date, str, float | None, str] | None = None
    for stop in stops:
        on, place, hours, job = stop
        is_new = hours == 0
        if place and not is_new:
            since, start = (before[0], before[2]) if before else (None, None)
            flights.append(
                Flight(
                    place=place,
                    since=since,
                    until=on,
                    from_hours=start,
                    to_hours=hours,
                    hours=None if hours is None or start is None else round(hours - start, 1),
                    job=job,
                )
            )
        before = stop
    return tuple(flights)


def _replaces(held: Sequence[JudgedJob], item: str) -> str:
    """The part it went in for: by an entry, or by the slot that it took when it was new."""
    for judged in held:
        for other in judged.state.items.values():
            if other.replaced_by == item_name(item) and other.kind == item_kind(item):
                return other.name
    for judged in held:
        state = judged.state.items[item]
        new = next((e for e in state.earlier if e.item_hours == 0), None)
        if new is None or not new.place:
            continue
        for other in judged.state.items.values():
            if other.id == item or other.kind != state.kind or not other.earlier:
                continue
            last = max(other.earlier, key=lambda e: last_day(e.service))
            went = other.removed is None and last.service == new.service and last.place
            if went and judged.facts.layout.next_hole(last.place) == new.place:
                return other.name
    return ""


# What happened


def _events(judged: JudgedJob, item: str, copied: frozenset[tuple[str, str]]) -> list[Event]:
    state = judged.state.items[item]
    findings = {finding.id for finding in state.findings}
    own = {e.id for e in judged.state.order if e.item == item}
    found = []
    for entry in judged.state.order:
        about = (
            entry.item == item
            or _speaks_of(entry) in own
            or (is_a(entry, Closed, Promised) and entry.fields.finding in findings)
            or (is_a(entry, Replaced) and entry.fields.for_ == state.name)
            or any(f.entry.id == entry.id for f in state.findings)
            # What the filter caught is the oil's story too.
            or (item == OIL and is_a(entry, PiecesCounted))
        )
        if not about or (judged.facts.job, entry.id) in copied:
            continue
        found.append(_event(judged, entry, state))
    return found + _dates(judged, state)


def _dates(judged: JudgedJob, state: ItemState) -> list[Event]:
    """When a hose was made and fitted, by its tag."""
    hose = hose_dates(state.name, judged.facts, judged.state) if state.kind == "hose" else None
    if hose is None:
        return []
    zone = judged.state.order[0].at.tzinfo if judged.state.order else UTC
    dated = (("made", hose.made, hose.made_on), ("fitted", hose.fitted, hose.fitted_on))
    return [
        Event(
            on=on,
            at=datetime.combine(on, time(12), zone),
            kind="tag",
            words=f"{hose.line}, {hose.type}: {what} {text}.",
            by="",
            struck="",
            entry="",
            job=judged.facts.job,
        )
        for what, text, on in dated
        if on is not None
    ]


def _event(judged: JudgedJob, entry: Entry, state: ItemState) -> Event:
    on = entry.at.date()
    struck = judged.state.struck.get(entry.id)
    if is_a(entry, EarlierService):
        on = _written_on(entry.fields.service, entry, struck)
        own = next((e for e in state.earlier if e.entry.id == entry.id), None)
        words = entry_words(entry, judged) if own is None else _service_words(judged, own, state)
    elif is_a(entry, Sampled, PiecesCounted) and entry.fields.on:
        on = _written_on(entry.fields.on, entry, struck)
        words = entry_words(entry, judged)
    else:
        words = entry_words(entry, judged)
    return Event(
        on=on,
        at=entry.at,
        kind=entry.kind,
        words=words,
        by=judged.facts.person(entry.by),
        struck=reason_of(struck),
        entry=entry.id,
        job=judged.facts.job,
        photo=entry.fields.photo if is_a(entry, Pictured) else "",
    )


def _speaks_of(entry: Entry) -> str:
    """The entry that an entry is about; empty where it is about a thing."""
    told = entry.fields
    return told.entry if isinstance(told, (Struck, CallMade, LeftOpen, Pictured)) else ""


def _written_on(written: str, entry: Entry, struck: Entry | None) -> date:
    """The day an entry speaks of; of a struck one that says none, the day it was written."""
    try:
        return last_day(written)
    except BadInput:
        if struck is None:
            raise
        return entry.at.date()


def _service_words(judged: JudgedJob, earlier: Earlier, state: ItemState) -> str:
    sheet = judged.facts.sheets[state.kind]
    said = [f"Service of {on_day(last_day(earlier.service))}, copied in from older records"]
    where = f"out of {earlier.place}" if earlier.place and earlier.item_hours != 0 else ""
    if earlier.place and earlier.item_hours == 0:
        where = f"new, in at {earlier.place}"
    if where and earlier.item_hours:
        where += f" at {earlier.item_hours:,g} h"
    parts = [where] if where else []
    for name, reading in earlier.readings.items():
        check = sheet.check(name)
        parts.append(f"{check.label.lower()} {reading_words(check, reading)}")
    for name, reading in earlier.left.items():
        check = sheet.check(name)
        parts.append(f"{check.label.lower()} left at {reading.text(check)}")
    sentence = f"{said[0]}: {'; '.join(parts)}." if parts else f"{said[0]}."
    return f"{sentence} {with_stop(earlier.note)}" if earlier.note else sentence
