"""Groups of fasteners that are tightened together, as data: pattern, passes, what to mind."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from rehang.trade.terms.errors import BadInput

__all__ = ["FOR_EACH", "PATTERNS", "TorqueGroup", "groups_from"]

Where = Callable[..., str]
PATTERNS = ("single", "rows", "circle")
# What a group may be there once for each of; empty for once on the engine.
FOR_EACH = ("", "hole", "cylinder", "magneto")


@dataclass(frozen=True, slots=True)
class TorqueGroup:
    """Fasteners that are tightened together. ``limit`` names the check its value is filed under.

    ``part`` is the kind of part that they hold: once one was fitted or worked on, they are torqued
    again.
    """

    id: str
    title: str
    limit: str
    task: str
    for_each: str
    number: int
    fastener: str
    pattern: str
    passes: int
    how: str
    cautions: tuple[str, ...]
    part: str = ""


_KEYS = {
    "id", "title", "limit", "task", "for_each", "number", "fastener", "pattern", "passes", "how",
    "cautions", "part", "leave_out",
}  # fmt: skip


def groups_from(
    raw: Mapping[str, Any],
    where: Where = lambda *keys: "",
    shipped: Mapping[str, TorqueGroup] = MappingProxyType({}),
) -> dict[str, TorqueGroup]:
    """The groups of ``torque.toml`` laid over the shipped ones; "leave_out" takes one out."""
    found = dict(shipped)
    named: set[str] = set()
    for number, one in enumerate(raw.get("group", [])):
        for key in one:
            if key not in _KEYS:
                raise BadInput(
                    f'A torque group has no "{key}". It has {", ".join(sorted(_KEYS))}.',
                    where("group", number, key),
                )
        for key in ("id",) if one.get("leave_out") else ("id", "title", "limit"):
            if not one.get(key):
                raise BadInput(f'A torque group needs "{key}".', where("group", number))
        if one["id"] in named:
            raise BadInput(f'There are two groups "{one["id"]}".', where("group", number, "id"))
        named.add(one["id"])
        if one.get("leave_out"):
            if one["id"] not in found:
                raise BadInput(
                    f'There is no group "{one["id"]}" to leave out. They are {", ".join(found)}.',
                    where("group", number, "id"),
                )
            del found[one["id"]]
            continue
        for key, known in (("pattern", PATTERNS), ("for_each", FOR_EACH)):
            if one.get(key, known[0]) not in known:
                words = ", ".join(name for name in known if name)
                raise BadInput(
                    f'"{one[key]}" is not a {key.replace("_", " ")}. They are {words}.',
                    where("group", number, key),
                )
        for key in ("number", "passes"):
            if type(one.get(key, 1)) is not int or one.get(key, 1) < 1:
                raise BadInput(f'"{key}" is 1 or more.', where("group", number, key))
        found[one["id"]] = TorqueGroup(
            id=one["id"],
            title=one["title"],
            limit=one["limit"],
            task=one.get("task", ""),
            for_each=one.get("for_each", ""),
            number=one.get("number", 1),
            fastener=one.get("fastener", "fastener"),
            pattern=one.get("pattern", "single"),
            passes=one.get("passes", 1),
            how=one.get("how", ""),
            cautions=tuple(one.get("cautions", ())),
            part=one.get("part", ""),
        )
    return found
