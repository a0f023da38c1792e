"""How likely a value is within limits when a normal spread lies over a meter's rectangles.

A missing limit is ``-inf`` below or ``inf`` above. A lower limit above the upper is refused.
"""

from __future__ import annotations

import numpy as np

from rehang.calc import _inputs as check
from rehang.calc._inputs import FloatArray
from rehang.calc._quadrature import FARTHEST, JOINTS, gauss_legendre
from rehang.calc.conformity import p_inside_normal, p_inside_trapezoid
from rehang.calc.errors import OutOfRange
from rehang.calc.uncertainty import arc_fraction
from rehang.calc.units import Ohms, Ratios, RatiosOut, SameUnits, Values


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
    bends; every term is positive, and no two near numbers are subtracted.

    Refused: all three 0, for no meter is exact.

    Source: JCGM 101:2008, 5.2 (convolution of the inputs' distributions), with JCGM 106:2012, 7.1.
    No printed value: against the second antiderivative of the normal distribution, scipy's adaptive
    quadrature and Monte Carlo in ``tests/properties/test_calc_spread.py``.

    >>> round(p_inside_spread(100, 1, 1, 0.5, lower=float("-inf"), upper=100), 12)
    0.5
    >>> round(p_inside_spread(0, 0, 0, 1, lower=-1.96, upper=1.96), 3)
    0.95
    """
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
    sharp = u_ <= np.finfo(np.float64).eps * (a_ + d_)
    bare = a_ + d_ <= np.finfo(np.float64).eps * u_
    both = ~sharp & ~bare
    if sharp.any():
        found[sharp] = p_inside_trapezoid(y_[sharp], a_[sharp], d_[sharp], low[sharp], high[sharp])
    if bare.any():
        found[bare] = p_inside_normal(y_[bare], u_[bare], low[bare], high[bare])
    if both.any():
        found[both] = _blurred(*(row[both] for row in rows))
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


def _blurred(
    y: FloatArray, a: FloatArray, d: FloatArray, u: FloatArray, lower: FloatArray, upper: FloatArray
) -> FloatArray:
    """The integral over the normal part, all arguments of one length."""
    outer, inner = a + d / 2.0, np.abs(a - d / 2.0)
    joints = np.array(JOINTS)
    edges = [np.broadcast_to(np.concatenate([-joints[:0:-1], joints]), (y.size, 23))]
    for limit in (lower, upper):
        for bend in (-outer, -inner, inner, outer):
            place = np.where(np.isinf(limit), 0.0, (limit - y + bend) / u)
            edges.append(np.clip(place, -FARTHEST, FARTHEST)[:, None])
    pieces = np.sort(np.concatenate(edges, axis=1), axis=1)
    nodes, weights = gauss_legendre()
    half = np.diff(pieces, axis=1)[:, :, None] / 2.0
    z = pieces[:, :-1, None] + half * (1.0 + nodes)
    density = np.exp(-0.5 * z**2) / np.sqrt(2.0 * np.pi)
    at = y[:, None, None] + u[:, None, None] * z
    share = p_inside_trapezoid(
        at, a[:, None, None], d[:, None, None], lower[:, None, None], upper[:, None, None]
    )
    return np.asarray(np.sum(half * density * share * weights, axis=(1, 2)))
