"""A project as CP-SAT sees it, and what it answers."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from rehang.calc import _hours as clock
from rehang.calc._hours import Hours, Run, Window
from rehang.calc.schedule._work import Work, end_of
from rehang.calc.schedule.project import Activity, Resource

if TYPE_CHECKING:
    from ortools.sat.python import cp_model


@dataclass(frozen=True, slots=True)
class View:
    """A project as the solver sees it.

    Its axis is the open time of all activities that have hours, one window set to the next, so
    that split work is as long as its duration. What runs on the clock is on the clock, and the
    two are tied where they meet. Without any hours the axis is the clock.
    """

    work: Work
    model: cp_model.CpModel
    axis: Hours | None
    starts: list[Any]
    ends: list[Any]
    on_clock: list[bool]
    # Time by which all is over: on the axis, and on the clock where something runs on it.
    finish: Any
    finish_on_clock: bool


def axis_of(work: Work) -> Hours | None:
    windows = {h: None for h in work.hours if h is not None}
    return clock.hours(w for h in windows for w in clock.windows_of(h)) if windows else None


def clock_runners(work: Work, axis: Hours | None) -> list[bool]:
    """Those whose times are moments, not places on the axis."""
    if axis is None:
        return [False] * len(work.names)
    found = [h is None and a.duration > 0 for a, h in zip(work.activities, work.hours, strict=True)]
    milestones = [i for i, a in enumerate(work.activities) if not a.duration]
    # One of no duration may lie in closed time, which the axis does not have. That matters only
    # where something counts from it on the clock.
    lags = any(lag for i in milestones for _, lag in (*work.before[i], *work.after[i]))
    if lags or any(found):
        for i in milestones:
            found[i] = True
    return found


def _domain(pieces: Iterable[Window]) -> cp_model.Domain:
    from ortools.sat.python import cp_model

    return cp_model.Domain.from_intervals([[a, b] for a, b in pieces if a <= b])


def _lengths(
    activity: Activity,
    opened: Hours | None,
    axis: Hours | None,
    on_axis: Callable[[int], int],
    low: int,
    high: int,
) -> dict[int, list[Window]]:
    """Places on the axis where it can start from a moment to another, by how long it is there."""
    duration = activity.duration
    if axis is None or opened is None or (activity.splittable and opened == axis):
        return {duration: [(on_axis(low), on_axis(high))]}
    if activity.splittable:
        of_axis = clock.hours((on_axis(b), on_axis(e)) for b, e in clock.windows_of(opened))
        return clock.lengths_by_start(of_axis, duration, on_axis(low), on_axis(high))
    first = bisect_right(opened.ends, low)
    pieces = []
    for b, e in zip(opened.starts[first:], opened.ends[first:], strict=True):
        if b > high:
            break
        if max(b, low) <= min(e - duration, high):
            pieces.append((on_axis(max(b, low)), on_axis(min(e - duration, high))))
    return {duration: pieces}


def _times(
    model: cp_model.CpModel, lengths: dict[int, list[Window]], i: int, by: int
) -> tuple[Any, Any, Any]:
    """Start, length and end of one activity."""
    from ortools.sat.python import cp_model

    domain = _domain(piece for pieces in lengths.values() for piece in pieces)
    start: Any = model.new_int_var_from_domain(domain, f"s{i}")
    if len(lengths) == 1:
        only = next(iter(lengths))
        return start, only, start + only
    sizes = sorted(lengths)
    chosen = [model.new_bool_var("") for _ in sizes]
    model.add_exactly_one(chosen)
    for one, size in zip(chosen, sizes, strict=True):
        model.add_linear_expression_in_domain(start, _domain(lengths[size])).only_enforce_if(one)
    length: Any = model.new_int_var(sizes[0], sizes[-1], "")
    model.add(length == cp_model.LinearExpr.weighted_sum(chosen, sizes))
    end: Any = model.new_int_var(0, by, f"e{i}")
    model.add(end == start + length)
    return start, length, end


def view_of(work: Work, earliest: Sequence[Run], latest: Sequence[Run]) -> View:
    """The model: each start between its earliest and its latest."""
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    axis = axis_of(work)
    on_clock = clock_runners(work, axis)

    def on_axis(moment: int) -> int:
        return moment if axis is None else clock.open_before(axis, moment)

    starts: list[Any] = []
    ends: list[Any] = []
    spans: list[Any] = []
    for i, a in enumerate(work.activities):
        low, high = earliest[i][0], latest[i][0]
        if a.pinned is not None:
            high = low
        if on_clock[i]:
            lengths = {a.duration: [(low, high)]}
        else:
            lengths = _lengths(a, work.hours[i], axis, on_axis, low, high)
        start, length, end = _times(model, lengths, i, on_axis(latest[i][1]))
        starts.append(start)
        ends.append(end)
        span = None
        if work.uses[i]:
            span = (
                model.new_fixed_size_interval_var(start, length, "")
                if isinstance(length, int)
                else model.new_interval_var(start, length, end, "")
            )
        spans.append(span)

    moments: dict[tuple[int, bool], Any] = {}

    def moment(i: int, *, end: bool) -> Any:
        """The moment on the clock of a start or an end."""
        if axis is None or on_clock[i]:
            return ends[i] if end else starts[i]
        if (i, end) not in moments:
            moments[i, end] = _moment(
                model, axis, ends[i] if end else starts[i], (earliest[i], latest[i]), end=end
            )
        return moments[i, end]

    for i, needed in enumerate(work.before):
        for j, lag in needed:
            if axis is None:
                model.add(ends[j] + lag <= starts[i])
            else:
                if on_clock[i] == on_clock[j]:
                    model.add(ends[j] + (lag if on_clock[i] else 0) <= starts[i])
                if on_clock[i] != on_clock[j] or (lag and not on_clock[i]):
                    model.add(moment(j, end=True) + lag <= moment(i, end=False))

    _limit_all(model, work, spans, on_clock, latest, moment, on_axis)

    last = [i for i in range(len(work.names)) if not work.after[i]]
    by = end_of(latest)
    finish: Any = model.new_int_var(0, on_axis(by), "finish")
    for i in last:
        if not on_clock[i]:
            model.add(finish >= ends[i])
    if any(on_clock):
        moment_of_finish = model.new_int_var(0, by, "moment of finish")
        for i in last:
            model.add(moment_of_finish >= moment(i, end=True))
        finish = moment_of_finish
    return View(work, model, axis, starts, ends, on_clock, finish, any(on_clock))


def _moment(
    model: cp_model.CpModel, axis: Hours, place: Any, between: tuple[Run, Run], *, end: bool
) -> Any:
    """Moment on the clock of a place on the axis: which window it is in, and where in it."""
    low, high = (run[1] if end else run[0] for run in between)
    inside = [
        k
        for k in range(len(axis.starts))
        if (axis.starts[k] < high and axis.ends[k] >= low if end else False)
        or (not end and axis.starts[k] <= high and axis.ends[k] > low)
    ]
    if len(inside) == 1:
        return place + (axis.starts[inside[0]] - axis.before[inside[0]])
    chosen = [(model.new_bool_var(""), k) for k in inside]
    model.add_exactly_one(b for b, _ in chosen)
    # A start is from the opening on and before the closing; an end is after the one and up to
    # the other.
    model.add(place >= sum((axis.before[k] + end) * b for b, k in chosen))
    model.add(place <= sum((axis.before[k + 1] - 1 + end) * b for b, k in chosen))
    moment = model.new_int_var(low, high, "")
    model.add(moment == place + sum((axis.starts[k] - axis.before[k]) * b for b, k in chosen))
    return moment


def _limit_all(
    model: cp_model.CpModel,
    work: Work,
    spans: Sequence[Any],
    on_clock: Sequence[bool],
    latest: Sequence[Run],
    moment: Callable[..., Any],
    on_axis: Callable[[int], int],
) -> None:
    """No more of any resource than there is, on the axis and on the clock."""
    for name, resource in work.project.resources.items():
        users = [(i, n) for i, uses in enumerate(work.uses) for used, n in uses if used == name]
        _limit(model, resource, [(spans[i], n) for i, n in users if not on_clock[i]], on_axis)
        if any(on_clock[i] for i, _ in users):
            # Only where the two meet; those on the axis are limited above already.
            on_the_clock = []
            for i, amount in users:
                if on_clock[i]:
                    on_the_clock.append((spans[i], amount))
                    continue
                whole = model.new_int_var(0, latest[i][1], "")
                span = model.new_interval_var(moment(i, end=False), whole, moment(i, end=True), "")
                on_the_clock.append((span, amount))
            _limit(model, resource, on_the_clock, int)


def _limit(
    model: cp_model.CpModel,
    resource: Resource,
    users: Sequence[tuple[Any, int]],
    on_axis: Callable[[int], int],
) -> None:
    taken = [
        (on_axis(start), on_axis(end), amount)
        for start, end, amount in resource.taken
        if amount and on_axis(start) < on_axis(end)
    ]
    if sum(n for _, n in users) + sum(n for _, _, n in taken) <= resource.capacity:
        return
    spans = [span for span, _ in users]
    spans += [model.new_fixed_size_interval_var(a, b - a, "") for a, b, _ in taken]
    amounts = [n for _, n in users] + [n for _, _, n in taken]
    if resource.capacity == 1 and not taken:
        model.add_no_overlap(spans)
    else:
        model.add_cumulative(spans, amounts, resource.capacity)


def hint(view: View, runs: Sequence[Run]) -> None:
    view.model.clear_hints()  # type: ignore[no-untyped-call]
    for i, (start, _) in enumerate(runs):
        place = start
        if view.axis is not None and not view.on_clock[i]:
            place = clock.open_before(view.axis, start)
        view.model.add_hint(view.starts[i], place)


def _runs_of(view: View, value: Callable[[Any], int], earliest: Sequence[Run]) -> list[Run]:
    """Moments on the clock of what the solver found."""
    runs = []
    for i, a in enumerate(view.work.activities):
        place = value(view.starts[i])
        if view.axis is None or view.on_clock[i]:
            start = place
        elif a.duration:
            start = clock.moment_of_start(view.axis, place)
        else:
            start = max(earliest[i][0], clock.moment_of_end(view.axis, place))
        runs.append((start, view.work.rest_of(i, start)))
    return runs


@dataclass(frozen=True, slots=True)
class Limits:
    effort: float
    seconds: float
    workers: int
    seed: int


def left_of(limits: Limits, answer: Answer) -> Limits:
    """What is left of the time; the solver takes a little even for nothing."""
    return replace(limits, seconds=max(limits.seconds - answer.seconds, 0.01))


@dataclass(frozen=True, slots=True)
class Answer:
    proved: bool  # best, or that there is none
    impossible: bool
    runs: list[Run] | None
    bound: int
    seconds: float
    clock_ran_out: bool


def ask(view: View, limits: Limits, earliest: Sequence[Run]) -> Answer:
    from ortools.sat.python import cp_model

    solver = cp_model.CpSolver()
    solver.parameters.max_deterministic_time = limits.effort
    solver.parameters.max_time_in_seconds = limits.seconds
    solver.parameters.num_workers = limits.workers
    solver.parameters.random_seed = limits.seed
    # Several workers share what they learn at set points only, so that plans repeat.
    solver.parameters.interleave_search = limits.workers > 1
    status = solver.solve(view.model)
    if status == cp_model.MODEL_INVALID:
        raise AssertionError(view.model.validate())
    found = status in (cp_model.OPTIMAL, cp_model.FEASIBLE)
    bound = solver.best_objective_bound if view.model.has_objective() else 0.0
    return Answer(
        proved=status in (cp_model.OPTIMAL, cp_model.INFEASIBLE),
        impossible=status == cp_model.INFEASIBLE,
        runs=_runs_of(view, solver.value, earliest) if found else None,
        bound=math.ceil(bound - 1e-6) if math.isfinite(bound) else 0,
        seconds=solver.wall_time,
        clock_ran_out=status in (cp_model.FEASIBLE, cp_model.UNKNOWN)
        and solver.wall_time >= limits.seconds,
    )
