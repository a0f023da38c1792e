"""What an engine with one magneto is asked: nothing that takes two to be told apart.

On the only magneto the engine runs as it does on both, so it has no drop and no difference; that it
fires shows in the speed, that it can be grounded at switch-off. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

from rehang.trade.facts.items import CheckSheet
from rehang.trade.facts.layout import Layout
from rehang.trade.facts.run_rules import RunRules
from rehang.trade.facts.runsteps import Step
from rehang.trade.facts.tasks import Task

__all__ = ["asked_of"]


def asked_of(
    layout: Layout,
    sheets: Mapping[str, CheckSheet],
    tasks: Mapping[str, Task],
    steps: tuple[Step, ...],
    rules: RunRules,
) -> tuple[dict[str, CheckSheet], dict[str, Task], tuple[Step, ...], RunRules]:
    """Sheets, tasks, the walk through a run and its rules, as they are asked of an engine."""
    return (
        _sheets(layout, sheets),
        _tasks(layout, sheets, tasks),
        _steps(layout, sheets, steps),
        _rules(layout, sheets, rules),
    )


def _beyond(layout: Layout, sheets: Mapping[str, CheckSheet]) -> set[tuple[str, str]]:
    """The checks, by kind and name, that take more magnetos than the engine has."""
    has = len(layout.ignition)
    if not has:
        # The shop's own book, which has no engine, and so any.
        return set()
    return {
        (kind, check.name)
        for kind, sheet in sheets.items()
        for check in sheet.checks
        if max(check.magnetos, sheet.magnetos) > has
    }


def _sheets(layout: Layout, sheets: Mapping[str, CheckSheet]) -> dict[str, CheckSheet]:
    """The sheets, with nothing required that the engine does not have; what a book holds is read still."""
    gone = _beyond(layout, sheets)
    return {
        kind: replace(
            sheet,
            checks=tuple(
                replace(one, required=False) if (kind, one.name) in gone else one
                for one in sheet.checks
            ),
        )
        if any(kind == of for of, _ in gone)
        else sheet
        for kind, sheet in sheets.items()
    }


def _steps(
    layout: Layout, sheets: Mapping[str, CheckSheet], steps: tuple[Step, ...]
) -> tuple[Step, ...]:
    """The walk through a run without those checks, and without a step that was for them alone."""
    gone = {name for kind, name in _beyond(layout, sheets) if kind == "run"}
    found = []
    for step in steps:
        kept = tuple(name for name in step.checks if name not in gone)
        if kept or not step.checks:
            found.append(replace(step, checks=kept))
    return tuple(found)


def _tasks(
    layout: Layout, sheets: Mapping[str, CheckSheet], tasks: Mapping[str, Task]
) -> dict[str, Task]:
    """The tasks, each answered by what the engine has."""
    gone = _beyond(layout, sheets)
    return {
        name: replace(task, answers=tuple(one for one in task.answers if one not in gone))
        for name, task in tasks.items()
    }


def _rules(layout: Layout, sheets: Mapping[str, CheckSheet], rules: RunRules) -> RunRules:
    """The rules of a run: what is accused is there, and an inspection asks for what can be read."""
    if len(layout.ignition) != 1:
        return rules
    [only] = layout.ignition
    gone = {name for kind, name in _beyond(layout, sheets) if kind == "run"}
    both = [kind for kind, sheet in sheets.items() if sheet.magnetos > 1]
    return replace(
        rules,
        accuses=MappingProxyType(
            {
                check: f"magneto:{only}" if item.partition(":")[0] in both else item
                for check, item in rules.accuses.items()
                if check not in gone
            }
        ),
        inspection=tuple(
            replace(one, checks=one.one_magneto_checks)
            if one.one_magneto_checks and gone.intersection(one.checks)
            else one
            for one in rules.inspection
        ),
    )
