"""What a part's value may be at a later time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rehang.calc import _inputs as check
from rehang.calc._inputs import BoolArray, FloatArray
from rehang.calc.errors import OutOfRange
from rehang.calc.wear._likelihood import LOG_2PI
from rehang.calc.wear._scale import Direction, Scale


@dataclass(frozen=True, slots=True)
class Look:
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
