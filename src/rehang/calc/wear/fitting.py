"""The fit of the parts of one set."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from rehang.calc._inputs import FloatArray, IntArray
from rehang.calc.errors import OutOfRange
from rehang.calc.units import Marks, RunningHours, SameUnits, Values, Variances
from rehang.calc.wear._grid import (
    CLOSER,
    LOWEST,
    NEGLIGIBLE,
    POINTS,
    SHARES,
    WANDERING,
    closer_axes,
    grid_of,
    log_posterior,
    mesh_of,
)
from rehang.calc.wear._lent import Fleet, Told
from rehang.calc.wear._likelihood import (
    EXACT,
    TINY,
)
from rehang.calc.wear._posterior import posterior
from rehang.calc.wear._readings import (
    Readings,
    checked,
    own_residual,
    reduce,
    residual_base,
    sampling_scales,
    segments_that_tell,
)
from rehang.calc.wear._scale import Direction, Scale
from rehang.calc.wear.growth import Growth

# What is said of a fit that rests on little.
NO_RATE = (
    "No part was read at two different hours since it was last set, and there is no "
    "earlier set to learn from: how fast the parts wear is not known yet."
)
NOTHING_STRAYS = (
    "There are no more readings than the line needs and no meter variance: nothing "
    "says how far the next value may lie from it."
)
METER_ONLY = (
    "There are no more readings than the line needs: how far values stray from it is "
    "taken to be the meter's alone."
)
LOOSELY = (
    "No part has more readings than its line needs and no meter variance is given: how "
    "far values stray is known loosely."
)
ONE_PART = (
    "Only one part says how fast parts wear: the others are forecast at its rate, and how "
    "far they differ from it is not in the interval."
)


def fit(
    parts: Sequence[str],
    hours: RunningHours,
    values: Values,
    variances: Variances | None = None,
    *,
    restarts: Marks | None = None,
    scale: Scale = "linear",
    direction: Direction = "either",
    quickening: bool = False,
    meters: Sequence[str] | None = None,
    shared: SameUnits | None = None,
    wander: bool = False,
    prior: Fleet | None = None,
) -> Growth:
    r"""Wear of the parts of one set, each with its own rate, that share what they know.

    .. math:: y_{ij} = \alpha_{s(ij)} + r_i t_{ij} + q_i \tfrac{t_{ij}^2}{2}
              + c_{ij} z_{m(ij)} + w_i(t_{ij}) + e_{ij},\quad
              r_i \sim N(\mu_r, \tau_r^2),\quad q_i \sim N(\mu_q, \tau_q^2),\quad
              e_{ij} \sim N(0, \sigma^2 + v_{ij})

    where :math:`z_m \sim N(0, 1)` is a meter's own error and :math:`w_i` a random walk with
    variance :math:`\omega^2` an hour.

    parts: of each reading, in the order taken.
    hours: within a part they may not run backwards.
    values: above 0 on a log scale.
    variances: of each reading's meter; None where not known.
    restarts: whether the part had been set anew before the reading, as left after a re-gap.
    scale: whether the value or its natural logarithm grows evenly: log for a resistance, whose
        growth is then so many per cent per hour.
    direction: whether the value can only grow or only fall from one time to a later one.
    quickening: whether a part's rate may itself change evenly with its hours (the term q above).
    meters: of each reading; "" with no variance is a value that is known and does not stray.
    shared: standard deviation c that the meter's own error gives the reading, alike in all of its
        readings.
    wander: whether values may wander from their line and stay there, besides straying and coming
        back.
    prior: what other sets say, from `fleet`.

    Hours count from the first reading of the part. The level after each restart is free (flat),
    so what the mechanic set it to says nothing of the rate. The likelihood is restricted to
    what is left by levels and means; over the variances it is summed on a grid. Its prior density
    lies between the one that Tiao and Tan took for a balanced one-way layout, whose last power is
    1, and the uniform shrinkage of Daniels, where it is 2, read for unbalanced data with mean
    sampling variances:

    .. math:: p(\sigma^2, \tau^2) \propto \frac{1}{\sigma^2 + \bar v}\,
              \frac{\sigma_r}{(\tau^2 + \sigma_r^2)^{3/2}}

    where :math:`\sigma_r^2` is what sampling alone does to a rate, and with more weight where the
    meter's own variance is all there is. With `wander` the variance beyond the meter is parted over
    the usual interval into what comes back and what lasts; the likelihood is then that of a Kalman
    filter with a flat start. A meter's error is one number for all parts, told by readings with
    another meter or by a value that is known, and else only by what the meter is good to. A
    direction is laid on the forecast: each normal distribution of the mixture is conditional on
    growth from the last reading on being in it; the mixture's weights are not changed by it. A
    prior adds the likelihoods that other sets give to the same variances (on a grid of theirs,
    linear between its nodes) and to how much lasts.

    A value that is open or over the meter's range is not a number and must be left out. A rate is
    not known where no part was read at two different hours and there is no prior; then there is no
    forecast, and a note says so. With one part and no more readings than the line has coefficients
    nothing says how far values stray beyond the meter; then they are taken not to, and a note says
    so.

    Refused: all readings of all parts equal and no variance; a prior of another scale, or without
    quickening while it is asked for.

    Source: Laird and Ware 1982, Biometrics 38, 963-974 (the model); Tiao and Tan 1965, Biometrika
    52, 37-53, and Daniels 1999, Canadian Journal of Statistics 27, 567-578 (prior densities);
    Harvey 1989, Forecasting, Structural Time Series Models and the Kalman Filter, 3.3 and 3.4
    (random walk with noise, flat start); all from memory.
    No printed value: one part alone is a weighted line, and many are a mixed model at its maximum,
    in ``tests/properties/test_calc_wear.py``; what intervals hold is counted in simulated shops,
    there and in ``bench/wear.py``.

    >>> found = fit(["K1"] * 3 + ["K2"] * 3, [0, 100, 200] * 2, [16, 17.1, 18, 16, 17.9, 20.2],
    ...             [0.01] * 6)
    >>> round(found.mean_rate, 4), [round(1000 * found.rate(p)[0], 1) for p in found.parts]
    (0.0155, [10.4, 20.6])
    """
    if prior is not None:
        prior.must_fit(scale, quickening)
    data = checked(parts, hours, values, variances, restarts, scale, quickening, meters, shared)
    return _fitted(data, scale, direction, wander, prior)


@dataclass(frozen=True, slots=True)
class _Told:
    """How much the readings say, before anything is laid on their variances."""

    rates: IntArray  # (terms) parts that tell of each term [-]
    typical: float  # variance of the meter [value squared]; 0 where none is given
    base: float  # what the residual is counted in [value squared]
    within: float  # variance of the readings about their levels [value squared]
    known: bool  # whether anything says how fast parts wear
    residual_is_open: bool
    notes: tuple[str, ...]


def _fitted(
    data: Readings, scale: Scale, direction: Direction, wander: bool, prior: Fleet | None
) -> Growth:
    told = _told(data, prior)
    axes = _axes(told, prior)
    wanders = wander and axes[0] is not None
    of_residual, of_parts = (WANDERING if wanders else POINTS)[len(data.terms)]
    points = [of_residual, *[of_parts] * len(data.terms)]
    shares = np.array(SHARES if wanders else (0.0,))

    def weighed() -> tuple[tuple[FloatArray, ...], FloatArray, Told | None]:
        first, *rest = grid_of(axes, points)
        grid = (first, shares, *rest)
        if not told.known:
            return grid, np.zeros(1), None
        return grid, *log_posterior(data, grid, told.base, told.typical, prior, told.rates)

    grid, log_weight, says = weighed()
    for _ in range(CLOSER if told.known else 0):
        closer = closer_axes(grid, log_weight, axes)
        if closer == axes:
            break
        axes = closer
        grid, log_weight, says = weighed()
    weights = np.exp(log_weight - log_weight.max())
    kept = weights > NEGLIGIBLE
    weights = weights[kept] / weights[kept].sum()
    mesh = [axis[kept] for axis in mesh_of(grid)]
    found = posterior(data, mesh, told.base, told.rates, prior, known=told.known)
    return Growth(
        parts=data.labels,
        scale=scale,
        direction=direction,
        meters=data.meters,
        weights=weights,
        rates=found.rates,
        covariances=found.covariances,
        levels=found.levels,
        strays=found.strays,
        of_set=found.of_set,
        last_hours=data.last_hours,
        known=told.known,
        told=says,
        notes=told.notes,
    )


def _told(data: Readings, prior: Fleet | None) -> _Told:
    terms = len(data.terms)
    typical = float(data.variances.mean())
    total = reduce(data, np.array([typical if typical else 1.0]))
    _, rates = sampling_scales(total, data.informative, terms)
    known = prior is not None or bool(rates[0] >= 1)
    if terms == 2 and prior is None and known and rates[1] < 1:
        raise OutOfRange(
            "Quickening needs a part read at three different hours since its record began, or "
            "what other sets say: fit it without quickening."
        )
    # Readings that are left when every part has its own line.
    segments = np.diff(np.append(data.segment_starts, len(data.values)))
    tell = segments_that_tell(data)
    spare = int(segments[tell].sum()) - int(tell.sum()) - int(rates.sum())
    within = own_residual(data)
    base = typical or residual_base(within, spare, data)
    if known and not typical and not base > EXACT * within:
        raise OutOfRange(
            "The readings are equal or lie on a line exactly and no variance is given, so nothing "
            "says how far the next may lie from it: give the variances of the meter."
        )
    lenders = prior.told if prior is not None else ()
    fleet_residual = any(one.residual_is_open for one in lenders)
    is_open = spare > 0 or int(rates[0]) >= 2 or fleet_residual
    nothing = known and not is_open and typical == 0
    notes = []
    if not known:
        notes.append(NO_RATE)
    elif nothing:
        notes.append(NOTHING_STRAYS)
    elif not is_open:
        notes.append(METER_ONLY)
    elif spare < 1 and typical == 0:
        notes.append(LOOSELY)
    known = known and not nothing
    if known and prior is None and int(rates[0]) == 1 and len(data.labels) > 1:
        notes.append(ONE_PART)
    return _Told(
        rates=rates,
        typical=typical,
        base=base or 1.0,  # where it is 0, nothing is asked of it
        within=within,
        known=known,
        residual_is_open=known and is_open,
        notes=tuple(notes),
    )


def _axes(told: _Told, prior: Fleet | None) -> list[tuple[float, float] | None]:
    """Of the grid, each in the log of a variance over what is there anyway."""
    axes: list[tuple[float, float] | None] = [None]
    if told.residual_is_open:
        high = max(3.0, float(np.log(max(told.within, TINY) / told.base)) + 5.0)
        if prior is not None and prior.residual_variance > 0:
            high = max(high, float(np.log(prior.residual_variance / told.base)) + 3.0)
        axes[0] = (LOWEST if told.typical else -14.0, high)
    for j, parts in enumerate(told.rates):
        tied = all(len(one.ratios[j]) == 1 for one in (prior.told if prior is not None else ()))
        axes.append(None if not told.known or (parts < 2 and tied) else (LOWEST, 22.0))
    return axes
