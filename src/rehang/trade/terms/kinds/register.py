"""Every kind of entry that a book may hold, by the name that a line has for it."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from rehang.trade.terms.kinds import (
    decisions,
    extra,
    items,
    meters,
    monitor,
    oil,
    papers,
    readings,
    runs,
    shop,
    stock,
    torque,
    work,
)
from rehang.trade.terms.kinds.fields import EntryField, Fields, fields_of

__all__ = ["CLASSES", "FIELDS", "KINDS", "SHARED", "made"]

# Each kind with its class, that of a line that cannot be shown too.
CLASSES: Mapping[str, type[Fields]] = MappingProxyType(
    {
        one.kind: one
        for module in (
            items, readings, meters, decisions, torque, oil, work, stock, runs, papers, shop,
            extra, monitor,
        )
        for one in vars(module).values()
        if isinstance(one, type) and issubclass(one, Fields) and one.kind
    }
)  # fmt: skip

# Each kind with its fields by their names on a line.
FIELDS: Mapping[str, Mapping[str, EntryField]] = MappingProxyType(
    {kind: fields_of(one) for kind, one in CLASSES.items()}
)

# What every kind may have, with the JSON type that it takes.
SHARED: Mapping[str, str] = MappingProxyType(
    {name: one.json_type for name, one in fields_of(Fields).items()}
)


def _types(kind: str, *, needed: bool) -> Mapping[str, str]:
    return MappingProxyType(
        {
            name: one.json_type
            for name, one in FIELDS[kind].items()
            if one.needed is needed and name not in SHARED
        }
    )


# What a line may be: kind -> (fields it must have, fields it may have), each with its JSON type.
KINDS: Mapping[str, tuple[Mapping[str, str], Mapping[str, str]]] = MappingProxyType(
    {
        kind: (_types(kind, needed=True), _types(kind, needed=False))
        for kind in CLASSES
        if kind != shop.Unread.kind
    }
)

# Kinds with a field that Python calls otherwise than the line.
_RENAMED = frozenset(
    kind
    for kind, one in CLASSES.items()
    if any(name.endswith("_") for name in one.__dataclass_fields__)
)


def made(kind: str, data: Mapping[str, Any]) -> Any:
    """What a line has, as a value of the class of its kind."""
    one = CLASSES[kind]
    if kind in _RENAMED:
        own = one.__dataclass_fields__
        data = {name if name in own else f"{name}_": value for name, value in data.items()}
    return one(**data)
