"""Judging readings of a digital meter against one upper limit: ours beside three programs.

Run with ``python -m bench.judging``. Every figure of a run is from that run, on one machine,
one process, one thread. The readings are spread evenly from 4,000 to 6,000 ohm, the limit is
5,000 ohm, the meter is good to 0.8 % and 2 counts of 10 ohm and shows steps of 10 ohm.

Ours takes all readings in one call. The others are made for one value at a time and are timed
on fewer readings; the time for a million is scaled from that, and the line says so.
GTC and metrolopy carry a standard uncertainty through, so theirs is the normal distribution
with the same standard uncertainty; suncal is handed the trapezoid itself.
"""

from __future__ import annotations

import importlib
import math
import time
import warnings
from collections.abc import Callable
from statistics import median

import numpy as np

from rehang.calc.conformity import p_inside_trapezoid
from rehang.calc.uncertainty import digital_half_width

READINGS = 1_000_000
LIMIT_OHM = 5000.0
STEP_OHM = 10.0
REPEATS = 5

Judge = Callable[[float, float], float]


def normal_below(limit: float, y: float, u: float) -> float:
    return 0.5 * math.erfc((y - limit) / (u * math.sqrt(2.0)))


def judge_alone(y: float, a: float) -> float:
    return float(p_inside_trapezoid(y, a, STEP_OHM, -math.inf, LIMIT_OHM))


def with_gtc() -> Judge:
    gtc = importlib.import_module("GTC")
    uniform = importlib.import_module("GTC.type_b").uniform

    def judge(y: float, a: float) -> float:
        value = gtc.ureal(y, uniform(a)) + gtc.ureal(0.0, uniform(STEP_OHM / 2))
        return normal_below(LIMIT_OHM, gtc.value(value), gtc.uncertainty(value))

    return judge


def with_metrolopy() -> Judge:
    gummy = importlib.import_module("metrolopy").gummy

    def judge(y: float, a: float) -> float:
        value = gummy(y, u=a / math.sqrt(3.0)) + gummy(0.0, u=STEP_OHM / math.sqrt(12.0))
        return normal_below(LIMIT_OHM, float(value.x), float(value.u))

    return judge


def with_suncal() -> Judge:
    risk = importlib.import_module("suncal.risk")
    trapezoid = importlib.import_module("scipy.stats").trapezoid

    def judge(y: float, a: float) -> float:
        outer, inner = a + STEP_OHM / 2, abs(a - STEP_OHM / 2)
        ramp = (outer - inner) / (2 * outer)
        meant = trapezoid(ramp, 1 - ramp, loc=y - outer, scale=2 * outer)
        return 1.0 - float(risk.specific_risk(meant, -1e300, LIMIT_OHM).total)

    return judge


# How many readings each is timed on: about a second of work, no more.
OTHERS: list[tuple[str, str, Callable[[], Judge], int, str]] = [
    ("GTC", "GTC", with_gtc, 20_000, "normal"),
    ("metrolopy", "metrolopy", with_metrolopy, 10_000, "normal"),
    ("suncal", "suncal", with_suncal, 1_000, "trapezoid"),
]


def timed_each(judge: Judge, y: list[float], a: list[float]) -> tuple[float, list[float]]:
    """Seconds for each reading, and the probabilities."""
    judge(y[0], a[0])
    start = time.perf_counter()
    p = [judge(one_y, one_a) for one_y, one_a in zip(y, a, strict=True)]
    return (time.perf_counter() - start) / len(y), p


def run() -> list[str]:
    y = np.linspace(4000.0, 6000.0, READINGS)
    a = np.asarray(digital_half_width(y, 0.008, 2, 10))

    def judge_all() -> np.ndarray:
        return np.asarray(p_inside_trapezoid(y, a, STEP_OHM, -math.inf, LIMIT_OHM))

    p = judge_all()
    seconds = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        judge_all()
        seconds.append(time.perf_counter() - start)
    ours = median(seconds) / READINGS
    lines = [
        f"Judging {READINGS:,} readings of a digital meter against one upper limit",
        f"  {'ours, all in one call':<36} {ours * READINGS:10.3f} s   "
        f"{ours * 1e6:9.3f} us each   median of {REPEATS}",
    ]

    def line(name: str, each: float, n: int, note: str) -> str:
        return (
            f"  {name:<36} {each * READINGS:10.1f} s   {each * 1e6:9.3f} us each   "
            f"scaled from {n:,}; {each / ours:,.0f} times ours; {note}"
        )

    def sample(n: int) -> tuple[np.ndarray, list[float], list[float]]:
        # Evenly through all readings, so that each program meets the same mix.
        at = np.linspace(0, READINGS - 1, n).astype(int)
        return at, y[at].tolist(), a[at].tolist()

    n = 10_000
    at, some_y, some_a = sample(n)
    each, alone = timed_each(judge_alone, some_y, some_a)
    off = np.abs(np.asarray(alone) - p[at]).max()
    lines.append(line("ours, one reading a call", each, n, f"largest difference {off:.1e}"))

    for name, module, make, n, shape in OTHERS:
        try:
            with warnings.catch_warnings():
                # Other programs' notices about their own future are not this run's subject.
                warnings.simplefilter("ignore")
                importlib.import_module(module)
                judge = make()
                at, some_y, some_a = sample(n)
                each, theirs = timed_each(judge, some_y, some_a)
        except ModuleNotFoundError as missing:
            lines.append(f"  {name}: not measured, {missing.name} is not installed (make bench).")
            continue
        off = np.abs(np.asarray(theirs) - p[at]).max()
        lines.append(line(f"{name} ({shape})", each, n, f"largest difference {off:.1e}"))
    return lines


def main() -> None:
    print("\n".join(run()))


if __name__ == "__main__":
    main()
