"""A reading's band between its limits, drawn along a line or on a meter's dial."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.meters import Band, Meter
from rehang.trade.terms.quantities import show
from rehang.trade.verdicts.calls import Call
from rehang.web.tray.scale import nice_step
from rehang.web.tray.words import bare_number

__all__ = [
    "BandPicture",
    "picture_of",
]


# The dial, and below it a line of type for the limit between what the needle may mean.
_DIAL_HIGH = 152


@dataclass(frozen=True, slots=True)
class OhmDial:
    """An ohmmeter's arc with its needle and the wedge that the needle may mean."""

    arc: str
    ticks: tuple[str, ...]
    labels: tuple[tuple[str, str, str], ...]
    wedge: str
    needle: str
    hub_x: str
    hub_y: str
    name: str
    name_x: str
    name_y: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class BandPicture:
    """The scale picture at one width: the band hatched, the limits, the pointer; a dial above."""

    width: int
    height: int
    top: int
    axis_y: int
    ticks: tuple[str, ...]
    band_x: str
    band_width: str
    band_y: int
    limits: tuple[tuple[str, str, str, str], ...]
    pointer_x: str
    value: str
    low_label: tuple[str, str, str]
    high_label: tuple[str, str, str]
    label_y: int
    dial: OhmDial | None


# The picture


def picture_of(call: Call, facts: JobFacts, width: int) -> BandPicture | None:
    """The straight scale with band, limits and pointer; under an ohmmeter's dial if it is one."""
    quantity, band, limit = call.quantity, call.band, call.limit_data
    if quantity is None or band is None or call.value is None:
        return None
    meter = facts.meters.get(call.meter)
    bounds = [float(b) for b in (limit.lower, limit.upper) if b is not None] if limit else []
    low, high, step = _ends(band, float(call.value), bounds)
    left, right = 8.0, width - 16.0

    def x(value: float) -> float:
        return left + min(max((value - low) / (high - low), 0.0), 1.0) * (right - left)

    dial = None
    top = 0
    if band.shape == "arc" and meter is not None:
        dial, top = _dial(call, band, meter, width, x), _DIAL_HIGH
    band_y = top + 30
    axis_y = band_y + 14
    label_y = axis_y + 32
    band_high = band.high if math.isfinite(band.high) else high
    number = bare_number(quantity)
    limits = []
    for index, bound in enumerate(bounds):
        at = x(bound)
        # Labels stand outwards of two limits and inwards of one near the right end.
        left_side = (len(bounds) == 2 and index == 0) or (len(bounds) == 1 and at > width - 110)
        anchor = "end" if left_side else "start"
        label = f"LIMIT {number(bound)}" if len(bounds) == 1 else number(bound)
        limits.append((f"{at:.1f}", label, f"{at + (-8 if left_side else 8):.1f}", anchor))
    value_text = number(call.value)
    px = x(call.value)
    low_x, high_x = x(max(band.low, 0.0)), x(band_high)
    unit = show(call.value, quantity).rsplit(" ", 1)[1]
    high_text = f"{number(band_high)} {unit}" if math.isfinite(band.high) else f"∞ {unit}"
    low_label, high_label = _end_labels(
        (low_x, number(max(band.low, 0.0))), (px, value_text), (high_x, high_text.strip()), width
    )
    count = round((high - low) / step)
    return BandPicture(
        width=width,
        height=label_y + 8,
        top=top,
        axis_y=axis_y,
        ticks=tuple(f"{x(low + i * step):.1f}" for i in range(count + 1)),
        band_x=f"{low_x:.1f}",
        band_width=f"{max(high_x - low_x, 3):.1f}",
        band_y=band_y,
        limits=tuple(limits),
        pointer_x=f"{px:.1f}",
        value=value_text,
        low_label=low_label,
        high_label=high_label,
        label_y=label_y,
        dial=dial,
    )


def _ends(band: Band, value: float, bounds: Sequence[float]) -> tuple[float, float, float]:
    """Both ends of the scale, on whole steps, and the step."""
    ends = [max(band.low, 0.0), value, *bounds]
    ends.append(band.high if math.isfinite(band.high) else max(ends) * 3)
    span = max(ends) - min(ends) or max(ends) * 0.1 or 1.0
    # A narrow band at the end leaves room for its label beside the pointer's number.
    narrow = band.high - band.low < span * 0.3
    low, high = max(min(ends) - span * 0.12, 0.0), max(ends) + span * (0.4 if narrow else 0.06)
    if low < span * 0.4:
        low = 0.0
    step = nice_step((high - low) * 0.6)
    return math.floor(low / step) * step, math.ceil(high / step) * step, step


def _end_labels(
    low: tuple[float, str], value: tuple[float, str], high: tuple[float, str], width: int
) -> tuple[tuple[str, str, str], tuple[str, str, str]]:
    """Where the numbers of the band's ends stand: place, text and anchor of each.

    Labels that would touch the pointer's number step aside, and none is left out.
    """
    (low_x, low_text), (px, value_text), (high_x, high_text) = low, value, high
    room = 5 + _wide(value_text) / 2
    low_at, low_anchor = low_x, "middle"
    if low_x + _wide(low_text) / 2 > px - room:
        low_at, low_anchor = max(px - room - 5, _wide(low_text)), "end"
    high_at, high_anchor = high_x, "middle"
    if high_x + _wide(high_text) / 2 > width - 2:
        high_at, high_anchor = width - 2.0, "end"
    if high_anchor == "middle" and high_x - _wide(high_text) / 2 < px + room:
        high_at, high_anchor = px + room + 4, "start"
    if low_text == value_text:
        low_text = ""
    return (f"{low_at:.1f}", low_text, low_anchor), (f"{high_at:.1f}", high_text, high_anchor)


def _wide(text: str) -> float:
    """How wide figures are at 18 px: 10.5 px each, a point half of it."""
    return sum(5.0 if one in ".," else 10.5 for one in text)


class _Arc:
    """The arc of an ohmmeter, from infinity on the left to 0 on the right, in pixels."""

    spread = math.radians(62)

    def __init__(self, cx: float, cy: float) -> None:
        self.cx, self.cy = cx, cy

    def point(self, f: float, r: float) -> tuple[float, float]:
        angle = -self.spread + 2 * self.spread * f
        return self.cx + r * math.sin(angle), self.cy - r * math.cos(angle)

    def tick(self, f: float, r: float) -> str:
        (x1, y1), (x2, y2) = self.point(f, r), self.point(f, r - 9)
        return f"M{x1:.1f} {y1:.1f}L{x2:.1f} {y2:.1f}"

    def along(self, f1: float, f2: float, r: float) -> str:
        (x1, y1), (x2, y2) = self.point(f1, r), self.point(f2, r)
        return f"M{x1:.1f} {y1:.1f}A{r:g} {r:g} 0 0 1 {x2:.1f} {y2:.1f}"


def _dial(call: Call, band: Band, meter: Meter, width: int, x: Callable[[float], float]) -> OhmDial:
    """The arc of an ohmmeter: rest at infinity on the left, 0 on the right.

    The needle stands at f = 1 / (1 + R / Rmid) of the arc, by the scale law of a series
    ohmmeter.
    """
    assert call.value is not None
    one = meter.range(call.taken.fields.range if call.taken is not None else "")
    factor = float(one.factor) if one is not None else 1.0
    mid = band.mid_scale
    radius = 124.0
    scale = _Arc(width / 2, 150.0)
    point = scale.point

    def at(ohms: float) -> float:
        return 1 / (1 + ohms / mid)

    ticks = [
        scale.tick(at(share * mid / 2), radius) for share in (0.0, 0.2, 0.5, 1, 2, 5, 10, 20, 50)
    ]
    ticks.append(scale.tick(0, radius))
    labels = []
    for share, text in ((0.0, "0"), (0.25, ""), (0.5, ""), (1.0, ""), (2.5, ""), (math.inf, "∞")):
        f = 0.0 if math.isinf(share) else at(share * mid)
        lx, ly = point(f, radius + 15)
        on_face = text or f"{share * mid / factor:g}"
        labels.append((f"{lx:.1f}", f"{ly + 6:.1f}", on_face))
    # The hub is drawn half way up so that the scale below can stand close.
    hub_r = 46.0
    f = at(call.value)
    arc = band.arc
    f_low, f_high = max(f - arc, 0.0), min(f + arc, 1.0)
    (ax, ay), (bx, by) = point(f_low, hub_r), point(f_low, radius)
    (ex, ey), (dx, dy) = point(f_high, radius), point(f_high, hub_r)
    wedge = (
        f"M{ax:.1f} {ay:.1f}L{bx:.1f} {by:.1f}"
        f"A{radius:g} {radius:g} 0 0 1 {ex:.1f} {ey:.1f}L{dx:.1f} {dy:.1f}"
        f"A{hub_r:g} {hub_r:g} 0 0 0 {ax:.1f} {ay:.1f}Z"
    )
    (nx, ny), (hx, hy) = point(f, radius - 2), point(f, hub_r - 8)
    name_x, name_y = point(0.5, 62)
    high = band.high if math.isfinite(band.high) else 1e12
    lines = (
        f"M{ax:.1f} {ay:.1f}L{x(high):.1f} {_DIAL_HIGH + 30}",
        f"M{dx:.1f} {dy:.1f}L{x(max(band.low, 0)):.1f} {_DIAL_HIGH + 30}",
    )
    return OhmDial(
        arc=scale.along(0, 1, radius),
        ticks=tuple(ticks),
        labels=tuple(labels),
        wedge=wedge,
        needle=f"M{hx:.1f} {hy:.1f}L{nx:.1f} {ny:.1f}",
        hub_x=f"{hx:.1f}",
        hub_y=f"{hy:.1f}",
        name=f"{meter.id} on {one.name}" if one is not None else meter.id,
        name_x=f"{name_x:.1f}",
        name_y=f"{name_y:.1f}",
        lines=lines,
    )
