"""Groups of fasteners that are tightened together, as data: pattern, passes, what to mind."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from rehang.trade.errors import BadInput

__all__ = ["PATTERNS", "TorqueGroup", "groups_from"]

Where = Callable[..., str]
PATTERNS = ("single", "rows", "circle")


@dataclass(frozen=True, slots=True)
class TorqueGroup:
    """Fasteners that are tightened together. ``limit`` names the check its value is filed under."""

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


_KEYS = {
    "id", "title", "limit", "task", "for_each", "number", "fastener", "pattern", "passes", "how",
    "cautions",
}  # fmt: skip


def groups_from(raw: Mapping[str, Any], where: Where = lambda *keys: "") -> dict[str, TorqueGroup]:
    """The groups of ``torque.toml``."""
    found: dict[str, TorqueGroup] = {}
    for number, one in enumerate(raw.get("group", [])):
        for key in one:
            if key not in _KEYS:
                raise BadInput(
                    f'A torque group has no "{key}". It has {", ".join(sorted(_KEYS))}.',
                    where("group", number, key),
                )
        for key in ("id", "title", "limit"):
            if not one.get(key):
                raise BadInput(f'A torque group needs "{key}".', where("group", number))
        if one["id"] in found:
            raise BadInput(f'There are two groups "{one["id"]}".', where("group", number, "id"))
        if one.get("pattern", "single") not in PATTERNS:
            raise BadInput(
                f'"{one["pattern"]}" is not a pattern. They are {", ".join(PATTERNS)}.',
                where("group", number, "pattern"),
            )
        for key in ("number", "passes"):
            if not isinstance(one.get(key, 1), int) or one.get(key, 1) < 1:
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
        )
    return found
