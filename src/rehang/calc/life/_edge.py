"""The edge of the region of likelihood, and what is read off it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rehang.calc._inputs import FloatArray


@dataclass(frozen=True, slots=True)
class Interval:
    """A value with its ends; nan for a value that the data do not carry."""

    value: float  # [unit of the value]
    low: float  # [the same]
    high: float  # [the same]


@dataclass(frozen=True, slots=True)
class Edge:
    """Edge of the likelihood region: at each shape the lowest and the highest rate."""

    shapes: FloatArray  # [-]
    log_k_low: FloatArray  # log of k, hours in units of the longest age [-]
    log_k_high: FloatArray  # [the same]


def peak(values: FloatArray) -> FloatArray:
    """Highest value along the last axis, by a parabola through the three about it."""
    at = np.argmax(values, axis=-1)[..., np.newaxis]
    top = np.take_along_axis(values, at, axis=-1)[..., 0]
    last = values.shape[-1] - 1
    if last < 2:
        return np.asarray(top)
    inside = (at[..., 0] > 0) & (at[..., 0] < last)
    before = np.take_along_axis(values, np.maximum(at - 1, 0), axis=-1)[..., 0]
    after = np.take_along_axis(values, np.minimum(at + 1, last), axis=-1)[..., 0]
    with np.errstate(invalid="ignore", divide="ignore"):
        bend = 2 * top - before - after
        raised = top + (after - before) ** 2 / (8 * bend)
    fits = inside & np.isfinite(raised) & (bend > 0)
    return np.asarray(np.where(fits, raised, top))
