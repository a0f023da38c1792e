"""Drawings as SVG text: a cylinder's leak, a call's scale, a wrench, fasteners in their order.

Pure functions of values. Shapes carry classes; a page colours them with its style sheet.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from math import cos, pi, sin

from rehang.trade.drawn.svg import short, svg, words_at
from rehang.trade.terms.quantities import Quantity, show
from rehang.trade.verdicts.calls import Call

__all__ = ["LEAK_PATHS", "cylinder_svg", "pattern_svg", "scale_svg", "wrench_svg"]

# Where the air of a differential compression check is heard: AC 43.13-1B, 8-14.
LEAK_PATHS = ("exhaust", "intake", "breather", "fins or head joint", "plug hole")


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
        parts.append(words_at(x, y, label, f"cylinder-label{here[name]}", anchor))
    moved = f'<g transform="translate(30 0)">{"".join(parts)}</g>'
    return svg(420, 300, "cylinder", words, [moved])


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
        f'<rect x="{short(good_from)}" y="32" width="{short(max(good_to - good_from, 1))}" height="10" '
        'class="scale-good"/>',
        f'<path d="M8 37H{_SCALE_W - 8}" class="axis"/>',
    ]
    if band[1] > band[0]:
        left, right = at(band[0]), max(at(band[1]), at(band[0]) + 2)
        parts.append(
            f'<path d="M{short(left)} 50H{short(right)}M{short(left)} 44v12M{short(right)} 44v12" '
            'class="meter-bar"/>'
        )
    for bound in (lower, upper):
        if bound is not None:
            parts.append(f'<path d="M{short(at(bound))} 26V60" class="limit-line"/>')
            parts.append(_label(at(bound), 20, show(bound, quantity), "label-text limit-text"))
    parts.append(f'<path d="M{short(at(value))} 44l8 14h-16Z" class="pointer"/>')
    parts.append(_label(at(value), 78, call.reading, "label-text"))
    return svg(_SCALE_W, 84, "scale-picture", _scale_words(call, quantity, lower), parts)


def _label(x: float, y: float, words: str, kind: str) -> str:
    """A label that stays on the picture."""
    half = len(words) * 5.4
    return words_at(min(max(x, half + 2), _SCALE_W - half - 2), y, words, kind)


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
        f'<path d="M{short(x)} {short(y)}H{short(end)}" class="wrench-bar"/>',
        f'<path d="M{short(hand - 22)} {short(y)}H{short(end)}" class="wrench-grip"/>',
        f'<circle cx="{short(x)}" cy="{short(y)}" r="13" class="wrench-head"/>',
    ]
    if adapter:
        parts.insert(
            0, f'<path d="M{short(x)} {short(y)}L{short(fx)} {short(fy)}" class="wrench-adapter"/>'
        )
        parts.append(f'<path d="{_hexagon(fx, fy, 15)}" class="wrench-nut"/>')
        name = f"E {adapter:g}" + (f" at {angle:g}°" if angle else "")
        if up < 20:
            parts.append(words_at((x + fx) / 2, y - 26, name, "wrench-text"))
        else:
            parts.append(words_at(max(x, fx) + 22, (y + fy) / 2 - 8, name, "wrench-text", "start"))
    else:
        parts.append(f'<path d="{_hexagon(x, y, 8)}" class="wrench-nut"/>')
    dim = y + 48
    for at in (x, hand):
        parts.append(
            f'<path d="M{short(at)} {short(y + 20)}V{short(dim + 8)}" class="wrench-measure"/>'
        )
    parts.append(f'<path d="M{short(x)} {short(dim)}H{short(hand)}" class="wrench-measure"/>')
    parts.append(words_at((x + hand) / 2, dim - 8, f"L {arm:g}", "wrench-text"))
    return svg(_WRENCH_W, dim + 20, "wrench", words, parts)


def _hexagon(x: float, y: float, r: float) -> str:
    points = [(x + r * cos(k * pi / 3), y + r * sin(k * pi / 3)) for k in range(6)]
    return "M" + "L".join(f"{short(a)} {short(b)}" for a, b in points) + "Z"


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
        frame = f'<circle cx="{short(size / 2)}" cy="{short(size / 2)}" r="{short(ring)}" class="pattern-frame"/>'
    elif pattern == "rows" and number > 1:
        half = (number + 1) // 2
        width, height = 40.0 + half * 84, 200.0
        places = [(62 + (k % half) * 84, 56.0 if k < half else 144.0) for k in range(number)]
        frame = f'<rect x="14" y="14" width="{short(width - 28)}" height="172" rx="14" class="pattern-frame"/>'
    else:
        width, height, frame = 40.0 + number * 84, 110.0, ""
        places = [(62.0 + k * 84, 55.0) for k in range(number)]
    parts = [frame] if frame else []
    for turn, fastener in enumerate(order, start=1):
        x, y = places[fastener - 1]
        on = " on" if turn in done else ""
        parts.append(f'<circle cx="{short(x)}" cy="{short(y)}" r="27" class="pattern-turn{on}"/>')
        parts.append(words_at(x, y + 9, str(turn), f"pattern-number{on}"))
    return svg(width, height, "pattern", words, parts)
