"""The walk through a ground run, as data: one step, what is said, what is read at it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from rehang.trade.facts.items import CheckSheet
from rehang.trade.terms.errors import BadInput

__all__ = ["ShutDown", "Step", "shut_down_from", "steps_from"]

Where = Callable[..., str]


@dataclass(frozen=True, slots=True)
class Step:
    """One step. ``clock`` names the check whose limit the clock runs against; ``done`` is the button.

    It is not done while a task of ``after`` is half done or waits for its second look.
    The engine is started at the step that ``starts``, has been at power when one with ``power`` is
    done and stands still when one that ``stops`` is.
    """

    id: str
    title: str
    say: str
    hint: str
    caution: str
    checks: tuple[str, ...]
    clock: str
    done: str
    after: tuple[str, ...] = ()
    starts: bool = False
    power: bool = False
    stops: bool = False


@dataclass(frozen=True, slots=True)
class ShutDown:
    """How the engine is stopped at once: the acts in their order, and what it may be for."""

    order: tuple[str, ...] = ()
    whys: tuple[str, ...] = ()


_KEYS = {
    "id", "title", "say", "hint", "caution", "checks", "clock", "done", "after", "starts", "power", "stops",
}  # fmt: skip


def steps_from(
    raw: Mapping[str, Any], sheet: CheckSheet, where: Where = lambda *keys: ""
) -> tuple[Step, ...]:
    """The steps of ``run.toml``; every check that the run's sheet requires has its step."""
    found: dict[str, Step] = {}
    for number, one in enumerate(raw.get("step", [])):
        for key in one:
            if key not in _KEYS:
                raise BadInput(
                    f'A step has no "{key}". It has {", ".join(sorted(_KEYS))}.',
                    where("step", number, key),
                )
        for key in ("id", "title", "say", "done"):
            if not one.get(key):
                raise BadInput(f'A step needs "{key}".', where("step", number))
        if one["id"] in found:
            raise BadInput(f'There are two steps "{one["id"]}".', where("step", number, "id"))
        checks = tuple(one.get("checks", ()))
        for check in (*checks, *([one["clock"]] if one.get("clock") else [])):
            sheet.check(check, where("step", number, "checks"))
        found[one["id"]] = Step(
            id=one["id"],
            title=one["title"],
            say=one["say"],
            hint=one.get("hint", ""),
            caution=one.get("caution", ""),
            checks=checks,
            clock=one.get("clock", ""),
            done=one["done"],
            after=tuple(one.get("after", ())),
            starts=one.get("starts", False),
            power=one.get("power", False),
            stops=one.get("stops", False),
        )
    asked = {check for step in found.values() for check in step.checks}
    left = [c.label.lower() for c in sheet.checks if c.required and c.name not in asked]
    if left:
        raise BadInput(f"No step of the run asks for {', '.join(left)}.", where())
    return tuple(found.values())


def shut_down_from(raw: Mapping[str, Any], where: Where = lambda *keys: "") -> ShutDown | None:
    """The order to shut down of ``run.toml``; None where the file has none."""
    one = raw.get("shut_down")
    if one is None:
        return None
    for key in one:
        if key not in ("order", "whys"):
            raise BadInput(
                f'"shut_down" has no "{key}". It has order and whys.', where("shut_down", key)
            )
    if not one.get("order"):
        raise BadInput('"shut_down" needs "order", the acts one by one.', where("shut_down"))
    return ShutDown(tuple(one["order"]), tuple(one.get("whys", ())))
