"""How a file of facts is declared: each key once, in the class that the file is read into.

A class says of each field what may stand in the file (:class:`Text`, :class:`Number` and their
fellows); pydantic reads by that. A key that no file has is marked :class:`NotInFile`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import KW_ONLY, dataclass
from datetime import date, datetime
from types import MappingProxyType
from typing import Any

from pydantic import ConfigDict
from pydantic_core import PydanticCustomError, PydanticOmit, core_schema

from rehang.trade.terms.errors import BadInput

__all__ = [
    "LENIENT",
    "LONGEST_TEXT",
    "MOST",
    "MOST_THINGS",
    "OWN",
    "STRICT",
    "Day",
    "Flag",
    "Given",
    "ListOf",
    "NotInFile",
    "Number",
    "OneOf",
    "Schema",
    "TableOf",
    "Text",
    "Whole",
    "absent",
    "nothing",
    "said",
    "unfit",
]

Schema = dict[str, Any]

LONGEST_TEXT = 4_000
MOST_THINGS = 5_000
# Any number with no bounds of its own.
MOST = 1_000_000_000
# What a declared class says of itself to pydantic.
STRICT = ConfigDict(extra="forbid", arbitrary_types_allowed=True)
# The same, where older files may have more than anything reads.
LENIENT = ConfigDict(extra="ignore", arbitrary_types_allowed=True)

# No NUL character, which no store holds; where the text is needed, something to be seen as well.
_ANY_TEXT = r"\A[^\x00]*\z"
_SOME_TEXT = r"\A[^\x00]*[^\s\x00][^\x00]*\z"
# Keys of a schema that are ours and are not published.
OWN = "x-"


class _Value:
    """What may stand at a key. It gives pydantic its reader, and the schema as it is published.

    ``wrong`` is said of a value that cannot be, ``mistyped`` of one of another type and ``needs`` of
    none, instead of the general sentence; ``{key}``, ``{given}``, ``{options}``, the ``{list}`` that
    it stands in and each key of the table may stand in them.
    """

    def core(self) -> core_schema.CoreSchema:
        raise NotImplementedError

    def schema(self) -> Schema:
        raise NotImplementedError

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> core_schema.CoreSchema:
        return self.core()

    def __get_pydantic_json_schema__(self, core: Any, handler: Any) -> Schema:
        return self.schema()


def _described(schema: Schema, description: str, **own: object) -> Schema:
    if description:
        schema["description"] = description
    return schema | {f"{OWN}{key}": value for key, value in own.items() if value}


@dataclass(frozen=True, slots=True)
class Text(_Value):
    """A text. ``needed`` is not blank; ``also`` are types that stand without quotes and are read as text.

    ``parse`` makes something else of it. ``pattern`` is one that is published; ``parse`` holds the
    text to it. ``known`` are those that do something; older files may have another.
    """

    description: str = ""
    _: KW_ONLY
    longest: int = LONGEST_TEXT
    needed: bool = False
    needs: str = ""
    also: tuple[type, ...] = ()
    parse: Callable[[str], object] | None = None
    wrong: str = ""
    mistyped: str = ""
    pattern: str = ""
    known: tuple[str, ...] = ()

    def core(self) -> core_schema.CoreSchema:
        found: core_schema.CoreSchema = core_schema.str_schema(
            strict=True,
            max_length=self.longest,
            pattern=_SOME_TEXT if self.needed else _ANY_TEXT,
        )
        if self.also:
            found = core_schema.no_info_before_validator_function(self._written, found)
        if self.parse is not None:
            found = core_schema.no_info_after_validator_function(said(self.parse), found)
        return found

    def _written(self, given: object) -> object:
        if type(given) not in self.also:
            return given
        if isinstance(given, (int, float)) and not abs(given) <= MOST:
            raise PydanticCustomError("less_than_equal", "beyond all bounds")
        return str(given)

    def schema(self) -> Schema:
        bare: Schema = {"enum": list(self.known)} if self.known else {"type": "string"}
        if self.longest != LONGEST_TEXT:
            bare["maxLength"] = self.longest
        if self.pattern:
            bare["pattern"] = self.pattern
        return _described(
            bare, self.description, wrong=self.wrong, mistyped=self.mistyped, needs=self.needs
        )


@dataclass(frozen=True, slots=True)
class OneOf(_Value):
    """A text that is one of a few; with ``blank`` an empty one is as good as left out."""

    options: tuple[str, ...]
    description: str = ""
    _: KW_ONLY
    needed: bool = False
    blank: bool = False
    parse: Callable[[str], object] | None = None
    wrong: str = ""
    mistyped: str = ""

    def core(self) -> core_schema.CoreSchema:
        options = [*self.options, ""] if self.blank else list(self.options)
        found: core_schema.CoreSchema = core_schema.chain_schema(
            [Text(needed=self.needed).core(), core_schema.literal_schema(options)]
        )
        if self.parse is None:
            return found
        return core_schema.no_info_after_validator_function(self.parse, found)

    def schema(self) -> Schema:
        bare: Schema = {"enum": list(self.options)}
        if len(self.options) == 1:
            bare = {"const": self.options[0]}
        return _described(bare, self.description, wrong=self.wrong, mistyped=self.mistyped)


@dataclass(frozen=True, slots=True)
class Number(_Value):
    """A number with its bounds; they keep slips out and are no limits of the trade.

    ``above`` is a bound that it may not reach, ``why`` what the sentence of a bound adds and
    ``parse`` makes something else of it.
    """

    least: float = -MOST
    most: float = MOST
    description: str = ""
    _: KW_ONLY
    above: float | None = None
    why: str = ""
    parse: Callable[[float], object] | None = None
    wrong: str = ""
    mistyped: str = ""

    def core(self) -> core_schema.CoreSchema:
        found = core_schema.float_schema(strict=True, le=self.most, **self._low())
        if self.parse is None:
            return found
        return core_schema.no_info_after_validator_function(said(self.parse), found)

    def _low(self) -> dict[str, Any]:
        return {"ge": self.least} if self.above is None else {"gt": self.above}

    def _type(self) -> str:
        return "number"

    def schema(self) -> Schema:
        bounds: Schema = {}
        if self.above is not None:
            bounds["exclusiveMinimum"] = self.above
        elif self.least != -MOST:
            bounds["minimum"] = self.least
        if self.most != MOST:
            bounds["maximum"] = self.most
        why = {"$comment": self.why} if self.why else {}
        return (
            _described(
                {"type": self._type(), **bounds},
                self.description,
                wrong=self.wrong,
                mistyped=self.mistyped,
            )
            | why
        )


@dataclass(frozen=True, slots=True)
class Whole(Number):
    """A whole number with its bounds."""

    def core(self) -> core_schema.CoreSchema:
        low: dict[str, Any] = {key: math.ceil(bound) for key, bound in self._low().items()}
        return core_schema.int_schema(strict=True, le=math.floor(self.most), **low)

    def _type(self) -> str:
        return "integer"


@dataclass(frozen=True, slots=True)
class Flag(_Value):
    """True or false."""

    description: str = ""
    _: KW_ONLY
    wrong: str = ""
    mistyped: str = ""

    def core(self) -> core_schema.CoreSchema:
        return core_schema.bool_schema(strict=True)

    def schema(self) -> Schema:
        return _described(
            {"type": "boolean"}, self.description, wrong=self.wrong, mistyped=self.mistyped
        )


@dataclass(frozen=True, slots=True)
class Day(_Value):
    """A day of the calendar, written without quotes."""

    description: str = ""
    _: KW_ONLY
    needs: str = ""

    def core(self) -> core_schema.CoreSchema:
        return core_schema.no_info_plain_validator_function(_day)

    def schema(self) -> Schema:
        bare = {"type": "string", "format": "date"}
        return _described(bare, self.description, needs=self.needs)


def _day(given: object) -> date:
    if not isinstance(given, date) or isinstance(given, datetime):
        raise PydanticCustomError("date_type", "no day")
    return given


@dataclass(frozen=True, slots=True)
class ListOf(_Value):
    """A list of the values it names, or of tables of a declared class.

    ``one`` lets a single value stand for a list of one; ``or_text`` lets a text stand for none, which
    whoever reads the file makes something of.
    """

    item: _Value | type
    description: str = ""
    _: KW_ONLY
    least: int = 0
    most: int | None = None
    into: Callable[[Any], object] = tuple
    one: bool = False
    or_text: bool = False
    needs: str = ""
    wrong: str = ""
    mistyped: str = ""

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> core_schema.CoreSchema:
        inner = self.item.core() if isinstance(self.item, _Value) else handler(self.item)
        found: core_schema.CoreSchema = core_schema.list_schema(
            inner, strict=True, min_length=self.least or None, max_length=self.most or MOST_THINGS
        )
        if self.one or self.or_text:
            found = core_schema.no_info_before_validator_function(self._as_list, found)
        return core_schema.no_info_after_validator_function(said(self.into), found)

    def __get_pydantic_json_schema__(self, core: Any, handler: Any) -> Schema:
        if isinstance(self.item, _Value):
            inner = self.item.schema()
        else:
            listed = core["schema"]
            inner = handler(listed.get("schema", listed)["items_schema"])
        found: Schema = {"type": "array", "items": inner}
        if self.least:
            found["minItems"] = self.least
        if self.most:
            found["maxItems"] = self.most
        if self.one or self.or_text:
            found = {"anyOf": [{"type": "string"} if self.or_text else inner, found]}
        return _described(
            found, self.description, wrong=self.wrong, mistyped=self.mistyped, needs=self.needs
        )

    def _as_list(self, given: object) -> object:
        if self.one:
            return given if isinstance(given, list) else [given]
        if isinstance(given, str) and len(given) > LONGEST_TEXT:
            raise PydanticCustomError("string_too_long", "too long")
        if isinstance(given, str) and "\0" in given:
            raise PydanticCustomError("string_pattern_mismatch", "not text")
        return [] if isinstance(given, str) else given

    def core(self) -> core_schema.CoreSchema:
        return self.__get_pydantic_core_schema__(None, None)

    def schema(self) -> Schema:
        return self.__get_pydantic_json_schema__(None, None)


@dataclass(frozen=True, slots=True)
class TableOf(_Value):
    """A table of names that are free; each holds the value given. ``known`` are those that do something."""

    item: _Value
    description: str = ""
    _: KW_ONLY
    names: tuple[str, ...] = ()
    known: tuple[str, ...] = ()
    least: int = 0
    into: Callable[[Any], object] = MappingProxyType
    wrong: str = ""
    mistyped: str = ""

    def core(self) -> core_schema.CoreSchema:
        return core_schema.no_info_after_validator_function(
            said(self.into),
            core_schema.dict_schema(
                core_schema.str_schema(),
                self.item.core(),
                strict=True,
                min_length=self.least or None,
                max_length=MOST_THINGS,
            ),
        )

    def schema(self) -> Schema:
        names: Schema = {"propertyNames": {"enum": list(self.names)}} if self.names else {}
        if self.known:
            held = dict.fromkeys(self.known, self.item.schema())
            names = {"properties": held, "additionalProperties": False}
            return _described({"type": "object", **names}, self.description)
        return _described(
            {"type": "object", **names, "additionalProperties": self.item.schema()},
            self.description,
            wrong=self.wrong,
            mistyped=self.mistyped,
        )


@dataclass(frozen=True, slots=True)
class Given(_Value):
    """Whatever stands there, for a rule that says of itself what it takes; ``published`` as it is."""

    published: Mapping[str, object]

    def core(self) -> core_schema.CoreSchema:
        return core_schema.any_schema()

    def schema(self) -> Schema:
        return dict(self.published)


class NotInFile(_Value):
    """A field that is worked out: no key of the file gives it."""

    def core(self) -> core_schema.CoreSchema:
        def refuse(given: object) -> object:
            raise PydanticCustomError("unexpected_keyword_argument", "not in the file")

        return core_schema.no_info_plain_validator_function(refuse)

    def schema(self) -> Schema:
        raise PydanticOmit


def nothing() -> Mapping[Any, Any]:
    """A table with nothing in it, for a key that is left out."""
    return MappingProxyType({})


def absent() -> PydanticCustomError:
    """What ``parse`` raises for a text that is as good as not written."""
    return PydanticCustomError("missing", "as good as not written")


def unfit() -> PydanticCustomError:
    """What ``parse`` raises for a text that cannot be; ``wrong`` says why."""
    return PydanticCustomError("literal_error", "not one that can be")


def said(make: Callable[..., object]) -> Callable[..., object]:
    """What a maker of values refuses, as a fault of its key."""

    def made(given: object) -> object:
        try:
            return make(given)
        except BadInput as refusal:
            raise PydanticCustomError(
                "said", "{sentence}", {"sentence": refusal.sentence}
            ) from None

    return made
