"""Charts of one check over the engine's hours, as Vega-Lite specifications in plain values.

One :class:`Chart` holds what is to be seen; :func:`spec` makes of it the specification for a
:class:`Sheet`: a width, a size of type and a light. Pages and paper draw the same specification,
with other values of its parameters. Places of labels are worked out here, because nothing may
lie on top of anything else. Line styles differ by dash and status by shape, so a chart reads in
grey; what a colour is called is in :data:`PALETTES`, after the page's own tokens.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from rehang.trade.drawn.chart_looks import ARROW, CIRCLE, FONT, LOOKS, PALETTES
from rehang.trade.drawn.chart_values import (
    LEAST_FOR_USUAL,
    Chart,
    ChartLimit,
    ChartMark,
    Fan,
    Sheet,
    openings,
)
from rehang.trade.terms.errors import BadInput

__all__ = ["column_edges", "column_shares", "spec"]

SCHEMA = "https://vega.github.io/schema/vega-lite/v6.json"


@dataclass(frozen=True, slots=True)
class _Box:
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

    def x(self, hours: float) -> float:
        return (hours - self.x0) / (self.x1 - self.x0) * self.width

    def y(self, value: float) -> float:
        if self.log:
            share = math.log(value / self.y0) / math.log(self.y1 / self.y0)
        else:
            share = (value - self.y0) / (self.y1 - self.y0)
        return self.height * (1 - share)

    def hours(self, x: float) -> float:
        """The hours at a place across."""
        return self.x0 + x / self.width * (self.x1 - self.x0)

    def at(self, y: float) -> float:
        """The value at a height."""
        share = 1 - y / self.height
        if self.log:
            return float(self.y0 * (self.y1 / self.y0) ** share)
        return self.y0 + share * (self.y1 - self.y0)

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


# Scales


def _box(chart: Chart, sheet: Sheet) -> _Box:
    hours = openings(chart)
    if not hours:
        raise BadInput(f"{chart.title} of {chart.name} has no reading yet, so there is no chart.")
    s = sheet.scale
    shared = bool(column_shares(chart, sheet))
    low, high = _reach(chart)
    is_over = any(mark.value is None for mark in chart.marks) or (
        chart.other is not None and chart.other.opened is not None
    )
    top = 40 * s
    bottom = 12 * s
    if not shared:
        bottom += 30 * s
    if chart.breaks:
        bottom += 30 * s
    ticks = _ticks(low, high, log=chart.log)
    wide = max(len(chart.show(t)) for t in ticks) * sheet.text * 0.6 if ticks else 30 * s
    left = float(sheet.head) if shared else max(wide + 14 * s, 34 * s)
    edges = column_edges(hours)
    right = 2.0 * s
    plot = sheet.width - left - right
    if not shared:
        # The hours need no table's columns: the plot is used to its ends, with room for the last
        # mark's number.
        number = max(len(words) for words in _end_words(chart))
        before, after = 24 * s, 24 * s + number * sheet.text * 0.72
        each = ((hours[-1] - hours[0]) or 100) / (plot - before - after)
        edges = (hours[0] - before * each, hours[-1] + after * each)
    height = sheet.height - top - bottom
    # An open circuit stands at the top, above every number.
    over = 20 * s
    if is_over:
        share = 44 * s / height
        high = high * (high / low) ** share if chart.log else high + (high - low) * share
    return _Box(
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
    )


def _end_words(chart: Chart) -> list[str]:
    """The numbers that may stand behind the last opening."""
    if chart.fan is not None and chart.fan.bands.get(80):
        end = chart.fan.bands[80][-1]
        return [chart.show(end.low), chart.show(end.high)]
    return [mark.text for mark in chart.marks[-1:]]


def _reach(chart: Chart) -> tuple[float, float]:
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
    # The words of a lower limit stand below its line.
    floor = low - (0.2 if any(not limit.upper for limit in chart.limits) else 0.1) * span
    return (max(floor, 0.0) if low >= 0 else floor), high + 0.16 * span


def _ticks(low: float, high: float, *, log: bool) -> list[float]:
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


# The specification


def spec(chart: Chart, sheet: Sheet) -> dict[str, Any]:
    """The chart as one Vega-Lite specification for a sheet.

    Raises
    ------
    BadInput
        The chart has no reading, or there is no such light.
    """
    if sheet.mode not in PALETTES:
        raise BadInput(f'There is no light "{sheet.mode}" here. Use {", ".join(PALETTES)}.')
    box = _box(chart, sheet)
    draw = _Drawing(chart, sheet, box)
    layers = draw.layers()
    palette = PALETTES[sheet.mode]
    return {
        "$schema": SCHEMA,
        "description": chart.sentence,
        "width": round(box.width, 1),
        "height": round(box.height, 1),
        "padding": {
            "left": round(box.left, 1),
            "top": round(box.top, 1),
            "right": round(box.right_pad, 1),
            "bottom": round(box.bottom_pad, 1),
        },
        "autosize": {"type": "none"},
        "params": [
            {"name": token.replace("-", "_"), "value": colour} for token, colour in palette.items()
        ],
        "config": {
            "background": None,
            "view": {"stroke": None},
            "font": FONT,
            "text": {"fontSize": sheet.text},
            "customFormatTypes": False,
        },
        "layer": layers,
    }


def _expr(token: str) -> dict[str, str]:
    return {"expr": token.replace("-", "_")}


Rect = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class _Label:
    """Words at a place in the plot; ``y`` is the middle of the letters."""

    text: str
    x: float
    y: float
    align: str = "left"
    role: str = "ink2"
    weight: int = 500
    size: float = 1.0
    part: str = "labels"


class _Drawing:
    """The layers of one chart on one sheet, and what is taken up by them.

    Layers are asked for from the back to the front; each says which places it takes. Labels that
    may stand in one of several places are put down last, in the order they were wanted.
    """

    def __init__(self, chart: Chart, sheet: Sheet, box: _Box) -> None:
        self.chart = chart
        self.box = box
        self.s = sheet.scale
        self.text = float(sheet.text)
        self.shared = bool(column_shares(chart, sheet))
        self.taken: list[Rect] = []
        self.labels: list[_Label] = []
        self.wanted: list[tuple[int, list[_Label], bool]] = []

    def layers(self) -> list[dict[str, Any]]:
        found = [*self._frame(), *self._fellows(), *self._usual(), *self._close(), *self._fan()]
        found += [*self._limits(), *self._other(), *self._lines(), *self._bars(), *self._points()]
        found += self._breaks()
        self._place()
        return [*found, *self._texts()]

    # What every layer is made of

    def _x(self, field: str = "x") -> dict[str, Any]:
        scale = {"domain": [self.box.x0, self.box.x1], "nice": False, "zero": False}
        return {"field": field, "type": "quantitative", "scale": scale, "axis": None}

    def _y(self, field: str = "y") -> dict[str, Any]:
        scale: dict[str, Any] = {
            "type": "log" if self.box.log else "linear",
            "domain": [self.box.y0, self.box.y1],
            "nice": False,
        }
        if not self.box.log:
            scale["zero"] = False
        return {"field": field, "type": "quantitative", "scale": scale, "axis": None}

    def _layer(
        self,
        name: str,
        values: Sequence[Mapping[str, Any]],
        mark: Mapping[str, Any],
        encoding: Mapping[str, Any] | None = None,
    ) -> dict[str, Any]:
        return {
            "name": name,
            "data": {"values": [dict(v) for v in values]},
            "mark": {"aria": False, **mark},
            "encoding": dict(encoding or {"x": self._x(), "y": self._y()}),
        }

    def _rule(
        self, name: str, values: Sequence[Mapping[str, Any]], ink: str, width: float, **more: Any
    ) -> dict[str, Any]:
        mark = {"type": "rule", "stroke": _expr(ink), "strokeWidth": width * self.s, **more}
        encoding = {"x": self._x(), "y": self._y()}
        if values and "x2" in values[0]:
            encoding["x2"] = {"field": "x2"}
        if values and "y2" in values[0]:
            encoding["y2"] = {"field": "y2"}
        return self._layer(name, values, mark, encoding)

    def _wide(self, label: _Label) -> float:
        each = 0.6 if label.weight >= 600 else 0.56
        return len(label.text) * self.text * label.size * each

    def _rect(self, label: _Label) -> Rect:
        wide, half = self._wide(label), self.text * label.size * 0.62
        left = {"left": label.x, "right": label.x - wide, "center": label.x - wide / 2}
        return (left[label.align], label.y - half, left[label.align] + wide, label.y + half)

    def _take(self, x0: float, y0: float, x1: float, y1: float) -> None:
        self.taken.append((min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)))

    def _take_line(self, x0: float, y0: float, x1: float, y1: float) -> None:
        """A sloping line takes up the squares along it."""
        steps = max(int(max(abs(x1 - x0), abs(y1 - y0)) / (8 * self.s)), 1)
        for step in range(steps):
            a, b = step / steps, (step + 1) / steps
            self._take(
                x0 + (x1 - x0) * a, y0 + (y1 - y0) * a, x0 + (x1 - x0) * b, y0 + (y1 - y0) * b
            )

    def _want(self, *places: _Label, rank: int = 9, needed: bool = False) -> None:
        """Words that may stand in any of these places; a low rank picks first."""
        self.wanted.append((rank, list(places), needed))

    def _place(self) -> None:
        """Each wanted label goes to its first place that is free and inside the sheet."""
        for _, places, needed in sorted(self.wanted, key=lambda one: one[0]):
            free = [one for one in places if self._overlap(self._rect(one)) == 0.0]
            if free:
                best = free[0]
            elif needed:
                best = min(places, key=lambda one: self._overlap(self._rect(one)))
            else:
                continue
            self.labels.append(best)
            self.taken.append(self._rect(best))

    def _overlap(self, rect: Rect) -> float:
        """How much of a place is taken already or lies outside the sheet."""
        x0, y0, x1, y1 = rect
        area = 0.0
        for a0, b0, a1, b1 in self.taken:
            # A line has no width of its own; it must still be seen.
            wide = min(x1, a1 + 1) - max(x0, a0 - 1)
            high = min(y1, b1 + 1) - max(y0, b0 - 1)
            area += wide * high if wide > 0 and high > 0 else 0.0
        box = self.box
        out_x = max(-box.left - x0, 0.0) + max(x1 - box.width - box.right_pad, 0.0)
        out_y = max(2 * self.s - y0, 0.0) + max(y1 - box.height, 0.0)
        return area + out_x * (y1 - y0) * 8 + out_y * (x1 - x0)

    def _texts(self) -> list[dict[str, Any]]:
        """All words, each kind in a layer of its own, cased in paper so that lines pass behind."""
        found = []
        kinds: dict[tuple[str, str, str, int, float], list[_Label]] = {}
        for label in self.labels:
            key = (label.part, label.align, label.role, label.weight, label.size)
            kinds.setdefault(key, []).append(label)
        position = {
            "x": {"field": "px", "type": "quantitative", "scale": None, "axis": None},
            "y": {"field": "py", "type": "quantitative", "scale": None, "axis": None},
            "text": {"field": "text", "type": "nominal"},
        }
        for number, ((part, align, role, weight, size), held) in enumerate(kinds.items()):
            values = [{"px": round(o.x, 1), "py": round(o.y, 1), "text": o.text} for o in held]
            words = {
                "type": "text",
                "align": align,
                "baseline": "middle",
                "fontSize": round(self.text * size, 1),
                "fontWeight": weight,
            }
            case = {"stroke": _expr("paper"), "strokeWidth": 5 * self.s, "fill": _expr("paper")}
            round_case = {"strokeJoin": "round"}
            found.append(
                self._layer(f"{part}_case_{number}", values, words | case | round_case, position)
            )
            found.append(
                self._layer(f"{part}_{number}", values, {**words, "fill": _expr(role)}, position)
            )
        return found

    # Layers, from the back to the front

    def _frame(self) -> list[dict[str, Any]]:
        """Grid lines with their values, the base line, and the hours where no table has them."""
        chart, box, s = self.chart, self.box, self.s
        ticks = [t for t in _ticks(box.y0, box.y1, log=box.log) if box.y(t) > 8 * s]
        for tick in ticks:
            self.labels.append(_Label(chart.show(tick), -10 * s, box.y(tick), "right"))
        words = f"{chart.title}, {chart.unit}" if chart.unit else chart.title
        top = -box.top + 12 * s
        title = _Label(words, -box.left, top, role="ink", weight=700)
        self.labels.append(title)
        note = _Label(chart.note, -box.left + self._wide(title) + 12 * s, top)
        if chart.note and self._rect(note)[2] < box.width:
            self.labels.append(note)
        if not self.shared:
            self._hours()
        ends = {"x": box.x0, "x2": box.x1}
        notches = [{"px": -5 * s, "px2": 2 * s, "py": round(box.y(t), 2)} for t in ticks]
        notch = {"type": "rule", "stroke": _expr("ink2"), "strokeWidth": 2 * s}
        pixel = {"type": "quantitative", "scale": None, "axis": None}
        places = {
            "x": {"field": "px", **pixel}, "x2": {"field": "px2"}, "y": {"field": "py", **pixel},
        }  # fmt: skip
        return [
            self._rule("grid", [{"y": t, **ends} for t in ticks], "steel", 2),
            self._layer("ticks", notches, notch, places),
            self._rule("base", [{"y": box.y0, **ends}], "ink", 2),
        ]

    def _hours(self) -> None:
        """The hours of each opening under the base line, as far as there is room."""
        box, s = self.box, self.s
        kept: list[_Label] = []
        # The last is always written; the others give way to it.
        for one in reversed(openings(self.chart)):
            unit = " h" if not kept else ""
            words = self.chart.x_words.get(one, f"{one:,.0f}{unit}")
            label = _Label(words, box.x(one), box.height + 18 * s, "center")
            if not kept or self._rect(label)[2] < self._rect(kept[-1])[0] - 10 * s:
                kept.append(label)
        self.labels += kept

    def _fellows(self) -> list[dict[str, Any]]:
        bands, box, s = self.chart.fellows, self.box, self.s
        if len(bands) < 2:
            return []
        held = [(b.hours, box.held(b.low), box.held(b.high)) for b in bands]
        if self.chart.fellows_words:
            last = held[-1]
            low, high, x = box.y(last[1]), box.y(last[2]), box.x(last[0])
            words = self.chart.fellows_words
            self._want(
                _Label(words, x - 8 * s, (low + high) / 2, "right"),
                _Label(words, x - 8 * s, low - 12 * s, "right"),
                _Label(words, x + 8 * s, (low + high) / 2, "left"),
                _Label(words, x - 8 * s, low + 14 * s, "right"),
                _Label(words, box.x(held[0][0]) + 20 * s, box.y(held[0][1]) + 16 * s, "left"),
            )
        mark = {"type": "area", "fill": _expr("steel"), "fillOpacity": 1}
        values = [{"x": x, "y": low, "y2": high} for x, low, high in held]
        encoding = {"x": self._x(), "y": self._y(), "y2": {"field": "y2"}}
        # In black alone the fill is gone, and the dotted edges say where it was.
        edge = {"type": "line", "stroke": _expr("line"), "strokeWidth": 1.5 * s}
        edges = [
            {"x": x, "y": value, "edge": name}
            for x, low, high in held
            for name, value in (("low", low), ("high", high))
        ]
        lines = {
            "x": self._x(), "y": self._y(), "detail": {"field": "edge", "type": "nominal"},
        }  # fmt: skip
        return [
            self._layer("fellows", values, mark, encoding),
            self._layer("fellows_edges", edges, {**edge, "strokeDash": [1.5 * s, 4 * s]}, lines),
        ]

    def _usual(self) -> list[dict[str, Any]]:
        usual, box, s = self.chart.usual, self.box, self.s
        if usual is None or usual.count < LEAST_FOR_USUAL:
            return []
        ends = {"x": box.x0, "x2": box.x1}
        values = [{"y": v, **ends} for v in (usual.low, usual.high) if box.y0 <= v <= box.y1]
        if not values:
            return []
        words = "usual in this shop"
        y = box.y(values[-1]["y"])
        self._want(
            *(
                _Label(words, x, y + side, align)
                for side in (-12 * s, 13 * s)
                for x, align in ((box.width - 4 * s, "right"), (8 * s, "left"))
            )
        )
        for value in values:
            self._take(0, box.y(value["y"]), box.width, box.y(value["y"]))
        return [self._rule("usual", values, "ink2", 1.5, strokeDash=[10 * s, 6 * s])]

    def _close(self) -> list[dict[str, Any]]:
        """The values that the meter in use calls CLOSE CALL; hatched when it is drawn."""
        box, s = self.box, self.s
        tall_ones: list[dict[str, Any]] = []
        thin_ones: list[dict[str, Any]] = []
        for one in self.chart.close:
            low, high = box.held(one.low), box.held(one.high)
            if box.y(low) - box.y(high) < 9 * s:
                # Thinner than the limit's own line it could not be seen: nine pixels stand for it.
                middle = box.y((low * high) ** 0.5 if box.log else (low + high) / 2)
                low, high = box.at(middle + 4.5 * s), box.at(middle - 4.5 * s)
            x = max(one.since, box.x0)
            x2 = min(one.until, box.x1)
            tall = box.y(low) - box.y(high)
            if tall > 30 * s:
                # A tall band stands beside its reading and leaves the bar free.
                beside = [m.hours for m in self.chart.marks if x <= m.hours <= x2]
                if beside:
                    right = box.x(min(beside)) - 18 * s
                    left = min(max(box.x(x), right - 60 * s), right - 12 * s)
                    x, x2 = box.hours(left), box.hours(right)
            # Hatch turns to mud in a thin band.
            rows = tall_ones if tall > 12 * s else thin_ones
            rows.append({"x": x, "x2": x2, "y": low, "y2": high})
            if tall > 30 * s:
                self._take(box.x(x), box.y(low), box.x(x2), box.y(high))
                middle = (box.x(x) + box.x(x2)) / 2
                self._want(
                    _Label("close call", middle, box.y(low) + 14 * s, "center"),
                    _Label("close call", middle, box.y(high) - 14 * s, "center"),
                )
        mark = {
            "type": "rect",
            "fill": _expr("close-fill"),
            "stroke": _expr("ink"),
            "strokeWidth": 1.5 * s,
        }
        encoding = {
            "x": self._x(), "x2": {"field": "x2"}, "y": self._y(), "y2": {"field": "y2"},
        }  # fmt: skip
        thin = {**mark, "strokeWidth": 0}
        return [
            self._layer(name, rows, look, encoding)
            for name, rows, look in (("close", tall_ones, mark), ("close_thin", thin_ones, thin))
            if rows
        ]

    def _fan(self) -> list[dict[str, Any]]:
        fan, box, s = self.chart.fan, self.box, self.s
        if fan is None:
            return []
        found = []
        looks = {
            90: ("paper", 1.2, [2 * s, 3 * s]),
            80: ("bench", 1.5, [6 * s, 4 * s]),
            50: ("wait-fill", 1.5, []),
        }
        for chance, (fill, width, dash) in looks.items():
            bands = fan.bands.get(chance, ())
            if len(bands) < 2:
                continue
            held = [(b.hours, box.held(b.low), box.held(b.high)) for b in bands]
            outline = [
                *((x, low) for x, low, _ in held),
                *((x, high) for x, _, high in reversed(held)),
            ]
            values = [{"x": x, "y": y, "n": n} for n, (x, y) in enumerate([*outline, outline[0]])]
            mark = {
                "type": "line",
                "interpolate": "linear-closed",
                "fill": _expr(fill),
                "stroke": _expr("ink"),
                "strokeWidth": width * s,
                "strokeDash": dash,
            }
            encoding = {
                "x": self._x(), "y": self._y(), "order": {"field": "n", "type": "quantitative"},
            }  # fmt: skip
            found.append(self._layer(f"fan{chance}", values, mark, encoding))
        middle = [{"x": x, "y": box.held(v)} for x, v in fan.middle]
        mark = {
            "type": "line",
            "stroke": _expr("ink"),
            "strokeWidth": 3 * s,
            "strokeDash": [8 * s, 5 * s],
        }
        found.append(self._layer("fan_middle", middle, mark))
        self._fan_words(fan)
        return found

    def _fan_words(self, fan: Fan) -> None:
        """The end of the forecast written out: the middle, and where eight in ten lie."""
        box, s = self.box, self.s
        bands = fan.bands.get(80, ())
        if not bands or not fan.middle:
            return
        end = bands[-1]
        x = box.x(end.hours) + 10 * s
        self._take(
            box.x(bands[0].hours),
            box.y(box.held(bands[0].low)),
            box.x(bands[0].hours),
            box.y(box.held(bands[0].high)),
        )
        for a, b in pairwise(bands):
            for from_, to in ((a.low, b.low), (a.high, b.high)):
                start, stop = box.y(box.held(from_)), box.y(box.held(to))
                self._take_line(box.x(a.hours), start, box.x(b.hours), stop)
        middle = fan.middle[-1][1]
        rows = [
            (end.high, self.chart.show(end.high), "ink2", 500),
            (middle, self.chart.show(middle), "ink", 700),
            (end.low, self.chart.show(end.low), "ink2", 500),
        ]
        # Numbers keep a line's height between them, however narrow the fan is.
        heights = [box.y(box.held(value)) for value, *_ in rows]
        line = 22 * s
        heights[0] = min(heights[0], heights[1] - line)
        heights[2] = max(heights[2], heights[1] + line)
        for y, (_, words, role, weight) in zip(heights, rows, strict=True):
            self._want(_Label(words, x, y, "left", role, weight), rank=0, needed=True)
        top = min(heights[0], box.y(box.held(end.high)))
        self._want(
            _Label("8 in 10", box.x(end.hours), top - 20 * s, "center"),
            _Label("8 in 10", box.x(end.hours) - 8 * s, top - 20 * s, "right"),
            _Label("8 in 10", box.x(end.hours), heights[2] + 24 * s, "center"),
        )

    def _limits(self) -> list[dict[str, Any]]:
        box, s = self.box, self.s
        ends = {"x": box.x0, "x2": box.x1}
        values = [{"y": limit.value, **ends} for limit in self.chart.limits]
        for limit in self.chart.limits:
            y = box.y(limit.value)
            self._take(0, y - 2 * s, box.width, y + 2 * s)
            self._limit_words(limit, y)
        return [self._rule("limit", values, "ink", 3)] if values else []

    def _limit_words(self, limit: ChartLimit, y: float) -> None:
        """Along its line, above an upper bound and below a lower one, wherever it is free.

        Where both do not fit in one line, who says so stands on the other side of the line or
        is left to the words beside the chart.
        """
        box, s = self.box, self.s
        first = -14 * s if limit.upper else 15 * s
        both = f"{limit.words}, {limit.source}" if limit.source else limit.words
        ink: dict[str, Any] = {"role": "ink", "weight": 700}
        if self._wide(_Label(both, 0, 0, **ink)) <= box.width - 12 * s:
            self._want(*self._along(both, y, (first, -first), **ink), rank=2, needed=True)
            return
        self._want(*self._along(limit.words, y, (first, -first), **ink), rank=2, needed=True)
        if limit.source:
            rows = (-first, first, first * 2.6)
            self._want(*self._along(limit.source, y, rows, role="ink2"), rank=3)

    def _along(self, words: str, y: float, rows: Sequence[float], **look: Any) -> list[_Label]:
        """Places for words along a line, from the left."""
        box, s = self.box, self.s
        step = box.width / 12
        return [
            *(
                _Label(words, 8 * s + n * step, y + row, "left", **look)
                for row in rows
                for n in range(12)
            ),
            *(_Label(words, box.width - 6 * s, y + row, "right", **look) for row in rows),
        ]

    def _other(self) -> list[dict[str, Any]]:
        other, box, s = self.chart.other, self.box, self.s
        if other is None or not other.values:
            return []
        values = [{"x": x, "y": box.held(y)} for x, y in other.values]
        for (xa, ya), (xb, yb) in pairwise(other.values):
            self._take_line(box.x(xa), box.y(box.held(ya)), box.x(xb), box.y(box.held(yb)))
        mark = {"type": "line", "stroke": _expr("line"), "strokeWidth": 2 * s}
        found = [self._layer("other", values, mark)]
        last_x, last_y = box.x(other.values[-1][0]), box.y(box.held(other.values[-1][1]))
        words = other.name
        if other.opened is not None:
            x, y = box.x(other.opened), box.over
            # It ends short of its opening, so that it does not stand under this part's own mark.
            x = last_x + (x - last_x) * 0.42
            found.append(
                self._layer(
                    "other_open",
                    [{"x": other.values[-1][0], "y": box.held(other.values[-1][1])},
                     {"x": box.hours(x), "y": box.at(y)}],
                    {**mark, "strokeDash": [4 * s, 4 * s]},
                )
            )  # fmt: skip
            self._take_line(last_x, last_y, x, y)
            found.append(
                self._shape(
                    "other_arrow", [{"px": x, "py": y}], ARROW, 11, fill="line", pixels=True
                )
            )
            last_x, last_y = x, y
            words = f"{other.name}, open today"
        found.append(
            self._shape(
                "other_points",
                values[:-1] if other.opened is None else values,
                CIRCLE,
                9,
                fill="paper",
                stroke="line",
                width=2,
            )
        )
        self._want(
            _Label(words, last_x - 14 * s, last_y + 4 * s, "right"),
            _Label(words, last_x + 14 * s, last_y + 4 * s, "left"),
            _Label(words, last_x - 14 * s, last_y - 18 * s, "right"),
        )
        return found

    def _lines(self) -> list[dict[str, Any]]:
        """Readings of one segment are joined; across a break they are not."""
        box, s = self.box, self.s
        found = []
        segments: dict[int, list[ChartMark]] = {}
        for mark in self.chart.marks:
            if mark.call not in ("void", "aside"):
                segments.setdefault(mark.segment, []).append(mark)
        solid: list[dict[str, Any]] = []
        dashed: list[dict[str, Any]] = []
        for number, marks in sorted(segments.items()):
            for a, b in pairwise(marks):
                if a.value is None:
                    continue
                end = box.at(box.over) if b.value is None else box.held(b.value)
                rows = solid if b.value is not None else dashed
                key = f"{number}-{len(solid) + len(dashed)}"
                rows += [
                    {"x": a.hours, "y": box.held(a.value), "segment": key},
                    {"x": b.hours, "y": end, "segment": key},
                ]
                self._take_line(
                    box.x(a.hours), box.y(box.held(a.value)), box.x(b.hours), box.y(end)
                )
        for name, rows, dash in (("line", solid, []), ("line_open", dashed, [8 * s, 5 * s])):
            if not rows:
                continue
            mark_def = {
                "type": "line",
                "stroke": _expr("ink"),
                "strokeWidth": 3 * s,
                "strokeDash": dash,
            }
            encoding = {
                "x": self._x(), "y": self._y(), "detail": {"field": "segment", "type": "nominal"},
            }  # fmt: skip
            found.append(self._layer(name, rows, mark_def, encoding))
        return found

    def _bars(self) -> list[dict[str, Any]]:
        """What the meter can tell at each reading, with its ends written out where it is long."""
        box, s = self.box, self.s
        bars, ends = [], []
        last = self._last()
        for mark in self.chart.marks:
            if mark.low is None or mark.high is None or mark.call == "aside":
                continue
            x = box.x(mark.hours)
            low, high = box.y(box.held(mark.low)), box.y(box.held(mark.high))
            bars.append({"x": mark.hours, "y": box.held(mark.low), "y2": box.held(mark.high)})
            self._take(x - 4 * s, high, x + 4 * s, low)
            for value, y in ((mark.low, low), (mark.high, high)):
                # An end outside the plot is cut off and has no cap; nor has one behind its mark.
                if box.y0 <= value <= box.y1 and low - high > 18 * s:
                    ends.append({"px": x - 8 * s, "px2": x + 8 * s, "py": y})
            if mark is last and low - high > 70 * s:
                for value, y in ((mark.low, low), (mark.high, high)):
                    words = self.chart.show(value)
                    self._want(
                        _Label(words, x + 16 * s, y, "left"), _Label(words, x - 16 * s, y, "right")
                    )
        if not bars:
            return []
        pixel = {"type": "quantitative", "scale": None, "axis": None}
        caps = {"type": "rule", "stroke": _expr("ink"), "strokeWidth": 3 * s}
        encoding = {
            "x": {"field": "px", **pixel}, "x2": {"field": "px2"}, "y": {"field": "py", **pixel},
        }  # fmt: skip
        found = [self._rule("bars", bars, "ink", 2.5)]
        if ends:
            found.append(self._layer("bar_ends", ends, caps, encoding))
        return found

    def _last(self) -> ChartMark | None:
        found = [m for m in self.chart.marks if not m.left and m.call not in ("void", "aside")]
        return found[-1] if found else None

    def _shape(
        self,
        name: str,
        values: Sequence[Mapping[str, Any]],
        shape: str,
        across: float,
        *,
        fill: str = "",
        stroke: str = "",
        width: float = 0.0,
        dash: Sequence[float] = (),
        pixels: bool = False,
    ) -> dict[str, Any]:
        """One shape at each value, so many pixels across."""
        mark: dict[str, Any] = {
            "type": "point",
            "shape": shape,
            "size": round((across * self.s) ** 2, 1),
            "opacity": 1,
            "filled": False,
            "fill": _expr(fill) if fill else "transparent",
            "stroke": _expr(stroke) if stroke else "transparent",
            "strokeWidth": width * self.s,
            "strokeCap": "round",
        }
        if dash:
            mark["strokeDash"] = [one * self.s for one in dash]
        if not pixels:
            return self._layer(name, values, mark)
        pixel = {"type": "quantitative", "scale": None, "axis": None}
        encoding = {"x": {"field": "px", **pixel}, "y": {"field": "py", **pixel}}
        return self._layer(name, values, mark, encoding)

    def _points(self) -> list[dict[str, Any]]:
        """A reading's status as a shape; the last value written out beside it."""
        box, s = self.box, self.s
        at: dict[str, list[dict[str, Any]]] = {}
        halo = []
        last = self._last()
        for mark in self.chart.marks:
            y = box.over if mark.value is None else box.y(box.held(mark.value))
            x = box.x(mark.hours)
            place = {"px": round(x, 2), "py": round(y, 2), "key": mark.key, "words": mark.words}
            if mark.call == "aside":
                # Beside the reading that stands for it, so that both are seen.
                x -= 20 * s
                place["px"] = round(x, 2)
            if mark.left:
                at.setdefault("left", []).append(place)
                self._take(x - 7 * s, y - 7 * s, x + 7 * s, y + 7 * s)
                continue
            at.setdefault(mark.call or "plain", []).append(place)
            if mark is last and mark.call:
                halo.append(place)
            half = (14 if mark.call else 8) * s
            self._take(x - half, y - half, x + half, y + half)
        self._value_words()
        found = []
        if "left" in at:
            found.append(
                self._shape(
                    "left",
                    at.pop("left"),
                    CIRCLE,
                    10,
                    fill="paper",
                    stroke="ink",
                    width=2.5,
                    pixels=True,
                )
            )
        if halo:
            found.append(self._shape("point_halo", halo, CIRCLE, 32, fill="paper", pixels=True))
        for call, places in at.items():
            for name, look in LOOKS[call]:
                found.append(
                    self._shape(f"{name}_{call.replace('-', '_')}", places, pixels=True, **look)
                )
        return found

    def _value_words(self) -> None:
        box, s = self.box, self.s
        last = self._last()
        for mark in self.chart.marks:
            if mark is not last and mark.value is not None:
                continue
            y = box.over if mark.value is None else box.y(box.held(mark.value))
            x = box.x(mark.hours)
            look: dict[str, Any] = {"role": "ink", "weight": 700, "size": 1.2}
            self._want(
                _Label(mark.text, x + 20 * s, y, "left", **look),
                _Label(mark.text, x + 18 * s, y + 26 * s, "left", **look),
                _Label(mark.text, x + 18 * s, y - 26 * s, "left", **look),
                _Label(mark.text, x - 20 * s, y, "right", **look),
                _Label(mark.text, x - 18 * s, y + 26 * s, "right", **look),
                _Label(mark.text, x - 18 * s, y - 26 * s, "right", **look),
                rank=1,
                needed=True,
            )

    def _breaks(self) -> list[dict[str, Any]]:
        """A tick under the base line at each break, with its words as far as there is room."""
        box, s = self.box, self.s
        if not self.chart.breaks:
            return []
        down = 0 if self.shared else 28 * s
        ticks = []
        end = -1e9
        for one in sorted(self.chart.breaks, key=lambda b: b.hours):
            x = box.x(one.hours)
            ticks.append({"px": x, "py": box.height, "py2": box.height + 9 * s})
            label = _Label(one.words, x, box.height + 20 * s + down, "center", part="break_labels")
            left, _, right, _ = self._rect(label)
            if left < -box.left:
                label = _Label(one.words, x - 6 * s, label.y, "left", part="break_labels")
                left, _, right, _ = self._rect(label)
            if right > box.width + box.right_pad:
                label = _Label(one.words, box.width, label.y, "right", part="break_labels")
                left, _, right, _ = self._rect(label)
            if left > end + 8 * s:
                self.labels.append(label)
                end = right
        pixel = {"type": "quantitative", "scale": None, "axis": None}
        encoding = {
            "x": {"field": "px", **pixel}, "y": {"field": "py", **pixel}, "y2": {"field": "py2"},
        }  # fmt: skip
        mark = {"type": "rule", "stroke": _expr("ink"), "strokeWidth": 4 * s}
        return [self._layer("breaks", ticks, mark, encoding)]
