"""From leak area to reading at a differential tester: ours beside a root search for each.

Run with ``python -m bench.leaks``. Every figure of a run is from that run, on one machine, one
process, one thread. The leaks are spread evenly on a log scale from a hundredth to a hundred
times the restrictor, at 80 psi of supply in standard air, and again at 30 psi, where over part
of the range neither orifice chokes and no closed form is left.

Ours takes all leaks in one call. The root search is scipy's brentq, one leak at a time, over a
flow balance written for single numbers with ``math``, which is the fastest way to write it; it
is timed on fewer, the time for all is scaled from that, and the line says so.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from statistics import median

import numpy as np
from scipy.optimize import brentq

from rehang.calc.leakage import leak_area_ratio, reading_from_area_ratio

LEAKS = 100_000
SEARCHED = 5_000
REPEATS = 5
PSI = 6894.757293168
AMBIENT = 101325.0
SUPPLIES_PSI = (80.0, 30.0)

GAMMA = 1.4
CRITICAL = (2 / (GAMMA + 1)) ** (GAMMA / (GAMMA - 1))


def psi(r: float) -> float:
    r = max(r, CRITICAL)
    square = r ** (2 / GAMMA) - r ** ((GAMMA + 1) / GAMMA)
    return math.sqrt(2 * GAMMA / (GAMMA - 1) * max(square, 0.0))


def searched(ratio: float, supply: float) -> float:
    before = supply + AMBIENT

    def excess(reading: float) -> float:
        inside = reading + AMBIENT
        return before * psi(inside / before) - ratio * inside * psi(AMBIENT / inside)

    return float(brentq(excess, 0.0, supply))


def timed(act: Callable[[], object]) -> float:
    """Seconds, the median of a few."""
    act()
    seconds = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        act()
        seconds.append(time.perf_counter() - start)
    return median(seconds)


def run() -> list[str]:
    """Lines of the report."""
    ratio = np.geomspace(0.01, 100.0, LEAKS)
    # Evenly through all, so that the search meets the same mix.
    at = np.linspace(0, LEAKS - 1, SEARCHED).astype(int)
    some = ratio[at].tolist()
    lines = [f"From leak area to reading, {LEAKS:,} leaks on a differential tester"]
    for supply_psi in SUPPLIES_PSI:
        supply = supply_psi * PSI
        reading = np.asarray(reading_from_area_ratio(ratio, supply, AMBIENT))
        ours = timed(lambda supply=supply: reading_from_area_ratio(ratio, supply, AMBIENT))
        back = timed(
            lambda supply=supply, reading=reading: leak_area_ratio(supply, reading, AMBIENT)
        )
        start = time.perf_counter()
        found = [searched(one, supply) for one in some]
        scaled = (time.perf_counter() - start) * LEAKS / SEARCHED
        off = np.abs(np.asarray(found) - reading[at]).max()
        lines += [
            f"  supply {supply_psi:g} psi",
            f"    {'ours, all in one call':<34} {ours:10.4f} s   median of {REPEATS}",
            f"    {'scipy brentq, one at a time':<34} {scaled:10.4f} s   "
            f"scaled from {SEARCHED:,}; {scaled / ours:,.0f} times ours; "
            f"largest difference {off:.1e} Pa",
            f"    {'ours, reading to area, all in one':<34} {back:10.4f} s   median of {REPEATS}",
        ]
    return lines


if __name__ == "__main__":
    print("\n".join(run()))
