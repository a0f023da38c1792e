"""Weibull lives beside lifelines; how often each ends at the maximum; what the intervals hold.

Run with ``python -m bench.life``. Every figure of a run is from that run, on one machine, one
process. Both get the same arrays, set after set, ours first in one set and lifelines first in the
next. Ours works out the region of likelihood as well, lifelines the Wald intervals of its summary.

A fit counts as converged when it came back with finite numbers and no warning of its own, and as
at the maximum when its log likelihood, worked out by one plain function for both, is within 1e-6
of the better of the two. "Above" says by how much the better one is above, at most. Sets with
fewer than two failures carry no shape and are drawn again.

Intervals are of 90 %, each with its standard deviation from set to set. Sets without a shape
cannot be counted there either; the line says how many were drawn again.
"""

from __future__ import annotations

import time
import warnings
from dataclasses import dataclass
from statistics import median

import numpy as np

from rehang.calc.life import weibull, weibull_hours, weibull_lasting

SEED = 20261125
SETS = 30
COVERED = 1000
SHAPE, SCALE = 2.0, 1000.0
WITHIN = 1e-6


@dataclass(frozen=True, slots=True)
class Kind:
    """How a set of parts is drawn."""

    parts: int
    failing: float  # share that would fail, new, by the middle of the hours watched
    late: float = 0.0  # share that was in service when its record began


COMPARED = {
    "20 parts, half fail": Kind(20, 0.5),
    "70 parts, 15 % fail": Kind(70, 0.15),
    "1,000 parts, 1 % fail": Kind(1000, 0.01),
    "3,000 parts, 1 in 1,000 fails": Kind(3000, 0.001),
    "50 parts, half entered late": Kind(50, 0.3, 0.5),
    "50 parts, all entered late": Kind(50, 0.3, 1.0),
    "500 parts, 3 % fail, half late": Kind(500, 0.03, 0.5),
    "5,000 parts, half fail": Kind(5000, 0.5),
}

HELD = {
    "8 parts, all fail": Kind(8, 1.0),
    "8 parts, half fail": Kind(8, 0.5),
    "20 parts, 15 % fail": Kind(20, 0.15),
    "20 parts, half fail": Kind(20, 0.5),
    "20 parts, half entered late": Kind(20, 0.5, 0.5),
    "60 parts, 10 % fail": Kind(60, 0.1),
    "60 parts, half fail": Kind(60, 0.5),
}

Arrays = tuple[np.ndarray, np.ndarray, np.ndarray]


def drawn(rng: np.random.Generator, kind: Kind) -> tuple[Arrays, int]:
    """Hours, whether failed, entry, of a set with two failures or more; sets drawn in vain."""
    in_vain = 0
    while True:
        late = rng.random(kind.parts) < kind.late
        entered = np.where(late, rng.uniform(50, 600, kind.parts), 0.0)
        life = SCALE * np.sqrt((entered / SCALE) ** 2 + rng.exponential(size=kind.parts))
        if kind.failing < 1:
            middle = SCALE * (-np.log1p(-kind.failing)) ** (1 / SHAPE)
            until = entered + middle * rng.uniform(0.7, 1.3, kind.parts)
        else:
            until = np.full(kind.parts, np.inf)
        failed = life <= until
        if failed.sum() >= 2:
            return (np.minimum(life, until), failed, entered), in_vain
        in_vain += 1


def log_likelihood(data: Arrays, shape: float, scale: float) -> float:
    """By the definition, for both."""
    hours, failed, entered = data
    with np.errstate(over="ignore", invalid="ignore"):
        at_failures = np.log(shape / scale) + (shape - 1) * np.log(hours[failed] / scale)
        spent = (hours / scale) ** shape - (entered / scale) ** shape
        return float(at_failures.sum() - spent.sum())


def ours(data: Arrays) -> tuple[float, float, bool]:
    found = weibull(*data)
    return found.shape.value, found.scale.value, bool(np.isfinite(found.shape.value))


def theirs(data: Arrays) -> tuple[float, float, bool]:
    from lifelines import WeibullFitter
    from lifelines.exceptions import ConvergenceError

    hours, failed, entered = data
    with warnings.catch_warnings(record=True) as told:
        warnings.simplefilter("always")
        try:
            fitter = WeibullFitter().fit(hours, failed, entry=entered if entered.any() else None)
            fitter.summary  # noqa: B018 - the intervals are worked out when asked for
        except (ConvergenceError, np.linalg.LinAlgError):
            return np.nan, np.nan, False
    shape, scale = float(fitter.rho_), float(fitter.lambda_)
    return shape, scale, bool(np.isfinite([shape, scale]).all()) and not told


def beside_lifelines(sets: int) -> list[str]:
    lines = [f"Weibull life, {sets} sets of each kind, the same for both"]
    for name, kind in COMPARED.items():
        rng = np.random.default_rng(SEED)
        programs = {"ours": ours, "lifelines WeibullFitter": theirs}
        seconds: dict[str, list[float]] = {program: [] for program in programs}
        converged = dict.fromkeys(programs, 0)
        reached = dict.fromkeys(programs, 0)
        above = dict.fromkeys(programs, 0.0)
        apart = 0.0
        endless = 0
        for number in range(sets):
            data, _ = drawn(rng, kind)
            fits = {}
            for program in list(programs) if number % 2 else reversed(programs):
                start = time.perf_counter()
                fits[program] = programs[program](data)
                seconds[program].append(time.perf_counter() - start)
            if np.isnan(fits["ours"][0]):
                # All late, and failures thin out: the likelihood has no highest point.
                endless += 1
                continue
            reach = {p: log_likelihood(data, shape, scale) for p, (shape, scale, _) in fits.items()}
            best = max(value for value in reach.values() if np.isfinite(value))
            for program, (_, _, well) in fits.items():
                converged[program] += well
                short = best - reach[program]
                reached[program] += bool(short <= WITHIN)
                if np.isfinite(short):
                    above[program] = max(above[program], short)
            if fits["lifelines WeibullFitter"][2]:
                apart = max(apart, abs(fits["lifelines WeibullFitter"][0] / fits["ours"][0] - 1))
        first = median(seconds["ours"])
        lines.append(f"  {name}" + (f"; {endless} without a highest point" if endless else ""))
        for program in programs:
            took = median(seconds[program])
            times = "" if program == "ours" else f"; {took / first:,.1f} times ours"
            lines.append(
                f"    {program:<32} {1000 * took:10.2f} ms  converged {converged[program]} of "
                f"{sets - endless}, at the maximum {reached[program]}, short by at most "
                f"{above[program]:.1e}{times}"
            )
        lines.append(f"    {'largest difference of shape':<32} {100 * apart:10.1e} %")
    return lines


def held(sets: int) -> list[str]:
    lines = [
        f"Share of {sets:,} simulated sets whose 90 % interval holds the true value: shape, "
        "scale, 5 % life, chance of 300 h more at 500 h"
    ]
    truth = (
        SHAPE,
        SCALE,
        SCALE * (-np.log(0.95)) ** (1 / SHAPE),
        np.exp((500 / SCALE) ** SHAPE - (800 / SCALE) ** SHAPE),
    )
    for name, kind in HELD.items():
        rng = np.random.default_rng(SEED)
        inside = np.zeros(4)
        again = failures = 0
        for _ in range(sets):
            data, in_vain = drawn(rng, kind)
            again += in_vain
            life = weibull(*data)
            failures += life.failures
            ends = (
                life.shape,
                life.scale,
                weibull_hours(life, 0.05),
                weibull_lasting(life, 300, age=500),
            )
            inside += [end.low <= value <= end.high for end, value in zip(ends, truth, strict=True)]
        share = inside / sets
        sd = 100 * np.sqrt(0.9 * 0.1 / sets)
        lines.append(
            f"  {name:<34} "
            + ", ".join(f"{100 * one:.1f}" for one in share)
            + f" %   +- {sd:.1f} (1 sd), {failures / sets:.1f} failures each, {again} drawn again"
        )
    return lines


def run() -> list[str]:
    """Lines of the report."""
    return [*beside_lifelines(SETS), *held(COVERED)]


if __name__ == "__main__":
    print("\n".join(run()))
