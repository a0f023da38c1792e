"""Which wishes cannot all be kept."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from rehang.calc.schedule._serial import first_plan
from rehang.calc.schedule._solver import Limits, ask, view_of
from rehang.calc.schedule._work import earliest_runs, latest_runs, work_of
from rehang.calc.schedule.project import Project, Resource, Wish

# Deterministic seconds for one question of `conflict`; each is a question of yes or no.
EFFORT_OF_A_QUESTION = 0.3


def _wishes(project: Project) -> list[Wish]:
    found = []
    for name, a in project.activities.items():
        if a.deadline is not None:
            found.append(Wish("deadline", name))
        if a.release is None or a.release > 0:
            found.append(Wish("release", name))
        if a.pinned is not None:
            found.append(Wish("pinned", name))
    found += [Wish("calendar", k) for k in project.calendars]
    found += [
        Wish("resource", k)
        for k, r in project.resources.items()
        if r.windows is not None or r.taken
    ]
    return found


def _with_only(project: Project, kept: Iterable[Wish]) -> Project:
    wished = {(wish.kind, wish.name) for wish in kept}
    activities = {}
    for name, a in project.activities.items():
        activities[name] = replace(
            a,
            deadline=a.deadline if ("deadline", name) in wished else None,
            release=a.release if ("release", name) in wished else 0,
            pinned=a.pinned if ("pinned", name) in wished else None,
            calendar=a.calendar if ("calendar", a.calendar) in wished else None,
            promised=None,
            lean=0,
        )
    resources = {
        k: r if ("resource", k) in wished else Resource(r.capacity)
        for k, r in project.resources.items()
    }
    return Project(activities, resources, project.calendars)


def conflict(project: Project, limits: Limits) -> tuple[list[Wish], bool]:
    """A set of wishes that cannot all be kept, each of which is needed for that.

    Divide and conquer: U. Junker, QuickXplain, AAAI 2004, 167-172; from memory. Also whether
    each question was answered; where one was not, the set may hold a wish too many.
    """
    certain = True
    asked = replace(limits, effort=min(limits.effort, EFFORT_OF_A_QUESTION))

    def is_impossible(kept: list[Wish]) -> bool:
        nonlocal certain
        answer = _is_impossible(_with_only(project, kept), asked)
        certain &= answer is not None
        return answer is True

    def needed(kept: list[Wish], added: bool, among: list[Wish]) -> list[Wish]:
        if added and is_impossible(kept):
            return []
        if len(among) == 1:
            return among
        half = len(among) // 2
        one, other = among[:half], among[half:]
        of_other = needed(kept + one, True, other)
        of_one = needed(kept + of_other, bool(of_other), one)
        return of_one + of_other

    return needed([], False, _wishes(project)), certain


def _is_impossible(project: Project, limits: Limits) -> bool | None:
    """Yes or no; None when the effort ran out."""
    work = work_of(project)
    earliest, stuck = earliest_runs(work)
    if stuck is not None:
        return True
    if first_plan(work) is not None:
        return False
    latest, stuck = latest_runs(work, work.horizon)
    if stuck is not None or any(a[0] > b[0] for a, b in zip(earliest, latest, strict=True)):
        return True
    answer = ask(view_of(work, earliest, latest), limits, earliest)
    return answer.impossible if answer.proved or answer.runs is not None else None
