"""Drawings as SVG text: a layout's sheet, an engine's plan, a cylinder's leak, a call's scale.

Pure functions of values. Shapes carry classes; a page colours them with its style sheet. A
drawing that is to stand alone in a file carries its own styles (:func:`layout_svg`).
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from html import escape
from itertools import pairwise
from math import atan2, cos, pi, sin

from rehang.trade.facts.layout import Layout
from rehang.trade.terms.quantities import Quantity, show
from rehang.trade.verdicts.calls import Call

__all__ = [
    "LEAK_PATHS",
    "cylinder_svg",
    "layout_svg",
    "layout_text",
    "pattern_svg",
    "plan_svg",
    "scale_svg",
    "wrench_svg",
]

# Where the air of a differential compression check is heard: AC 43.13-1B, 8-14.
LEAK_PATHS = ("exhaust", "intake", "breather", "fins or head joint", "plug hole")

_STYLE = """
text { font: 500 18px/1 system-ui, "Segoe UI", Roboto, "Noto Sans", sans-serif; fill: #10171C; }
.drawn-title { font-size: 26px; font-weight: 700; } .drawn-head { font-size: 20px; font-weight: 700; }
.drawn-name { font-size: 24px; font-weight: 700; } .drawn-quiet { fill: #3C474D; }
.drawn-box { fill: #FFFFFF; stroke: #10171C; stroke-width: 2.5; }
.drawn-pan { fill: #DCE1E0; stroke: #10171C; stroke-width: 2; }
.drawn-line { fill: none; stroke: #10171C; stroke-width: 2; }
.drawn-thin { fill: none; stroke: #66747B; stroke-width: 2; }
.drawn-solid { fill: #10171C; stroke: none; }
.drawn-wire-1 { stroke-dasharray: 7 4; } .drawn-wire-2 { stroke-dasharray: 2 3; }
.drawn-wire-3 { stroke-dasharray: 12 3 2 3; }
"""


def _n(value: float) -> str:
    """A coordinate, short: 12, 12.5."""
    return f"{value:.1f}".removesuffix(".0")


def _text(x: float, y: float, words: str, kind: str = "drawn-quiet", anchor: str = "middle") -> str:
    return f'<text x="{_n(x)}" y="{_n(y)}" class="{kind}" text-anchor="{anchor}">{escape(words, quote=False)}</text>'


def _svg(width: float, height: float, kind: str, words: str, parts: Sequence[str]) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="{kind}" viewBox="0 0 {_n(width)} '
        f'{_n(height)}" width="{_n(width)}" height="{_n(height)}" role="img" '
        f'aria-label="{escape(words)}">{"".join(parts)}</svg>'
    )


def _arrow(x1: float, y1: float, x2: float, y2: float, kind: str = "drawn-line") -> str:
    """A straight arrow with its head at the second point."""
    turn = atan2(y2 - y1, x2 - x1)
    head = " ".join(
        f"{_n(x2 - 11 * cos(turn + side))},{_n(y2 - 11 * sin(turn + side))}"
        for side in (-0.45, 0.45)
    )
    return (
        f'<path d="M{_n(x1)} {_n(y1)}L{_n(x2)} {_n(y2)}" class="{kind}"/>'
        f'<polygon points="{_n(x2)},{_n(y2)} {head}" class="drawn-solid"/>'
    )


# A layout's sheet

_HOLE_W, _HOLE_H, _GAP = 92, 64, 12


def layout_svg(layout: Layout) -> str:
    """The whole layout on one sheet, with its own styles, to be kept as a file.

    The tray with each hole's place in the walk, the source that fires it (its outline) and a
    drop where oil runs to; the firing order as a ring; the rotation map as arrows; the plan.
    """
    parts = [f"<style>{_STYLE}</style>"]
    widest = max(len(line) for line in layout.tray)
    tray_w = widest * (_HOLE_W + _GAP) + _GAP
    loops = layout.rotation_loops()
    loop_w = max(min(len(loop), 9) for loop in loops) * 78 + 60
    plan, plan_w, plan_h = _plan(layout, {})
    ring_r = max(70.0, len(layout.cylinders) * 13.0)
    side_w = max(plan_w, ring_r * 2 + 60, 400)
    left_w = max(tray_w, loop_w, 420)
    wide = int((left_w - 52) / 10)  # letters of 18 px are 10 px wide at most on average
    parts.append(_text(24, 44, layout.title, "drawn-title", "start"))
    parts.append(_text(24, 72, f"Source: {layout.source}", anchor="start"))
    y = 112.0
    parts.append(_text(24, y, "Tray", "drawn-head", "start"))
    tray, height = _tray(layout, 24, y + 14)
    parts += tray
    y += 14 + height + 28
    for number, name in enumerate(layout.ignition):
        parts.append(
            f'<rect x="24" y="{_n(y - 16)}" width="40" height="22" rx="4" '
            f'class="drawn-box drawn-wire-{number}"/>'
        )
        held = ", ".join(layout.ignition[name])
        for row, line in enumerate(_lines(f"{name} fires {held}", wide)):
            parts.append(_text(76, y + row * 22, line, anchor="start"))
            y += 22 if row else 0
        y += 32
    parts.append(_text(44, y, "1"))
    parts.append(_text(76, y, "place in the walk", anchor="start"))
    y += 32
    if layout.drains_to:
        parts.append(_drop(44, y - 6))
        drained = ", ".join(h for h in layout.walk if h in layout.drains_to)
        for row, line in enumerate(_lines(f"oil runs to {drained}", wide)):
            parts.append(_text(76, y + row * 22, line, anchor="start"))
            y += 22 if row else 0
        y += 32
    y += 16
    parts.append(_text(24, y, "Rotation: where each plug goes", "drawn-head", "start"))
    y += 14
    for loop in loops:
        drawn, y = _loop(loop, 40, y)
        parts += drawn
    right = left_w + 72
    ring_y = 112.0
    parts.append(_text(right, ring_y, "Firing order", "drawn-head", "start"))
    parts += _ring(layout.firing_order, right + side_w / 2, ring_y + 34 + ring_r, ring_r)
    plan_y = ring_y + 2 * ring_r + 92
    parts.append(_text(right, plan_y, _plan_words(layout), "drawn-head", "start"))
    at_x, at_y = _n(right + (side_w - plan_w) / 2), _n(plan_y + 16)
    parts.append(f'<g transform="translate({at_x} {at_y})">{"".join(plan)}</g>')
    height = max(y, plan_y + 16 + plan_h) + 24
    width = right + side_w + 24
    back = f'<rect width="{_n(width)}" height="{_n(height)}" fill="#FFFFFF"/>'
    return _svg(width, height, "dr", layout.title, [parts[0], back, *parts[1:]])


def _lines(words: str, length: int) -> list[str]:
    lines = [""]
    for word in words.split(" "):
        if lines[-1] and len(lines[-1]) + len(word) + 1 > length:
            lines.append("")
        lines[-1] = f"{lines[-1]} {word}".strip()
    return lines


def _plan_words(layout: Layout) -> str:
    if "round" in layout.plan:
        return "Seen from behind"
    return "Seen from above, propeller at the top"


def _tray(layout: Layout, x: float, y: float) -> tuple[list[str], float]:
    """The steel tray with its holes."""
    widest = max(len(line) for line in layout.tray)
    width = widest * (_HOLE_W + _GAP) + _GAP
    height = len(layout.tray) * (_HOLE_H + _GAP) + _GAP
    parts = [
        f'<rect x="{_n(x)}" y="{_n(y)}" width="{width}" height="{height}" rx="8" class="drawn-pan"/>'
    ]
    sources = list(layout.ignition)
    steps = {hole: number for number, hole in enumerate(layout.walk, start=1)}
    for row, line in enumerate(layout.tray):
        for column, hole in enumerate(line):
            left = x + _GAP + column * (_HOLE_W + _GAP)
            top = y + _GAP + row * (_HOLE_H + _GAP)
            wire = sources.index(layout.magneto_of(hole))
            parts.append(
                f'<rect x="{_n(left)}" y="{_n(top)}" width="{_HOLE_W}" height="{_HOLE_H}" rx="8" '
                f'class="drawn-box drawn-wire-{wire}"/>'
            )
            parts.append(_text(left + _HOLE_W / 2, top + 42, hole, "drawn-name"))
            parts.append(_text(left + 9, top + 21, str(steps[hole]), anchor="start"))
            if hole in layout.drains_to:
                parts.append(_drop(left + _HOLE_W - 16, top + 17))
    return parts, float(height)


def _drop(x: float, y: float) -> str:
    return (
        f'<path d="M{_n(x)} {_n(y - 11)}c5 8 7 10 7 14a7 7 0 0 1-14 0c0-4 2-6 7-14Z" '
        'class="drawn-solid"/>'
    )


def _loop(loop: Sequence[str], x: float, y: float) -> tuple[list[str], float]:
    """One round of the rotation map, nine to a line, with arrows and back to its first hole."""
    parts = []
    step, per_line = 78, 9
    for number, hole in enumerate(loop):
        row, column = divmod(number, per_line)
        left, top = x + column * step, y + row * 64
        parts.append(
            f'<rect x="{_n(left)}" y="{_n(top)}" width="50" height="36" rx="6" class="drawn-box"/>'
        )
        parts.append(_text(left + 25, top + 26, hole, "drawn-head"))
        if number + 1 < len(loop) and column + 1 < per_line:
            parts.append(_arrow(left + 53, top + 18, left + step - 3, top + 18))
        elif number + 1 < len(loop):
            down = top + 46
            parts.append(
                f'<path d="M{_n(left + 25)} {_n(top + 36)}V{_n(down)}H{_n(x + 25)}" class="drawn-line"/>'
            )
            parts.append(_arrow(x + 25, down, x + 25, top + 63))
    rows = (len(loop) - 1) // per_line + 1
    last_row, last_column = divmod(len(loop) - 1, per_line)
    end, base = x + last_column * step + 25, y + last_row * 64 + 36
    down = y + rows * 64 - 16
    parts.append(
        f'<path d="M{_n(end)} {_n(base)}V{_n(down)}H{_n(x - 12)}V{_n(y + 18)}" class="drawn-thin"/>'
    )
    parts.append(_arrow(x - 12, y + 18, x - 3, y + 18, "drawn-thin"))
    return parts, down + 18


def _ring(order: Sequence[int], x: float, y: float, radius: float) -> list[str]:
    """The firing order as a ring, from the top, turning as it fires."""
    places = [
        (x + radius * sin(2 * pi * i / len(order)), y - radius * cos(2 * pi * i / len(order)))
        for i in range(len(order))
    ]
    parts = []
    for (x1, y1), (x2, y2) in pairwise([*places, places[0]]):
        turn = atan2(y2 - y1, x2 - x1)
        dx, dy = 24 * cos(turn), 24 * sin(turn)
        parts.append(_arrow(x1 + dx, y1 + dy, x2 - dx, y2 - dy))
    for number, (cx, cy) in zip(order, places, strict=True):
        parts.append(f'<circle cx="{_n(cx)}" cy="{_n(cy)}" r="21" class="drawn-box"/>')
        parts.append(_text(cx, cy + 8, str(number), "drawn-name"))
    return parts


def layout_text(layout: Layout) -> list[str]:
    """The layout as lines for a terminal."""
    names = [f"{row.letter} ({row.name})" for row in layout.rows]
    lines = [
        f"{layout.title} ({layout.name})",
        f"{len(layout.cylinders)} cylinders, {len(layout.walk)} holes, rows {', '.join(names)}",
        f"Source: {layout.source}",
        "",
        "Tray" + (f", propeller on the {layout.prop_end}" if layout.prop_end else ""),
    ]
    width = max(len(hole) for hole in layout.walk) + 3
    lines += ["  " + "".join(hole.ljust(width) for hole in line) for line in layout.tray]
    lines.append(f"Walk: {' '.join(layout.walk)}")
    lines.append(f"Firing order: {'-'.join(str(c) for c in layout.firing_order)}")
    lines += [f"{name.capitalize()} fires {' '.join(h)}" for name, h in layout.ignition.items()]
    lines += [f"Rotation: {' > '.join([*loop, loop[0]])}" for loop in layout.rotation_loops()]
    drained = [hole for hole in layout.walk if hole in layout.drains_to]
    lines.append(f"Oil runs to {' '.join(drained)}" if drained else "Oil runs to no hole")
    for place, cylinders in layout.plan.items():
        lines.append(f"Plan, {place}: {', '.join(str(c) for c in cylinders)}")
    return lines


# An engine's plan


def plan_svg(layout: Layout, marks: Mapping[str, str], words: str) -> str:
    """The engine seen from above, or a radial from behind, with a mark on each part.

    ``marks`` are names of the page's mark symbols by cylinder (``cylinder:3``) and hole
    (``3T``); ``words`` say the same to who cannot see it.
    """
    parts, width, height = _plan(layout, marks)
    return _svg(width, height, "plan-view", words, parts)


def _plan(layout: Layout, marks: Mapping[str, str]) -> tuple[list[str], float, float]:
    if "round" in layout.plan:
        return _round_plan(layout, marks)
    return _case_plan(layout, marks)


def _mark(marks: Mapping[str, str], key: str, x: float, y: float, size: int = 24) -> str:
    if not marks.get(key):
        return ""
    return (
        f'<use href="#m-{escape(marks[key])}" x="{_n(x - size / 2)}" y="{_n(y - size / 2)}" '
        f'width="{size}" height="{size}"/>'
    )


def _case_plan(layout: Layout, marks: Mapping[str, str]) -> tuple[list[str], float, float]:
    """A crankcase down the middle with cylinders on one side or both, the propeller at the top."""
    right = list(layout.plan.get("right", ()))
    left = list(layout.plan.get("left", ()))
    line = list(layout.plan.get("line", () if layout.plan else layout.cylinders))
    pitch = 46.0 + 50 * len(layout.rows)
    tall = pitch - 14
    middle = 172.0
    stagger = 16.0 if left and right else 0.0
    case_h = max(len(right), len(left), len(line)) * pitch + stagger + 18
    parts = [
        '<path d="M32 16C82 8 122 8 150 13V21C122 26 82 26 32 18ZM312 16C262 8 222 8 194 13V21'
        'C222 26 262 26 312 18Z" class="drawn-thin"/>',
        '<rect x="140" y="8" width="64" height="18" rx="2" class="drawn-box"/>',
        '<path d="M157 26h30v22h-30Z" class="drawn-box"/>',
        f'<path d="M134 48h76l8 10v{_n(case_h)}l-12 12h-68l-12-12V58Z" class="drawn-box"/>',
        f'<path d="M{_n(middle)} 58v{_n(case_h)}" class="drawn-thin drawn-wire-1"/>',
    ]
    for number, cylinder in enumerate(right):
        parts += _barrel(layout, marks, cylinder, 1, 66 + number * pitch, tall)
    for number, cylinder in enumerate(left):
        parts += _barrel(layout, marks, cylinder, -1, 66 + stagger + number * pitch, tall)
    for number, cylinder in enumerate(line):
        parts += _barrel(layout, marks, cylinder, 1, 66 + number * pitch, tall)
    return parts, 344.0, 48 + case_h + 34


def _barrel(
    layout: Layout, marks: Mapping[str, str], cylinder: int, side: int, top: float, tall: float
) -> list[str]:
    """One cylinder lying out from the case: its fins, its own mark, and its holes on the head."""
    middle = 172.0

    def out(distance: float) -> float:
        return middle + side * distance

    def box(near: float, far: float, y: float, height: float, rx: int = 0) -> str:
        return (
            f'<rect x="{_n(min(out(near), out(far)))}" y="{_n(y)}" width="{_n(far - near)}" '
            f'height="{_n(height)}" rx="{rx}" class="drawn-box"/>'
        )

    centre = top + tall / 2
    parts = [box(46, 104, top + 10, tall - 20)]
    parts += [
        f'<path d="M{_n(out(53 + step * 7.3))} {_n(top + 4)}v{_n(tall - 8)}" class="drawn-thin"/>'
        for step in range(7)
    ]
    parts.append(box(104, 150, top, tall, 5))
    parts.append(box(50, 100, centre - 34, 68, 4))
    parts.append(_text(out(75), centre - 7, str(cylinder), "drawn-name"))
    parts.append(_mark(marks, f"cylinder:{cylinder}", out(75), centre + 15))
    share = tall / len(layout.rows)
    for number, row in enumerate(layout.rows):
        y = top + share * number
        parts.append(_text(out(127), y + 21, row.letter))
        parts.append(_mark(marks, f"{cylinder}{row.letter}", out(127), y + 40))
    return parts


def _round_plan(layout: Layout, marks: Mapping[str, str]) -> tuple[list[str], float, float]:
    """Cylinders round a case, the first upright, clockwise."""
    cylinders = layout.plan["round"]
    wide, tall = max(64.0, 30.0 * len(layout.rows) + 8), 86.0
    radius = max(128.0, len(cylinders) * 95.0 / (2 * pi) + 14)
    x, y = radius + wide / 2 + 4, radius + tall / 2 + 4
    inner = radius - tall / 2 - 12
    parts = [f'<circle cx="{_n(x)}" cy="{_n(y)}" r="{_n(inner)}" class="drawn-box"/>']
    parts.append(f'<circle cx="{_n(x)}" cy="{_n(y)}" r="16" class="drawn-pan"/>')
    for number, cylinder in enumerate(cylinders):
        turn = 2 * pi * number / len(cylinders)
        cx, cy = x + radius * sin(turn), y - radius * cos(turn)
        near_x, near_y = x + inner * sin(turn), y - inner * cos(turn)
        parts.append(f'<path d="M{_n(near_x)} {_n(near_y)}L{_n(cx)} {_n(cy)}" class="drawn-thin"/>')
        parts.append(
            f'<rect x="{_n(cx - wide / 2)}" y="{_n(cy - tall / 2)}" width="{_n(wide)}" '
            f'height="{_n(tall)}" rx="8" class="drawn-box"/>'
        )
        mark = _mark(marks, f"cylinder:{cylinder}", cx + 14, cy - 26)
        parts.append(_text(cx - 14 if mark else cx, cy - 18, str(cylinder), "drawn-name"))
        parts.append(mark)
        first = cx - 15.0 * (len(layout.rows) - 1)
        for place, row in enumerate(layout.rows):
            parts.append(_text(first + 30 * place, cy + 12, row.letter))
            parts.append(_mark(marks, f"{cylinder}{row.letter}", first + 30 * place, cy + 27, 22))
    return parts, 2 * x, 2 * y


# A cylinder's leak


def cylinder_svg(path: str, words: str) -> str:
    """A cylinder in section at top dead centre, with the way the air goes out marked.

    ``path`` is one of :data:`LEAK_PATHS`; any other draws no leak.
    """
    here = {name: " on" if name == path else "" for name in LEAK_PATHS}
    parts = [
        # head, barrel, crankcase
        '<path d="M92 40h176v64h-16v120h-144V104H92Z" class="cylinder-metal"/>',
        '<path d="M120 84h120v140H120Z" class="cylinder-room"/>',
        *[f'<path d="M92 {y}h16M252 {y}h16" class="cylinder-fin"/>' for y in range(118, 216, 14)],
        '<path d="M72 224h216v40a28 28 0 0 1-28 28H100a28 28 0 0 1-28-28Z" class="cylinder-metal"/>',
        '<path d="M120 224h120v46H120Z" class="cylinder-room"/>',
        # ports, intake left and exhaust right
        '<path d="M136 84V62H72V44h82v40ZM224 84V62h64V44h-82v40Z" class="cylinder-room"/>',
        '<path d="M130 86h34l-8-8h-18ZM196 86h34l-8-8h-18Z" class="cylinder-part"/>',
        '<path d="M147 78V30M213 78V30" class="cylinder-stem"/>',
        # plug, piston and rod
        '<path d="M172 40h16v46h-16Z" class="cylinder-part"/>',
        '<path d="M122 98h116v58H122Z" class="cylinder-part"/>',
        '<path d="M122 108h116M122 118h116M122 128h116" class="cylinder-ring"/>',
        '<path d="M180 146v110" class="cylinder-stem"/><circle cx="180" cy="146" r="7" class="cylinder-room"/>',
    ]
    ways = {
        "intake": ("M147 84V53H34", "M22 53l16-11v22Z", "Intake", -26, 84, "start"),
        "exhaust": ("M213 84V53H326", "M338 53l-16-11v22Z", "Exhaust", 386, 84, "end"),
        "plug hole": ("M180 92V20", "M180 4l-11 16h22Z", "Plug hole", 196, 18, "start"),
        "fins or head joint": (
            "M244 104H326",
            "M338 104l-16-11v22Z",
            "Head joint",
            386,
            136,
            "end",
        ),
        "breather": ("M124 100V246H34", "M22 246l16-11v22Z", "Breather", -26, 284, "start"),
    }
    for name, (line, tip, label, x, y, anchor) in ways.items():
        parts.append(f'<path d="{line}" class="cylinder-way{here[name]}"/>')
        if here[name]:
            parts.append(f'<path d="{tip}" class="cylinder-tip"/>')
        parts.append(_text(x, y, label, f"cylinder-label{here[name]}", anchor))
    moved = f'<g transform="translate(30 0)">{"".join(parts)}</g>'
    return _svg(420, 300, "cylinder", words, [moved])


# A call's scale

_SCALE_W = 288


def scale_svg(call: Call, floor: int | None = None) -> str:
    """The limit, the meter's band and the reading on one line; empty where there is no number.

    ``floor`` is the lower bound where it is another reading's, in base steps.
    """
    limit = call.limit_data
    if call.value is None or call.quantity is None or limit is None:
        return ""
    lower = floor if floor is not None else limit.lower
    upper = limit.upper
    if lower is None and upper is None:
        return ""
    quantity, value = call.quantity, float(call.value)
    band = (call.band.low, call.band.high) if call.band is not None else (value, value)
    known = [v for v in (lower, upper, value, *band) if v is not None]
    span = max(known) - min(known) or max(abs(value), 1.0)
    low, high = max(0.0, min(known) - span * 0.25), max(known) + span * 0.25

    def at(amount: float) -> float:
        return 8 + (amount - low) / (high - low) * (_SCALE_W - 16)

    good_from = at(lower) if lower is not None else 8.0
    good_to = at(upper) if upper is not None else _SCALE_W - 8.0
    parts = [
        f'<rect x="{_n(good_from)}" y="32" width="{_n(max(good_to - good_from, 1))}" height="10" '
        'class="scale-good"/>',
        f'<path d="M8 37H{_SCALE_W - 8}" class="axis"/>',
    ]
    if band[1] > band[0]:
        left, wide = at(band[0]), max(at(band[1]) - at(band[0]), 2)
        parts.append(
            f'<rect x="{_n(left)}" y="44" width="{_n(wide)}" height="12" class="scale-band"/>'
        )
    for bound in (lower, upper):
        if bound is not None:
            parts.append(f'<path d="M{_n(at(bound))} 26V60" class="limit-line"/>')
            parts.append(_label(at(bound), 20, show(bound, quantity), "label-text limit-text"))
    parts.append(f'<path d="M{_n(at(value))} 44l8 14h-16Z" class="pointer"/>')
    parts.append(_label(at(value), 78, call.reading, "label-text"))
    return _svg(_SCALE_W, 84, "scale-picture", _scale_words(call, quantity, lower), parts)


def _label(x: float, y: float, words: str, kind: str) -> str:
    """A label that stays on the picture."""
    half = len(words) * 5.4
    return _text(min(max(x, half + 2), _SCALE_W - half - 2), y, words, kind)


def _scale_words(call: Call, quantity: Quantity, lower: int | None) -> str:
    words = f"{call.label} {call.reading}; the limit is {call.limit}"
    if lower is not None and call.limit_data is not None and call.limit_data.floor:
        words = f"{call.label} {call.reading}; the floor of the day is {show(lower, quantity)}"
    if call.band_words:
        words += f"; the meter there means {call.band_words}"
    return f"{words}. {call.call}."


# A wrench with its adapter, and fasteners in their order

_WRENCH_W, _WRENCH_PAD = 340.0, 30.0


def wrench_svg(arm: float, adapter: float, angle: float, words: str) -> str:
    """A wrench from above, the hand at the right: its arm L, the adapter E and its angle.

    Lengths are in any one unit, ``angle`` in degrees from straight on. Drawn to scale, but for
    an adapter too short to see.
    """
    turn = angle * pi / 180
    reach = max(adapter * cos(turn), 0.0)
    back = max(-adapter * cos(turn) - arm * 1.12, 0.0)
    scale = (_WRENCH_W - 2 * _WRENCH_PAD) / (arm * 1.12 + reach + back)
    drawn = max(adapter * scale, 26.0) if adapter else 0.0
    up = drawn * abs(sin(turn))
    y = 64.0 + up
    x = _WRENCH_PAD + max(drawn * cos(turn), 0.0) + 8
    hand, end = x + arm * scale, x + arm * 1.12 * scale
    fx, fy = x - drawn * cos(turn), y - up
    parts = [
        f'<path d="M{_n(x)} {_n(y)}H{_n(end)}" class="wrench-bar"/>',
        f'<path d="M{_n(hand - 22)} {_n(y)}H{_n(end)}" class="wrench-grip"/>',
        f'<circle cx="{_n(x)}" cy="{_n(y)}" r="13" class="wrench-head"/>',
    ]
    if adapter:
        parts.insert(0, f'<path d="M{_n(x)} {_n(y)}L{_n(fx)} {_n(fy)}" class="wrench-adapter"/>')
        parts.append(f'<path d="{_hexagon(fx, fy, 15)}" class="wrench-nut"/>')
        name = f"E {adapter:g}" + (f" at {angle:g}°" if angle else "")
        if up < 20:
            parts.append(_text((x + fx) / 2, y - 26, name, "wrench-text"))
        else:
            parts.append(_text(max(x, fx) + 22, (y + fy) / 2 - 8, name, "wrench-text", "start"))
    else:
        parts.append(f'<path d="{_hexagon(x, y, 8)}" class="wrench-nut"/>')
    dim = y + 48
    for at in (x, hand):
        parts.append(f'<path d="M{_n(at)} {_n(y + 20)}V{_n(dim + 8)}" class="wrench-measure"/>')
    parts.append(f'<path d="M{_n(x)} {_n(dim)}H{_n(hand)}" class="wrench-measure"/>')
    parts.append(_text((x + hand) / 2, dim - 8, f"L {arm:g}", "wrench-text"))
    return _svg(_WRENCH_W, dim + 20, "wrench", words, parts)


def _hexagon(x: float, y: float, r: float) -> str:
    points = [(x + r * cos(k * pi / 3), y + r * sin(k * pi / 3)) for k in range(6)]
    return "M" + "L".join(f"{_n(a)} {_n(b)}" for a, b in points) + "Z"


def pattern_svg(pattern: str, order: Sequence[int], done: Collection[int], words: str) -> str:
    """Fasteners as they stand, each with its turn; those whose turn is in ``done`` are solid."""
    number = len(order)
    if pattern == "circle" and number > 1:
        size, ring = 260.0, 92.0
        places = [
            (
                size / 2 + ring * sin(2 * pi * k / number),
                size / 2 - ring * cos(2 * pi * k / number),
            )
            for k in range(number)
        ]
        width = height = size
        frame = f'<circle cx="{_n(size / 2)}" cy="{_n(size / 2)}" r="{_n(ring)}" class="pattern-frame"/>'
    elif pattern == "rows" and number > 1:
        half = (number + 1) // 2
        width, height = 40.0 + half * 84, 200.0
        places = [(62 + (k % half) * 84, 56.0 if k < half else 144.0) for k in range(number)]
        frame = f'<rect x="14" y="14" width="{_n(width - 28)}" height="172" rx="14" class="pattern-frame"/>'
    else:
        width, height, frame = 40.0 + number * 84, 110.0, ""
        places = [(62.0 + k * 84, 55.0) for k in range(number)]
    parts = [frame] if frame else []
    for turn, fastener in enumerate(order, start=1):
        x, y = places[fastener - 1]
        on = " on" if turn in done else ""
        parts.append(f'<circle cx="{_n(x)}" cy="{_n(y)}" r="27" class="pattern-turn{on}"/>')
        parts.append(_text(x, y + 9, str(turn), f"pattern-number{on}"))
    return _svg(width, height, "pattern", words, parts)
