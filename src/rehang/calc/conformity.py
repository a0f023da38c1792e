"""How likely a value is to lie within its limits, and what accepting it risks.

A missing limit is ``-inf`` below or ``inf`` above. Arrays of any shapes that broadcast are
taken, and an array comes back; single numbers give a single number. The names of the limits
follow JCGM 106:2012: tolerance limits are those of the thing, acceptance limits those that
the reading is held against. Clause and equation numbers of JCGM 106 and JCGM 101 are given from
memory.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from rehang.calc import _inputs as check
from rehang.calc._inputs import FloatArray, FloatOrArray
from rehang.calc._quadrature import FARTHEST, JOINTS, gauss_legendre
from rehang.calc.errors import OutOfRange
from rehang.calc.uncertainty import arc_limits

# Rows of the risk integrals worked at once: 1,000 rows take about 10 MB an array.
ROWS_AT_ONCE = 1000


def p_inside_normal(y: ArrayLike, u: ArrayLike, lower: ArrayLike, upper: ArrayLike) -> FloatOrArray:
    r"""Probability that a value with a normal distribution lies within limits.

    .. math:: p = \Phi\!\left(\frac{T_U - y}{u}\right) - \Phi\!\left(\frac{T_L - y}{u}\right)

    Parameters
    ----------
    y : array_like
        Best estimate of the value [any unit].
    u : array_like
        Its standard uncertainty [unit of y].
    lower : array_like
        Lower limit, ``-inf`` where there is none [unit of y].
    upper : array_like
        Upper limit, ``inf`` where there is none [unit of y].

    Returns
    -------
    float or ndarray
        Probability, from 0 to 1 [-].

    Raises
    ------
    OutOfRange
        An estimate is not finite; an uncertainty is not above 0; the lower limit is above
        the upper.

    Notes
    -----
    Both tails are taken from their small side, so a probability of 1e-200 keeps its digits;
    below 38 standard uncertainties it is 0. Little was known of the value beforehand; where
    more was, use the posterior's y and u.

    References
    ----------
    JCGM 106:2012, 7.2, equation (7).
    Checked in ``tests/published/test_jcgm106.py``: the two-sided case y = 13.6, u = 1.8.

    Examples
    --------
    >>> round(p_inside_normal(13.6, 1.8, lower=12.5, upper=16.3), 2)
    0.66
    """
    estimate = check.finite("The estimate", y)
    sd = check.above_zero("The standard uncertainty", u)
    low, high = check.limits(lower, upper)
    return check.plain(_phi_between((low - estimate) / sd, (high - estimate) / sd))


def p_inside_uniform(
    low: ArrayLike, high: ArrayLike, lower: ArrayLike, upper: ArrayLike
) -> FloatOrArray:
    r"""Probability that a value known only to lie in an interval lies within limits.

    .. math:: p = \frac{\max(0, \min(h, T_U) - \max(l, T_L))}{h - l}

    Parameters
    ----------
    low : array_like
        Lower end of the interval [any unit].
    high : array_like
        Upper end of the interval [unit of low].
    lower : array_like
        Lower limit, ``-inf`` where there is none [unit of low].
    upper : array_like
        Upper limit, ``inf`` where there is none [unit of low].

    Returns
    -------
    float or ndarray
        Probability, from 0 to 1 [-]; exactly 1 for an interval wholly within the limits.

    Raises
    ------
    OutOfRange
        An end is not finite; the high end is not above the low; the lower limit is above the
        upper.

    Notes
    -----
    For go and no-go wires and for an accuracy stated as plus or minus with no factor.

    References
    ----------
    JCGM 106:2012, 7.1, equation (5), with the rectangle of JCGM 101:2008, 6.4.2.
    No printed value: shares of an interval worked by hand in
    ``tests/published/test_jcgm106.py``.

    Examples
    --------
    >>> p_inside_uniform(18, 20, lower=16, upper=19)
    0.5
    """
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
    y: ArrayLike,
    half_width: ArrayLike,
    resolution: ArrayLike,
    lower: ArrayLike,
    upper: ArrayLike,
) -> FloatOrArray:
    r"""Probability that a digital meter's value lies within limits.

    The stated accuracy is a rectangle of half width a, the display's step a rectangle of
    full width d. Their sum is a trapezoid of outer half width b and inner half width c:

    .. math:: b = a + d/2, \quad c = |a - d/2|, \quad
              g(x) = \begin{cases} \dfrac{1}{b + c} & |x| \le c \\[1ex]
              \dfrac{b - |x|}{(b + c)(b - c)} & c < |x| \le b \end{cases}

    Parameters
    ----------
    y : array_like
        Value shown [any unit].
    half_width : array_like
        Stated accuracy, a hard limit either side [unit of y].
    resolution : array_like
        Least step shown [unit of y].
    lower : array_like
        Lower limit, ``-inf`` where there is none [unit of y].
    upper : array_like
        Upper limit, ``inf`` where there is none [unit of y].

    Returns
    -------
    float or ndarray
        Probability, from 0 to 1 [-].

    Raises
    ------
    OutOfRange
        The value is not finite; the half width or the resolution is negative; both are 0,
        for no meter is exact; the lower limit is above the upper.

    Notes
    -----
    Closed form, no series. With either width 0 it is the rectangle of the other. Every term
    added is positive, so a small probability keeps its digits.

    References
    ----------
    JCGM 106:2012, 7.1, equation (5), with the trapezoid of JCGM 101:2008, 6.4.4, the sum of
    two rectangles (its NOTE).
    No printed value: against a numerical convolution and Monte Carlo in
    ``tests/properties/test_calc_conformity.py``, and corners worked by hand in
    ``tests/published/test_jcgm106.py``.

    Examples
    --------
    >>> p_inside_trapezoid(4800, 58.4, 10, lower=float("-inf"), upper=5000)
    1.0
    >>> p_inside_trapezoid(5000, 58.4, 10, lower=float("-inf"), upper=5000)
    0.5
    """
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

    # In units of the outer half width, so that nothing changes with the unit of y.
    wide = np.maximum(a, half_step) / outer
    narrow = np.minimum(a, half_step) / outer
    inner = wide - narrow
    from_ = _place(bottom, shown, outer)
    to = _place(top, shown, outer)

    # A rectangle has no ramps; any divisor will do, for the ramps are then 0 wide.
    ramp_divisor = np.where(narrow > 0, 8.0 * wide * narrow, 1.0)
    flat = np.minimum(to, inner) - np.maximum(from_, -inner)
    p = np.maximum(flat, 0.0) / (2.0 * wide)
    p += _ramp(np.maximum(from_, inner), to) / ramp_divisor
    p += _ramp(np.maximum(-to, inner), -from_) / ramp_divisor
    return check.plain(np.asarray(np.clip(p, 0.0, 1.0)))


def p_inside_arc(
    resistance: ArrayLike,
    mid_scale: ArrayLike,
    arc_accuracy: ArrayLike,
    lower: ArrayLike,
    upper: ArrayLike,
) -> FloatOrArray:
    r"""Probability that a resistance read on an analog ohmmeter lies within limits.

    The true place of the needle is uniform on the arc, within the meter's accuracy of where
    it stands, and within the scale:

    .. math:: p = \frac{|[f - a, f + a] \cap [0, 1] \cap [f(T_U), f(T_L)]|}
              {|[f - a, f + a] \cap [0, 1]|}, \qquad
              f(R) = \frac{1}{1 + R / R_\mathrm{mid}}

    Parameters
    ----------
    resistance : array_like
        Value shown, the range's multiplier included [ohm]; ``inf`` for the needle at rest.
    mid_scale : array_like
        Resistance at half of the arc, on the range used [ohm].
    arc_accuracy : array_like
        Half width as a fraction of full arc [-]; 0.03 for 3 % of arc.
    lower : array_like
        Lower limit, ``-inf`` where there is none [ohm].
    upper : array_like
        Upper limit, ``inf`` where there is none [ohm].

    Returns
    -------
    float or ndarray
        Probability, from 0 to 1 [-].

    Raises
    ------
    OutOfRange
        As `rehang.calc.uncertainty.arc_band`; the lower limit is above the upper.

    Notes
    -----
    Cut off at the ends of the scale and scaled up again, for no resistance is below 0 or
    above an open circuit. How finely the needle can be read is not in it.

    References
    ----------
    JCGM 106:2012, 7.1, equation (5), with the rectangle of JCGM 101:2008, 6.4.2, laid on the
    arc; the scale is Ohm's law for a series ohmmeter: common practice, no source.
    No printed value: (0.07 - 1/26) / 0.06 by hand in ``tests/published/test_meters.py``.

    Examples
    --------
    >>> round(p_inside_arc(4800, 200, 0.03, lower=float("-inf"), upper=5000), 4)
    0.5256
    """
    least, most, mid = arc_limits(resistance, mid_scale, arc_accuracy)
    bottom, top = check.limits(lower, upper)
    # A limit below 0 ohm bounds nothing from below, and lets nothing through from above.
    at_bottom = 1.0 / (1.0 + np.maximum(bottom, 0.0) / mid)
    at_top = np.where(top < 0.0, np.inf, 1.0 / (1.0 + np.maximum(top, 0.0) / mid))
    inside = np.minimum(most, at_bottom) - np.maximum(least, at_top)
    return check.plain(np.asarray(np.clip(inside / (most - least), 0.0, 1.0)))


# Guard bands


def guard_multiplier(conformance_probability: ArrayLike) -> FloatOrArray:
    r"""How many standard uncertainties inside a single limit a reading must be.

    .. math:: \frac{w}{u} = \Phi^{-1}(p)

    Parameters
    ----------
    conformance_probability : array_like
        Least probability of conformity wanted at the acceptance limit, between 0 and 1 [-].

    Returns
    -------
    float or ndarray
        Guard band over standard uncertainty [-]; negative below 0.5.

    Raises
    ------
    OutOfRange
        A probability is not between 0 and 1.

    Notes
    -----
    Normal distribution, one limit near enough to matter.

    References
    ----------
    ISO 14253-1:2017 (default 95 %); JCGM 106:2012, 8.3.2.
    Checked in ``tests/published/test_iso14253.py``.

    Examples
    --------
    >>> round(guard_multiplier(0.95), 3)
    1.645
    """
    from scipy.special import ndtri

    p = check.finite("The conformance probability", conformance_probability)
    if not ((p > 0) & (p < 1)).all():
        raise OutOfRange(
            f"The conformance probability must be between 0 and 1: got {check.shown(p)}."
        )
    return check.plain(np.asarray(ndtri(p)))


def acceptance_limits(
    lower: ArrayLike,
    upper: ArrayLike,
    guard_factor: ArrayLike,
    expanded_uncertainty: ArrayLike,
) -> tuple[FloatOrArray, FloatOrArray]:
    r"""Limits to hold a reading against, a guard band inside those of the thing.

    .. math:: A_L = T_L + w, \quad A_U = T_U - w, \quad w = g\,U

    Parameters
    ----------
    lower : array_like
        Lower tolerance limit, ``-inf`` where there is none [any unit].
    upper : array_like
        Upper tolerance limit, ``inf`` where there is none [unit of lower].
    guard_factor : array_like
        Guard band over expanded uncertainty [-]; 1 for w = U, 0 for simple acceptance,
        negative for a guard band outside the limits.
    expanded_uncertainty : array_like
        Expanded uncertainty of the reading [unit of lower].

    Returns
    -------
    accept_lower, accept_upper : float or ndarray
        Acceptance limits [unit of lower].

    Raises
    ------
    OutOfRange
        The lower limit is above the upper; the uncertainty is negative; nothing is left
        between the guard bands.

    Notes
    -----
    Where nothing is left, the meter cannot accept anything: a better meter is needed.

    References
    ----------
    JCGM 106:2012, 8.3.1 and 8.3.3; ILAC-G8:09/2019, 4.2.
    Checked in ``tests/published/test_jcgm106.py``: the resistor example of 9.5.

    Examples
    --------
    >>> acceptance_limits(10.0, 20.0, guard_factor=1, expanded_uncertainty=2.0)
    (12.0, 18.0)
    """
    low, high = check.limits(lower, upper)
    g = check.finite("The guard factor", guard_factor)
    expanded = check.at_least_zero("The expanded uncertainty", expanded_uncertainty)
    w = g * expanded
    accept_low, accept_high = np.asarray(low + w), np.asarray(high - w)
    if not (accept_low <= accept_high).all():
        raise OutOfRange(
            "Guard bands must leave something between them; use a meter with a smaller "
            f"uncertainty: got {check.shown(accept_low)} to {check.shown(accept_high)}."
        )
    return check.plain(accept_low), check.plain(accept_high)


def specific_risk_at_limit(guard_factor: ArrayLike, coverage_factor: ArrayLike) -> FloatOrArray:
    r"""Risk that what reads exactly the acceptance limit is outside the limit of the thing.

    .. math:: R = \Phi(-g\,k)

    Parameters
    ----------
    guard_factor : array_like
        Guard band over expanded uncertainty [-].
    coverage_factor : array_like
        Expanded over standard uncertainty [-].

    Returns
    -------
    float or ndarray
        Greatest specific risk of a wrong acceptance [-].

    Raises
    ------
    OutOfRange
        The guard factor is not finite; the coverage factor is not above 0.

    Notes
    -----
    Normal distribution, one limit near enough to matter.

    References
    ----------
    ILAC-G8:09/2019, 4.2.1 and Table 1; JCGM 106:2012, 8.3.
    Checked in ``tests/published/test_ilac_g8.py``.

    Examples
    --------
    >>> specific_risk_at_limit(0, 2)
    0.5
    """
    from scipy.special import ndtr

    g = check.finite("The guard factor", guard_factor)
    k = check.above_zero("The coverage factor", coverage_factor)
    return check.plain(np.asarray(ndtr(-g * k)))


# Risks over everything that is measured


@dataclass(frozen=True, slots=True)
class Risks:
    """Share of all that is measured that is wrongly accepted, and wrongly turned away."""

    consumer: FloatOrArray
    producer: FloatOrArray


def global_risks(
    prior_mean: ArrayLike,
    prior_sd: ArrayLike,
    u_m: ArrayLike,
    lower: ArrayLike,
    upper: ArrayLike,
    accept_lower: ArrayLike,
    accept_upper: ArrayLike,
) -> Risks:
    r"""Global consumer's and producer's risk, normal prior and normal measurement.

    .. math:: R_C = \int_{\eta \notin [T_L, T_U]} g_0(\eta)
              \left[ \Phi\!\left(\frac{A_U - \eta}{u_m}\right)
              - \Phi\!\left(\frac{A_L - \eta}{u_m}\right) \right] d\eta

    .. math:: R_P = \int_{T_L}^{T_U} g_0(\eta)
              \left[ 1 - \Phi\!\left(\frac{A_U - \eta}{u_m}\right)
              + \Phi\!\left(\frac{A_L - \eta}{u_m}\right) \right] d\eta

    Parameters
    ----------
    prior_mean : array_like
        Mean of the things that come to be measured [any unit].
    prior_sd : array_like
        Their standard deviation [unit of prior_mean].
    u_m : array_like
        Standard uncertainty of the measurement [unit of prior_mean].
    lower, upper : array_like
        Tolerance limits, ``-inf`` or ``inf`` where there is none [unit of prior_mean].
    accept_lower, accept_upper : array_like
        Acceptance limits, ``-inf`` or ``inf`` where there is none [unit of prior_mean].

    Returns
    -------
    Risks
        ``consumer``: outside the tolerance and accepted [-]; ``producer``: inside the
        tolerance and turned away [-]. Both are shares of all things measured.

    Raises
    ------
    OutOfRange
        A mean is not finite; a standard deviation or uncertainty is not above 0; a lower
        limit is above its upper.

    Notes
    -----
    Gauss-Legendre quadrature over pieces joined where the integrand turns; every term is
    positive. Two independent routes agree to 1e-12 over measurement uncertainties from
    1/1,000 of to 1,000 times the prior's standard deviation.

    References
    ----------
    JCGM 106:2012, 9.4, equations (17) and (19).
    Checked in ``tests/published/test_jcgm106.py``: the resistor example of 9.5; and in
    ``tests/published/test_rp19.py``.

    Examples
    --------
    >>> risks = global_risks(1500, 0.12, 0.04, 1499.8, 1500.2, 1499.82, 1500.18)
    >>> round(risks.consumer, 2), round(risks.producer, 2)
    (0.01, 0.07)
    """
    mean = check.finite("The prior mean", prior_mean)
    sd = check.above_zero("The prior standard deviation", prior_sd)
    ratio = check.above_zero("The standard uncertainty of measurement", u_m) / sd
    tolerance = check.limits(lower, upper)
    acceptance = check.limits(accept_lower, accept_upper)

    # In standard deviations of the prior, from its mean.
    t_low, t_high = ((limit - mean) / sd for limit in tolerance)
    a_low, a_high = ((limit - mean) / sd for limit in acceptance)
    wide = np.broadcast_arrays(ratio, t_low, t_high, a_low, a_high)
    shape = wide[0].shape
    rows = np.stack([column.ravel() for column in wide])
    consumer = np.empty(rows.shape[1])
    producer = np.empty(rows.shape[1])
    for start in range(0, rows.shape[1], ROWS_AT_ONCE):
        part = slice(start, start + ROWS_AT_ONCE)
        r, t_l, t_u, a_l, a_u = (row[:, None] for row in rows[:, part])

        below = _share(np.full_like(t_l, -FARTHEST), t_l, r, a_l, a_u, accepted=True)
        above = _share(t_u, np.full_like(t_u, FARTHEST), r, a_l, a_u, accepted=True)
        consumer[part] = below + above
        producer[part] = _share(t_l, t_u, r, a_l, a_u, accepted=False)
    return Risks(
        consumer=check.plain(np.clip(consumer, 0.0, 1.0).reshape(shape)),
        producer=check.plain(np.clip(producer, 0.0, 1.0).reshape(shape)),
    )


def _share(
    start: FloatArray,
    end: FloatArray,
    ratio: FloatArray,
    accept_low: FloatArray,
    accept_high: FloatArray,
    *,
    accepted: bool,
) -> FloatArray:
    """Share of a standard normal from start to end that is accepted, or that is not.

    All arguments are columns (rows, 1), in standard deviations of the prior.
    """
    from scipy.special import ndtr

    joints = np.array(JOINTS)
    both_ways = np.concatenate([-joints[:0:-1], joints])
    start = np.clip(start, -FARTHEST, FARTHEST)
    end = np.clip(end, -FARTHEST, FARTHEST)
    turns = (np.broadcast_to(both_ways, (start.shape[0], both_ways.size)),)
    turns += tuple(
        # No acceptance limit, no turn there.
        np.where(np.isinf(limit), 0.0, limit) + ratio * both_ways
        for limit in (accept_low, accept_high)
    )
    edges = np.sort(np.concatenate([start, *turns, end], axis=1), axis=1)
    edges = np.clip(edges, start, np.maximum(start, end))

    nodes, weights = gauss_legendre()
    half = np.diff(edges, axis=1)[:, :, None] / 2.0
    z = edges[:, :-1, None] + half * (1.0 + nodes)
    density = np.exp(-0.5 * z**2) / np.sqrt(2.0 * np.pi)
    from_, to = (
        (accept_low[:, :, None] - z) / ratio[:, :, None],
        (accept_high[:, :, None] - z) / ratio[:, :, None],
    )
    fraction = _phi_between(from_, to) if accepted else ndtr(from_) + ndtr(-to)
    return np.asarray(np.sum(half * density * fraction * weights, axis=(1, 2)))


def _phi_between(from_: ArrayLike, to: ArrayLike) -> FloatArray:
    """Standard normal probability between two places, from its small tail."""
    from scipy.special import ndtr

    a = np.asarray(from_, dtype=np.float64)
    b = np.asarray(to, dtype=np.float64)
    # Both above the middle: mirror, so that two small tails are subtracted, not two near 1.
    mirror = a > 0.0
    if mirror.any():
        a, b = np.where(mirror, -b, a), np.where(mirror, -a, b)
    return np.asarray(np.maximum(ndtr(b) - ndtr(a), 0.0))


def _place(limit: FloatArray, shown: FloatArray, outer: FloatArray) -> FloatArray:
    """Where a limit stands in the band, -1 and 1 being its ends."""
    # Most limits are one-sided, and a million readings need no million copies of an end.
    if limit.ndim == 0 and np.isinf(limit):
        return np.asarray(np.sign(limit))
    place = (limit - shown) / outer
    return np.asarray(np.clip(place, -1.0, 1.0))


def _ramp(from_: FloatArray, to: FloatArray) -> FloatArray:
    """Twice the integral of (1 - x) between two places at or below 1; 0 if they are swapped."""
    return np.maximum(to - from_, 0.0) * ((1.0 - from_) + (1.0 - to))
