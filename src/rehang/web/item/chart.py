"""The chart of one check of an item, from engine to engine."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date
from itertools import pairwise

from rehang.trade.facts.items import Check
from rehang.trade.facts.limits import Limit
from rehang.trade.telling.sheet_parts import status_name
from rehang.trade.terms.days import last_day
from rehang.trade.terms.quantities import Quantity, show
from rehang.trade.terms.series import rises_running
from rehang.trade.verdicts.calls import Call
from rehang.trade.verdicts.item_verdict import ItemVerdict

__all__ = [
    "NARROW",
    "WIDE",
    "PastChart",
    "chart",
    "series_of",
]


# The chart of one check across services


@dataclass(frozen=True, slots=True)
class ChartPoint:
    """One point of the chart; ``y`` is None for an open circuit, drawn as an arrow."""

    x: float
    y: float
    text: str
    label: str
    now: bool
    mark: str
    open: bool
    left: bool
    text_x: float
    text_y: float
    anchor: str
    mark_x: float
    mark_y: float


@dataclass(frozen=True, slots=True)
class ChartLine:
    x1: float
    y1: float
    x2: float
    y2: float


@dataclass(frozen=True, slots=True)
class Tick:
    y: float
    text: str
    text_y: float


@dataclass(frozen=True, slots=True)
class Bound:
    y: float
    text: str
    text_y: float


@dataclass(frozen=True, slots=True)
class PastChart:
    """Everything of the drawing, in its own units."""

    width: int
    height: int
    left: float
    right: float
    bottom: float
    title: str
    unit: str
    sentence: str
    points: tuple[ChartPoint, ...]
    lines: tuple[ChartLine, ...]
    ticks: tuple[Tick, ...]
    bounds: tuple[Bound, ...]
    bar: tuple[float, float, float] | None
    hatch: tuple[float, float, float] | None
    hatch_width: int
    bar_words: str
    limit_words: str
    size: str


@dataclass(frozen=True, slots=True)
class _Sample:
    when: date
    found: int | None
    found_open: bool
    left: int | None
    text: str


@dataclass(frozen=True, slots=True)
class _Series:
    samples: tuple[_Sample, ...]

    @property
    def points(self) -> bool:
        return sum(1 for s in self.samples if s.found is not None or s.left is not None) >= 2


WIDE, NARROW = 720, 340
_HEIGHT = 320


def series_of(verdict: ItemVerdict, check: Check) -> _Series:
    samples = []
    for earlier in sorted(verdict.history, key=lambda e: e.service):
        found, left = earlier.readings.get(check.name), earlier.left.get(check.name)
        if found is None and left is None:
            continue
        kept = found or left
        assert kept is not None
        samples.append(
            _Sample(
                last_day(earlier.service),
                found.value if found else None,
                found is not None and found.state == "ol",
                left.value if left else None,
                kept.text(check),
            )
        )
    return _Series(tuple(samples))


class _Axes:
    """Where a day and a value stand on one chart, in pixels."""

    def __init__(
        self, width: int, days: Sequence[int], span: tuple[float, float], *, log: bool
    ) -> None:
        self.wide = width == WIDE
        # The last value is written out to the right of its mark, past the end of the axis.
        self.left, self.right, self.top, self.bottom = 56.0, width - 66.0, 44.0, _HEIGHT - 34.0
        self.first, self.final = min(days), max(days)
        self.low, self.high = span
        self.log = log

    def at_x(self, ordinal: int) -> float:
        days = self.final - self.first
        share = (ordinal - self.first) / days if days > 0 else 0.5
        return round(self.left + 30 + share * (self.right - self.left - 46), 1)

    def at_y(self, value: float) -> float:
        if self.log:
            # A value of nothing has no logarithm; it stands at the foot, as all below the span.
            share = math.log(max(value, self.low) / self.low) / math.log(self.high / self.low)
        else:
            share = (value - self.low) / (self.high - self.low)
        return round(self.bottom - min(max(share, 0.0), 1.0) * (self.bottom - self.top), 1)


@dataclass(slots=True)
class _Drawn:
    """Points and lines so far; ``before`` is where the next line begins, None after an open."""

    points: list[ChartPoint] = field(default_factory=list)
    lines: list[ChartLine] = field(default_factory=list)
    before: tuple[float, float] | None = None

    def line_to(self, x: float, y: float) -> None:
        if self.before is not None:
            self.lines.append(ChartLine(*self.before, x, y))


def chart(verdict: ItemVerdict, check: Check, width: int) -> PastChart:
    """The check at each earlier service and now, against the limit on file."""
    quantity = check.quantity
    assert quantity is not None
    call = verdict.call(check.name)
    series = series_of(verdict, check).samples
    limit = call.limit_data if call is not None else None
    edges = [e for e in ((limit.lower, limit.upper) if limit else ()) if e is not None]
    log = quantity.name == "resistance"
    values = [v for s in series for v in (s.found, s.left) if v is not None]
    days = [s.when.toordinal() for s in series]
    now_x = 1e9
    if call is not None and call.value is not None:
        values.append(call.value)
    if call is not None and call.entry is not None:
        days.append(call.entry.at.date().toordinal())
    axes = _Axes(width, days, _span([*values, *edges], log=log), log=log)
    if call is not None and call.entry is not None:
        now_x = axes.at_x(axes.final)
    upper = axes.at_y(limit.upper) if limit is not None and limit.upper is not None else None
    drawn = _past(series, quantity, axes, now_x, upper)
    bar, hatch = _now(call, quantity, axes, drawn) if call is not None else (None, None)
    return PastChart(
        width=width,
        height=_HEIGHT,
        left=axes.left,
        right=axes.right,
        bottom=axes.bottom,
        title=check.label,
        unit=_unit(quantity),
        sentence=_trend_words(verdict, check, call),
        points=tuple(drawn.points),
        lines=tuple(drawn.lines),
        ticks=tuple(
            Tick(axes.at_y(v), _bare(v, quantity), axes.at_y(v) + 6)
            for v in _ticks(axes.low, axes.high, quantity, log=log)
        ),
        bounds=tuple(_bounds(limit, quantity, axes.at_y)),
        bar=bar,
        hatch=hatch,
        hatch_width=40 if axes.wide else 24,
        limit_words=f"Limit {call.limit}, {call.source}." if call is not None and limit else "",
        bar_words=call.band_words if call is not None and bar is not None else "",
        size="wide" if axes.wide else "narrow",
    )


def _past(
    series: Sequence[_Sample], quantity: Quantity, axes: _Axes, now_x: float, upper: float | None
) -> _Drawn:
    """What earlier services found and left; ``upper`` is where the upper limit's line stands."""
    drawn = _Drawn()
    # Narrower than this two labels run into each other.
    apart = 96 if axes.wide else 56
    last_label = last_text = -1000.0
    for sample in series:
        x = axes.at_x(sample.when.toordinal())
        label = f"{sample.when:%b %Y}" if axes.wide else f"{sample.when:%Y}"
        if x - last_label < apart or now_x - x < apart - 14:
            label = ""
        else:
            last_label = x
        here = sample.found if sample.found is not None else sample.left
        if sample.found_open or here is None:
            drawn.points.append(_point(x, axes.top, sample.text, label, opened=True))
            drawn.before = None
            continue
        y = axes.at_y(here)
        if sample.found is not None:
            drawn.line_to(x, y)
        text = _bare(here, quantity)
        if x - last_text < 48:
            text = ""
        else:
            last_text = x
        # Where the limit's own label stands above the point, its value goes below.
        under = upper is not None and abs(y - 16 - (upper - 8)) < 20
        drawn.points.append(_point(x, y, text, label, under=under))
        drawn.before = (x, y)
        if sample.left is not None and sample.found is not None and sample.left != sample.found:
            y_left = axes.at_y(sample.left)
            drawn.points.append(_point(x, y_left, "", "", left=True))
            drawn.before = (x, y_left)
    return drawn


_Box = tuple[float, float, float]


def _now(
    call: Call, quantity: Quantity, axes: _Axes, drawn: _Drawn
) -> tuple[_Box | None, _Box | None]:
    """The reading of now: its mark, the bar of its band, and the hatch of a close call."""
    if call.entry is None or (call.value is None and call.reading != "OL"):
        return None, None
    x = axes.at_x(call.entry.at.date().toordinal())
    mark = status_name(call.call)
    if call.value is None:
        drawn.line_to(x, axes.top + 12)
        drawn.points.append(_point(x, axes.top, "open", "now", opened=True, now=True, mark=mark))
        return None, None
    y = axes.at_y(call.value)
    drawn.line_to(x, y)
    drawn.points.append(_point(x, y, _bare(call.value, quantity), "now", now=True, mark=mark))
    if call.band is None:
        return None, None
    lower = max(call.band.low, axes.low if axes.log else 0)
    bar = (x, axes.at_y(lower), axes.at_y(min(call.band.high, axes.high)))
    if call.call != "CLOSE CALL":
        return bar, None
    return bar, (x - (58 if axes.wide else 40), bar[2], round(bar[1] - bar[2], 1))


def _point(
    x: float,
    y: float,
    text: str,
    label: str,
    *,
    now: bool = False,
    mark: str = "",
    opened: bool = False,
    left: bool = False,
    under: bool = False,
) -> ChartPoint:
    return ChartPoint(
        x=x,
        y=y,
        text=text,
        label=label,
        now=now,
        mark=mark,
        open=opened,
        left=left,
        # The last point is written out beside its mark, the others above theirs.
        text_x=x + 19 if now else x,
        text_y=y + _text_below(now=now, opened=opened, under=under),
        anchor="start" if now else "middle",
        mark_x=x - 13,
        mark_y=y - 13,
    )


def _text_below(*, now: bool, opened: bool, under: bool) -> int:
    """How far below its point a value's base line stands."""
    if now:
        return 14 if opened else 6
    if opened or under:
        return 30
    return -16


def _span(values: Sequence[int], *, log: bool) -> tuple[float, float]:
    low, high = float(min(values)), float(max(values))
    if log:
        return max(low, 1.0) / 1.4, high * 1.9
    room = max((high - low) * 0.25, 1.0)
    return max(low - room, 0.0), high + room


def _ticks(low: float, high: float, quantity: Quantity, *, log: bool) -> list[float]:
    if log:
        found = []
        for power in range(int(math.log10(low)) - 1, int(math.log10(high)) + 2):
            found += [m * 10.0**power for m in (1, 2, 5)]
        return [v for v in found if low <= v <= high]
    unit = float(quantity.units[quantity.keyed])
    for step in (1, 2, 5, 10, 20, 50, 100):
        if (high - low) / (step * unit) <= 6:
            first = math.ceil(low / (step * unit))
            return [n * step * unit for n in range(first, int(high / (step * unit)) + 1)]
    return []


def _bounds(limit: Limit | None, quantity: Quantity, at_y: Callable[[float], float]) -> list[Bound]:
    found = []
    edges = ((limit.upper, "or less"), (limit.lower, "or more")) if limit is not None else ()
    for value, word in edges:
        if value is not None:
            y = at_y(value)
            below = word == "or more"
            # Whose limit it is stands under the drawing, where there is room for all of it.
            found.append(
                Bound(y, f"LIMIT {_bare(value, quantity)} {word}", y + 22 if below else y - 8)
            )
    return found


def _bare(value: float, quantity: Quantity) -> str:
    return show(value, quantity).rsplit(" ", 1)[0]


def _unit(quantity: Quantity) -> str:
    return show(0, quantity).rsplit(" ", 1)[1]


_TIMES = ("", "once", "twice", "three times", "four times", "five times", "six times")


def _trend_words(verdict: ItemVerdict, check: Check, call: Call | None) -> str:
    """What the chart says, in a sentence."""
    quantity = check.quantity
    assert quantity is not None
    samples = series_of(verdict, check).samples
    values = [s.found if s.found is not None else s.left for s in samples]
    read = [v for v in values if v is not None]
    now = call.value if call is not None and call.call != "VOID" else None
    opened = call is not None and call.reading == "OL"
    grown = []
    if check.reworkable and any(s.left is not None for s in samples):
        for before, after in pairwise(samples):
            if before.left is not None and after.found is not None:
                grown.append(after.found - before.left)
        if now is not None and samples and samples[-1].left is not None:
            grown.append(now - samples[-1].left)
    if grown:
        steps = ", ".join(_bare(g, quantity) for g in grown)
        return f"{check.label} grew by {steps} {_unit(quantity)} from one opening to the next."
    run = [*read, *([now] if now is not None else [])]
    rises = rises_running(run)
    shown = ", ".join(_bare(v, quantity) for v in run)
    tail = ", and open now" if opened else ""
    if rises >= 2:
        times = _TIMES[rises] if rises < len(_TIMES) else f"{rises} times"
        return f"{check.label} is up {times} running: {shown} {_unit(quantity)}{tail}."
    return f"{check.label} at each opening: {shown} {_unit(quantity)}{tail}."
