"""Checks at the top of a calculation; below them the data is trusted."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rehang.calc.errors import OutOfRange

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]
BoolArray = NDArray[np.bool_]
FloatOrArray = float | FloatArray


def finite(name: str, value: ArrayLike) -> FloatArray:
    """The value as an array of floats; refused when any of it is not a finite number."""
    array = np.asarray(value, dtype=np.float64)
    if not np.isfinite(array).all():
        raise OutOfRange(f"{name} must be a finite number: got {shown(array)}.")
    return array


def at_least_zero(name: str, value: ArrayLike) -> FloatArray:
    """As `finite`, and refused below zero."""
    array = finite(name, value)
    if not (array >= 0).all():
        raise OutOfRange(f"{name} must be at least 0: got {shown(array)}.")
    return array


def above_zero(name: str, value: ArrayLike) -> FloatArray:
    """As `finite`, and refused at zero and below."""
    array = finite(name, value)
    if not (array > 0).all():
        raise OutOfRange(f"{name} must be above 0: got {shown(array)}.")
    return array


def limits(lower: ArrayLike, upper: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """A pair of limits; one without a bound is ``-inf`` below or ``inf`` above."""
    low = np.asarray(lower, dtype=np.float64)
    high = np.asarray(upper, dtype=np.float64)
    if np.isnan(low).any() or np.isnan(high).any():
        raise OutOfRange(
            "A limit must be a number; write -inf or inf where there is no bound: "
            f"got {shown(low)} and {shown(high)}."
        )
    if (low == np.inf).any() or (high == -np.inf).any():
        raise OutOfRange(
            "A lower limit must be below inf and an upper limit above -inf: "
            f"got {shown(low)} and {shown(high)}."
        )
    if not (low <= high).all():
        raise OutOfRange(
            "The lower limit must not be above the upper limit: "
            f"got {shown(low)} and {shown(high)}."
        )
    return low, high


def between(name: str, share: float) -> float:
    """A share of something: above 0 and below 1."""
    if not 0 < share < 1:
        raise OutOfRange(f"{name} must be between 0 and 1: got {share:g}.")
    return float(share)


def plain(array: FloatArray) -> FloatOrArray:
    """A float for one number, else the array."""
    return float(array) if array.ndim == 0 else array


def shown(array: FloatArray) -> str:
    """The first few numbers, so that a message about a million readings stays a sentence."""
    if array.ndim == 0:
        return f"{float(array):g}"
    first = ", ".join(f"{value:g}" for value in array.ravel()[:5])
    return f"[{first}, ...] ({array.size} numbers)" if array.size > 5 else f"[{first}]"
