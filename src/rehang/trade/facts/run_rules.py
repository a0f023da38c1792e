"""What a shop asks of its ground runs, as data: what each figure depends on, accuses and answers."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

from rehang.trade.facts.items import CheckSheet
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.quantities import QUANTITIES, parse_amount

__all__ = ["GRAVITY", "RUN_TABLES", "Asked", "Depends", "RunRules", "run_rules_from"]

Where = Callable[..., str]
# How fuel reaches the engine where no pump drives it: ``fuel`` of ``engine.toml``.
GRAVITY = "gravity"
# The tables of ``run.toml`` that are read here.
RUN_TABLES = ("shop", "depends", "accuses", "inspection")


@dataclass(frozen=True, slots=True)
class Depends:
    """One kind of work, and the figures of a run that it ends.

    ``items`` are kinds of item or whole items ("magneto", "filter:oil"), ``lines`` words of a
    hose's line, ``tasks`` ids of tasks with no items of their own, ``readings`` readings that take
    something apart, as ``kind:check``. ``acts`` are the kinds of entry that count; all where empty.
    """

    id: str
    title: str
    voids: tuple[str, ...]
    items: tuple[str, ...] = ()
    lines: tuple[str, ...] = ()
    tasks: tuple[str, ...] = ()
    acts: tuple[str, ...] = ()
    readings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Asked:
    """What an annual or 100-hour inspection asks of the run, in the regulation's words.

    Fed by gravity, ``gravity`` is said and ``gravity_checks`` are asked instead, where it is set.
    """

    what: str
    checks: tuple[str, ...]
    source: str
    gravity: str = ""
    gravity_checks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class RunRules:
    """The rules of a run. ``plausible_drop`` is in turns per minute, the others in minutes."""

    depends: tuple[Depends, ...] = ()
    accuses: Mapping[str, str] = field(default_factory=dict)
    inspection: tuple[Asked, ...] = ()
    plausible_drop: int = 0
    hot_minutes: int = 0
    standing_minutes: int = 0

    def ending(self, check: str) -> tuple[Depends, ...]:
        """The kinds of work that end a figure."""
        return tuple(one for one in self.depends if check in one.voids)


_SHOP = ("plausible_drop", "hot_minutes", "standing_minutes")
_DEPENDS = ("id", "title", "voids", "items", "lines", "tasks", "acts", "readings")
_ASKED = ("what", "checks", "source", "gravity", "gravity_checks")


def run_rules_from(
    raw: Mapping[str, Any],
    sheet: CheckSheet,
    where: Where = lambda *keys: "",
    shipped: RunRules | None = None,
) -> RunRules:
    """The rules of ``run.toml``; a table that it leaves out is the shipped one."""
    base = shipped or RunRules()
    shop = _shop(raw.get("shop", {}), where)
    depends = base.depends
    if "depends" in raw:
        depends = tuple(
            Depends(**_lists(one, _DEPENDS, ("id", "title", "voids"), "depends", number, where))
            for number, one in enumerate(raw["depends"])
        )
    asked = base.inspection
    if "inspection" in raw:
        asked = tuple(
            Asked(**_lists(one, _ASKED, ("what", "checks", "source"), "inspection", number, where))
            for number, one in enumerate(raw["inspection"])
        )
    accuses = base.accuses
    if "accuses" in raw:
        accuses = MappingProxyType({str(k): str(v) for k, v in raw["accuses"].items()})
    named = [
        *((check, "depends") for one in depends for check in one.voids),
        *((check, "inspection") for one in asked for check in (*one.checks, *one.gravity_checks)),
        *((check, "accuses") for check in accuses),
    ]
    for check, table in named:
        sheet.check(check, where(table))
    for check, item in accuses.items():
        if not item.partition(":")[2]:
            raise BadInput(
                f'"{check}" accuses "{item}". Write kind:name, as in engine:oil system.',
                where("accuses", check),
            )
    return RunRules(
        depends=depends,
        accuses=accuses,
        inspection=asked,
        plausible_drop=shop.get("plausible_drop", base.plausible_drop),
        hot_minutes=shop.get("hot_minutes", base.hot_minutes),
        standing_minutes=shop.get("standing_minutes", base.standing_minutes),
    )


def _shop(raw: Mapping[str, Any], where: Where) -> dict[str, int]:
    found: dict[str, int] = {}
    for key, given in raw.items():
        if key not in _SHOP:
            raise BadInput(f'[shop] has no "{key}". It has {", ".join(_SHOP)}.', where("shop", key))
        if key == "plausible_drop":
            found[key] = parse_amount(str(given), QUANTITIES["speed"], where=where("shop", key))
        elif isinstance(given, int) and not isinstance(given, bool) and given > 0:
            found[key] = given
        else:
            raise BadInput(
                f'"{key}" is {given}. Write whole minutes above 0, as in 30.', where("shop", key)
            )
    return found


def _lists(
    raw: Mapping[str, Any],
    known: tuple[str, ...],
    needed: tuple[str, ...],
    table: str,
    number: int,
    where: Where,
) -> dict[str, Any]:
    """A table of texts and lists of texts, its keys looked at."""
    for key in raw:
        if key not in known:
            raise BadInput(
                f'[[{table}]] has no "{key}". It has {", ".join(known)}.',
                where(table, number, key),
            )
    for key in needed:
        if not raw.get(key):
            raise BadInput(f'[[{table}]] needs "{key}".', where(table, number))
    return {key: tuple(held) if isinstance(held, list) else held for key, held in raw.items()}
