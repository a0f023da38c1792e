"""What sets of parts lend each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from rehang.calc._inputs import FloatArray, IntArray
from rehang.calc.errors import OutOfRange
from rehang.calc.units import Count, RunningHour
from rehang.calc.wear._scale import Scale


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
    sets: Count
    notes: tuple[str, ...]

    def must_fit(self, scale: Scale, quickening: bool) -> None:
        """Refuse to be the prior of a set of another kind."""
        if self.scale != scale:
            raise OutOfRange(f"The prior is on a {self.scale} scale and the fit on a {scale} one.")
        if len(self.means) != 1 + quickening:
            raise OutOfRange("The prior and the fit must both have quickening, or neither.")


@dataclass(frozen=True, slots=True)
class Told:
    """What the readings of one set say of its variances: their likelihood over the grid."""

    log_likelihood: FloatArray  # (residuals, shares, ratios of each term) [-]
    residuals: FloatArray  # logs of what is beyond the meter over one interval [log value squared]
    shares: FloatArray  # how much of it lasts [-]
    ratios: tuple[FloatArray, ...]  # logs of part variances over their scale [-]
    scales: FloatArray  # (terms, residuals, shares) logs of that scale [log rate squared]
    interval: RunningHour

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
