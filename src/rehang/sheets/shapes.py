"""The types and bounds of a folder's files, held to the schema that declares them.

What a key takes is declared once, in :mod:`rehang.sheets.schema`; a key that no reader knows is
refused by the reader, which names the ones there are.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date, datetime, time
from functools import lru_cache
from typing import Any

from rehang.sheets.schema import schemas
from rehang.trade.terms.errors import BadInput

__all__ = ["check_shape", "check_whole", "has_endless_number", "out_of_bounds"]

Where = Callable[..., str]
LONGEST_TEXT = 4_000
MOST_THINGS = 5_000
# Any number with no bounds of its own.
_MOST = 1_000_000_000
# What stands without quotes and is read all the same: a revision or a page, a day, a time of the
# clock; an amount is refused by its reader, which says what its unit is for.
_ALSO: Mapping[str, tuple[type, ...]] = {
    **dict.fromkeys(("revision", "page"), (int, float)),
    **dict.fromkeys(("due", "made", "fitted", "last_on"), (date,)),
    **dict.fromkeys(("from", "to"), (time,)),
    **dict.fromkeys(
        ("lower", "upper", "aim", "top", "count", "mid_scale", "full_scale", "accuracy", "resolution",
         "repeatability", "expanded", "step", "lowest", "highest"),
        (int, float),
    ),
}  # fmt: skip
_schemas = lru_cache(maxsize=1)(schemas)
_WORDS = {
    "string": "text", "number": "a number", "integer": "a whole number", "boolean": "true or false",
    "object": "a table", "array": "a list",
}  # fmt: skip


def check_shape(
    name: str, raw: Mapping[str, Any], where: Where, *, tables_only: bool = False
) -> None:
    """Refuse a file in which a key has another type than its schema says.

    ``tables_only`` leaves what stands in the tables to a reader that says of each key what it takes.

    Raises
    ------
    BadInput
        With file and line.
    """
    for path, sentence, wanted in _wrong_types(raw, _schemas()[name], ()):
        if tables_only and not _of_tables(wanted):
            continue
        raise BadInput(sentence, where(*_to_line(path)))


def check_whole(name: str, raw: Mapping[str, Any], where: Where) -> None:
    """Refuse a file in which a table of a list lacks a key that its schema asks for.

    Raises
    ------
    BadInput
        With file and line.
    """
    for path, key in _lacking(raw, _schemas()[name], ()):
        # A table of a list has the line of its own head.
        place = where(*(path if len(path) == 2 else _to_line(path)))
        raise BadInput(f'This {_key(path)} needs "{key}". Write it below.', place)


def _lacking(
    given: object, schema: Mapping[str, Any], path: tuple[str | int, ...]
) -> Iterator[tuple[tuple[str | int, ...], str]]:
    if path and isinstance(path[-1], int) and isinstance(given, Mapping):
        for key in schema.get("required", []):
            if key not in given:
                yield path, key
    for key, value, below in _within(schema, given):
        yield from _lacking(value, below, (*path, key))


def has_endless_number(given: object) -> bool:
    """Whether a whole number in it is past all counting, which no reader then has to bear."""
    if isinstance(given, (Mapping, list)):
        inner = given.values() if isinstance(given, Mapping) else given
        return any(has_endless_number(one) for one in inner)
    return isinstance(given, int) and abs(given) > 2**53


def out_of_bounds(
    name: str, raw: Mapping[str, Any], where: Where
) -> list[tuple[tuple[str | int, ...], BadInput]]:
    """The numbers of a file that lie outside what its schema allows: the path and the sentence."""
    return [
        (path, BadInput(sentence, where(*_to_line(path))))
        for path, sentence in _outside(raw, _schemas()[name], ())
    ]


Found = Iterator[tuple[tuple[str | int, ...], str]]


def _to_line(path: Sequence[str | int]) -> Sequence[str | int]:
    """As much of a path as has a line of its own: the key in its table, not a place in a list."""
    keys = list(path)
    while len(keys) > 1 and isinstance(keys[-1], int):
        keys.pop()
    return keys


def _within(schema: Mapping[str, Any], given: object) -> Iterator[tuple[str | int, Any, Any]]:
    """What lies one step below: its key, value and schema."""
    if isinstance(given, Mapping):
        known, rest = schema.get("properties", {}), schema.get("additionalProperties")
        for key, value in given.items():
            if key in known:
                yield key, value, known[key]
            elif isinstance(rest, Mapping):
                yield key, value, rest
    elif isinstance(given, list) and "items" in schema:
        for number, value in enumerate(given):
            yield number, value, schema["items"]


def _wrong_types(
    given: object, schema: Mapping[str, Any], path: tuple[str | int, ...]
) -> Iterator[tuple[tuple[str | int, ...], str, Mapping[str, Any]]]:
    options = schema.get("anyOf", [])
    if options and "type" in options[0]:
        if all(next(_wrong_types(given, one, path), None) for one in options):
            # What is wrong within the kind that it is of says more than that it is of no other.
            same = [one for one in options if _is_of(given, one["type"], one)]
            yield from _wrong_types(given, (same or options)[0], path)
        return
    wanted = schema.get("type", "string" if "enum" in schema or "const" in schema else None)
    also = _ALSO.get(_key(path), ()) if wanted == "string" else ()
    if also and isinstance(given, also) and not isinstance(given, (bool, datetime)):
        return
    if "const" in schema and not isinstance(schema["const"], str):
        return
    if wanted is not None and not _is_of(given, wanted, schema):
        words = "a day without quotes, as in 2026-10-05" if _is_day(schema) else _WORDS[wanted]
        yield path, f'"{_key(path)}" is {_shown(given)}; it must be {words}.', schema
        return
    longest = schema.get("maxLength", LONGEST_TEXT)
    if isinstance(given, str) and len(given) > longest:
        yield (
            path,
            f'"{_key(path)}" has {len(given):,} characters; it may have {longest:,}.',
            schema,
        )
    if isinstance(given, str) and "\0" in given:
        yield path, f'"{_key(path)}" has a NUL character in it. Take it out.', schema
    if isinstance(given, (Mapping, list)) and len(given) > MOST_THINGS:
        yield (
            path,
            f'"{_key(path)}" has {len(given):,} things; it may have {MOST_THINGS:,}.',
            schema,
        )
    for key, value, below in _within(schema, given):
        yield from _wrong_types(value, below, (*path, key))


def _outside(given: object, schema: Mapping[str, Any], path: tuple[str | int, ...]) -> Found:
    if isinstance(given, (int, float)) and not isinstance(given, bool):
        least, most = schema.get("minimum", -_MOST), schema.get("maximum", _MOST)
        above = schema.get("exclusiveMinimum", -math.inf)
        if not (least <= given <= most and given > above):
            low = f"above {above:,}" if "exclusiveMinimum" in schema else f"{least:,} or more"
            why = f" {schema['$comment']}" if "$comment" in schema else ""
            yield (
                path,
                (
                    f'"{_key(path)}" is {_shown(given)}; it is {low} and at most {most:,}.{why} '
                    "Look at the digits again."
                ),
            )
    for key, value, below in _within(schema, given):
        yield from _outside(value, below, (*path, key))


def _of_tables(schema: Mapping[str, Any]) -> bool:
    return "object" in (schema.get("type"), schema.get("items", {}).get("type"))


def _is_day(schema: Mapping[str, Any]) -> bool:
    return schema.get("format") == "date"


def _is_of(given: object, wanted: str, schema: Mapping[str, Any]) -> bool:
    match wanted:
        case "string":
            if _is_day(schema):
                return isinstance(given, date) and not isinstance(given, datetime)
            return isinstance(given, str)
        case "number":
            return isinstance(given, (int, float)) and not isinstance(given, bool)
        case "integer":
            return isinstance(given, int) and not isinstance(given, bool)
        case "boolean":
            return isinstance(given, bool)
        case "object":
            return isinstance(given, Mapping)
    return isinstance(given, list)


def _key(path: Sequence[str | int]) -> str:
    return str(next((one for one in reversed(path) if isinstance(one, str)), "this"))


def _shown(given: object) -> str:
    if isinstance(given, str):
        return f'"{given[:60]}"'
    if isinstance(given, bool):
        return str(given).lower()
    if isinstance(given, (Mapping, list)):
        return "a table" if isinstance(given, Mapping) else "a list"
    if isinstance(given, int) and abs(given) >= 10**18:
        return f"a number of some {int(math.log10(abs(given))) + 1:,} digits"
    return str(given)
