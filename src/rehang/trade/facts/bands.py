"""Bands: the distribution of the true value given a reading.

By the rules of docs/explanation/calls-and-verdicts.md: a stated plus-or-minus is a hard limit, the
last digit is a second rectangle, a stated U with k is normal, wires that go and do not go leave the
value anywhere between, and an analog ohmmeter is plus-or-minus on its arc. Resolution and
repeatability add to every kind (DESIGN 4b, 12).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, sqrt

from rehang.calc import conformity, spread, uncertainty
from rehang.trade.terms.quantities import Quantity, show

__all__ = ["Band", "arc_band", "describe_band", "trapezoid"]


@dataclass(frozen=True, slots=True)
class Band:
    """The true value's distribution given one reading, in base steps.

    ``low`` and ``high`` are its ends; a normal part counts with two standard uncertainties.
    ``a`` and ``d`` are the stated accuracy's half width and the last digit's step, ``u`` the
    standard uncertainty of the normal part.
    """

    shape: str
    centre: float
    low: float
    high: float
    a: float = 0.0
    d: float = 0.0
    u: float = 0.0
    mid_scale: float = 0.0
    arc: float = 0.0

    @property
    def width(self) -> float:
        return self.high - self.low

    @property
    def standard_uncertainty(self) -> float:
        """Of the whole band, its parts added as squares (JCGM 100:2008, 4.3.7 and 5.1.2)."""
        if self.shape in ("trapezoid", "normal"):
            return sqrt(self.a**2 / 3 + self.d**2 / 12 + self.u**2)
        return self.width / sqrt(12.0)

    def p_inside(self, lower: float | None, upper: float | None) -> float:
        """Probability that the true value is within the limits, to twelve digits.

        Rounded there so that the noise of floating point never moves a call over a threshold.
        """
        lo = -inf if lower is None else float(lower)
        hi = inf if upper is None else float(upper)
        match self.shape:
            case "trapezoid":
                p = spread.p_inside_spread(self.centre, self.a, self.d, self.u, lo, hi)
            case "normal":
                p = conformity.p_inside_normal(self.centre, self.u, lo, hi)
            case "uniform":
                p = conformity.p_inside_uniform(self.low, self.high, lo, hi)
            case "arc":
                p = spread.p_inside_arc_spread(
                    self.centre, self.mid_scale, self.arc, self.d, self.u, lo, hi
                )
            case _:
                raise AssertionError(self.shape)
        return round(float(p), 12)


def trapezoid(value: float, a: float, d: float, u: float) -> Band:
    """Two rectangles and a normal, added: exact, whichever of them is the widest."""
    if not (a or d):
        return Band("normal", value, value - 2 * u, value + 2 * u, u=u)
    half = a + d / 2 + 2 * u
    return Band("trapezoid", value, value - half, value + half, a=a, d=d, u=u)


def arc_band(value: float, mid_scale: float, arc: float, d: float, u: float) -> Band:
    """Plus or minus a share of the arc, the last digit and a normal part laid on it."""
    f = float(uncertainty.arc_fraction(value, mid_scale))
    whole = arc + (d / 2 + 2 * u) * f**2 / mid_scale
    # Just short of the whole arc, which has every resistance on it.
    ends = uncertainty.arc_band(value, mid_scale, min(whole, 1 - 1e-9))
    return Band(
        "arc", value, float(ends[0]), float(ends[1]), d=d, u=u, mid_scale=mid_scale, arc=arc
    )


def describe_band(band: Band, quantity: Quantity) -> str:
    """The ends of a band in words, as keyed: ``2.66 to 19.80 kΩ``."""
    low = show(max(band.low, 0), quantity)
    if band.high == inf:
        return f"{low} or more"
    return f"{low.rsplit(' ', 1)[0]} to {show(band.high, quantity)}"
