"""What is given, checked."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from rehang.calc import _inputs as check
from rehang.calc._inputs import FloatArray
from rehang.calc.errors import OutOfRange


def gamma_given(value: ArrayLike) -> FloatArray:
    g = check.finite("The ratio of specific heats", value)
    if not (g > 1).all():
        raise OutOfRange(f"The ratio of specific heats must be above 1: got {check.shown(g)}.")
    return g


def supply_given(value: ArrayLike) -> FloatArray:
    return check.above_zero("The supply above ambient", value)


def ambient_given(value: ArrayLike) -> FloatArray:
    return check.above_zero("The ambient pressure", value)


def within_supply(reading: ArrayLike, supply: ArrayLike) -> FloatArray:
    c = check.at_least_zero("The reading above ambient", reading)
    s = np.asarray(supply, dtype=np.float64)
    if not (c <= s).all():
        raise OutOfRange(
            "The reading must not be above the supply: "
            f"got a reading of {check.shown(c)} and a supply of {check.shown(s)}."
        )
    return c


def master_given(reading: ArrayLike, supply: FloatArray) -> FloatArray:
    m = within_supply(reading, supply)
    if not ((m > 0) & (m < supply)).all():
        raise OutOfRange(
            "The master's reading must be above 0 and below the supply: "
            f"got a reading of {check.shown(m)} and a supply of {check.shown(supply)}."
        )
    return m


def coverage_given(value: float) -> float:
    return float(check.above_zero("The coverage factor", value))


def at_tester(
    supply: ArrayLike,
    reading: ArrayLike,
    ambient: ArrayLike,
    temperature_ratio: ArrayLike,
    gamma: ArrayLike,
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]:
    s = supply_given(supply)
    return (
        s,
        within_supply(reading, s),
        ambient_given(ambient),
        check.above_zero("The ratio of temperatures", temperature_ratio),
        gamma_given(gamma),
    )
