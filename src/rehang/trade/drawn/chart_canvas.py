"""What a chart is drawn on: strokes, marks, and words that lie on top of nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rehang.trade.drawn.chart_box import Box, column_shares
from rehang.trade.drawn.chart_looks import Look
from rehang.trade.drawn.chart_values import Chart, ChartMark, Sheet

__all__ = ["Canvas", "Label", "Shape", "Stroke"]

Rect = tuple[float, float, float, float]
Place = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line through places of the plot, in pixels; closed, it is a field.

    ``part`` is what a reader of the drawing can ask for by name, empty for the grid and the axes.
    """

    part: str
    places: tuple[Place, ...]
    stroke: str = ""
    width: float = 0.0
    dash: tuple[float, ...] = ()
    fill: str = ""
    is_hatched: bool = False


@dataclass(frozen=True, slots=True)
class Shape:
    """A mark at a place; ``words`` say the reading that ``key`` names."""

    part: str
    place: Place
    looks: tuple[Look, ...]
    key: str = ""
    words: str = ""


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
    """One chart on one sheet, what is drawn of it from back to front, and what is taken up.

    Words that may stand in one of several places are put down last, in the order they were
    wanted.
    """

    def __init__(self, chart: Chart, sheet: Sheet, box: Box) -> None:
        self.chart = chart
        self.sheet = sheet
        self.box = box
        self.s = sheet.scale
        self.text = float(sheet.text)
        self.shared = bool(column_shares(chart, sheet))
        self.drawn: list[Stroke | Shape] = []
        self.labels: list[Label] = []
        self.taken: list[Rect] = []
        self.wanted: list[tuple[int, list[Label], bool]] = []

    def line(
        self,
        part: str,
        places: Sequence[Place],
        ink: str,
        width: float,
        dash: Sequence[float] = (),
        fill: str = "",
        *,
        is_hatched: bool = False,
    ) -> None:
        """A stroke, its width and dashes at the scale of the sheet."""
        dashes = tuple(one * self.s for one in dash)
        self.drawn.append(
            Stroke(part, tuple(places), ink, width * self.s, dashes, fill, is_hatched)
        )

    def across(
        self, part: str, value: float, ink: str, width: float, dash: Place | None = None
    ) -> None:
        """A line from end to end at a value."""
        y = self.box.y(value)
        self.line(part, [(0.0, y), (self.box.width, y)], ink, width, dash or ())

    def shape(self, part: str, place: Place, *looks: Look, key: str = "", words: str = "") -> None:
        self.drawn.append(Shape(part, place, looks, key, words))

    def place_of(self, hours: float, value: float) -> Place:
        """Where a value stands, kept inside the plot."""
        return self.box.x(hours), self.box.y(self.box.held(value))

    def wide(self, label: Label) -> float:
        each = 0.6 if label.weight >= 600 else 0.56
        return len(label.text) * self.text * label.size * each

    def rect(self, label: Label) -> Rect:
        wide, half = self.wide(label), self.text * label.size * 0.62
        left = {"left": label.x, "right": label.x - wide, "center": label.x - wide / 2}
        return (left[label.align], label.y - half, left[label.align] + wide, label.y + half)

    def take(self, x0: float, y0: float, x1: float, y1: float) -> None:
        self.taken.append((min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)))

    def take_line(self, start: Place, stop: Place) -> None:
        """A sloping line takes up the squares along it."""
        (x0, y0), (x1, y1) = start, stop
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
            best = next((one for one in places if self.overlap(self.rect(one)) == 0.0), None)
            if best is None and needed:
                best = min(places, key=lambda one: self.overlap(self.rect(one)))
            if best is None:
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

    def last(self) -> ChartMark | None:
        found = [m for m in self.chart.marks if not m.left and m.call not in ("void", "aside")]
        return found[-1] if found else None
