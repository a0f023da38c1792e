"""What forecasts of simulated engines hold, and how often each warning comes for nothing.

``python -m bench.forecasts``. Each engine has six services behind it, from a stated seed. Of every
part its last opening is forecast from those before it, by the same code that forecasts the next
one, alone and with what other engines of the shop lend from all of their openings, and held against what was then read: the meter's own variance is in the interval, as it is in
the reading, and the meter's own error is what the fit makes of it. Warnings are counted on engines in which no part goes wrong and nothing is written
wrong. Failures in the making are counted on engines in which one part in seven goes wrong.
"""

from __future__ import annotations

import sys
from collections import Counter
from math import sqrt

from rehang.sheets.folder import parse_files
from rehang.sheets.simulate import Plan, simulate
from rehang.trade.job.judging import JudgedJob, judge
from rehang.trade.life.alarms import RATES, alarms_of, gains_of
from rehang.trade.life.fits import Lender, SetFit, foretold, set_fits

SEED = 20261021
ENGINES = 100
SERVICES = 6
LEVELS = (0.8, 0.9)
# How many other engines of the shop lend what they say: `rehang forecast` alone, and the pages.
LENDING = (0, 4)


# Parts wander in all of them: by 1 % of a resistance, .00015 in of a gap, half a per cent of an
# electrode from one service to the next.
KINDS: dict[str, dict[str, bool]] = {
    "as simulated": {},
    "meters biased within what they are good to": {"biased": True},
    "services 20 to 250 h apart": {"uneven": True},
    "lognormal rates": {"skewed": True},
    "all three": {"biased": True, "uneven": True, "skewed": True},
}


def _judged(
    engines: int, faults: float, slips: float, seed: int, kind: dict[str, bool]
) -> list[JudgedJob]:
    """The last service of each engine."""
    plan = Plan(seed, 1, engines, SERVICES, faults, slips, **kind)
    return [
        judge(parse_files(job.files, job.name), job.entries)
        for number, job in enumerate(simulate(plan), start=1)
        if number % SERVICES == 0
    ]


def _fits(jobs: list[JudgedJob], lending: int) -> list[SetFit]:
    """The fits of each engine, with what the engines that come next in the round lend it."""
    lenders = [Lender(one) for one in jobs]
    found = []
    for number, judged in enumerate(jobs):
        fleet = [lenders[(number + step) % len(jobs)] for step in range(1, lending + 1)]
        found += [fit for fit in set_fits(judged, fleet=fleet).values() if fit.kind != "oil"]
    return found


def _coverage(fits: list[SetFit]) -> list[str]:
    inside: Counter[tuple[str, float]] = Counter()
    told: Counter[str] = Counter()
    for fit in fits:
        if fit.before is None:
            continue
        for part, read in fit.last.items():
            told[fit.check] += 1
            found = foretold(fit.before, part, read)
            for level in LEVELS:
                low, high = found.interval(level)
                inside[fit.check, level] += low <= read.value <= high
    lines = []
    for check, count in sorted(told.items()):
        shares = []
        for level in LEVELS:
            share = inside[check, level] / count
            shares.append(f"{level * 100:.0f} %: {share * 100:5.1f} ± {_sd(share, count):.1f}")
        lines.append(f"  {check:16}{count:>6} forecasts   {'   '.join(shares)}")
    return lines


def _sd(share: float, count: int) -> float:
    """Of a share, in per cent, as if forecasts of one engine were independent; they are less so."""
    return 100 * sqrt(max(share * (1 - share), 1 / count) / count)


def _alarms(fits: list[SetFit]) -> list[str]:
    chances = {
        "jump": sum(len(fit.last) for fit in fits),
        "rises": sum(len(gains_of(one)) >= 4 for fit in fits for one in fit.series.values()),
        "apart": sum(len(fit.series) >= 4 for fit in fits),
    }
    came = Counter(alarm.kind for fit in fits for alarm in alarms_of(fit))
    return [
        f"  {kind:16}{count:>6} chances     {came[kind] / count * 100:5.2f} ± "
        f"{_sd(came[kind] / count, count):.2f} in 100, stated at most {RATES[kind] * 100:.2f}"
        for kind, count in chances.items()
    ]


def _in_the_making(fits: list[SetFit]) -> list[str]:
    """Of parts that were more likely than not past their limit at the last opening: how many were."""
    warned = lasted = failed = missed = 0
    for fit in fits:
        if fit.check not in ("resistance", "electrode"):
            continue
        for part, series in fit.series.items():
            read = fit.last.get(part)
            if fit.before is None or read is None:
                continue
            at = fit.before.at(part, read.hours_ahead)
            low = -1e9 if series.lower is None else series.lower
            high = 1e9 if series.upper is None else series.upper
            is_out = series.opened is not None or not low <= read.value <= high
            is_warned = at.chance_inside(low, high) < 0.5
            warned += is_warned
            lasted += is_warned and not is_out
            failed += is_out
            missed += is_out and not is_warned
    return [
        f"  {warned} parts were warned of, of which {lasted} lasted ({lasted / max(warned, 1):.0%}; "
        f"stated at most half); {failed} parts were past a limit, {missed} of them not warned of"
    ]


def run(engines: int = ENGINES) -> list[str]:
    """Lines of the report."""
    if engines <= max(LENDING):
        raise SystemExit(f"{engines} engines are too few: give {max(LENDING) + 1} or more.")
    lines = [f"Forecasts of {engines} simulated engines of each kind, {SERVICES} services each"]
    for number, (name, kind) in enumerate(KINDS.items(), start=1):
        jobs = _judged(engines, 0.0, 0.0, SEED + number, kind)
        for lending in LENDING:
            quiet = _fits(jobs, lending)
            lines += [
                f"No part going wrong, {name}, {lending} others lending, seed {SEED + number}: "
                "what intervals held",
                *_coverage(quiet),
                "Warnings with nothing the matter:",
                *_alarms(quiet),
            ]
    jobs = _judged(engines, 1 / 7, 0.03, SEED, {})
    for lending in LENDING:
        worn = _fits(jobs, lending)
        lines += [
            f"One part in seven going wrong, {lending} others lending, seed {SEED}: "
            "what intervals held",
            *_coverage(worn),
            "Failures in the making:",
            *_in_the_making(worn),
        ]
    return lines


if __name__ == "__main__":
    print("\n".join(run(int(sys.argv[1]) if len(sys.argv) > 1 else ENGINES)))
