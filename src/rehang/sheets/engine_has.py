"""What an engine is known to have, and what its job looks at, reads and is asked for by that."""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from rehang.trade.declared.taken import Where
from rehang.trade.facts.accessories import Accessory, accessories_by_item, due_of_accessories
from rehang.trade.facts.asked_of import asked_of
from rehang.trade.facts.engine import ACCESSORIES, Engine
from rehang.trade.facts.fuel_systems import suits
from rehang.trade.facts.items import CheckSheet
from rehang.trade.facts.layout import Layout
from rehang.trade.facts.recurring import Recurring
from rehang.trade.facts.run_rules import RunRules
from rehang.trade.facts.runsteps import Step
from rehang.trade.facts.tasks import Task
from rehang.trade.facts.tasks_out import unasked, without

__all__ = ["EngineHas", "engine_has"]

_NONE: Mapping[str, Accessory] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class EngineHas:
    """The kinds that a job looks at, the sheets and tasks that are for it, and what it carries.

    ``other_sheets`` are of kinds that the engine is not known to have.
    """

    inspect: tuple[str, ...]
    fuel_system: str
    sheets: dict[str, CheckSheet]
    other_sheets: Mapping[str, CheckSheet]
    tasks: dict[str, Task]
    accessories: Mapping[str, Accessory]

    def asked(
        self, layout: Layout, left_out: Iterable[str], steps: tuple[Step, ...], rules: RunRules
    ) -> tuple[dict[str, CheckSheet], dict[str, Task], tuple[Step, ...], RunRules]:
        """Sheets, tasks, the walk through a run and its rules, as they are asked of the engine."""
        tasks = without(self.tasks, left_out)
        return asked_of(layout, self.fuel_system, self.sheets, tasks, steps, rules)

    def with_due(self, recurring: Mapping[str, Recurring]) -> Mapping[str, Recurring]:
        """What recurs, and what comes due of accessories by their own hours."""
        return MappingProxyType({**recurring, **due_of_accessories(self.accessories)})


def engine_has(
    engine: Engine,
    at: Where,
    sheets: Mapping[str, CheckSheet],
    tasks: Mapping[str, Task],
    *,
    is_shop: bool,
) -> EngineHas:
    """What a job is of by its engine; the shop's own book has no engine, and so all of it.

    Raises
    ------
    BadInput
        An accessory cannot be.
    """
    if is_shop:
        return EngineHas(engine.inspect, "", dict(sheets), {}, dict(tasks), _NONE)
    old = {kind: str(getattr(engine, kind)) for kind in ACCESSORIES}
    accessories = accessories_by_item(engine.accessory, old, at)
    inspect = _looked_at(engine, sheets, accessories)
    # A book from before there was such a sheet may say anything of such a part.
    other = {k: one for k, one in sheets.items() if one.is_of_engine and k not in inspect}
    return EngineHas(
        inspect=inspect,
        fuel_system=engine.fuel_system,
        sheets={kind: one for kind, one in sheets.items() if kind not in other},
        other_sheets=MappingProxyType(other),
        tasks=_of_these_kinds(tasks, inspect),
        accessories=accessories,
    )


def _looked_at(
    engine: Engine, sheets: Mapping[str, CheckSheet], accessories: Mapping[str, Accessory]
) -> tuple[str, ...]:
    """The kinds of item that a job looks at: those it names, and what the engine is known to have of others."""
    with_these = [
        kind
        for kind, sheet in sheets.items()
        if sheet.goes_with in engine.inspect
        and engine.fuel_system
        and suits(sheet, engine.fuel_system)
    ]
    on_file = [one.kind for one in accessories.values() if not one.left_alone]
    return tuple(dict.fromkeys((*engine.inspect, *with_these, *on_file)))


def _of_these_kinds(tasks: Mapping[str, Task], looked_at: Container[str]) -> dict[str, Task]:
    """The tasks without those for kinds of item of which the job looks at none, each answered by the rest."""
    gone = {
        name
        for name, task in tasks.items()
        if task.kinds and not any(kind in looked_at for kind in task.kinds)
    }
    return {
        name: replace(task, answers=tuple(one for one in task.answers if one[0] in looked_at))
        if task.kinds
        else task
        for name, task in unasked(tasks, gone).items()
    }
