"""The scale above the pad: limit marks and a pointer along a line."""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from rehang.trade.facts.limits import Limit, limit_words
from rehang.trade.terms.quantities import Quantity, format_number

__all__ = [
    "Scale",
    "nice_step",
    "scale_of",
]

# The narrowest scale drawn, on a phone of 360 px, and a letter of a wide face at 18 px.
NARROW_PX, LETTER_PX = 258, 11.5


# The scale: limit marks and a pointer along a line


@dataclass(frozen=True, slots=True)
class Mark:
    """A place along a scale, as a share of its width, with what is written there."""

    at: str
    label: str = ""
    anchor: str = "middle"


@dataclass(frozen=True, slots=True)
class Scale:
    """A straight scale from ``low`` to ``high`` base steps with its limits."""

    low: int
    high: int
    ticks: tuple[str, ...]
    limits: tuple[Mark, ...]
    labels: tuple[Mark, ...]
    words: str
    low_label: str
    high_label: str


# The line is inset so that its end ticks are not cut off.
INSET = 0.02


def _share(value: float, low: float, high: float) -> float:
    inside = min(max((value - low) / (high - low), 0.0), 1.0)
    return INSET + inside * (1 - 2 * INSET)


def _percent(value: float, low: float, high: float) -> str:
    return f"{_share(value, low, high) * 100:.2f}%"


def nice_step(span: float) -> float:
    """A step of 1, 2 or 5 times a power of ten that cuts a span into about six."""
    rough = span / 6
    power = 10.0 ** math.floor(math.log10(rough))
    for factor in (1, 2, 5, 10):
        if rough <= factor * power:
            return factor * power
    return 10 * power


def scale_of(limit: Limit | None, quantity: Quantity | None) -> Scale | None:
    """The scale a reading is shown against; None without a numeric limit."""
    if limit is None or quantity is None:
        return None
    bounds = [float(b) for b in (limit.lower, limit.upper) if b is not None]
    if not bounds or max(bounds) <= 0:
        return None
    if len(bounds) == 2:
        room = max(bounds[1] - bounds[0], bounds[1] * 0.1) * 1.4
        low, high = max(bounds[0] - room, 0.0), bounds[1] + room
    else:
        low, high = 0.0, bounds[0] * (1.2 if limit.upper is not None else 2.0)
    step = nice_step(high - low)
    low = math.floor(low / step) * step
    high = math.ceil(high / step - 1e-9) * step
    count = round((high - low) / step)
    first, last = _share(bounds[0], low, high), _share(bounds[-1], low, high)
    number = _number_text(quantity)
    labels = _limit_labels(limit, bounds, first, last, number)
    return Scale(
        low=round(low),
        high=round(high),
        ticks=tuple(_percent(low + i * step, low, high) for i in range(count + 1)),
        limits=tuple(Mark(_percent(b, low, high)) for b in bounds),
        labels=labels,
        words=f"Limit {limit_words(limit)}",
        low_label="" if labels[0].anchor == "end" else number(low),
        high_label="" if labels[-1].anchor == "start" else number(high),
    )


def _limit_labels(
    limit: Limit, bounds: list[float], first: float, last: float, number: Any
) -> tuple[Mark, ...]:
    """What is written at the limits: outwards of two, on the roomier side of one."""
    left, right = f"{(first - 0.02) * 100:.2f}%", f"{(last + 0.02) * 100:.2f}%"
    if len(bounds) == 2:
        return (
            Mark(left, f"LIMIT {number(bounds[0])}", "end"),
            Mark(right, number(bounds[1]), "start"),
        )
    words = f"{number(bounds[0])} or {'less' if limit.upper is not None else 'more'}"
    room = max(first, 1 - last) * NARROW_PX
    if LETTER_PX * len(f"LIMIT {words}") <= room:
        words = f"LIMIT {words}"
    return (Mark(left, words, "end") if first >= 1 - last else Mark(right, words, "start"),)


def _number_text(quantity: Quantity) -> Any:
    """A function from base steps to the bare number as keyed, without a point where whole."""
    steps = quantity.units[quantity.keyed]

    def text(base: float) -> str:
        number = Decimal(repr(float(base))) / steps
        whole = number == number.to_integral_value()
        return format_number(number, 0 if whole else quantity.keyed_decimals)

    return text
