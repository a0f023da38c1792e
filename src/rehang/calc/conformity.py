"""How likely a value is to lie within its limits.

A missing limit is ``-inf`` below or ``inf`` above. A lower limit above the upper is refused.
Clause and equation numbers of JCGM 106 and JCGM 101 are given from memory.
"""

from __future__ import annotations

import numpy as np

from rehang.calc import _inputs as check
from rehang.calc._alone import inside_normal, inside_trapezoid, inside_uniform, numbers
from rehang.calc._blocks import in_blocks
from rehang.calc._inputs import FloatArray
from rehang.calc._trapezoid import trapezoid_inside
from rehang.calc.errors import OutOfRange
from rehang.calc.units import RatiosOut, SameUnits, Values


def p_inside_normal(y: Values, u: SameUnits, lower: SameUnits, upper: SameUnits) -> RatiosOut:
    r"""Probability that a value with a normal distribution lies within limits.

    .. math:: p = \Phi\!\left(\frac{T_U - y}{u}\right) - \Phi\!\left(\frac{T_L - y}{u}\right)

    y: best estimate of the value.
    u: its standard uncertainty.

    Both tails are taken from their small side, so a probability of 1e-200 keeps its digits;
    below 38 standard uncertainties it is 0. Little was known of the value beforehand; where
    more was, use the posterior's y and u.

    Source: JCGM 106:2012, 7.2, equation (7).
    Checked in ``tests/published/test_jcgm106.py``: the two-sided case y = 13.6, u = 1.8.

    >>> round(p_inside_normal(13.6, 1.8, lower=12.5, upper=16.3), 2)
    0.66
    """
    alone = numbers(y, u, lower, upper)
    if alone is not None and (p := inside_normal(*alone)) is not None:
        return p
    estimate = check.finite("The estimate", y)
    sd = check.above_zero("The standard uncertainty", u)
    low, high = check.limits(lower, upper)
    return check.plain(in_blocks(_normal_inside, estimate, sd, low, high))


def p_inside_uniform(low: Values, high: SameUnits, lower: SameUnits, upper: SameUnits) -> RatiosOut:
    r"""Probability that a value known only to lie in an interval lies within limits.

    .. math:: p = \frac{\max(0, \min(h, T_U) - \max(l, T_L))}{h - l}

    low, high: ends of the interval.

    Exactly 1 for an interval wholly within the limits. For go and no-go wires and for an accuracy
    stated as plus or minus with no factor.

    Refused: a high end that is not above the low.

    Source: JCGM 106:2012, 7.1, equation (5), with the rectangle of JCGM 101:2008, 6.4.2.
    No printed value: shares of an interval worked by hand in ``tests/published/test_jcgm106.py``.

    >>> p_inside_uniform(18, 20, lower=16, upper=19)
    0.5
    """
    alone = numbers(low, high, lower, upper)
    if alone is not None and (p := inside_uniform(*alone)) is not None:
        return p
    start = check.finite("The low end", low)
    end = check.finite("The high end", high)
    if not (start < end).all():
        raise OutOfRange(
            "The high end must be above the low end: "
            f"got {check.shown(start)} to {check.shown(end)}."
        )
    bottom, top = check.limits(lower, upper)
    inside = np.minimum(end, top) - np.maximum(start, bottom)
    return check.plain(np.asarray(np.clip(inside / (end - start), 0.0, 1.0)))


def p_inside_trapezoid(
    y: Values,
    half_width: SameUnits,
    resolution: SameUnits,
    lower: SameUnits,
    upper: SameUnits,
) -> RatiosOut:
    r"""Probability that a digital meter's value lies within limits.

    The stated accuracy is a rectangle of half width a, the display's step a rectangle of
    full width d. Their sum is a trapezoid of outer half width b and inner half width c:

    .. math:: b = a + d/2, \quad c = |a - d/2|, \quad
              g(x) = \begin{cases} \dfrac{1}{b + c} & |x| \le c \\[1ex]
              \dfrac{b - |x|}{(b + c)(b - c)} & c < |x| \le b \end{cases}

    y: value shown.
    half_width: stated accuracy, a hard limit either side.
    resolution: least step shown.

    Closed form, no series. With either width 0 it is the rectangle of the other. Every term
    added is positive, so a small probability keeps its digits.

    Refused: both widths 0, for no meter is exact.

    Source: JCGM 106:2012, 7.1, equation (5), with the trapezoid of JCGM 101:2008, 6.4.4, the sum of
    two rectangles (its NOTE).
    No printed value: against a numerical convolution and Monte Carlo in
    ``tests/properties/test_calc_conformity.py``, and corners worked by hand in
    ``tests/published/test_jcgm106.py``.

    >>> p_inside_trapezoid(4800, 58.4, 10, lower=float("-inf"), upper=5000)
    1.0
    >>> p_inside_trapezoid(5000, 58.4, 10, lower=float("-inf"), upper=5000)
    0.5
    """
    alone = numbers(y, half_width, resolution, lower, upper)
    if alone is not None and (q := inside_trapezoid(*alone)) is not None:
        return q
    shown = check.finite("The reading", y)
    a = check.at_least_zero("The half width", half_width)
    half_step = check.at_least_zero("The resolution", resolution) / 2.0
    outer = a + half_step
    if not (outer > 0).all():
        raise OutOfRange(
            "A half width and a resolution must not both be 0, for no meter is exact: "
            f"got {check.shown(a)} and {check.shown(2.0 * half_step)}."
        )
    bottom, top = check.limits(lower, upper)

    return check.plain(in_blocks(trapezoid_inside, shown, a, half_step, bottom, top))


def _normal_inside(
    y: FloatArray, u: FloatArray, lower: FloatArray, upper: FloatArray
) -> FloatArray:
    """From the small tail."""
    from scipy.special import ndtr

    a, b = np.asarray((lower - y) / u), np.asarray((upper - y) / u)
    # Both above the middle: mirror, so that two small tails are subtracted, not two near 1.
    mirror = a > 0.0
    if mirror.any():
        a, b = np.where(mirror, -b, a), np.where(mirror, -a, b)
    return np.asarray(np.maximum(ndtr(b) - ndtr(a), 0.0))
