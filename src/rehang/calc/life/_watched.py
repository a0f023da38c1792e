"""Parts with time under watch, and integrals over the ages watched, in units of the longest age."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from rehang.calc import _inputs as check
from rehang.calc._inputs import BoolArray, FloatArray
from rehang.calc.errors import OutOfRange
from rehang.calc.units import RunningHour

# Elements worked on at once, so that a large fleet needs megabytes and not gigabytes.
AT_ONCE = 1_000_000


@dataclass(frozen=True, slots=True)
class Lives:
    """Parts with time under watch, in logarithms of age over the longest age."""

    log_exit: FloatArray  # (N,), at most 0
    depth: FloatArray  # (N,) log of exit over entry; inf where the part was met new
    failed: BoolArray  # (N,)
    kept: BoolArray  # which of the parts given have time under watch
    longest: RunningHour
    parts: int
    failures: int
    total_hours: float
    late: bool
    mean_log_failure: float  # nan where none failed


def _columns(
    hours: ArrayLike, failed: ArrayLike, entered: ArrayLike | None
) -> tuple[FloatArray, BoolArray, FloatArray]:
    exits = check.at_least_zero("The hours", hours)
    marks = np.asarray(failed)
    entries = np.zeros(exits.shape) if entered is None else check.at_least_zero("Entry", entered)
    if exits.ndim != 1 or marks.shape != exits.shape or entries.shape != exits.shape:
        raise OutOfRange(
            "Give the hours of each part, whether a failure ended them and, where parts entered "
            f"late, at what age: got shapes {exits.shape}, {marks.shape} and {entries.shape}."
        )
    if not exits.size:
        raise OutOfRange("Give the hours of at least one part: got none.")
    if marks.dtype != np.bool_:
        if marks.dtype.kind not in "iuf" or not np.isin(marks, (0, 1)).all():
            raise OutOfRange(
                "Mark each part with 1 or True where a failure ended its hours, "
                "else with 0 or False."
            )
        marks = marks == 1
    if (backwards := entries > exits).any():
        k = int(np.argmax(backwards))
        raise OutOfRange(
            "A part's hours run forward: "
            f"got one that entered at {entries[k]:g} and was last seen at {exits[k]:g}."
        )
    if (unseen := marks & (entries == exits)).any():
        k = int(np.argmax(unseen))
        raise OutOfRange(
            "A failure needs time under watch before it: "
            f"got one at {exits[k]:g}, the age at which the part entered."
        )
    return exits, np.asarray(marks, dtype=np.bool_), entries


def lives_of(hours: ArrayLike, failed: ArrayLike, entered: ArrayLike | None) -> Lives:
    exits, marks, entries = _columns(hours, failed, entered)
    # No time under watch, nothing said.
    kept = exits > entries
    t, e, marked = exits[kept], entries[kept], marks[kept]
    longest = float(t.max()) if t.size else 0.0
    log_exit = np.log(t / longest)
    # Of the ratio and not of the two logarithms, so that a short watch keeps its digits.
    with np.errstate(divide="ignore"):
        depth = np.where(e > 0, np.log1p((t - e) / np.where(e > 0, e, 1.0)), np.inf)
    return Lives(
        log_exit=log_exit,
        depth=depth,
        failed=marked,
        kept=kept,
        longest=longest,
        parts=int(exits.size),
        failures=int(marked.sum()),
        total_hours=float((t - e).sum()),
        late=bool((e > 0).any()),
        mean_log_failure=float(log_exit[marked].mean()) if marked.any() else np.nan,
    )


def share_given(name: str, value: float) -> float:
    if not 0 < value < 1:
        raise OutOfRange(f"{name} must be above 0 and below 1: got {value:g}.")
    return float(value)


def watched(lives: Lives, shape: float, orders: int) -> FloatArray:
    """(orders + 1, N) integrals of u^(shape - 1) times powers 0, 1, 2 of log u, part by part.

    All terms have one sign, so nothing cancels, however short the watch or small the shape.
    """
    from scipy.special import gammainc

    x = lives.log_exit
    grown = np.exp(shape * x)
    z = shape * lives.depth
    zero = grown * (-np.expm1(-z) if lives.late else 1.0) / shape
    result = [zero]
    if orders:
        below = gammainc(2, z) if lives.late else 1.0
        first = grown * below / shape**2
        result.append(x * zero - first)
        if orders > 1:
            below = gammainc(3, z) if lives.late else 1.0
            result.append(x**2 * zero - 2 * x * first + 2 * grown * below / shape**3)
    return np.array(result)


def log_areas_of(lives: Lives, shapes: FloatArray) -> FloatArray:
    """log A at many shapes."""
    result = np.empty(len(shapes))
    step = max(1, AT_ONCE // max(len(lives.log_exit), 1))
    for start in range(0, len(shapes), step):
        part = shapes[start : start + step, np.newaxis]
        grown = np.exp(part * lives.log_exit)
        if lives.late:
            grown = grown * -np.expm1(-part * lives.depth)
        result[start : start + step] = np.log(grown.sum(axis=1)) - np.log(part[:, 0])
    return result


def profile_of(lives: Lives, shape: float) -> float:
    """Log likelihood at the best k of a shape, times in units of the longest."""
    r = lives.failures
    log_area = np.log(watched(lives, shape, 0).sum())
    return float((shape - 1) * r * lives.mean_log_failure + r * (np.log(r) - 1 - log_area))
