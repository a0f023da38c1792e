"""Restricted likelihood of groups whose level and rate differ, from sums of 2 by 2 per group."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from rehang.calc._inputs import FloatArray, IntArray

LOG_2PI = float(np.log(2 * np.pi))
# What is left of a sum of squares by rounding alone; no meter reads to a ten-millionth.
EXACT = 1e-13
TINY = float(np.finfo(float).tiny)


@dataclass(frozen=True, slots=True)
class Sums:
    """Weighted sums per group, and over all; leading axes are points of evaluation.

    Groups stand last, so that numpy's inner loops are long.
    """

    a: FloatArray  # (..., 3, groups): 11, 12, 22 of Z'Z
    b: FloatArray  # (..., 2, fixed + 1, groups): Z'[X y]
    total: FloatArray  # (..., fixed + 1, fixed + 1): [X y]'[X y]
    logs: FloatArray  # (...): sum of the logs of the variances


def labelled(groups: Sequence[object]) -> tuple[tuple[str, ...], IntArray]:
    """Labels in the order met, and the index of each value's."""
    each = list(groups)
    index = {label: at for at, label in enumerate(dict.fromkeys(each))}
    at = np.fromiter(map(index.__getitem__, each), dtype=np.intp, count=len(each))
    return tuple(map(str, index)), at


def cross_products(sums: Sums, lower: FloatArray) -> tuple[FloatArray, FloatArray]:
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


def eliminated(cross: FloatArray) -> tuple[FloatArray, FloatArray]:
    """log |X'V^-1 X| and y'Py, one column of X taken out after the other."""
    log_det = np.zeros(cross.shape[:-2])
    rest = cross
    while rest.shape[-1] > 1:
        pivot, row = rest[..., 0, 0], rest[..., 0, 1:]
        log_det = log_det + np.log(np.maximum(pivot, TINY))
        by = (row / pivot[..., np.newaxis])[..., np.newaxis]
        rest = rest[..., 1:, 1:] - by * row[..., np.newaxis, :]
    return log_det, np.asarray(np.maximum(rest[..., 0, 0], TINY))


def solved(cross: FloatArray) -> tuple[FloatArray, FloatArray]:
    """(X'V^-1 X)^-1 and the coefficients."""
    inverse = np.asarray(np.linalg.inv(cross[..., :-1, :-1]), dtype=np.float64)
    return inverse, np.asarray((inverse @ cross[..., :-1, -1:])[..., 0])


def group_spread(a: FloatArray, lower: FloatArray) -> FloatArray:
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


def own_effects(sums: Sums, lower: FloatArray, beta: FloatArray) -> FloatArray:
    """Each group's own, as a difference from the coefficients (best linear prediction)."""
    k = group_spread(sums.a, lower)
    left = sums.b[..., -1, :] - np.einsum("...ifg,...f->...ig", sums.b[..., :-1, :], beta)
    return np.stack(
        [
            k[..., 0, :] * left[..., 0, :] + k[..., 1, :] * left[..., 1, :],
            k[..., 1, :] * left[..., 0, :] + k[..., 2, :] * left[..., 1, :],
        ],
        axis=-1,
    )


def own_squares(sums: Sums) -> float:
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
