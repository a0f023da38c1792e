"""Plain values as the text of a TOML file, in the order in which its fields are declared."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import tomlkit

__all__ = ["text_of"]


def text_of(values: Mapping[str, Any], kind: type | None = None) -> str:
    """The text of a file from its keys; ``kind`` is the class that declares it, for their order.

    What is empty is left out: what is not known is not written down.
    """
    order = list(getattr(kind, "__dataclass_fields__", ()))
    given = {key: value for key, value in values.items() if not _is_empty(value)}
    # TOML: what stands below a table belongs to it, so tables come last.
    keys = sorted(given, key=lambda one: (_is_tables(given[one]), _place(one, order)))
    document = tomlkit.document()
    for key in keys:
        document.add(key, _item(given[key]))
    return tomlkit.dumps(document)


def _place(key: str, order: list[str]) -> int:
    return order.index(key) if key in order else len(order)


def _item(value: Any) -> Any:
    if _is_tables(value):
        array = tomlkit.aot()
        for row in value:
            table = tomlkit.table()
            for key in sorted(row, key=lambda one: _is_tables(row[one])):
                if not _is_empty(row[key]):
                    table.add(key, _item(row[key]))
            array.append(table)
        return array
    if isinstance(value, Mapping):
        line = tomlkit.inline_table()
        line.update({key: one for key, one in value.items() if not _is_empty(one)})
        return line
    return tomlkit.item(list(value) if isinstance(value, tuple) else value)


def _is_empty(value: Any) -> bool:
    return value is None or value in ("", [], {}, ())


def _is_tables(value: Any) -> bool:
    return isinstance(value, list | tuple) and all(isinstance(one, Mapping) for one in value)
