"""What is asked of an engine by what it has: its magnetos, and what meters its fuel.

An engine with one magneto is asked nothing that takes two to be told apart.

On the only magneto the engine runs as it does on both, so it has no drop and no difference; that it
fires shows in the speed, that it can be grounded at switch-off. Common practice, no source.

An engine with injectors has no carburettor heat, one with a carburettor no injectors. Where it is not
on file which it has, it is asked for what it may have, as it was before anybody could write it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

from rehang.trade.facts.fuel_systems import KNOWN, suits
from rehang.trade.facts.items import Check, CheckSheet
from rehang.trade.facts.layout import Layout
from rehang.trade.facts.run_rules import RunRules
from rehang.trade.facts.runsteps import Step
from rehang.trade.facts.tasks import Task

__all__ = ["asked_of"]


def asked_of(
    layout: Layout,
    fuel_system: str,
    sheets: Mapping[str, CheckSheet],
    tasks: Mapping[str, Task],
    steps: tuple[Step, ...],
    rules: RunRules,
) -> tuple[dict[str, CheckSheet], dict[str, Task], tuple[Step, ...], RunRules]:
    """Sheets, tasks, the walk through a run and its rules, as they are asked of an engine."""
    gone = _beyond(layout, sheets) | _of_other_fuel(fuel_system, sheets)
    # A shop's own walk has no step for what the shipped sheet asks for since.
    read = {name for step in steps for name in step.checks}
    return (
        _sheets(gone, fuel_system, read, sheets),
        _tasks(gone, tasks),
        _steps(gone, sheets, steps),
        _rules(layout, gone, sheets, rules),
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


def _of_other_fuel(fuel_system: str, sheets: Mapping[str, CheckSheet]) -> set[tuple[str, str]]:
    """The checks, by kind and name, of what meters fuel otherwise than this engine does."""
    return {
        (kind, check.name)
        for kind, sheet in sheets.items()
        for check in sheet.checks
        if not (suits(sheet, fuel_system) and suits(check, fuel_system))
    }


def _sheets(
    gone: set[tuple[str, str]], fuel_system: str, read: set[str], sheets: Mapping[str, CheckSheet]
) -> dict[str, CheckSheet]:
    """The sheets, with nothing required that the engine does not have; what a book holds is read still."""

    def asked(kind: str, one: Check) -> Check:
        if (kind, one.name) in gone:
            return replace(one, required=False)
        if one.fuel_system == KNOWN and fuel_system and (kind != "run" or one.name in read):
            return replace(one, required=True)
        return one

    return {
        kind: replace(
            sheet,
            checks=tuple(asked(kind, one) for one in sheet.checks),
            names=sheet.names_for.get(fuel_system, sheet.names),
        )
        for kind, sheet in sheets.items()
    }


def _steps(
    gone: set[tuple[str, str]], sheets: Mapping[str, CheckSheet], steps: tuple[Step, ...]
) -> tuple[Step, ...]:
    """The walk through a run without those checks, and without a step that was for them alone."""
    has = {one.name for one in sheets["run"].checks} - {
        name for kind, name in gone if kind == "run"
    }
    found = []
    for step in steps:
        kept = tuple(name for name in step.checks if name in has)
        if kept or not step.checks:
            found.append(replace(step, checks=kept))
    return tuple(found)


def _tasks(gone: set[tuple[str, str]], tasks: Mapping[str, Task]) -> dict[str, Task]:
    """The tasks, each answered by what the engine has."""
    return {
        name: replace(task, answers=tuple(one for one in task.answers if one not in gone))
        for name, task in tasks.items()
    }


def _rules(
    layout: Layout,
    gone_checks: set[tuple[str, str]],
    sheets: Mapping[str, CheckSheet],
    rules: RunRules,
) -> RunRules:
    """The rules of a run: what is accused is there, and an inspection asks for what can be read."""
    gone = {name for kind, name in gone_checks if kind == "run"}
    only = next(iter(layout.ignition)) if len(layout.ignition) == 1 else ""
    both = [kind for kind, sheet in sheets.items() if sheet.magnetos > 1] if only else []
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
