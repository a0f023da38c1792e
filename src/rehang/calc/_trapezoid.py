"""Share of a trapezoid, the sum of two rectangles, that lies within limits."""

from __future__ import annotations

import numpy as np

from rehang.calc._inputs import FloatArray


def trapezoid_inside(
    y: FloatArray, a: FloatArray, half_step: FloatArray, lower: FloatArray, upper: FloatArray
) -> FloatArray:
    """Centre, half widths of the two rectangles, limits; checked."""
    # In units of the outer half width, so that nothing changes with the unit of y.
    outer = a + half_step
    wide = np.maximum(a, half_step) / outer
    narrow = np.minimum(a, half_step) / outer
    inner = wide - narrow
    from_ = _place(lower, y, outer)
    to = _place(upper, y, outer)

    # A rectangle has no ramps; any divisor will do, for the ramps are then 0 wide.
    ramp_divisor = np.where(narrow > 0, 8.0 * wide * narrow, 1.0)
    flat = np.minimum(to, inner) - np.maximum(from_, -inner)
    p = np.maximum(flat, 0.0) / (2.0 * wide)
    p += _ramp(np.maximum(from_, inner), to) / ramp_divisor
    p += _ramp(np.maximum(-to, inner), -from_) / ramp_divisor
    return _cut(np.asarray(p), 0.0)


def _place(limit: FloatArray, y: FloatArray, outer: FloatArray) -> FloatArray:
    """Where a limit stands in the band, -1 and 1 being its ends."""
    # Most limits are one-sided, and a million readings need no million copies of an end.
    if limit.ndim == 0 and np.isinf(limit):
        return np.asarray(np.sign(limit))
    return _cut(np.asarray((limit - y) / outer), -1.0)


def _cut(values: FloatArray, low: float) -> FloatArray:
    """Cut off below, and above at 1, in place: ``np.clip`` is dear for a few."""
    np.maximum(values, low, out=values)
    np.minimum(values, 1.0, out=values)
    return values


def _ramp(from_: FloatArray, to: FloatArray) -> FloatArray:
    """Twice the integral of (1 - x) between two places at or below 1; 0 if they are swapped."""
    return np.maximum(to - from_, 0.0) * ((1.0 - from_) + (1.0 - to))
