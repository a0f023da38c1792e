"""What a dial reads round one turn: what comes once a turn, and what is left without it."""

from __future__ import annotations

from dataclasses import dataclass
from math import atan2, hypot, tau

import numpy as np

from rehang.calc import _inputs as check
from rehang.calc.errors import OutOfRange
from rehang.calc.units import Radian, SameUnit, SameUnitsOut, Values

__all__ = ["LEAST_POINTS", "FirstHarmonic", "first_harmonic"]

# Three figures are fitted whole by a mean and a wave, so that nothing would ever be left.
LEAST_POINTS = 4
# Of a wave that is smaller than rounding nobody can say where it is highest.
_NO_WAVE = 1e-12


@dataclass(frozen=True, slots=True)
class FirstHarmonic:
    """Readings round one turn in two parts. ``high_at`` is 0 where nothing comes once a turn."""

    mean: SameUnit
    amplitude: SameUnit  # of what comes once a turn, either way of the mean
    high_at: Radian  # from the first reading, in the order of the readings
    span: SameUnit  # highest less lowest, as read
    left_span: SameUnit  # highest less lowest of what is left
    left: SameUnitsOut  # each reading without mean and wave


def first_harmonic(readings: Values) -> FirstHarmonic:
    r"""The mean and the wave of one turn that lie nearest to readings evenly round it.

    .. math:: \hat R = \frac1N \sum_i y_i, \quad \hat a = \frac2N \sum_i y_i \cos\theta_i,
              \quad \hat b = \frac2N \sum_i y_i \sin\theta_i, \quad \theta_i = \frac{2\pi i}{N}

    readings: what the dial shows, the first at no turn and each as far on as the one before, so
        that the next would be the first again.

    A shaft out of centre, or a dial set up out of centre of what it goes round, shows once a turn,
    as long as it is small beside the radius. What is left is form, and what the dial itself does.
    One row of readings tells neither from the other.

    Refused: fewer than four readings, of which nothing would be left; more than one row.

    Source: NIST/SEMATECH e-Handbook of Statistical Methods, 2.3.4.4, single-trace method (least
    squares circle at evenly spaced angles).
    Checked in ``tests/published/test_harmonic.py``.

    >>> found = first_harmonic([1, 2, 1, 0])
    >>> found.mean, round(found.amplitude, 12), round(found.high_at, 3), round(found.left_span, 12)
    (1.0, 1.0, 1.571, 0.0)
    """
    y = check.finite("A reading", readings)
    if y.ndim != 1 or y.size < LEAST_POINTS:
        raise OutOfRange(
            f"A turn takes {LEAST_POINTS} readings at least, in one row: got {check.shown(y)}."
        )
    angle = tau * np.arange(y.size) / y.size
    mean = float(y.mean())
    off = y - mean
    a = 2 / y.size * float(off @ np.cos(angle))
    b = 2 / y.size * float(off @ np.sin(angle))
    left = off - a * np.cos(angle) - b * np.sin(angle)
    amplitude = hypot(a, b)
    # Beside rounding it has no direction.
    high_at = atan2(b, a) % tau if amplitude > _NO_WAVE * float(np.abs(y).max()) else 0.0
    return FirstHarmonic(mean, amplitude, high_at, float(np.ptp(y)), float(np.ptp(left)), left)
