"""One reading judged alone: the formulas of `conformity` for plain numbers, without arrays.

A call on single numbers costs many times its arithmetic when they pass through arrays first.
Each function gives None for what it does not take; the way of the arrays then refuses it in a
sentence, or answers.
"""

from __future__ import annotations

import sys
from math import erfc, exp, inf, isfinite, pi, sqrt

from numpy.typing import ArrayLike

ROOT_HALF = sqrt(0.5)
DENSITY = 1.0 / sqrt(2.0 * pi)
EPSILON = sys.float_info.epsilon
# Neither True nor a number of numpy's, which may be an array.
PLAIN = frozenset({float, int})


def numbers(*values: ArrayLike) -> tuple[float, ...] | None:
    """The values as floats where each is a plain number, else None."""
    if not PLAIN.issuperset(map(type, values)):
        return None
    return tuple(map(float, values))  # type: ignore[arg-type]


def are_limits(lower: float, upper: float) -> bool:
    return -inf <= lower <= upper <= inf and lower < inf and upper > -inf


def inside_normal(y: float, u: float, lower: float, upper: float) -> float | None:
    if not (isfinite(y) and 0.0 < u < inf and are_limits(lower, upper)):
        return None
    a, b = (lower - y) / u, (upper - y) / u
    if a > 0.0:
        # Both above the middle: from the small tails.
        a, b = -b, -a
    return max(0.5 * erfc(-b * ROOT_HALF) - 0.5 * erfc(-a * ROOT_HALF), 0.0)


def inside_uniform(low: float, high: float, lower: float, upper: float) -> float | None:
    if not (-inf < low < high < inf and are_limits(lower, upper)):
        return None
    inside = min(high, upper) - max(low, lower)
    return min(max(inside / (high - low), 0.0), 1.0)


def inside_trapezoid(y: float, a: float, d: float, lower: float, upper: float) -> float | None:
    half_step = d / 2.0
    outer = a + half_step
    if not (isfinite(y) and a >= 0.0 and half_step >= 0.0 and 0.0 < outer < inf):
        return None
    if not are_limits(lower, upper):
        return None
    wide, narrow = max(a, half_step) / outer, min(a, half_step) / outer
    inner = wide - narrow
    from_ = min(max((lower - y) / outer, -1.0), 1.0)
    to = min(max((upper - y) / outer, -1.0), 1.0)
    p = max(min(to, inner) - max(from_, -inner), 0.0) / (2.0 * wide)
    if narrow > 0.0:
        p += _ramp(max(from_, inner), to) / (8.0 * wide * narrow)
        p += _ramp(max(-to, inner), -from_) / (8.0 * wide * narrow)
    return min(max(p, 0.0), 1.0)


def _ramp(from_: float, to: float) -> float:
    return max(to - from_, 0.0) * ((1.0 - from_) + (1.0 - to))


def inside_blurred(
    y: float, a: float, d: float, u: float, lower: float, upper: float
) -> float | None:
    """Two rectangles and a normal, checked; None where rounding could show in the 13th digit.

    The closed form takes differences of near numbers, which is harmless for most readings.
    """
    low, high = lower - y, upper - y
    if low <= 0.0 <= high:
        under, off_under = _below(low, a, d / 2.0, u)
        over, off_over = _below(-high, a, d / 2.0, u)
        p, off = 1.0 - under - over, EPSILON + off_under + off_over
    else:
        near, far = (high, low) if high < 0.0 else (-low, -high)
        inside, off_inside = _below(near, a, d / 2.0, u)
        beyond, off_beyond = _below(far, a, d / 2.0, u)
        p, off = inside - beyond, off_inside + off_beyond
    # Far below that a tail loses digits as it runs out of exponents.
    return p if off <= 1e-13 * p and p > 1e-290 else None


def _below(x: float, a: float, half_step: float, u: float) -> tuple[float, float]:
    """Chance below a place under the middle, and how far off rounding may leave it."""
    if x == -inf:
        return 0.0, 0.0
    wide, narrow = max(a, half_step), min(a, half_step)
    if narrow == 0.0:
        return _blurred_rectangle(x, wide, u)
    first, second = (x + wide + narrow) / u, (x + wide - narrow) / u
    # Where the antiderivative is not near 0 it is its mirror image and a square; two squares are
    # subtracted as a product.
    square = 0.0
    if second > 0.0:
        square = 4.0 * narrow / u * ((x + wide) / u)
    elif first > 0.0:
        square = first * first + 1.0
    total, off = square, square
    for z, sign in (
        (first, -1.0 if first > 0.0 else 1.0),
        (second, 1.0 if second > 0.0 else -1.0),
        ((x - wide + narrow) / u, -1.0),
        ((x - wide - narrow) / u, 1.0),
    ):
        value, size = _second(-abs(z))
        total += sign * value
        off += size
    scale = u / wide * (u / narrow) / 8.0
    return scale * total, 4.0 * EPSILON * scale * off


def _blurred_rectangle(x: float, wide: float, u: float) -> tuple[float, float]:
    """The same for one rectangle and a normal."""
    first = (x + wide) / u
    above, size_above = _first(-abs(first))
    beyond, size_beyond = _first((x - wide) / u)
    line, scale = max(first, 0.0), u / (2.0 * wide)
    off = 4.0 * EPSILON * (line + size_above + size_beyond)
    return scale * (line + above - beyond), scale * off


def _first(z: float) -> tuple[float, float]:
    """First antiderivative of the standard normal distribution below 0, and how it rounds."""
    whole = z * 0.5 * erfc(-z * ROOT_HALF)
    density = exp(-0.5 * z * z) * DENSITY
    # A tail takes up the rounding of its argument, times the square of it.
    return whole + density, (1.0 + z * z) * (density - whole)


def _second(z: float) -> tuple[float, float]:
    """Twice the second antiderivative, likewise."""
    whole = (z * z + 1.0) * 0.5 * erfc(-z * ROOT_HALF)
    rest = z * exp(-0.5 * z * z) * DENSITY
    return whole + rest, (1.0 + z * z) * (whole - rest)
