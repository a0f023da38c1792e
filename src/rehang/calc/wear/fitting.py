"""The fit of the parts of one set."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from rehang.calc._inputs import FloatArray, IntArray
from rehang.calc.errors import OutOfRange
from rehang.calc.wear._grid import (
    CLOSER,
    LOWEST,
    NEGLIGIBLE,
    POINTS,
    SHARES,
    WANDERING,
    closer_axes,
    diagonal,
    grid_of,
    log_posterior,
    mesh_of,
    stray_and_wander,
    with_known,
)
from rehang.calc.wear._lent import Fleet, Told
from rehang.calc.wear._likelihood import (
    EXACT,
    TINY,
    cross_products,
    group_spread,
    own_effects,
    solved,
)
from rehang.calc.wear._readings import (
    Readings,
    at_points,
    checked,
    own_residual,
    reduce,
    residual_base,
    sampling_scales,
    segments_that_tell,
)
from rehang.calc.wear._scale import Direction, Scale
from rehang.calc.wear.growth import Growth


def fit(
    parts: Sequence[str],
    hours: ArrayLike,
    values: ArrayLike,
    variances: ArrayLike | None = None,
    *,
    restarts: ArrayLike | None = None,
    scale: Scale = "linear",
    direction: Direction = "either",
    quickening: bool = False,
    meters: Sequence[str] | None = None,
    shared: ArrayLike | None = None,
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

    Parameters
    ----------
    parts : (N,) sequence of str
        Part of each reading, in the order taken [-].
    hours : (N,) array_like
        Running hours at each reading [h]; within a part they may not run backwards.
    values : (N,) array_like
        Readings [any unit]; above 0 on a log scale.
    variances : (N,) array_like or None
        Variance of each reading's meter [unit of values, squared]; None where not known.
    restarts : (N,) array_like of bool or None
        True where the part had been set anew before the reading, as left after a re-gap [-].
    scale : {"linear", "log"}
        Whether the value or its natural logarithm grows evenly: log for a resistance, whose
        growth is then so many per cent per hour.
    direction : {"either", "up", "down"}
        Whether the value can only grow or only fall from one time to a later one.
    quickening : bool
        Whether a part's rate may itself change evenly with its hours (the term q above).
    meters : (N,) sequence of str or None
        Meter of each reading; "" with no variance is a value that is known and does not stray [-].
    shared : (N,) array_like or None
        Standard deviation c that the meter's own error gives the reading, alike in all of its
        readings [unit of values].
    wander : bool
        Whether values may wander from their line and stay there, besides straying and coming back.
    prior : Fleet or None
        What other sets say, from `fleet` [units of values and hours].

    Returns
    -------
    Growth
        Rates of the parts and of the set, with what is left open about them [units of values
        and hours]; its `at` and `hours_until` look ahead.

    Raises
    ------
    OutOfRange
        Lengths differ; hours run backwards within a part; a value cannot be on the scale; all
        readings of all parts are equal and no variance is given; the prior is of another scale
        or has no quickening while it is asked for.

    Notes
    -----
    Hours count from the first reading of the part. The level after each restart is free (flat),
    so what the mechanic set it to says nothing of the rate. The likelihood is restricted to
    what is left by levels and means; over the variances it is summed on a grid. Its prior density
    lies between the one that Tiao and Tan took for a balanced one-way layout, whose last power is
    1, and the uniform shrinkage of Daniels, where it is 2 (`PART_POWER`), read for unbalanced data
    with mean sampling variances:

    .. math:: p(\sigma^2, \tau^2) \propto \frac{1}{\sigma^2 + \bar v}\,
              \frac{\sigma_r}{(\tau^2 + \sigma_r^2)^{3/2}}

    where :math:`\sigma_r^2` is what sampling alone does to a rate, and with more weight where the
    meter's own variance is all there is (`METER_ALONE`). With `wander` the variance
    beyond the meter is parted over the usual interval into what comes back and what lasts; the
    likelihood is then that of a Kalman filter with a flat
    start. A meter's error is one number for all parts, told by readings with another meter or by
    a value that is known, and else only by what the meter is good to. A direction is laid on the
    forecast: each normal distribution of the mixture is conditional on growth from the last
    reading on being in it. A prior adds the likelihoods that other sets give to the same variances
    (on a grid of theirs, linear between its nodes) and to how much lasts. The mixture's weights are not changed by it. A value that is open
    or over the meter's range is not a number and must be left out. A rate is not known where
    no part was read at two different hours and there is no prior; then there is no forecast,
    and a note says so. With one part and no more readings than the line has coefficients
    nothing says how far values stray beyond the meter; then they are taken not to, and a note
    says so.

    References
    ----------
    Laird and Ware 1982, Biometrics 38, 963-974 (the model); Tiao and Tan 1965, Biometrika 52,
    37-53, and Daniels 1999, Canadian Journal of Statistics 27, 567-578 (prior densities);
    Harvey 1989, Forecasting, Structural Time Series Models and the
    Kalman Filter, 3.3 and 3.4 (random walk with noise, flat start); all from memory.
    No printed value: one part alone is a weighted line, checked against `least_squares`; many
    are checked against a mixed model at its maximum in ``tests/properties/test_calc_wear.py``; what
    intervals hold is counted in simulated shops, there and in ``bench/wear.py``.

    Examples
    --------
    >>> found = fit(["K1"] * 3 + ["K2"] * 3, [0, 100, 200] * 2, [16, 17.1, 18, 16, 17.9, 20.2],
    ...             [0.01] * 6)
    >>> round(found.mean_rate, 4), [round(1000 * found.rate(p)[0], 1) for p in found.parts]
    (0.0155, [10.4, 20.6])
    """
    data = checked(
        parts, hours, values, variances, restarts, scale, quickening, meters, shared, prior
    )
    return _fitted(data, scale, direction, wander, prior)


def _fitted(
    data: Readings, scale: Scale, direction: Direction, wander: bool, prior: Fleet | None
) -> Growth:
    terms = len(data.terms)
    units = np.array([data.width, data.width**2])[:terms]
    typical = float(data.variances.mean())
    total = reduce(data, np.array([typical if typical else 1.0]))
    _, told = sampling_scales(total, data.informative, terms)
    known = prior is not None or bool(told[0] >= 1)
    if terms == 2 and prior is None and known and told[1] < 1:
        raise OutOfRange(
            "Quickening needs a part read at three different hours since its record began, or "
            "what other sets say: fit it without quickening."
        )
    # Readings that are left when every part has its own line.
    segments = np.diff(np.append(data.segment_starts, len(data.values)))
    told_segments = segments_that_tell(data)
    lines = int(told.sum())
    spare = int(segments[told_segments].sum()) - int(told_segments.sum()) - lines
    within = own_residual(data)
    base = typical or residual_base(within, spare, data)
    if known and not typical and not base > EXACT * within:
        raise OutOfRange(
            "The readings are equal or lie on a line exactly and no variance is given, so nothing "
            "says how far the next may lie from it: give the variances of the meter."
        )
    base = base or 1.0  # nothing is asked of it
    notes: list[str] = []
    if not known:
        notes.append(
            "No part was read at two different hours since it was last set, and there is no "
            "earlier set to learn from: how fast the parts wear is not known yet."
        )
    lenders = prior.told if prior is not None else ()
    fleet_residual = any(one.residual_is_open for one in lenders)
    open_residual = spare > 0 or int(told[0]) >= 2 or fleet_residual
    if known and not open_residual:
        if typical == 0:
            known = False
            notes.append(
                "There are no more readings than the line needs and no meter variance: nothing "
                "says how far the next value may lie from it."
            )
        else:
            notes.append(
                "There are no more readings than the line needs: how far values stray from it is "
                "taken to be the meter's alone."
            )
    elif known and spare < 1 and typical == 0:
        notes.append(
            "No part has more readings than its line needs and no meter variance is given: how "
            "far values stray is known loosely."
        )
    if known and prior is None and int(told[0]) == 1 and len(data.labels) > 1:
        notes.append(
            "Only one part says how fast parts wear: the others are forecast at its rate, and how "
            "far they differ from it is not in the interval."
        )

    # Axes of the grid, each in the log of a variance over what is there anyway.
    if not known or not open_residual:
        residual_axis = None
    else:
        high = max(3.0, float(np.log(max(within, TINY) / base)) + 5.0)
        if prior is not None and prior.residual_variance > 0:
            high = max(high, float(np.log(prior.residual_variance / base)) + 3.0)
        residual_axis = (LOWEST if typical else -14.0, high)
    part_axes: list[tuple[float, float] | None] = []
    for j in range(terms):
        tied = all(len(one.ratios[j]) == 1 for one in lenders)
        part_axes.append(None if not known or (told[j] < 2 and tied) else (LOWEST, 22.0))
    axes = [residual_axis, *part_axes]
    wanders = wander and residual_axis is not None
    of_residual, of_parts = (WANDERING if wanders else POINTS)[terms]
    points = [of_residual, *[of_parts] * terms]
    shares = np.array(SHARES if wanders else (0.0,))

    def weighed() -> tuple[tuple[FloatArray, ...], FloatArray, Told | None]:
        first, *rest = grid_of(axes, points)
        grid = (first, shares, *rest)
        if not known:
            return grid, np.zeros(1), None
        return grid, *log_posterior(data, grid, base, typical, prior, told, units)

    grid, log_weight, says = weighed()
    for _ in range(CLOSER if known else 0):
        closer = closer_axes(grid, log_weight, axes)
        if closer == axes:
            break
        axes = closer
        grid, log_weight, says = weighed()
    mesh = mesh_of(grid)
    weights = np.exp(log_weight - log_weight.max())
    kept = weights > NEGLIGIBLE
    weights = weights[kept] / weights[kept].sum()
    return _posterior(
        data,
        [axis[kept] for axis in mesh],
        weights,
        base=base,
        prior=prior,
        told=told,
        says=says,
        units=units,
        scale=scale,
        direction=direction,
        known=known,
        notes=tuple(notes),
    )


def _posterior(
    data: Readings,
    mesh: Sequence[FloatArray],
    weights: FloatArray,
    *,
    base: float,
    prior: Fleet | None,
    told: IntArray,
    says: Told | None,
    units: FloatArray,
    scale: Scale,
    direction: Direction,
    known: bool,
    notes: tuple[str, ...],
) -> Growth:
    terms = len(units)
    pairs, at = np.unique(np.array(mesh[:2]), axis=1, return_inverse=True)
    sigma2, walk = stray_and_wander(pairs[0], pairs[1], base, data)
    reduced = reduce(data, sigma2, walk)
    scales, _ = sampling_scales(reduced, data.informative, terms)
    if prior is not None:
        scales = np.where(told >= 1, scales, np.maximum(prior.part_variances * units**2, TINY))
    tau2 = np.exp(np.stack(mesh[2:], axis=-1)) * scales[at]
    sums, lower = at_points(reduced.sums, at), diagonal(tau2)
    cross = with_known(cross_products(sums, lower)[0], prior, units)
    if not known:
        cross = cross + np.eye(cross.shape[-1])  # nothing is asked of it
    inverse, beta = solved(cross)
    k11, k12, k22 = np.moveaxis(group_spread(sums.a, lower), 1, 0)
    asked = [*range(terms), *range(2, beta.shape[1])]
    mean = np.repeat(beta[:, asked, np.newaxis], len(data.labels), axis=2)
    mean[:, :terms] += np.swapaxes(own_effects(sums, lower, beta), 1, 2)[:, :terms]
    # What of the set's mean and of the meters' errors stays in a part's rate: I - K B.
    spread = np.array([[k11, k12], [k12, k22]])
    stays = np.repeat(np.eye(beta.shape[1])[np.newaxis, :, :, np.newaxis], len(at), axis=0)
    stays = np.repeat(stays, len(data.labels), axis=3)
    stays[:, :2] -= np.einsum("ijkg,kjfg->kifg", spread, sums.b[:, :, :-1])
    covariance = np.einsum("kifg,kfh,kjhg->kijg", stays, inverse, stays, optimize=True)
    covariance[:, :2, :2] += np.moveaxis(spread, 2, 0)
    covariance = covariance[:, asked][:, :, asked]
    turn = np.append(units, np.ones(len(data.meters)))
    return Growth(
        parts=data.labels,
        scale=scale,
        direction=direction,
        meters=data.meters,
        weights=weights,
        rates=mean / turn[:, np.newaxis],
        covariances=covariance / np.multiply.outer(turn, turn)[..., np.newaxis],
        levels=reduced.levels[at],
        level_variances=reduced.level_variances[at],
        level_terms=reduced.level_terms[at] * turn[:, np.newaxis],
        residual_variances=sigma2[at],
        wander_variances=walk[at],
        interval=data.interval,
        part_variances=tau2 / units**2,
        set_means=beta[:, :terms] / units,
        set_variances=np.diagonal(inverse, axis1=1, axis2=2)[:, :terms] / units**2,
        last_hours=data.last_hours,
        own_readings=data.informative,
        known=known,
        told=says,
        notes=notes,
    )
