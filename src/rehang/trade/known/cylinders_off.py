"""Cylinders that came off in a job: which, since when, and what that makes part of the job."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from types import MappingProxyType

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.layout import Layout
from rehang.trade.facts.tasks import Task
from rehang.trade.facts.tasks_out import unasked
from rehang.trade.known.state import JobState
from rehang.trade.terms.entries import Entry
from rehang.trade.terms.kinds.items import Fitted

__all__ = ["CYLINDER", "is_off", "on_again", "opened", "with_places"]

CYLINDER = "cylinder"


def cylinders_off(layout: Layout, state: JobState) -> tuple[str, ...]:
    """The cylinders that came off, on again or not, in the order of the layout."""
    return tuple(
        str(one)
        for one in layout.cylinders
        if (held := state.items.get(f"{CYLINDER}:{one}")) is not None and held.removed is not None
    )


def on_again(state: JobState, name: str) -> Entry[Fitted] | None:
    """The entry by which a cylinder that came off is on again; None while it is off."""
    return state.fitted.get(f"{CYLINDER}:{name}")


def is_off(state: JobState, name: str) -> bool:
    """Whether a cylinder came off and is not on again."""
    held = state.items.get(f"{CYLINDER}:{name}")
    return held is not None and held.removed is not None and on_again(state, name) is None


def with_places(places: Sequence[str], task: Task, off: Sequence[str]) -> list[str]:
    """Those of the places that a task is done at: of cylinders that came off, or of some alone."""
    only = {one.casefold() for one in task.only}
    return [
        one
        for one in places
        if (not task.when_off or one in off) and (not only or one.casefold() in only)
    ]


def opened(facts: JobFacts, state: JobState) -> JobFacts:
    """The facts with what the cylinders that came off make part of the job, and without the rest.

    Tasks, torque and checks of a cylinder off and on are no part of a job in which none came off.
    """
    return state.once("opened", lambda: _opened(facts, state), facts)


def _opened(facts: JobFacts, state: JobState) -> JobFacts:
    off = cylinders_off(facts.layout, state)
    all_places = {
        "cylinder": [str(one) for one in facts.layout.cylinders],
        "magneto": list(facts.layout.ignition),
        "hose": list(facts.hoses),
    }
    # A task that names some places of its kind is none of a job that has none of them.
    gone = {
        task.id
        for task in facts.tasks.values()
        if (task.when_off or task.only)
        and not with_places(all_places.get(task.for_each, facts.layout.walk), task, off)
    }
    groups = {name: one for name, one in facts.torque_groups.items() if off or not one.when_off}
    kinds = [kind for kind, one in facts.sheets.items() if one.when_off]
    return replace(
        facts,
        off=off,
        tasks=MappingProxyType(unasked(facts.tasks, gone)),
        torque_groups=MappingProxyType(groups),
        inspect=(*(k for k in facts.inspect if k not in kinds), *(kinds if off else ())),
    )
