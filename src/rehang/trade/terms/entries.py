"""The book: entries as they are written, checked, sealed into a chain and read back.

One entry is one JSON object on one line. The person's part (id, kind, at, by and the fields
of its kind) is what they wrote; the seal (seq, kept, prev, hash) is added by the book when it
keeps the line. A line that was typed by hand has no seal until the folder is loaded or sealed.
"""

from __future__ import annotations

import json
import math
import re
import uuid
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from types import MappingProxyType
from typing import Any, Generic, overload

from typing_extensions import TypeIs, TypeVar

from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.kinds.fields import (
    COMMON,
    FLAG,
    LIST,
    LONGEST_FILE,
    NUMBER,
    TABLE,
    TEXT,
    WHOLE,
    Fields,
)
from rehang.trade.terms.kinds.register import KINDS, SHARED, made

__all__ = [
    "BOOK_VERSION",
    "ID",
    "LONGEST_LINE",
    "SEAL_FIELDS",
    "Entry",
    "canonical",
    "curly_quote",
    "entry_from",
    "is_a",
    "new_entry",
    "of_kind",
    "parse_line",
    "parse_when",
    "read_json",
]

BOOK_VERSION = 1

# A filed sheet is the longest line; it holds four bytes for each character.
LONGEST_LINE = 4 * LONGEST_FILE

SEAL_FIELDS = ("seq", "kept", "prev", "hash")

# Years that a moment of a book can lie in: beyond them no clock can be held against another.
_YEARS = (1900, 2999)

_DEEPEST = 20

# RFC 7493, 2.2: beyond it not every reader of JSON holds a whole number exactly.
_MOST_WHOLE = 2**53 - 1

ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9:._-]{3,79}$")

_CHECKS = {
    TEXT: lambda v: isinstance(v, str),
    FLAG: lambda v: isinstance(v, bool),
    # True is an int in Python.
    WHOLE: lambda v: isinstance(v, int) and not isinstance(v, bool),
    NUMBER: lambda v: isinstance(v, (int, float)) and not isinstance(v, bool),
    TABLE: lambda v: isinstance(v, dict),
    LIST: lambda v: isinstance(v, list),
}


# The class of a kind; an entry of which nobody says the kind has what every kind has.
Kind_co = TypeVar("Kind_co", bound=Fields, covariant=True, default=Fields)
F = TypeVar("F", bound=Fields)
G = TypeVar("G", bound=Fields)
H = TypeVar("H", bound=Fields)


@dataclass(frozen=True, slots=True)
class Entry(Generic[Kind_co]):
    """One thing that happened, as written; ``Entry[Torqued]`` is one of that kind.

    ``data`` holds the fields of its kind as the line has them, from which it is written and hashed
    again; ``fields`` is the same as a value of the class of its kind, which everything else reads.
    ``original`` is what a line says that cannot be shown (:mod:`rehang.trade.terms.aside`). ``seq`` is 0 and ``hash`` empty until the book has
    sealed it. ``is_fit`` remembers that what it holds keeps within the bounds of
    :mod:`rehang.trade.terms.bounds`: a book is folded many times, and an entry never changes.
    """

    id: str
    kind: str
    at: datetime
    by: str
    data: Mapping[str, Any]
    seq: int = 0
    kept: datetime | None = None
    prev: str = ""
    hash: str = ""
    original: Mapping[str, Any] | None = None
    is_fit: bool = field(default=False, init=False, repr=False, compare=False)
    _fields: Kind_co | None = field(default=None, init=False, repr=False, compare=False)

    @property
    def is_sealed(self) -> bool:
        return bool(self.hash)

    @property
    def fields(self) -> Kind_co:
        """What it says, typed; made when it is first asked for."""
        found = self._fields
        if found is None:
            found = made(self.kind, self.data)
            object.__setattr__(self, "_fields", found)
        return found

    @property
    def item(self) -> str:
        return str(self.data.get("item", ""))

    @property
    def place(self) -> str:
        return str(self.data.get("place", ""))

    @property
    def task(self) -> str:
        return str(self.data.get("task", ""))

    @property
    def note(self) -> str:
        return str(self.data.get("note", ""))

    def content(self) -> dict[str, Any]:
        """What the person wrote, without the seal."""
        if self.original is not None:
            return dict(self.original)
        return {
            "id": self.id,
            "kind": self.kind,
            "at": self.at.isoformat(),
            "by": self.by,
            **self.data,
        }

    def line(self) -> str:
        """The line in ``book.jsonl``, sealed or not."""
        whole = self.content()
        if self.is_sealed:
            assert self.kept is not None
            whole |= {
                "seq": self.seq,
                "kept": self.kept.isoformat(),
                "prev": self.prev,
                "hash": self.hash,
            }
        return canonical(whole)


@overload
def is_a(entry: Entry, kind: type[F], /) -> TypeIs[Entry[F]]: ...
@overload
def is_a(entry: Entry, kind: type[F], second: type[G], /) -> TypeIs[Entry[F | G]]: ...
@overload
def is_a(
    entry: Entry, kind: type[F], second: type[G], third: type[H], /
) -> TypeIs[Entry[F | G | H]]: ...
def is_a(entry: Entry, *kinds: type[Fields]) -> bool:
    """Whether an entry is of one of those kinds; a class that kinds have above them is all of them."""
    return isinstance(entry.fields, kinds)


@overload
def of_kind(entries: Iterable[Entry], kind: type[F], /) -> list[Entry[F]]: ...
@overload
def of_kind(entries: Iterable[Entry], kind: type[F], second: type[G], /) -> list[Entry[F | G]]: ...
@overload
def of_kind(
    entries: Iterable[Entry], kind: type[F], second: type[G], third: type[H], /
) -> list[Entry[F | G | H]]: ...
def of_kind(entries: Iterable[Entry], *kinds: type[Fields]) -> list[Any]:
    """Those of some entries that are of one of those kinds, in their order."""
    return [entry for entry in entries if isinstance(entry.fields, kinds)]


def canonical(value: Mapping[str, Any]) -> str:
    """The one spelling of a JSON object that is hashed: sorted keys, no spaces, UTF-8."""
    text = json.dumps(value, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    if not text.isascii():
        try:
            text.encode()
        except UnicodeEncodeError:
            # Half a character has no UTF-8. No door lets one in; a line that has one keeps its escape.
            return json.dumps(value, sort_keys=True, separators=(",", ":"))
    return text


def parse_when(text: object, field: str, where: str = "") -> datetime:
    """An RFC 3339 time with its offset."""
    if isinstance(text, str):
        try:
            when = datetime.fromisoformat(text)
        except ValueError:
            when = None
        offset = when.utcoffset() if when is not None else None
        # RFC 3339 knows no seconds in an offset, and no other program reads them.
        if when is not None and offset is not None and len(text) > 10 and not offset.seconds % 60:
            if _YEARS[0] <= when.year <= _YEARS[1]:
                return when
            raise BadInput(
                f'"{field}" is in the year {when.year}. Look at the digits again.', where
            )
    raise BadInput(
        f'"{field}" is {json.dumps(text, ensure_ascii=False)}. '
        "Write date, time and offset, as in 2026-10-13T09:12:00-05:00.",
        where,
    )


def parse_line(line: str, where: str = "") -> Entry:
    """One line of a book."""
    if len(line) > LONGEST_LINE:
        raise BadInput(
            f"This line has {len(line):,} characters; a line of a book has at most "
            f"{LONGEST_LINE:,}. Take it out, or copy the book again.",
            where,
        )
    raw = read_json(line, where)
    if not isinstance(raw, dict):
        raise BadInput("This line is not an entry. An entry is {...} with its fields.", where)
    return entry_from(raw, where)


def curly_quote(text: str) -> str:
    """What is to be done about the first curly quote of a text; empty where it has none."""
    found = re.search("[\u2018-\u201f\u00ab\u00bb]", text)
    return (
        f"There is a curly quote ({found[0]}) here. Write straight ones: turn smart quotes off in "
        'the editor, or type ".'
        if found
        else ""
    )


def read_json(text: str | bytes, where: str = "") -> Any:
    """JSON as it is meant (RFC 8259, I-JSON RFC 7493): a key stands once, a number is a number."""

    def table(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        found = dict(pairs)
        if len(found) < len(pairs):
            names = [name for name, _ in pairs]
            twice = next(name for name in names if names.count(name) > 1)
            raise BadInput(f'"{twice}" stands here twice. Keep the one that is meant.', where)
        return found

    def constant(name: str) -> Any:
        raise BadInput(f"{name} is not a number. Write the number in digits.", where)

    try:
        return json.loads(text, object_pairs_hook=table, parse_constant=constant)
    except json.JSONDecodeError as problem:
        # Of bytes that are no text JSON says nothing more.
        at = problem.doc[problem.pos : problem.pos + 1]
        raise BadInput(
            curly_quote(at)
            or f"This line is not whole JSON (column {problem.colno}). "
            "If the file was cut off while it was copied, copy it again.",
            where,
        ) from None
    except (ValueError, RecursionError):
        # A number of thousands of digits, bytes that are no text, or brackets without end.
        raise BadInput(
            "This line holds a number or brackets beyond all reading. Write it again.", where
        ) from None


def _check_readable(value: object, where: str, depth: int = 0) -> None:
    """Refuse what cannot be written out and hashed again: half characters, infinite numbers."""
    if depth > _DEEPEST:
        raise BadInput("The entry has tables within tables without end. Write it again.", where)
    if isinstance(value, str):
        if not value.isascii():
            try:
                value.encode()
            except UnicodeEncodeError:
                raise BadInput(
                    "The entry has half a character in it. Type the text again.", where
                ) from None
    elif isinstance(value, float):
        if not math.isfinite(value):
            raise BadInput(
                "The entry has a number that is not finite. Write the number in digits.", where
            )
    elif isinstance(value, Mapping):
        for key, inner in value.items():
            _check_readable(key, where, depth + 1)
            _check_readable(inner, where, depth + 1)
    elif isinstance(value, (list, tuple)):
        for inner in value:
            _check_readable(inner, where, depth + 1)


def _check_counted(name: str, value: object, where: str) -> None:
    """Refuse a whole number that no other reader of JSON holds exactly (RFC 7493, 2.2)."""
    if isinstance(value, int) and abs(value) > _MOST_WHOLE:
        raise BadInput(
            f'"{name}" is a number of more digits than can be. Look at the digits again.', where
        )
    if isinstance(value, (Mapping, list)):
        for inner in value.values() if isinstance(value, Mapping) else value:
            _check_counted(name, inner, where)


def entry_from(raw: Mapping[str, Any], where: str = "") -> Entry:
    """An entry from its fields, each checked; unknown kinds and fields are refused."""
    try:
        # The plain case, at the speed of the library.
        json.dumps(raw, ensure_ascii=False, allow_nan=False).encode()
    except (ValueError, TypeError, RecursionError):
        _check_readable(raw, where)
    version = raw.get("v", BOOK_VERSION)
    if version != BOOK_VERSION:
        raise BadInput(
            f"This entry is of book version {version}; this Rehang reads version {BOOK_VERSION}. "
            "Open the folder with the Rehang that wrote it, or a newer one.",
            where,
        )
    for name in COMMON:
        if not isinstance(raw.get(name), str) or not raw[name]:
            raise BadInput(
                f'The entry has no "{name}". Every entry has id, kind, at and by.', where
            )
    kind = raw["kind"]
    if kind not in KINDS:
        raise BadInput(
            f'"{kind}" is not a kind of entry. Known kinds: {", ".join(sorted(KINDS))}.', where
        )
    if not ID.fullmatch(raw["id"]):
        raise BadInput(
            f'The id "{raw["id"]}" is not usable. '
            "Use 4 to 80 letters, digits, dots, colons or dashes.",
            where,
        )
    must, may = KINDS[kind]
    for name in must:
        if name not in raw:
            raise BadInput(f'An entry of kind "{kind}" needs "{name}".', where)
    data: dict[str, Any] = {}
    for name, value in raw.items():
        if name in COMMON or name in SEAL_FIELDS or name == "v":
            continue
        wanted = must.get(name) or may.get(name) or SHARED.get(name)
        if wanted is None:
            raise BadInput(
                f'An entry of kind "{kind}" has no field "{name}". '
                f"It takes {', '.join([*must, *may])}.",
                where,
            )
        if not _CHECKS[wanted](value):
            raise BadInput(
                f'"{name}" is {json.dumps(value, ensure_ascii=False)}; it must be {wanted}.', where
            )
        _check_counted(name, value, where)
        data[name] = value
    if not isinstance(raw.get("seq", 0), int) or not all(
        isinstance(raw.get(name, ""), str) for name in ("prev", "hash")
    ):
        raise BadInput(
            'The seal of this entry is not one: "seq" is a number, "prev" and "hash" are text. '
            "Copy the book again.",
            where,
        )
    seal_given = [name for name in SEAL_FIELDS if name in raw]
    if seal_given and len(seal_given) != len(SEAL_FIELDS):
        missing = ", ".join(n for n in SEAL_FIELDS if n not in raw)
        raise BadInput(f"The seal of this entry is not whole: {missing} is missing.", where)
    return Entry(
        id=raw["id"],
        kind=kind,
        at=parse_when(raw["at"], "at", where),
        by=raw["by"],
        data=MappingProxyType(data),
        seq=int(raw["seq"]) if seal_given else 0,
        kept=parse_when(raw["kept"], "kept", where) if seal_given else None,
        prev=str(raw["prev"]) if seal_given else "",
        hash=str(raw["hash"]) if seal_given else "",
    )


@overload
def new_entry(kind: type[F], *, at: datetime, by: str, id: str = "", **data: Any) -> Entry[F]: ...
@overload
def new_entry(kind: str, *, at: datetime, by: str, id: str = "", **data: Any) -> Entry: ...
def new_entry(
    kind: str | type[Fields],
    *,
    at: datetime,
    by: str,
    id: str = "",  # noqa: A002
    **data: Any,
) -> Entry:
    """A new entry, checked like one that came from outside; its kind by its name or its class.

    Without an ``id`` one is worked out from the content, so that writing the same thing
    twice is one entry.
    """
    # Left out and not kept empty: two ways to write nothing would be two hashes.
    fields = {name: value for name, value in data.items() if value not in (None, "")}
    name = kind if isinstance(kind, str) else kind.kind
    raw = {"kind": name, "at": at.isoformat(), "by": by, **fields}
    raw["id"] = id or str(uuid.uuid5(_NAMESPACE, canonical(raw)))
    return entry_from(raw)


# Our own name for ids worked out from content; any fixed UUID would do.
_NAMESPACE = uuid.UUID("5b3c9a52-6f0e-5d0b-9f57-8f6f9d2b7c11")
