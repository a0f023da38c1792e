"""The layers of a chart, from the back to the front."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Any

from rehang.trade.drawn.chart_box import ticks_of
from rehang.trade.drawn.chart_canvas import Canvas, Label, coloured
from rehang.trade.drawn.chart_looks import ARROW, CIRCLE, LOOKS
from rehang.trade.drawn.chart_values import (
    LEAST_FOR_USUAL,
    ChartLimit,
    ChartMark,
    Fan,
    openings,
)

__all__ = ["layers_of"]


def layers_of(on: Canvas) -> list[dict[str, Any]]:
    """Every layer of the chart on its canvas, the words last."""
    found = [*_frame(on), *_fellows(on), *_usual(on), *_close(on), *_fan(on)]
    found += [*_limits(on), *_other(on), *_lines(on), *_bars(on), *_points(on)]
    found += _breaks(on)
    on.place()
    return [*found, *on.texts()]


def _frame(on: Canvas) -> list[dict[str, Any]]:
    """Grid lines with their values, the base line, and the hours where no table has them."""
    chart, box, s = on.chart, on.box, on.s
    ticks = [t for t in ticks_of(box.y0, box.y1, log=box.log) if box.y(t) > 8 * s]
    for tick in ticks:
        on.labels.append(Label(chart.show(tick), -10 * s, box.y(tick), "right"))
    words = f"{chart.title}, {chart.unit}" if chart.unit else chart.title
    top = -box.top + 12 * s
    title = Label(words, -box.left, top, role="ink", weight=700)
    on.labels.append(title)
    note = Label(chart.note, -box.left + on.wide(title) + 12 * s, top)
    if chart.note and on.rect(note)[2] < box.width:
        on.labels.append(note)
    if not on.shared:
        _hours(on)
    ends = {"x": box.x0, "x2": box.x1}
    notches = [{"px": -5 * s, "px2": 2 * s, "py": round(box.y(t), 2)} for t in ticks]
    notch = {"type": "rule", "stroke": coloured("ink2"), "strokeWidth": 2 * s}
    pixel = {"type": "quantitative", "scale": None, "axis": None}
    places = {
        "x": {"field": "px", **pixel}, "x2": {"field": "px2"}, "y": {"field": "py", **pixel},
    }  # fmt: skip
    return [
        on.rule("grid", [{"y": t, **ends} for t in ticks], "steel", 2),
        on.layer("ticks", notches, notch, places),
        on.rule("base", [{"y": box.y0, **ends}], "ink", 2),
    ]


def _hours(on: Canvas) -> None:
    """The hours of each opening under the base line, as far as there is room."""
    box, s = on.box, on.s
    kept: list[Label] = []
    # The last is always written; the others give way to it.
    for one in reversed(openings(on.chart)):
        unit = " h" if not kept else ""
        words = on.chart.x_words.get(one, f"{one:,.0f}{unit}")
        label = Label(words, box.x(one), box.height + 18 * s, "center")
        if not kept or on.rect(label)[2] < on.rect(kept[-1])[0] - 10 * s:
            kept.append(label)
    on.labels += kept


def _fellows(on: Canvas) -> list[dict[str, Any]]:
    bands, box, s = on.chart.fellows, on.box, on.s
    if len(bands) < 2:
        return []
    held = [(b.hours, box.held(b.low), box.held(b.high)) for b in bands]
    if on.chart.fellows_words:
        last = held[-1]
        low, high, x = box.y(last[1]), box.y(last[2]), box.x(last[0])
        words = on.chart.fellows_words
        on.want(
            Label(words, x - 8 * s, (low + high) / 2, "right"),
            Label(words, x - 8 * s, low - 12 * s, "right"),
            Label(words, x + 8 * s, (low + high) / 2, "left"),
            Label(words, x - 8 * s, low + 14 * s, "right"),
            Label(words, box.x(held[0][0]) + 20 * s, box.y(held[0][1]) + 16 * s, "left"),
        )
    mark = {"type": "area", "fill": coloured("steel"), "fillOpacity": 1}
    values = [{"x": x, "y": low, "y2": high} for x, low, high in held]
    encoding = {"x": on.x(), "y": on.y(), "y2": {"field": "y2"}}
    # In black alone the fill is gone, and the dotted edges say where it was.
    edge = {"type": "line", "stroke": coloured("line"), "strokeWidth": 1.5 * s}
    edges = [
        {"x": x, "y": value, "edge": name}
        for x, low, high in held
        for name, value in (("low", low), ("high", high))
    ]
    lines = {
        "x": on.x(), "y": on.y(), "detail": {"field": "edge", "type": "nominal"},
    }  # fmt: skip
    return [
        on.layer("fellows", values, mark, encoding),
        on.layer("fellows_edges", edges, {**edge, "strokeDash": [1.5 * s, 4 * s]}, lines),
    ]


def _usual(on: Canvas) -> list[dict[str, Any]]:
    usual, box, s = on.chart.usual, on.box, on.s
    if usual is None or usual.count < LEAST_FOR_USUAL:
        return []
    ends = {"x": box.x0, "x2": box.x1}
    values = [{"y": v, **ends} for v in (usual.low, usual.high) if box.y0 <= v <= box.y1]
    if not values:
        return []
    words = "usual in this shop"
    y = box.y(values[-1]["y"])
    on.want(
        *(
            Label(words, x, y + side, align)
            for side in (-12 * s, 13 * s)
            for x, align in ((box.width - 4 * s, "right"), (8 * s, "left"))
        )
    )
    for value in values:
        on.take(0, box.y(value["y"]), box.width, box.y(value["y"]))
    return [on.rule("usual", values, "ink2", 1.5, strokeDash=[10 * s, 6 * s])]


def _close(on: Canvas) -> list[dict[str, Any]]:
    """The values that the meter in use calls CLOSE CALL; hatched when it is drawn."""
    box, s = on.box, on.s
    tall_ones: list[dict[str, Any]] = []
    thin_ones: list[dict[str, Any]] = []
    for one in on.chart.close:
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
            beside = [m.hours for m in on.chart.marks if x <= m.hours <= x2]
            if beside:
                right = box.x(min(beside)) - 18 * s
                left = min(max(box.x(x), right - 60 * s), right - 12 * s)
                x, x2 = box.hours(left), box.hours(right)
        # Hatch turns to mud in a thin band.
        rows = tall_ones if tall > 12 * s else thin_ones
        rows.append({"x": x, "x2": x2, "y": low, "y2": high})
        if tall > 30 * s:
            on.take(box.x(x), box.y(low), box.x(x2), box.y(high))
            middle = (box.x(x) + box.x(x2)) / 2
            on.want(
                Label("close call", middle, box.y(low) + 14 * s, "center"),
                Label("close call", middle, box.y(high) - 14 * s, "center"),
            )
    mark = {
        "type": "rect",
        "fill": coloured("close-fill"),
        "stroke": coloured("ink"),
        "strokeWidth": 1.5 * s,
    }
    encoding = {
        "x": on.x(), "x2": {"field": "x2"}, "y": on.y(), "y2": {"field": "y2"},
    }  # fmt: skip
    thin = {**mark, "strokeWidth": 0}
    return [
        on.layer(name, rows, look, encoding)
        for name, rows, look in (("close", tall_ones, mark), ("close_thin", thin_ones, thin))
        if rows
    ]


def _fan(on: Canvas) -> list[dict[str, Any]]:
    fan, box, s = on.chart.fan, on.box, on.s
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
            "fill": coloured(fill),
            "stroke": coloured("ink"),
            "strokeWidth": width * s,
            "strokeDash": dash,
        }
        encoding = {
            "x": on.x(), "y": on.y(), "order": {"field": "n", "type": "quantitative"},
        }  # fmt: skip
        found.append(on.layer(f"fan{chance}", values, mark, encoding))
    middle = [{"x": x, "y": box.held(v)} for x, v in fan.middle]
    mark = {
        "type": "line",
        "stroke": coloured("ink"),
        "strokeWidth": 3 * s,
        "strokeDash": [8 * s, 5 * s],
    }
    found.append(on.layer("fan_middle", middle, mark))
    _fan_words(on, fan)
    return found


def _fan_words(on: Canvas, fan: Fan) -> None:
    """The end of the forecast written out: the middle, and where eight in ten lie."""
    box, s = on.box, on.s
    bands = fan.bands.get(80, ())
    if not bands or not fan.middle:
        return
    end = bands[-1]
    x = box.x(end.hours) + 10 * s
    on.take(
        box.x(bands[0].hours),
        box.y(box.held(bands[0].low)),
        box.x(bands[0].hours),
        box.y(box.held(bands[0].high)),
    )
    for a, b in pairwise(bands):
        for from_, to in ((a.low, b.low), (a.high, b.high)):
            start, stop = box.y(box.held(from_)), box.y(box.held(to))
            on.take_line(box.x(a.hours), start, box.x(b.hours), stop)
    middle = fan.middle[-1][1]
    rows = [
        (end.high, on.chart.show(end.high), "ink2", 500),
        (middle, on.chart.show(middle), "ink", 700),
        (end.low, on.chart.show(end.low), "ink2", 500),
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
        Label("8 in 10", box.x(end.hours), top - 20 * s, "center"),
        Label("8 in 10", box.x(end.hours) - 8 * s, top - 20 * s, "right"),
        Label("8 in 10", box.x(end.hours), heights[2] + 24 * s, "center"),
    )


def _limits(on: Canvas) -> list[dict[str, Any]]:
    box, s = on.box, on.s
    ends = {"x": box.x0, "x2": box.x1}
    values = [{"y": limit.value, **ends} for limit in on.chart.limits]
    for limit in on.chart.limits:
        y = box.y(limit.value)
        on.take(0, y - 2 * s, box.width, y + 2 * s)
        _limit_words(on, limit, y)
    return [on.rule("limit", values, "ink", 3)] if values else []


def _limit_words(on: Canvas, limit: ChartLimit, y: float) -> None:
    """Along its line, above an upper bound and below a lower one, wherever it is free.

    Where both do not fit in one line, who says so stands on the other side of the line or
    is left to the words beside the chart.
    """
    box, s = on.box, on.s
    first = -14 * s if limit.upper else 15 * s
    both = f"{limit.words}, {limit.source}" if limit.source else limit.words
    ink: dict[str, Any] = {"role": "ink", "weight": 700}
    if on.wide(Label(both, 0, 0, **ink)) <= box.width - 12 * s:
        on.want(*_along(on, both, y, (first, -first), **ink), rank=2, needed=True)
        return
    on.want(*_along(on, limit.words, y, (first, -first), **ink), rank=2, needed=True)
    if limit.source:
        rows = (-first, first, first * 2.6)
        on.want(*_along(on, limit.source, y, rows, role="ink2"), rank=3)


def _along(on: Canvas, words: str, y: float, rows: Sequence[float], **look: Any) -> list[Label]:
    """Places for words along a line, from the left."""
    box, s = on.box, on.s
    step = box.width / 12
    return [
        *(
            Label(words, 8 * s + n * step, y + row, "left", **look)
            for row in rows
            for n in range(12)
        ),
        *(Label(words, box.width - 6 * s, y + row, "right", **look) for row in rows),
    ]


def _other(on: Canvas) -> list[dict[str, Any]]:
    other, box, s = on.chart.other, on.box, on.s
    if other is None or not other.values:
        return []
    values = [{"x": x, "y": box.held(y)} for x, y in other.values]
    for (xa, ya), (xb, yb) in pairwise(other.values):
        on.take_line(box.x(xa), box.y(box.held(ya)), box.x(xb), box.y(box.held(yb)))
    mark = {"type": "line", "stroke": coloured("line"), "strokeWidth": 2 * s}
    found = [on.layer("other", values, mark)]
    last_x, last_y = box.x(other.values[-1][0]), box.y(box.held(other.values[-1][1]))
    words = other.name
    if other.opened is not None:
        x, y = box.x(other.opened), box.over
        # It ends short of its opening, so that it does not stand under this part's own mark.
        x = last_x + (x - last_x) * 0.42
        found.append(
            on.layer(
                "other_open",
                [{"x": other.values[-1][0], "y": box.held(other.values[-1][1])},
                 {"x": box.hours(x), "y": box.at(y)}],
                {**mark, "strokeDash": [4 * s, 4 * s]},
            )
        )  # fmt: skip
        on.take_line(last_x, last_y, x, y)
        found.append(
            on.shape("other_arrow", [{"px": x, "py": y}], ARROW, 11, fill="line", pixels=True)
        )
        last_x, last_y = x, y
        words = f"{other.name}, open today"
    found.append(
        on.shape(
            "other_points",
            values[:-1] if other.opened is None else values,
            CIRCLE,
            9,
            fill="paper",
            stroke="line",
            width=2,
        )
    )
    on.want(
        Label(words, last_x - 14 * s, last_y + 4 * s, "right"),
        Label(words, last_x + 14 * s, last_y + 4 * s, "left"),
        Label(words, last_x - 14 * s, last_y - 18 * s, "right"),
    )
    return found


def _lines(on: Canvas) -> list[dict[str, Any]]:
    """Readings of one segment are joined; across a break they are not."""
    box, s = on.box, on.s
    found = []
    segments: dict[int, list[ChartMark]] = {}
    for mark in on.chart.marks:
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
            on.take_line(box.x(a.hours), box.y(box.held(a.value)), box.x(b.hours), box.y(end))
    for name, rows, dash in (("line", solid, []), ("line_open", dashed, [8 * s, 5 * s])):
        if not rows:
            continue
        mark_def = {
            "type": "line",
            "stroke": coloured("ink"),
            "strokeWidth": 3 * s,
            "strokeDash": dash,
        }
        encoding = {
            "x": on.x(), "y": on.y(), "detail": {"field": "segment", "type": "nominal"},
        }  # fmt: skip
        found.append(on.layer(name, rows, mark_def, encoding))
    return found


def _bars(on: Canvas) -> list[dict[str, Any]]:
    """What the meter can tell at each reading, with its ends written out where it is long."""
    box, s = on.box, on.s
    bars, ends = [], []
    last = on.last()
    for mark in on.chart.marks:
        if mark.low is None or mark.high is None or mark.call == "aside":
            continue
        x = box.x(mark.hours)
        low, high = box.y(box.held(mark.low)), box.y(box.held(mark.high))
        bars.append({"x": mark.hours, "y": box.held(mark.low), "y2": box.held(mark.high)})
        on.take(x - 4 * s, high, x + 4 * s, low)
        for value, y in ((mark.low, low), (mark.high, high)):
            # An end outside the plot is cut off and has no cap; nor has one behind its mark.
            if box.y0 <= value <= box.y1 and low - high > 18 * s:
                ends.append({"px": x - 8 * s, "px2": x + 8 * s, "py": y})
        if mark is last and low - high > 70 * s:
            for value, y in ((mark.low, low), (mark.high, high)):
                words = on.chart.show(value)
                on.want(Label(words, x + 16 * s, y, "left"), Label(words, x - 16 * s, y, "right"))
    if not bars:
        return []
    pixel = {"type": "quantitative", "scale": None, "axis": None}
    caps = {"type": "rule", "stroke": coloured("ink"), "strokeWidth": 3 * s}
    encoding = {
        "x": {"field": "px", **pixel}, "x2": {"field": "px2"}, "y": {"field": "py", **pixel},
    }  # fmt: skip
    found = [on.rule("bars", bars, "ink", 2.5)]
    if ends:
        found.append(on.layer("bar_ends", ends, caps, encoding))
    return found


def _points(on: Canvas) -> list[dict[str, Any]]:
    """A reading's status as a shape; the last value written out beside it."""
    box, s = on.box, on.s
    at: dict[str, list[dict[str, Any]]] = {}
    halo = []
    last = on.last()
    for mark in on.chart.marks:
        y = box.over if mark.value is None else box.y(box.held(mark.value))
        x = box.x(mark.hours)
        place = {"px": round(x, 2), "py": round(y, 2), "key": mark.key, "words": mark.words}
        if mark.call == "aside":
            # Beside the reading that stands for it, so that both are seen.
            x -= 20 * s
            place["px"] = round(x, 2)
        if mark.left:
            at.setdefault("left", []).append(place)
            on.take(x - 7 * s, y - 7 * s, x + 7 * s, y + 7 * s)
            continue
        at.setdefault(mark.call or "plain", []).append(place)
        if mark is last and mark.call:
            halo.append(place)
        half = (14 if mark.call else 8) * s
        on.take(x - half, y - half, x + half, y + half)
    _value_words(on)
    found = []
    if "left" in at:
        found.append(
            on.shape(
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
        found.append(on.shape("point_halo", halo, CIRCLE, 32, fill="paper", pixels=True))
    for call, places in at.items():
        for name, look in LOOKS[call]:
            found.append(on.shape(f"{name}_{call.replace('-', '_')}", places, pixels=True, **look))
    return found


def _value_words(on: Canvas) -> None:
    box, s = on.box, on.s
    last = on.last()
    for mark in on.chart.marks:
        if mark is not last and mark.value is not None:
            continue
        y = box.over if mark.value is None else box.y(box.held(mark.value))
        x = box.x(mark.hours)
        look: dict[str, Any] = {"role": "ink", "weight": 700, "size": 1.2}
        on.want(
            Label(mark.text, x + 20 * s, y, "left", **look),
            Label(mark.text, x + 18 * s, y + 26 * s, "left", **look),
            Label(mark.text, x + 18 * s, y - 26 * s, "left", **look),
            Label(mark.text, x - 20 * s, y, "right", **look),
            Label(mark.text, x - 18 * s, y + 26 * s, "right", **look),
            Label(mark.text, x - 18 * s, y - 26 * s, "right", **look),
            rank=1,
            needed=True,
        )


def _breaks(on: Canvas) -> list[dict[str, Any]]:
    """A tick under the base line at each break, with its words as far as there is room."""
    box, s = on.box, on.s
    if not on.chart.breaks:
        return []
    down = 0 if on.shared else 28 * s
    ticks = []
    end = -1e9
    for one in sorted(on.chart.breaks, key=lambda b: b.hours):
        x = box.x(one.hours)
        ticks.append({"px": x, "py": box.height, "py2": box.height + 9 * s})
        label = Label(one.words, x, box.height + 20 * s + down, "center", part="break_labels")
        left, _, right, _ = on.rect(label)
        if left < -box.left:
            label = Label(one.words, x - 6 * s, label.y, "left", part="break_labels")
            left, _, right, _ = on.rect(label)
        if right > box.width + box.right_pad:
            label = Label(one.words, box.width, label.y, "right", part="break_labels")
            left, _, right, _ = on.rect(label)
        if left > end + 8 * s:
            on.labels.append(label)
            end = right
    pixel = {"type": "quantitative", "scale": None, "axis": None}
    encoding = {
        "x": {"field": "px", **pixel}, "y": {"field": "py", **pixel}, "y2": {"field": "py2"},
    }  # fmt: skip
    mark = {"type": "rule", "stroke": coloured("ink"), "strokeWidth": 4 * s}
    return [on.layer("breaks", ticks, mark, encoding)]
