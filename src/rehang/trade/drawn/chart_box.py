"""The plot of a chart on a sheet: where it lies, its scales and their marks, its columns."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from rehang.trade.drawn.chart_values import (
    LEAST_FOR_USUAL,
    Chart,
    Sheet,
    openings,
)
from rehang.trade.terms.errors import BadInput

__all__ = ["Box", "box_of", "column_edges", "column_shares", "likely", "ticks_of"]

# What a forecast needs across to be read.
_FAN_PX = 84.0


@dataclass(frozen=True, slots=True)
class Box:
    """The plot in pixels of the sheet, and its scales."""

    left: float
    top: float
    width: float
    height: float
    right_pad: float
    bottom_pad: float
    x0: float
    x1: float
    y0: float
    y1: float
    log: bool
    over: float
    bend: tuple[float, float] | None = None

    def x(self, hours: float) -> float:
        """Where an opening stands; past a bend the hours to come have a scale of their own."""
        if self.bend is None:
            return (hours - self.x0) / (self.x1 - self.x0) * self.width
        at, x = self.bend
        if hours <= at:
            return (hours - self.x0) / (at - self.x0) * x
        return x + (hours - at) / (self.x1 - at) * (self.width - x)

    def y(self, value: float) -> float:
        if self.log:
            share = math.log(value / self.y0) / math.log(self.y1 / self.y0)
        else:
            share = (value - self.y0) / (self.y1 - self.y0)
        return self.height * (1 - share)

    def held(self, value: float) -> float:
        """A value kept inside the plot."""
        return min(max(value, self.y0), self.y1)


def column_edges(hours: Sequence[float]) -> tuple[float, ...]:
    """Where the columns of the openings meet: half-way, and as far again outside."""
    if len(hours) == 1:
        return (hours[0] - 50, hours[0] + 50)
    inner = [(a + b) / 2 for a, b in pairwise(hours)]
    return (
        hours[0] - (hours[1] - hours[0]) / 2,
        *inner,
        hours[-1] + (hours[-1] - hours[-2]) / 2,
    )


def column_shares(chart: Chart, sheet: Sheet, least: int = 104) -> tuple[float, ...]:
    """Widths of the table's columns in per cent of the sheet, the row heads first.

    Empty when an opening would have less than ``least`` pixels: then the table does not share
    the chart's columns.
    """
    hours = openings(chart)
    if not sheet.head or not hours:
        return ()
    edges = column_edges(hours)
    room = sheet.width - sheet.head
    pixels = [(b - a) / (edges[-1] - edges[0]) * room for a, b in pairwise(edges)]
    if min(pixels) < least * sheet.scale:
        return ()
    return tuple(round(p / sheet.width * 100, 3) for p in (sheet.head, *pixels))


def box_of(chart: Chart, sheet: Sheet) -> Box:
    hours = openings(chart)
    if not hours:
        raise BadInput(f"{chart.title} of {chart.name} has no reading yet, so there is no chart.")
    s = sheet.scale
    shared = bool(column_shares(chart, sheet))
    low, high = _reach(chart, sheet)
    is_over = any(mark.value is None for mark in chart.marks) or (
        chart.other is not None and chart.other.opened is not None
    )
    top = (14 if sheet.is_small else 40) * s
    bottom = 12 * s
    if not shared:
        bottom += 30 * s
    if chart.breaks and not sheet.is_small:
        bottom += 30 * s
    ticks = ticks_of(low, high, log=chart.log)
    wide = max(len(chart.show(t)) for t in ticks) * sheet.text * 0.6 if ticks else 30 * s
    left = float(sheet.head) if shared else max(wide + 14 * s, 34 * s)
    edges = column_edges(hours)
    right = 2.0 * s
    plot = sheet.width - left - right
    bend = None
    if not shared:
        edges, bend = _ends(chart, hours, plot, sheet)
    height = sheet.height - top - bottom
    # An open circuit stands at the top, above every number.
    over = 20 * s
    if is_over:
        share = 44 * s / height
        high = high * (high / low) ** share if chart.log else high + (high - low) * share
    return Box(
        left=left,
        top=top,
        width=plot,
        height=height,
        right_pad=right,
        bottom_pad=bottom,
        x0=edges[0],
        x1=edges[-1],
        y0=low,
        y1=high,
        log=chart.log,
        over=over,
        bend=bend,
    )


def _ends(
    chart: Chart, hours: Sequence[float], plot: float, sheet: Sheet
) -> tuple[tuple[float, float], tuple[float, float] | None]:
    """The hours at both ends of a plot that needs no table's columns, and where it bends.

    It is used to its ends, with room for the last mark's number. Where the hours to the next
    opening would leave a forecast too narrow to read, they are drawn wider than those before.
    """
    s = sheet.scale
    number = max(len(words) for words in _end_words(chart)) * sheet.text
    # The last reading is written larger than the ends of a forecast, and past its mark.
    before, after = 20 * s, 22 * s + number * 0.72
    if chart.fan is not None:
        after = 14 * s + number * 0.6
    inner = plot - before - after
    span = (hours[-1] - hours[0]) or 100
    least = min(_FAN_PX * s, inner * 0.36)
    if chart.next_hours is None or len(hours) < 3 or hours[-1] - hours[-2] >= least / inner * span:
        each = span / inner
        return (hours[0] - before * each, hours[-1] + after * each), None
    each = (hours[-2] - hours[0]) / (inner - least)
    to_come = (hours[-1] - hours[-2]) / least
    ends = (hours[0] - before * each, hours[-1] + after * to_come)
    return ends, (hours[-2], before + inner - least)


def _end_words(chart: Chart) -> list[str]:
    """The numbers that may stand behind the last opening."""
    if chart.fan is not None and chart.fan.bands.get(80):
        end = chart.fan.bands[80][-1]
        return [likely(chart, end.low), likely(chart, end.high)]
    return [mark.text for mark in chart.marks[-1:]]


def likely(chart: Chart, value: float) -> str:
    """A forecast value in figures: three of them say all that it knows."""
    return chart.show(float(f"{value:.3g}"))


def _reach(chart: Chart, sheet: Sheet) -> tuple[float, float]:
    """Lowest and highest value that has to be seen, with room to both sides."""
    values = [m.value for m in chart.marks if m.value is not None]
    values += [limit.value for limit in chart.limits]
    for band in chart.fellows:
        values += [band.low, band.high]
    if chart.fan is not None:
        for band in chart.fan.bands.get(80, ()):
            values += [band.low, band.high]
        values += [value for _, value in chart.fan.middle]
    if chart.other is not None:
        values += [value for _, value in chart.other.values]
    if chart.usual is not None and chart.usual.count >= LEAST_FOR_USUAL:
        values += [chart.usual.low, chart.usual.high]
    bars = [v for m in chart.marks for v in (m.low, m.high) if v is not None]
    if chart.log:
        values = [v for v in values if v > 0]
        if not values:
            return 1.0, 10.0
        low, high = min(values), max(values)
        # What a poor meter cannot tell may reach to nothing or without end: four times is seen.
        low = min([low, *(b for b in bars if b > 0 and b >= low / 4)])
        high = max([high, *(b for b in bars if b <= high * 4)])
        return low / 1.25, high * 1.3
    if not values:
        return 0.0, 1.0
    low, high = min(values), max(values)
    span = (high - low) or max(abs(high) * 0.1, 1.0)
    low = min([low, *(b for b in bars if b >= low - span)])
    high = max([high, *(b for b in bars if b <= high + span)])
    span = (high - low) or span
    # The words of a lower limit stand below its line, those of an upper one above it.
    below, above = (0.6, 0.4) if sheet.is_small and chart.limits else (0.2, 0.16)
    floor = low - (below if any(not limit.upper for limit in chart.limits) else 0.1) * span
    return (max(floor, 0.0) if low >= 0 else floor), high + above * span


def ticks_of(low: float, high: float, *, log: bool) -> list[float]:
    if log:
        powers = range(math.floor(math.log10(low)) - 1, math.ceil(math.log10(high)) + 1)
        found = [m * 10.0**p for p in powers for m in (1, 2, 5)]
        return [v for v in found if low <= v <= high]
    for power in range(-4, 7):
        for multiple in (1, 2, 5):
            step = multiple * 10.0**power
            if (high - low) / step <= 6:
                first = math.ceil(low / step - 1e-9)
                return [round(n * step, 6) for n in range(first, math.floor(high / step) + 1)]
    return []
