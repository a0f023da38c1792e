"""The story of a part over one or many books: where it flew, each reading, each thing done to it.

A plug has a serial and is followed from engine to engine. Any other item belongs to its engine and
is followed through the jobs of that engine. Nothing is left out: what was struck or does not count
stays in its place with the reason beside it, and a series says which of its readings it is
judged by.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time
from itertools import pairwise
from math import exp, log
from typing import Literal

from rehang.calc.uncertainty import arc_fraction, resistance_at_arc
from rehang.trade.facts.items import Check
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.limits import Limit, limit_for, limit_words
from rehang.trade.facts.meters import Band, Meter, band_of
from rehang.trade.facts.readings import Reading
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.fitting import hose_dates
from rehang.trade.known.state import Earlier, ItemState, item_kind, item_name, understand
from rehang.trade.life.oil_trend import ELEMENTS, LAB_SHARE, OilRow, oil_trend
from rehang.trade.telling.sentences import entry_words, reading_words, with_stop
from rehang.trade.terms.conversions import STANDARD_AIR
from rehang.trade.terms.entries import Entry, last_day
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.quantities import Quantity, number_and_unit, show
from rehang.trade.terms.wording import NO_LIMIT, on_day
from rehang.trade.verdicts.item_verdict import ItemVerdict
from rehang.trade.verdicts.leaks import ambient_of

__all__ = [
    "HOURS_PER_QUART",
    "OIL",
    "SAME_HOURS",
    "Event",
    "Flight",
    "Point",
    "Series",
    "Story",
    "Way",
    "books_of",
    "engine_hours",
    "items_of",
    "series_of",
    "story",
    "way_of",
]

OIL = "oil:engine"
HOURS_PER_QUART = "hours_per_quart"


@dataclass(frozen=True, slots=True)
class Way:
    """How a check wears: on which scale it grows evenly, and whether it can only go one way."""

    scale: Literal["linear", "log"] = "linear"
    direction: Literal["either", "up", "down"] = "either"


# A gap opens and electrodes burn away; a resistor's drift is a share of what it is. A leak is
# followed as an area and can heal, as when carbon holds a valve open: common practice, no source.
_WAYS: Mapping[tuple[str, str], Way] = {
    ("plug", "gap"): Way("linear", "up"),
    ("plug", "resistance"): Way("log", "up"),
    ("plug", "electrode"): Way("linear", "down"),
    ("cylinder", "compression"): Way("linear", "either"),
}


def way_of(item: str, check: str) -> Way:
    """How a check of an item wears."""
    if item == OIL:
        # Metal and oil use vary by a share of themselves, as the laboratory does.
        return Way("log", "either")
    return _WAYS.get((item_kind(item), check), Way())


# Engine hours are written to a tenth: nearer than this they are the same opening.
SAME_HOURS = 0.05


@dataclass(frozen=True, slots=True)
class Point:
    """One reading in a series. Amounts are in base steps of the quantity.

    ``value`` is the number as written; None where there is none (an open circuit, a word).
    ``centre`` and ``variance`` are what the meter says of the true value, ``low`` and ``high``
    the ends of its band; ``scatter`` is the part of the variance that readings on the one meter do
    not share: its steps and its repeatability. ``hours`` run on the clock of the series. ``left`` marks what it was set
    to. ``breaks`` says why no line joins it to the one before. ``aside`` says why a number is no
    part of the trend; ``void`` and ``struck`` why it does not count at all. ``ambient`` is the
    pressure of the air it was read in, in pascals.
    """

    on: date
    hours: float | None
    engine_hours: float | None
    item_hours: float | None
    value: int | float | None
    centre: float | None
    variance: float
    scatter: float
    low: float | None
    high: float | None
    text: str
    record: str
    meter: str
    left: bool
    segment: int
    restart: bool
    breaks: str
    call: str
    state: str
    aside: str
    void: str
    struck: str
    earlier: bool
    job: str
    entry: str
    place: str
    words: str
    supply: int | None = None
    conditions: Mapping[str, str] = field(default_factory=dict)
    ambient: float = STANDARD_AIR

    @property
    def counts(self) -> bool:
        """Whether it is a number of the trend."""
        return self.centre is not None and not (self.aside or self.void or self.struck)

    @property
    def opened(self) -> bool:
        """Whether it was found open: an end, and not a number."""
        return self.state == "ol" and not (self.void or self.struck or self.aside)


@dataclass(frozen=True, slots=True)
class Series:
    """One check of one item, the oldest reading first.

    ``clock`` says what the hours of its points are: ``part`` (since the part was new) or
    ``engine`` (since overhaul). ``limit`` is the one the check is judged by in service, with its
    bounds in base steps; ``floor`` says that the lower one is the master reading of the day.
    """

    item: str
    check: str
    label: str
    quantity: Quantity | None
    unit: str
    clock: str
    way: Way
    points: tuple[Point, ...]
    lower: float | None
    upper: float | None
    aim: float | None
    floor: bool
    limit_words: str
    limit_source: str

    @property
    def trend(self) -> tuple[Point, ...]:
        """The points that count."""
        return tuple(point for point in self.points if point.counts)

    @property
    def opened(self) -> Point | None:
        """The last reading, when it found an open circuit."""
        live = [p for p in self.points if p.counts or p.opened]
        return live[-1] if live and live[-1].opened else None

    @property
    def found(self) -> tuple[Point, ...]:
        """The points that count and were found, not set."""
        return tuple(point for point in self.trend if not point.left)

    def show(self, value: float) -> str:
        """A value as pages show it."""
        if self.quantity is not None:
            return show(value, self.quantity)
        return f"{value:.1f} {self.unit}"

    def growth(self) -> tuple[float, ...]:
        """What was gained between one opening and the next, from as left to as found.

        A stretch whose start is not on file is left out.
        """
        gains: list[float] = []
        for before, after in pairwise(self.trend):
            if after.left or before.segment != after.segment or before.hours == after.hours:
                continue
            assert before.value is not None or before.centre is not None
            start = before.value if before.value is not None else before.centre
            end = after.value if after.value is not None else after.centre
            if start is not None and end is not None:
                gains.append(round(end - start, 6))
        return tuple(gains)


@dataclass(frozen=True, slots=True)
class Flight:
    """One stretch in one place, between two openings. Unknown sides are None."""

    place: str
    since: date | None
    until: date
    from_hours: float | None
    to_hours: float | None
    hours: float | None
    job: str


@dataclass(frozen=True, slots=True)
class Event:
    """One thing that happened, in words. ``struck`` is the reason it was struck out for."""

    on: date
    at: datetime
    kind: str
    words: str
    by: str
    struck: str
    entry: str
    job: str
    photo: str = ""


@dataclass(frozen=True, slots=True)
class Story:
    """All of it, for one item.

    ``verdict`` is that of the last job it is in, ``job`` the name of that job. ``flights`` are the
    oldest first, as are ``events`` and the points of each series.
    """

    item: str
    kind: str
    name: str
    job: str
    title: str
    jobs: tuple[str, ...]
    hours: float | None
    flights: tuple[Flight, ...]
    series: tuple[Series, ...]
    events: tuple[Event, ...]
    replaces: str
    replaced_by: str
    verdict: ItemVerdict | None

    def of(self, check: str) -> Series | None:
        return next((one for one in self.series if one.check == check), None)


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


def books_of(books: Iterable[JudgedJob], item: str, job: str = "") -> tuple[JudgedJob, ...]:
    """The books an item has a story in, the oldest first.

    A plug is known by its serial wherever it flew. Any other item is one of its engine, so only
    the books of that engine count: the one of ``job``, or the newest that has the item.
    """
    held = sorted((one for one in books if item in one.state.items), key=_began)
    home = [one for one in held if not job or one.facts.job == job]
    if not home:
        raise BadInput(f'There is no item "{item}" in this job.')
    if item_kind(item) == "plug":
        return tuple(held)
    serial = home[-1].facts.engine.get("serial")
    return tuple(
        one
        for one in held
        if one is home[-1] or (serial and one.facts.engine.get("serial") == serial)
    )


def _began(judged: JudgedJob) -> datetime:
    live = [e.at for e in judged.state.live() if e.kind not in ("filed", "earlier", "sampled")]
    ats = live or [e.at for e in judged.state.order]
    if not ats:
        raise BadInput(f"The book of {judged.facts.job} has no entry yet.")
    return min(ats)


def engine_hours(judged: JudgedJob) -> float | None:
    """Hours since overhaul that the engine came in with, or its hours since new."""
    held = judged.facts.engine.get("hours")
    if not isinstance(held, Mapping):
        return None
    for clock in ("since_overhaul", "since_new"):
        value = held.get(clock)
        if isinstance(value, (int, float)):
            return float(value)
    return None


# The story


def story(books: JudgedJob | Sequence[JudgedJob], item: str, job: str = "") -> Story:
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
    copied = _copied(held, item)
    events = [event for one in held for event in _events(one, item, copied)]
    return Story(
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


def series_of(
    books: JudgedJob | Sequence[JudgedJob], item: str, job: str = ""
) -> tuple[Series, ...]:
    """Every measured check of an item as a series over its books."""
    if isinstance(books, JudgedJob):
        books = [books]
    held = books_of(books, item, job)
    if item == OIL:
        return _oil_series(held)
    sheet = held[-1].facts.sheets.get(item_kind(item))
    copied = _copied(held, item)
    made = [
        _series(held, item, check, copied)
        for check in (sheet.checks if sheet else ())
        if check.kind == "measure" and check.quantity is not None and check.method in _READ
    ]
    return tuple(one for one in made if one.points)


# Checks whose readings are taken as they stand: an age is no reading, and what a run shows is
# judged on the run.
_READ = ("", "compression")


def _copied(held: Sequence[JudgedJob], item: str) -> frozenset[tuple[str, str]]:
    """Earlier services, by job and entry, that another book here tells of at first hand or before."""
    own = [
        (one.facts.engine.get("serial"), engine_hours(one), _began(one).date())
        for one in held
        if one.state.items[item].readings or one.state.items[item].removed
    ]
    found: set[tuple[str, str]] = set()
    told: dict[tuple[object, str], str] = {}
    for one in held:
        serial = one.facts.engine.get("serial")
        began = _began(one).date()
        for earlier in one.state.items[item].earlier:
            at_first_hand = any(
                other == serial and on < began and _is_that_service(earlier, hours, on)
                for other, hours, on in own
            )
            teller = told.setdefault((serial, earlier.service), one.facts.job)
            if at_first_hand or teller != one.facts.job:
                found.add((one.facts.job, earlier.entry.id))
    return frozenset(found)


def _is_that_service(earlier: Earlier, hours: float | None, on: date) -> bool:
    if hours is not None and earlier.engine_hours is not None:
        return abs(hours - earlier.engine_hours) < SAME_HOURS
    return last_day(earlier.service) == on


# Readings in their order


def _series(
    held: Sequence[JudgedJob], item: str, check: Check, copied: frozenset[tuple[str, str]]
) -> Series:
    way = way_of(item, check.name)
    points: list[Point] = []
    for judged in held:
        points += _points(judged, item, check, way, copied)
    clock = "part"
    if any(p.item_hours is None for p in points if p.counts or p.opened):
        clock = "engine"
    points = [replace(p, hours=p.item_hours if clock == "part" else p.engine_hours) for p in points]
    # Earlier services come first however late they were copied in; the book's order is kept.
    points.sort(key=lambda p: (p.on, not p.earlier))
    home = held[-1]
    limit = limit_for(home.facts.limits, item_kind(item), check.name, "service")
    points = _segmented(_worse_aside(points, check, limit))
    lower = None if limit is None or limit.lower is None else float(limit.lower)
    if limit is not None and limit.floor == "master":
        lower = _last_master(home)
    assert check.quantity is not None
    return Series(
        item=item,
        check=check.name,
        label=check.label,
        quantity=check.quantity,
        unit=number_and_unit(0, check.quantity)[1],
        clock=clock,
        way=way,
        points=tuple(points),
        lower=lower,
        upper=None if limit is None or limit.upper is None else float(limit.upper),
        aim=None if limit is None or limit.aim is None else float(limit.aim),
        floor=limit is not None and limit.floor == "master",
        limit_words=_limit_words(limit, lower),
        limit_source=limit.source_text if limit is not None and limit.has_source else "",
    )


def _limit_words(limit: Limit | None, lower: float | None) -> str:
    if limit is None:
        return NO_LIMIT
    if limit.floor and lower is not None:
        return f"{lower:g} psi or more by the last master reading"
    return limit_words(limit)


def _last_master(judged: JudgedJob) -> float | None:
    """What the last master reading was: the floor of the next is not known yet."""
    return float(judged.state.masters[-1][1]) if judged.state.masters else None


def _points(
    judged: JudgedJob, item: str, check: Check, way: Way, copied: frozenset[tuple[str, str]]
) -> list[Point]:
    state = judged.state.items[item]
    found: list[Point] = []
    for earlier in sorted(state.earlier, key=lambda e: last_day(e.service)):
        if (judged.facts.job, earlier.entry.id) in copied:
            continue
        for reading, left in (
            (earlier.readings.get(check.name), False),
            (earlier.left.get(check.name), True),
        ):
            if reading is not None:
                found.append(_earlier_point(judged, earlier, reading, check, way, left=left))
    return found + _own_points(judged, state, check, way)


def _earlier_point(
    judged: JudgedJob, earlier: Earlier, reading: Reading, check: Check, way: Way, *, left: bool
) -> Point:
    blank = _point(judged, earlier.entry, reading, check, way)
    return replace(
        blank,
        on=last_day(earlier.service),
        engine_hours=earlier.engine_hours,
        item_hours=earlier.item_hours,
        left=left,
        restart=left,
        breaks=_set_words(earlier) if left else "",
        earlier=True,
        place=earlier.place,
    )


def _set_words(earlier: Earlier) -> str:
    return "new" if earlier.item_hours == 0 else "set"


def _own_points(judged: JudgedJob, state: ItemState, check: Check, way: Way) -> list[Point]:
    """The readings of this job in the book's order, with what was done between them."""
    sheet = judged.facts.sheets[state.kind]
    taken = {one.entry.id: one for one in state.readings}
    verdict = next((one for one in judged.items if one.item == state.id), None)
    call = verdict.call(check.name) if verdict else None
    calls = {} if call is None else {c.entry.id: c.call for c in (call, *call.others) if c.entry}
    now = engine_hours(judged)
    found: list[Point] = []
    set_anew = ""
    for entry in judged.state.order:
        if entry.kind in ("run_began", "run_ended") and entry.get("engine_hours", None) is not None:
            now = float(entry.data["engine_hours"])
        if entry.item != state.id:
            continue
        struck = judged.state.struck.get(entry.id)
        if entry.kind == "reworked" and struck is None and entry.get("act") in sheet.reworks:
            act = sheet.reworks[entry.get("act")]
            if _sets(act.name, check, act.voids, clears=act.clears_deposits):
                set_anew = act.done
        if entry.kind != "reading" or entry.get("check") != check.name:
            continue
        reading = _read(judged, entry, struck is not None)
        if reading is None:
            continue
        one = taken.get(entry.id)
        point = _point(judged, entry, reading, check, way)
        void = one.void if one is not None else ""
        if one is not None and one.voided_by in sheet.reworks:
            # What was read before a rework no longer judges the part; it was true when it was read.
            void = ""
        found.append(
            replace(
                point,
                engine_hours=now,
                item_hours=state.hours,
                left=bool(set_anew),
                restart=bool(set_anew),
                breaks=set_anew,
                call=calls.get(entry.id, ""),
                void=void,
                struck=_reason(struck),
                place=entry.place or state.came_out_of,
            )
        )
        if struck is None:
            set_anew = ""
    # Of a cylinder two reads are asked for, and neither stands for the other.
    return found if check.method == "compression" else _last_of_each(found)


def _sets(act: str, check: Check, voids: Sequence[str], *, clears: bool) -> bool:
    """Whether a rework changes the part itself, so that its trend starts anew.

    Cleaning and a better contact only let the meter see it.
    """
    if act == check.rework_act:
        return True
    return check.name in voids and not clears and act != check.repeat_after


def _read(judged: JudgedJob, entry: Entry, is_struck: bool) -> Reading | None:
    try:
        return understand(entry, judged.facts.sheets, judged.facts.meters)[1]
    except BadInput:
        # Only a struck reading may speak of a meter or check that is no longer on file.
        if not is_struck:
            raise
        return None


def _reason(struck: Entry | None) -> str:
    return str(struck.data["reason"]) if struck is not None else ""


def _last_of_each(points: list[Point]) -> list[Point]:
    """A reading taken again after a cleaning stands for the one before it."""
    done: list[Point] = []
    for number, point in enumerate(points):
        again = point.counts and any(
            later.counts and not later.restart and later.meter == point.meter and not point.left
            for later in points[number + 1 : _next_restart(points, number)]
        )
        done.append(replace(point, aside="taken again later") if again else point)
    return done


def _next_restart(points: Sequence[Point], number: int) -> int:
    for place in range(number + 1, len(points)):
        if points[place].restart:
            return place
    return len(points)


def _point(judged: JudgedJob, entry: Entry, reading: Reading, check: Check, way: Way) -> Point:
    band = _band(reading, judged.facts)
    centre, variance = _centre(band, way)
    scatter = min(_scatter(band, judged.facts.meters.get(reading.meter), variance), variance)
    return Point(
        on=entry.at.date(),
        hours=None,
        engine_hours=None,
        item_hours=None,
        value=reading.value,
        centre=centre,
        variance=variance,
        scatter=scatter,
        low=band.low if band else None,
        high=band.high if band else None,
        text=reading.text(check),
        record=reading.text(check, record=True),
        meter=reading.meter,
        left=False,
        segment=0,
        restart=False,
        breaks="",
        call="",
        state=reading.state,
        aside="",
        void="",
        struck="",
        earlier=False,
        job=judged.facts.job,
        entry=entry.id,
        place="",
        words=_condition_words(reading.conditions),
        supply=reading.supply,
        conditions=reading.conditions,
        ambient=ambient_of(reading, judged.facts),
    )


def _condition_words(conditions: Mapping[str, str]) -> str:
    said = [conditions.get("state", "")]
    if conditions.get("minutes"):
        said.append(f"{conditions['minutes']} min after shutdown")
    path = conditions.get("path", "none")
    if path != "none":
        note = conditions.get("path_note", "")
        said.append(f"air at the {path}" + (f", {note}" if note else ""))
    known = ("state", "minutes", "path", "path_note", "orifice")
    said += [f"{name} {words}" for name, words in conditions.items() if name not in known]
    return ", ".join(words for words in said if words)


def _band(reading: Reading, facts: JobFacts) -> Band | None:
    meter = facts.meters.get(reading.meter)
    if reading.between is not None:
        low, high = reading.between
        return Band("uniform", (low + high) / 2, float(low), float(high))
    if reading.value is None or meter is None:
        return None
    return band_of(meter, reading.value, reading.range)


def _centre(band: Band | None, way: Way) -> tuple[float | None, float]:
    """Mean and variance of the true value given the reading, on the scale it grows evenly on."""
    if band is None:
        return None, 0.0
    match band.shape:
        case "uniform":
            return (band.low + band.high) / 2, (band.high - band.low) ** 2 / 12
        case "trapezoid" | "normal":
            return band.centre, band.standard_uncertainty**2
        case "arc":
            centre, of_arc = _arc_centre(band, way)
            return centre, of_arc + band.d**2 / 12 + band.u**2
    raise AssertionError(band.shape)


def _scatter(band: Band | None, meter: Meter | None, variance: float) -> float:
    """What readings on one meter differ by though nothing has changed.

    Its accuracy is the same each time and cancels in a trend: JCGM 100:2008, 3.3.3 and 4.2.2, on
    what repeated observations show and do not show. So does what a certificate states, and where
    on its arc a scale puts the needle. A certificate or a scale with neither steps nor
    repeatability on file has one figure for both, and all of it is taken as each reading's own.
    """
    if band is None or meter is None or band.shape == "uniform":
        return variance
    own = band.d**2 / 12 + (meter.repeatability**2 if meter.kind == "certificate" else band.u**2)
    if not own and (band.shape == "arc" or meter.kind == "certificate"):
        return variance
    return own


def _arc_centre(band: Band, way: Way) -> tuple[float, float]:
    """The needle is as likely anywhere on its stretch of arc: summed over 65 places of it."""
    middle = float(arc_fraction(band.centre, band.mid_scale))
    low, high = max(middle - band.arc, 1e-4), min(middle + band.arc, 1 - 1e-9)
    places = [low + (high - low) * (k + 0.5) / 65 for k in range(65)]
    values = [float(resistance_at_arc(place, band.mid_scale)) for place in places]
    if way.scale == "log":
        logs = [log(value) for value in values if value > 0]
        mean = sum(logs) / len(logs)
        return exp(mean), exp(2 * mean) * sum((one - mean) ** 2 for one in logs) / len(logs)
    mean = sum(values) / len(values)
    return mean, sum((one - mean) ** 2 for one in values) / len(values)


def _worse_aside(points: list[Point], check: Check, limit: Limit | None) -> list[Point]:
    """Of a cylinder's reads only the better of each session is followed, and like with like."""
    if check.method != "compression":
        return points
    wanted = limit.wants if limit is not None else {}
    best: dict[tuple[date, str], float] = {}
    for point in points:
        if point.counts and point.value is not None:
            best[_session(point)] = max(best.get(_session(point), 0.0), float(point.value))
    done = []
    seen: set[tuple[date, str]] = set()
    for point in points:
        aside = ""
        unlike = [w for name, w in wanted.items() if point.conditions.get(name) != w]
        if point.counts and unlike:
            aside = f"not taken {', '.join(unlike)}: for reference only"
        elif point.counts and (point.value != best[_session(point)] or _session(point) in seen):
            aside = "the worse of two reads"
        elif point.counts:
            seen.add(_session(point))
        done.append(replace(point, aside=aside) if aside else point)
    return done


def _session(point: Point) -> tuple[date, str]:
    return point.on, point.conditions.get("state", "")


def _segmented(points: Sequence[Point]) -> list[Point]:
    """A line joins readings of one part, one setting and one meter."""
    done: list[Point] = []
    segment, meter, first = 0, "", True
    for point in points:
        breaks = point.breaks
        if point.restart and not first:
            segment += 1
        elif point.counts and meter and point.meter != meter:
            segment += 1
            breaks = f"{point.meter} after {meter}"
        if point.counts:
            meter, first = point.meter, False
        done.append(replace(point, segment=segment, breaks=breaks))
    return done


# The oil


def _oil_series(held: Sequence[JudgedJob]) -> tuple[Series, ...]:
    """The samples of all books, each drain once."""
    drains: dict[str, tuple[JudgedJob, OilRow, Entry]] = {}
    for judged in held:
        trend = oil_trend(judged)
        if trend is None:
            continue
        entries = [e for one in judged.state.items.values() for e in one.samples]
        for row, entry in zip(trend.rows, entries, strict=True):
            drains.setdefault(row.on, (judged, row, entry))
    told = [drains[on] for on in sorted(drains)]
    made = []
    for element in ELEMENTS:
        points = [
            _oil_point(
                judged, row, entry, row.made[element], f"{row.reported(element)} ppm reported"
            )
            for judged, row, entry in told
            if row.made.get(element, 0) > 0
        ]
        if points:
            made.append(_oil_one(element, f"{element} made", "ppm in 50 h", points))
    use = [
        _oil_point(judged, row, entry, row.hours_per_quart, f"{row.added_qt:g} qt added")
        for judged, row, entry in told
        if row.hours_per_quart
    ]
    if use:
        made.append(_oil_one(HOURS_PER_QUART, "Hours a quart", "h a quart", use))
    return tuple(made)


def _oil_point(
    judged: JudgedJob, row: OilRow, entry: Entry, value: float | None, words: str
) -> Point:
    assert value is not None
    # What a quart is known to at the stick is no better than the laboratory: one share for both.
    u = LAB_SHARE * value
    return Point(
        on=last_day(row.on),
        hours=row.engine_hours,
        engine_hours=row.engine_hours,
        item_hours=None,
        value=value,
        centre=value,
        variance=u**2,
        scatter=u**2,
        low=value - 2 * u,
        high=value + 2 * u,
        text=f"{value:.1f}",
        record=f"{value:.1f}",
        meter="",
        left=False,
        segment=0,
        restart=False,
        breaks="",
        call="",
        state="",
        aside="",
        void="",
        struck="",
        earlier=False,
        job=judged.facts.job,
        entry=entry.id,
        place="",
        words=f"{words}; taken {row.flag}" if row.flag else words,
    )


def _oil_one(check: str, label: str, unit: str, points: Sequence[Point]) -> Series:
    return Series(
        item=OIL,
        check=check,
        label=label,
        quantity=None,
        unit=unit,
        clock="engine",
        way=way_of(OIL, check),
        points=tuple(points),
        lower=None,
        upper=None,
        aim=None,
        floor=False,
        limit_words="no limit: followed against its own history",
        limit_source="",
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
            or entry.get("entry") in own
            or entry.get("finding") in findings
            or (entry.kind == "replaced" and entry.get("for") == state.name)
            or any(f.entry.id == entry.id for f in state.findings)
            # What the filter caught is the oil's story too.
            or (item == OIL and entry.kind == "counted")
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
    if entry.kind == "earlier":
        on = _written_on(entry, "service", struck)
        own = next((e for e in state.earlier if e.entry.id == entry.id), None)
        words = entry_words(entry, judged) if own is None else _service_words(judged, own, state)
    elif entry.kind in ("sampled", "counted") and entry.get("on"):
        on = _written_on(entry, "on", struck)
        words = entry_words(entry, judged)
    else:
        words = entry_words(entry, judged)
    return Event(
        on=on,
        at=entry.at,
        kind=entry.kind,
        words=words,
        by=judged.facts.person(entry.by),
        struck=_reason(struck),
        entry=entry.id,
        job=judged.facts.job,
        photo=str(entry.get("photo")) if entry.kind == "pictured" else "",
    )


def _written_on(entry: Entry, field: str, struck: Entry | None) -> date:
    """The day an entry speaks of; of a struck one that says none, the day it was written."""
    try:
        return last_day(entry.data[field])
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
