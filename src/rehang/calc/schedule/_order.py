"""A plan that is kept in its order: who waits for whom, and how late each may be."""

from __future__ import annotations

import heapq
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from rehang.calc._hours import Run
from rehang.calc.errors import OutOfRange
from rehang.calc.schedule._work import Work, work_of
from rehang.calc.schedule.checking import violations
from rehang.calc.schedule.project import LONGEST, Project


@dataclass(frozen=True, slots=True)
class Order:
    """What a plan's order says: who waits for whom, and which taken stretches they end before."""

    waits: list[list[tuple[int, int]]]
    not_after: list[int]


def order_of(work: Work, runs: Sequence[Run]) -> Order:
    """Who waits for whom when the plan's order is kept: what is needed, and what is used.

    Each unit of a resource is handed from one activity to a later one, first to those that
    need it anyway, then from whoever ended last. C. Artigues, P. Michelon, S. Reusser,
    European Journal of Operational Research 149, 2003, 249-267; from memory.
    """
    waits = [list(needed) for needed in work.before]
    not_after = [LONGEST * 4] * len(waits)
    for name, resource in work.project.resources.items():
        # Start, end, who, how much; taken stretches are nobody's, which is -1.
        events = [
            (*runs[i], i, n) for i, uses in enumerate(work.uses) for k, n in uses if k == name
        ]
        events += [(start, end, -1, n) for start, end, n in resource.taken]
        # Units: free from when, handed on by whom, how many.
        held: list[tuple[int, int, int]] = [(0, -1, resource.capacity)]
        for start, end, i, amount in sorted(events):
            needed = {j for j, _ in work.before[i]} if i >= 0 else set()
            free = [unit for unit in held if unit[0] <= start]
            for since, giver, units in sorted(
                free, key=lambda unit: (unit[1] in needed, unit[0]), reverse=True
            ):
                if not amount:
                    break
                given = min(amount, units)
                amount -= given
                held.remove((since, giver, units))
                if given < units:
                    held.append((since, giver, units - given))
                held.append((end, i, given))
                if giver < 0:
                    continue
                if i < 0:
                    not_after[giver] = min(not_after[giver], start)
                elif giver not in needed:
                    waits[i].append((giver, 0))
    return Order([list(dict.fromkeys(w)) for w in waits], not_after)


def latest_in_order(work: Work, runs: Sequence[Run], by: int) -> list[Run]:
    """Latest run of each when the order of the plan is kept and all is over by a moment.

    Where that is before its run in the plan, or does not fit, the start is below it.
    """
    order = order_of(work, runs)
    waits = order.waits
    after: list[list[tuple[int, int]]] = [[] for _ in waits]
    for i, needed in enumerate(waits):
        for j, lag in needed:
            after[j].append((i, lag))
    latest: list[Run] = [(0, 0)] * len(waits)
    # What is pinned holds others up where it is, though it could itself be later.
    hold = list(latest)
    for i in reversed(_one_by_one(waits, runs)):
        a = work.activities[i]
        end = min([by, order.not_after[i], *(hold[j][0] - lag for j, lag in after[i])])
        if a.deadline is not None:
            end = min(end, a.deadline)
        run = work.last(i, end)
        latest[i] = run if run is not None else (min(end, 0) - a.duration, min(end, 0))
        hold[i] = latest[i] if a.pinned is None else min(latest[i], runs[i])
    return latest


def kept_runs(project: Project, starts: Mapping[str, int]) -> tuple[Work, list[Run]]:
    """The runs of a plan that keeps its project."""
    work = work_of(project)
    runs = []
    for i, name in enumerate(work.names):
        run = work.first(i, starts[name]) if name in starts else None
        if run is None or run[0] != starts[name]:
            raise OutOfRange(
                f"{name} cannot start at {starts.get(name, 'a moment that was not given')}: "
                "plan again before counting from the plan."
            )
        runs.append(run)
    ends = {name: run[1] for name, run in zip(work.names, runs, strict=True)}
    broken = violations(project, starts, ends)
    if broken:
        raise OutOfRange(
            f"The plan does not keep the {broken[0].what} of {broken[0].name}: "
            "plan again before counting from the plan."
        )
    return work, runs


def _one_by_one(waits: Sequence[Sequence[tuple[int, int]]], runs: Sequence[Run]) -> list[int]:
    """Each after all it waits for."""
    left = [len(w) for w in waits]
    after: list[list[int]] = [[] for _ in waits]
    for i, needed in enumerate(waits):
        for j, _ in needed:
            after[j].append(i)
    queue = [(runs[i], i) for i, count in enumerate(left) if not count]
    heapq.heapify(queue)
    order = []
    while queue:
        i = heapq.heappop(queue)[1]
        order.append(i)
        for j in after[i]:
            left[j] -= 1
            if not left[j]:
                heapq.heappush(queue, (runs[j], j))
    return order
