"""What the rates are at each node of the grid, and how far they are known there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from rehang.calc._inputs import FloatArray, IntArray
from rehang.calc.wear._grid import diagonal, stray_and_wander, with_known
from rehang.calc.wear._lent import Fleet
from rehang.calc.wear._likelihood import TINY, cross_products, group_spread, own_effects, solved
from rehang.calc.wear._readings import Readings, at_points, reduce, sampling_scales
from rehang.calc.wear.growth import Levels, SetRates, Strays


@dataclass(frozen=True, slots=True)
class Posterior:
    """The parts of a `Growth` that the nodes make."""

    rates: FloatArray
    covariances: FloatArray
    levels: Levels
    strays: Strays
    of_set: SetRates


def posterior(
    data: Readings,
    mesh: Sequence[FloatArray],
    base: float,
    told: IntArray,
    prior: Fleet | None,
    *,
    known: bool,
) -> Posterior:
    """At each node, given by what strays, how much of it lasts, and the ratios of the parts."""
    terms, units = len(data.terms), data.units
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
    return Posterior(
        rates=mean / turn[:, np.newaxis],
        covariances=covariance / np.multiply.outer(turn, turn)[..., np.newaxis],
        levels=Levels(
            values=reduced.levels[at],
            variances=reduced.level_variances[at],
            terms=reduced.level_terms[at] * turn[:, np.newaxis],
        ),
        strays=Strays(variances=sigma2[at], lasting=walk[at], interval=data.interval),
        of_set=SetRates(
            means=beta[:, :terms] / units,
            variances=np.diagonal(inverse, axis1=1, axis2=2)[:, :terms] / units**2,
            part_variances=tau2 / units**2,
        ),
    )
