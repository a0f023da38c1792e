"""A chart of one check over the engine's hours, as values."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

__all__ = [
    "LEAST_FOR_USUAL",
    "Break",
    "Chart",
    "ChartBand",
    "ChartLimit",
    "ChartMark",
    "Close",
    "Fan",
    "Other",
    "Sheet",
    "Usual",
    "openings",
    "usual_of",
]

# From fewer readings the usual range would be a guess; common practice, no source.
LEAST_FOR_USUAL = 8


@dataclass(frozen=True, slots=True)
class ChartMark:
    """One reading. Amounts are in the unit of the chart; ``value`` is None for an open circuit.

    ``call`` is a status as the page's marks name it, or empty for a reading that was not judged
    here. ``low`` and ``high`` are what the meter can tell. ``left`` marks what it was set to.
    A line joins the marks of one ``segment``. ``words`` say the whole of it.
    """

    hours: float
    value: float | None
    text: str
    on: str
    call: str = ""
    segment: int = 0
    low: float | None = None
    high: float | None = None
    left: bool = False
    words: str = ""
    key: str = ""


@dataclass(frozen=True, slots=True)
class ChartLimit:
    """One bound: its value, the words that stand on its line, and who says so."""

    value: float
    words: str
    source: str
    upper: bool


@dataclass(frozen=True, slots=True)
class Close:
    """Values that one meter calls CLOSE CALL, over the hours at which it was used."""

    since: float
    until: float
    low: float
    high: float
    meter: str = ""


@dataclass(frozen=True, slots=True)
class ChartBand:
    """A range of values at one count of hours."""

    hours: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Usual:
    """The usual range of a check in this shop, and how many readings it is drawn from."""

    low: float
    middle: float
    high: float
    count: int


@dataclass(frozen=True, slots=True)
class Fan:
    """The forecast from the last reading to the next opening: middle and bands by chance."""

    middle: tuple[tuple[float, float], ...]
    bands: Mapping[int, tuple[ChartBand, ...]]


@dataclass(frozen=True, slots=True)
class Break:
    """Where the line is not joined, and why: new plug, re-gapped, another meter."""

    hours: float
    words: str


@dataclass(frozen=True, slots=True)
class Other:
    """Another part's readings beside these; it ends in an open circuit when ``opened``.

    ``is_trace`` is of what was recorded without a break: a line in ink, with no point of its own.
    """

    name: str
    values: tuple[tuple[float, float], ...]
    opened: float | None = None
    is_trace: bool = False


@dataclass(frozen=True, slots=True)
class Chart:
    """One check of one part over its openings, with all that is drawn about it.

    ``x_words`` are what is written under the base line where that is not the hours themselves.
    """

    name: str
    title: str
    unit: str
    sentence: str
    marks: tuple[ChartMark, ...]
    show: Callable[[float], str]
    log: bool = False
    note: str = ""
    limits: tuple[ChartLimit, ...] = ()
    close: tuple[Close, ...] = ()
    usual: Usual | None = None
    fellows: tuple[ChartBand, ...] = ()
    fellows_words: str = ""
    other: Other | None = None
    fan: Fan | None = None
    next_hours: float | None = None
    breaks: tuple[Break, ...] = ()
    x_words: Mapping[float, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Sheet:
    """What a chart is drawn on: width and type in pixels (or points), a ``page`` or ``print``.

    A small sheet has its title beside it and room for the readings and the limit alone. ``head`` is the width of the table's row heads when the table below shares the chart's
    columns; 0 where it does not and the hours are written on the chart.
    """

    width: int
    height: int
    text: int
    mode: str
    head: int = 0
    is_small: bool = False

    @property
    def scale(self) -> float:
        return self.text / 18


def usual_of(values: Sequence[float], *, log: bool) -> Usual | None:
    """Median and three robust standard deviations to both sides; None from too few readings.

    Three standard deviations are Shewhart's control limits. The standard deviation is taken as
    1.4826 times the median distance from the median, which one part that goes its own way does
    not move.
    """
    if len(values) < LEAST_FOR_USUAL or (log and min(values) <= 0):
        return None
    ordered = sorted(math.log(v) if log else v for v in values)
    middle = _median(ordered)
    spread = 3 * 1.4826 * _median(sorted(abs(v - middle) for v in ordered))
    low, high = middle - spread, middle + spread
    if log:
        return Usual(math.exp(low), math.exp(middle), math.exp(high), len(values))
    return Usual(low, middle, high, len(values))


def _median(ordered: Sequence[float]) -> float:
    half, odd = divmod(len(ordered), 2)
    return ordered[half] if odd else (ordered[half - 1] + ordered[half]) / 2


def openings(chart: Chart) -> tuple[float, ...]:
    """The hours at which there is something to see, the next opening last."""
    hours = sorted({mark.hours for mark in chart.marks})
    if chart.next_hours is not None and (not hours or chart.next_hours > hours[-1]):
        hours.append(chart.next_hours)
    return tuple(hours)
