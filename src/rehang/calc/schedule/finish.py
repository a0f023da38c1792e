"""When a plan may be over when durations are guessed."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rehang.calc._inputs import FloatArray
from rehang.calc.errors import OutOfRange
from rehang.calc.schedule._order import kept_runs
from rehang.calc.schedule._serial import serial
from rehang.calc.schedule._work import end_of, is_whole
from rehang.calc.schedule.project import LONGEST, Activity, Project
from rehang.calc.units import Count, Moment, TimeUnits


@dataclass(frozen=True, slots=True)
class ThreePoint:
    """A duration as least, likeliest and most."""

    least: TimeUnits
    likeliest: TimeUnits
    most: TimeUnits


@dataclass(frozen=True, slots=True)
class Finish:
    """When it may be over."""

    p50: TimeUnits  # half of all runs are over by then
    p80: TimeUnits  # four of five are
    finishes: FloatArray  # [time unit] one for each run, in order; inf: the windows ran out
    notes: tuple[str, ...]


def simulate(
    project: Project,
    starts: Mapping[str, Moment],
    durations: Mapping[str, ThreePoint],
    rng: np.random.Generator,
    n: Count = 1000,
) -> Finish:
    r"""When a plan may be over when durations are not known but guessed.

    .. math:: p = a + (b - a)\,X, \qquad X \sim \mathrm{Beta}\Bigl(1 + 4\,\frac{m - a}{b - a},\
              1 + 4\,\frac{b - m}{b - a}\Bigr), \qquad \mathrm{E}\,p = \frac{a + 4m + b}{6}

    starts: of the plan, whose order is kept.
    durations: of those that are not known. The others take the project's duration.
    rng: chance, with a seed of the caller's.
    n: number of runs.

    Durations are taken as independent of each other: what makes all of them long at once (a
    sick hand, a cold week) is not in it, so that the spread is the least there is. They are
    drawn to the nearest unit. In each run the activities are placed one after another in the
    order of the plan's starts, each as early as it then can be: it may go into a gap that
    another leaves by being late, and one planned late on purpose may come early. Deadlines
    hold nothing up. A run takes about a millisecond for 50 activities.

    Refused: starts that do not keep the project; least, likeliest and most that are not in order.

    Source: D. Malcolm, J. Roseboom, C. Clark, W. Fazar, Operations Research 7(5), 1959, 646-669
    (the mean), with the shape that gives it; from memory.
    Checked in ``tests/published/test_psplib.py``: the mean of one activity, and an instance whose
    durations are certain ends with its optimum.

    >>> from rehang.calc.schedule import Need, plan
    >>> job = Project({"a": Activity(4), "b": Activity(3, (Need("a"),))})
    >>> guessed = {"a": ThreePoint(2, 4, 12)}
    >>> found = simulate(job, plan(job).starts, guessed, np.random.default_rng(1))
    >>> 7 < found.p50 < found.p80 < 11
    True
    """
    if not (is_whole(n) and n >= 1):
        raise OutOfRange(f"The number of runs must be a whole number from 1 up: got {n}.")
    for name, guess in durations.items():
        if name not in project.activities:
            raise OutOfRange(f"A duration is given for {name}, which is not among the activities.")
        three = (guess.least, guess.likeliest, guess.most)
        if not (all(map(math.isfinite, three)) and 0 <= three[0] <= three[1] <= three[2]):
            raise OutOfRange(
                f"{name}: give least, likeliest and most in this order, from 0 up: "
                f"got {three[0]:g}, {three[1]:g} and {three[2]:g}."
            )
    work, runs = kept_runs(project, starts)
    drawn = np.array(
        [
            _drawn(durations.get(name, _certain(a)), rng, n)
            for name, a in zip(work.names, work.activities, strict=True)
        ]
    )
    loose = replace(
        work,
        activities=tuple(
            replace(a, deadline=None, pinned=None, release=max(a.release or 0, a.pinned or 0))
            for a in work.activities
        ),
        horizon=LONGEST * 2,
    )
    # What is pinned has its place before the others look for theirs.
    ranks = [(a.pinned is None, run) for a, run in zip(work.activities, runs, strict=True)]
    finishes = np.empty(n)
    for k in range(n):
        one = replace(loose, durations=tuple(drawn[:, k].tolist()))
        placed = serial(one, ranks.__getitem__, {})
        finishes[k] = math.inf if placed is None else end_of(placed)
    finishes.sort()
    without = int(np.isinf(finishes).sum())
    notes: tuple[str, ...] = ()
    if without:
        notes = (f"In {without} of {n} runs the windows ran out before the end.",)
    # The value that at least this part of all runs keeps, so that inf never meets a number.
    p50, p80 = (float(finishes[math.ceil(p * n) - 1]) for p in (0.5, 0.8))
    return Finish(p50=p50, p80=p80, finishes=finishes, notes=notes)


def _certain(activity: Activity) -> ThreePoint:
    return ThreePoint(activity.duration, activity.duration, activity.duration)


def _drawn(guess: ThreePoint, rng: np.random.Generator, n: int) -> NDArray[np.int64]:
    """Durations to the nearest unit."""
    spread = guess.most - guess.least
    drawn = np.full(n, float(guess.least))
    if spread:
        share = (guess.likeliest - guess.least) / spread
        drawn += spread * rng.beta(1 + 4 * share, 5 - 4 * share, n)
    return np.asarray(np.rint(drawn), dtype=np.int64)
