"""How likely a value is within limits when a normal spread lies over a meter's rectangles.

A missing limit is ``-inf`` below or ``inf`` above. A lower limit above the upper is refused.
"""

from __future__ import annotations

from math import inf, isfinite

import numpy as np

from rehang.calc import _inputs as check
from rehang.calc._alone import (
    EPSILON,
    are_limits,
    inside_blurred,
    inside_normal,
    inside_trapezoid,
    numbers,
)
from rehang.calc._blocks import in_blocks
from rehang.calc._inputs import FloatArray
from rehang.calc._quadrature import FARTHEST, gauss_legendre, joints_both_ways
from rehang.calc._trapezoid import trapezoid_inside
from rehang.calc.conformity import p_inside_normal, p_inside_trapezoid
from rehang.calc.errors import OutOfRange
from rehang.calc.uncertainty import arc_fraction
from rehang.calc.units import Ohms, Ratios, RatiosOut, SameUnits, Values

# Readings whose integrals are worked on at once: each has some 500 places.
ROWS = 256


def p_inside_spread(
    y: Values,
    half_width: SameUnits,
    resolution: SameUnits,
    u: SameUnits,
    lower: SameUnits,
    upper: SameUnits,
) -> RatiosOut:
    r"""Probability that a value lies within limits: two rectangles and a normal, added.

    .. math:: p = \int_{-\infty}^{\infty} \varphi(z)\,
              p_\mathrm{trapezoid}(y + u z, a, d, T_L, T_U)\, dz

    y: value shown.
    half_width: stated accuracy, a hard limit either side; 0 where there is none.
    resolution: least step shown; 0 where there is none.
    u: standard uncertainty of the normal part, as repeatability; 0 where none.

    With u at 0 it is the trapezoid's closed form, with both widths at 0 the normal, and it
    comes near to either without a step. Gauss-Legendre over pieces joined where the trapezoid
    bends; every term is positive, and no two near numbers are subtracted. A single reading takes
    the second antiderivative of the normal distribution where rounding leaves it 13 digits.

    Refused: all three 0, for no meter is exact.

    Source: JCGM 101:2008, 5.2 (convolution of the inputs' distributions), with JCGM 106:2012, 7.1.
    No printed value: against the second antiderivative of the normal distribution, scipy's adaptive
    quadrature and Monte Carlo in ``tests/properties/test_calc_spread.py``.

    >>> round(p_inside_spread(100, 1, 1, 0.5, lower=float("-inf"), upper=100), 12)
    0.5
    >>> round(p_inside_spread(0, 0, 0, 1, lower=-1.96, upper=1.96), 3)
    0.95
    """
    alone = numbers(y, half_width, resolution, u, lower, upper)
    if alone is not None and (p := _one_inside(*alone)) is not None:
        return p
    shown = check.finite("The reading", y)
    a = check.at_least_zero("The half width", half_width)
    d = check.at_least_zero("The resolution", resolution)
    sd = check.at_least_zero("The standard uncertainty", u)
    bottom, top = check.limits(lower, upper)
    if not (a + d + sd > 0).all():
        raise OutOfRange(
            "A half width, a resolution and a standard uncertainty must not all be 0, for no "
            f"meter is exact: got {check.shown(a)}, {check.shown(d)} and {check.shown(sd)}."
        )
    wide = np.broadcast_arrays(shown, a, d, sd, bottom, top)
    shape = wide[0].shape
    rows = [np.asarray(one, dtype=np.float64).ravel() for one in wide]
    found = np.empty(rows[0].size)
    y_, a_, d_, u_, low, high = rows
    # A part below the last digit of the other adds nothing, and its ratio may overflow.
    sharp = u_ <= EPSILON * (a_ + d_)
    bare = a_ + d_ <= EPSILON * u_
    both = ~sharp & ~bare
    if sharp.any():
        found[sharp] = p_inside_trapezoid(y_[sharp], a_[sharp], d_[sharp], low[sharp], high[sharp])
    if bare.any():
        found[bare] = p_inside_normal(y_[bare], u_[bare], low[bare], high[bare])
    if both.any():
        found[both] = in_blocks(_blurred, *(row[both] for row in rows), block=ROWS)
    return check.plain(np.clip(found, 0.0, 1.0).reshape(shape))


def p_inside_arc_spread(
    resistance: Ohms,
    mid_scale: Ohms,
    arc_accuracy: Ratios,
    resolution: Ohms,
    u: Ohms,
    lower: Ohms,
    upper: Ohms,
) -> RatiosOut:
    r"""Probability that a resistance read on an analog ohmmeter lies within limits.

    Its accuracy is a rectangle on the arc; how finely and how often alike the needle is read
    are a rectangle and a normal, carried to the arc by the slope of the scale at the reading:

    .. math:: d_f = d \left|\frac{df}{dR}\right|, \quad u_f = u \left|\frac{df}{dR}\right|,
              \quad \frac{df}{dR} = -\frac{f^2}{R_\mathrm{mid}}

    resistance: value shown, the range's multiplier included; finite.
    mid_scale: resistance at half of the arc, on the range used.
    arc_accuracy: half width as a fraction of full arc.
    resolution: least step read off at that place of the scale; 0 where there is none.
    u: standard uncertainty of reading it again, there; 0 where there is none.

    Cut off at the ends of the scale and scaled up again. The slope is that at the reading, so
    a step as wide as the reading itself is weak.

    Source: JCGM 106:2012, 7.1, with Ohm's law for the series circuit; JCGM 100:2008, 5.1.2 for the
    slope.
    No printed value: against Monte Carlo in ``tests/properties/test_calc_spread.py``.

    >>> round(p_inside_arc_spread(4800, 200, 0.03, 0, 0, float("-inf"), 5000), 4)
    0.5256
    """
    alone = numbers(resistance, mid_scale, arc_accuracy, resolution, u, lower, upper)
    if alone is not None and (p := _one_on_arc(*alone)) is not None:
        return p
    r = check.finite("The resistance", resistance)
    f = np.asarray(arc_fraction(r, mid_scale))
    a = check.above_zero("The accuracy as a fraction of arc", arc_accuracy)
    slope = f**2 / np.asarray(mid_scale, dtype=np.float64)
    step = check.at_least_zero("The resolution", resolution) * slope
    sd = check.at_least_zero("The standard uncertainty", u) * slope
    bottom, top = check.limits(lower, upper)
    # The scale runs backwards: the upper limit is the lower end on the arc.
    at_bottom = np.where(bottom <= 0.0, 1.0, arc_fraction(np.maximum(bottom, 0.0), mid_scale))
    at_top = np.where(top < 0.0, 1.0, arc_fraction(np.maximum(top, 0.0), mid_scale))
    at_bottom = np.where(top < 0.0, 1.0, at_bottom)
    inside = np.asarray(p_inside_spread(f, a, step, sd, at_top, at_bottom))
    whole = np.asarray(p_inside_spread(f, a, step, sd, 0.0, 1.0))
    return check.plain(np.asarray(np.clip(inside / whole, 0.0, 1.0)))


def _one_inside(y: float, a: float, d: float, u: float, lower: float, upper: float) -> float | None:
    """For plain numbers; None for those that cannot be."""
    if not (a >= 0.0 and d >= 0.0 and a + d < inf and 0.0 <= u < inf):
        return None
    if u <= EPSILON * (a + d):
        return inside_trapezoid(y, a, d, lower, upper)
    if a + d <= EPSILON * u:
        return inside_normal(y, u, lower, upper)
    if not (isfinite(y) and are_limits(lower, upper)):
        return None
    if (p := inside_blurred(y, a, d, u, lower, upper)) is not None:
        return p
    one = (np.array([value]) for value in (y, a, d, u, lower, upper))
    return min(max(float(_blurred(*one)[0]), 0.0), 1.0)


def _one_on_arc(
    resistance: float, mid: float, a: float, d: float, u: float, lower: float, upper: float
) -> float | None:
    """For plain numbers; None for those that cannot be."""
    if not (0.0 <= resistance < inf and 0.0 < mid < inf and a > 0.0 and are_limits(lower, upper)):
        return None
    f = 1.0 / (1.0 + resistance / mid)
    slope = f * f / mid
    at_bottom = 1.0 if lower <= 0.0 else 1.0 / (1.0 + lower / mid)
    at_top = 1.0 if upper < 0.0 else 1.0 / (1.0 + upper / mid)
    inside = _one_inside(f, a, d * slope, u * slope, at_top, at_bottom)
    whole = _one_inside(f, a, d * slope, u * slope, 0.0, 1.0)
    return min(inside / whole, 1.0) if inside is not None and whole else None


def _blurred(
    y: FloatArray, a: FloatArray, d: FloatArray, u: FloatArray, lower: FloatArray, upper: FloatArray
) -> FloatArray:
    """The integral over the normal part, all arguments of one length."""
    half_step = d / 2.0
    outer, inner = a + half_step, np.abs(a - half_step)
    bends = np.array([-outer, -inner, inner, outer])
    edges = [np.broadcast_to(joints_both_ways(), (y.size, joints_both_ways().size))]
    for limit in (lower, upper):
        finite = np.isfinite(limit)
        if finite.any():
            places = (np.where(finite, limit - y, 0.0) + bends) / u
            edges.append(np.where(finite, np.clip(places, -FARTHEST, FARTHEST), 0.0).T)
    pieces = np.concatenate(edges, axis=1)
    pieces.sort(axis=1)
    nodes, weights = gauss_legendre()
    half = (pieces[:, 1:] - pieces[:, :-1])[:, :, None] / 2.0
    z = pieces[:, :-1, None] + half * (1.0 + nodes)
    density = np.exp(-0.5 * z**2) / np.sqrt(2.0 * np.pi)
    at = y[:, None, None] + u[:, None, None] * z
    share = trapezoid_inside(at, *(one[:, None, None] for one in (a, half_step, lower, upper)))
    return np.asarray(np.sum(half * density * share * weights, axis=(1, 2)))
