"""Readings sorted by part, and what they say with every level left free."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from rehang.calc import _inputs as check
from rehang.calc._inputs import BoolArray, FloatArray, IntArray
from rehang.calc.errors import OutOfRange
from rehang.calc.units import RunningHour
from rehang.calc.wear._likelihood import TINY, Sums, labelled, own_squares
from rehang.calc.wear._scale import Scale, to_scale


@dataclass(frozen=True, slots=True)
class Readings:
    """Readings sorted by part and segment, and where parts and segments start."""

    labels: tuple[str, ...]
    terms: FloatArray  # (terms, readings), hours in units of `width`
    meters: tuple[str, ...]
    loads: FloatArray  # (meters, readings), standard deviation of each one's own error
    interval: RunningHour  # usual time from one reading to the next
    values: FloatArray  # on the model's scale
    variances: FloatArray
    strays: FloatArray  # 1 of a reading, 0 of a value that is known
    segment_starts: IntArray
    part_starts: IntArray  # in segments
    last_segments: IntArray  # of each part
    last_hours: FloatArray  # [h]
    width: RunningHour
    informative: IntArray  # readings of each part that say something of its rate

    @property
    def units(self) -> FloatArray:
        """What rate and quickening are counted in: hours to the first and second power."""
        return np.array([self.width, self.width**2])[: len(self.terms)]


def checked(
    parts: Sequence[str],
    hours: ArrayLike,
    values: ArrayLike,
    variances: ArrayLike | None,
    restarts: ArrayLike | None,
    scale: Scale,
    quickening: bool,
    meters: Sequence[str] | None,
    shared: ArrayLike | None,
) -> Readings:
    labels, part = labelled(parts)
    t = check.finite("The hours", hours)
    y = check.finite("A reading", values)
    n = len(part)
    v = np.zeros(n) if variances is None else check.at_least_zero("A variance", variances)
    anew = np.zeros(n, dtype=bool) if restarts is None else np.asarray(restarts, dtype=bool)
    own = np.zeros(n) if shared is None else check.at_least_zero("What a meter is good to", shared)
    meter = np.array(["" for _ in range(n)] if meters is None else meters, dtype=object)
    if n == 0:
        raise OutOfRange("There is no reading to fit.")
    if any(a.shape != (n,) for a in (t, y, v, anew, own, meter)):
        raise OutOfRange("Give one part, one hour, one value and one variance for each reading.")
    on_scale = to_scale(y, scale)
    if scale == "log":
        v, own = v / y**2, own / y  # first order
    is_read = np.array([meters is None or bool(one) for one in meter]) | (v > 0)
    names = tuple(dict.fromkeys(str(one) for one in meter[own > 0]))
    order = np.argsort(part, kind="stable")
    loads = np.array([np.where(meter == name, own, 0.0) for name in names]).reshape(-1, n)[:, order]
    part, t, v, anew, on_scale = part[order], t[order], v[order], anew[order], on_scale[order]
    new_part = np.diff(part, prepend=-1) != 0
    _refuse_backwards(labels, part, t, new_part)
    first = np.flatnonzero(new_part)
    t = t - t[first][part]
    starts = np.flatnonzero(new_part | anew)
    of_part = part[starts]
    sizes = np.diff(np.append(starts, n))
    spread = np.maximum.reduceat(t, starts) > np.minimum.reduceat(t, starts)
    parts_at = np.flatnonzero(np.diff(of_part, prepend=-1) != 0)
    last = np.append(parts_at[1:], len(starts)) - 1
    ends = np.append(first[1:], n) - 1
    width = float(t.max()) or 1.0
    apart = np.diff(t, prepend=0.0)[~new_part]
    return Readings(
        labels=labels,
        terms=terms_at(t / width, 1 + quickening),
        meters=names,
        loads=loads,
        interval=float(apart[apart > 0].mean()) if (apart > 0).any() else width,
        values=on_scale,
        variances=v,
        strays=is_read[order].astype(float),
        segment_starts=starts,
        part_starts=parts_at,
        last_segments=last,
        last_hours=t[ends],
        width=width,
        informative=np.add.reduceat(np.where(spread, sizes, 0), parts_at).astype(np.intp),
    )


def _refuse_backwards(
    labels: Sequence[str], part: IntArray, hours: FloatArray, new_part: BoolArray
) -> None:
    back = ~new_part & (np.diff(hours, prepend=hours[0]) < 0)
    if back.any():
        i = int(np.flatnonzero(back)[0])
        raise OutOfRange(
            f"Hours run backwards for part {labels[part[i]]}: {hours[i]:g} stands after "
            f"{hours[i - 1]:g}. "
            "Put its readings in the order they were taken, or strike the one that is wrong."
        )


def terms_at(hours: FloatArray, count: int) -> FloatArray:
    """What rate and quickening are multiplied by."""
    return np.array([hours, hours**2 / 2])[:count]


@dataclass(frozen=True, slots=True)
class Reduced:
    """What the readings say for each residual variance, with every level left free."""

    sums: Sums
    levels: FloatArray  # (points, parts)
    level_terms: FloatArray  # (points, terms + meters, parts)
    level_variances: FloatArray  # (points, parts)


def reduce(data: Readings, strays: FloatArray, wanders: FloatArray | None = None) -> Reduced:
    """What each reading adds to those before it in its segment, by a Kalman filter.

    ``strays`` is the variance beyond the meter of a reading, ``wanders`` that of the walk from one
    to the next by the hour. The first reading of a segment sets its level, which is free.
    """
    starts, parts_at = data.segment_starts, data.part_starts
    sizes = np.diff(np.append(starts, len(data.values)))
    hours = data.terms[0] * data.width
    blank = np.zeros((2 - len(data.terms), len(hours)))
    columns = np.vstack([data.terms, blank, data.loads, data.values])  # always z1, z2, ..., y
    count = len(columns)
    level = np.repeat(columns[np.newaxis, :, starts], len(strays), axis=0)
    spread = strays[:, np.newaxis] * data.strays[starts] + data.variances[starts]
    walk = np.zeros((len(strays), 1)) if wanders is None else wanders[:, np.newaxis]
    cross = np.zeros((len(strays), count, count, len(starts)))
    logs = np.zeros(len(strays))
    for k in range(1, int(sizes.max())):
        on = np.flatnonzero(sizes > k)
        at = starts[on] + k
        of_reading = strays[:, np.newaxis] * data.strays[at] + data.variances[at]
        of_level = spread[:, on] + walk * (hours[at] - hours[at - 1])
        whole = of_level + of_reading
        new = columns[:, at] - level[:, :, on]
        weighed = new / whole[:, np.newaxis]
        cross[..., on] += new[:, :, np.newaxis] * weighed[:, np.newaxis]
        logs += np.log(whole).sum(axis=-1)
        level[:, :, on] += of_level[:, np.newaxis] * weighed
        spread[:, on] = of_level * of_reading / whole
    of_part = np.add.reduceat(cross, parts_at, axis=-1)
    total = of_part.sum(axis=-1)
    if len(data.terms) == 1:
        total[:, 1, 1] = 1.0  # the term that is not there: determinant 1, coefficient 0
    last = data.last_segments
    terms = [*range(len(data.terms)), *range(2, count - 1)]
    return Reduced(
        sums=Sums(
            a=np.stack([of_part[:, 0, 0], of_part[:, 0, 1], of_part[:, 1, 1]], axis=1),
            b=of_part[:, :2],
            total=total,
            logs=logs,
        ),
        levels=level[:, -1, last],
        level_terms=level[:, terms][..., last],
        level_variances=spread[:, last],
    )


def at_points(sums: Sums, points: IntArray) -> Sums:
    return Sums(
        a=sums.a[points], b=sums.b[points], total=sums.total[points], logs=sums.logs[points]
    )


def sampling_scales(
    reduced: Reduced, informative: FloatArray | IntArray, terms: int
) -> tuple[FloatArray, IntArray]:
    """Mean sampling variance of rate and quickening (points, terms); how many parts tell each."""
    a11, a12, a22 = (reduced.sums.a[:, i] for i in range(3))
    told = [a11]
    if terms == 2:
        safe = np.where(a11 > 0, a11, 1.0)
        alone = a22 - np.where(a11 > 0, a12**2 / safe, 0.0)
        told.append(np.where(alone > 1e-9 * a22, alone, 0.0))
    parts = np.array([int((m[0] > 0).sum()) for m in told], dtype=np.intp)
    mean = [m.sum(axis=-1) / max(int(count), 1) for m, count in zip(told, parts, strict=True)]
    return np.stack([1 / np.maximum(m, TINY) for m in mean], axis=-1), parts


def segments_that_tell(data: Readings) -> BoolArray:
    t = data.terms[0]
    starts = data.segment_starts
    return np.asarray(np.maximum.reduceat(t, starts) > np.minimum.reduceat(t, starts))


def own_residual(data: Readings) -> float:
    """Variance of the readings about their levels: no residual can be much above it."""
    sizes = np.diff(np.append(data.segment_starts, len(data.values)))
    about = data.values - np.repeat(
        np.add.reduceat(data.values, data.segment_starts) / sizes, sizes
    )
    return float(about @ about) / max(len(about) - len(sizes), 1)


def residual_base(within: float, spare: int, data: Readings) -> float:
    """Where no meter variance is given: what is left about the parts' own lines."""
    if spare < 1:
        return within
    return own_squares(reduce(data, np.array([1.0])).sums) / spare
