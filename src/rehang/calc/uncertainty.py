"""What a meter's reading is worth: half widths, bands, standard uncertainties, how they combine.

Fractions are fractions (0.008 for 0.8 %), never per cent. Where an argument takes an array,
arrays of any shapes that broadcast are taken, and an array comes back; single numbers give
a single number.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from rehang.calc import _inputs as check
from rehang.calc._inputs import FloatArray, FloatOrArray
from rehang.calc.errors import OutOfRange

# Eigenvalues of a correlation matrix typed in to three figures can dip this far below zero.
CORRELATION_SLACK = 1e-3


# What a meter says of itself


def digital_half_width(
    reading: ArrayLike,
    fraction_of_reading: ArrayLike,
    counts: ArrayLike,
    count_size: ArrayLike,
) -> FloatOrArray:
    r"""Half width of a digital meter's band: a fraction of reading and counts, added straight.

    .. math:: a = f\,|y| + n\,d

    Parameters
    ----------
    reading : array_like
        Value shown [any unit].
    fraction_of_reading : array_like
        Stated accuracy as a fraction of the reading [-]; 0.008 for 0.8 %.
    counts : array_like
        Counts of the last digit added to it [-].
    count_size : array_like
        Worth of one count on the range used [unit of reading].

    Returns
    -------
    float or ndarray
        Half width [unit of reading].

    Raises
    ------
    OutOfRange
        An input is not finite, or one other than the reading is negative.

    Notes
    -----
    The resolution of the display is not in it; it is a distribution of its own.

    References
    ----------
    JCGM 100:2008, 4.3.7 (bounds stated without a coverage factor are hard limits); adding the
    two parts straight is how meter makers print them: common practice, no source.
    No printed value: worked by hand, 0.008 x 4,800 + 2 x 10 = 58.4, in
    ``tests/published/test_meters.py``.

    Examples
    --------
    >>> round(digital_half_width(4800, 0.008, counts=2, count_size=10), 9)
    58.4
    """
    y = check.finite("The reading", reading)
    fraction = check.at_least_zero("The fraction of reading", fraction_of_reading)
    n = check.at_least_zero("The number of counts", counts)
    d = check.at_least_zero("The size of a count", count_size)
    return check.plain(np.asarray(fraction * np.abs(y) + n * d))


def full_scale_half_width(full_scale: ArrayLike, fraction_of_full_scale: ArrayLike) -> FloatOrArray:
    r"""Half width of the band of a dial whose accuracy is a fraction of full scale.

    .. math:: a = f\,Y_\mathrm{max}

    Parameters
    ----------
    full_scale : array_like
        Top of the scale [any unit].
    fraction_of_full_scale : array_like
        Stated accuracy as a fraction of the full scale [-]; 0.03 for 3 %.

    Returns
    -------
    float or ndarray
        Half width, the same all along the scale [unit of full_scale].

    Raises
    ------
    OutOfRange
        The full scale is not above 0, or the fraction is negative or not finite.

    Notes
    -----
    A dial with grades that differ by the part of the scale needs one call for each part.

    References
    ----------
    JCGM 100:2008, 4.3.7 (bounds stated without a coverage factor are hard limits).
    No printed value: worked by hand, 3 % of 160 psi is 4.8 psi, in
    ``tests/published/test_meters.py``.

    Examples
    --------
    >>> full_scale_half_width(160, 0.03)
    4.8
    """
    top = check.above_zero("The full scale", full_scale)
    fraction = check.at_least_zero("The fraction of full scale", fraction_of_full_scale)
    return check.plain(np.asarray(fraction * top))


def arc_fraction(resistance: ArrayLike, mid_scale: ArrayLike) -> FloatOrArray:
    r"""Place of an analog ohmmeter's needle: the fraction of full arc it stands at.

    .. math:: f = \frac{1}{1 + R / R_\mathrm{mid}}

    Parameters
    ----------
    resistance : array_like
        Resistance at the leads [ohm]; ``inf`` is an open circuit, the needle at rest.
    mid_scale : array_like
        Resistance at which the needle stands at half of its arc, on the range used [ohm].

    Returns
    -------
    float or ndarray
        Fraction of full arc [-]: 1 for a short, 0.5 at mid-scale, 0 for an open circuit.

    Raises
    ------
    OutOfRange
        The resistance is negative or not a number; the mid-scale is not above 0.

    Notes
    -----
    For the common series ohmmeter: a cell, a movement and its own resistance, in series with
    what is measured. A shunt ohmmeter reads the other way round.

    References
    ----------
    Ohm's law for the series circuit; common practice, no source.
    No printed value: the mid-scale gives 1/2 by its definition, checked in
    ``tests/published/test_meters.py``.

    Examples
    --------
    >>> arc_fraction([0, 200, 4800, float("inf")], mid_scale=200)
    array([1.  , 0.5 , 0.04, 0.  ])
    """
    r = _resistance(resistance)
    mid = check.above_zero("The mid-scale resistance", mid_scale)
    return check.plain(np.asarray(1.0 / (1.0 + r / mid)))


def resistance_at_arc(fraction: ArrayLike, mid_scale: ArrayLike) -> FloatOrArray:
    r"""Resistance at which an analog ohmmeter's needle stands at a fraction of full arc.

    .. math:: R = R_\mathrm{mid} \left( \frac{1}{f} - 1 \right)

    Parameters
    ----------
    fraction : array_like
        Fraction of full arc, from 0 to 1 [-].
    mid_scale : array_like
        Resistance at half of the arc, on the range used [ohm].

    Returns
    -------
    float or ndarray
        Resistance [ohm]; ``inf`` at fraction 0.

    Raises
    ------
    OutOfRange
        The fraction is outside 0 to 1; the mid-scale is not above 0.

    Notes
    -----
    The inverse of `arc_fraction`, with its limits.

    References
    ----------
    Ohm's law for the series circuit; common practice, no source.
    No printed value: checked as the inverse of `arc_fraction` in
    ``tests/published/test_meters.py``.

    Examples
    --------
    >>> resistance_at_arc(0.04, mid_scale=200)
    4800.0
    """
    f = check.at_least_zero("The fraction of arc", fraction)
    if not (f <= 1).all():
        raise OutOfRange(f"The fraction of arc must be from 0 to 1: got {float(f.max()):g}.")
    mid = check.above_zero("The mid-scale resistance", mid_scale)
    return check.plain(np.asarray(_resistance_at(f, mid)))


def arc_band(
    resistance: ArrayLike, mid_scale: ArrayLike, arc_accuracy: ArrayLike
) -> tuple[FloatOrArray, FloatOrArray]:
    r"""Lowest and highest resistance that fit what an analog ohmmeter shows.

    .. math:: R = R_\mathrm{mid} \left( \frac{1}{f \pm a} - 1 \right)

    Parameters
    ----------
    resistance : array_like
        Value shown, the range's multiplier included [ohm]; ``inf`` for the needle at rest.
    mid_scale : array_like
        Resistance at half of the arc, on the range used [ohm].
    arc_accuracy : array_like
        Half width as a fraction of full arc [-]; 0.03 for 3 % of arc.

    Returns
    -------
    low : float or ndarray
        Lowest resistance that fits, at least 0 [ohm].
    high : float or ndarray
        Highest resistance that fits [ohm]; ``inf`` where an open circuit fits too.

    Raises
    ------
    OutOfRange
        The resistance is negative or not a number; the mid-scale is not above 0; the accuracy
        is not above 0 and below 1.

    Notes
    -----
    The band is lopsided and wide far from mid-scale: give an array of mid-scales to see which
    range would be better.

    References
    ----------
    Ohm's law for the series circuit, with an accuracy stated as a fraction of arc; common
    practice, no source.
    No printed value: worked by hand, 200 (1/0.07 - 1) and 200 (1/0.01 - 1), in
    ``tests/published/test_meters.py``.

    Examples
    --------
    >>> low, high = arc_band(4800, mid_scale=200, arc_accuracy=0.03)
    >>> round(low), round(high)
    (2657, 19800)
    """
    least, most, mid = arc_limits(resistance, mid_scale, arc_accuracy)
    low = np.asarray(_resistance_at(most, mid))
    high = np.asarray(_resistance_at(least, mid))
    return check.plain(low), check.plain(high)


def arc_limits(
    resistance: ArrayLike, mid_scale: ArrayLike, arc_accuracy: ArrayLike
) -> tuple[FloatArray, FloatArray, FloatArray]:
    r"""Least and greatest fraction of arc that fit what an analog ohmmeter shows.

    .. math:: \max(0, f - a) \quad\text{and}\quad \min(1, f + a)

    Parameters
    ----------
    resistance : array_like
        Value shown, the range's multiplier included [ohm]; ``inf`` for the needle at rest.
    mid_scale : array_like
        Resistance at half of the arc, on the range used [ohm].
    arc_accuracy : array_like
        Half width as a fraction of full arc [-].

    Returns
    -------
    least, most : ndarray
        Ends of the band on the arc [-], cut off at the ends of the scale.
    mid_scale : ndarray
        The mid-scale as it was given [ohm].

    Raises
    ------
    OutOfRange
        As `arc_band`.

    Notes
    -----
    Cut off at the ends, because no resistance puts a needle beyond them.

    References
    ----------
    Common practice, no source.
    No printed value: it is the first half of `arc_band`, checked there.

    Examples
    --------
    >>> least, most, _ = arc_limits(float("inf"), mid_scale=200, arc_accuracy=0.03)
    >>> float(least), float(most)
    (0.0, 0.03)
    """
    r = _resistance(resistance)
    mid = check.above_zero("The mid-scale resistance", mid_scale)
    a = check.above_zero("The accuracy as a fraction of arc", arc_accuracy)
    if not (a < 1).all():
        raise OutOfRange(
            "The accuracy as a fraction of arc must be below 1 (3 % of arc is 0.03): "
            f"got {float(a.max()):g}."
        )
    f = 1.0 / (1.0 + r / mid)
    return np.maximum(f - a, 0.0), np.minimum(f + a, 1.0), mid


def go_no_go_interval(go: ArrayLike, no_go: ArrayLike) -> tuple[FloatOrArray, FloatOrArray]:
    r"""Interval a go and no-go pair leaves: what goes is below it, what does not is above it.

    .. math:: y_\mathrm{go} \le y \le y_\mathrm{no\,go}

    Parameters
    ----------
    go : array_like
        Largest size that goes [any unit].
    no_go : array_like
        Smallest size that does not go [unit of go].

    Returns
    -------
    low, high : float or ndarray
        Ends of the interval [unit of go].

    Raises
    ------
    OutOfRange
        An input is not finite; the size that does not go is not above the one that goes.

    Notes
    -----
    The wires are taken as exact. Where their own accuracy matters, widen the interval by it.

    References
    ----------
    JCGM 100:2008, 4.3.7 (only bounds known).
    No printed value: the interval is the two inputs; checked in
    ``tests/published/test_meters.py``.

    Examples
    --------
    >>> go_no_go_interval(18, 19)
    (18.0, 19.0)
    """
    low = check.finite("The size that goes", go)
    high = check.finite("The size that does not go", no_go)
    if not (low < high).all():
        raise OutOfRange(
            "The size that does not go must be above the size that goes: "
            f"got {float(np.max(low)):g} goes and {float(np.min(high)):g} does not."
        )
    low, high = np.broadcast_arrays(low, high)
    return check.plain(low), check.plain(high)


# From a half width to a standard uncertainty


def rectangular_standard_uncertainty(half_width: ArrayLike) -> FloatOrArray:
    r"""Standard uncertainty when only two hard limits are known.

    .. math:: u = \frac{a}{\sqrt{3}}

    Parameters
    ----------
    half_width : array_like
        Half of the distance between the limits [any unit].

    Returns
    -------
    float or ndarray
        Standard uncertainty [unit of half_width].

    Raises
    ------
    OutOfRange
        The half width is negative or not finite.

    Notes
    -----
    Says nothing of where between the limits the value is; that is what it is for.

    References
    ----------
    JCGM 100:2008, 4.3.7, equation (7).
    Checked in ``tests/published/test_gum.py``: 4.3.7 EXAMPLE 1 and within H.1.

    Examples
    --------
    >>> round(rectangular_standard_uncertainty(0.40e-6) * 1e6, 2)
    0.23
    """
    a = check.at_least_zero("The half width", half_width)
    return check.plain(np.asarray(a / np.sqrt(3.0)))


def resolution_standard_uncertainty(resolution: ArrayLike) -> FloatOrArray:
    r"""Standard uncertainty of a display's least step, a rectangle of that full width.

    .. math:: u = \frac{d}{\sqrt{12}}

    Parameters
    ----------
    resolution : array_like
        Least step that can be read [any unit].

    Returns
    -------
    float or ndarray
        Standard uncertainty [unit of resolution].

    Raises
    ------
    OutOfRange
        The resolution is negative or not finite.

    Notes
    -----
    For a display that rounds. One that cuts digits off is also off by half a step.

    References
    ----------
    JCGM 100:2008, F.2.2.1: 0.29 of the step.
    Checked in ``tests/published/test_gum.py``: F.2.2.1.

    Examples
    --------
    >>> round(resolution_standard_uncertainty(1.0), 2)
    0.29
    """
    d = check.at_least_zero("The resolution", resolution)
    return check.plain(np.asarray(d / np.sqrt(12.0)))


def trapezoid_standard_uncertainty(half_width: ArrayLike, resolution: ArrayLike) -> FloatOrArray:
    r"""Standard uncertainty of a stated half width and a display's step together.

    .. math:: u = \sqrt{\frac{a^2}{3} + \frac{d^2}{12}}

    Parameters
    ----------
    half_width : array_like
        Stated accuracy, a hard limit either side [any unit].
    resolution : array_like
        Least step that can be read [unit of half_width].

    Returns
    -------
    float or ndarray
        Standard uncertainty [unit of half_width].

    Raises
    ------
    OutOfRange
        An input is negative or not finite.

    Notes
    -----
    The sum of two rectangles is a trapezoid with outer half width ``a + d/2`` and inner half
    width ``|a - d/2|``; this is the same number as the Guide's formula for that trapezoid.

    References
    ----------
    JCGM 100:2008, 4.3.9, equation (9a), and F.2.2.1.
    Checked in ``tests/published/test_gum.py``: against equation (9a).

    Examples
    --------
    >>> round(trapezoid_standard_uncertainty(58.4, 10), 2)
    33.84
    """
    a = check.at_least_zero("The half width", half_width)
    d = check.at_least_zero("The resolution", resolution)
    return check.plain(np.asarray(np.hypot(a / np.sqrt(3.0), d / np.sqrt(12.0))))


def triangular_standard_uncertainty(half_width: ArrayLike) -> FloatOrArray:
    r"""Standard uncertainty between hard limits when the middle is the likeliest.

    .. math:: u = \frac{a}{\sqrt{6}}

    Parameters
    ----------
    half_width : array_like
        Half of the distance between the limits [any unit].

    Returns
    -------
    float or ndarray
        Standard uncertainty [unit of half_width].

    Raises
    ------
    OutOfRange
        The half width is negative or not finite.

    Notes
    -----
    Smaller than the rectangle's, so it needs a reason.

    References
    ----------
    JCGM 100:2008, 4.3.9, equation (9b).
    Checked in ``tests/published/test_gum.py``: against equation (9a) with its top shrunk to 0.

    Examples
    --------
    >>> round(triangular_standard_uncertainty(1.0), 3)
    0.408
    """
    a = check.at_least_zero("The half width", half_width)
    return check.plain(np.asarray(a / np.sqrt(6.0)))


def arcsine_standard_uncertainty(half_width: ArrayLike) -> FloatOrArray:
    r"""Standard uncertainty of what swings to and fro between two limits.

    .. math:: u = \frac{a}{\sqrt{2}}

    Parameters
    ----------
    half_width : array_like
        Amplitude of the swing [any unit].

    Returns
    -------
    float or ndarray
        Standard uncertainty [unit of half_width].

    Raises
    ------
    OutOfRange
        The half width is negative or not finite.

    Notes
    -----
    For a swing that is a sine; one that dwells at its ends is wider.

    References
    ----------
    JCGM 100:2008, H.1.3.4 (temperature of the bed: 0.5 gives 0.35).
    Checked in ``tests/published/test_gum.py``: H.1.3.4.

    Examples
    --------
    >>> round(arcsine_standard_uncertainty(0.5), 2)
    0.35
    """
    a = check.at_least_zero("The half width", half_width)
    return check.plain(np.asarray(a / np.sqrt(2.0)))


def normal_standard_uncertainty(
    expanded_uncertainty: ArrayLike, coverage_factor: ArrayLike
) -> FloatOrArray:
    r"""Standard uncertainty from an expanded one and its coverage factor.

    .. math:: u = \frac{U}{k}

    Parameters
    ----------
    expanded_uncertainty : array_like
        Uncertainty as the certificate prints it [any unit].
    coverage_factor : array_like
        Factor k the certificate prints beside it [-].

    Returns
    -------
    float or ndarray
        Standard uncertainty [unit of expanded_uncertainty].

    Raises
    ------
    OutOfRange
        The uncertainty is negative or not finite; the factor is not above 0.

    Notes
    -----
    An accuracy printed with no factor is a hard limit and not this.

    References
    ----------
    JCGM 100:2008, 4.3.3.
    Checked in ``tests/published/test_gum.py``: 4.3.3 EXAMPLE and H.1.3.1.

    Examples
    --------
    >>> normal_standard_uncertainty(240e-6, 3) == 80e-6
    True
    """
    expanded = check.at_least_zero("The expanded uncertainty", expanded_uncertainty)
    k = check.above_zero("The coverage factor", coverage_factor)
    return check.plain(np.asarray(expanded / k))


# How uncertainties combine


def combined_standard_uncertainty(
    sensitivities: ArrayLike,
    uncertainties: ArrayLike,
    correlations: ArrayLike | None = None,
) -> float:
    r"""Combined standard uncertainty of a result, to first order.

    .. math:: u_c^2 = \sum_i \sum_j c_i c_j \, u_i u_j \, r_{ij}

    Parameters
    ----------
    sensitivities : (N,) array_like
        Change of the result for a change of each input [unit of result per unit of input].
    uncertainties : (N,) array_like
        Standard uncertainty of each input [unit of input].
    correlations : (N, N) array_like, optional
        Correlation of each pair [-]; left out when no two are correlated.

    Returns
    -------
    float
        Combined standard uncertainty [unit of result].

    Raises
    ------
    OutOfRange
        Lengths differ; an uncertainty is negative or not finite; the correlations are not
        symmetric, not 1 on the diagonal, or cannot be together.

    Notes
    -----
    First order only: where a sensitivity is zero at the estimate and curved around it, see
    `second_order_standard_uncertainty`.

    References
    ----------
    JCGM 100:2008, 5.1.2, equation (10), and 5.2.2, equations (13) and (16).
    Checked in ``tests/published/test_gum.py``: H.1.5 and H.2.

    Examples
    --------
    >>> combined_standard_uncertainty([1, 1], [3, 4])
    5.0
    >>> combined_standard_uncertainty([1, 1], [3, 4], [[1, 1], [1, 1]])
    7.0
    """
    c, u = _one_for_each(sensitivities, uncertainties)
    part = c * u
    scale = float(np.abs(part).max(initial=0.0))
    if scale == 0.0:
        return 0.0
    part = part / scale
    if correlations is None:
        return scale * float(np.sqrt(np.sum(part**2)))
    r = _correlations(correlations, part.size)
    # A variance that is 0 but for rounding, as in a - a, can come out a hair below 0.
    return scale * float(np.sqrt(max(float(part @ r @ part), 0.0)))


def second_order_standard_uncertainty(
    sensitivities: ArrayLike,
    curvatures: ArrayLike,
    uncertainties: ArrayLike,
    third_derivatives: ArrayLike | None = None,
) -> float:
    r"""Combined standard uncertainty with the terms of next higher order, independent inputs.

    .. math:: u_c^2 = \sum_i c_i^2 u_i^2 + \sum_i \sum_j
              \left[ \tfrac12 h_{ij}^2 + c_i t_{ij} \right] u_i^2 u_j^2

    Parameters
    ----------
    sensitivities : (N,) array_like
        First derivatives at the estimates [unit of result per unit of input].
    curvatures : (N, N) array_like
        Second derivatives [unit of result per unit of each of the two inputs].
    uncertainties : (N,) array_like
        Standard uncertainty of each input [unit of input].
    third_derivatives : (N, N) array_like, optional
        Once by input i and twice by input j [unit of result per unit of each]; left out
        when they are all zero, as for any product of two inputs.

    Returns
    -------
    float
        Combined standard uncertainty [unit of result].

    Raises
    ------
    OutOfRange
        Shapes differ; an uncertainty is negative or not finite; the curvatures are not
        symmetric; the sum is below 0, where the series is of no use.

    Notes
    -----
    The Guide gives these terms for inputs that are symmetric about their estimates, normal
    above all, and independent.

    References
    ----------
    JCGM 100:2008, 5.1.2, NOTE.
    Checked in ``tests/published/test_gum.py``: H.1.7.

    Examples
    --------
    A product of two inputs, both estimated as 0, each with standard uncertainty 1:

    >>> second_order_standard_uncertainty([0, 0], [[0, 1], [1, 0]], [1, 1])
    1.0
    """
    c, u = _one_for_each(sensitivities, uncertainties)
    h = check.finite("A curvature", curvatures)
    if h.shape != (c.size, c.size) or not np.allclose(h, h.T):
        raise OutOfRange(
            "Curvatures must be a symmetric table with a row and a column for each input: "
            f"got shape {h.shape} for {c.size} inputs."
        )
    t = (
        np.zeros_like(h)
        if third_derivatives is None
        else check.finite("A third derivative", third_derivatives)
    )
    if t.shape != h.shape:
        raise OutOfRange(
            "Third derivatives must be a table like the curvatures: "
            f"got shape {t.shape} for {c.size} inputs."
        )
    u2 = u**2
    variance = float(c**2 @ u2 + u2 @ (0.5 * h**2 + c[:, None] * t) @ u2)
    if variance < 0.0:
        raise OutOfRange(
            "Second-order terms must leave a variance of at least 0; propagate the "
            f"distributions by another way: got {variance:g}."
        )
    return float(np.sqrt(variance))


def propagate_covariance(jacobian: ArrayLike, covariance: ArrayLike) -> FloatArray:
    r"""Covariances of several results that come from the same inputs, to first order.

    .. math:: U_y = J \, U_x \, J^\mathsf{T}

    Parameters
    ----------
    jacobian : (M, N) array_like
        Sensitivity of each result to each input [unit of result per unit of input].
    covariance : (N, N) array_like
        Covariances of the inputs [product of the units of the two inputs].

    Returns
    -------
    (M, M) ndarray
        Covariances of the results [product of the units of the two results].

    Raises
    ------
    OutOfRange
        Shapes do not fit; the covariances are not symmetric or a variance is negative.

    Notes
    -----
    First order, as `combined_standard_uncertainty`.

    References
    ----------
    JCGM 100:2008, H.2.3, equation (H.9); JCGM 102:2011, 6.2.1, equation (3).
    Checked in ``tests/published/test_gum.py``: H.2, Table H.4.

    Examples
    --------
    Sum and difference of two inputs, each with standard uncertainty 1:

    >>> propagate_covariance([[1, 1], [1, -1]], [[1, 0], [0, 1]])
    array([[2., 0.],
           [0., 2.]])
    """
    j = check.finite("A sensitivity", jacobian)
    v = check.finite("A covariance", covariance)
    if j.ndim != 2 or v.shape != (j.shape[1], j.shape[1]):
        raise OutOfRange(
            "Covariances must have a row and a column for each column of the sensitivities: "
            f"got shapes {j.shape} and {v.shape}."
        )
    _check_covariance(v)
    product = j @ v @ j.T
    return np.asarray((product + product.T) / 2.0)


def correlations_from(covariance: ArrayLike) -> FloatArray:
    r"""Correlation of each pair, from covariances.

    .. math:: r_{ij} = \frac{u(x_i, x_j)}{u(x_i)\,u(x_j)}

    Parameters
    ----------
    covariance : (N, N) array_like
        Covariances [product of the units of the two].

    Returns
    -------
    (N, N) ndarray
        Correlations [-], 1 on the diagonal.

    Raises
    ------
    OutOfRange
        Not a symmetric table; a variance is not above 0.

    Notes
    -----
    Rounding can carry a perfect correlation past 1 by its last digit; it is held at 1.

    References
    ----------
    JCGM 100:2008, 5.2.2, equation (14).
    Checked in ``tests/published/test_gum.py``: H.2, Table H.4.

    Examples
    --------
    >>> correlations_from([[4, 3], [3, 9]])
    array([[1. , 0.5],
           [0.5, 1. ]])
    """
    v = check.finite("A covariance", covariance)
    if v.ndim != 2 or v.shape[0] != v.shape[1]:
        raise OutOfRange(f"Covariances must be a square table: got shape {v.shape}.")
    _check_covariance(v)
    u = np.sqrt(check.above_zero("A variance", np.diag(v)))
    r = np.clip(v / u[:, None] / u[None, :], -1.0, 1.0)
    np.fill_diagonal(r, 1.0)
    return np.asarray(r)


def effective_dof(u_components: ArrayLike, dof: ArrayLike) -> float:
    r"""Effective degrees of freedom of a combined standard uncertainty.

    Welch-Satterthwaite approximation, for independent components:

    .. math:: \nu_\mathrm{eff} = u_c^4 \Big/ \sum_i \frac{u_i^4}{\nu_i},
              \qquad u_c^2 = \sum_i u_i^2

    Parameters
    ----------
    u_components : (N,) array_like
        Standard uncertainty each input contributes, its sensitivity
        coefficient included [one unit, the same for all N].
    dof : (N,) array_like
        Degrees of freedom of each component [-]; ``inf`` if known exactly.

    Returns
    -------
    float
        Effective degrees of freedom [-], not truncated; ``inf`` if every
        component that is not zero has ``inf``.

    Raises
    ------
    OutOfRange
        Lengths differ; an uncertainty is negative or not finite; all are
        zero; a dof is not above zero.

    Notes
    -----
    Not valid for correlated components: the formula assumes independence.

    References
    ----------
    JCGM 100:2008, G.4.1, equation (G.2b).
    Checked in ``tests/published/test_gum.py``: G.4.1 EXAMPLE, H.1.6.

    Examples
    --------
    >>> round(effective_dof([0.25, 0.57, 0.82], dof=[9, 4, 14]), 1)
    19.0
    """
    u = np.asarray(u_components, dtype=float)
    nu = np.asarray(dof, dtype=float)
    if u.ndim != 1 or u.shape != nu.shape:
        raise OutOfRange(
            f"Give one dof for each component: got {u.size} components and {nu.size} dof."
        )
    if not (np.isfinite(u).all() and (u >= 0).all() and u.any()):
        raise OutOfRange(
            f"Uncertainties must be finite, at least 0 and not all 0: got {u.tolist()}."
        )
    if not (nu > 0).all():
        raise OutOfRange(f"Degrees of freedom must be above 0: got {nu.tolist()}.")

    # Only ratios matter, and u**4 underflows below about 1e-81: scale first.
    r = u / u.max()
    denominator = float(np.sum(r**4 / nu))
    return float(np.sum(r**2) ** 2 / denominator) if denominator else float("inf")


def coverage_factor(coverage: ArrayLike, dof: ArrayLike = np.inf) -> FloatOrArray:
    r"""Factor by which to widen a standard uncertainty for a stated two-sided coverage.

    .. math:: k = t_{(1 + p)/2}(\nu)

    Parameters
    ----------
    coverage : array_like
        Probability that the interval holds the value, between 0 and 1 [-].
    dof : array_like
        Degrees of freedom of the standard uncertainty [-]; ``inf`` gives the normal's.

    Returns
    -------
    float or ndarray
        Coverage factor [-].

    Raises
    ------
    OutOfRange
        The coverage is not between 0 and 1; a dof is not above 0.

    Notes
    -----
    The Guide truncates effective degrees of freedom to the next lower whole number before
    its table is used; that is left to the caller.

    References
    ----------
    JCGM 100:2008, G.3.2, equation (G.1d), and Table G.2.
    Checked in ``tests/published/test_gum.py``: H.1.6.

    Examples
    --------
    >>> round(coverage_factor(0.99, dof=16), 2)
    2.92
    """
    from scipy.special import ndtri, stdtrit

    p = check.finite("The coverage", coverage)
    if not ((p > 0) & (p < 1)).all():
        raise OutOfRange(f"The coverage must be between 0 and 1: got {check.shown(p)}.")
    nu = np.asarray(dof, dtype=np.float64)
    if not (nu > 0).all():
        raise OutOfRange(f"Degrees of freedom must be above 0: got {check.shown(nu)}.")
    # From the small tail, so that 1 - p keeps its digits when p is close to 1.
    tail = (1.0 - p) / 2.0
    exact = np.isinf(nu)
    student = stdtrit(np.where(exact, 1.0, nu), tail)
    return check.plain(np.asarray(-np.where(exact, ndtri(tail), student)))


# Repeated observations


@dataclass(frozen=True, slots=True)
class Mean:
    """Mean of repeated observations, its standard uncertainty and degrees of freedom."""

    value: float
    standard_uncertainty: float
    dof: int


@dataclass(frozen=True, slots=True)
class Means:
    """Means of quantities observed together, with their covariances."""

    values: FloatArray
    covariance: FloatArray
    dof: int


def mean_of(observations: ArrayLike) -> Mean:
    r"""Mean of repeated observations and its standard uncertainty (type A).

    .. math:: u^2(\bar q) = \frac{1}{n (n - 1)} \sum_k (q_k - \bar q)^2

    Parameters
    ----------
    observations : (n,) array_like
        Observations, two or more [any unit].

    Returns
    -------
    Mean
        Mean and its standard uncertainty [unit of observations], dof n - 1 [-].

    Raises
    ------
    OutOfRange
        Fewer than two observations, or one is not finite.

    Notes
    -----
    For independent observations under the same conditions. Reading again on the same meter
    does not shrink that meter's own accuracy.

    References
    ----------
    JCGM 100:2008, 4.2.1 to 4.2.3, equations (3) to (5).
    Checked in ``tests/published/test_gum.py``: H.2, Table H.2.

    Examples
    --------
    >>> mean_of([1.0, 2.0, 3.0, 4.0, 5.0]).value
    3.0
    """
    q = check.finite("An observation", observations)
    if q.ndim != 1 or q.size < 2:
        raise OutOfRange(f"Give two or more observations: got {q.size}.")
    dof = q.size - 1
    u = float(np.std(q, ddof=1) / np.sqrt(q.size))
    return Mean(value=float(np.mean(q)), standard_uncertainty=u, dof=dof)


def means_of(observations: ArrayLike) -> Means:
    r"""Means of quantities observed together, with the covariances of the means (type A).

    .. math:: s(\bar q, \bar r) = \frac{1}{n (n - 1)}
              \sum_k (q_k - \bar q)(r_k - \bar r)

    Parameters
    ----------
    observations : (M, n) array_like
        A row for each quantity, a column for each time all were observed [own unit each].

    Returns
    -------
    Means
        Means (M,) [own unit each], covariances (M, M) [product of the two units], dof [-].

    Raises
    ------
    OutOfRange
        Not a table; fewer than two columns; a number is not finite.

    Notes
    -----
    The columns must be simultaneous sets, or the covariances mean nothing.

    References
    ----------
    JCGM 100:2008, 5.2.3, equation (17).
    Checked in ``tests/published/test_gum.py``: H.2.

    Examples
    --------
    >>> means_of([[1.0, 2.0, 3.0], [2.0, 4.0, 6.0]]).values
    array([2., 4.])
    """
    q = check.finite("An observation", observations)
    if q.ndim != 2 or q.shape[1] < 2:
        raise OutOfRange(
            "Give a row for each quantity and two or more columns of observations: "
            f"got shape {q.shape}."
        )
    n = q.shape[1]
    covariance = np.atleast_2d(np.cov(q, ddof=1)) / n
    return Means(values=np.mean(q, axis=1), covariance=covariance, dof=n - 1)


# A straight line


@dataclass(frozen=True, slots=True)
class Line:
    """A straight line y = intercept + slope (x - x_reference) fitted by least squares."""

    intercept: float
    slope: float
    u_intercept: float
    u_slope: float
    correlation: float
    residual_sd: float
    dof: int
    x_reference: float
    x_mean: float
    u_at_mean: float


def fit_line(x: ArrayLike, y: ArrayLike, x_reference: float = 0.0) -> Line:
    r"""Straight line by least squares, with the correlation of its two parameters.

    .. math:: y = y_1 + y_2 (x - x_0), \qquad
              s^2 = \frac{1}{n - 2} \sum_k \left[ y_k - y(x_k) \right]^2

    Parameters
    ----------
    x : (n,) array_like
        Where observed, taken as exact [any unit].
    y : (n,) array_like
        Observed [any unit].
    x_reference : float
        Where the intercept is taken [unit of x].

    Returns
    -------
    Line
        Intercept and its uncertainty [unit of y], slope and its uncertainty [unit of y per
        unit of x], their correlation [-], residual standard deviation [unit of y], dof [-].

    Raises
    ------
    OutOfRange
        Lengths differ; fewer than three points; all x the same; a number is not finite.

    Notes
    -----
    Equal weights, and all scatter is in y. Sums are taken about the mean of x, not about
    zero: the textbook sums of squares lose their digits when x is far from zero.

    References
    ----------
    JCGM 100:2008, H.3.2, equations (H.13a) to (H.13g), regrouped about the mean.
    Checked in ``tests/published/test_gum.py``: H.3.3.

    Examples
    --------
    >>> line = fit_line([1.0, 2.0, 3.0, 4.0], [3.1, 4.9, 7.1, 8.9])
    >>> round(line.slope, 2), round(line.intercept, 2)
    (1.96, 1.1)
    """
    xs = check.finite("An x", x)
    ys = check.finite("A y", y)
    if xs.ndim != 1 or xs.shape != ys.shape or xs.size < 3:
        raise OutOfRange(
            f"Give three or more points, one y for each x: got {xs.size} x and {ys.size} y."
        )
    reference = float(check.finite("The reference x", x_reference))
    x_mean = float(np.mean(xs))
    dx = xs - x_mean
    s_xx = float(dx @ dx)
    if s_xx == 0.0:
        raise OutOfRange(f"The x must not all be the same: got {x_mean:g} for each.")
    y_mean = float(np.mean(ys))
    slope = float(dx @ (ys - y_mean)) / s_xx
    residuals = (ys - y_mean) - slope * dx
    dof = xs.size - 2
    s = float(np.sqrt(residuals @ residuals / dof))
    u_slope = s / float(np.sqrt(s_xx))
    u_at_mean = s / float(np.sqrt(xs.size))
    shift = reference - x_mean
    u_intercept = float(np.hypot(u_at_mean, shift * u_slope))
    # Not from u_intercept, which is 0 for points that lie on a line exactly.
    correlation = shift / float(np.hypot(np.sqrt(s_xx / xs.size), shift))
    return Line(
        intercept=y_mean + slope * shift,
        slope=slope,
        u_intercept=u_intercept,
        u_slope=u_slope,
        correlation=correlation,
        residual_sd=s,
        dof=dof,
        x_reference=reference,
        x_mean=x_mean,
        u_at_mean=u_at_mean,
    )


def line_at(line: Line, x: ArrayLike) -> tuple[FloatOrArray, FloatOrArray]:
    r"""Value of a fitted line at x, and its standard uncertainty.

    .. math:: u^2 = u^2(y_1) + (x - x_0)^2 u^2(y_2)
              + 2 (x - x_0)\, u(y_1) u(y_2) r(y_1, y_2)

    Parameters
    ----------
    line : Line
        As `fit_line` returns it [own units].
    x : array_like
        Where the value is wanted [unit of x].

    Returns
    -------
    value : float or ndarray
        Value on the line [unit of y].
    standard_uncertainty : float or ndarray
        Standard uncertainty of that value [unit of y]; the scatter of a single new
        observation is not in it.

    Raises
    ------
    OutOfRange
        An x is not finite.

    Notes
    -----
    Computed about the mean of x, where the two parameters are not correlated: the same
    number, without the difference of large terms. Outside the fitted x it is an
    extrapolation, and the line itself is the assumption.

    References
    ----------
    JCGM 100:2008, H.3.4, equation (H.15).
    Checked in ``tests/published/test_gum.py``: H.3.4.

    Examples
    --------
    >>> value, u = line_at(fit_line([0.0, 1.0, 2.0], [0.0, 1.0, 2.0]), 5.0)
    >>> value, u
    (5.0, 0.0)
    """
    where = check.finite("The x", x)
    value = line.intercept + line.slope * (where - line.x_reference)
    u = np.hypot(line.u_at_mean, (where - line.x_mean) * line.u_slope)
    return check.plain(np.asarray(value)), check.plain(np.asarray(u))


def _resistance(value: ArrayLike) -> FloatArray:
    r = np.asarray(value, dtype=np.float64)
    # Written so that a value that is not a number does not pass.
    if not (r >= 0).all():
        raise OutOfRange(
            f"The resistance must be at least 0, or inf for an open circuit: got {check.shown(r)}."
        )
    return r


def _resistance_at(fraction: FloatArray, mid_scale: FloatArray) -> FloatArray:
    at_rest = fraction == 0.0
    return np.where(at_rest, np.inf, mid_scale * (1.0 / np.where(at_rest, 1.0, fraction) - 1.0))


def _one_for_each(
    sensitivities: ArrayLike, uncertainties: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    c = check.finite("A sensitivity", sensitivities)
    u = check.at_least_zero("An uncertainty", uncertainties)
    if c.ndim != 1 or c.shape != u.shape:
        raise OutOfRange(
            "Give one sensitivity for each uncertainty: "
            f"got {c.size} sensitivities and {u.size} uncertainties."
        )
    return c, u


def _correlations(correlations: ArrayLike, size: int) -> FloatArray:
    r = check.finite("A correlation", correlations)
    if r.shape != (size, size):
        raise OutOfRange(
            "Correlations must have a row and a column for each input: "
            f"got shape {r.shape} for {size} inputs."
        )
    if not np.allclose(r, r.T) or not np.allclose(np.diag(r), 1.0):
        raise OutOfRange(
            f"Correlations must be symmetric with 1 on the diagonal: got {r.tolist()}."
        )
    least = float(np.linalg.eigvalsh(r)[0])
    if least < -CORRELATION_SLACK:
        raise OutOfRange(
            "These correlations cannot all hold at once (least eigenvalue must be at least 0): "
            f"got {least:.3g}."
        )
    return r


def _check_covariance(covariance: FloatArray) -> None:
    scale = float(np.abs(covariance).max(initial=0.0))
    if not np.allclose(covariance, covariance.T, rtol=1e-9, atol=1e-12 * scale):
        raise OutOfRange(f"Covariances must be symmetric: got {covariance.tolist()}.")
    if not (np.diag(covariance) >= 0).all():
        raise OutOfRange(f"Variances must be at least 0: got {np.diag(covariance).tolist()}.")
