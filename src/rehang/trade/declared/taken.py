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
        _fault(_at(schema, raw, error["loc"]), error["type"], error.get("ctx", {}))
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


@dataclass(frozen=True, slots=True)
class _At:
    """A place in a file: its key, what stands there, and the schemas of it and of its table.

    ``words`` is what its sentence may name: the keys of every table around it, so that a tool is
    told by the task it is for.
    """

    path: Path
    key: str
    given: Any
    schema: Schema
    above: Schema
    words: _Told

    @property
    def thing(self) -> str:
        return str(self.above.get("x-thing", "This"))

    def own(self, name: str, sentence: str) -> str:
        """What the declaration says of such a fault, or the general sentence."""
        said = self.schema.get(f"x-{name}")
        return said.format_map(self.words) if said else sentence

    @property
    def needs(self) -> str:
        said = self.schema.get("x-needs") or self.above.get("x-needs") or '{thing} needs "{key}".'
        return str(said.format_map(self.words))


class _Told(dict[str, Any]):
    def __missing__(self, key: str) -> str:
        return "this"


def _at(schema: Schema, raw: Any, path: Path) -> _At:
    words = _Told()
    given, above, around = raw, schema, None
    for step in path:
        around = given if isinstance(given, list) else None
        if isinstance(given, Mapping):
            words.update(given)
            above = schema
        schema = _below(schema, step)
        if isinstance(given, Mapping) and isinstance(step, str):
            given = given.get(step)
        elif isinstance(given, list) and isinstance(step, int):
            given = given[step]
    key = next((one for one in reversed(path) if isinstance(one, str)), "this")
    words |= {
        "thing": above.get("x-thing", "This"),
        "key": key,
        "given": given,
        "list": given if around is None else around,
        "options": ", ".join(one for one in schema.get("enum", ()) if one),
    }
    return _At(path, key, given, schema, above, words)


def _fault(at: _At, error: str, context: Mapping[str, Any]) -> Fault:
    """What pydantic calls ``error``, in our words."""
    phase, sentence = _told(at, error, context)
    return Fault(at.path, sentence, phase, error != "missing")


def _told(at: _At, error: str, context: Mapping[str, Any]) -> tuple[int, str]:
    key, given = at.key, at.given
    match error:
        case "less_than_equal":
            return _BOUND, _bound(at)
        case "greater_than" | "greater_than_equal":
            return _BOUND, at.own("wrong", _bound(at))
        case "unexpected_keyword_argument":
            return _UNKNOWN, _unknown(at.thing, key, at.above.get("properties", ()))
        case "missing":
            return _MISSING, at.needs
        case "string_pattern_mismatch" if "\0" in str(given):
            return _TYPE, f'"{key}" has a NUL character in it. Take it out.'
        case "string_pattern_mismatch":
            # Blank, and a text is needed.
            return _MISSING, at.needs
        case "too_short" if not given and _least(at.schema) == 1:
            return _MISSING, at.needs
        case "string_too_long":
            longest = at.schema.get("maxLength", LONGEST_TEXT)
            return _TYPE, f'"{key}" has {len(given):,} characters; it may have {longest:,}.'
        case "too_long" if len(given) > MOST_THINGS:
            return _TYPE, _too_many(key, given)
        case "too_long" | "too_short":
            said = f'"{key}" has {len(given)} things, which is not as many as it takes.'
            return _RULE, at.own("wrong", said)
        case "literal_error":
            said = f'"{key}" is "{given}". Write one of {at.words["options"]}.'
            return _RULE, at.own("wrong", said)
        case "said":
            return _RULE, context["sentence"]
    wanted = _type_words(at.schema)
    return _TYPE, at.own("mistyped", f'"{key}" is {_shown(given)}; it must be {wanted}.')


def _least(schema: Schema) -> object:
    """How many things a list has at least, where one has a least number."""
    lists = [schema, *schema.get("anyOf", [])]
    return next((one["minItems"] for one in lists if "minItems" in one), None)


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


def _bound(at: _At) -> str:
    schema = at.schema
    most = schema.get("maximum", MOST)
    low = f"{schema.get('minimum', -MOST):,} or more"
    if "exclusiveMinimum" in schema:
        low = f"above {schema['exclusiveMinimum']:,}"
    why = f" {schema['$comment']}" if "$comment" in schema else ""
    return (
        f'"{at.key}" is {_shown(at.given)}; it is {low} and at most {most:,}.{why} '
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
