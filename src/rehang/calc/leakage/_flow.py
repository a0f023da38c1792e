"""The flow function of an orifice, and what two of them in series make of it.

By the logarithm of the pressure ratio: near a ratio of 1 the difference of powers keeps its digits
that way.
"""

from __future__ import annotations

import numpy as np

from rehang.calc import _inputs as check
from rehang.calc._blocks import in_blocks
from rehang.calc._inputs import FloatArray
from rehang.calc.errors import OutOfRange

# A reading this far above ambient, as a fraction of it, stands for 0 in a slope.
NEXT_TO_NOTHING = 1e-9


def _log_critical(g: FloatArray) -> FloatArray:
    return np.asarray(g / (g - 1.0) * np.log(2.0 / (g + 1.0)))


def _psi(log_r: FloatArray, g: FloatArray) -> FloatArray:
    log_r = np.maximum(log_r, _log_critical(g))
    # 0.0 is added because a square root hands on the sign of -0.
    square = 2.0 * g / (g - 1.0) * -np.expm1((g - 1.0) / g * log_r) + 0.0
    return np.asarray(np.exp(log_r / g) * np.sqrt(square))


def area_ratio_of(
    s: FloatArray, c: FloatArray, pa: FloatArray, t: FloatArray, g: FloatArray
) -> FloatArray:
    return in_blocks(_area_ratio, s, c, pa, t, g)


def _area_ratio(
    s: FloatArray, c: FloatArray, pa: FloatArray, t: FloatArray, g: FloatArray
) -> FloatArray:
    ps, pc = s + pa, c + pa
    through_restrictor = _psi(np.log1p((c - s) / ps), g)
    through_leak = _psi_at_leak(c / pa, g)
    with np.errstate(divide="ignore"):
        # A reading of 0 has a leak without end.
        return np.asarray(ps / pc * through_restrictor / through_leak * np.sqrt(t))


def _psi_at_leak(over: FloatArray, g: FloatArray) -> FloatArray:
    """By the reading over the ambient pressure; a leak that chokes takes no logarithm."""
    critical = _log_critical(g)
    is_open = over < np.expm1(-critical)
    if is_open.ndim == 0 or is_open.all():
        return _psi(-np.log1p(over), g)
    flow = np.broadcast_to(_psi(critical, g), is_open.shape)
    if is_open.any():
        flow = flow.copy()
        over, g = np.broadcast_arrays(over, g)
        flow[is_open] = _psi(-np.log1p(over[is_open]), g[is_open])
    return flow


def reading_at(a: FloatArray, s: FloatArray, pa: FloatArray, g: FloatArray) -> FloatArray:
    """Gauge reading; all four arguments of one shape."""
    return in_blocks(_reading_at, a, s, pa, g)


def _reading_at(a: FloatArray, s: FloatArray, pa: FloatArray, g: FloatArray) -> FloatArray:
    ps = s + pa
    log_critical = _log_critical(g)
    psi_critical = _psi(log_critical, g)
    stretch = g / (g - 1.0)

    # The leak chokes: psi(r)/r = a psi*, r = pc/ps. Once the restrictor chokes too, r = 1/a.
    log_r = -stretch * np.log1p(_w_less_one((a * psi_critical) ** 2, g))
    with np.errstate(divide="ignore"):
        log_r = np.where(log_r >= log_critical, log_r, -np.log(a))
    # ps e^x - pa, without losing a reading next to the supply.
    leak_choked = s + ps * np.expm1(log_r)

    # The restrictor chokes and the leak does not: psi(r)/r = psi* ps / (a pa), r = pa/pc.
    with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
        rise = stretch * np.log1p(_w_less_one((psi_critical * ps / (a * pa)) ** 2, g))
        restrictor_choked = pa * np.expm1(rise)

    leak_is = leak_choked + pa >= pa * np.exp(-log_critical)
    restrictor_is = ~leak_is & (restrictor_choked + pa <= ps * np.exp(log_critical))
    neither = ~leak_is & ~restrictor_is
    reading = np.where(leak_is, leak_choked, restrictor_choked)
    if neither.any():
        reading[neither] = _reading_unchoked(a[neither], s[neither], pa[neither], g[neither])
    # Rounding may step outside by the last digit.
    return np.asarray(np.clip(reading, 0.0, s))


def _w_less_one(square: FloatArray, g: FloatArray) -> FloatArray:
    """Root above 1 of K (w**2 - w) = square, less 1."""
    x = square * (g - 1.0) / (2.0 * g)
    # Once 4 x is past the largest float the root is that of x alone.
    return np.asarray(np.where(x < 1e300, 2.0 * x / (1.0 + np.sqrt(1.0 + 4.0 * x)), np.sqrt(x)))


def _reading_unchoked(a: FloatArray, s: FloatArray, pa: FloatArray, g: FloatArray) -> FloatArray:
    from scipy.optimize.elementwise import find_root

    def excess(
        share: FloatArray, a: FloatArray, s: FloatArray, pa: FloatArray, g: FloatArray
    ) -> FloatArray:
        """Air let in less air let out, at a reading of this share of the supply."""
        ps, c = s + pa, share * s
        let_in = ps * _psi(np.log1p((c - s) / ps), g)
        let_out = a * (c + pa) * _psi(-np.log1p(c / pa), g)
        return np.asarray(let_in - let_out)

    found = find_root(excess, (np.zeros_like(a), np.ones_like(a)), args=(a, s, pa, g))
    if not np.asarray(found.success).all():
        raise OutOfRange(
            "No reading was found at which as much air leaks out as comes in: "
            f"got a ratio of areas of {check.shown(a)} and a supply of {check.shown(s)} Pa."
        )
    return np.asarray(found.x) * s


def slopes_of(
    s: FloatArray, c: FloatArray, pa: FloatArray, g: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """``q`` and ``q`` times the slopes of the logarithm of the area ratio.

    ``q = 1/(1 - d ln psi/d ln r)`` at the restrictor is 1 when it chokes and 0 at a reading of
    the supply, where the slopes themselves have no end and ``q`` times them has one.
    """
    c = np.maximum(c, NEXT_TO_NOTHING * pa)
    ps, pc = s + pa, c + pa
    q = _q(np.minimum(np.log1p((c - s) / ps), 0.0), g)
    # d ln psi / d ln r at the leak, at most 0.
    at_leak = 1.0 - 1.0 / _q(-np.log1p(c / pa), g)
    by_supply = 1.0 / ps
    by_reading = (q * at_leak - 1.0) / pc
    by_ambient = by_supply + by_reading - q * at_leak / pa
    return q, np.asarray(by_supply), np.asarray(by_reading), np.asarray(by_ambient)


def _q(log_r: FloatArray, g: FloatArray) -> FloatArray:
    inside = -np.expm1((g - 1.0) / g * np.maximum(log_r, _log_critical(g))) + 0.0
    # 1 - z over 1 - 1/g - z (g - 1)/(2 g), both with z = 1 - inside.
    return np.asarray(inside / ((g - 1.0) / (2.0 * g) * (1.0 + inside)))
