"""Mixed models beside statsmodels; what forecast intervals hold; how often warnings are false.

Run with ``python -m bench.wear``. Every figure of a run is from that run, on one machine, one
process. The mixed model has 200 parts with 8 readings each, at hours of their own, a level and a
rate that differ from part to part. statsmodels gets the same arrays and its own default
optimiser; it stops where it thinks fit, so the line gives both log likelihoods too: the higher
one is nearer to the maximum.

Intervals are of 80 and 90 %, at the next opening, over shops of one engine and of six that lend each
other what they say, 8 parts each, with their standard deviations from shop to shop, of the next
reading and of the value itself; alarms are asked for at 5 %.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from statistics import median

import numpy as np

from bench.mixed import mixed_model
from bench.shops import Shops, coverages, false_alarms

SEED = 20261021
# Shops that no setting of the fit was chosen on.
SHOP_SEED = 20261129
PARTS, READINGS = 200, 8
REPEATS = 30
STATSMODELS_REPEATS = 3
# Shops simulated of each kind, by how many engines a shop has.
SHOPS = {6: 200, 1: 250}
ALARM_SHOPS = {6: 40, 1: 200}

KINDS = {
    "usual": Shops(),
    "3 readings of each part": Shops(openings=(3, 3)),
    "4 parts": Shops(parts=4),
    "parts alike": Shops(rate_sd=0.0),
    "parts far apart": Shops(rate_sd=1.0),
    "poor repeat": Shops(residual_sd=0.5),
    "meter not known": Shops(meter_sd=0.0),
    "gaps, set anew, only up": Shops(resets=True, direction="up"),
    "resistance, log, only up": Shops(scale="log", direction="up"),
    "only up, parts far apart": Shops(rate_sd=0.8, direction="up"),
    "quickening": Shops(quickening=True, quickening_sd=0.2, openings=(4, 6)),
    "quickening, only up": Shops(
        quickening=True, quickening_sd=0.2, openings=(4, 6), direction="up"
    ),
    "nothing beyond the meter": Shops(residual_sd=0.0),
    "biased meter, from a known start": Shops(bias=1.0, anchored=True, direction="down"),
    "biased meter, wears alike": Shops(
        bias=0.3, anchored=True, direction="down", residual_sd=0.4, rate_sd=0.15
    ),
    "wander": Shops(wander_sd=0.3, residual_sd=0.0, direction="up"),
    "wander, set anew": Shops(wander_sd=0.3, residual_sd=0.0, direction="up", resets=True),
    "uneven intervals": Shops(uneven=True, direction="up"),
    "uneven intervals, wander": Shops(wander_sd=0.3, residual_sd=0.0, direction="up", uneven=True),
    "lognormal rates": Shops(skewed=True, direction="up"),
    "lognormal rates, far apart": Shops(skewed=True, direction="up", rate_sd=0.8),
    "all of these": Shops(
        skewed=True, uneven=True, bias=0.5, anchored=True, wander_sd=0.2, direction="down"
    ),
}


def timed(act: Callable[[], object], repeats: int) -> float:
    """Seconds, the median of a few."""
    seconds = []
    for _ in range(repeats):
        start = time.perf_counter()
        act()
        seconds.append(time.perf_counter() - start)
    return median(seconds)


def readings() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Part, hours in hundreds, value."""
    rng = np.random.default_rng(SEED)
    part = np.repeat(np.arange(PARTS), READINGS)
    hours = np.tile(np.arange(READINGS) * 1.0, PARTS) + rng.uniform(0, 0.3, len(part))
    own = rng.multivariate_normal([0, 0], [[1.0, 0.3], [0.3, 0.25]], PARTS)
    noise = 0.8 * rng.standard_normal(len(part))
    return part, hours, 16 + own[part, 0] + (1 + own[part, 1]) * hours + noise


def digits(ours: np.ndarray, theirs: np.ndarray) -> float:
    """Digits in which the two agree, the fewest of all."""
    apart = np.abs(ours - theirs) / np.abs(theirs)
    return float(-np.log10(np.maximum(apart, 1e-16)).min())


def beside_statsmodels() -> list[str]:
    from statsmodels.regression.mixed_linear_model import MixedLM

    part, hours, value = readings()
    design = np.column_stack([np.ones(len(hours)), hours])
    model = MixedLM(value, design, part, exog_re=design)
    ours = mixed_model(part, hours, value)
    theirs = model.fit(reml=True)
    here = timed(lambda: mixed_model(part, hours, value), REPEATS)
    there = timed(
        lambda: MixedLM(value, design, part, exog_re=design).fit(reml=True), STATSMODELS_REPEATS
    )
    variances = digits(
        np.append(ours.between.ravel(), ours.residual_sd**2),
        np.append(np.asarray(theirs.cov_re).ravel(), theirs.scale),
    )
    return [
        f"Mixed model by REML, {PARTS} parts with {READINGS} readings, level and rate of their own",
        f"  {'ours':<34} {here:10.4f} s   median of {REPEATS}; "
        f"log likelihood {ours.log_likelihood:.7f}",
        f"  {'statsmodels MixedLM':<34} {there:10.4f} s   median of {STATSMODELS_REPEATS}; "
        f"log likelihood {theirs.llf:.7f}; {there / here:,.0f} times ours",
        f"  {'digits in which they agree':<34} coefficients "
        f"{digits(ours.coefficients, np.asarray(theirs.fe_params)):.1f}, variances {variances:.1f}",
    ]


def intervals(shops: int, engines: int) -> list[str]:
    lines = [
        f"Inside intervals of 80 and 90 %, {shops:,} simulated shops of each kind, engines: "
        f"{engines}, seed {SHOP_SEED}",
        f"  {'':<34} {'next reading':^24}{'value itself':^24}",
    ]
    for name, like in KINDS.items():
        start = time.perf_counter()
        rng = np.random.default_rng(SHOP_SEED)
        found = coverages(rng, shops, replace(like, engines=engines))
        told = "".join(
            f"{100 * one.share:6.1f} ±{100 * one.share_sd:.1f} " for one in found.values()
        )
        lines.append(f"  {name:<34} {told} {time.perf_counter() - start:.1f} s")
    return lines


def alarms(shops: int, engines: int) -> list[str]:
    lines = []
    for name in ("usual", "wander", "uneven intervals", "lognormal rates", "all of these"):
        like = replace(KINDS[name], engines=engines)
        found = false_alarms(np.random.default_rng(SHOP_SEED), shops, like)
        sd = 100 * np.sqrt(found.stated * (1 - found.stated) / shops)
        lines += [
            f"False alarms in {shops:,} shops, {name}, engines: {engines}, asked for at "
            f"{100 * found.stated:g} %",
            f"  {'jump against own history':<34} {100 * found.jumps:6.1f} ±{100 * found.jumps_sd:.1f}",
            f"  {'meter differs from its peer':<34} {100 * found.meters:6.1f} ±{sd:.1f}",
            f"  {'one apart from its fellows':<34} {100 * found.apart:6.1f} ±{sd:.1f}",
        ]
    return lines


def run() -> list[str]:
    """Lines of the report."""
    return [
        *beside_statsmodels(),
        *(line for engines, shops in SHOPS.items() for line in intervals(shops, engines)),
        *(line for engines, shops in ALARM_SHOPS.items() for line in alarms(shops, engines)),
    ]


if __name__ == "__main__":
    print("\n".join(run()))
