"""What a fixed-pitch propeller's speed says of the engine's power on a day.

Speeds are in any one unit, revolutions a minute say, the same for all of a call: only ratios
and differences count. ``sigma`` is the density of the day's air over that of standard air at
sea level; `rehang.calc.atmosphere` gives it with its uncertainty. Arrays of any shapes that
broadcast are taken, and an array comes back; single numbers give a single number.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from rehang.calc import _inputs as check
from rehang.calc._components import Component, components, root_sum_square
from rehang.calc._inputs import FloatArray, FloatOrArray
from rehang.calc._said import said
from rehang.calc.conformity import p_inside_normal
from rehang.calc.errors import OutOfRange
from rehang.calc.uncertainty import (
    rectangular_standard_uncertainty,
    resolution_standard_uncertainty,
)

# P/P0 = 1.132 sigma - 0.132. From memory; books on aircraft design give it as Gagg and Ferrar's
# (1934), not read in any of them.
POWER_LAPSE = 0.132
# The law is used for airfields: density altitudes from about -11,000 to 21,000 ft. Our choice of
# where to stop, no source.
LEAST_SIGMA, MOST_SIGMA = 0.5, 1.4
# Standard uncertainty of a speed ratio. Engine charts take power as the pressure over the root
# of the temperature instead (AC 23-8, appendix 1, from memory); 20 degrees from standard the two
# laws part by 0.015 of the speed, and a rectangle of that width has 0.0042. Our choice, no source.
MODEL_UNCERTAINTY = 0.005
# Half of the difference of two headings is the wind only as long as it is small; what is left
# over goes with its square. Our choice, no source.
WINDY = 0.025

MODEL_NOTE = (
    "The power-lapse factor is from memory, and a mixture too rich for thin air takes more speed "
    "than this: lean as the manual allows before judging."
)
BEYOND_AIR_NOTE = "More is missing than the air and the tachometer explain."
MAYBE_AIR_NOTE = "The air and the tachometer can explain what is missing."
NOTHING_SHORT_NOTE = "The speed is not below the reference: nothing is missing."
CUBE_NOTE = "The missing power takes the propeller for the right one, with its right pitch."


@dataclass(frozen=True, slots=True)
class ExpectedSpeed:
    """Static speed to expect of a sound engine in the day's air."""

    speed: FloatOrArray  # [any one unit of speed]
    change: FloatOrArray  # from the speed in standard air at sea level, below 0 in thin air [same]
    standard_uncertainty: FloatOrArray  # of the speed [same]
    components: tuple[Component, ...]  # [same]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TwoHeadings:
    """Static speed freed of wind, by two opposite headings."""

    speed: FloatOrArray  # mean of the two [any one unit of speed]
    standard_uncertainty: FloatOrArray  # of the mean [same]
    wind: FloatOrArray  # half of the first less the second: what wind adds to the first [same]
    u_wind: FloatOrArray  # its standard uncertainty; the tachometer's own deviation cancels [same]
    components: tuple[Component, ...]  # of the mean [same]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class StaticRange:
    """A static speed against a range, as printed, and as if the range were for standard air."""

    p_inside: FloatOrArray  # probability of being inside, as the range is printed [-]
    worth_of_air: FloatOrArray  # speed less what it would be in standard air [any unit of speed]
    in_standard_air: FloatOrArray  # speed brought to standard air at sea level [same]
    u_in_standard_air: FloatOrArray  # its standard uncertainty [same]
    p_inside_in_standard_air: FloatOrArray  # probability of being inside then [-]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Shortfall:
    """How much of a missing static speed the air explains, and how much it does not."""

    short: FloatOrArray  # reference less speed [any one unit of speed]
    by_air: FloatOrArray  # of it by the day's air [same]
    u_by_air: FloatOrArray  # standard uncertainty of that [same]
    left: FloatOrArray  # short less by_air: what something else has to explain [same]
    u_left: FloatOrArray  # standard uncertainty of that [same]
    low: FloatOrArray  # left less k of its standard uncertainties [same]
    high: FloatOrArray  # left and k of them [same]
    coverage_factor: float  # the k of low and high [-]
    power_missing: FloatOrArray  # share of the power a sound engine makes in this air [-]
    u_power_missing: FloatOrArray  # its standard uncertainty [-]
    components: tuple[Component, ...]  # of left [any one unit of speed]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class MagDrops:
    """Drops of speed on one magneto at a time, and how far apart they are."""

    left: FloatOrArray  # drop with the left magneto alone [any one unit of speed]
    right: FloatOrArray  # drop with the right magneto alone [same]
    difference: FloatOrArray  # left less right [same]
    u_left: FloatOrArray  # standard uncertainty [same]
    u_right: FloatOrArray  # standard uncertainty [same]
    u_difference: FloatOrArray  # standard uncertainty [same]
    notes: tuple[str, ...]


# The engine and the propeller in thin air


def power_share(sigma: ArrayLike) -> FloatOrArray:
    r"""Power at full throttle over that in standard air at sea level, at one speed.

    .. math:: \frac{P}{P_0} = (1 + c)\,\sigma - c, \qquad c = 0.132

    Parameters
    ----------
    sigma : array_like
        Density over that of standard air at sea level [-].

    Returns
    -------
    float or ndarray
        Share of the power [-].

    Raises
    ------
    OutOfRange
        The density ratio is outside 0.5 to 1.4.

    Notes
    -----
    For an engine without a blower. What is burnt goes with the density; what friction takes
    does not, and c is its share. By density alone: see `expected_static_speed` for how much a
    hot or cold day can move that.

    References
    ----------
    Gagg and Ferrar (1934) as books on aircraft design carry it, P/P0 = 1.132 sigma - 0.132;
    from memory.
    Checked in ``tests/published/test_static_rpm.py``: 0.9039 at 3,000 ft, by hand.

    Examples
    --------
    >>> round(power_share(0.8), 4)
    0.7736
    """
    ratio = _sigma(sigma)
    return check.plain(np.asarray((1.0 + POWER_LAPSE) * ratio - POWER_LAPSE))


def static_speed_ratio(sigma: ArrayLike) -> FloatOrArray:
    r"""Static speed of a fixed-pitch propeller over its speed in standard air at sea level.

    .. math:: \frac{n}{n_0} = \left( \frac{P/P_0}{\sigma} \right)^{1/3}
              = \left( \frac{1.132\,\sigma - 0.132}{\sigma} \right)^{1/3}

    Parameters
    ----------
    sigma : array_like
        Density over that of standard air at sea level [-].

    Returns
    -------
    float or ndarray
        Ratio of speeds [-].

    Raises
    ------
    OutOfRange
        As `power_share`.

    Notes
    -----
    The propeller takes power with the density and the cube of the speed. Thin air takes from
    the engine and from its load, so little is left over: that is why a static speed is a test.

    References
    ----------
    FAA powerplant handbook, power check (at one density the same speed takes the same power);
    the cube law of propellers, common practice, no source; `power_share`.
    Checked in ``tests/published/test_static_rpm.py``: -9, -16 and -28 at 2,300.

    Examples
    --------
    >>> round(2300 * static_speed_ratio(0.9151) - 2300, 1)
    -9.4
    """
    return check.plain(_ratio(_sigma(sigma)))


def power_from_speed(speed: ArrayLike, reference: ArrayLike) -> FloatOrArray:
    r"""Power over a reference power, by two static speeds in one air.

    .. math:: \frac{P}{P_\mathrm{ref}} = \left( \frac{n}{n_\mathrm{ref}} \right)^3

    Parameters
    ----------
    speed : array_like
        Static speed [any unit].
    reference : array_like
        Static speed at the reference power in the same air, on the same propeller [unit of speed].

    Returns
    -------
    float or ndarray
        Share of the reference power [-].

    Raises
    ------
    OutOfRange
        A speed is not above 0.

    Notes
    -----
    Takes the propeller for unchanged: a bent, cut or repitched one moves the speed by itself.

    References
    ----------
    The cube law of propellers; common practice, no source.
    No printed value: worked by hand in ``tests/published/test_static_rpm.py``.

    Examples
    --------
    >>> round(power_from_speed(2200, 2300), 3)
    0.875
    """
    n = check.above_zero("The speed", speed)
    at = check.above_zero("The reference speed", reference)
    return check.plain(np.asarray((n / at) ** 3))


def expected_static_speed(
    reference: ArrayLike,
    sigma: ArrayLike,
    *,
    u_reference: ArrayLike = 0.0,
    u_sigma: ArrayLike = 0.0,
    u_model: ArrayLike = MODEL_UNCERTAINTY,
) -> ExpectedSpeed:
    r"""Static speed to expect in the day's air, with its uncertainty.

    .. math:: n = n_0\, r(\sigma), \qquad
              u^2(n) = r^2 u^2(n_0) + n_0^2 \left( \frac{0.132}{3 \sigma^2 r^2} \right)^2
              u^2(\sigma) + n_0^2 u^2(r)

    Parameters
    ----------
    reference : array_like
        Static speed of a sound engine in standard air at sea level [any unit].
    sigma : array_like
        Density over that of standard air at sea level [-].
    u_reference : array_like
        Standard uncertainty of the reference [unit of reference].
    u_sigma : array_like
        Standard uncertainty of the density ratio [-].
    u_model : array_like
        Standard uncertainty of the speed ratio itself, for what the law leaves out [-].

    Returns
    -------
    ExpectedSpeed
        Speed, change, standard uncertainty and components [unit of reference].

    Raises
    ------
    OutOfRange
        As `power_share`; the reference is not above 0; an uncertainty is below 0.

    Notes
    -----
    The law goes by density. Engine charts go by pressure over the root of temperature, with
    which a hot day costs an engine less than it takes off the propeller's load; 20 degrees from
    standard that is worth 0.015 of the speed. ``u_model`` is there for it.

    References
    ----------
    `static_speed_ratio`; JCGM 100:2008, 5.1.2, equation (10).
    Checked in ``tests/published/test_static_rpm.py``: -9, -16 and -28 at 2,300.

    Examples
    --------
    >>> found = expected_static_speed(2300, 0.9151, u_sigma=0.002)
    >>> round(found.speed, 1), round(found.change, 1), round(found.standard_uncertainty, 1)
    (2290.6, -9.4, 11.5)
    """
    at = check.above_zero("The reference speed", reference)
    ratio = _sigma(sigma)
    r = _ratio(ratio)
    named = _expected_parts(at, ratio, u_reference, u_sigma, u_model)
    return ExpectedSpeed(
        speed=check.plain(np.asarray(at * r)),
        change=check.plain(np.asarray(at * (r - 1.0))),
        standard_uncertainty=check.plain(root_sum_square(named)),
        components=components(named),
        notes=(MODEL_NOTE,),
    )


# A run on a day


def two_headings(
    first: ArrayLike,
    second: ArrayLike,
    *,
    accuracy: ArrayLike,
    resolution: ArrayLike = 0.0,
    u_run: ArrayLike = 0.0,
) -> TwoHeadings:
    r"""Static speed from two runs on opposite headings, on one tachometer.

    .. math:: \bar n = \frac{n_1 + n_2}{2}, \qquad
              u^2(\bar n) = \frac{a^2}{3} + \frac12 \left( \frac{d^2}{12} + u_r^2 \right)

    Parameters
    ----------
    first, second : array_like
        Speeds on the two headings [any unit].
    accuracy : array_like
        Of the tachometer, a hard limit either side [unit of first].
    resolution : array_like
        Least step that can be read [unit of first].
    u_run : array_like
        Standard uncertainty of one run, for gusts and how well it settled [unit of first].

    Returns
    -------
    TwoHeadings
        Mean, what wind adds, their standard uncertainties, components [unit of first].

    Raises
    ------
    OutOfRange
        A speed is not above 0; another input is below 0.

    Notes
    -----
    Wind into the propeller unloads it and wind from behind loads it, alike to first order, so
    the mean is free of it. The tachometer's own deviation is the same in both and does not get
    smaller by a mean; in the difference it cancels.

    References
    ----------
    JCGM 100:2008, 5.2.2, equation (13), and F.1.2.3 (readings that share an instrument); the
    two headings: common practice, no source.
    No printed value: worked by hand in ``tests/published/test_static_rpm.py``.

    Examples
    --------
    >>> found = two_headings(2290, 2250, accuracy=25, resolution=10)
    >>> found.speed, found.wind, round(found.standard_uncertainty, 1)
    (2270.0, 20.0, 14.6)
    """
    one = check.above_zero("The speed on the first heading", first)
    other = check.above_zero("The speed on the second heading", second)
    each = np.hypot(
        np.asarray(resolution_standard_uncertainty(resolution)),
        check.at_least_zero("The uncertainty of a run", u_run),
    )
    mean, half = (one + other) / 2.0, (one - other) / 2.0
    named = {
        "tachometer": np.asarray(rectangular_standard_uncertainty(accuracy)),
        "reading and run": np.asarray(each / np.sqrt(2.0)),
    }
    shape = np.zeros(mean.shape)
    return TwoHeadings(
        speed=check.plain(np.asarray(mean)),
        standard_uncertainty=check.plain(np.asarray(root_sum_square(named) + shape)),
        wind=check.plain(np.asarray(half)),
        u_wind=check.plain(np.asarray(each / np.sqrt(2.0) + shape)),
        components=components(named),
        notes=said(
            (
                np.abs(half) > WINDY * mean,
                "The two headings are more than a twentieth of the speed apart, too far for a mean "
                "to free them of wind: run again in less of it.",
            )
        ),
    )


def static_range(
    speed: ArrayLike,
    lower: ArrayLike,
    upper: ArrayLike,
    sigma: ArrayLike,
    *,
    u_speed: ArrayLike,
    u_sigma: ArrayLike = 0.0,
    u_model: ArrayLike = MODEL_UNCERTAINTY,
) -> StaticRange:
    r"""Probability that a static speed is inside its range, as printed and in standard air.

    .. math:: p = \Phi\!\left(\frac{n_U - n}{u}\right) - \Phi\!\left(\frac{n_L - n}{u}\right),
              \qquad n_\mathrm{std} = n / r(\sigma)

    Parameters
    ----------
    speed : array_like
        Static speed, freed of wind [any unit].
    lower, upper : array_like
        Range of the type certificate, -inf or inf where it has no end [unit of speed].
    sigma : array_like
        Density over that of standard air at sea level [-].
    u_speed : array_like
        Standard uncertainty of the speed, the tachometer's and the runs' [unit of speed].
    u_sigma : array_like
        Standard uncertainty of the density ratio [-].
    u_model : array_like
        Standard uncertainty of the speed ratio itself, for what the law leaves out [-].

    Returns
    -------
    StaticRange
        Probabilities [-]; worth of the air, speed in standard air, its uncertainty [unit of speed].

    Raises
    ------
    OutOfRange
        As `power_share`; the speed or its uncertainty is not above 0; the lower end is above
        the upper.

    Notes
    -----
    The first probability is the one to judge by, unless the source of the range says that the
    speed is to be corrected; the second stands beside it to say what the air is worth.

    References
    ----------
    JCGM 106:2012, 7.2, equation (7), by `p_inside_normal`; `static_speed_ratio`.
    No printed value: the parts are checked; put together by hand in
    ``tests/published/test_static_rpm.py``.

    Examples
    --------
    >>> found = static_range(2245, 2250, 2350, 0.9151, u_speed=1.2, u_sigma=0.002)
    >>> round(found.p_inside, 3), round(found.in_standard_air), round(found.worth_of_air, 1)
    (0.0, 2254, -9.2)
    """
    n = check.above_zero("The speed", speed)
    u = check.above_zero("The uncertainty of the speed", u_speed)
    ratio = _sigma(sigma)
    r = _ratio(ratio)
    standard = np.asarray(n / r)
    by_air = _expected_parts(standard, ratio, 0.0, u_sigma, u_model)
    u_standard = np.asarray(np.hypot(u, root_sum_square(by_air)) / r)
    return StaticRange(
        p_inside=p_inside_normal(n, u, lower, upper),
        worth_of_air=check.plain(np.asarray(n - standard)),
        in_standard_air=check.plain(standard),
        u_in_standard_air=check.plain(u_standard),
        p_inside_in_standard_air=p_inside_normal(standard, u_standard, lower, upper),
        notes=(MODEL_NOTE,),
    )


def shortfall(
    speed: ArrayLike,
    reference: ArrayLike,
    sigma: ArrayLike,
    *,
    u_speed: ArrayLike,
    u_reference: ArrayLike = 0.0,
    u_sigma: ArrayLike = 0.0,
    u_model: ArrayLike = MODEL_UNCERTAINTY,
    coverage_factor: float = 2.0,
) -> Shortfall:
    r"""How much of a missing static speed the day's air explains, and how much it does not.

    .. math:: n_0 - n = \underbrace{n_0 (1 - r(\sigma))}_\text{the air}
              + \underbrace{n_0\, r(\sigma) - n}_\text{the rest}, \qquad
              \frac{\Delta P}{P} = 1 - \left( \frac{n}{n_0\, r(\sigma)} \right)^3

    Parameters
    ----------
    speed : array_like
        Static speed, freed of wind [any unit].
    reference : array_like
        Static speed of a sound engine in standard air at sea level [unit of speed].
    sigma : array_like
        Density over that of standard air at sea level [-].
    u_speed : array_like
        Standard uncertainty of the speed, the tachometer's and the runs' [unit of speed].
    u_reference : array_like
        Standard uncertainty of the reference [unit of speed].
    u_sigma : array_like
        Standard uncertainty of the density ratio [-].
    u_model : array_like
        Standard uncertainty of the speed ratio itself, for what the law leaves out [-].
    coverage_factor : float
        How many standard uncertainties ``low`` and ``high`` lie from ``left`` [-].

    Returns
    -------
    Shortfall
        Speeds with their uncertainties [unit of speed], share of the power that is missing [-].

    Raises
    ------
    OutOfRange
        As `expected_static_speed`; the speed is not above 0.

    Notes
    -----
    Where ``low`` is above 0 the air and the tachometer do not explain it, and a note says so.
    What else may: a wrong or repitched propeller, carburettor heat that leaks, a throttle that
    does not open all the way, timing, a weak cylinder.

    References
    ----------
    `static_speed_ratio`, `power_from_speed`; JCGM 100:2008, 5.1.2, equation (10).
    Checked in ``tests/published/test_static_rpm.py``: 100 short at 3,000 ft, of which the air
    explains 9.

    Examples
    --------
    >>> found = shortfall(2200, 2300, 0.9151, u_speed=1.2, u_sigma=0.002)
    >>> found.short, round(found.by_air), round(found.left), round(found.low)
    (100.0, 9, 91, 67)
    >>> round(found.power_missing, 2), round(found.u_power_missing, 2)
    (0.11, 0.01)
    >>> found.notes[0]
    'More is missing than the air and the tachometer explain.'
    """
    n = check.above_zero("The speed", speed)
    at = check.above_zero("The reference speed", reference)
    ratio = _sigma(sigma)
    k = float(check.above_zero("The coverage factor", coverage_factor))
    r = _ratio(ratio)
    of_air = _expected_parts(at, ratio, u_reference, u_sigma, u_model)
    named = {**of_air, "speed": check.at_least_zero("The uncertainty of the speed", u_speed)}
    expected = np.asarray(at * r)
    short, by_air = np.asarray(at - n), np.asarray(at - expected)
    left = np.asarray(expected - n)
    u_left = root_sum_square(named)
    low, high = np.asarray(left - k * u_left), np.asarray(left + k * u_left)
    share = np.asarray(power_from_speed(n, expected))
    # d(n/e)**3 by n and by e.
    u_share = 3.0 * share * np.hypot(named["speed"] / n, root_sum_square(of_air) / expected)
    # Of the air's own part the reference moves only the small difference from it.
    u_by_air = root_sum_square({**of_air, "reference": of_air["reference"] * (1.0 - r) / r})
    return Shortfall(
        short=check.plain(short),
        by_air=check.plain(by_air),
        u_by_air=check.plain(np.asarray(u_by_air)),
        left=check.plain(left),
        u_left=check.plain(u_left),
        low=check.plain(low),
        high=check.plain(high),
        coverage_factor=k,
        power_missing=check.plain(np.asarray(1.0 - share)),
        u_power_missing=check.plain(np.asarray(u_share)),
        components=components(named),
        notes=(
            *said(
                (np.asarray(low > 0), BEYOND_AIR_NOTE),
                (np.asarray((low <= 0) & (short > 0)), MAYBE_AIR_NOTE),
                (np.asarray((low <= 0) & (short <= 0)), NOTHING_SHORT_NOTE),
            ),
            CUBE_NOTE,
            MODEL_NOTE,
        ),
    )


def mag_drops(
    both_before_left: ArrayLike,
    left: ArrayLike,
    both_before_right: ArrayLike,
    right: ArrayLike,
    *,
    resolution: ArrayLike,
    proportional: ArrayLike = 0.0,
    u_settle: ArrayLike = 0.0,
) -> MagDrops:
    r"""Drops of speed on one magneto at a time, on one tachometer.

    .. math:: \delta = n_\mathrm{both} - n_\mathrm{one}, \qquad
              u^2(\delta) = \frac{d^2}{6} + \frac{(f \delta)^2}{3} + 2 u_s^2

              u^2(\delta_L - \delta_R) = \frac{d^2}{3}
              + \frac{f^2 (\delta_L - \delta_R)^2}{3} + 4 u_s^2

    Parameters
    ----------
    both_before_left : array_like
        Speed on both magnetos, before the switch goes to the left one [any unit].
    left : array_like
        Speed on the left magneto alone [unit of both_before_left].
    both_before_right : array_like
        Speed on both again, before the switch goes to the right one [unit of both_before_left].
    right : array_like
        Speed on the right magneto alone [unit of both_before_left].
    resolution : array_like
        Least step that the tachometer shows [unit of both_before_left].
    proportional : array_like
        Part of its accuracy that grows with the speed, a hard limit as a fraction [-].
    u_settle : array_like
        Standard uncertainty of one reading, for how well the speed settled
        [unit of both_before_left].

    Returns
    -------
    MagDrops
        Drops, their difference and standard uncertainties [unit of both_before_left].

    Raises
    ------
    OutOfRange
        A speed is not above 0; another input is below 0.

    Notes
    -----
    A deviation that is the same at all four readings cancels, so a panel tachometer that is 25
    off still reads drops well; the step of each reading does not. A deviation in proportion to
    the speed leaves its share of the drop. A drop below 0 is a speed that rose.

    References
    ----------
    JCGM 100:2008, 5.1.2, equation (10), 5.2.2, equation (13), F.1.2.3 and F.2.2.1.
    No printed value: against drawing the inputs in ``tests/properties/test_calc_power.py``;
    worked by hand in ``tests/published/test_static_rpm.py``.

    Examples
    --------
    >>> found = mag_drops(1800, 1700, 1800, 1740, resolution=10)
    >>> found.left, found.right, found.difference
    (100.0, 60.0, 40.0)
    >>> round(found.u_left, 2), round(found.u_difference, 2)
    (4.08, 5.77)
    """
    by_left = check.above_zero("The speed on both magnetos, before the left", both_before_left)
    on_left = check.above_zero("The speed on the left magneto", left)
    by_right = check.above_zero("The speed on both magnetos, before the right", both_before_right)
    on_right = check.above_zero("The speed on the right magneto", right)
    slope = np.asarray(
        rectangular_standard_uncertainty(
            check.at_least_zero("The proportional part of the accuracy", proportional)
        )
    )
    each = np.hypot(
        np.asarray(resolution_standard_uncertainty(resolution)),
        check.at_least_zero("The uncertainty of a settled reading", u_settle),
    )
    one, other = np.asarray(by_left - on_left), np.asarray(by_right - on_right)
    apart = np.asarray(one - other)
    u_one = np.asarray(np.hypot(np.sqrt(2.0) * each, slope * one))
    u_other = np.asarray(np.hypot(np.sqrt(2.0) * each, slope * other))
    u_apart = np.asarray(np.hypot(2.0 * each, slope * apart))
    return MagDrops(
        left=check.plain(one),
        right=check.plain(other),
        difference=check.plain(apart),
        u_left=check.plain(u_one),
        u_right=check.plain(u_other),
        u_difference=check.plain(u_apart),
        notes=said(
            (
                np.asarray(one <= 2.0 * u_one),
                "The drop on the left magneto cannot be told from none on this tachometer.",
            ),
            (
                np.asarray(other <= 2.0 * u_other),
                "The drop on the right magneto cannot be told from none on this tachometer.",
            ),
            (
                np.asarray(np.abs(apart) <= 2.0 * u_apart),
                "The two drops cannot be told apart on this tachometer.",
            ),
        ),
    )


def _sigma(value: ArrayLike) -> FloatArray:
    ratio = check.finite("The density ratio", value)
    if not ((ratio >= LEAST_SIGMA) & (ratio <= MOST_SIGMA)).all():
        raise OutOfRange(
            f"The density ratio must be from 0.5 to 1.4 for the power law: got {check.shown(ratio)}."
        )
    return ratio


def _ratio(sigma: FloatArray) -> FloatArray:
    return np.asarray(np.cbrt(1.0 + POWER_LAPSE * (1.0 - 1.0 / sigma)))


def _expected_parts(
    at: FloatArray,
    sigma: FloatArray,
    u_reference: ArrayLike,
    u_sigma: ArrayLike,
    u_model: ArrayLike,
) -> dict[str, FloatArray]:
    """What each input adds to the uncertainty of the expected speed."""
    r = _ratio(sigma)
    return {
        "reference": r * check.at_least_zero("The uncertainty of the reference", u_reference),
        "density of the air": at
        * POWER_LAPSE
        / (3.0 * sigma**2 * r**2)
        * check.at_least_zero("The uncertainty of the density ratio", u_sigma),
        "power law": at * check.at_least_zero("The uncertainty of the power law", u_model),
    }
