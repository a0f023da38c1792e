"""Channels recorded side by side in time: who stands apart from its fellows, since when, and steps.

A reading that is missing is NaN; it takes part in nothing. Moments never run backwards.
"""

from __future__ import annotations

import warnings

import numpy as np

from rehang.calc._inputs import FloatArray
from rehang.calc.errors import OutOfRange
from rehang.calc.units import (
    Count,
    Index,
    Marks,
    RatiosOut,
    SameUnit,
    SameUnits,
    SameUnitsOut,
    Second,
    Seconds,
    Values,
)

__all__ = ["apart", "binned", "modified_z", "reduced", "spreads", "steps", "stretches"]


def modified_z(values: Values) -> RatiosOut:
    r"""Modified z-score of each value: its distance from the median in robust standard deviations.

    .. math:: M_i = 0.6745\,(x_i - \tilde x) / \mathrm{MAD}

    With half of the values alike the MAD is 0: what equals the median is 0, the rest without end.

    Source: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17, after Iglewicz and Hoaglin
    (1993), who call more than 3.5 a possible outlier.
    No printed value: against scipy's median absolute deviation in ``tests/properties/test_calc_channels.py``.

    >>> [float(round(z, 3)) for z in modified_z([1, 2, 3, 4, 50])]
    [-1.349, -0.674, 0.0, 0.674, 31.702]
    """
    x = _numbers("A value", values)
    far = x - np.median(x)
    mad = float(np.median(np.abs(far)))
    if mad:
        return 0.6745 * far / mad
    return np.where(far == 0, 0.0, np.copysign(np.inf, far))


def apart(values: Values) -> SameUnitsOut:
    """How far each channel is from the median of the others at the same moment.

    values: a row for each moment, a column for each channel; two columns at the least.

    Source: the median is NIST/SEMATECH e-Handbook, 1.3.5.1; to leave out the one that is compared
    is common practice, no source.
    No printed value: against numpy's median of the others in ``tests/properties/test_calc_channels.py``.

    >>> apart([[100, 110, 140]]).tolist()
    [[-25.0, -10.0, 35.0]]
    """
    rows = _rows(values)
    found = np.empty_like(rows)
    whole = ~np.isnan(rows).any(axis=1)
    found[whole] = _apart_whole(rows[whole])
    gaps = rows[~whole]
    if gaps.size:
        with warnings.catch_warnings():
            # A moment at which all the others are missing has no median; NaN says so.
            warnings.simplefilter("ignore", RuntimeWarning)
            for one in range(rows.shape[1]):
                others = np.delete(gaps, one, axis=1)
                found[~whole, one] = gaps[:, one] - np.nanmedian(others, axis=1)
    return found


def _apart_whole(rows: FloatArray) -> FloatArray:
    """Without gaps one sort of each row gives the median of the others by rank."""
    count = rows.shape[1]
    order = np.argsort(rows, axis=1, kind="stable")
    ranks = np.empty_like(order)
    np.put_along_axis(ranks, order, np.arange(count)[None, :], axis=1)
    held = np.take_along_axis(rows, order, axis=1)
    low, high = (count - 2) // 2, (count - 1) // 2
    # With one taken out of its rank, all above it move down by one.
    below = np.where(ranks <= low, held[:, [low + 1]], held[:, [low]])
    above = np.where(ranks <= high, held[:, [high + 1]] if high + 1 < count else 0, held[:, [high]])
    found: FloatArray = rows - (below + above) / 2
    return found


def spreads(values: Values) -> SameUnitsOut:
    """The highest channel less the lowest at each moment; NaN where fewer than two were read.

    Source: the range is NIST/SEMATECH e-Handbook, 1.3.5.6.
    No printed value: against numpy's nanmax and nanmin in ``tests/properties/test_calc_channels.py``.

    >>> spreads([[100, 110, 140], [5, float("nan"), 7]]).tolist()
    [40.0, 2.0]
    """
    rows = _rows(values)
    there = ~np.isnan(rows)
    top = np.where(there, rows, -np.inf).max(axis=1)
    low = np.where(there, rows, np.inf).min(axis=1)
    return np.where(there.sum(axis=1) >= 2, top - low, np.nan)


def steps(values: Values, times: Seconds, window: Second, gap: Second) -> SameUnitsOut:
    """The mean of the window behind a gap less the mean of the window before, at each moment.

    window: how long each mean is taken over. gap: what is left out between, while a probe follows.

    NaN where a window has no reading or reaches past an end.

    Source: the moving average is NIST/SEMATECH e-Handbook, 6.4.2.1; the difference of two is common
    practice, no source.
    No printed value: against numpy's mean of each window in ``tests/properties/test_calc_channels.py``.

    >>> steps([0, 0, 0, 9, 9, 9], [0, 1, 2, 3, 4, 5], 2, 0).tolist()
    [nan, nan, 4.5, 9.0, 4.5, nan]
    """
    x, t = np.asarray(values, dtype=np.float64), _moments(times)
    if x.ndim != 1 or x.shape != t.shape:
        raise OutOfRange(f"Give a value for each moment: got {x.size} and {t.size}.")
    if not (window > 0 and gap >= 0):
        raise OutOfRange(f"A window is above 0 and a gap at least 0: got {window} and {gap}.")
    sums = np.concatenate([[0.0], np.cumsum(np.nan_to_num(x))])
    counts = np.concatenate([[0], np.cumsum(~np.isnan(x))])

    def mean(start: FloatArray, stop: FloatArray) -> FloatArray:
        first, last = np.searchsorted(t, start, "left"), np.searchsorted(t, stop, "left")
        number = counts[last] - counts[first]
        with np.errstate(invalid="ignore", divide="ignore"):
            found: FloatArray = np.where(number > 0, (sums[last] - sums[first]) / number, np.nan)
        return found

    found = mean(t + gap, t + gap + window) - mean(t - window, t)
    inside = (t - window >= t[0]) & (
        t + gap + window <= t[-1] + (t[-1] - t[0]) / max(t.size - 1, 1)
    )
    return np.where(inside, found, np.nan)


def stretches(marks: Marks, times: Seconds, at_least: Second) -> tuple[tuple[Index, Index], ...]:
    """Runs of moments that are all marked and last that long: index of the first and of the last.

    Source: common practice, no source.
    No printed value: counted by hand in ``tests/properties/test_calc_channels.py``.

    >>> stretches([0, 1, 1, 1, 0, 1], [0, 10, 20, 30, 40, 50], 15)
    ((1, 3),)
    """
    held, t = np.asarray(marks, dtype=bool), _moments(times)
    if held.shape != t.shape:
        raise OutOfRange(f"Give a mark for each moment: got {held.size} and {t.size}.")
    edges = np.flatnonzero(np.diff(np.concatenate([[False], held, [False]]).astype(np.int8)))
    return tuple(
        (int(first), int(stop) - 1)
        for first, stop in zip(edges[::2], edges[1::2], strict=True)
        if t[stop - 1] - t[first] >= at_least
    )


def reduced(values: Values, times: Seconds, buckets: Count) -> SameUnitsOut:
    """The lowest and the highest of a channel in each of so many equal spans of time.

    A row for each span; NaN where none was read in it. No peak is lost, as it would be in a mean.

    Source: common practice, no source.
    No printed value: against numpy's nanmin and nanmax in ``tests/properties/test_calc_channels.py``.

    >>> reduced([1, 5, 2, 8], [0, 1, 2, 3], 2).tolist()
    [[1.0, 5.0], [2.0, 8.0]]
    """
    x, t = np.asarray(values, dtype=np.float64), _moments(times)
    if x.shape != t.shape or buckets < 1:
        raise OutOfRange(
            f"Give a value for each moment: got {x.size} and {t.size}, {buckets} spans."
        )
    span = t[-1] - t[0]
    where = np.minimum(((t - t[0]) / (span or 1.0) * buckets).astype(np.intp), buckets - 1)
    there = ~np.isnan(x)
    low = np.full(buckets, np.inf)
    high = np.full(buckets, -np.inf)
    np.minimum.at(low, where[there], x[there])
    np.maximum.at(high, where[there], x[there])
    found = np.column_stack([low, high])
    found[np.isinf(found)] = np.nan
    return found


def binned(
    values: SameUnits, by: Values, width: SameUnit, at_least: Count
) -> tuple[tuple[SameUnit, SameUnit, Count], ...]:
    """The median of one channel for each span of another: middle of the span, median, how many.

    width: how wide a span is, in the unit of `by`. at_least: readings without which a span is left out.

    Source: the median is NIST/SEMATECH e-Handbook, 1.3.5.1.
    No printed value: against numpy's median of each span in ``tests/properties/test_calc_channels.py``.

    >>> binned([60, 62, 80], [1010, 1090, 2050], 200, 1)
    ((1100.0, 61.0, 2), (2100.0, 80.0, 1))
    """
    x, y = np.asarray(by, dtype=np.float64), np.asarray(values, dtype=np.float64)
    if x.shape != y.shape or not width > 0:
        raise OutOfRange(f"Give a value for each: got {x.size} and {y.size}, spans of {width}.")
    there = ~(np.isnan(x) | np.isnan(y))
    x, y = x[there], y[there]
    where = np.floor(x / width).astype(np.intp)
    order = np.argsort(where, kind="stable")
    numbers, first = np.unique(where[order], return_index=True)
    parts = np.split(y[order], first[1:]) if numbers.size else []
    return tuple(
        (float((number + 0.5) * width), float(np.median(part)), len(part))
        for number, part in zip(numbers, parts, strict=True)
        if len(part) >= at_least
    )


def _numbers(name: str, values: Values) -> FloatArray:
    x = np.asarray(values, dtype=np.float64)
    if x.ndim != 1 or not x.size or not np.isfinite(x).all():
        raise OutOfRange(f"{name} must be a finite number, one at the least: got {x.tolist()}.")
    return x


def _rows(values: Values) -> FloatArray:
    rows = np.asarray(values, dtype=np.float64)
    if rows.ndim != 2 or rows.shape[1] < 2:
        raise OutOfRange(f"Give two channels at the least, in columns: got shape {rows.shape}.")
    return rows


def _moments(times: Seconds) -> FloatArray:
    t = np.asarray(times, dtype=np.float64)
    if t.ndim != 1 or not t.size or not np.isfinite(t).all() or (np.diff(t) < 0).any():
        raise OutOfRange("Moments are finite numbers that never run backwards, one at the least.")
    return t
