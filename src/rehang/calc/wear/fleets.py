"""What earlier sets say of a new one."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from rehang.calc.errors import OutOfRange
from rehang.calc.wear._grid import weighted_median
from rehang.calc.wear._lent import Fleet
from rehang.calc.wear._likelihood import TINY
from rehang.calc.wear.growth import Growth


def fleet(sets: Sequence[Growth]) -> Fleet:
    r"""What earlier sets say of the rates of a new one.

    .. math:: \hat\omega^2 = \max\left(0, \frac{Q - (m - 1)}
              {\sum w_j - \sum w_j^2 / \sum w_j}\right),\qquad
              w_j = 1/s_j^2,\quad Q = \sum w_j (\hat\mu_j - \bar\mu_w)^2

    sets: fits of earlier sets, each without a prior, in one unit and on one scale.

    The mean of a new set varies about the fleet's by what sets differ and by what the fleet's
    mean is not known. One set alone does not say how far sets differ; then they are taken to
    differ as parts do, and a note says so. Variances, and how much of what strays lasts, are
    taken to be alike in all sets: what each set's readings say of them, its likelihood over the
    grid, is handed on whole, and the likelihoods multiply.

    Refused: no set in which a rate is known; sets of several scales or terms.

    Source: DerSimonian and Laird 1986, Controlled Clinical Trials 7, 177-188 (from memory).
    No printed value: worked by hand for three sets in ``tests/published/test_mixed_models.py``.

    >>> from rehang.calc.wear import fit
    >>> early = fit("aabbcc", [0, 100] * 3, [0, 1, 0, 1.2, 0, 1.4], [0.001] * 6)
    >>> later = fit("aabbcc", [0, 100] * 3, [0, 2, 0, 2.2, 0, 2.4], [0.001] * 6)
    >>> [round(float(m), 3) for m in fleet([early, later]).means]
    [0.017]
    """
    usable = [growth for growth in sets if growth.known]
    if not usable:
        raise OutOfRange("A fleet needs at least one earlier set in which a rate is known.")
    if len({(growth.scale, growth.rates.shape[1]) for growth in usable}) > 1:
        raise OutOfRange("The earlier sets must be on one scale, all with quickening or none.")
    # (sets, terms)
    means = np.array([growth.weights @ growth.of_set.means for growth in usable])
    # Medians, because with two parts a variance has no mean.
    own = np.array(
        [
            [weighted_median(column, growth.weights) for column in growth.of_set.variances.T]
            + growth.weights @ (growth.of_set.means - mean) ** 2
            for growth, mean in zip(usable, means, strict=True)
        ]
    )
    part = np.array(
        [
            [weighted_median(column, growth.weights) for column in growth.of_set.part_variances.T]
            for growth in usable
        ]
    )
    pooled = part.mean(axis=0)
    residual = np.array(
        [
            weighted_median(
                growth.strays.variances + growth.strays.lasting * growth.strays.interval,
                growth.weights,
            )
            for growth in usable
        ]
    )
    notes: tuple[str, ...] = ()
    if len(usable) == 1:
        middle, variances = means[0], own[0] + pooled
        notes = (
            "One earlier set does not say how far sets differ: they are taken to differ as the "
            "parts of a set do.",
        )
    else:
        w = 1 / np.maximum(own, TINY)
        first = (w * means).sum(axis=0) / w.sum(axis=0)
        q = (w * (means - first) ** 2).sum(axis=0)
        between = np.maximum(
            (q - (len(usable) - 1)) / (w.sum(axis=0) - (w**2).sum(axis=0) / w.sum(axis=0)), 0.0
        )
        w = 1 / np.maximum(own + between, TINY)
        middle = (w * means).sum(axis=0) / w.sum(axis=0)
        variances = between + 1 / w.sum(axis=0)
    return Fleet(
        scale=usable[0].scale,
        means=middle,
        variances=variances,
        part_variances=pooled,
        residual_variance=float(residual.mean()),
        told=tuple(growth.told for growth in usable if growth.told is not None),
        sets=len(usable),
        notes=notes,
    )
