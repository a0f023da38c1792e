"""The plan."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from rehang.calc import _hours as clock
from rehang.calc._hours import Run
from rehang.calc.errors import OutOfRange
from rehang.calc.schedule._conflict import conflict
from rehang.calc.schedule._order import latest_in_order
from rehang.calc.schedule._serial import (
    clash,
    first_plan,
    moved_up,
    or_else,
    profiles_of,
    serial,
    take,
)
from rehang.calc.schedule._solver import (
    Answer,
    Limits,
    ask,
    axis_of,
    clock_runners,
    hint,
    left_of,
    view_of,
)
from rehang.calc.schedule._work import (
    Work,
    earliest_runs,
    end_of,
    is_whole,
    latest_runs,
    least_finish,
    work_of,
)
from rehang.calc.schedule.project import LONGEST, Project, Wish
from rehang.calc.units import Count, Moment, Second, Span

Status = Literal["PROVED", "FOUND", "IMPOSSIBLE", "NOT FOUND"]
# Share of the effort for the earliest finish; the rest is for what comes after it.
SHARE_OF_FINISH = 0.6


@dataclass(frozen=True, slots=True)
class Plan:
    """Starts and ends, and how good they are.

    PROVED: no plan is over earlier. FOUND: a plan, and `bound` says how much earlier one
    could at most be over. IMPOSSIBLE: there is none, and `impossible` says why: keep all of
    these wishes and there is no plan; drop any one of them and these stand in the way no
    more. NOT FOUND: the effort ran out before a plan or a proof.
    """

    status: Status
    starts: Mapping[str, Moment]
    ends: Mapping[str, Moment]
    makespan: Moment | None  # end of the last activity
    bound: Moment  # no plan is over before this
    # How much later each could start with the order kept and the finish as well.
    slack: Mapping[str, Span]
    critical: tuple[str, ...]  # those without slack, in order of start
    drift: Span | None  # open time between promised and planned starts, all together
    drift_bound: Span | None  # the least it could be at this finish
    impossible: tuple[Wish, ...]
    notes: tuple[str, ...]

    @property
    def proved(self) -> bool:
        return self.status == "PROVED"

    @property
    def gap(self) -> float:
        """Largest part of the makespan that a better plan could save [-]; inf without a plan."""
        if self.makespan is None:
            return math.inf
        return (self.makespan - self.bound) / self.makespan if self.makespan else 0.0


def plan(
    project: Project,
    *,
    effort: Second = 0.5,
    seconds: Second = 10.0,
    workers: Count = 1,
    seed: Count = 1,
) -> Plan:
    r"""The plan that is over earliest, then keeps what was promised, then leans as asked.

    .. math:: \operatorname{lex\,min}\ \bigl( \max_i e_i,\
              \sum_i |s_i - s_i^\mathrm{promised}|,\ \sum_i w_i s_i \bigr)
              \quad\text{with}\quad e_j + l_{ij} \le s_i,\quad
              \sum_{i:\, s_i \le t < e_i} r_{ik} \le R_k(t)

    effort: limit on the solver's own count of its work, which does not depend on the machine.
    seconds: limit on the time it may take as well, for a slow machine.
    workers: searches that take turns and tell each other what they found.
    seed: where the solver's chance begins.

    Same input, same plan, as long as `effort` stops the search and not `seconds`; where it
    was `seconds`, a note says so. Drift and lean are counted in open time. Where nothing was
    promised and nothing leans, each activity starts as early as the order allows. Where there is
    no plan, which wishes cannot all be kept.

    Refused: activities that need each other in a circle; a name that is not there; more used than
    there is; a number that is not whole.

    Source: the problem: A. Pritsker, L. Watters, P. Wolfe, Management Science 16(1), 1969, 93-108;
    from memory. Instances: R. Kolisch and A. Sprecher, European Journal of Operational Research 96,
    1996, 205-216.
    Checked in ``tests/published/test_psplib.py``: eight instances, the known optimum of each.

    >>> from rehang.calc.schedule import Activity, Need, Project
    >>> shop = {"shop": ((0, 9), (24, 33))}
    >>> found = plan(Project(
    ...     {"strip": Activity(6, calendar="shop", splittable=True),
    ...      "paint": Activity(5, (Need("strip"),), calendar="shop", splittable=True),
    ...      "fit": Activity(2, (Need("paint", lag=4),), calendar="shop")},
    ...     calendars=shop))
    >>> dict(found.starts), found.makespan, found.proved
    ({'strip': 0, 'paint': 6, 'fit': 30}, 32, True)
    """
    for what, value in (("effort", effort), ("seconds", seconds)):
        if not (math.isfinite(value) and value > 0):
            raise OutOfRange(f"The {what} must be a finite number above 0: got {value}.")
    if not (is_whole(workers) and workers >= 1):
        raise OutOfRange(f"The number of workers must be a whole number from 1 up: got {workers}.")
    work = work_of(project)
    limits = Limits(effort, seconds, workers, seed)
    earliest, stuck = earliest_runs(work)
    if stuck is not None:
        return _none(work, 0, limits)
    least = least_finish(work, earliest)

    runs = first_plan(work)
    ran_out = False
    if runs is not None and end_of(runs) == least:
        bound = least
    else:
        answer = _earliest_finish(work, earliest, runs, limits)
        if answer.impossible:
            return _none(work, least, limits)
        ran_out = answer.clock_ran_out
        limits = left_of(limits, answer)
        bound = max(least, answer.bound)
        if answer.runs is not None and (runs is None or end_of(answer.runs) < end_of(runs)):
            runs = answer.runs
        if runs is None:
            return replace(
                _nothing(work, "NOT FOUND", bound),
                notes=("The effort ran out before a plan or a proof that there is none.",),
            )
        if answer.proved:
            bound = end_of(runs)

    runs, drift_bound, late = _settled(work, earliest, runs, limits)
    return _described(work, runs, bound, drift_bound, clock_ran_out=ran_out or late)


def _earliest_finish(
    work: Work, earliest: Sequence[Run], runs: Sequence[Run] | None, limits: Limits
) -> Answer:
    by = work.horizon if runs is None else end_of(runs)
    latest, stuck = latest_runs(work, by)
    if stuck is not None or any(a[0] > b[0] for a, b in zip(earliest, latest, strict=True)):
        return Answer(True, True, None, bound=0, seconds=0.0, clock_ran_out=False)
    view = view_of(work, earliest, latest)
    view.model.minimize(view.finish)
    if runs is not None:
        hint(view, runs)
    answer = ask(view, replace(limits, effort=limits.effort * SHARE_OF_FINISH), earliest)
    bound = answer.bound
    if view.axis is not None and not view.finish_on_clock:
        bound = clock.moment_of_end(view.axis, bound)
    return replace(answer, bound=bound)


def _settled(
    work: Work, earliest: Sequence[Run], runs: list[Run], limits: Limits
) -> tuple[list[Run], int | None, bool]:
    """The plan with its finish kept: near to what was promised, then leaning as asked.

    Also the least drift there could be, and whether time on the clock ran out.
    """
    acts = work.activities
    promised = [i for i, a in enumerate(acts) if a.promised is not None and a.pinned is None]
    leaning = [i for i, a in enumerate(acts) if a.lean and a.pinned is None]
    pinned = [i for i, a in enumerate(acts) if a.pinned is not None]
    runs = moved_up(work, runs, pinned)
    if not promised and not leaning:
        return runs, None, False
    by = end_of(runs)
    latest, stuck = latest_runs(work, by)
    assert stuck is None
    view = view_of(work, earliest, latest)
    stages = bool(promised) + bool(leaning)
    share = replace(limits, effort=limits.effort * (1 - SHARE_OF_FINISH) / stages)
    ran_out = False
    drift_bound = None
    if promised:
        runs = min(runs, _on_promise(work, runs, pinned, promised), key=lambda r: _drift(work, r))
        away = []
        for i in promised:
            aim = acts[i].promised
            assert aim is not None
            if view.axis is not None and not view.on_clock[i]:
                aim = clock.open_before(view.axis, aim)
            off = view.model.new_int_var(0, LONGEST, "")
            view.model.add_abs_equality(off, view.starts[i] - aim)
            away.append(off)
        drift_bound = 0
        if _drift(work, runs):
            view.model.minimize(sum(away))
            hint(view, runs)
            answer = ask(view, share, earliest)
            ran_out |= answer.clock_ran_out
            share = left_of(share, answer)
            drift_bound = answer.bound
            if answer.runs is not None and _drift(work, answer.runs) < _drift(work, runs):
                runs = answer.runs
        view.model.add(sum(away) <= _drift(work, runs))
    if leaning:
        runs = _leaned(work, runs, [i for i in leaning if i not in promised], by)
        view.model.minimize(sum(acts[i].lean * view.starts[i] for i in leaning))
        hint(view, runs)
        answer = ask(view, share, earliest)
        ran_out |= answer.clock_ran_out
        if answer.runs is not None and _leaning(work, answer.runs) < _leaning(work, runs):
            runs = answer.runs
    # Those with a place of their own keep it; the others take the earliest that is left.
    return moved_up(work, runs, {*pinned, *promised, *leaning}), drift_bound, ran_out


def _on_promise(
    work: Work, runs: list[Run], pinned: Iterable[int], promised: Iterable[int]
) -> list[Run]:
    """Each promised start taken as a release, when that moves no finish; else the same plan."""
    acts = list(work.activities)
    for i in promised:
        aim = acts[i].promised
        assert aim is not None
        acts[i] = replace(acts[i], release=max(acts[i].release or 0, aim))
    later = replace(work, activities=tuple(acts))
    held = {i: runs[i] for i in pinned}
    moved = serial(later, lambda i: (or_else(acts[i].promised, runs[i][0]), runs[i]), held)
    return runs if moved is None or end_of(moved) > end_of(runs) else moved


def _leaned(work: Work, runs: list[Run], leaning: Iterable[int], by: int) -> list[Run]:
    """Those that lean late moved back, the last first, as far as the others let them."""
    runs = list(runs)
    late = {i for i in leaning if work.activities[i].lean < 0}
    for i in sorted(late, key=lambda i: runs[i], reverse=True):
        a = work.activities[i]
        profiles = profiles_of(work)
        for j, run in enumerate(runs):
            if j != i:
                for k, amount in work.uses[j]:
                    take(profiles[k], *run, amount)
        end = min([by, *(runs[j][0] - lag for j, lag in work.after[i])])
        end = end if a.deadline is None else min(end, a.deadline)
        while (late_run := work.last(i, end)) is not None and late_run[0] > runs[i][0]:
            if not clash(profiles, work.uses[i], late_run):
                runs[i] = late_run
                break
            # It ends where something else that it cannot be beside begins, or before.
            end = max(
                moment
                for k, _ in work.uses[i]
                for moment in (0, *profiles[k].moments)
                if moment < late_run[1]
            )
    return runs


def _drift(work: Work, runs: Sequence[Run]) -> int:
    axis = axis_of(work)
    on_clock = clock_runners(work, axis)
    total = 0
    for i, a in enumerate(work.activities):
        if a.promised is not None and a.pinned is None:
            ends = (runs[i][0], a.promised)
            if axis is not None and not on_clock[i]:
                ends = (clock.open_before(axis, ends[0]), clock.open_before(axis, ends[1]))
            total += abs(ends[0] - ends[1])
    return total


def _leaning(work: Work, runs: Sequence[Run]) -> int:
    axis = axis_of(work)
    on_clock = clock_runners(work, axis)
    return sum(
        a.lean
        * (runs[i][0] if axis is None or on_clock[i] else clock.open_before(axis, runs[i][0]))
        for i, a in enumerate(work.activities)
        if a.pinned is None
    )


def _described(
    work: Work, runs: Sequence[Run], bound: int, drift_bound: int | None, *, clock_ran_out: bool
) -> Plan:
    finish = end_of(runs)
    latest = latest_in_order(work, runs, finish)
    slack = {}
    for i, name in enumerate(work.names):
        slack[name] = max(0, latest[i][0] - runs[i][0])
    by_start = sorted(range(len(work.names)), key=lambda i: (runs[i], i))
    notes = []
    if clock_ran_out:
        notes.append("The clock stopped the search: another run may give another plan.")
    given = list(work.project.activities)
    number = {name: i for i, name in enumerate(work.names)}
    promised = any(a.promised is not None for a in work.activities)
    return Plan(
        status="PROVED" if bound == finish else "FOUND",
        starts={name: runs[number[name]][0] for name in given},
        ends={name: runs[number[name]][1] for name in given},
        makespan=finish,
        bound=bound,
        slack={name: slack[name] for name in given},
        critical=tuple(work.names[i] for i in by_start if not slack[work.names[i]]),
        drift=_drift(work, runs) if promised else None,
        drift_bound=drift_bound,
        impossible=(),
        notes=tuple(notes),
    )


def _nothing(work: Work, status: Status, bound: int) -> Plan:
    return Plan(
        status=status,
        starts={},
        ends={},
        makespan=None,
        bound=bound,
        slack={},
        critical=(),
        drift=None,
        drift_bound=None,
        impossible=(),
        notes=(),
    )


def _none(work: Work, bound: int, limits: Limits) -> Plan:
    wishes, certain = conflict(work.project, limits)
    notes = () if certain else ("Some of these wishes may not stand in the way.",)
    return replace(_nothing(work, "IMPOSSIBLE", bound), impossible=tuple(wishes), notes=notes)
