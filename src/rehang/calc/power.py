r"""What a fixed-pitch propeller's speed says of the engine's power on a day.

Speeds are in any one unit, revolutions a minute say, the same for all of a call: only ratios
and differences count. By the law of `POWER_LAPSE` and the cube law of propellers the speed goes
with the density of the air as

.. math:: r(\sigma) = \sqrt[3]{1 + 0.132 \left( 1 - \frac{1}{\sigma} \right)}

reference: static speed of a sound engine in standard air at sea level.
sigma: density of the day's air over that of standard air at sea level;
    `rehang.calc.atmosphere` gives it with its uncertainty.
u_model: of the speed ratio itself, for what the law leaves out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from rehang.calc import _inputs as check
from rehang.calc._components import Component, components, root_sum_square
from rehang.calc._inputs import FloatArray
from rehang.calc._said import said
from rehang.calc.errors import OutOfRange
from rehang.calc.uncertainty import (
    rectangular_standard_uncertainty,
    resolution_standard_uncertainty,
)
from rehang.calc.units import Ratio, Ratios, RatiosOut, SameUnits, SameUnitsOut, Values

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

    speed: SameUnitsOut
    change: SameUnitsOut  # from the speed in standard air at sea level, below 0 in thin air
    standard_uncertainty: SameUnitsOut  # of the speed
    components: tuple[Component, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TwoHeadings:
    """Static speed freed of wind, by two opposite headings."""

    speed: SameUnitsOut  # mean of the two
    standard_uncertainty: SameUnitsOut  # of the mean
    wind: SameUnitsOut  # half of the first less the second: what wind adds to the first
    u_wind: SameUnitsOut  # its standard uncertainty; the tachometer's own deviation cancels
    components: tuple[Component, ...]  # of the mean [same]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Shortfall:
    """How much of a missing static speed the air explains, and how much it does not."""

    short: SameUnitsOut  # reference less speed
    by_air: SameUnitsOut  # of it by the day's air
    u_by_air: SameUnitsOut  # standard uncertainty of that
    left: SameUnitsOut  # short less by_air: what something else has to explain
    u_left: SameUnitsOut  # standard uncertainty of that
    low: SameUnitsOut  # left less k of its standard uncertainties
    high: SameUnitsOut  # left and k of them
    coverage_factor: Ratio  # the k of low and high
    power_missing: RatiosOut  # share of the power a sound engine makes in this air
    u_power_missing: RatiosOut  # its standard uncertainty
    components: tuple[Component, ...]  # of left [any one unit of speed]
    notes: tuple[str, ...]


# The engine and the propeller in thin air


def power_from_speed(speed: Values, reference: SameUnits) -> RatiosOut:
    r"""Power over a reference power, by two static speeds in one air.

    .. math:: \frac{P}{P_\mathrm{ref}} = \left( \frac{n}{n_\mathrm{ref}} \right)^3

    reference: static speed at the reference power in the same air, on the same propeller.

    Takes the propeller for unchanged: a bent, cut or repitched one moves the speed by itself.

    Source: the cube law of propellers; common practice, no source.
    No printed value: worked by hand in ``tests/published/test_static_rpm.py``.

    >>> round(power_from_speed(2200, 2300), 3)
    0.875
    """
    n = check.above_zero("The speed", speed)
    at = check.above_zero("The reference speed", reference)
    return check.plain(np.asarray((n / at) ** 3))


def expected_static_speed(
    reference: Values,
    sigma: Ratios,
    *,
    u_reference: SameUnits = 0.0,
    u_sigma: Ratios = 0.0,
    u_model: Ratios = MODEL_UNCERTAINTY,
) -> ExpectedSpeed:
    r"""Static speed to expect in the day's air, with its uncertainty.

    .. math:: n = n_0\, r(\sigma), \qquad
              u^2(n) = r^2 u^2(n_0) + n_0^2 \left( \frac{0.132}{3 \sigma^2 r^2} \right)^2
              u^2(\sigma) + n_0^2 u^2(r)

    The law goes by density. Engine charts go by pressure over the root of temperature, with
    which a hot day costs an engine less than it takes off the propeller's load; 20 degrees from
    standard that is worth 0.015 of the speed. ``u_model`` is there for it.

    Source: the law in the module's head; JCGM 100:2008, 5.1.2, equation (10).
    Checked in ``tests/published/test_static_rpm.py``: -9, -16 and -28 at 2,300.

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
    first: Values,
    second: Values,
    *,
    accuracy: SameUnits,
    resolution: SameUnits = 0.0,
    u_run: SameUnits = 0.0,
) -> TwoHeadings:
    r"""Static speed from two runs on opposite headings, on one tachometer.

    .. math:: \bar n = \frac{n_1 + n_2}{2}, \qquad
              u^2(\bar n) = \frac{a^2}{3} + \frac12 \left( \frac{d^2}{12} + u_r^2 \right)

    accuracy: of the tachometer, a hard limit either side.
    resolution: least step that can be read.
    u_run: of one run, for gusts and how well it settled.

    Wind into the propeller unloads it and wind from behind loads it, alike to first order, so
    the mean is free of it. The tachometer's own deviation is the same in both and does not get
    smaller by a mean; in the difference it cancels.

    Source: JCGM 100:2008, 5.2.2, equation (13), and F.1.2.3 (readings that share an instrument);
    the two headings: common practice, no source.
    No printed value: worked by hand in ``tests/published/test_static_rpm.py``.

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


def shortfall(
    speed: Values,
    reference: SameUnits,
    sigma: Ratios,
    *,
    u_speed: SameUnits,
    u_reference: SameUnits = 0.0,
    u_sigma: Ratios = 0.0,
    u_model: Ratios = MODEL_UNCERTAINTY,
    coverage_factor: Ratio = 2.0,
) -> Shortfall:
    r"""How much of a missing static speed the day's air explains, and how much it does not.

    .. math:: n_0 - n = \underbrace{n_0 (1 - r(\sigma))}_\text{the air}
              + \underbrace{n_0\, r(\sigma) - n}_\text{the rest}, \qquad
              \frac{\Delta P}{P} = 1 - \left( \frac{n}{n_0\, r(\sigma)} \right)^3

    speed: freed of wind.
    u_speed: the tachometer's and the runs'.
    coverage_factor: how many standard uncertainties ``low`` and ``high`` lie from ``left``.

    Where ``low`` is above 0 the air and the tachometer do not explain it, and a note says so.
    What else may: a wrong or repitched propeller, carburettor heat that leaks, a throttle that
    does not open all the way, timing, a weak cylinder.

    Source: the law in the module's head, `power_from_speed`; JCGM 100:2008, 5.1.2, equation (10).
    Checked in ``tests/published/test_static_rpm.py``: 100 short at 3,000 ft, of which the air
    explains 9.

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
