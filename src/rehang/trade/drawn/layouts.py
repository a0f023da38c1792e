"""Drawings of an engine's layout: its whole sheet, its plan, its tray and its firing order.

Pure functions of values. Shapes carry classes; a page colours them with its style sheet. A
drawing that is to stand alone in a file carries its own styles (:func:`layout_svg`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape
from itertools import pairwise
from math import atan2, cos, pi, sin

from rehang.trade.drawn.svg import arrow, short, svg, words_at
from rehang.trade.facts.layout import Layout

__all__ = [
    "Beside",
    "layout_svg",
    "layout_text",
    "outline_svg",
    "outline_words",
    "plan_svg",
    "tray_svg",
]

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
    parts.append(words_at(24, 44, layout.title, "drawn-title", "start"))
    parts.append(words_at(24, 72, f"Source: {layout.source}", anchor="start"))
    y = 112.0
    parts.append(words_at(24, y, "Tray", "drawn-head", "start"))
    tray, height = _tray(layout, 24, y + 14)
    parts += tray
    y += 14 + height + 28
    for number, name in enumerate(layout.ignition):
        parts.append(
            f'<rect x="24" y="{short(y - 16)}" width="40" height="22" rx="4" '
            f'class="drawn-box drawn-wire-{number}"/>'
        )
        held = ", ".join(layout.ignition[name])
        for row, line in enumerate(_lines(f"{name} fires {held}", wide)):
            parts.append(words_at(76, y + row * 22, line, anchor="start"))
            y += 22 if row else 0
        y += 32
    parts.append(words_at(44, y, "1"))
    parts.append(words_at(76, y, "place in the walk", anchor="start"))
    y += 32
    if layout.drains_to:
        parts.append(_drop(44, y - 6))
        drained = ", ".join(h for h in layout.walk if h in layout.drains_to)
        for row, line in enumerate(_lines(f"oil runs to {drained}", wide)):
            parts.append(words_at(76, y + row * 22, line, anchor="start"))
            y += 22 if row else 0
        y += 32
    y += 16
    parts.append(words_at(24, y, "Rotation: where each plug goes", "drawn-head", "start"))
    y += 14
    for loop in loops:
        drawn, y = _loop(loop, 40, y)
        parts += drawn
    right = left_w + 72
    ring_y = 112.0
    parts.append(words_at(right, ring_y, "Firing order", "drawn-head", "start"))
    parts += _ring(layout.firing_order, right + side_w / 2, ring_y + 34 + ring_r, ring_r)
    plan_y = ring_y + 2 * ring_r + 92
    parts.append(words_at(right, plan_y, _plan_words(layout), "drawn-head", "start"))
    at_x, at_y = short(right + (side_w - plan_w) / 2), short(plan_y + 16)
    parts.append(f'<g transform="translate({at_x} {at_y})">{"".join(plan)}</g>')
    height = max(y, plan_y + 16 + plan_h) + 24
    width = right + side_w + 24
    back = f'<rect width="{short(width)}" height="{short(height)}" fill="#FFFFFF"/>'
    return svg(width, height, "dr", layout.title, [parts[0], back, *parts[1:]])


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
        f'<rect x="{short(x)}" y="{short(y)}" width="{width}" height="{height}" rx="8" class="drawn-pan"/>'
    ]
    sources = list(layout.ignition)
    steps = {hole: number for number, hole in enumerate(layout.walk, start=1)}
    for row, line in enumerate(layout.tray):
        for column, hole in enumerate(line):
            left = x + _GAP + column * (_HOLE_W + _GAP)
            top = y + _GAP + row * (_HOLE_H + _GAP)
            wire = sources.index(layout.magneto_of(hole))
            parts.append(
                f'<rect x="{short(left)}" y="{short(top)}" width="{_HOLE_W}" height="{_HOLE_H}" rx="8" '
                f'class="drawn-box drawn-wire-{wire}"/>'
            )
            parts.append(words_at(left + _HOLE_W / 2, top + 42, hole, "drawn-name"))
            parts.append(words_at(left + 9, top + 21, str(steps[hole]), anchor="start"))
            if hole in layout.drains_to:
                parts.append(_drop(left + _HOLE_W - 16, top + 17))
    return parts, float(height)


def _drop(x: float, y: float) -> str:
    return (
        f'<path d="M{short(x)} {short(y - 11)}c5 8 7 10 7 14a7 7 0 0 1-14 0c0-4 2-6 7-14Z" '
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
            f'<rect x="{short(left)}" y="{short(top)}" width="50" height="36" rx="6" class="drawn-box"/>'
        )
        parts.append(words_at(left + 25, top + 26, hole, "drawn-head"))
        if number + 1 < len(loop) and column + 1 < per_line:
            parts.append(arrow(left + 53, top + 18, left + step - 3, top + 18))
        elif number + 1 < len(loop):
            down = top + 46
            parts.append(
                f'<path d="M{short(left + 25)} {short(top + 36)}V{short(down)}H{short(x + 25)}" class="drawn-line"/>'
            )
            parts.append(arrow(x + 25, down, x + 25, top + 63))
    rows = (len(loop) - 1) // per_line + 1
    last_row, last_column = divmod(len(loop) - 1, per_line)
    end, base = x + last_column * step + 25, y + last_row * 64 + 36
    down = y + rows * 64 - 16
    parts.append(
        f'<path d="M{short(end)} {short(base)}V{short(down)}H{short(x - 12)}V{short(y + 18)}" class="drawn-thin"/>'
    )
    parts.append(arrow(x - 12, y + 18, x - 3, y + 18, "drawn-thin"))
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
        parts.append(arrow(x1 + dx, y1 + dy, x2 - dx, y2 - dy))
    for number, (cx, cy) in zip(order, places, strict=True):
        parts.append(f'<circle cx="{short(cx)}" cy="{short(cy)}" r="21" class="drawn-box"/>')
        parts.append(words_at(cx, cy + 8, str(number), "drawn-name"))
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


@dataclass(frozen=True, slots=True)
class Beside:
    """What hangs on an engine beside its cylinders: a ``box``, a ``can`` or a ``pipe``."""

    shape: str
    label: str
    mark: str


def plan_svg(
    layout: Layout, marks: Mapping[str, str], words: str, beside: Sequence[Beside] = ()
) -> str:
    """The engine seen from above, or a radial from behind, with a mark on each part.

    ``marks`` are names of the page's mark symbols by cylinder (``cylinder:3``) and hole
    (``3T``); ``words`` say the same to who cannot see it. What is ``beside`` stands behind it.
    """
    parts, width, height = _plan(layout, marks)
    for shape in ("box", "can", "pipe"):
        held = [one for one in beside if one.shape == shape]
        each = 2 if shape != "pipe" else 1
        for row in (held[at : at + each] for at in range(0, len(held), each)):
            parts += [
                _hung(one, width * (2 * n + 1) / (2 * len(row)), height)
                for n, one in enumerate(row)
            ]
            height += 60 if shape == "pipe" else 76
    return svg(width, height, "plan-view", words, parts)


def _hung(one: Beside, x: float, top: float) -> str:
    """One thing beside the engine, its name under it or in it."""
    if one.shape == "pipe":
        half = 46 + len(one.label) * 5.5
        held = (
            f'<rect x="{short(x - half)}" y="{short(top + 4)}" width="{short(2 * half)}" height="44" '
            'rx="22" class="drawn-box"/>'
        )
        return (
            held
            + _mark({"": one.mark}, "", x - half + 28, top + 26)
            + words_at(x + 12, top + 32, one.label)
        )
    held = f'<rect x="{short(x - 30)}" y="{short(top)}" width="60" height="46" rx="4" class="drawn-box"/>'
    if one.shape == "can":
        held = f'<circle cx="{short(x)}" cy="{short(top + 24)}" r="23" class="drawn-box"/>'
    return held + _mark({"": one.mark}, "", x, top + 23) + words_at(x, top + 66, one.label)


def _plan(layout: Layout, marks: Mapping[str, str]) -> tuple[list[str], float, float]:
    if "round" in layout.plan:
        return _round_plan(layout, marks)
    return _case_plan(layout, marks)


def _mark(marks: Mapping[str, str], key: str, x: float, y: float, size: int = 24) -> str:
    if not marks.get(key):
        return ""
    return (
        f'<use href="#m-{escape(marks[key])}" x="{short(x - size / 2)}" y="{short(y - size / 2)}" '
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
        f'<path d="M134 48h76l8 10v{short(case_h)}l-12 12h-68l-12-12V58Z" class="drawn-box"/>',
        f'<path d="M{short(middle)} 58v{short(case_h)}" class="drawn-thin drawn-wire-1"/>',
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
            f'<rect x="{short(min(out(near), out(far)))}" y="{short(y)}" width="{short(far - near)}" '
            f'height="{short(height)}" rx="{rx}" class="drawn-box"/>'
        )

    centre = top + tall / 2
    parts = [box(46, 104, top + 10, tall - 20)]
    parts += [
        f'<path d="M{short(out(53 + step * 7.3))} {short(top + 4)}v{short(tall - 8)}" class="drawn-thin"/>'
        for step in range(7)
    ]
    parts.append(box(104, 150, top, tall, 5))
    parts.append(box(50, 100, centre - 34, 68, 4))
    parts.append(words_at(out(75), centre - 7, str(cylinder), "drawn-name"))
    parts.append(_mark(marks, f"cylinder:{cylinder}", out(75), centre + 15))
    share = tall / len(layout.rows)
    for number, row in enumerate(layout.rows):
        y = top + share * number
        parts.append(words_at(out(127), y + 21, row.letter))
        parts.append(_mark(marks, f"{cylinder}{row.letter}", out(127), y + 40))
    return parts


def _round_plan(layout: Layout, marks: Mapping[str, str]) -> tuple[list[str], float, float]:
    """Cylinders round a case, the first upright, clockwise; two rows by turns one below the other.

    More than eleven, an even number, stand in two rows: a row of a four-stroke is odd (from memory).
    """
    cylinders = layout.plan["round"]
    turns = {c: 2 * pi * at / len(cylinders) for at, c in enumerate(cylinders)}
    two = len(cylinders) > 11 and len(cylinders) % 2 == 0
    parts: list[str] = []
    width = height = 0.0
    for row in (cylinders[::2], cylinders[1::2]) if two else (cylinders,):
        drawn, width, tall = _round_row(layout, marks, {c: turns[c] for c in row})
        parts.append(f'<g transform="translate(0 {short(height)})">{"".join(drawn)}</g>')
        height += tall + 8
    return parts, width, height - 8


def _round_row(
    layout: Layout, marks: Mapping[str, str], turns: Mapping[int, float]
) -> tuple[list[str], float, float]:
    wide, tall = max(64.0, 30.0 * len(layout.rows) + 8), 86.0
    radius = max(128.0, len(turns) * 95.0 / (2 * pi) + 14)
    x, y = radius + wide / 2 + 4, radius + tall / 2 + 4
    inner = radius - tall / 2 - 12
    parts = [f'<circle cx="{short(x)}" cy="{short(y)}" r="{short(inner)}" class="drawn-box"/>']
    parts.append(f'<circle cx="{short(x)}" cy="{short(y)}" r="16" class="drawn-pan"/>')
    for cylinder, turn in turns.items():
        cx, cy = x + radius * sin(turn), y - radius * cos(turn)
        near_x, near_y = x + inner * sin(turn), y - inner * cos(turn)
        parts.append(
            f'<path d="M{short(near_x)} {short(near_y)}L{short(cx)} {short(cy)}" class="drawn-thin"/>'
        )
        parts.append(
            f'<rect x="{short(cx - wide / 2)}" y="{short(cy - tall / 2)}" width="{short(wide)}" '
            f'height="{short(tall)}" rx="8" class="drawn-box"/>'
        )
        mark = _mark(marks, f"cylinder:{cylinder}", cx + 14, cy - 26)
        parts.append(words_at(cx - 14 if mark else cx, cy - 18, str(cylinder), "drawn-name"))
        parts.append(mark)
        first = cx - 15.0 * (len(layout.rows) - 1)
        for place, row in enumerate(layout.rows):
            parts.append(words_at(first + 30 * place, cy + 12, row.letter))
            parts.append(_mark(marks, f"{cylinder}{row.letter}", first + 30 * place, cy + 27, 22))
    return parts, 2 * x, 2 * y


# A layout in little: to pick it by, and to see what was answered

_BOX_W, _BOX_H = 52, 36


def outline_svg(layout: Layout, words: str) -> str:
    """How the cylinders stand, with their numbers and a drop on each that oil can lock.

    From where it is seen is in :func:`outline_words`.
    """
    if "round" in layout.plan:
        parts, width, height = _round_outline(layout)
    elif layout.plan.keys() & {"left", "right"}:
        parts, width, height = _bank_outline(layout)
    else:
        parts, width, height = _line_outline(layout)
    return svg(width, height, "outline", words, parts)


def outline_words(layout: Layout) -> str:
    """From where the drawing of :func:`outline_svg` is seen."""
    if "round" in layout.plan:
        return "Seen from behind."
    if layout.plan.keys() & {"left", "right"}:
        return "Seen from above, propeller at the top."
    return "Seen from the side, propeller on the left."


def _numbered(layout: Layout, cylinder: int, x: float, y: float) -> str:
    """A cylinder as a box about its middle."""
    locks = cylinder in {layout.cylinder_of(hole) for hole in layout.locks}
    drop = f'<g transform="translate({short(x + 17)} {short(y)}) scale(0.7)">{_drop(0, 0)}</g>'
    return (
        f'<rect x="{short(x - _BOX_W / 2)}" y="{short(y - _BOX_H / 2)}" width="{_BOX_W}" '
        f'height="{_BOX_H}" rx="6" class="drawn-box"/>'
        + words_at(x - 7 if locks else x, y + 8, str(cylinder), "drawn-name")
        + (drop if locks else "")
    )


def _bank_outline(layout: Layout) -> tuple[list[str], float, float]:
    right, left = layout.plan.get("right", ()), layout.plan.get("left", ())
    pitch, top, middle = _BOX_H + 6, 34.0, 82.0
    stagger = 12.0 if left and right else 0.0
    case = max(len(right), len(left)) * pitch + stagger + 4
    parts = [
        f'<path d="M22 10H142M{short(middle)} 10V{short(top)}" class="drawn-line"/>',
        f'<rect x="66" y="{short(top - 8)}" width="32" height="{short(case + 10)}" rx="8" class="drawn-pan"/>',
    ]
    for side, held, down in ((1, right, 0.0), (-1, left, stagger)):
        for place, cylinder in enumerate(held):
            y = top + down + place * pitch + _BOX_H / 2
            parts.append(_numbered(layout, cylinder, middle + side * (16 + _BOX_W / 2 + 4), y))
    return parts, 2 * middle, top + case + 8


def _line_outline(layout: Layout) -> tuple[list[str], float, float]:
    cylinders = layout.plan.get("line", layout.cylinders)
    hang = len({layout.cylinder_of(hole) for hole in layout.locks}) == len(cylinders)
    width = len(cylinders) * (_BOX_W + 6) + 10
    case, heads = (26.0, 78.0) if hang else (78.0, 26.0)
    parts = [
        f'<path d="M10 {short(case - 26)}V{short(case + 26)}M10 {short(case)}H28" class="drawn-line"/>',
        f'<rect x="26" y="{short(case - 14)}" width="{width}" height="28" rx="8" class="drawn-pan"/>',
    ]
    for place, cylinder in enumerate(cylinders):
        x = 34 + place * (_BOX_W + 6) + _BOX_W / 2
        near = case + 14 if hang else case - 14
        parts.append(f'<path d="M{short(x)} {short(near)}V{short(heads)}" class="drawn-line"/>')
        parts.append(_numbered(layout, cylinder, x, heads))
    return parts, width + 30.0, 106.0


def _round_outline(layout: Layout) -> tuple[list[str], float, float]:
    cylinders = layout.plan["round"]
    radius = max(56.0, len(cylinders) * (_BOX_W + 5) / (2 * pi))
    x, y = radius + _BOX_W / 2 + 4, radius + _BOX_H / 2 + 4
    parts = [
        f'<circle cx="{short(x)}" cy="{short(y)}" r="{short(radius - 26)}" class="drawn-pan"/>',
        f'<circle cx="{short(x)}" cy="{short(y)}" r="6" class="drawn-solid"/>',
    ]
    for place, cylinder in enumerate(cylinders):
        turn = 2 * pi * place / len(cylinders)
        parts.append(_numbered(layout, cylinder, x + radius * sin(turn), y - radius * cos(turn)))
    return parts, 2 * x, 2 * y


def tray_svg(layout: Layout, words: str) -> str:
    """The tray as it lies, each hole with the first letter of what fires it and a drop for oil."""
    wide, tall, gap = 56, 60, 4
    sources = list(layout.ignition)
    parts = []
    for row, line in enumerate(layout.tray):
        for column, hole in enumerate(line):
            x, y = gap + column * (wide + gap), gap + row * (tall + gap)
            wire = sources.index(layout.magneto_of(hole))
            parts.append(
                f'<rect x="{x}" y="{y}" width="{wide}" height="{tall}" rx="7" '
                f'class="drawn-box drawn-wire-{wire}"/>'
            )
            parts.append(words_at(x + wide / 2, y + 26, hole, "drawn-name"))
            if len(sources) > 1:
                parts.append(words_at(x + 15, y + 50, sources[wire][:1].upper()))
            if hole in layout.drains_to:
                parts.append(_drop(x + wide - 14, y + 44))
    width = gap + max(len(line) for line in layout.tray) * (wide + gap)
    height = gap + len(layout.tray) * (tall + gap)
    back = f'<rect width="{width}" height="{height}" rx="8" class="drawn-pan"/>'
    return svg(width, height, "tray-view", words, [back, *parts])
