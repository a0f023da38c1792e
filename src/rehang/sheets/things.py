"""The things that the files of facts hold, and the text of a file with one of them changed.

Which things there are is taken from the declarations of the files (decision 22). A change is made in
the part of the text that holds the thing: every other byte stays, a mechanic's comments with it.
Nothing is checked here: the whole text is read again by
:func:`rehang.sheets.folder.parse_files` before it is filed.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any, get_type_hints

import tomlkit
from tomlkit.items import AoT, Item, Table

from rehang.sheets.file_schemas import FILES
from rehang.sheets.toml_text import read_toml
from rehang.trade.declared.published import schema_of
from rehang.trade.declared.values import ListOf

__all__ = ["ONE", "THINGS", "ThingKind", "add", "drop", "put", "things_in"]

# The key of the only thing of a kind that a file has once.
ONE = ""
Plain = dict[str, Any]


@dataclass(frozen=True, slots=True)
class ThingKind:
    """One kind of thing in one file.

    ``table`` is the name of its tables, as in ``[[person]]``; empty for what the file says of itself,
    which it has once. ``declaration`` is the class of one, ``key`` are the fields that tell two of
    them apart and ``fields`` those that it may have, as they are written in the file.
    """

    name: str
    file: str
    table: str
    declaration: type
    key: tuple[str, ...]
    fields: tuple[str, ...]

    @property
    def is_list(self) -> bool:
        """Whether a file may have several of it."""
        return bool(self.table)

    def key_of(self, thing: Mapping[str, Any]) -> str:
        """What tells a thing from the others of its kind, in a line."""
        return " ".join(said for said in (_in_line(thing.get(one)) for one in self.key) if said)


def _in_line(value: object) -> str:
    if isinstance(value, Mapping):
        return " ".join(f"{name}={one}" for name, one in sorted(value.items()))
    if isinstance(value, list):
        return ", ".join(map(str, value))
    return "" if value is None else str(value)


def _kinds() -> Iterator[ThingKind]:
    for file, whole in FILES.items():
        own = dict.fromkeys(schema_of(whole)["properties"])
        for name, hint in get_type_hints(whole, include_extras=True).items():
            said = getattr(hint, "__metadata__", ())
            found = next((one.item for one in said if isinstance(one, ListOf)), None)
            if isinstance(found, type):
                del own[name]
                key = getattr(found, "__key__", ("id",))
                yield ThingKind(name, file, name, found, key, tuple(schema_of(found)["properties"]))
        if own:
            stem = file.removesuffix(".toml")
            only = next(iter(own)) if len(own) == 1 else ""
            name = "-".join(one for one in (stem, only) if one)
            yield ThingKind(name, file, "", whole, (), tuple(own))


# Every kind of thing in every file of facts, by its name.
THINGS: Mapping[str, ThingKind] = MappingProxyType({one.name: one for one in _kinds()})


def things_in(text: str, kind: ThingKind) -> dict[str, Plain]:
    """The things of a kind in the text of its file, by their keys and in their order.

    Raises
    ------
    BadInput
        The text is no TOML.
    """
    return _by_key(read_toml(kind.file, text), kind)


def _by_key(raw: Plain, kind: ThingKind) -> dict[str, Plain]:
    if not kind.is_list:
        own = {key: raw[key] for key in kind.fields if key in raw}
        return {ONE: own} if own else {}
    found: dict[str, Plain] = {}
    listed = raw.get(kind.table)
    for one in listed if isinstance(listed, list) else []:
        if not isinstance(one, dict):
            continue
        key, again = kind.key_of(one), 1
        # A text from before a rule may have two that nothing tells apart; neither is lost.
        while (numbered := key if again == 1 else f"{key} ({again})") in found:
            again += 1
        found[numbered] = one
    return found


def put(text: str, kind: ThingKind, key: str, thing: Mapping[str, Any]) -> str:
    """The text with the whole of ``thing`` in the place of the one of that key, or added at its end.

    ``thing`` may say another key than the one that it takes the place of.
    """
    raw = read_toml(kind.file, text)
    held = _by_key(raw, kind)
    if not kind.is_list:
        return _with_own(text, kind, dict(thing))
    if key not in held:
        return add(text, kind, thing)
    parts, text = _parts_of(text, raw, kind, len(held))
    part = parts[list(held).index(key)]
    new = _changed(text[part.start : part.end], held[key], dict(thing), kind)
    return text[: part.start] + new + text[part.end :]


def add(text: str, kind: ThingKind, thing: Mapping[str, Any]) -> str:
    """The text with one more thing at its end, be there one of its key or not."""
    before = text if not text or text.endswith("\n") else f"{text}\n"
    gap = "\n" if before.strip() else ""
    return f"{before}{gap}{_written_anew(kind, thing)}"


def drop(text: str, kind: ThingKind, key: str) -> str:
    """The text without the thing of that key; as it was where there is none."""
    raw = read_toml(kind.file, text)
    held = _by_key(raw, kind)
    if key not in held:
        return text
    if not kind.is_list:
        return _with_own(text, kind, {})
    parts, text = _parts_of(text, raw, kind, len(held))
    part = parts[list(held).index(key)]
    before, after = text[: part.start], text[part.end :]
    # The blank lines behind it go with it; those before it stay, for what comes next.
    after = re.sub(r"\A(?:[ \t]*\r?\n)*", "", after)
    return before + after if after else f"{before.rstrip()}\n".lstrip("\n")


# ---------------------------------------------------------------- parts of a text


@dataclass(frozen=True, slots=True)
class _Part:
    """Where a table stands with all below it: ``[[person]]`` with its ``[[person.certificate]]``.

    ``name`` is empty for what stands above the first table. Comments and blank lines behind the last
    key belong to what follows.
    """

    name: str
    is_list: bool
    start: int
    end: int


# What may hide a bracket or the end of a line, and these themselves.
_TOKEN = re.compile(
    r'"""(?:\\.|[^\\])*?"{3,5}'
    r"|'''.*?'{3,5}"
    r'|"(?:\\.|[^"\\\n])*"'
    r"|'[^'\n]*'"
    r"|#[^\n]*"
    r"|[\[\]{}\n]",
    re.DOTALL,
)
_DEEPER = {"[": 1, "{": 1, "]": -1, "}": -1}


def _lines(text: str) -> Iterator[tuple[int, int]]:
    """Where each line begins and ends; a value of several lines is one."""
    depth = start = 0
    for token in _TOKEN.finditer(text):
        if token[0] in _DEEPER:
            depth += _DEEPER[token[0]]
        elif token[0] == "\n" and depth == 0:
            yield start, token.end()
            start = token.end()
    if start < len(text):
        yield start, len(text)


def _parts(text: str) -> list[_Part]:
    """The parts of a text that is good TOML, in order."""
    found = [_Part("", False, 0, 0)]
    for start, end in _lines(text):
        line = text[start:end].strip()
        if not line or line.startswith("#"):
            continue
        if line.startswith("["):
            path, is_list = _path(line)
            if len(path) == 1 or path[0] != found[-1].name:
                found.append(_Part(path[0], is_list and len(path) == 1, start, end))
        found[-1] = replace(found[-1], end=end)
    return found


def _path(head: str) -> tuple[tuple[str, ...], bool]:
    """The names in a table's head, and whether it is one of a list."""
    found: Any = tomllib.loads(head)
    is_list = head.strip().startswith("[[")
    path = []
    while found:
        if isinstance(found, list):
            found = found[0]
        else:
            name = next(iter(found))
            path.append(name)
            found = found[name]
    return tuple(path), is_list


def _parts_of(text: str, raw: Plain, kind: ThingKind, count: int) -> tuple[list[_Part], str]:
    """The parts of a text that are the things of a kind, and the text that they are parts of."""

    def found(of: str) -> list[_Part]:
        return [one for one in _parts(of) if one.is_list and one.name == kind.table]

    parts = found(text)
    whole = [tomllib.loads(text[one.start : one.end])[kind.table] for one in parts]
    if len(parts) == count and [one for part in whole for one in part] == raw[kind.table]:
        return parts, text
    # Written as one list, or with its inner tables elsewhere: the file is written anew.
    text = tomlkit.dumps(raw)
    return found(text), text


# ---------------------------------------------------------------- writing


def _same(one: object, other: object) -> bool:
    # Not by ==: true is 1 there, and 1 is 1.0.
    return repr(one) == repr(other)


def _written_anew(kind: ThingKind, thing: Mapping[str, Any]) -> str:
    """A thing as a part of its own: inner lists of tables below its keys."""
    document, tables = tomlkit.document(), tomlkit.aot()
    table = tomlkit.table()
    for below in (False, True):
        for key, value in thing.items():
            if _is_tables(value) is below:
                table[key] = _written(value)
    tables.append(table)
    document[kind.table] = tables
    return tomlkit.dumps(document)


def _changed(part: str, old: Plain, new: Plain, kind: ThingKind) -> str:
    """A part with the keys of ``old`` made those of ``new``; comments beside the others stay."""
    document = tomlkit.parse(part)
    tables = document[kind.table]
    if isinstance(tables, AoT):
        _change(tables[0], old, new)
        found = tomlkit.dumps(document)
        if _same_things(found, {kind.table: [new]}):
            return found
    return _written_anew(kind, new)


def _same_things(text: str, wanted: Plain) -> bool:
    try:
        return bool(tomllib.loads(text) == wanted)
    except tomllib.TOMLDecodeError:
        return False


def _change(table: Table, old: Plain, new: Plain) -> None:
    for key in old:
        if key not in new:
            del table[key]
    for key, value in new.items():
        if key in old and _same(old[key], value):
            continue
        written = _written(value)
        # A table in the place of a value would take the keys below it for its own.
        if key in table and any(isinstance(one, (AoT, Table)) for one in (table[key], written)):
            del table[key]
        table[key] = written


def _is_tables(value: object) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(one, dict) for one in value)


def _written(value: Any) -> Item:
    """A value as it stands in a file: lists of tables one below the other, a table in one line."""
    if _is_tables(value):
        tables = tomlkit.aot()
        for one in value:
            row = tomlkit.table()
            for key, inner in one.items():
                row[key] = _in_one_line(inner)
            tables.append(row)
        return tables
    return _in_one_line(value)


def _in_one_line(value: Any) -> Item:
    if isinstance(value, Mapping):
        line = tomlkit.inline_table()
        for key, one in value.items():
            line[key] = _in_one_line(one)
        return line
    if isinstance(value, list):
        array = tomlkit.array()
        for one in value:
            array.append(_in_one_line(one))
        return array
    made: Item = tomlkit.item(value)
    return made


def _with_own(text: str, kind: ThingKind, new: Plain) -> str:
    """The text with what its file says of itself made ``new``, each key where it stood."""
    raw = read_toml(kind.file, text)
    wanted = {key: value for key, value in raw.items() if key not in kind.fields} | new
    parts = _parts(text)
    above = {key: new[key] for key in new if all(one.name != key for one in parts)}
    found = text
    # From the end, so that what stands before keeps its place.
    for part in reversed(parts[1:]):
        if part.name in kind.fields:
            held = text[part.start : part.end]
            value = new.get(part.name)
            written = _own_table(held, part.name, value)
            if value is not None and not written:
                above[part.name] = value
            found = found[: part.start] + written + found[part.end :]
    head = text[: parts[0].end]
    found = _own_head(head, kind, above) + found[len(head) :]
    return found if _same_things(found, wanted) else tomlkit.dumps(wanted)


def _own_table(held: str, name: str, value: object) -> str:
    """A table that has its own head made ``value``; empty where it cannot stand there."""
    document = tomlkit.parse(held)
    table = document[name]
    if not (isinstance(table, Table) and isinstance(value, dict)):
        return ""
    _change(table, tomllib.loads(held)[name], value)
    written = tomlkit.dumps(document)
    return written if _same_things(written, {name: value}) else ""


def _own_head(held: str, kind: ThingKind, new: Plain) -> str:
    """What stands above the first table, with the keys of ``new`` and no other of the kind's."""
    document = tomlkit.parse(held)
    old = {key: one for key, one in tomllib.loads(held).items() if key in kind.fields}
    for key in old:
        if key not in new:
            del document[key]
    for key, value in new.items():
        if key not in old or not _same(old[key], value):
            document[key] = _in_one_line(value)
    written = tomlkit.dumps(document)
    whole = not written or written.endswith("\n") or written == held
    return written if whole else f"{written}\n"
