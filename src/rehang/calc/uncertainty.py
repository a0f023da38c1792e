"""What a meter's reading is worth: half widths, bands, standard uncertainties.

Fractions are fractions (0.008 for 0.8 %), never per cent. An analog ohmmeter's scale runs
backwards, from a short at full arc to an open circuit at rest:

resistance: value shown, the range's multiplier included; ``inf`` for the needle at rest.
mid_scale: resistance at which the needle stands at half of its arc, on the range used.
arc_accuracy: half width as a fraction of full arc; 0.03 for 3 % of arc.
"""

from __future__ import annotations

from math import inf, isfinite
from typing import Annotated

import numpy as np
from numpy.typing import ArrayLike

from rehang.calc import _inputs as check
from rehang.calc._alone import numbers
from rehang.calc._inputs import FloatArray
from rehang.calc.errors import OutOfRange
from rehang.calc.units import Ohms, OhmsOut, Ratios, RatiosOut, SameUnits, SameUnitsOut, Values

# What a meter says of itself


def digital_half_width(
    reading: Values,
    fraction_of_reading: Ratios,
    counts: Ratios,
    count_size: SameUnits,
) -> SameUnitsOut:
    r"""Half width of a digital meter's band: a fraction of reading and counts, added straight.

    .. math:: a = f\,|y| + n\,d

    fraction_of_reading: 0.008 for 0.8 %.
    counts: of the last digit, added to it.
    count_size: worth of one count on the range used.

    The resolution of the display is not in it; it is a distribution of its own.

    Source: JCGM 100:2008, 4.3.7 (bounds stated without a coverage factor are hard limits); adding
    the two parts straight is how meter makers print them: common practice, no source.
    No printed value: worked by hand, 0.008 x 4,800 + 2 x 10 = 58.4, in
    ``tests/published/test_meters.py``.

    >>> round(digital_half_width(4800, 0.008, counts=2, count_size=10), 9)
    58.4
    """
    alone = numbers(reading, fraction_of_reading, counts, count_size)
    if alone is not None and isfinite(sum(alone)) and min(alone[1:]) >= 0.0:
        return alone[1] * abs(alone[0]) + alone[2] * alone[3]
    y = check.finite("The reading", reading)
    fraction = check.at_least_zero("The fraction of reading", fraction_of_reading)
    n = check.at_least_zero("The number of counts", counts)
    d = check.at_least_zero("The size of a count", count_size)
    return check.plain(np.asarray(fraction * np.abs(y) + n * d))


def arc_fraction(resistance: Ohms, mid_scale: Ohms) -> RatiosOut:
    r"""Place of an analog ohmmeter's needle: the fraction of full arc it stands at.

    .. math:: f = \frac{1}{1 + R / R_\mathrm{mid}}

    It is 1 for a short, 0.5 at mid-scale, 0 for an open circuit. For the common series ohmmeter: a
    cell, a movement and its own resistance, in series with what is measured. A shunt ohmmeter reads
    the other way round.

    Source: Ohm's law for the series circuit; common practice, no source.
    No printed value: the mid-scale gives 1/2 by its definition, checked in
    ``tests/published/test_meters.py``.

    >>> arc_fraction([0, 200, 4800, float("inf")], mid_scale=200)
    array([1.  , 0.5 , 0.04, 0.  ])
    """
    alone = numbers(resistance, mid_scale)
    if alone is not None and alone[0] >= 0.0 and 0.0 < alone[1] < inf:
        return 1.0 / (1.0 + alone[0] / alone[1])
    r = _resistance(resistance)
    mid = check.above_zero("The mid-scale resistance", mid_scale)
    return check.plain(np.asarray(1.0 / (1.0 + r / mid)))


def resistance_at_arc(fraction: Ratios, mid_scale: Ohms) -> OhmsOut:
    r"""Resistance at which an analog ohmmeter's needle stands at a fraction of full arc.

    .. math:: R = R_\mathrm{mid} \left( \frac{1}{f} - 1 \right)

    The inverse of `arc_fraction`, with its limits; ``inf`` at fraction 0.

    Source: Ohm's law for the series circuit; common practice, no source.
    No printed value: checked as the inverse of `arc_fraction` in
    ``tests/published/test_meters.py``.

    >>> resistance_at_arc(0.04, mid_scale=200)
    4800.0
    """
    f = check.at_least_zero("The fraction of arc", fraction)
    if not (f <= 1).all():
        raise OutOfRange(f"The fraction of arc must be from 0 to 1: got {float(f.max()):g}.")
    mid = check.above_zero("The mid-scale resistance", mid_scale)
    return check.plain(np.asarray(_resistance_at(f, mid)))


def arc_band(resistance: Ohms, mid_scale: Ohms, arc_accuracy: Ratios) -> tuple[OhmsOut, OhmsOut]:
    r"""Lowest and highest resistance that fit what an analog ohmmeter shows.

    .. math:: R = R_\mathrm{mid} \left( \frac{1}{f \pm a} - 1 \right)

    Lowest at least 0, highest ``inf`` where an open circuit fits too. The band is lopsided and wide
    far from mid-scale: give an array of mid-scales to see which range would be better.

    Source: Ohm's law for the series circuit, with an accuracy stated as a fraction of arc; common
    practice, no source.
    No printed value: worked by hand, 200 (1/0.07 - 1) and 200 (1/0.01 - 1), in
    ``tests/published/test_meters.py``.

    >>> low, high = arc_band(4800, mid_scale=200, arc_accuracy=0.03)
    >>> round(low), round(high)
    (2657, 19800)
    """
    least, most, mid = arc_limits(resistance, mid_scale, arc_accuracy)
    low = np.asarray(_resistance_at(most, mid))
    high = np.asarray(_resistance_at(least, mid))
    return check.plain(low), check.plain(high)


def arc_limits(
    resistance: Ohms, mid_scale: Ohms, arc_accuracy: Ratios
) -> tuple[Annotated[FloatArray, "-"], Annotated[FloatArray, "-"], Annotated[FloatArray, "ohm"]]:
    r"""Least and greatest fraction of arc that fit what an analog ohmmeter shows.

    .. math:: \max(0, f - a) \quad\text{and}\quad \min(1, f + a)

    Cut off at the ends of the scale, because no resistance puts a needle beyond them. With them the
    mid-scale as an array.

    Source: common practice, no source.
    No printed value: it is the first half of `arc_band`, checked there.

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


# From a half width to a standard uncertainty


def rectangular_standard_uncertainty(half_width: Values) -> SameUnitsOut:
    r"""Standard uncertainty when only two hard limits are known.

    .. math:: u = \frac{a}{\sqrt{3}}

    Says nothing of where between the limits the value is; that is what it is for.

    Source: JCGM 100:2008, 4.3.7, equation (7).
    Checked in ``tests/published/test_gum.py``: 4.3.7 EXAMPLE 1.

    >>> round(rectangular_standard_uncertainty(0.40e-6) * 1e6, 2)
    0.23
    """
    a = check.at_least_zero("The half width", half_width)
    return check.plain(np.asarray(a / np.sqrt(3.0)))


def resolution_standard_uncertainty(resolution: Values) -> SameUnitsOut:
    r"""Standard uncertainty of a display's least step, a rectangle of that full width.

    .. math:: u = \frac{d}{\sqrt{12}}

    For a display that rounds. One that cuts digits off is also off by half a step.

    Source: JCGM 100:2008, F.2.2.1: 0.29 of the step.
    Checked in ``tests/published/test_gum.py``: F.2.2.1.

    >>> round(resolution_standard_uncertainty(1.0), 2)
    0.29
    """
    d = check.at_least_zero("The resolution", resolution)
    return check.plain(np.asarray(d / np.sqrt(12.0)))


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
