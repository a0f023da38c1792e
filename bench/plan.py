"""Planning: time to a proof beside another program, and time as the tasks grow.

Run with ``python -m bench.plan``. Every figure of a run is from that run, on one machine, one
process, one worker of the solver.

First the eight instances of the project scheduling problem library that the tests read. The
other program is PyJobShop, which hands its models to the same solver, with the same limit on
time, one worker and the same seed. Building the model counts for both; importing the solver is
done before for both.

Then jobs made by chance, with a seed: two hands, a stand, a hoist, shop hours from Monday to
Saturday, second looks on Tuesday and Thursday within one stretch, parts that arrive, lags that
run on the clock, and a tenth of the tasks left late on purpose. Each is planned, then planned
again with what was said before as promised and the first tenth of the tasks done.
"""

from __future__ import annotations

import importlib
import time
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from rehang.calc.schedule import (
    Activity,
    Need,
    Plan,
    Project,
    Resource,
    ThreePoint,
    plan,
    simulate,
    violations,
)
from tests.published.psplib import FOLDER, instance

SECONDS = 60.0
# Tasks, and runs of the simulation: fewer where one run takes longer.
SIZES = {50: 1000, 200: 200, 800: 20}
DAY = 24 * 60


def job(size: int, seed: int = 1) -> Project:
    """A job by chance, in minutes from a Monday at midnight."""
    rng = np.random.default_rng(seed)
    days = 20 + size
    shop = tuple((d * DAY + 8 * 60, d * DAY + 17 * 60) for d in range(days) if d % 7 < 6)
    second = tuple((d * DAY + 8 * 60, d * DAY + 17 * 60) for d in range(days) if d % 7 in (1, 3))
    activities: dict[str, Activity] = {}
    for k in range(size):
        duration = 5 * int(rng.integers(1, 25))
        chance = rng.random(6)
        nearby = range(max(0, k - 15), k)
        count = min(len(nearby), int(rng.integers(0, 4)))
        needs = tuple(
            Need(f"t{j}", 24 * 60 if rng.random() < 0.03 else 0)
            for j in sorted(rng.choice(nearby, count, replace=False))
        )
        uses = {"hands": 2 if chance[0] < 0.1 else 1}
        if chance[1] < 0.3:
            uses["stand"] = 1
        if chance[2] < 0.05:
            uses["hoist"] = 1
        if chance[3] < 0.12:
            uses["second"] = 1
            duration = min(duration, 60)
        activities[f"t{k}"] = Activity(
            duration,
            needs=needs,
            resources=uses,
            release=int(rng.integers(1, 10)) * DAY if chance[4] < 0.08 else 0,
            calendar="shop",
            splittable="second" not in uses,
            lean=-1 if chance[5] < 0.1 else 0,
        )
    return Project(
        activities,
        resources={
            "hands": Resource(2),
            "stand": Resource(1),
            "hoist": Resource(1),
            "second": Resource(1, windows=second),
        },
        calendars={"shop": shop},
    )


def later(project: Project, found: Plan) -> Project:
    """The same job when a tenth is done: what is under way goes on, the rest is promised."""
    order = sorted(found.starts, key=lambda name: (found.ends[name], found.starts[name]))
    done = set(order[: len(order) // 10])
    now = max(found.ends[name] for name in done)
    return replace(
        project,
        activities={
            name: replace(
                a,
                needs=tuple(n for n in a.needs if n.on not in done),
                release=a.release if found.starts[name] < now else max(a.release or 0, now),
                pinned=found.starts[name] if found.starts[name] < now else None,
                promised=found.starts[name],
            )
            for name, a in project.activities.items()
            if name not in done
        },
    )


def timed(project: Project, **limits: Any) -> tuple[float, Plan]:
    start = time.perf_counter()
    found = plan(project, **limits)
    return time.perf_counter() - start, found


def other_program(project: Project) -> tuple[float, int, int, str]:
    """Seconds, makespan, bound and status of PyJobShop."""
    pyjobshop: Any = importlib.import_module("pyjobshop")
    start = time.perf_counter()
    model = pyjobshop.Model()
    resources = {k: model.add_renewable(r.capacity) for k, r in project.resources.items()}
    tasks: dict[str, Any] = {}
    for name, a in project.activities.items():
        tasks[name] = model.add_task()
        used = [resources[k] for k in a.resources]
        model.add_mode(tasks[name], used, a.duration, demands=list(a.resources.values()))
    for name, a in project.activities.items():
        for need in a.needs:
            model.add_end_before_start(tasks[need.on], tasks[name])
    result = model.solve(
        solver="ortools", time_limit=SECONDS, num_workers=1, display=False, random_seed=1
    )
    seconds = time.perf_counter() - start
    return seconds, int(result.objective), round(result.lower_bound), result.status.name.lower()


def guesses(project: Project) -> Mapping[str, ThreePoint]:
    return {
        name: ThreePoint(0.7 * a.duration, a.duration, 2 * a.duration)
        for name, a in project.activities.items()
    }


def run() -> list[str]:
    """Lines of the report."""
    importlib.import_module("ortools.sat.python.cp_model")
    lines = [f"Time to a proof, one worker each, at most {SECONDS:g} s"]
    sums = [0.0, 0.0]
    for file in sorted(FOLDER.glob("*.sm")):
        project = instance(file.stem)
        ours, found = timed(project, effort=SECONDS * 10, seconds=SECONDS)
        theirs, makespan, bound, status = other_program(project)
        sums[0] += ours
        sums[1] += theirs
        lines.append(
            f"  {file.stem:<10} ours {ours:8.3f} s, {found.makespan} {found.status.lower()}"
            f"     PyJobShop {theirs:8.3f} s, {makespan} {status}, bound {bound}"
        )
    lines.append(f"  {'all':<10} ours {sums[0]:8.3f} s{'':<16}PyJobShop {sums[1]:8.3f} s")
    lines.append("Time to a plan as tasks grow, with the usual limits")
    for size, runs in SIZES.items():
        project = job(size)
        first, found = timed(project)
        rest = later(project, found)
        again, moved = timed(rest)
        start = time.perf_counter()
        finish = simulate(project, found.starts, guesses(project), np.random.default_rng(1), runs)
        simulated = time.perf_counter() - start
        kept = not violations(project, found.starts, found.ends)
        kept &= not violations(rest, moved.starts, moved.ends)
        lines += [
            f"  {size:>4} tasks  first {first:7.3f} s, {found.status.lower()}, "
            f"gap {found.gap:.1%}; again {again:7.3f} s, {moved.status.lower()}, "
            f"gap {moved.gap:.1%}; every constraint {'kept' if kept else 'NOT KEPT'}",
            f"             {runs:,} runs {simulated:7.3f} s: planned day "
            f"{(found.makespan or 0) / DAY:.1f}, "
            f"P50 day {finish.p50 / DAY:.1f}, P80 day {finish.p80 / DAY:.1f}",
        ]
    return lines


if __name__ == "__main__":
    print("\n".join(run()))
