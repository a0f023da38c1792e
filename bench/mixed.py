"""Lines whose level and rate differ from group to group, by restricted maximum likelihood.

The bench book never asks for the best variances alone, it sums over all of them. This maximises the
same likelihood, so that it can be held against what other programs print: in
``tests/published/test_mixed_models.py``, and beside statsmodels in ``bench/wear.py``.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from rehang.calc import _inputs as check
from rehang.calc._inputs import FloatArray, IntArray
from rehang.calc.errors import OutOfRange
from rehang.calc.wear._likelihood import (
    EXACT,
    LOG_2PI,
    TINY,
    Sums,
    cross_products,
    eliminated,
    labelled,
    own_effects,
    own_squares,
    solved,
)

Random = Literal["intercept", "slope", "both"]
Method = Literal["REML", "ML"]
# A relative standard deviation below this counts as zero: far below what data can tell apart.
SINGULAR = 1e-4


@dataclass(frozen=True, slots=True)
class MixedModel:
    """A line for all, and how far each group's own line is from it."""

    groups: tuple[str, ...]
    coefficients: FloatArray  # intercept [unit of y], slope [unit of y per unit of x]
    standard_deviations: FloatArray  # of the coefficients [the same]
    covariance: FloatArray  # of the coefficients [products of the same]
    between: FloatArray  # (2, 2) covariance of the groups' own [products of the same]
    residual_sd: float  # [unit of y]; beyond the known variances where there are any
    effects: FloatArray  # (groups, 2) each group's own, as a difference [as the coefficients]
    criterion: float  # minus twice the (restricted) log likelihood [-]
    singular: bool
    notes: tuple[str, ...]

    @property
    def group_sds(self) -> FloatArray:
        """Standard deviations between groups: intercept [unit of y], slope [per unit of x]."""
        return np.sqrt(np.diag(self.between))

    @property
    def correlation(self) -> float:
        """Of the groups' intercepts and slopes [-]; nan where one of them does not vary."""
        sds = self.group_sds
        return float(self.between[0, 1] / (sds[0] * sds[1])) if sds.all() else float("nan")

    @property
    def log_likelihood(self) -> float:
        """Restricted, or full under ML [-]."""
        return -self.criterion / 2


def mixed_model(
    groups: Sequence[object],
    x: ArrayLike,
    y: ArrayLike,
    *,
    random: Random = "both",
    method: Method = "REML",
    variances: ArrayLike | None = None,
    residual: bool = True,
) -> MixedModel:
    r"""A line with a level, a rate or both that differ from group to group.

    .. math:: y_{ij} = \beta_0 + \beta_1 x_{ij} + b_{0i} + b_{1i} x_{ij} + e_{ij},\quad
              b_i \sim N(0, \Psi),\quad e_{ij} \sim N(0, \sigma^2 + v_{ij})

    ``variances`` are the known v, one for each value; ``residual`` says whether a sigma is estimated
    besides them. The deviance is profiled over coefficients and residual; what is left is minimised
    by Newton steps, each with its differences taken in one call. The covariance is a Cholesky factor
    whose sign does not matter, so variances of zero need no barrier: the result is `singular` and
    says so.

    Patterson and Thompson 1971, Biometrika 58, 545-554; Bates et al. 2015, Journal of Statistical
    Software 67(1), section 3.4 (both from memory).
    """
    labels, group = labelled(groups)
    xs = check.finite("x", x)
    ys = check.finite("y", y)
    known = None if variances is None else check.at_least_zero("A known variance", variances)
    lengths = {len(group), *(a.shape[0] if a.ndim == 1 else -1 for a in (xs, ys))}
    if len(lengths) != 1 or (known is not None and known.shape != ys.shape):
        raise OutOfRange("Give one group, one x, one y and one variance for each value.")
    if len(labels) < 2:
        raise OutOfRange(f"A model of groups needs at least two of them: got {len(labels)}.")
    if xs.min() == xs.max():
        raise OutOfRange(f"A slope needs two different x: all are {xs[0]:g}.")
    if not residual and (known is None or not (known > 0).all()):
        raise OutOfRange("Without a residual each value needs a known variance above 0.")
    if known is not None and not known.any():
        known = None
    if len(ys) < 4:
        raise OutOfRange(f"A model of groups needs at least 4 values: got {len(ys)}.")

    # With both random, a shift of x only turns the covariance; with one it would change it.
    shift = float(xs.mean())
    width = float(xs.std())
    height = float(ys.std()) or 1.0
    one = np.ones(len(ys))
    fixed = np.array([one, (xs - shift) / width, (ys - ys.mean()) / height])
    varying = {
        "both": fixed[:2],
        "intercept": np.array([one, 0 * one]),
        "slope": np.array([xs / width, 0 * one]),
    }[random]
    order = np.argsort(group, kind="stable")
    starts = np.searchsorted(group[order], np.arange(len(labels)))
    z, xy = varying[:, order], fixed[:, order]
    z1, z2 = z
    products = np.vstack(
        [z1 * z1, z1 * z2, z2 * z2, z1 * xy, z2 * xy, xy[0] * xy, xy[1] * xy[1:], xy[2] * xy[2:]]
    )
    v = None if known is None else known[order] / height**2
    n = len(ys)
    left = n - 2 if method == "REML" else n

    def deviance(sums: Sums, lower: FloatArray, scale_known: bool) -> FloatArray:
        cross, log_det = cross_products(sums, lower)
        log_fixed, squares = eliminated(cross)
        total = sums.logs + log_det + (log_fixed if method == "REML" else 0.0)
        if scale_known:
            return np.asarray(total + squares)
        return np.asarray(total + left * np.log(squares / left) + left)

    free = 3 if random == "both" else 1
    plain = _summed(products, starts, None)
    if v is None:
        _refuse_exact(plain)
    guess = _first_guess(plain, n, free)
    if v is None:
        theta = _lowest(lambda at: deviance(plain, _factor(at), False), guess)
        lower = _factor(theta[np.newaxis])
        sums = plain
        best = float(deviance(plain, lower, False)[0])
        squares = eliminated(cross_products(plain, lower)[0])[1]
        sigma2 = float(squares[0]) / left
    else:
        start, sigma_start = _absolute_guess(plain, guess, n, float(v.mean()))
        if residual:
            known_variances = v

            def with_residual(at: FloatArray) -> FloatArray:
                sums = _summed(products, starts, 1 / (at[:, :1] ** 2 + known_variances))
                return deviance(sums, _factor(at[:, 1:]), True)

            found = _lowest(with_residual, np.concatenate([[sigma_start], start]))
            sigma2, theta = float(found[0] ** 2), found[1:]
        else:
            fixed_sums = _summed(products, starts, (1 / v)[np.newaxis])
            theta = _lowest(lambda at: deviance(fixed_sums, _factor(at), True), start)
            sigma2 = 0.0
        sums = _summed(products, starts, (1 / (sigma2 + v))[np.newaxis])
        lower = _factor(theta[np.newaxis])
        best = float(deviance(sums, lower, True)[0])

    cross, _ = cross_products(sums, lower)
    p_inverse, beta = solved(cross)
    effects = own_effects(sums, lower, beta)[0]
    unit = sigma2 if v is None else 1.0
    factor = lower[0] * np.sqrt(unit)
    typical = unit if v is None else sigma2 + float(v.mean())
    singular = bool(
        min(abs(factor[i, i]) for i in range(2 if random == "both" else 1))
        < SINGULAR * np.sqrt(typical)
    )

    # Back to the units given: a = turn @ scaled, y = height y' + mean.
    turn = height * np.array([[1.0, -shift / width], [0.0, 1 / width]])
    raw = {"both": turn, "intercept": height * np.eye(2), "slope": None}[random]
    if raw is None:
        raw = height * np.array([[0.0, 0.0], [1 / width, 0.0]])
    coefficients = turn @ beta[0] + np.array([float(ys.mean()), 0.0])
    covariance = turn @ (unit * p_inverse[0]) @ turn.T
    criterion = best + 2 * left * np.log(height) + left * LOG_2PI
    if method == "REML":
        # The criterion counts the design in the units given: |X'V^-1 X| by the width, twice.
        criterion += 2 * np.log(width)
    notes: list[str] = []
    if singular:
        notes.append(
            "The groups do not differ in all that the model lets them: a variance or a "
            "combination of them is zero."
        )
    if v is not None and residual and sigma2 < SINGULAR**2 * float(v.mean()):
        notes.append("The known variances account for all of the scatter: none is left over.")
    return MixedModel(
        groups=labels,
        coefficients=coefficients,
        standard_deviations=np.sqrt(np.diag(covariance)),
        covariance=covariance,
        between=(raw @ factor) @ (raw @ factor).T,
        residual_sd=float(np.sqrt(sigma2)) * height,
        effects=effects @ raw.T,
        criterion=float(criterion),
        singular=singular,
        notes=tuple(notes),
    )


def _summed(products: FloatArray, starts: IntArray, weights: FloatArray | None) -> Sums:
    """Sums with one row of weights for each point, or without any."""
    if weights is None:
        rows = np.add.reduceat(products, starts, axis=-1)
        logs = np.asarray(0.0)
    else:
        rows = np.add.reduceat(weights[..., np.newaxis, :] * products, starts, axis=-1)
        logs = -np.log(weights).sum(axis=-1)
    all_of = rows[..., 9:, :].sum(axis=-1)
    full = all_of[..., [0, 1, 2, 1, 3, 4, 2, 4, 5]]
    return Sums(
        a=rows[..., :3, :],
        b=rows[..., 3:9, :].reshape(*rows.shape[:-2], 2, 3, rows.shape[-1]),
        total=full.reshape(*full.shape[:-1], 3, 3),
        logs=logs,
    )


def _factor(theta: FloatArray) -> FloatArray:
    """Lower triangle from its entries (l11, l21, l22) or (l11) alone."""
    lower = np.zeros((len(theta), 2, 2))
    lower[:, 0, 0] = theta[:, 0]
    if theta.shape[1] == 3:
        lower[:, 1, 0] = theta[:, 1]
        lower[:, 1, 1] = theta[:, 2]
    return lower


def _refuse_exact(sums: Sums) -> None:
    """No variance at all leaves nothing to weigh groups by."""
    if own_squares(sums) <= EXACT * float(sums.total[2, 2]):
        raise OutOfRange(
            "Each group lies on its own line exactly, so nothing says how far a value strays "
            "from it: give the variances of the readings and leave the residual out."
        )


def _first_guess(sums: Sums, n: int, free: int) -> FloatArray:
    """Relative factor from a coarse search and from moments; Newton steps do the rest."""
    steps = np.array([0.03, 0.25, 1.0, 5.0])
    if free == 1:
        trial = steps[:, np.newaxis]
    else:
        first, second = (m.ravel() for m in np.meshgrid(steps, steps))
        trial = np.column_stack([first, 0 * first, second])
        moments = _moments(sums, n)
        if moments is not None:
            trial = np.vstack([trial, moments])
    cross, log_det = cross_products(sums, _factor(trial))
    log_fixed, squares = eliminated(cross)
    return np.asarray(trial[np.argmin(log_det + log_fixed + (n - 2) * np.log(squares))])


def _moments(sums: Sums, n: int) -> FloatArray | None:
    """Covariance of the groups' own lines less what sampling adds to it, as a relative factor.

    For balanced data this is the restricted maximum itself, where it is inside.
    """
    a11, a12, a22 = sums.a[..., 0, :], sums.a[..., 1, :], sums.a[..., 2, :]
    det = a11 * a22 - a12 * a12
    own = det > 1e-9 * a11 * a22
    groups = int(own.sum())
    if groups < 4 or n - 2 * groups < 1:
        return None
    inverse = np.array([[a22, -a12], [-a12, a11]])[..., own] / det[own]
    lines = np.einsum("ijg,jg->ig", inverse, sums.b[:, 2, own])
    squares = float(sums.total[2, 2] - np.sum(lines * sums.b[:, 2, own]))
    variance = max(squares, TINY) / (n - 2 * groups)
    psi = np.cov(lines) / variance - inverse.mean(axis=-1)
    least = 0.01 * inverse.mean(axis=-1).diagonal()
    first = max(psi[0, 0], least[0])
    across = psi[0, 1] / np.sqrt(first)
    return np.array([np.sqrt(first), across, np.sqrt(max(psi[1, 1] - across**2, least[1]))])


def _absolute_guess(
    sums: Sums, relative: FloatArray, n: int, typical: float
) -> tuple[FloatArray, float]:
    """The same guess where known variances fix the scale."""
    squares = eliminated(cross_products(sums, _factor(relative[np.newaxis]))[0])[1]
    sigma = float(np.sqrt(squares[0] / (n - 2)))
    beyond = max(sigma**2 - typical, 0.05 * sigma**2)
    return relative * sigma, float(np.sqrt(beyond))


def _lowest(deviance: Callable[[FloatArray], FloatArray], start: FloatArray) -> FloatArray:
    """Newton steps, all differences of one taken in one call; shorter ones where it rises."""
    k = len(start)
    eye = np.eye(k)
    pairs = [(i, j) for i in range(k) for j in range(i)]
    both = [eye[i] + eye[j] for i, j in pairs]
    moves = np.array([0 * start, *eye, *-eye, *both, *(-m for m in both)])
    shorter = np.array([0.5, 0.2, 0.05, 0.01, 0.001])[:, np.newaxis]

    def around(at: FloatArray) -> tuple[FloatArray, FloatArray]:
        h = 1e-4 * np.maximum(1.0, np.abs(at))
        return h, deviance(at + h * moves)

    at = start
    h, f = around(at)
    for _ in range(100):
        here, up, down = f[0], f[1 : k + 1], f[k + 1 : 2 * k + 1]
        gradient = (up - down) / (2 * h)
        hessian = np.diag((up - 2 * here + down) / h**2)
        for m, (i, j) in enumerate(pairs):
            sides = f[2 * k + 1 + m] + f[2 * k + 1 + len(pairs) + m]
            mixed = sides - up[i] - down[i] - up[j] - down[j] + 2 * here
            hessian[i, j] = hessian[j, i] = mixed / (2 * h[i] * h[j])
        values, vectors = np.linalg.eigh(hessian)
        curved = np.maximum(np.abs(values), 1e-6 * max(np.abs(values).max(), 1e-6))
        step = -vectors @ ((vectors.T @ gradient) / curved)
        longest = float(np.max(np.abs(step) / (0.5 + np.abs(at))))
        step = step / max(1.0, longest)
        if float(-gradient @ step) < 1e-9:
            return np.asarray(at + step if values.min() > 0 else at)
        h, f = around(at + step)
        if f[0] < here:
            at = at + step
            continue
        trial = at + shorter * step
        reached = deviance(trial)
        best = int(np.argmin(reached))
        if not reached[best] < here:
            return at
        at = trial[best]
        h, f = around(at)
    return at
