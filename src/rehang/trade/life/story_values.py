"""The story of a part, as values: points, series, flights, events."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from itertools import pairwise
from typing import Literal

from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.state import item_kind
from rehang.trade.terms.conversions import STANDARD_AIR
from rehang.trade.terms.entries import is_a
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.kinds.items import EarlierService
from rehang.trade.terms.kinds.oil import Sampled
from rehang.trade.terms.kinds.papers import Filed
from rehang.trade.terms.quantities import Quantity, show
from rehang.trade.verdicts.item_verdict import ItemVerdict

__all__ = [
    "HOURS_PER_QUART",
    "OIL",
    "SAME_HOURS",
    "Event",
    "Flight",
    "PartStory",
    "Point",
    "Series",
    "Way",
    "books_of",
    "engine_hours",
    "first_day",
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
class PartStory:
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


def books_of(books: Iterable[JudgedJob], item: str, job: str = "") -> tuple[JudgedJob, ...]:
    """The books an item has a story in, the oldest first.

    A plug is known by its serial wherever it flew. Any other item is one of its engine, so only
    the books of that engine count: the one of ``job``, or the newest that has the item.
    """
    held = sorted((one for one in books if item in one.state.items), key=first_day)
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


def first_day(judged: JudgedJob) -> datetime:
    live = [e.at for e in judged.state.live() if not is_a(e, Filed, EarlierService, Sampled)]
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
