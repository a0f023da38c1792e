"""The grid of variances that a fit is summed over, and how likely each of its nodes is."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from rehang.calc._inputs import FloatArray, IntArray
from rehang.calc.wear._lent import Fleet, Told
from rehang.calc.wear._likelihood import TINY, cross_products, eliminated
from rehang.calc.wear._readings import Readings, at_points, reduce, sampling_scales

# Elements worked on at once, so that a large fleet needs megabytes and not gigabytes.
AT_ONCE = 1_000_000
# The variances are summed over on a grid of their logarithms, relative to what the meter or
# sampling does alone: first coarse and wide, then closer round what counts.
LOWEST = -6.0  # e^-6: a twentieth of the standard deviation that is there anyway
POINTS = {1: (20, 24), 2: (11, 12)}  # of residual and of each part variance, by terms
# Where values may wander: the same, and how much of the residual lasts, from none of it to all.
WANDERING = {1: (14, 16), 2: (9, 9)}
SHARES = (0.0, 0.5, 1.0)
# How likely each is beforehand: parts wear by what lasts, and a meter is held to the rest. Of
# several tried, these held best over all the shops of ``bench/wear.py``; no source.
SHARE_PRIOR = (0.3, 0.1, 0.6)
# Beforehand, how dense it is in the log that a meter's own variance is all there is (below e^-4 of
# it): without it intervals of such meters were too wide (95.6 % for 90 %); chosen likewise.
METER_ALONE = 3.0
# The prior density of a part variance falls off as this power of it and what sampling does to a
# rate. At 1 it is Tiao and Tan's, flat far out in the log; at 2 the uniform shrinkage of Daniels
# 1999, Canadian Journal of Statistics 27, 567-578 (from memory). Above 1 it sums to one; the lower
# it is, the more the parts take up of what strays, and the narrower the intervals. Chosen likewise.
PART_POWER = 1.5
CLOSER = 3
# Nodes that carry less than this share of the best one's weight change no digit shown.
NEGLIGIBLE = 1e-4


def grid_of(
    axes: Sequence[tuple[float, float] | None], points: Sequence[int]
) -> tuple[FloatArray, ...]:
    """Evenly spaced in the log; an axis that is not open has the one point of no variance."""
    return tuple(
        np.array([-np.inf]) if axis is None else np.linspace(*axis, count)
        for axis, count in zip(axes, points, strict=True)
    )


def mesh_of(grid: Sequence[FloatArray]) -> list[FloatArray]:
    return [m.ravel() for m in np.meshgrid(*grid, indexing="ij")]


def closer_axes(
    grid: Sequence[FloatArray],
    log_weight: FloatArray,
    axes: Sequence[tuple[float, float] | None],
) -> list[tuple[float, float] | None]:
    """The axes, cut to where the weight is; unchanged where little would be gained.

    The second axis of the grid is how much lasts, and is never cut.
    """
    weight = np.exp(log_weight - log_weight.max()).reshape(tuple(len(axis) for axis in grid))
    weight, grid = weight.max(axis=1), (grid[0], *grid[2:])
    shape = weight.shape
    result: list[tuple[float, float] | None] = []
    gained = False
    for i, axis in enumerate(axes):
        if axis is None:
            result.append(None)
            continue
        along = weight.max(axis=tuple(j for j in range(len(shape)) if j != i))
        counts = np.flatnonzero(along > NEGLIGIBLE)
        low = grid[i][max(counts[0] - 1, 0)]
        high = grid[i][min(counts[-1] + 1, shape[i] - 1)]
        gained |= bool(high - low < 0.7 * (axis[1] - axis[0]))
        result.append((float(low), float(high)))
    return result if gained else list(axes)


def log_posterior(
    data: Readings,
    grid: Sequence[FloatArray],
    base: float,
    typical: float,
    prior: Fleet | None,
    told: IntArray,
) -> tuple[FloatArray, Told]:
    """Log of the restricted likelihood times the prior density, and the former alone, by node."""
    terms, units = len(data.terms), data.units
    logs, lasts = (m.ravel() for m in np.meshgrid(grid[0], grid[1], indexing="ij"))
    reduced = reduce(data, *stray_and_wander(logs, lasts, base, data))
    scales, _ = sampling_scales(reduced, data.informative, terms)
    mesh = mesh_of(grid)
    at = np.repeat(np.arange(len(logs)), len(mesh[0]) // len(logs))
    if prior is not None:
        # Where no part of this set tells, the earlier ones' own scale stands in.
        fall_back = np.maximum(prior.part_variances * units**2, TINY)
        scales = np.where(told >= 1, scales, fall_back)
    result, likelihood = np.empty(len(at)), np.empty(len(at))
    step = max(1, AT_ONCE // max(len(data.labels), 1) // 12)
    for start in range(0, len(at), step):
        part = slice(start, start + step)
        ratios = np.stack([axis[part] for axis in mesh[2:]], axis=-1)
        tau2 = np.exp(ratios) * scales[at[part]]
        cross, log_det = cross_products(at_points(reduced.sums, at[part]), diagonal(tau2))
        cross = with_known(cross, prior, units)
        log_fixed, squares = eliminated(cross)
        density = -(reduced.sums.logs[at[part]] + log_det + log_fixed + squares) / 2
        likelihood[part] = density
        for one in prior.told if prior is not None else ():
            density = density + one.at(
                mesh[0][part] + np.log(base),
                mesh[1][part],
                ratios + np.log(scales[at[part]] / units**2),
                data.interval,
            )
        result[part] = _with_prior(density, grid, [axis[part] for axis in mesh], typical)
    shape = tuple(len(axis) for axis in grid)
    logs_of_scales = np.log(scales / units**2).T.reshape(terms, *shape[:2])
    return result, Told(
        likelihood.reshape(shape),
        np.log(base) + grid[0],
        grid[1],
        tuple(grid[2:]),
        logs_of_scales,
        data.interval,
    )


def _with_prior(
    density: FloatArray,
    grid: Sequence[FloatArray],
    mesh: Sequence[FloatArray],
    typical: float,
) -> FloatArray:
    """With the prior densities of the logs; flat where there is nothing to be relative to."""
    log_ratio = mesh[0]
    for axis, ratio in zip(grid[2:], mesh[2:], strict=True):
        if len(axis) > 1:
            density = density + ratio - PART_POWER * np.logaddexp(0.0, ratio)
    if len(grid[1]) > 1:
        density = density + np.log(SHARE_PRIOR)[np.searchsorted(SHARES, mesh[1])]
    if len(grid[0]) > 1 and typical:
        density = density + np.logaddexp(
            log_ratio - np.logaddexp(0.0, log_ratio),
            np.log(METER_ALONE) - np.logaddexp(0.0, 4 * (log_ratio + 4)),
        )
    return density


def stray_and_wander(
    log_ratio: FloatArray, lasting: FloatArray, base: float, data: Readings
) -> tuple[FloatArray, FloatArray]:
    """What strays and what wanders by the hour; a speck keeps a perfect meter's weight finite."""
    speck = 0.0 if (data.variances > 0).all() else 1e-12 * base
    whole = base * np.exp(log_ratio)
    return np.maximum(whole * (1 - lasting), speck), whole * lasting / data.interval


def diagonal(variances: FloatArray) -> FloatArray:
    lower = np.zeros((len(variances), 2, 2))
    for j in range(variances.shape[1]):
        lower[:, j, j] = np.sqrt(variances[:, j])
    return lower


def with_known(cross: FloatArray, prior: Fleet | None, units: FloatArray) -> FloatArray:
    """The set's means told by earlier sets too, and each meter's error by what it is good to."""
    result = cross.copy()
    for k in range(2, cross.shape[-1] - 1):
        result[:, k, k] += 1.0
    for j, unit in enumerate(units if prior is not None else ()):
        assert prior is not None
        weight = 1 / max(float(prior.variances[j]) * unit**2, TINY)
        mean = float(prior.means[j]) * unit
        result[:, j, j] += weight
        result[:, j, -1] += weight * mean
        result[:, -1, j] += weight * mean
        result[:, -1, -1] += weight * mean**2
    return result


def weighted_median(values: FloatArray, weights: FloatArray) -> float:
    """Of the nodes of a mixture."""
    order = np.argsort(values)
    reached = np.cumsum(weights[order])
    return float(values[order][np.searchsorted(reached, reached[-1] / 2)])
