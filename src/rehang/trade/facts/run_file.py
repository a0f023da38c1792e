"""``run.toml``: the walk through a ground run, how it is shut down, and the shop's rules for it."""

from collections.abc import Container, Mapping
from dataclasses import asdict, dataclass, field, replace
from types import MappingProxyType
from typing import Annotated, ClassVar

from pydantic import Field

from rehang.trade.declared.taken import Where
from rehang.trade.declared.values import STRICT, ListOf
from rehang.trade.facts.items import CheckSheet
from rehang.trade.facts.run_rules import ACCUSES, Asked, Depends, RunRules, RunShop
from rehang.trade.facts.runsteps import ShutDown, Step
from rehang.trade.terms.errors import BadInput

__all__ = ["RunFile", "check_steps", "rules_of"]

_NO_RULES = RunRules()


@dataclass(frozen=True, slots=True, kw_only=True)
class RunFile:
    """``run.toml``. A table that it leaves out is None, and the shipped one holds."""

    __pydantic_config__ = STRICT
    __thing__: ClassVar[str] = "run.toml"
    __words__: ClassVar[str] = "The walk through a ground run; every required check has its step."

    step: Annotated[tuple[Step, ...] | None, ListOf(Step)] = None
    shop: Annotated[RunShop, Field(title="The shop's figures")] = field(default_factory=RunShop)
    depends: Annotated[
        tuple[Depends, ...] | None, ListOf(Depends, "Which work ends which figures of a run.")
    ] = None
    accuses: Annotated[
        Mapping[str, str] | None, ACCUSES, Field(title="What each check points at")
    ] = None
    inspection: Annotated[
        tuple[Asked, ...] | None,
        ListOf(Asked, "What an annual or 100-hour inspection asks of the run."),
    ] = None
    shut_down: Annotated[ShutDown | None, Field(title="Shutting down")] = None


def check_steps(steps: tuple[Step, ...], sheet: CheckSheet, where: Where) -> None:
    """Refuse a walk in which a check that the run's sheet requires has no step."""
    seen: set[str] = set()
    for number, one in enumerate(steps):
        if one.id in seen:
            raise BadInput(f'There are two steps "{one.id}".', where("step", number, "id"))
        seen.add(one.id)
        for check in (*one.checks, *([one.clock] if one.clock else [])):
            sheet.check(check, where("step", number, "checks"))
    asked = {check for step in steps for check in step.checks}
    left = [c.label.lower() for c in sheet.checks if c.required and c.name not in asked]
    if left:
        raise BadInput(f"No step of the run asks for {', '.join(left)}.", where())


def rules_of(
    file: RunFile, sheet: CheckSheet, where: Where, shipped: RunRules = _NO_RULES
) -> RunRules:
    """The rules of ``run.toml``; a table that it leaves out is the shipped one.

    A sheet of the shop's own need not have every check that the shipped ones end or accuse by.
    """
    rules = _of_sheet(shipped, {one.name for one in sheet.checks})
    for key in ("depends", "accuses", "inspection"):
        if getattr(file, key) is not None:
            rules = replace(rules, **{key: getattr(file, key)})
    named = [
        *((check, "depends") for one in rules.depends for check in one.voids),
        *(
            (check, "inspection")
            for one in rules.inspection
            for check in (*one.checks, *one.gravity_checks, *one.one_magneto_checks)
        ),
        *((check, "accuses") for check in rules.accuses),
    ]
    for check, table in named:
        # Asked for its refusal alone: it raises where the sheet has no such check.
        sheet.check(check, where(table))
    own = {key: figure for key, figure in asdict(file.shop).items() if figure is not None}
    return replace(rules, **own)


def _of_sheet(rules: RunRules, has: Container[str]) -> RunRules:
    """What ends and what accuses without the checks that a sheet does not have; an inspection asks on."""

    def kept(checks: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(one for one in checks if one in has)

    return replace(
        rules,
        depends=tuple(
            replace(one, voids=kept(one.voids)) for one in rules.depends if kept(one.voids)
        ),
        accuses=MappingProxyType({one: item for one, item in rules.accuses.items() if one in has}),
    )
