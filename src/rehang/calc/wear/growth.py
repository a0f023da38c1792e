"""The wear of the parts of one set, as a mixture, and what it says of later times."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from rehang.calc import _inputs as check
from rehang.calc._inputs import FloatArray
from rehang.calc.errors import OutOfRange
from rehang.calc.units import RunningHour
from rehang.calc.wear._grid import weighted_median
from rehang.calc.wear._lent import Told
from rehang.calc.wear._readings import terms_at
from rehang.calc.wear._scale import Direction, Scale, to_scale
from rehang.calc.wear.forecast import Forecast, Look


@dataclass(frozen=True, slots=True)
class Levels:
    """Where each part stands, as far as read since it was last set."""

    values: FloatArray  # (nodes, parts) [value]
    variances: FloatArray  # (nodes, parts) [value squared]
    terms: FloatArray  # (nodes, terms + meters, parts) t, t^2/2 and the meters there


@dataclass(frozen=True, slots=True)
class Strays:
    """How far values are from their line beyond the meter: what comes back, and what lasts."""

    variances: FloatArray  # (nodes) not lasting [value squared]
    lasting: FloatArray  # (nodes) of a walk, by the hour [value squared per hour]
    interval: RunningHour  # usual time from one reading to the next


@dataclass(frozen=True, slots=True)
class SetRates:
    """Rates of the set, and quickening where it is modelled."""

    means: FloatArray  # (nodes, terms) [value per hour, per hour^2]
    variances: FloatArray  # (nodes, terms) of the means, no fleet counted [as rates, squared]
    part_variances: FloatArray  # (nodes, terms) between parts of the set [as rates, squared]


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
    levels: Levels
    strays: Strays
    of_set: SetRates
    last_hours: FloatArray  # (parts) since the first reading of the part [h]
    known: bool  # whether anything says how fast parts wear
    told: Told | None  # what its readings say of variances; None where no rate is known
    notes: tuple[str, ...]

    @property
    def mean_rate(self) -> float:
        """Of the set, at the start of a part's record [value per hour]."""
        return float(self.weights @ self.of_set.means[:, 0])

    @property
    def part_sd(self) -> float:
        """How far the parts' rates are apart: median over the mixture [value per hour]."""
        return float(np.sqrt(weighted_median(self.of_set.part_variances[:, 0], self.weights)))

    @property
    def residual_sd(self) -> float:
        """How far values stray beyond the meter: median over the mixture [value]."""
        return float(np.sqrt(weighted_median(self.strays.variances, self.weights)))

    def rate(self, part: str) -> tuple[float, float]:
        """Rate of a part at its last reading, and its standard deviation [value per hour].

        Before a direction is taken into account; a forecast does that.
        """
        self._must_be_known(part)
        at = self._index(part)
        terms = self.of_set.part_variances.shape[1]
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
        look = Look(meter_variance, meter, shared, strays, set_to, set_variance)
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
        look = Look(meter_variance, "", 0.0, strays, set_to, set_variance)

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

    def _forecasts(self, part: str, ahead: FloatArray, look: Look) -> Forecast:
        self._must_be_known(part)
        at = self._index(part)
        of_meter = float(check.at_least_zero("The meter's variance", look.meter_variance))
        of_set = float(check.at_least_zero("The variance of what it is set to", look.set_variance))
        terms = self.of_set.part_variances.shape[1]
        last = float(self.last_hours[at])
        then = np.zeros((self.rates.shape[1], len(ahead)))
        grown = then.copy()
        then[:terms] = terms_at(last + ahead, terms)
        grown[:terms] = then[:terms] - terms_at(np.array([last]), terms)
        on = np.zeros_like(then)
        if look.meter in self.meters:
            on[terms + self.meters.index(look.meter)] = look.shared
        else:
            of_meter += look.shared**2
        rates, spread = self.rates[:, :, at], self.covariances[:, :, :, at]
        stray = np.broadcast_to(self.strays.variances[:, np.newaxis], (len(rates), len(ahead)))
        noise = self.strays.lasting[:, np.newaxis] * ahead + of_meter
        if look.set_to is None:
            since = then + on - self.levels.terms[:, :, at, np.newaxis]
            level = self.levels.values[:, at, np.newaxis]
            noise = noise + self.levels.variances[:, at, np.newaxis]
        else:
            since = np.broadcast_to(grown + on, (len(rates), *grown.shape))
            level = to_scale(check.finite("What it is set to", look.set_to), self.scale)
            noise = noise + (of_set / look.set_to**2 if self.scale == "log" else of_set)
            # What was just read is known to its meter; what strays from it comes with the hours.
            stray = stray * np.minimum(ahead / self.strays.interval, 1.0)
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
