"""Whether a plan keeps its project, looked at without the solver."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from rehang.calc._hours import Window
from rehang.calc.schedule._work import check_project
from rehang.calc.schedule.project import Activity, Project, find_cycle
from rehang.calc.units import Moment


@dataclass(frozen=True, slots=True)
class Broken:
    """One thing that a plan does not keep."""

    what: Literal[
        "missing", "duration", "need", "release", "deadline", "pinned", "closed", "capacity"
    ]
    name: str
    other: str = ""


def violations(
    project: Project, starts: Mapping[str, Moment], ends: Mapping[str, Moment]
) -> tuple[Broken, ...]:
    r"""What a plan does not keep, looked at without the solver and without how plans are made.

    .. math:: e_j + l_{ij} \le s_i, \qquad r_i \le s_i, \qquad e_i \le d_i, \qquad
              \sum_{i:\, s_i \le t < e_i} r_{ik} \le R_k(t)

    A capacity is looked at wherever something starts, where use can only rise.

    Refused: a project that cannot be planned, as by `plan`.

    Source: the constraints as `plan` states them.
    Checked in ``tests/published/test_psplib.py``: each optimal plan keeps all, and not when any
    activity of its critical path starts a unit early.

    >>> from rehang.calc.schedule import Need
    >>> job = Project({"a": Activity(2), "b": Activity(3, (Need("a"),))})
    >>> violations(job, {"a": 0, "b": 1}, {"a": 2, "b": 4})
    (Broken(what='need', name='b', other='a'),)
    """
    check_project(project)
    find_cycle(project.activities)
    found = []
    for name, a in project.activities.items():
        if name not in starts or name not in ends:
            found.append(Broken("missing", name))
            continue
        start, end = starts[name], ends[name]
        opened = _open_pieces(project, a)
        worked = end - start
        if a.duration and opened is not None:
            inside = [(max(b, start), min(e, end)) for b, e in opened]
            inside = [(b, e) for b, e in inside if b < e]
            worked = sum(e - b for b, e in inside)
            whole = bool(inside) and inside[0][0] == start and inside[-1][1] == end
            if not whole or (len(inside) > 1 and not a.splittable):
                found.append(Broken("closed", name))
        if worked != a.duration:
            found.append(Broken("duration", name))
        if a.release is None or start < max(a.release, 0):
            found.append(Broken("release", name))
        if a.deadline is not None and end > a.deadline:
            found.append(Broken("deadline", name))
        if a.pinned is not None and start != _pinned_start(a, opened):
            found.append(Broken("pinned", name))
        found += [
            Broken("need", name, need.on)
            for need in a.needs
            if need.on in ends and ends[need.on] + need.lag > start
        ]
    for k, resource in project.resources.items():
        users = [
            (starts[name], ends[name], a.resources[k], name)
            for name, a in project.activities.items()
            if a.duration and a.resources.get(k) and name in starts and name in ends
        ]
        users += [(start, end, amount, "") for start, end, amount in resource.taken]
        for start, _, _, name in users:
            if sum(n for b, e, n, _ in users if b <= start < e) > resource.capacity and name:
                found.append(Broken("capacity", name, k))
        for start, _, _ in resource.taken:
            inside_it = [name for b, e, _, name in users if name and b < start < e]
            if inside_it and sum(n for b, e, n, _ in users if b <= start < e) > resource.capacity:
                found.append(Broken("capacity", inside_it[0], k))
    return tuple(dict.fromkeys(found))


def _open_pieces(project: Project, activity: Activity) -> list[Window] | None:
    """Open time of an activity, cut out of each list of windows in turn."""
    lists = [] if activity.calendar is None else [project.calendars[activity.calendar]]
    for k, amount in activity.resources.items():
        windows = project.resources[k].windows
        if amount and windows is not None:
            lists.append(windows)
    if not lists:
        return None
    edges = sorted(
        (moment, one, step)
        for one, windows in enumerate(lists)
        for window in windows
        for moment, step in zip(window, (1, -1), strict=True)
    )
    # How many windows of each list a moment lies in: open where it is in one of every list.
    inside = [0] * len(lists)
    pieces: list[Window] = []
    since: int | None = None
    for here, (moment, one, step) in enumerate(edges):
        inside[one] += step
        if here + 1 < len(edges) and edges[here + 1][0] == moment:
            continue
        if all(inside) and since is None:
            since = moment
        elif not all(inside) and since is not None:
            pieces.append((since, moment))
            since = None
    return pieces


def _pinned_start(activity: Activity, opened: list[Window] | None) -> int | None:
    """Where something pinned starts: at once when open, else at the first opening it can."""
    pinned = activity.pinned
    assert pinned is not None
    if opened is None or not activity.duration:
        return pinned
    for b, e in opened:
        start = max(b, pinned)
        if start < e and (activity.splittable or start + activity.duration <= e):
            return start
    return None
