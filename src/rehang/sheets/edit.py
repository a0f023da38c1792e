"""One meter or one limit changed key by key, for the pages and tables that change a few of them.

What changes the text is :mod:`rehang.sheets.things`.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from rehang.sheets.things import THINGS, add, put, things_in
from rehang.trade.terms.errors import BadInput

__all__ = ["add_limit", "add_meter", "change_limit", "change_meter", "tables"]

Value = str | int | float | bool | date | dict[str, str] | list[dict[str, str | int | float]]


def tables(text: str, name: str) -> list[dict[str, object]]:
    """The things of a kind in a file as plain values, in order."""
    return list(things_in(text, THINGS[name]).values())


def change_meter(text: str, meter_id: str, changes: Mapping[str, Value | None]) -> str:
    """The text with some keys of one meter changed; a key given as None is taken out."""
    if meter_id not in things_in(text, THINGS["meter"]):
        raise BadInput(f'There is no meter "{meter_id}" on file.', "meters.toml")
    return _change(text, "meter", meter_id, changes)


def add_meter(text: str, fields: Mapping[str, Value]) -> str:
    """The text with one more meter at its end."""
    return add(text, THINGS["meter"], fields)


def change_limit(text: str, number: int, changes: Mapping[str, Value | None]) -> str:
    """The text with some keys of the limit at place ``number`` (from 0) changed."""
    keys = list(things_in(text, THINGS["limit"]))
    if not 0 <= number < len(keys):
        raise BadInput(f"There is no limit number {number + 1} on file.", "limits.toml")
    return _change(text, "limit", keys[number], changes)


def add_limit(text: str, fields: Mapping[str, Value]) -> str:
    """The text with one more limit at its end."""
    return add(text, THINGS["limit"], fields)


def _change(text: str, name: str, key: str, changes: Mapping[str, Value | None]) -> str:
    thing = things_in(text, THINGS[name])[key] | dict(changes)
    kept = {one: value for one, value in thing.items() if value is not None}
    return put(text, THINGS[name], key, kept)
