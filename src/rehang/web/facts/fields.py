"""A value of a file as it stands in a form: what shows it, and what is taken from what was typed.

Everything is read off the schema of a declaration, so that a new field of a file has its place on a
page without a line here.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date, datetime, time
from typing import Any

from rehang.trade.declared.values import Schema
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.wording import on_day

__all__ = [
    "default_of",
    "hint_of",
    "inner_of",
    "label_of",
    "options_of",
    "properties_of",
    "shape_of",
    "shown",
    "taken",
    "told",
]

# A list of so many things at most, and no fewer, stands side by side.
FEW = 4
# Words by which a hint says no more than its label.
_SMALL = frozenset(
    ("a", "an", "are", "as", "by", "day", "each", "for", "from", "have", "how", "in", "is", "it", "its",
     "many", "may", "of", "on", "one", "or", "that", "the", "they", "to", "what", "when", "which", "who",
     "with")
)  # fmt: skip
_THOUSANDS = re.compile(r"[+-]?[0-9]{1,3}(,[0-9]{3})+(\.[0-9]+)?")
_NUMBER = re.compile(r"[+-]?([0-9]{1,15}(\.[0-9]{0,15})?|\.[0-9]{1,15})")
Plain = Any


def label_of(key: str, schema: Schema) -> str:
    """What a field is called on a page."""
    words = key.replace("_", " ")
    return str(schema.get("title") or words[:1].upper() + words[1:])


def hint_of(key: str, schema: Schema) -> str:
    """What stands below its label: what the declaration says of it, if that is more."""
    said = str(schema.get("description", ""))
    return said if _words(said) - _words(label_of(key, schema)) - _SMALL else ""


def _words(text: str) -> set[str]:
    return set(re.findall(r"[^\W_]+", text.casefold()))


def default_of(schema: Schema) -> Plain:
    """What is meant where nothing is written; None where nothing is."""
    return schema.get("x-default")


def options_of(schema: Schema) -> list[str] | None:
    """The few values that a text may have; None where it may have any."""
    found = [schema["const"]] if isinstance(schema.get("const"), str) else schema.get("enum")
    return None if found is None else [str(one) for one in found]


def shape_of(schema: Schema) -> str:
    """How it is asked for.

    ``group`` a table of its own fields, ``rows`` several of them, ``named`` several by their names,
    ``few`` so many values side by side, ``many`` some of a few, ``lines`` a list or a free table,
    a line each; else one value: ``flag``, ``day``, ``choice``, ``number``, ``text`` or, where the
    file alone says it, ``fixed``.
    """
    schema = _fullest(schema)
    kind = schema.get("type")
    if kind == "object":
        if "properties" in schema:
            return "group"
        return "named" if options_of(inner_of(schema).get("items", {})) else "lines"
    if kind == "array":
        return _shape_of_list(schema)
    if kind == "boolean":
        return "flag"
    if options_of(schema) is not None:
        return "choice"
    if schema.get("format") == "date":
        return "day"
    if kind in ("number", "integer"):
        return "number"
    return "text" if kind == "string" else "fixed"


def _shape_of_list(schema: Schema) -> str:
    item = inner_of(schema)
    if shape_of(item) in ("group", "few"):
        return "rows"
    if schema.get("minItems") == schema.get("maxItems", 0) <= FEW:
        return "few"
    return "many" if options_of(item) else "lines"


def inner_of(schema: Schema) -> Schema:
    """The schema of each thing in a list, or of each value of a free table."""
    schema = _fullest(schema)
    found: Schema = schema.get("items") or schema.get("additionalProperties") or {}
    return found


def properties_of(schema: Schema) -> Mapping[str, Schema]:
    """The fields of a table, or of each table of a list."""
    schema = schema if "properties" in schema else inner_of(schema)
    found: Mapping[str, Schema] = schema.get("properties", {})
    return found


def _fullest(schema: Schema) -> Schema:
    """Of a value that may stand in two forms, the form that holds more of them."""
    for one in schema.get("anyOf", ()):
        if one.get("type") == "array":
            return {**schema, **one}
    return schema


# ---------------------------------------------------------------- on the page


def shown(schema: Schema, value: Plain) -> str:
    """A value as it stands in its field."""
    if value is None:
        return ""
    if shape_of(schema) == "lines":
        return "\n".join(_shown_lines(value))
    return _shown_one(value)


def _shown_one(value: Plain) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (date, datetime)):
        return value.isoformat()
    if isinstance(value, time):
        return f"{value:%H:%M}"
    if isinstance(value, list):
        return ", ".join(map(_shown_one, value))
    return str(value)


def _shown_lines(value: Plain) -> list[str]:
    if isinstance(value, Mapping):
        return [f"{name}: {_shown_one(one)}" for name, one in value.items()]
    return [_shown_one(one) for one in (value if isinstance(value, list) else [value])]


def told(value: Plain) -> str:
    """A value in a line of words, for a list and a summary: days as they are written on paper."""
    if isinstance(value, date):
        return on_day(value)
    if isinstance(value, Mapping):
        value = value.values()
    if isinstance(value, (list, type({}.values()))):
        return ", ".join(said for said in map(told, value) if said)
    return "" if value is None or isinstance(value, bool) else _shown_one(value)


# ---------------------------------------------------------------- from what was typed


def taken(schema: Schema, text: str) -> Plain:
    """What was typed, as the file holds it.

    Raises
    ------
    BadInput
        It is no number, no day, or a line that names nothing.
    """
    shape = shape_of(schema)
    if shape == "lines":
        lines = [line.strip() for line in text.splitlines() if line.strip()]
        if _fullest(schema)["type"] == "object":
            return dict(_named_line(inner_of(schema), line) for line in lines)
        return [taken_line(inner_of(schema), line) for line in lines]
    if shape == "number":
        return _number(text)
    if shape == "day":
        try:
            return date.fromisoformat(text)
        except ValueError:
            raise BadInput(f'"{text[:60]}" is no day. Write it as in 2026-10-05.') from None
    return text.replace("\r\n", "\n")


def taken_line(schema: Schema, line: str) -> Plain:
    """One line of a list: a value, or values set apart by commas."""
    if _fullest(schema).get("type") == "array":
        parts = [part.strip() for part in line.split(",") if part.strip()]
        return [taken(inner_of(schema), part) for part in parts]
    return taken(schema, line)


def _named_line(schema: Schema, line: str) -> tuple[str, Plain]:
    name, colon, rest = line.partition(":")
    if not colon or not name.strip() or not rest.strip():
        raise BadInput(f'"{line[:60]}" is to be a name, a colon and what it has, as in left: 5530.')
    return name.strip(), taken_line(schema, rest.strip())


def _number(text: str) -> int | float:
    # A comma between thousands; anywhere else it may be a point, and ten times too much is no guess.
    plain = text.replace(",", "") if _THOUSANDS.fullmatch(text) else text
    if not _NUMBER.fullmatch(plain):
        raise BadInput(f'"{text[:60]}" is not a number. Write digits, as in 0.8 or 1,500.')
    return float(plain) if "." in plain else int(plain)
