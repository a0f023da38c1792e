"""A project that was checked, with numbers for names; how early and how late each may be."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from rehang.calc import _hours as clock
from rehang.calc._hours import Hours, Run, Window
from rehang.calc.errors import OutOfRange
from rehang.calc.schedule.project import LONGEST, Activity, Project, find_cycle


@dataclass(frozen=True, slots=True)
class Work:
    """A project with numbers for names, in the order in which things can be done."""

    project: Project
    names: tuple[str, ...]
    activities: tuple[Activity, ...]
    durations: tuple[int, ...]
    hours: tuple[Hours | None, ...]
    before: tuple[tuple[tuple[int, int], ...], ...]  # (number of what is needed, lag)
    after: tuple[tuple[tuple[int, int], ...], ...]
    uses: tuple[tuple[tuple[str, int], ...], ...]
    horizon: int  # nothing that can be done at all need end after this

    def first(self, i: int, ready: int) -> Run | None:
        split = self.activities[i].splittable
        return clock.first_run(self.hours[i], ready, self.durations[i], split)

    def last(self, i: int, by: int) -> Run | None:
        split = self.activities[i].splittable
        return clock.last_run(self.hours[i], by, self.durations[i], split)

    def rest_of(self, i: int, start: int) -> int:
        """End of what starts at a start that is right."""
        run = self.first(i, start)
        assert run is not None and run[0] == start
        return run[1]


def work_of(project: Project) -> Work:
    check_project(project)
    names = _in_order(project.activities)
    number = {name: i for i, name in enumerate(names)}
    activities = tuple(project.activities[name] for name in names)
    before = tuple(tuple((number[n.on], n.lag) for n in a.needs) for a in activities)
    after: list[list[tuple[int, int]]] = [[] for _ in names]
    for i, needed in enumerate(before):
        for j, lag in needed:
            after[j].append((i, lag))
    opened = {
        **{("calendar", k): clock.hours(v) for k, v in project.calendars.items()},
        **{
            ("resource", k): clock.hours(v.windows)
            for k, v in project.resources.items()
            if v.windows is not None
        },
    }
    shared: dict[tuple[tuple[str, str], ...], Hours | None] = {(): None}
    hours = []
    uses = []
    for a in activities:
        used = tuple((k, amount) for k, amount in a.resources.items() if amount and a.duration)
        uses.append(used)
        keys = [("calendar", a.calendar)] if a.calendar is not None else []
        keys += [("resource", k) for k, _ in used if ("resource", k) in opened]
        key = tuple(sorted(keys)) if a.duration else ()
        if key not in shared:
            common: Hours | None = None
            for one in key:
                common = clock.both(common, opened[one])
            shared[key] = common
        hours.append(shared[key])
    return Work(
        project=project,
        names=names,
        activities=activities,
        durations=tuple(a.duration for a in activities),
        hours=tuple(hours),
        before=before,
        after=tuple(map(tuple, after)),
        uses=tuple(uses),
        horizon=_horizon(project, hours),
    )


def _horizon(project: Project, hours: Sequence[Hours | None]) -> int:
    moments = [h.ends[-1] for h in hours if h is not None and h.ends]
    total = 0
    for a, h in zip(project.activities.values(), hours, strict=True):
        moments += [a.release or 0, a.pinned or 0]
        total += max((need.lag for need in a.needs), default=0)
        # Where the hours end is in the moments, whichever activity they belong to.
        total += a.duration if h is None or not a.splittable else 0
        total += a.duration if h is not None else 0
    moments += [end for r in project.resources.values() for _, end, _ in r.taken]
    return max(moments, default=0) + total


def _in_order(activities: Mapping[str, Activity]) -> tuple[str, ...]:
    circle = find_cycle(activities)
    if circle:
        chain = " needs ".join([*circle, circle[0]])
        raise OutOfRange(f"Nothing of a circle can be first: {chain}. Take one of these needs out.")
    order: list[str] = []
    left = {name: len(a.needs) for name, a in activities.items()}
    after: dict[str, list[str]] = {name: [] for name in activities}
    for name, a in activities.items():
        for need in a.needs:
            after[need.on].append(name)
    ready = [name for name in activities if not left[name]]
    while ready:
        name = ready.pop()
        order.append(name)
        for following in after[name]:
            left[following] -= 1
            if not left[following]:
                ready.append(following)
    return tuple(order)


def check_project(project: Project) -> None:
    if not project.activities:
        raise OutOfRange("Give at least one activity: got none.")
    for name, a in project.activities.items():
        for what, value in (
            ("duration", a.duration),
            ("release", a.release),
            ("deadline", a.deadline),
            ("pinned start", a.pinned),
            ("promised start", a.promised),
            *((f"lag after {need.on}", need.lag) for need in a.needs),
            *((f"amount of {k}", amount) for k, amount in a.resources.items()),
        ):
            if value is not None and not (is_whole(value) and 0 <= value <= LONGEST):
                raise OutOfRange(
                    f"{name}: the {what} must be a whole number from 0 to {LONGEST:,}: got {value}."
                )
        if not (is_whole(a.lean) and abs(a.lean) <= 1000):
            raise OutOfRange(
                f"{name}: the lean must be a whole number from -1000 to 1000: got {a.lean}."
            )
        if a.calendar is not None and a.calendar not in project.calendars:
            raise OutOfRange(f"{name} keeps the calendar {a.calendar}, which is not there.")
        for k, amount in a.resources.items():
            if k not in project.resources:
                raise OutOfRange(f"{name} uses {k}, which is not among the resources.")
            if amount > project.resources[k].capacity:
                raise OutOfRange(
                    f"{name} uses {amount} of {k}, and there are only "
                    f"{project.resources[k].capacity}."
                )
    for k, resource in project.resources.items():
        if not (is_whole(resource.capacity) and 0 <= resource.capacity <= LONGEST):
            raise OutOfRange(
                f"{k}: the capacity must be a whole number from 0 to {LONGEST:,}: "
                f"got {resource.capacity}."
            )
        _check_windows(k, resource.windows or ())
        _check_windows(k, [(start, end) for start, end, _ in resource.taken])
        for start, end, amount in resource.taken:
            if not (is_whole(amount) and 0 <= amount <= resource.capacity):
                raise OutOfRange(
                    f"{k}: of {resource.capacity}, no more and no less than 0 can be taken "
                    f"from {start} to {end}: got {amount}."
                )
    for k, windows in project.calendars.items():
        _check_windows(k, windows)


def _check_windows(name: str, windows: Iterable[Window]) -> None:
    for start, end in windows:
        if not (is_whole(start) and is_whole(end) and 0 <= start < end <= LONGEST):
            raise OutOfRange(
                f"{name}: a window must end after it starts, from 0 to {LONGEST:,}, in whole "
                f"numbers: got {start} to {end}."
            )


def is_whole(value: object) -> bool:
    return isinstance(value, int | np.integer) and not isinstance(value, bool)


def earliest_runs(work: Work) -> tuple[list[Run], int | None]:
    """Earliest run of each as if there were enough of everything; the first that has none."""
    runs: list[Run] = []
    for i, a in enumerate(work.activities):
        if a.release is None:
            return runs, i
        ready = max([a.release, *(runs[j][1] + lag for j, lag in work.before[i])])
        if a.pinned is not None:
            run = work.first(i, a.pinned)
            if run is not None and run[0] < ready:
                run = None
        else:
            run = work.first(i, ready)
        if run is None or (a.deadline is not None and run[1] > a.deadline):
            return runs, i
        runs.append(run)
    return runs, None


def latest_runs(work: Work, by: int) -> tuple[list[Run], int | None]:
    """Latest run of each that lets all be over by a moment; the first that has none."""
    runs: list[Run] = [(0, 0)] * len(work.names)
    for i in reversed(range(len(work.names))):
        a = work.activities[i]
        end = min([by, *(runs[j][0] - lag for j, lag in work.after[i])])
        if a.deadline is not None:
            end = min(end, a.deadline)
        run = work.last(i, end)
        if run is None or run[0] < 0:
            return runs, i
        runs[i] = run
    return runs, None


def least_finish(work: Work, earliest: Sequence[Run]) -> int:
    """No plan is over before: neither the longest chain, nor the work there is for what does it.

    All that uses a resource and cannot start before some moment takes at least the open time
    after it in which so much can be used.
    """
    least = end_of(earliest)
    for name, resource in work.project.resources.items():
        users = [(i, n) for i, uses in enumerate(work.uses) for used, n in uses if used == name]
        each = {work.hours[i] for i, _ in users}
        opened = None
        if None not in each:
            opened = clock.hours(w for h in each if h is not None for w in clock.windows_of(h))
        amount = 0
        for i, n in sorted(users, key=lambda user: earliest[user[0]][0], reverse=True):
            amount += n * work.activities[i].duration
            run = clock.first_run(opened, earliest[i][0], -(-amount // resource.capacity), True)
            # Where the windows are too few for the work, the search will say so.
            least = least if run is None else max(least, run[1])
    return least


def end_of(runs: Sequence[Run]) -> int:
    return max(end for _, end in runs)
