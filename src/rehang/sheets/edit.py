"""Changes to ``meters.toml`` and ``limits.toml`` that leave the rest of the text as it was.

A mechanic's comments, order and blank lines stay. Nothing is checked here beyond finding the
place: the whole text is read again by :func:`rehang.sheets.folder.parse_files` before it is
filed.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, Item, Table

from rehang.trade.terms.errors import BadInput

__all__ = ["add_limit", "add_meter", "change_limit", "change_meter", "tables"]

Value = str | int | float | bool | date | dict[str, str] | list[dict[str, str | int | float]]


def tables(text: str, name: str) -> list[dict[str, object]]:
    """The ``[[name]]`` tables of a file as plain values, in order."""
    return [dict(one.unwrap()) for one in _array(_document(text), name)]


def change_meter(text: str, meter_id: str, changes: Mapping[str, Value | None]) -> str:
    """The text with some keys of one meter changed; a key given as None is taken out."""
    document = _document(text)
    for one in _array(document, "meter"):
        if one.get("id") == meter_id:
            _change(one, changes)
            return tomlkit.dumps(document)
    raise BadInput(f'There is no meter "{meter_id}" on file.', "meters.toml")


def add_meter(text: str, fields: Mapping[str, Value]) -> str:
    """The text with one more meter at its end."""
    return _add(text, "meter", fields)


def change_limit(text: str, number: int, changes: Mapping[str, Value | None]) -> str:
    """The text with some keys of the limit at place ``number`` (from 0) changed."""
    document = _document(text)
    limits = _array(document, "limit")
    if not 0 <= number < len(limits):
        raise BadInput(f"There is no limit number {number + 1} on file.", "limits.toml")
    _change(limits[number], changes)
    return tomlkit.dumps(document)


def add_limit(text: str, fields: Mapping[str, Value]) -> str:
    """The text with one more limit at its end."""
    return _add(text, "limit", fields)


def _document(text: str) -> tomlkit.TOMLDocument:
    try:
        return tomlkit.parse(text)
    except TOMLKitError as problem:
        raise BadInput(f"This is not readable as TOML: {problem}.") from None


def _array(document: tomlkit.TOMLDocument, name: str) -> list[Table]:
    found = document.get(name)
    return list(found) if isinstance(found, AoT) else []


def _change(table: Table, changes: Mapping[str, Value | None]) -> None:
    for key, value in changes.items():
        if value is None:
            if key in table:
                del table[key]
        elif key in table and table[key] == value:
            continue
        else:
            table[key] = _written(value)


def _written(value: Value) -> Item:
    """A value as it stands in the file: lists of tables one below the other, a table in one line."""
    if isinstance(value, list):
        inner = tomlkit.aot()
        for one in value:
            row = tomlkit.table()
            for part, amount in one.items():
                row[part] = amount
            inner.append(row)
        return inner
    if isinstance(value, dict):
        line = tomlkit.inline_table()
        line.update(value)
        return line
    return tomlkit.item(value)


def _add(text: str, name: str, fields: Mapping[str, Value]) -> str:
    # Written at the end as text of its own: what stands above is not touched.
    new = tomlkit.document()
    table = tomlkit.table()
    for key, value in fields.items():
        table[key] = _written(value)
    array = tomlkit.aot()
    array.append(table)
    new[name] = array
    _document(text)
    before = text if not text or text.endswith("\n") else f"{text}\n"
    gap = "\n" if before.strip() else ""
    return f"{before}{gap}{tomlkit.dumps(new)}"
