"""How parts wear: straight fits, fits with parts that differ, forecasts, and what stands out.

Three layers, each usable alone. `least_squares` is a plain fit. `mixed_model` is a line whose
level and rate differ from group to group (restricted maximum likelihood). `fit` is the wear of
the parts of one set: the level restarts whenever the part is set anew, the rate stays the
part's own, and parts lend each other what they know of rates. A forecast from it is a mixture
over the variances that the data allow, not one best guess of them, so that its intervals hold
what they say with eight parts and three readings each.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rehang.calc import _inputs as check
from rehang.calc._inputs import FloatArray
from rehang.calc.errors import OutOfRange

Scale = Literal["linear", "log"]
Direction = Literal["either", "up", "down"]
Random = Literal["intercept", "slope", "both"]
Method = Literal["REML", "ML"]
IntArray = NDArray[np.intp]
BoolArray = NDArray[np.bool_]

LOG_2PI = float(np.log(2 * np.pi))

# A relative standard deviation below this counts as zero: far below what data can tell apart.
SINGULAR = 1e-4

# What is left of a sum of squares by rounding alone; no meter reads to a ten-millionth.
EXACT = 1e-13

TINY = float(np.finfo(float).tiny)

# Elements worked on at once, so that a large fleet needs megabytes and not gigabytes.
AT_ONCE = 1_000_000


# Lines whose level and rate differ from group to group


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

    Parameters
    ----------
    groups : (N,) sequence
        Group of each value [-].
    x : (N,) array_like
        What y runs with [any unit].
    y : (N,) array_like
        Values [any unit].
    random : {"intercept", "slope", "both"}
        What differs from group to group.
    method : {"REML", "ML"}
        Restricted maximum likelihood, or maximum likelihood.
    variances : (N,) array_like or None
        Known variance of each value [unit of y, squared]; None for none.
    residual : bool
        Whether a residual variance is estimated besides the known ones.

    Returns
    -------
    MixedModel
        Coefficients, covariance between groups, residual [units of y and x].

    Raises
    ------
    OutOfRange
        Lengths differ; x is the same throughout; fewer than two groups; no residual is asked
        for and a known variance is not above 0; the values lie on the lines exactly.

    Notes
    -----
    The deviance is profiled over coefficients and residual and depends on sums of 2 by 2 per
    group only, so that all groups are worked on at once; what is left is minimised by Newton
    steps, each with its differences taken in one call. The covariance is a Cholesky factor
    whose sign does not matter, so variances of zero need no barrier: the result is `singular`
    and says so.

    References
    ----------
    Patterson and Thompson 1971, Biometrika 58, 545-554; Bates et al. 2015, Journal of
    Statistical Software 67(1), section 3.4 (both from memory).
    Checked in ``tests/published/test_mixed_models.py``: sleepstudy and Orthodont.

    Examples
    --------
    >>> found = mixed_model("aaabbbccc", [0, 1, 2] * 3, [0, 1, 2.1, 1, 3, 5.2, 0, 1.4, 3])
    >>> [round(float(b), 2) for b in found.coefficients]
    [0.31, 1.55]
    """
    labels, group = _labelled(groups)
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

    def deviance(sums: _Sums, lower: FloatArray, scale_known: bool) -> FloatArray:
        cross, log_det = _reduced(sums, lower)
        log_fixed, squares = _eliminated(cross)
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
        squares = _eliminated(_reduced(plain, lower)[0])[1]
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

    cross, _ = _reduced(sums, lower)
    p_inverse, beta = _solved(cross)
    effects = _effects(sums, lower, beta)[0]
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


@dataclass(frozen=True, slots=True)
class _Sums:
    """Weighted sums per group, and over all; leading axes are points of evaluation.

    Groups stand last, so that numpy's inner loops are long.
    """

    a: FloatArray  # (..., 3, groups): 11, 12, 22 of Z'Z
    b: FloatArray  # (..., 2, fixed + 1, groups): Z'[X y]
    total: FloatArray  # (..., fixed + 1, fixed + 1): [X y]'[X y]
    logs: FloatArray  # (...): sum of the logs of the variances


def _labelled(groups: Sequence[object]) -> tuple[tuple[str, ...], IntArray]:
    """Labels in the order met, and the index of each value's."""
    each = list(groups)
    index = {label: at for at, label in enumerate(dict.fromkeys(each))}
    at = np.fromiter(map(index.__getitem__, each), dtype=np.intp, count=len(each))
    return tuple(map(str, index)), at


def _summed(products: FloatArray, starts: IntArray, weights: FloatArray | None) -> _Sums:
    """Sums with one row of weights for each point, or without any."""
    if weights is None:
        rows = np.add.reduceat(products, starts, axis=-1)
        logs = np.asarray(0.0)
    else:
        rows = np.add.reduceat(weights[..., np.newaxis, :] * products, starts, axis=-1)
        logs = -np.log(weights).sum(axis=-1)
    all_of = rows[..., 9:, :].sum(axis=-1)
    full = all_of[..., [0, 1, 2, 1, 3, 4, 2, 4, 5]]
    return _Sums(
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


def _reduced(sums: _Sums, lower: FloatArray) -> tuple[FloatArray, FloatArray]:
    """[X y]'V^-1[X y] over all groups, and the sum of log |S|, where S = I + L'Z'Z L."""
    l1 = lower[..., 0, 0, np.newaxis]
    l2 = lower[..., 1, 0, np.newaxis]
    l3 = lower[..., 1, 1, np.newaxis]
    a11, a12, a22 = sums.a[..., 0, :], sums.a[..., 1, :], sums.a[..., 2, :]
    first = l1 * a12 + l2 * a22
    s11 = 1.0 + l1 * (l1 * a11 + l2 * a12) + l2 * first
    s12 = l3 * first
    # |I + L'Z'Z L|, written so that nothing cancels where a group has one value only.
    det = s11 + l3 * l3 * (a22 + l1 * l1 * (a11 * a22 - a12 * a12))
    # Rows of S^-1/2 L'Z'[X y], by the Cholesky factor of S.
    b1, b2 = sums.b[..., 0, :, :], sums.b[..., 1, :, :]
    row1 = l1[..., np.newaxis] * b1 + l2[..., np.newaxis] * b2
    row2 = l3[..., np.newaxis] * b2 - (s12 / s11)[..., np.newaxis, :] * row1
    root = np.sqrt(s11)[..., np.newaxis, :]
    row1 = row1 / root
    row2 = row2 * (root / np.sqrt(det)[..., np.newaxis, :])
    cross = sums.total - row1 @ np.swapaxes(row1, -1, -2) - row2 @ np.swapaxes(row2, -1, -2)
    return cross, np.log(det).sum(axis=-1)


def _eliminated(cross: FloatArray) -> tuple[FloatArray, FloatArray]:
    """log |X'V^-1 X| and y'Py, one column of X taken out after the other."""
    log_det = np.zeros(cross.shape[:-2])
    rest = cross
    while rest.shape[-1] > 1:
        pivot, row = rest[..., 0, 0], rest[..., 0, 1:]
        log_det = log_det + np.log(np.maximum(pivot, TINY))
        by = (row / pivot[..., np.newaxis])[..., np.newaxis]
        rest = rest[..., 1:, 1:] - by * row[..., np.newaxis, :]
    return log_det, np.asarray(np.maximum(rest[..., 0, 0], TINY))


def _solved(cross: FloatArray) -> tuple[FloatArray, FloatArray]:
    """(X'V^-1 X)^-1 and the coefficients."""
    inverse = np.asarray(np.linalg.inv(cross[..., :-1, :-1]), dtype=np.float64)
    return inverse, np.asarray((inverse @ cross[..., :-1, -1:])[..., 0])


def _spread(a: FloatArray, lower: FloatArray) -> FloatArray:
    """(Psi^-1 + A)^-1 per group, Psi = L L' and possibly singular: (..., 3, groups)."""
    l1 = lower[..., 0, 0, np.newaxis]
    l2 = lower[..., 1, 0, np.newaxis]
    l3 = lower[..., 1, 1, np.newaxis]
    a11, a12, a22 = a[..., 0, :], a[..., 1, :], a[..., 2, :]
    first = l1 * a12 + l2 * a22
    s11 = 1.0 + l1 * (l1 * a11 + l2 * a12) + l2 * first
    s12 = l3 * first
    s22 = 1.0 + l3 * l3 * a22
    det = s11 + l3 * l3 * (a22 + l1 * l1 * (a11 * a22 - a12 * a12))
    # L S^-1 L', entry by entry.
    k11 = l1 * l1 * s22
    k12 = l1 * (l2 * s22 - l3 * s12)
    k22 = l2 * l2 * s22 - 2 * l2 * l3 * s12 + l3 * l3 * s11
    return np.stack([k11, k12, k22], axis=-2) / det[..., np.newaxis, :]


def _effects(sums: _Sums, lower: FloatArray, beta: FloatArray) -> FloatArray:
    """Each group's own, as a difference from the coefficients (best linear prediction)."""
    k = _spread(sums.a, lower)
    left = sums.b[..., -1, :] - np.einsum("...ifg,...f->...ig", sums.b[..., :-1, :], beta)
    return np.stack(
        [
            k[..., 0, :] * left[..., 0, :] + k[..., 1, :] * left[..., 1, :],
            k[..., 1, :] * left[..., 0, :] + k[..., 2, :] * left[..., 1, :],
        ],
        axis=-1,
    )


def _own_squares(sums: _Sums) -> float:
    """Sum of squares that is left when groups may differ without end."""
    a11, a12, a22 = sums.a[..., 0, :], sums.a[..., 1, :], sums.a[..., 2, :]
    b1, b2 = sums.b[..., 0, :, :], sums.b[..., 1, :, :]
    # Columns taken out one after the other; what rounding leaves of one is not a column.
    first = np.where(a11 > 0, a11, np.inf)
    beyond = a22 - a12 * (a12 / first)
    second = np.where(beyond > 1e-10 * a22, beyond, np.inf)
    rest = b2 - (a12 / first)[..., np.newaxis, :] * b1
    taken = (b1 / first[..., np.newaxis, :]) @ np.swapaxes(b1, -1, -2)
    taken = taken + (rest / second[..., np.newaxis, :]) @ np.swapaxes(rest, -1, -2)
    whole = sums.total.reshape(sums.total.shape[-2:])
    cross = whole - taken.reshape(whole.shape)
    for k in range(len(whole) - 1):
        if cross[k, k] > 1e-9 * whole[k, k]:
            cross = cross - np.outer(cross[k], cross[k]) / cross[k, k]
    return float(cross[-1, -1])


def _refuse_exact(sums: _Sums) -> None:
    """No variance at all leaves nothing to weigh groups by."""
    if _own_squares(sums) <= EXACT * float(sums.total[2, 2]):
        raise OutOfRange(
            "Each group lies on its own line exactly, so nothing says how far a value strays "
            "from it: give the variances of the readings and leave the residual out."
        )


def _first_guess(sums: _Sums, n: int, free: int) -> FloatArray:
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
    cross, log_det = _reduced(sums, _factor(trial))
    log_fixed, squares = _eliminated(cross)
    return np.asarray(trial[np.argmin(log_det + log_fixed + (n - 2) * np.log(squares))])


def _moments(sums: _Sums, n: int) -> FloatArray | None:
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
    sums: _Sums, relative: FloatArray, n: int, typical: float
) -> tuple[FloatArray, float]:
    """The same guess where known variances fix the scale."""
    squares = _eliminated(_reduced(sums, _factor(relative[np.newaxis]))[0])[1]
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


# Wear of the parts of one set

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


@dataclass(frozen=True, slots=True)
class Fleet:
    """What other sets say of rates, and quickening where it is modelled, in that order; and of
    what strays.
    """

    scale: Scale
    means: FloatArray  # of a set's mean rate [value per hour], quickening [per hour squared]
    variances: FloatArray  # of a new set's mean about it [the same, squared]
    part_variances: FloatArray  # of a part's about its set's mean, typically [the same, squared]
    residual_variance: float  # beyond the meter, what lasts of it counted over one interval,
    # typically [value squared; of the log on a log scale]
    told: tuple[Told, ...]  # what each set's readings say of variances
    sets: int
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Told:
    """What the readings of one set say of its variances: their likelihood over the grid."""

    log_likelihood: FloatArray  # (residuals, shares, ratios of each term) [-]
    residuals: FloatArray  # logs of what is beyond the meter over one interval [log value squared]
    shares: FloatArray  # how much of it lasts [-]
    ratios: tuple[FloatArray, ...]  # logs of part variances over their scale [-]
    scales: FloatArray  # (terms, residuals, shares) logs of that scale [log rate squared]
    interval: float  # [h]

    @property
    def residual_is_open(self) -> bool:
        """Whether they say anything of what is beyond the meter."""
        return len(self.residuals) > 1

    def at(
        self, residual: FloatArray, lasting: FloatArray, parts: FloatArray, interval: float
    ) -> FloatArray:
        """Log likelihood of variances given by their logs, (nodes, terms) of the parts'.

        Beyond the grid it is that of the grid's edge: there it is level, or next to nothing.
        """
        # What lasts grows with the hours: the same walk over the interval of this set. Half lasting
        # over the one is taken for half over the other.
        residual = residual + np.log(1 - lasting + lasting * self.interval / interval)
        at = [
            _place(self.residuals, residual),
            np.minimum(np.searchsorted(self.shares, lasting), len(self.shares) - 1),
        ]
        scales = [_between(one, at) for one in self.scales]
        at += [
            _place(axis, part - scale)
            for axis, part, scale in zip(self.ratios, parts.T, scales, strict=True)
        ]
        return _between(self.log_likelihood, at)


def _place(axis: FloatArray, at: FloatArray) -> FloatArray:
    """Where on an evenly spaced axis, in steps from its start; its ends stand for all beyond."""
    if len(axis) == 1:
        return np.zeros_like(at)
    return np.asarray(np.clip((at - axis[0]) / (axis[1] - axis[0]), 0.0, len(axis) - 1))


def _between(values: FloatArray, at: Sequence[FloatArray | IntArray]) -> FloatArray:
    from scipy.ndimage import map_coordinates

    return np.asarray(map_coordinates(values, np.array(at), order=1, mode="nearest"))


@dataclass(frozen=True, slots=True)
class Growth:
    """Wear of the parts of one set, as a mixture over the variances that the data allow.

    On a log scale all is of natural logarithms: a rate is a fraction per hour.
    """

    parts: tuple[str, ...]
    scale: Scale
    direction: Direction
    meters: tuple[str, ...]  # whose own error is in their readings alike
    weights: FloatArray  # (nodes) of the mixture, together 1 [-]
    rates: FloatArray  # (nodes, terms + meters, parts) rate, quickening [value per hour, per
    # hour^2], then each meter's own error in its standard deviations [-]
    covariances: FloatArray  # (nodes, both, both, parts) of them [products of the same]
    levels: FloatArray  # (nodes, parts) as far as read since the part was last set [value]
    level_variances: FloatArray  # (nodes, parts) [value squared]
    level_terms: FloatArray  # (nodes, terms + meters, parts) t, t^2/2 and the meters there
    residual_variances: FloatArray  # (nodes) beyond the meter and not lasting [value squared]
    wander_variances: FloatArray  # (nodes) that lasts, by the hour [value squared per hour]
    interval: float  # usual time from one reading to the next [h]
    part_variances: FloatArray  # (nodes, terms) between parts of the set [as rates, squared]
    set_means: FloatArray  # (nodes, terms) [as rates]
    set_variances: FloatArray  # (nodes, terms) of the means, no fleet counted [as rates, squared]
    last_hours: FloatArray  # (parts) since the first reading of the part [h]
    own_readings: IntArray  # (parts) readings that say something of the rate [-]
    known: bool  # whether anything says how fast parts wear
    told: Told | None  # what its readings say of variances; None where no rate is known
    notes: tuple[str, ...]

    @property
    def mean_rate(self) -> float:
        """Of the set, at the start of a part's record [value per hour]."""
        return float(self.weights @ self.set_means[:, 0])

    @property
    def part_sd(self) -> float:
        """How far the parts' rates are apart: median over the mixture [value per hour]."""
        return float(np.sqrt(_weighted_median(self.part_variances[:, 0], self.weights)))

    @property
    def residual_sd(self) -> float:
        """How far values stray beyond the meter: median over the mixture [value]."""
        return float(np.sqrt(_weighted_median(self.residual_variances, self.weights)))

    def rate(self, part: str) -> tuple[float, float]:
        """Rate of a part at its last reading, and its standard deviation [value per hour].

        Before a direction is taken into account; a forecast does that.
        """
        self._must_be_known(part)
        at = self._index(part)
        terms = self.part_variances.shape[1]
        turn = np.array([1.0, float(self.last_hours[at])])[:terms]
        mean = self.rates[:, :terms, at] @ turn
        variance = np.einsum("i,kij,j->k", turn, self.covariances[:, :terms, :terms, at], turn)
        middle = float(self.weights @ mean)
        return middle, float(np.sqrt(self.weights @ (variance + (mean - middle) ** 2)))

    def at(
        self,
        part: str,
        hours_ahead: float,
        *,
        meter_variance: float = 0.0,
        meter: str = "",
        shared: float = 0.0,
        strays: bool = True,
        set_to: float | None = None,
        set_variance: float = 0.0,
    ) -> Forecast:
        """Forecast of a part's value so many hours after its last reading [h, value].

        With `meter_variance` [value squared; of the log on a log scale] it is of the next
        reading; `shared` [value; of the log] is the standard deviation that the own error of
        `meter` gives it. `strays` says whether it has what does not last, as a reading has.
        `set_to` [value] is what the part is set to now, with `set_variance` [value squared].
        """
        ahead = check.at_least_zero("The hours ahead", hours_ahead).reshape(1)
        look = _Look(meter_variance, meter, shared, strays, set_to, set_variance)
        return self._forecasts(part, ahead, look)

    def hours_until(
        self,
        part: str,
        limit: float,
        probability: float,
        *,
        side: Literal["above", "below"] = "above",
        horizon: float = 1000.0,
        meter_variance: float = 0.0,
        strays: bool = True,
        set_to: float | None = None,
        set_variance: float = 0.0,
    ) -> float | None:
        """Hours from the last reading until a value beyond the limit is this likely [h, value].

        None when that is not reached within the horizon [h]; 0 when it is reached already.
        The chance is that of a value taken then, not of ever having been beyond before.
        """
        share = float(check.above_zero("The probability", probability))
        if not share < 1:
            raise OutOfRange(f"The probability must be below 1: got {share:g}.")
        far = float(check.above_zero("The horizon", horizon))
        look = _Look(meter_variance, "", 0.0, strays, set_to, set_variance)

        def beyond(hours: FloatArray) -> FloatArray:
            found = self._forecasts(part, hours, look)
            below = found.chances_below(limit)
            return below if side == "below" else 1.0 - below

        low, high = 0.0, far
        # Each round looks at 33 points of what is left: two rounds are a thousandth of it.
        for _ in range(3):
            hours = np.linspace(low, high, 33)
            reached = np.flatnonzero(beyond(hours) >= share)
            if not reached.size:
                return None
            if reached[0] == 0:
                return float(hours[0])
            low, high = float(hours[reached[0] - 1]), float(hours[reached[0]])
        return high

    def _index(self, part: str) -> int:
        if part not in self.parts:
            raise OutOfRange(f"There is no reading of part {part}: the fit has {len(self.parts)}.")
        return self.parts.index(part)

    def _must_be_known(self, part: str) -> None:
        self._index(part)
        if not self.known:
            raise OutOfRange(self.notes[0])

    def _forecasts(self, part: str, ahead: FloatArray, look: _Look) -> Forecast:
        self._must_be_known(part)
        at = self._index(part)
        of_meter = float(check.at_least_zero("The meter's variance", look.meter_variance))
        of_set = float(check.at_least_zero("The variance of what it is set to", look.set_variance))
        terms = self.part_variances.shape[1]
        last = float(self.last_hours[at])
        then = np.zeros((self.rates.shape[1], len(ahead)))
        grown = then.copy()
        then[:terms] = _terms(last + ahead, terms)
        grown[:terms] = then[:terms] - _terms(np.array([last]), terms)
        on = np.zeros_like(then)
        if look.meter in self.meters:
            on[terms + self.meters.index(look.meter)] = look.shared
        else:
            of_meter += look.shared**2
        rates, spread = self.rates[:, :, at], self.covariances[:, :, :, at]
        stray = np.broadcast_to(self.residual_variances[:, np.newaxis], (len(rates), len(ahead)))
        noise = self.wander_variances[:, np.newaxis] * ahead + of_meter
        if look.set_to is None:
            since = then + on - self.level_terms[:, :, at, np.newaxis]
            level = self.levels[:, at, np.newaxis]
            noise = noise + self.level_variances[:, at, np.newaxis]
        else:
            since = np.broadcast_to(grown + on, (len(rates), *grown.shape))
            level = _on_scale(check.finite("What it is set to", look.set_to), self.scale)
            noise = noise + (of_set / look.set_to**2 if self.scale == "log" else of_set)
            # What was just read is known to its meter; what strays from it comes with the hours.
            stray = stray * np.minimum(ahead / self.interval, 1.0)
        if look.strays:
            noise = noise + stray
        mean = level + np.einsum("kih,ki->kh", since, rates)
        variance = noise + np.einsum("kih,kij,kjh->kh", since, spread, since)
        growth = rates @ grown
        of_growth = np.einsum("ih,kij,jh->kh", grown, spread, grown)
        across = np.einsum("kih,kij,jh->kh", since, spread, grown)
        return Forecast(
            scale=self.scale,
            direction=self.direction,
            hours_ahead=ahead,
            weights=self.weights,
            means=mean,
            sds=np.sqrt(variance),
            growths=growth,
            growth_sds=np.sqrt(of_growth),
            covariances=across,
            notes=self.notes,
        )


@dataclass(frozen=True, slots=True)
class _Look:
    """What is asked of a forecast."""

    meter_variance: float
    meter: str
    shared: float
    strays: bool
    set_to: float | None
    set_variance: float


@dataclass(frozen=True, slots=True)
class Forecast:
    """What a part's value may be at one time: a mixture of normal distributions.

    Where growth has one direction only, each of them is conditional on growth in it.
    """

    scale: Scale
    direction: Direction
    hours_ahead: FloatArray  # [h]
    weights: FloatArray  # (nodes) [-]
    means: FloatArray  # (nodes, hours) [value; its log on a log scale]
    sds: FloatArray  # (nodes, hours) [the same]
    growths: FloatArray  # (nodes, hours) mean growth since the last reading [the same]
    growth_sds: FloatArray  # (nodes, hours) [the same]
    covariances: FloatArray  # (nodes, hours) of value and growth [the same, squared]
    notes: tuple[str, ...]

    @property
    def mean(self) -> float:
        """Mean [value; on a log scale of its log]."""
        return float(self.weights @ self._moments()[0][:, 0])

    @property
    def sd(self) -> float:
        """Standard deviation [value; on a log scale of its log]."""
        mean, variance = (m[:, 0] for m in self._moments())
        middle = self.weights @ mean
        return float(np.sqrt(self.weights @ (variance + (mean - middle) ** 2)))

    @property
    def median(self) -> float:
        """As likely above as below [value]."""
        return self.quantile(0.5)

    def chance_below(self, limit: float) -> float:
        """Chance of a value below the limit [value]."""
        return float(self.chances_below(limit)[0])

    def chances_below(self, limit: float) -> FloatArray:
        """The same for each hour ahead."""
        if np.isnan(limit):
            raise OutOfRange("A limit must be a number; write -inf or inf where there is no bound.")
        if self.scale == "log":
            at = float(np.log(limit)) if limit > 0 else -np.inf
        else:
            at = float(limit)
        return np.asarray(self.weights @ self._below(at))

    def chance_inside(self, lower: float, upper: float) -> float:
        """Chance of a value between limits; -inf or inf where there is none [value]."""
        check.limits(lower, upper)
        inside = self.chance_below(upper) - self.chance_below(lower)
        return min(max(inside, 0.0), 1.0)

    def quantile(self, probability: float) -> float:
        """Value that is above this share of the forecast [value]."""
        if not 0 < probability < 1:
            raise OutOfRange(f"The probability must be between 0 and 1: got {probability:g}.")
        mean, sd = self.means[:, 0], self.sds[:, 0]
        heavy = self.weights > 0
        # Widened until it holds the answer: a conditional normal lies within both its tails.
        width = 10.0
        low = high = 0.0
        for _ in range(60):
            low = float((mean - width * sd)[heavy].min())
            high = float((mean + width * sd)[heavy].max())
            ends = [float(self.weights @ self._below(end)[:, 0]) for end in (low, high)]
            if ends[0] <= probability <= ends[1]:
                break
            width *= 2
        if low < high:
            from scipy.optimize import brentq

            def over(at: float) -> float:
                return float(self.weights @ self._below(at)[:, 0]) - probability

            # Bracketed, so it cannot miss; a step of 1e-12 is below what any meter shows.
            low = high = brentq(over, low, high, xtol=1e-12 * (1.0 + abs(low) + abs(high)))
        value = (low + high) / 2
        return float(np.exp(value)) if self.scale == "log" else value

    def interval(self, level: float = 0.9) -> tuple[float, float]:
        """Ends that leave as much out below as above [value]."""
        if not 0 < level < 1:
            raise OutOfRange(f"The level must be between 0 and 1: got {level:g}.")
        return self.quantile((1 - level) / 2), self.quantile((1 + level) / 2)

    def _cut(self) -> tuple[FloatArray, FloatArray, BoolArray]:
        """Where growth is cut, in its standard deviations, and its correlation with the value."""
        sign = -1.0 if self.direction == "down" else 1.0
        wide = self.growth_sds > 0
        by = np.where(wide, self.growth_sds, 1.0)
        cut = np.where(wide, sign * self.growths / by, np.inf)
        safe = np.where(self.sds > 0, self.sds, 1.0)
        rho = np.where(wide & (self.sds > 0), sign * self.covariances / (by * safe), 0.0)
        return cut, np.clip(rho, -1.0, 1.0), wide

    def _moments(self) -> tuple[FloatArray, FloatArray]:
        if self.direction == "either":
            return self.means, self.sds**2
        from scipy.special import log_ndtr

        cut, rho, wide = self._cut()
        held = np.where(wide, cut, 0.0)
        # Mean of a normal beyond a cut, by logs so that a far cut does not divide by zero.
        hazard = np.where(wide, np.exp(-(held**2) / 2 - LOG_2PI / 2 - log_ndtr(held)), 0.0)
        mean = self.means + rho * self.sds * hazard
        return mean, self.sds**2 * (1 - rho**2 * hazard * (hazard + held))

    def _below(self, value: float) -> FloatArray:
        """Chance below, on the model's scale, for each node and hour."""
        from scipy.special import ndtr

        sharp: BoolArray = self.sds <= 0
        z = np.where(sharp, 0.0, (value - self.means) / np.where(sharp, 1.0, self.sds))
        plain = np.where(sharp, (value >= self.means) * 1.0, ndtr(z))
        if self.direction == "either" or np.isinf(value):
            return plain if np.isfinite(value) else np.full_like(plain, float(value > 0))
        cut, rho, wide = self._cut()
        need = wide & (cut < 7) & ~sharp
        if not need.any():
            return np.asarray(plain)
        result = plain.copy()
        result[need] = _below_given(z[need], cut[need], rho[need])
        return np.asarray(result)


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
    are checked against `mixed_model`; what intervals hold is simulated by `coverage`.

    Examples
    --------
    >>> found = fit(["K1"] * 3 + ["K2"] * 3, [0, 100, 200] * 2, [16, 17.1, 18, 16, 17.9, 20.2],
    ...             [0.01] * 6)
    >>> round(found.mean_rate, 4), [round(1000 * found.rate(p)[0], 1) for p in found.parts]
    (0.0155, [10.4, 20.6])
    """
    data = _checked(
        parts, hours, values, variances, restarts, scale, quickening, meters, shared, prior
    )
    return _fitted(data, scale, direction, wander, prior)


def fleet(sets: Sequence[Growth]) -> Fleet:
    r"""What earlier sets say of the rates of a new one.

    .. math:: \hat\omega^2 = \max\left(0, \frac{Q - (m - 1)}
              {\sum w_j - \sum w_j^2 / \sum w_j}\right),\qquad
              w_j = 1/s_j^2,\quad Q = \sum w_j (\hat\mu_j - \bar\mu_w)^2

    Parameters
    ----------
    sets : sequence of Growth
        Fits of earlier sets, each without a prior [one unit, one scale].

    Returns
    -------
    Fleet
        Mean rate of a new set with its variance, and the variances inside a set [units of the
        fits].

    Raises
    ------
    OutOfRange
        There is none in which a rate is known; scales or terms differ.

    Notes
    -----
    The mean of a new set varies about the fleet's by what sets differ and by what the fleet's
    mean is not known. One set alone does not say how far sets differ; then they are taken to
    differ as parts do, and a note says so. Variances, and how much of what strays lasts, are
    taken to be alike in all sets: what each set's readings say of them, its likelihood over the
    grid, is handed on whole, and the likelihoods multiply.

    References
    ----------
    DerSimonian and Laird 1986, Controlled Clinical Trials 7, 177-188 (from memory).
    No printed value: worked by hand for three sets in
    ``tests/published/test_mixed_models.py``.

    Examples
    --------
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
    means = np.array([growth.weights @ growth.set_means for growth in usable])
    # Medians, because with two parts a variance has no mean.
    own = np.array(
        [
            [_weighted_median(column, growth.weights) for column in growth.set_variances.T]
            + growth.weights @ (growth.set_means - mean) ** 2
            for growth, mean in zip(usable, means, strict=True)
        ]
    )
    part = np.array(
        [
            [_weighted_median(column, growth.weights) for column in growth.part_variances.T]
            for growth in usable
        ]
    )
    pooled = part.mean(axis=0)
    residual = np.array(
        [
            _weighted_median(
                growth.residual_variances + growth.wander_variances * growth.interval,
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


# What stands out


@dataclass(frozen=True, slots=True)
class Jump:
    """A reading against what had been forecast for it."""

    expected: float  # median of the forecast [value]
    low: float  # no jump down to here [value]; -inf or 0 where only a rise counts
    high: float  # no jump up to here [value]; inf where only a fall counts
    deviate: float  # the reading as a standard normal deviate of the forecast [-]
    probability: float  # chance of a reading as far out, if nothing has happened [-]
    false_alarm: float  # the rate it was judged at [-]
    is_jump: bool


def jump(
    found: Forecast,
    value: float,
    *,
    side: Literal["both", "above", "below"] = "both",
    false_alarm: float = 0.01,
) -> Jump:
    r"""Whether a reading is a jump against the history before it.

    .. math:: p = 2 \min\bigl(F(y), 1 - F(y)\bigr),\qquad z = \Phi^{-1}\bigl(F(y)\bigr)

    Parameters
    ----------
    found : Forecast
        What the readings before this one foretold of it, its meter counted [unit of values].
    value : float
        The reading [unit of values].
    side : {"both", "above", "below"}
        What counts: any jump, a rise, or a fall.
    false_alarm : float
        How often a reading after which nothing has happened is called a jump [-].

    Returns
    -------
    Jump
        Expected value, ends, deviate, probability, call [unit of values].

    Raises
    ------
    OutOfRange
        The rate of false alarms is not between 0 and 1.

    Notes
    -----
    The reading must not be in the fit itself. The rate of false alarms holds as far as the
    intervals of the fit hold.

    References
    ----------
    Probability integral transform: Dawid 1984, Journal of the Royal Statistical Society A 147,
    278-292 (from memory).
    No printed value: the rate is measured on simulated shops by `false_alarms`.

    Examples
    --------
    >>> before = fit(["K1"] * 4, [0, 100, 200, 300], [16, 17.1, 17.9, 19], [0.01] * 4)
    >>> [jump(before.at("K1", 100, meter_variance=0.01), value).is_jump for value in (20, 24)]
    [False, True]
    """
    from scipy.special import ndtri

    rate = check.between("The rate of false alarms", false_alarm)
    reading = float(check.finite("The reading", value))
    below = found.chance_below(reading)
    tail = {"both": 2 * min(below, 1 - below), "above": 1 - below, "below": below}[side]
    tail = min(max(tail, 0.0), 1.0)
    least = 0.0 if found.scale == "log" else -np.inf
    share = rate / 2 if side == "both" else rate
    return Jump(
        expected=found.median,
        low=least if side == "above" else found.quantile(share),
        high=np.inf if side == "below" else found.quantile(1 - share),
        # As far out as a float can tell: 1 - 1e-16.
        deviate=float(ndtri(min(max(below, 1e-300), 1 - 1e-16))),
        probability=tail,
        false_alarm=rate,
        is_jump=tail < rate,
    )


@dataclass(frozen=True, slots=True)
class Difference:
    """How one meter reads against its peers."""

    difference: float  # this meter less the others [value]
    sd: float  # of the difference [value]
    dof: float  # [-]; inf where the variances are known
    items: int  # that both had read
    probability: float  # chance of a difference as large, if there is none [-]
    false_alarm: float  # the rate it was judged at [-]
    differs: bool


def meter_difference(
    items: Sequence[object],
    is_this_meter: ArrayLike,
    values: ArrayLike,
    hours: ArrayLike | None = None,
    variances: ArrayLike | None = None,
    *,
    allowed: float = 0.0,
    false_alarm: float = 0.01,
) -> Difference:
    r"""How one meter reads against its peers on the same items.

    .. math:: y_{ij} = \alpha_i + r_i t_{ij} + \delta\,m_{ij} + e_{ij}

    Parameters
    ----------
    items : (N,) sequence
        Item of each reading [-].
    is_this_meter : (N,) array_like of bool
        True where the reading was taken with the meter in question [-].
    values : (N,) array_like
        Readings; their logarithms where meters differ by a factor [any unit].
    hours : (N,) array_like or None
        Running hours at each reading [h], where items wear between readings; None where what
        one item reads has not changed.
    variances : (N,) array_like or None
        Known variance of each reading's repeatability [unit of values, squared]; None where
        it is to be learned from the readings.
    allowed : float
        How far apart the meters may read by what both are good to [unit of values].
    false_alarm : float
        How often meters that read no farther apart are called different, at most [-].

    Returns
    -------
    Difference
        Difference, its standard deviation, probability, call [unit of values].

    Raises
    ------
    OutOfRange
        Lengths differ; no item was read by both; there are no readings to spare and no
        variances.

    Notes
    -----
    Each item has its own level, and its own line where hours are given; an item that only one
    of them has read says nothing of the difference. With equal weights and one reading by each
    it is the paired t test. With `allowed` it is what is beyond that that is tested, so meters that
    both keep what is said of them are called different no more often than stated.

    References
    ----------
    Student 1908, Biometrika 6, 1-25; analysis of covariance with items as blocks: common
    practice, no source.
    Checked in ``tests/published/test_mixed_models.py``: Student's sleep data, printed by R as
    t = -4.0621 at 9 degrees of freedom, p = 0.002833.

    Examples
    --------
    >>> found = meter_difference("aabbcc", [False, True] * 3, [10, 11.1, 12, 13, 9, 9.9])
    >>> round(found.difference, 2), round(found.sd, 3), found.items
    (1.0, 0.058, 3)
    """
    from scipy.special import ndtr, stdtr

    rate = check.between("The rate of false alarms", false_alarm)
    least = float(check.at_least_zero("What is allowed", allowed))
    labels, item = _labelled(items)
    y = check.finite("A reading", values)
    mine = np.asarray(is_this_meter, dtype=bool)
    t = np.zeros(len(item)) if hours is None else check.finite("The hours", hours)
    v = np.ones(len(item)) if variances is None else check.above_zero("A variance", variances)
    if any(a.shape != (len(item),) for a in (y, mine, t, v)):
        raise OutOfRange("Give one item, one meter, one value and one variance for each reading.")
    if not len(item):
        raise OutOfRange("There is no reading to compare.")
    order = np.argsort(item, kind="stable")
    starts = np.searchsorted(item[order], np.arange(len(labels)))
    w = 1 / v[order]
    columns = np.array([t, mine * 1.0, y])[:, order]
    sizes = np.diff(np.append(starts, len(item)))
    by = np.add.reduceat(w, starts)
    columns = columns - np.repeat(np.add.reduceat(w * columns, starts, axis=1) / by, sizes, axis=1)
    run = np.add.reduceat(w * columns[0] ** 2, starts)
    sloped = run > 1e-12 * max(float(run.max()), TINY)
    slope = np.add.reduceat(w * columns[0] * columns[1:], starts, axis=1) / np.where(
        sloped, run, 1.0
    )
    m, rest = columns[1:] - np.repeat(np.where(sloped, slope, 0.0), sizes, axis=1) * columns[0]
    told = np.add.reduceat(w * m * m, starts)
    both = told > 1e-9 * by
    information = float(told[both].sum())
    if not both.any():
        raise OutOfRange(
            "No item was read both with this meter and with another, so they cannot be compared."
        )
    difference = float((w * m) @ rest) / information
    if variances is None:
        dof: float = len(item) - len(labels) - int(sloped.sum()) - 1
        if dof < 1:
            raise OutOfRange(
                "There are no readings to spare to learn the spread from: read another item with "
                "both meters, or give the variances."
            )
        left = rest - difference * m
        scatter = float((w * left) @ left) / dof
    else:
        dof, scatter = np.inf, 1.0
    sd = float(np.sqrt(scatter / information))
    beyond = max(abs(difference) - least, 0.0)
    if sd > 0:
        chance = 2 * float(ndtr(-beyond / sd) if np.isinf(dof) else stdtr(dof, -beyond / sd))
    else:
        chance = 1.0 if beyond == 0 else 0.0
    return Difference(
        difference=difference,
        sd=sd,
        dof=dof,
        items=int(both.sum()),
        probability=chance,
        false_alarm=rate,
        differs=chance < rate,
    )


@dataclass(frozen=True, slots=True)
class Apart:
    """The one of several fellows that is farthest from the others."""

    which: int  # index of it [-]
    others_mean: float  # [value]
    difference: float  # from the others' mean [value]
    deviate: float  # Student's t of the difference [-]
    probability: float  # chance of any one as far out, if all are alike [-]
    false_alarm: float  # the rate it was judged at [-]
    is_apart: bool


def apart(values: ArrayLike, meter_variance: float = 0.0, *, false_alarm: float = 0.05) -> Apart:
    r"""Whether one of several fellows is apart from the others.

    .. math:: t_i = \frac{y_i - \bar y_{(i)}}{s_{(i)} \sqrt{n/(n-1)}},\qquad
              p = \min\bigl(1, n\,P(|T_{n-2}| > \max_i |t_i|)\bigr)

    Parameters
    ----------
    values : (N,) array_like
        One value of each, three or more [any unit].
    meter_variance : float
        Variance that the meter alone gives a value, its resolution included [value squared];
        the others are not taken to be closer together than that.
    false_alarm : float
        How often one of fellows that are alike is called apart [-].

    Returns
    -------
    Apart
        Which, by how much, probability, call [unit of values].

    Raises
    ------
    OutOfRange
        There are fewer than three values.

    Notes
    -----
    The mean and the standard deviation are those of the others, without the one in question.
    With few fellows only a large difference is found: of four, one must be more than ten
    standard deviations of the others away at a rate of 0.05.

    References
    ----------
    Grubbs 1969, Technometrics 11, 1-21, in the form with one left out (from memory).
    Checked in ``tests/published/test_mixed_models.py``: Grubbs's two-sided critical values.

    Examples
    --------
    >>> found = apart([76, 75, 59, 74], meter_variance=1.0)
    >>> found.which, found.others_mean, found.is_apart
    (2, 75.0, True)
    """
    from scipy.special import stdtr

    rate = check.between("The rate of false alarms", false_alarm)
    y = check.finite("A value", values)
    floor = float(check.at_least_zero("The meter's variance", meter_variance))
    n = y.size
    if y.ndim != 1 or n < 3:
        raise OutOfRange(f"To find one apart takes three values or more: got {n}.")
    others = (y.sum() - y) / (n - 1)
    about = y[np.newaxis, :] - others[:, np.newaxis]
    np.fill_diagonal(about, 0.0)
    variance = np.maximum((about**2).sum(axis=1) / (n - 2), floor)
    gap = y - others
    # Rounding of a mean of equal values is not a difference.
    gap = np.where(np.abs(gap) <= 1e-12 * np.abs(y).max(), 0.0, gap)
    width = np.sqrt(variance * n / (n - 1))
    t = np.where(
        gap == 0, 0.0, np.divide(gap, width, out=np.copysign(np.inf, gap), where=width > 0)
    )
    which = int(np.argmax(np.abs(t)))
    chance = min(1.0, 2 * n * float(stdtr(n - 2, -abs(float(t[which])))))
    return Apart(
        which=which,
        others_mean=float(others[which]),
        difference=float(gap[which]),
        deviate=float(t[which]),
        probability=chance,
        false_alarm=rate,
        is_apart=chance < rate,
    )


# How the fit is made


@dataclass(frozen=True, slots=True)
class _Data:
    """Readings sorted by part and segment, and where parts and segments start."""

    labels: tuple[str, ...]
    terms: FloatArray  # (terms, readings), hours in units of `width`
    meters: tuple[str, ...]
    loads: FloatArray  # (meters, readings), standard deviation of each one's own error
    interval: float  # usual time from one reading to the next [h]
    values: FloatArray  # on the model's scale
    variances: FloatArray
    strays: FloatArray  # 1 of a reading, 0 of a value that is known
    segment_starts: IntArray
    part_starts: IntArray  # in segments
    last_segments: IntArray  # of each part
    last_hours: FloatArray  # [h]
    width: float  # [h]
    informative: IntArray  # readings of each part that say something of its rate


def _checked(
    parts: Sequence[str],
    hours: ArrayLike,
    values: ArrayLike,
    variances: ArrayLike | None,
    restarts: ArrayLike | None,
    scale: Scale,
    quickening: bool,
    meters: Sequence[str] | None,
    shared: ArrayLike | None,
    prior: Fleet | None,
) -> _Data:
    labels, part = _labelled(parts)
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
    if prior is not None and prior.scale != scale:
        raise OutOfRange(f"The prior is on a {prior.scale} scale and the fit on a {scale} one.")
    if prior is not None and len(prior.means) != 1 + quickening:
        raise OutOfRange("The prior and the fit must both have quickening, or neither.")
    on_scale = _on_scale(y, scale)
    if scale == "log":
        v, own = v / y**2, own / y  # first order
    is_read = np.array([meters is None or bool(one) for one in meter]) | (v > 0)
    names = tuple(dict.fromkeys(str(one) for one in meter[own > 0]))
    order = np.argsort(part, kind="stable")
    loads = np.array([np.where(meter == name, own, 0.0) for name in names]).reshape(-1, n)[:, order]
    part, t, v, anew, on_scale = part[order], t[order], v[order], anew[order], on_scale[order]
    new_part = np.diff(part, prepend=-1) != 0
    back = ~new_part & (np.diff(t, prepend=t[0]) < 0)
    if back.any():
        i = int(np.flatnonzero(back)[0])
        raise OutOfRange(
            f"Hours run backwards for part {labels[part[i]]}: {t[i]:g} stands after {t[i - 1]:g}. "
            "Put its readings in the order they were taken, or strike the one that is wrong."
        )
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
    return _Data(
        labels=labels,
        terms=_terms(t / width, 1 + quickening),
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


def _on_scale(values: FloatArray, scale: Scale) -> FloatArray:
    if scale == "linear":
        return values
    if not (values > 0).all():
        raise OutOfRange(
            f"On a log scale a value must be above 0: got {float(values.min()):g}. Leave out what "
            "is short or was not read."
        )
    return np.asarray(np.log(values))


def _terms(hours: FloatArray, count: int) -> FloatArray:
    """What rate and quickening are multiplied by."""
    return np.array([hours, hours**2 / 2])[:count]


def _weighted_median(values: FloatArray, weights: FloatArray) -> float:
    order = np.argsort(values)
    reached = np.cumsum(weights[order])
    return float(values[order][np.searchsorted(reached, reached[-1] / 2)])


@dataclass(frozen=True, slots=True)
class _Reduced:
    """What the readings say for each residual variance, with every level left free."""

    sums: _Sums
    levels: FloatArray  # (points, parts)
    level_terms: FloatArray  # (points, terms + meters, parts)
    level_variances: FloatArray  # (points, parts)


def _reduce(data: _Data, strays: FloatArray, wanders: FloatArray | None = None) -> _Reduced:
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
    return _Reduced(
        sums=_Sums(
            a=np.stack([of_part[:, 0, 0], of_part[:, 0, 1], of_part[:, 1, 1]], axis=1),
            b=of_part[:, :2],
            total=total,
            logs=logs,
        ),
        levels=level[:, -1, last],
        level_terms=level[:, terms][..., last],
        level_variances=spread[:, last],
    )


def _at_points(sums: _Sums, points: IntArray) -> _Sums:
    return _Sums(
        a=sums.a[points], b=sums.b[points], total=sums.total[points], logs=sums.logs[points]
    )


def _scales(
    reduced: _Reduced, informative: FloatArray | IntArray, terms: int
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


def _fitted(
    data: _Data, scale: Scale, direction: Direction, wander: bool, prior: Fleet | None
) -> Growth:
    terms = len(data.terms)
    units = np.array([data.width, data.width**2])[:terms]
    typical = float(data.variances.mean())
    total = _reduce(data, np.array([typical if typical else 1.0]))
    _, told = _scales(total, data.informative, terms)
    known = prior is not None or bool(told[0] >= 1)
    if terms == 2 and prior is None and known and told[1] < 1:
        raise OutOfRange(
            "Quickening needs a part read at three different hours since its record began, or "
            "what other sets say: fit it without quickening."
        )
    # Readings that are left when every part has its own line.
    segments = np.diff(np.append(data.segment_starts, len(data.values)))
    told_segments = _told_segments(data)
    lines = int(told.sum())
    spare = int(segments[told_segments].sum()) - int(told_segments.sum()) - lines
    within = _own_residual(data)
    base = typical or _base(within, spare, data)
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
        first, *rest = _grid(axes, points)
        grid = (first, shares, *rest)
        if not known:
            return grid, np.zeros(1), None
        return grid, *_log_posterior(data, grid, base, typical, prior, told, units)

    grid, log_weight, says = weighed()
    for _ in range(CLOSER if known else 0):
        closer = _closer(grid, log_weight, axes)
        if closer == axes:
            break
        axes = closer
        grid, log_weight, says = weighed()
    mesh = _mesh(grid)
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


def _told_segments(data: _Data) -> BoolArray:
    t = data.terms[0]
    starts = data.segment_starts
    return np.asarray(np.maximum.reduceat(t, starts) > np.minimum.reduceat(t, starts))


def _own_residual(data: _Data) -> float:
    """Variance of the readings about their levels: no residual can be much above it."""
    sizes = np.diff(np.append(data.segment_starts, len(data.values)))
    about = data.values - np.repeat(
        np.add.reduceat(data.values, data.segment_starts) / sizes, sizes
    )
    return float(about @ about) / max(len(about) - len(sizes), 1)


def _base(within: float, spare: int, data: _Data) -> float:
    """Where no meter variance is given: what is left about the parts' own lines."""
    if spare < 1:
        return within
    return _own_squares(_reduce(data, np.array([1.0])).sums) / spare


def _grid(
    axes: Sequence[tuple[float, float] | None], points: Sequence[int]
) -> tuple[FloatArray, ...]:
    """Evenly spaced in the log; an axis that is not open has the one point of no variance."""
    return tuple(
        np.array([-np.inf]) if axis is None else np.linspace(*axis, count)
        for axis, count in zip(axes, points, strict=True)
    )


def _mesh(grid: Sequence[FloatArray]) -> list[FloatArray]:
    return [m.ravel() for m in np.meshgrid(*grid, indexing="ij")]


def _closer(
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


def _log_posterior(
    data: _Data,
    grid: Sequence[FloatArray],
    base: float,
    typical: float,
    prior: Fleet | None,
    told: IntArray,
    units: FloatArray,
) -> tuple[FloatArray, Told]:
    """Log of the restricted likelihood times the prior density, and the former alone, by node."""
    terms = len(units)
    logs, lasts = (m.ravel() for m in np.meshgrid(grid[0], grid[1], indexing="ij"))
    reduced = _reduce(data, *_variances(logs, lasts, base, data))
    scales, _ = _scales(reduced, data.informative, terms)
    mesh = _mesh(grid)
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
        cross, log_det = _reduced(_at_points(reduced.sums, at[part]), _diagonal(tau2))
        cross = _with_known(cross, prior, units)
        log_fixed, squares = _eliminated(cross)
        density = -(reduced.sums.logs[at[part]] + log_det + log_fixed + squares) / 2
        likelihood[part] = density
        for one in prior.told if prior is not None else ():
            density = density + one.at(
                mesh[0][part] + np.log(base),
                mesh[1][part],
                ratios + np.log(scales[at[part]] / units**2),
                data.interval,
            )
        # Prior densities of the logs; flat where there is nothing to be relative to.
        for j in range(terms):
            if len(grid[2 + j]) > 1:
                density = density + ratios[:, j] - PART_POWER * np.logaddexp(0.0, ratios[:, j])
        log_ratio = mesh[0][part]
        if len(grid[1]) > 1:
            density = density + np.log(SHARE_PRIOR)[np.searchsorted(SHARES, mesh[1][part])]
        if len(grid[0]) > 1 and typical:
            density = density + np.logaddexp(
                log_ratio - np.logaddexp(0.0, log_ratio),
                np.log(METER_ALONE) - np.logaddexp(0.0, 4 * (log_ratio + 4)),
            )
        result[part] = density
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


def _variances(
    log_ratio: FloatArray, lasting: FloatArray, base: float, data: _Data
) -> tuple[FloatArray, FloatArray]:
    """What strays and what wanders by the hour; a speck keeps a perfect meter's weight finite."""
    speck = 0.0 if (data.variances > 0).all() else 1e-12 * base
    whole = base * np.exp(log_ratio)
    return np.maximum(whole * (1 - lasting), speck), whole * lasting / data.interval


def _diagonal(variances: FloatArray) -> FloatArray:
    lower = np.zeros((len(variances), 2, 2))
    for j in range(variances.shape[1]):
        lower[:, j, j] = np.sqrt(variances[:, j])
    return lower


def _with_known(cross: FloatArray, prior: Fleet | None, units: FloatArray) -> FloatArray:
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


def _posterior(
    data: _Data,
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
    sigma2, walk = _variances(pairs[0], pairs[1], base, data)
    reduced = _reduce(data, sigma2, walk)
    scales, _ = _scales(reduced, data.informative, terms)
    if prior is not None:
        scales = np.where(told >= 1, scales, np.maximum(prior.part_variances * units**2, TINY))
    tau2 = np.exp(np.stack(mesh[2:], axis=-1)) * scales[at]
    sums, lower = _at_points(reduced.sums, at), _diagonal(tau2)
    cross = _with_known(_reduced(sums, lower)[0], prior, units)
    if not known:
        cross = cross + np.eye(cross.shape[-1])  # nothing is asked of it
    inverse, beta = _solved(cross)
    k11, k12, k22 = np.moveaxis(_spread(sums.a, lower), 1, 0)
    asked = [*range(terms), *range(2, beta.shape[1])]
    mean = np.repeat(beta[:, asked, np.newaxis], len(data.labels), axis=2)
    mean[:, :terms] += np.swapaxes(_effects(sums, lower, beta), 1, 2)[:, :terms]
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


def _below_given(z: FloatArray, cut: FloatArray, rho: FloatArray) -> FloatArray:
    """Chance that a standard normal is below z, given that its partner is above -cut.

    P(U < z, W > -c) / P(W > -c) with correlation rho, by Owen's T where the cut is near, and
    by Gauss-Legendre points of W's own distribution where it is far.
    """
    from scipy.special import log_ndtr, ndtr, ndtri_exp, owens_t

    result = np.empty_like(z)
    rest = np.sqrt(np.maximum(1 - rho**2, 1e-14))
    near = cut > -3
    if near.any():
        h, k, r, q = z[near], -cut[near], rho[near], rest[near]
        h = np.where(np.abs(h) < 1e-12, 1e-12, h)
        k = np.where(np.abs(k) < 1e-12, 1e-12, k)
        # Owen 1956, eq. (3.1): the bivariate normal below h and k.
        apart = np.where((h * k > 0) | ((h * k == 0) & (h + k >= 0)), 0.0, 0.5)
        both = (
            (ndtr(h) + ndtr(k)) / 2
            - owens_t(h, (k / h - r) / q)
            - owens_t(k, (h / k - r) / q)
            - apart
        )
        result[near] = (ndtr(h) - both) / ndtr(-k)
    far = ~near
    if far.any():
        points, weights = np.polynomial.legendre.leggauss(64)
        # W > -c is -W < c: take the quantiles of -W below c, by logs.
        shares = np.log((points + 1) / 2)[:, np.newaxis] + log_ndtr(cut[far])
        partner = -ndtri_exp(shares)
        conditional = ndtr((z[far] - rho[far] * partner) / rest[far])
        result[far] = weights @ conditional / 2
    return np.clip(result, 0.0, 1.0)
