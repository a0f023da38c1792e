"""What is drawn of a chart, from the back to the front."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Any

from rehang.trade.drawn.chart_box import likely, ticks_of
from rehang.trade.drawn.chart_canvas import Canvas, Label
from rehang.trade.drawn.chart_looks import (
    ARROW,
    HALO,
    LOOKS,
    OPEN_POINT,
    SET_POINT,
    Look,
)
from rehang.trade.drawn.chart_values import (
    LEAST_FOR_USUAL,
    ChartLimit,
    ChartMark,
    Close,
    Fan,
    openings,
)

__all__ = ["draw_layers"]

_INK: dict[str, Any] = {"role": "ink", "weight": 700}


def draw_layers(on: Canvas) -> None:
    """All of the chart on its canvas, the words last. A small sheet has no room for fellows."""
    _frame(on)
    if not on.sheet.is_small:
        _fellows(on)
        _usual(on)
    _close(on)
    _fan(on)
    _limits(on)
    if not on.sheet.is_small:
        _other(on)
    _lines(on)
    _bars(on)
    _points(on)
    if not on.sheet.is_small:
        _breaks(on)
    on.place()


def _frame(on: Canvas) -> None:
    """Grid lines with their values, the base line, and the hours where no table has them."""
    chart, box, s = on.chart, on.box, on.s
    ticks = [t for t in ticks_of(box.y0, box.y1, log=box.log) if box.y(t) > 8 * s]
    above = box.height + 22 * s
    for tick in ticks:
        y = box.y(tick)
        if above - y < 22 * s:
            continue
        above = y
        value = Label(chart.show(tick), -10 * s, y, "right")
        on.labels.append(value)
        on.taken.append(on.rect(value))
        on.across("", tick, "steel", 2)
        on.line("", [(-5 * s, y), (2 * s, y)], "ink2", 2)
    on.across("", box.y0, "ink", 2)
    if not on.sheet.is_small:
        words = f"{chart.title}, {chart.unit}" if chart.unit else chart.title
        top = -box.top + 12 * s
        title = Label(words, -box.left, top, **_INK)
        on.labels.append(title)
        note = Label(chart.note, -box.left + on.wide(title) + 12 * s, top)
        if chart.note and on.rect(note)[2] < box.width:
            on.labels.append(note)
    if not on.shared:
        _hours(on)


def _hours(on: Canvas) -> None:
    """The hours of each opening under its point, as far as there is room."""
    box, s = on.box, on.s
    kept: list[Label] = []
    row = box.height + 20 * s
    # The last is always written; the others give way to it.
    for one in reversed(openings(on.chart)):
        x = box.x(one)
        on.line("", [(x, box.height), (x, box.height + 7 * s)], "ink", 2)
        label = Label(on.chart.x_words.get(one, f"{one:,.0f}"), x, row, "center")
        if not kept or on.rect(label)[2] < on.rect(kept[-1])[0] - 6 * s:
            kept.append(label)
    if not on.chart.x_words:
        kept.append(Label("h", -10 * s, row, "right"))
    on.labels += kept


def _fellows(on: Canvas) -> None:
    bands, s = on.chart.fellows, on.s
    if len(bands) < 2:
        return
    low = [on.place_of(b.hours, b.low) for b in bands]
    high = [on.place_of(b.hours, b.high) for b in bands]
    on.line("fellows", [*low, *reversed(high)], "", 0, fill="steel")
    # In black alone the fill is gone, and the dotted edges say where it was.
    for edge in (low, high):
        on.line("fellows", edge, "line", 1.5, (1.5, 4))
    words = on.chart.fellows_words
    if words:
        (x, bottom), top = low[-1], high[-1][1]
        on.want(
            Label(words, x - 8 * s, (bottom + top) / 2, "right"),
            Label(words, x + 8 * s, (bottom + top) / 2, "left"),
            *(
                Label(said, *place, "center")
                for said in (words, f"{words.partition(' ')[0]} others")
                for below, above in zip(reversed(low), high[::-1], strict=True)
                for place in (
                    (below[0], below[1] + 14 * s),
                    (above[0], above[1] - 14 * s),
                    (below[0], (below[1] + above[1]) / 2),
                )
            ),
            needed=True,
        )


def _usual(on: Canvas) -> None:
    usual, box, s = on.chart.usual, on.box, on.s
    if usual is None or usual.count < LEAST_FOR_USUAL:
        return
    values = [v for v in (usual.low, usual.high) if box.y0 <= v <= box.y1]
    for value in values:
        on.across("usual", value, "ink2", 1.5, (10, 6))
        on.take(0, box.y(value), box.width, box.y(value))
    if values:
        y = box.y(values[-1])
        on.want(
            *(
                Label("usual here", x, y + side, align)
                for side in (-12 * s, 13 * s)
                for x, align in ((box.width - 4 * s, "right"), (8 * s, "left"))
            ),
            *_along(on, "usual here", y, (-12 * s, 13 * s)),
            needed=True,
        )


def _close(on: Canvas) -> None:
    """The values that the meter in use calls CLOSE CALL, hatched where it can be seen."""
    box, s = on.box, on.s
    stripe: tuple[Close, float, float] | None = None
    is_named = False
    for one in on.chart.close:
        bottom, top = box.y(box.held(one.low)), box.y(box.held(one.high))
        if bottom - top < 9 * s:
            # Thinner than the limit's own line it could not be seen: nine pixels stand for it.
            middle = (bottom + top) / 2
            bottom, top = middle + 4.5 * s, middle - 4.5 * s
        left, right = box.x(max(one.since, box.x0)), box.x(min(one.until, box.x1))
        is_tall = bottom - top > 30 * s
        if is_tall:
            # A tall band stands beside its reading and leaves the bar free.
            beside = [box.x(m.hours) for m in on.chart.marks if one.since <= m.hours <= one.until]
            if beside:
                right = min(beside) - 18 * s
                left = min(max(left, right - 44 * s), right - 12 * s)
        # Hatch turns to mud in a thin band.
        hatched = bottom - top > 12 * s
        places = [(left, bottom), (left, top), (right, top), (right, bottom)]
        ink, width = ("ink", 1.5) if hatched else ("line", 0.8)
        on.line("close-call", places, ink, width, fill="close-fill", is_hatched=hatched)
        if is_tall:
            on.take(left, bottom, right, top)
            is_named = True
            _close_words(on, one, (left + right) / 2, (bottom, top))
        else:
            stripe = (one, left, bottom)
    if stripe is not None and not on.sheet.is_small:
        one, left, bottom = stripe
        said = (f"close call on {one.meter}", one.meter) if is_named else ("close call",)
        rows = (15 * s, -24 * s, 34 * s, -42 * s)
        on.want(
            *(Label(words, left + 8 * s, bottom + row, "left") for words in said for row in rows),
            *(place for words in said for place in _along(on, words, bottom - 4 * s, rows)),
            needed=True,
        )


def _close_words(on: Canvas, one: Close, middle: float, band: tuple[float, float]) -> None:
    s, (bottom, top) = on.s, band
    on.want(
        *(
            Label(words, middle + aside * s, y, "center")
            for aside in (0, -30, -60)
            for y in (bottom + 14 * s, top - 14 * s)
            for words in (f"close call on {one.meter}", "close call")
        ),
        needed=not on.sheet.is_small,
        rank=4,
    )


def _fan(on: Canvas) -> None:
    fan = on.chart.fan
    if fan is None:
        return
    looks = {
        90: ("paper", 1.2, (2, 3)),
        80: ("bench", 1.5, (6, 4)),
        50: ("wait-fill", 1.5, ()),
    }
    for chance, (fill, width, dash) in looks.items():
        bands = fan.bands.get(chance, ())
        if len(bands) > 1:
            low = [on.place_of(b.hours, b.low) for b in bands]
            high = [on.place_of(b.hours, b.high) for b in reversed(bands)]
            on.line("fan", [*low, *high], "ink", width, dash, fill)
    on.line("fan", [on.place_of(*one) for one in fan.middle], "ink", 3, (8, 5))
    _fan_words(on, fan)


def _fan_words(on: Canvas, fan: Fan) -> None:
    """The end of the forecast written out: the middle, and where eight in ten lie."""
    box, s = on.box, on.s
    bands = fan.bands.get(80, ())
    if not bands or not fan.middle:
        return
    end = bands[-1]
    x = box.x(end.hours) + 10 * s
    first = box.x(bands[0].hours)
    on.take(first, box.y(box.held(bands[0].low)), first, box.y(box.held(bands[0].high)))
    for a, b in pairwise(bands):
        for from_, to in ((a.low, b.low), (a.high, b.high)):
            on.take_line(on.place_of(a.hours, from_), on.place_of(b.hours, to))
    middle = fan.middle[-1][1]
    rows = [
        (end.high, likely(on.chart, end.high), "ink2", 500),
        (middle, likely(on.chart, middle), "ink", 700),
        (end.low, likely(on.chart, end.low), "ink2", 500),
    ]
    # Numbers keep a line's height between them, however narrow the fan is.
    heights = [box.y(box.held(value)) for value, *_ in rows]
    line = 22 * s
    heights[0] = min(heights[0], heights[1] - line)
    heights[2] = max(heights[2], heights[1] + line)
    for y, (_, words, role, weight) in zip(heights, rows, strict=True):
        on.want(Label(words, x, y, "left", role, weight), rank=0, needed=True)
    top = min(heights[0], box.y(box.held(end.high)))
    on.want(
        *(
            Label("8 in 10", box.x(end.hours) - aside * s, y, align)
            for y in (top - 20 * s, heights[2] + 24 * s)
            for aside, align in ((0, "center"), (8, "right"), (-10, "left"), (60, "right"))
        ),
        needed=not on.sheet.is_small,
    )


def _limits(on: Canvas) -> None:
    s = on.s
    for limit in on.chart.limits:
        y = on.box.y(limit.value)
        on.across("limit", limit.value, "ink", 3)
        on.take(0, y - 2 * s, on.box.width, y + 2 * s)
        _limit_words(on, limit, y)


def _limit_words(on: Canvas, limit: ChartLimit, y: float) -> None:
    """Along its line, above an upper bound and below a lower one, wherever it is free.

    What does not fit beside the marks is said shorter; who says so then stands on the other side
    of the line, or is left to the words beside the chart.
    """
    first = (-16 if limit.upper else 16) * on.s
    both = f"{limit.words}, {limit.source}" if limit.source else limit.words
    fits = on.wide(Label(both, 0, 0, **_INK)) <= on.box.width - 12 * on.s
    said = [both] if fits and not on.sheet.is_small else []
    said += [limit.words, limit.words.partition(" or ")[0]]
    on.want(
        *(one for words in said for one in _along(on, words, y, (first, -first), **_INK)),
        rank=2,
        needed=True,
    )


def _along(on: Canvas, words: str, y: float, rows: Sequence[float], **look: Any) -> list[Label]:
    """Places for words along a line, from the left."""
    box, s = on.box, on.s
    step = box.width / 16
    return [
        *(
            Label(words, 8 * s + n * step, y + row, "left", **look)
            for row in rows
            for n in range(16)
        ),
        *(Label(words, box.width - 6 * s, y + row, "right", **look) for row in rows),
    ]


def _other(on: Canvas) -> None:
    other, s = on.chart.other, on.s
    if other is None or not other.values:
        return
    places = [on.place_of(*one) for one in other.values]
    if other.is_trace:
        on.line("other", places, "ink", 2)
        for start, stop in pairwise(places):
            on.take_line(start, stop)
        return
    on.line("other", places, "line", 2)
    for start, stop in pairwise(places):
        on.take_line(start, stop)
    words, end = other.name, places[-1]
    if other.opened is not None:
        # It ends short of its opening, so that it does not stand under this part's own mark.
        end = (end[0] + (on.box.x(other.opened) - end[0]) * 0.42, on.box.over)
        on.line("other", [places[-1], end], "line", 2, (4, 4))
        on.take_line(places[-1], end)
        on.shape("other", end, Look(ARROW, 11, "line"))
        words = f"{other.name}, open today"
    for place in places if other.opened is None else places[:-1]:
        on.shape("other", place, OPEN_POINT)
    x, y = end
    on.want(
        Label(words, x - 14 * s, y + 4 * s, "right"),
        Label(words, x + 14 * s, y + 4 * s, "left"),
        Label(words, x - 14 * s, y - 18 * s, "right"),
        *(
            Label(one, x - aside * s, y + down * s, "right")
            for one in (words, other.name)
            for aside in (14, 40, 70)
            for down in (4, 24, 44)
        ),
        needed=True,
        rank=5,
    )


def _lines(on: Canvas) -> None:
    """Readings of one segment are joined; across a break they are not."""
    box = on.box
    segments: dict[int, list[ChartMark]] = {}
    for mark in on.chart.marks:
        if mark.call not in ("void", "aside"):
            segments.setdefault(mark.segment, []).append(mark)
    for _, marks in sorted(segments.items()):
        for a, b in pairwise(marks):
            if a.value is None:
                continue
            start = on.place_of(a.hours, a.value)
            end = (box.x(b.hours), box.over)
            if b.value is not None:
                end = on.place_of(b.hours, b.value)
            on.line("line", [start, end], "ink", 3, () if b.value is not None else (8, 5))
            on.take_line(start, end)


def _bars(on: Canvas) -> None:
    """What the meter can tell at each reading, with its ends written out where it is long."""
    box, s = on.box, on.s
    last = on.last()
    for mark in on.chart.marks:
        if mark.low is None or mark.high is None or mark.call == "aside":
            continue
        x, low = on.place_of(mark.hours, mark.low)
        _, high = on.place_of(mark.hours, mark.high)
        on.line("bars", [(x, low), (x, high)], "ink", 2.5)
        on.take(x - 4 * s, high, x + 4 * s, low)
        for value, y in ((mark.low, low), (mark.high, high)):
            # An end outside the plot is cut off and has no cap; nor has one behind its mark.
            if box.y0 <= value <= box.y1 and low - high > 18 * s:
                on.line("bars", [(x - 8 * s, y), (x + 8 * s, y)], "ink", 3)
        if mark is last and low - high > 70 * s:
            for value, y in ((mark.low, low), (mark.high, high)):
                words = on.chart.show(value)
                on.want(Label(words, x + 16 * s, y, "left"), Label(words, x - 16 * s, y, "right"))


def _points(on: Canvas) -> None:
    """A reading's status as a shape; the last value written out beside it."""
    box, s = on.box, on.s
    last = on.last()
    for mark in sorted(on.chart.marks, key=lambda one: (not one.left, one is last)):
        y = box.over if mark.value is None else box.y(box.held(mark.value))
        # One that stands aside is drawn beside the reading that stands for it: both are seen.
        x = box.x(mark.hours) - (20 * s if mark.call == "aside" else 0)
        half = (7 if mark.left else 14 if mark.call else 8) * s
        on.take(x - half, y - half, x + half, y + half)
        looks = (SET_POINT,) if mark.left else LOOKS[mark.call]
        if mark is last and mark.call and not mark.left:
            looks = (HALO, *looks)
        on.shape("points", (x, y), *looks, key=mark.key, words=mark.words)
    for mark in on.chart.marks:
        if mark is last or mark.value is None:
            y = box.over if mark.value is None else box.y(box.held(mark.value))
            _value_words(on, mark.text, box.x(mark.hours), y)


def _value_words(on: Canvas, text: str, x: float, y: float) -> None:
    s = on.s
    look: dict[str, Any] = {**_INK, "size": 1.2}
    on.want(
        *(
            Label(text, x + side * aside * s, y + down * s, align, **look)
            for side, align in ((1, "left"), (-1, "right"))
            for aside, down in ((20, 0), (18, 26), (18, -26), (18, 44), (18, -44))
        ),
        rank=1,
        needed=True,
    )


def _breaks(on: Canvas) -> None:
    """A tick under the base line at each break, with its words as far as there is room."""
    box, s = on.box, on.s
    down = 0 if on.shared else 28 * s
    end = -1e9
    for one in sorted(on.chart.breaks, key=lambda b: b.hours):
        x = box.x(one.hours)
        on.line("breaks", [(x, box.height), (x, box.height + 9 * s)], "ink", 4)
        label = Label(one.words, x, box.height + 20 * s + down, "center", part="breaks")
        left, _, right, _ = on.rect(label)
        if left < -box.left:
            label = Label(one.words, x - 6 * s, label.y, "left", part="breaks")
            left, _, right, _ = on.rect(label)
        if right > box.width + box.right_pad:
            label = Label(one.words, box.width, label.y, "right", part="breaks")
            left, _, right, _ = on.rect(label)
        if left > end + 8 * s:
            on.labels.append(label)
            end = right
