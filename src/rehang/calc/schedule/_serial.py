"""Plans by placing one activity after another, each as early as it can be."""

from __future__ import annotations

import heapq
from bisect import bisect_right
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from rehang.calc._hours import Run
from rehang.calc.schedule._work import Work, earliest_runs, end_of, latest_runs
from rehang.calc.schedule.project import LONGEST


@dataclass(frozen=True, slots=True)
class _Profile:
    """How much is used from each moment on."""

    capacity: int
    moments: list[int]
    used: list[int]


def profiles_of(work: Work) -> dict[str, _Profile]:
    profiles = {}
    for k, resource in work.project.resources.items():
        profile = _Profile(resource.capacity, [0], [0])
        for start, end, amount in resource.taken:
            take(profile, start, end, amount)
        profiles[k] = profile
    return profiles


def take(profile: _Profile, start: int, end: int, amount: int) -> None:
    moments, used = profile.moments, profile.used
    for moment in (start, end):
        k = bisect_right(moments, moment) - 1
        if moments[k] != moment:
            moments.insert(k + 1, moment)
            used.insert(k + 1, used[k])
    k = bisect_right(moments, start) - 1
    while moments[k] < end:
        used[k] += amount
        k += 1


def _next_free(profile: _Profile, start: int, end: int, amount: int) -> int | None:
    """Where the first clash from start to end is over; None without a clash."""
    room = profile.capacity - amount
    moments, used = profile.moments, profile.used
    k = bisect_right(moments, start) - 1
    while k < len(moments) and moments[k] < end:
        if used[k] > room:
            while k + 1 < len(moments) and used[k] > room:
                k += 1
            return moments[k] if used[k] <= room else LONGEST * 4
        k += 1
    return None


def clash(profiles: Mapping[str, _Profile], uses: Iterable[tuple[str, int]], run: Run) -> list[int]:
    """For each resource of which there is not enough, where the first clash is over."""
    found = [_next_free(profiles[k], *run, amount) for k, amount in uses]
    return [moment for moment in found if moment is not None]


def _place(work: Work, profiles: Mapping[str, _Profile], i: int, ready: int) -> Run | None:
    """Earliest run from a moment on for which there is enough of everything."""
    while True:
        run = work.first(i, ready)
        if run is None:
            return None
        free = clash(profiles, work.uses[i], run)
        if not free:
            return run
        ready = max(free)
        if ready > work.horizon:
            return None


def serial(work: Work, rank: Callable[[int], Any], held: Mapping[int, Run]) -> list[Run] | None:
    """Place one after another, each as early as it can be, the lowest rank first.

    Serial schedule generation: J. Kelley, in Muth and Thompson (eds), Industrial Scheduling,
    1963; as in R. Kolisch, European Journal of Operational Research 90, 1996, 320-333. From
    memory. What is held is where it is. None when something finds no place.
    """
    profiles = profiles_of(work)
    runs: list[Run | None] = [None] * len(work.names)
    for i, run in held.items():
        runs[i] = run
        if clash(profiles, work.uses[i], run):
            return None
        for k, amount in work.uses[i]:
            take(profiles[k], *run, amount)
    left = [len(needed) for needed in work.before]
    queue: list[tuple[Any, int]] = [(rank(i), i) for i, n in enumerate(left) if not n]
    heapq.heapify(queue)
    while queue:
        _, i = heapq.heappop(queue)
        a = work.activities[i]
        ready = a.release
        if ready is None:
            return None
        for j, lag in work.before[i]:
            needed = runs[j]
            assert needed is not None
            ready = max(ready, needed[1] + lag)
        if i in held:
            if held[i][0] < ready:
                return None
        else:
            place = _place(work, profiles, i, ready)
            if place is None or (a.deadline is not None and place[1] > a.deadline):
                return None
            for k, amount in work.uses[i]:
                take(profiles[k], *place, amount)
            runs[i] = place
        for j, _ in work.after[i]:
            left[j] -= 1
            if not left[j]:
                heapq.heappush(queue, (rank(j), j))
    return [run for run in runs if run is not None]


def _pinned(work: Work) -> dict[int, Run] | None:
    runs = {}
    for i, a in enumerate(work.activities):
        if a.pinned is not None:
            run = work.first(i, a.pinned)
            if run is None:
                return None
            runs[i] = run
    return runs


def first_plan(work: Work) -> list[Run] | None:
    """Best of a few passes, each with another rank."""
    held = _pinned(work)
    if held is None:
        return None
    latest, stuck = latest_runs(work, work.horizon)
    if stuck is not None:
        return None
    earliest, stuck = earliest_runs(work)
    if stuck is not None:
        return None
    after = [set[int]() for _ in work.names]
    for i in reversed(range(len(work.names))):
        for j, _ in work.after[i]:
            after[i] |= after[j] | {j}
    ranks: list[Callable[[int], Any]] = [
        # Latest start, latest finish, most successors, promised or earliest.
        lambda i: latest[i][0],
        lambda i: latest[i][1],
        lambda i: (-len(after[i]), latest[i][0]),
        lambda i: (or_else(work.activities[i].promised, earliest[i][0]), latest[i][0]),
    ]
    plans = [plan for rank in ranks if (plan := serial(work, rank, held)) is not None]
    return min(plans, key=end_of, default=None)


def or_else(value: int | None, otherwise: int) -> int:
    return otherwise if value is None else value


def moved_up(work: Work, runs: Sequence[Run], fast: Iterable[int]) -> list[Run]:
    """The same plan with each one moved to the front as far as it goes, but for the fast."""
    held = {i: runs[i] for i in fast}
    moved = serial(work, lambda i: runs[i], held)
    # In order of start each one's own place stays free, so there is always a plan.
    assert moved is not None
    return moved
