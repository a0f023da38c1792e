"""What the layers of a chart are drawn on: scales, marks, and words that lie on top of nothing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from rehang.trade.drawn.chart_box import Box, column_shares
from rehang.trade.drawn.chart_values import (
    Chart,
    ChartMark,
    Sheet,
)

__all__ = ["Canvas", "Label", "coloured"]


def coloured(token: str) -> dict[str, str]:
    return {"expr": token.replace("-", "_")}


Rect = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Label:
    """Words at a place in the plot; ``y`` is the middle of the letters."""

    text: str
    x: float
    y: float
    align: str = "left"
    role: str = "ink2"
    weight: int = 500
    size: float = 1.0
    part: str = "labels"


class Canvas:
    """One chart on one sheet, and what is taken up of it.

    Each layer says which places it takes. Words that may stand in one of several places are put
    down last, in the order they were wanted.
    """

    def __init__(self, chart: Chart, sheet: Sheet, box: Box) -> None:
        self.chart = chart
        self.box = box
        self.s = sheet.scale
        self.text = float(sheet.text)
        self.shared = bool(column_shares(chart, sheet))
        self.taken: list[Rect] = []
        self.labels: list[Label] = []
        self.wanted: list[tuple[int, list[Label], bool]] = []

    def x(self, field: str = "x") -> dict[str, Any]:
        scale = {"domain": [self.box.x0, self.box.x1], "nice": False, "zero": False}
        return {"field": field, "type": "quantitative", "scale": scale, "axis": None}

    def y(self, field: str = "y") -> dict[str, Any]:
        scale: dict[str, Any] = {
            "type": "log" if self.box.log else "linear",
            "domain": [self.box.y0, self.box.y1],
            "nice": False,
        }
        if not self.box.log:
            scale["zero"] = False
        return {"field": field, "type": "quantitative", "scale": scale, "axis": None}

    def layer(
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
            "encoding": dict(encoding or {"x": self.x(), "y": self.y()}),
        }

    def rule(
        self, name: str, values: Sequence[Mapping[str, Any]], ink: str, width: float, **more: Any
    ) -> dict[str, Any]:
        mark = {"type": "rule", "stroke": coloured(ink), "strokeWidth": width * self.s, **more}
        encoding = {"x": self.x(), "y": self.y()}
        if values and "x2" in values[0]:
            encoding["x2"] = {"field": "x2"}
        if values and "y2" in values[0]:
            encoding["y2"] = {"field": "y2"}
        return self.layer(name, values, mark, encoding)

    def wide(self, label: Label) -> float:
        each = 0.6 if label.weight >= 600 else 0.56
        return len(label.text) * self.text * label.size * each

    def rect(self, label: Label) -> Rect:
        wide, half = self.wide(label), self.text * label.size * 0.62
        left = {"left": label.x, "right": label.x - wide, "center": label.x - wide / 2}
        return (left[label.align], label.y - half, left[label.align] + wide, label.y + half)

    def take(self, x0: float, y0: float, x1: float, y1: float) -> None:
        self.taken.append((min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)))

    def take_line(self, x0: float, y0: float, x1: float, y1: float) -> None:
        """A sloping line takes up the squares along it."""
        steps = max(int(max(abs(x1 - x0), abs(y1 - y0)) / (8 * self.s)), 1)
        for step in range(steps):
            a, b = step / steps, (step + 1) / steps
            self.take(
                x0 + (x1 - x0) * a, y0 + (y1 - y0) * a, x0 + (x1 - x0) * b, y0 + (y1 - y0) * b
            )

    def want(self, *places: Label, rank: int = 9, needed: bool = False) -> None:
        """Words that may stand in any of these places; a low rank picks first."""
        self.wanted.append((rank, list(places), needed))

    def place(self) -> None:
        """Each wanted label goes to its first place that is free and inside the sheet."""
        for _, places, needed in sorted(self.wanted, key=lambda one: one[0]):
            free = [one for one in places if self.overlap(self.rect(one)) == 0.0]
            if free:
                best = free[0]
            elif needed:
                best = min(places, key=lambda one: self.overlap(self.rect(one)))
            else:
                continue
            self.labels.append(best)
            self.taken.append(self.rect(best))

    def overlap(self, rect: Rect) -> float:
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

    def texts(self) -> list[dict[str, Any]]:
        """All words, each kind in a layer of its own, cased in paper so that lines pass behind."""
        found = []
        kinds: dict[tuple[str, str, str, int, float], list[Label]] = {}
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
            case = {
                "stroke": coloured("paper"),
                "strokeWidth": 5 * self.s,
                "fill": coloured("paper"),
            }
            round_case = {"strokeJoin": "round"}
            found.append(
                self.layer(f"{part}_case_{number}", values, words | case | round_case, position)
            )
            found.append(
                self.layer(f"{part}_{number}", values, {**words, "fill": coloured(role)}, position)
            )
        return found

    def shape(
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
            "fill": coloured(fill) if fill else "transparent",
            "stroke": coloured(stroke) if stroke else "transparent",
            "strokeWidth": width * self.s,
            "strokeCap": "round",
        }
        if dash:
            mark["strokeDash"] = [one * self.s for one in dash]
        if not pixels:
            return self.layer(name, values, mark)
        pixel = {"type": "quantitative", "scale": None, "axis": None}
        encoding = {"x": {"field": "px", **pixel}, "y": {"field": "py", **pixel}}
        return self.layer(name, values, mark, encoding)

    def last(self) -> ChartMark | None:
        found = [m for m in self.chart.marks if not m.left and m.call not in ("void", "aside")]
        return found[-1] if found else None
