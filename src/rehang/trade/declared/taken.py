"""What is taken from a file of facts, and the sentence of what is not.

What is wrong is told in one order, whatever the file: a type first, then a bound, a key that
nothing reads, one that is missing, a rule; of two alike the one that stands first in the file.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol, TypeVar, cast

from pydantic import ValidationError

from rehang.trade.declared.published import adapter, schema_of
from rehang.trade.declared.values import LONGEST_TEXT, MOST, MOST_THINGS, Schema
from rehang.trade.terms.errors import BadInput

__all__ = ["Fault", "Where", "by_id", "faults_in", "inside", "only", "read", "tables"]

Where = Callable[..., str]
Path = tuple[str | int, ...]
T = TypeVar("T")


class _Identified(Protocol):
    @property
    def id(self) -> str: ...


Thing = TypeVar("Thing", bound=_Identified)


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong at a path of a table. ``phase`` says what is told first: a type, a bound, a rule.

    ``is_written`` is False where the key is missing.
    """

    path: Path
    sentence: str
    phase: int
    is_written: bool = True

    @property
    def is_type(self) -> bool:
        return self.phase == _TYPE

    @property
    def is_bound(self) -> bool:
        return self.phase == _BOUND


def read(
    kind: type[T], raw: Mapping[str, Any], where: Where = lambda *keys: "", context: object = None
) -> T:
    """A table of a file as the class that declares it.

    Raises
    ------
    BadInput
        With the place, for what is wrong first: a type, a bound, a key, a rule.
    """
    try:
        return cast("T", adapter(kind).validate_python(raw, context=context))
    except ValidationError as problem:
        first = _faults(kind, raw, problem)[0]
    raise BadInput(first.sentence, where(*_to_line(first.path)))


def faults_in(kind: type, raw: Mapping[str, Any], context: object = None) -> list[Fault]:
    """All that is wrong with a table, what is told first at the head."""
    try:
        adapter(kind).validate_python(raw, context=context)
    except ValidationError as problem:
        return _faults(kind, raw, problem)
    return []


def tables(key: str, raw: Mapping[str, Any], where: Where) -> list[Mapping[str, Any]]:
    """The ``[[key]]`` tables of a file, to be read one by one.

    Raises
    ------
    BadInput
        With the place, where they are no list of tables.
    """
    given: Any = raw.get(key, [])
    if not isinstance(given, list):
        raise BadInput(f'"{key}" is {_shown(given)}; it must be a list.', where(key))
    if len(given) > MOST_THINGS:
        raise BadInput(_too_many(key, given), where(key))
    for one in given:
        if not isinstance(one, Mapping):
            raise BadInput(f'"{key}" is {_shown(one)}; it must be a table.', where(key))
    return given


def inside(where: Where, *prefix: str | int) -> Where:
    """What places the keys of a table within its file."""
    return lambda *keys: where(*prefix, *keys)


def by_id(things: Iterable[Thing], key: str, where: Where) -> dict[str, Thing]:
    """The things of a list by their ids; two of one id are refused."""
    found: dict[str, Thing] = {}
    for number, one in enumerate(things):
        if one.id in found:
            raise BadInput(
                f'There are two "{one.id}". Give each its own id.', where(key, number, "id")
            )
        found[one.id] = one
    return found


def only(given: Iterable[str], known: Iterable[str], thing: str, where: Where) -> None:
    """Refuse a key that nothing reads."""
    for key in given:
        if key not in known:
            raise BadInput(_unknown(thing, key, known), where(key))


def _unknown(thing: str, key: object, known: Iterable[str]) -> str:
    return f'{thing} has no "{key}". It has {", ".join(sorted(known))}.'


_TYPE, _BOUND, _UNKNOWN, _MISSING, _RULE = range(5)
_WORDS = {
    "string": "text", "number": "a number", "integer": "a whole number", "boolean": "true or false",
    "object": "a table", "array": "a list",
}  # fmt: skip


def _faults(kind: type, raw: Mapping[str, Any], problem: ValidationError) -> list[Fault]:
    schema = schema_of(kind)
    found = [
        _fault(schema, raw, error["type"], error["loc"], error.get("ctx", {}))
        for error in problem.errors(include_url=False, include_input=False)
    ]
    return sorted(found, key=lambda one: (one.phase, _place_of(raw, one.path)))


def _place_of(raw: Any, path: Path) -> list[int]:
    """Where in the file a path stands, so that what is written first is told first."""
    found = []
    for key in path:
        if isinstance(key, str) and isinstance(raw, Mapping):
            found.append(list(raw).index(key) if key in raw else len(raw))
            raw = raw.get(key)
        elif isinstance(key, int):
            found.append(key)
            raw = raw[key] if isinstance(raw, list) else raw
    return found


def _fault(schema: Schema, raw: Any, error: str, loc: Path, context: Mapping[str, Any]) -> Fault:
    table: dict[str, Any] = {}
    given, above, held = raw, schema, None
    path: list[str | int] = []
    for step in loc:
        held = given if isinstance(given, list) else None
        if isinstance(given, Mapping):
            # What stands around it may be named in its sentence: a tool by the task it is for.
            table, above = {**table, **given}, schema
        path.append(step)
        schema = _below(schema, step)
        if isinstance(given, Mapping) and isinstance(step, str):
            given = given.get(step)
        elif isinstance(given, list) and isinstance(step, int):
            given = given[step]
    key = next((one for one in reversed(path) if isinstance(one, str)), "this")

    def fault(phase: int, sentence: str) -> Fault:
        return Fault(tuple(path), sentence, phase, error != "missing")

    options = ", ".join(one for one in schema.get("enum", ()) if one)
    thing = above.get("x-thing", "This")
    whole = given if held is None else held
    told = _Told(
        {**table, "thing": thing, "key": key, "given": given, "list": whole, "options": options}
    )

    def wrong(phase: int, sentence: str) -> Fault:
        own = schema.get("x-mistyped" if phase == _TYPE else "x-wrong", "")
        return fault(phase, own.format_map(told) if own else sentence)

    if error == "less_than_equal":
        return fault(_BOUND, _bound(key, given, schema))
    if error in ("greater_than", "greater_than_equal"):
        return wrong(_BOUND, _bound(key, given, schema))
    if error == "unexpected_keyword_argument":
        return fault(_UNKNOWN, _unknown(thing, key, above.get("properties", ())))
    blank = error == "string_pattern_mismatch" and "\0" not in str(given)
    empty = error == "too_short" and not given and schema.get("minItems") == 1
    if error == "missing" or blank or empty:
        needs = schema.get("x-needs") or above.get("x-needs") or '{thing} needs "{key}".'
        return fault(_MISSING, needs.format_map(told))
    match error:
        case "string_too_long":
            longest = schema.get("maxLength", LONGEST_TEXT)
            return fault(_TYPE, f'"{key}" has {len(given):,} characters; it may have {longest:,}.')
        case "string_pattern_mismatch":
            return fault(_TYPE, f'"{key}" has a NUL character in it. Take it out.')
        case "too_long" if len(given) > MOST_THINGS:
            return fault(_TYPE, _too_many(key, given))
        case "said":
            return fault(_RULE, context["sentence"])
        case "literal_error":
            return wrong(_RULE, f'"{key}" is "{given}". Write one of {options}.')
        case "too_long" | "too_short":
            return wrong(
                _RULE, f'"{key}" has {len(given)} things, which is not as many as it takes.'
            )
    return wrong(_TYPE, f'"{key}" is {_shown(given)}; it must be {_type_words(schema)}.')


class _Told(dict[str, Any]):
    def __missing__(self, key: str) -> str:
        return "this"


def _below(schema: Schema, step: str | int) -> Schema:
    """The schema of what stands one step below; of a value or a list of it, by the step."""
    for one in schema.get("anyOf", []):
        if ("items" if isinstance(step, int) else "properties") in one:
            schema = one
    if isinstance(step, int):
        return cast("Schema", schema.get("items", schema))
    known = schema.get("properties", {})
    rest = schema.get("additionalProperties")
    return cast("Schema", known.get(step) or (rest if isinstance(rest, dict) else {}))


def _bound(key: str, given: object, schema: Schema) -> str:
    most = schema.get("maximum", MOST)
    low = f"{schema.get('minimum', -MOST):,} or more"
    if "exclusiveMinimum" in schema:
        low = f"above {schema['exclusiveMinimum']:,}"
    why = f" {schema['$comment']}" if "$comment" in schema else ""
    return (
        f'"{key}" is {_shown(given)}; it is {low} and at most {most:,}.{why} '
        "Look at the digits again."
    )


def _type_words(schema: Schema) -> str:
    options = [one for one in schema.get("anyOf", []) if "type" in one]
    if options:
        return _type_words(options[0])
    if schema.get("format") == "date":
        return "a day without quotes, as in 2026-10-05"
    return _WORDS[schema.get("type", "string")]


def _too_many(key: str, given: Any) -> str:
    return f'"{key}" has {len(given):,} things; it may have {MOST_THINGS:,}.'


def _to_line(path: Sequence[str | int]) -> Sequence[str | int]:
    """As much of a path as has a line of its own: the key in its table, not a place in a list."""
    keys = list(path)
    while len(keys) > 1 and isinstance(keys[-1], int):
        keys.pop()
    return keys


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
