"""The book: entries as they are written, checked, sealed into a chain and read back.

One entry is one JSON object on one line. The person's part (id, kind, at, by and the fields
of its kind) is what they wrote; the seal (seq, kept, prev, hash) is added by the book when it
keeps the line. A line that was typed by hand has no seal until the folder is loaded or sealed.
"""

from __future__ import annotations

import hashlib
import json
import math
import re
import uuid
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from types import MappingProxyType
from typing import Any

from rehang.trade.terms.errors import BadInput

__all__ = [
    "BOOK_VERSION",
    "GENESIS",
    "ID",
    "KINDS",
    "LONGEST_FILE",
    "SEAL_FIELDS",
    "UNREAD",
    "Entry",
    "canonical",
    "chain_problems",
    "curly_quote",
    "entry_from",
    "last_day",
    "new_entry",
    "parse_line",
    "parse_when",
    "read_json",
    "seal",
    "seal_hash",
]

BOOK_VERSION = 1
GENESIS = "0" * 64
# Characters that a filed sheet may have: it carries a whole file. A line holds four bytes for each.
LONGEST_FILE = 500_000
LONGEST_LINE = 4 * LONGEST_FILE
SEAL_FIELDS = ("seq", "kept", "prev", "hash")
# The kind of what stands in the place of a line that cannot be shown; nobody writes it.
UNREAD = "unread"

# kind -> (fields it must have, fields it may have). Every kind also has id, kind, at, by.
# The value after the colon is the JSON type that the field takes.
_TEXT, _FLAG, _WHOLE, _NUMBER, _TABLE, _LIST = (
    "text",
    "yes or no",
    "whole",
    "number",
    "table",
    "list",
)
KINDS: Mapping[str, tuple[Mapping[str, str], Mapping[str, str]]] = MappingProxyType(
    {
        "removed": (
            {"item": _TEXT, "place": _TEXT},
            {"hours": _NUMBER, "serial": _TEXT, "batch": _TEXT, "note": _TEXT},
        ),
        "reading": (
            {"item": _TEXT, "check": _TEXT, "written": _TEXT},
            {
                "place": _TEXT,
                "meter": _TEXT,
                "range": _TEXT,
                "at_psi": _WHOLE,
                "kept_as_keyed": _FLAG,
                "hidden_first": _FLAG,
                "set": _TEXT,
                "note": _TEXT,
                "photo": _TEXT,
                "with": _TABLE,
            },
        ),
        "master": (
            {"meter": _TEXT, "written": _TEXT},
            {"with": _TABLE, "note": _TEXT},
        ),
        # Where it is for named holes ("1T, 2T"), as many are counted as are named.
        "counted_out": ({"what": _TEXT, "number": _WHOLE}, {"place": _TEXT, "note": _TEXT}),
        "counted_in": ({"what": _TEXT, "number": _WHOLE}, {"place": _TEXT, "note": _TEXT}),
        "torqued": (
            {"item": _TEXT, "what": _TEXT, "meter": _TEXT, "of": _WHOLE},
            {
                # Which fasteners, by the turn they are tightened at; "done" is the older way to
                # write it: the first so many.
                "fasteners": _LIST,
                "done": _WHOLE,
                "group": _TEXT,
                "written": _TEXT,
                "note": _TEXT,
                "task": _TEXT,
                "place": _TEXT,
                "wanted": _TEXT,
                "set_to": _TEXT,
                "drag": _TEXT,
                "passes": _WHOLE,
                "adapter": _TABLE,
            },
        ),
        "counted": (
            {"item": _TEXT, "pieces": _WHOLE, "magnetic": _WHOLE},
            {
                "largest_mm": _NUMBER,
                "on": _TEXT,
                "engine_hours": _NUMBER,
                "note": _TEXT,
                "photo": _TEXT,
            },
        ),
        "sampled": (
            {
                "item": _TEXT,
                "on": _TEXT,
                "engine_hours": _NUMBER,
                "oil_hours": _NUMBER,
                "added_qt": _NUMBER,
            },
            # What the laboratory found may come later, in an entry of its own.
            {
                "ppm": _TABLE,
                "bottle": _TEXT,
                "fill_qt": _NUMBER,
                "lab": _TEXT,
                "oil": _TEXT,
                "flag": _TEXT,
                "note": _TEXT,
            },
        ),
        "analysed": (
            {"sample": _TEXT, "ppm": _TABLE},
            {"lab": _TEXT, "flag": _TEXT, "note": _TEXT},
        ),
        "pictured": (
            {"photo": _TEXT, "sha256": _TEXT},
            {
                "item": _TEXT,
                "entry": _TEXT,
                "scale_note": _TEXT,
                "width": _WHOLE,
                "height": _WHOLE,
                "note": _TEXT,
            },
        ),
        "seen": (
            {"item": _TEXT, "word": _TEXT},
            {
                "place": _TEXT,
                "check": _TEXT,
                "severity": _WHOLE,
                "set": _TEXT,
                "note": _TEXT,
                "photo": _TEXT,
            },
        ),
        "reworked": ({"item": _TEXT, "act": _TEXT}, {"place": _TEXT, "note": _TEXT}),
        "moved": ({"item": _TEXT, "place": _TEXT}, {"note": _TEXT}),
        "dropped": ({"item": _TEXT}, {"place": _TEXT, "note": _TEXT, "person": _TEXT}),
        "overheated": ({"item": _TEXT}, {"place": _TEXT, "note": _TEXT}),
        "unknown_history": ({"item": _TEXT}, {"place": _TEXT, "note": _TEXT}),
        "struck": ({"entry": _TEXT, "reason": _TEXT}, {}),
        "called": ({"entry": _TEXT, "call": _TEXT, "reason": _TEXT}, {}),
        "left_open": ({"entry": _TEXT}, {"reason": _TEXT, "person": _TEXT}),
        "disagreed": ({"item": _TEXT, "verdict": _TEXT, "reason": _TEXT}, {}),
        "closed": ({"finding": _TEXT, "reason": _TEXT}, {"found": _TEXT}),
        "disposed": ({"item": _TEXT, "how": _TEXT}, {"note": _TEXT}),
        "replaced": (
            {"item": _TEXT, "place": _TEXT, "for": _TEXT},
            {"made": _TEXT, "type": _TEXT, "note": _TEXT},
        ),
        "proved": ({"meter": _TEXT, "reason": _TEXT}, {"due": _TEXT}),
        "found_out": (
            {"meter": _TEXT, "reason": _TEXT},
            {
                "off": _TEXT,
                "setting": _TEXT,
                "certificate": _TEXT,
                "on": _TEXT,
                "good": _TEXT,
            },
        ),
        "stopped": (
            {"where": _TEXT},
            {"place": _TEXT, "check": _TEXT, "why": _TEXT, "half_keyed": _TEXT, "task": _TEXT},
        ),
        "carried_on": ({"where": _TEXT}, {"place": _TEXT, "check": _TEXT, "task": _TEXT}),
        # Tasks. A place is a hole, a cylinder or whatever the task is done for one by one.
        "started": ({"task": _TEXT}, {"place": _TEXT, "note": _TEXT}),
        "done": ({"task": _TEXT}, {"place": _TEXT, "note": _TEXT, "with": _LIST}),
        "closed_short": ({"task": _TEXT, "reason": _TEXT}, {"place": _TEXT}),
        "second_look": ({"task": _TEXT}, {"place": _TEXT, "note": _TEXT}),
        "flagged": ({"what": _TEXT, "place": _TEXT}, {"task": _TEXT, "note": _TEXT}),
        "flag_off": ({"what": _TEXT, "place": _TEXT}, {"note": _TEXT}),
        # Parts and the plan.
        "needed": ({"part": _TEXT, "number": _WHOLE, "reason": _TEXT}, {"item": _TEXT}),
        "not_needed": ({"part": _TEXT, "number": _WHOLE, "reason": _TEXT}, {"item": _TEXT}),
        "ordered": (
            {"part": _TEXT, "number": _WHOLE},
            {"supplier": _TEXT, "price": _NUMBER, "due": _TEXT, "order": _TEXT, "note": _TEXT},
        ),
        "arrived": (
            {"part": _TEXT, "number": _WHOLE},
            {
                "order": _TEXT,
                "price": _NUMBER,
                "release": _TEXT,
                "form": _TEXT,
                "reference": _TEXT,
                "note": _TEXT,
            },
        ),
        # The release document of an item or of a part: its form and number, or why there is none.
        "papers": (
            {"about": _TEXT},
            {"form": _TEXT, "reference": _TEXT, "reason": _TEXT, "note": _TEXT},
        ),
        "used": (
            {"part": _TEXT, "number": _WHOLE},
            {"item": _TEXT, "task": _TEXT, "place": _TEXT, "note": _TEXT},
        ),
        "stock_counted": ({"part": _TEXT, "number": _WHOLE}, {"note": _TEXT}),
        "assigned": ({"item": _TEXT, "place": _TEXT}, {"new": _FLAG, "reason": _TEXT}),
        "wanted": ({"on": _TEXT}, {"what": _TEXT, "note": _TEXT}),
        "planned": ({"starts": _TABLE}, {"finish": _TEXT, "note": _TEXT}),
        # Putting together, proving, signing.
        "fitted": (
            {"item": _TEXT, "place": _TEXT},
            {
                "part": _TEXT,
                "serial": _TEXT,
                "batch": _TEXT,
                "made": _TEXT,
                "gasket": _TEXT,
                "release": _TEXT,
                "form": _TEXT,
                "reference": _TEXT,
                "note": _TEXT,
            },
        ),
        "p_lead": ({"item": _TEXT, "state": _TEXT}, {"how": _TEXT, "note": _TEXT}),
        "run_began": ({"run": _TEXT}, {"with": _TABLE, "engine_hours": _NUMBER, "note": _TEXT}),
        "run_step": ({"run": _TEXT, "step": _TEXT}, {"result": _TEXT, "note": _TEXT}),
        "run_ended": (
            {"run": _TEXT},
            {"why": _TEXT, "engine_hours": _NUMBER, "full_temperature": _FLAG, "note": _TEXT},
        ),
        "complied": (
            {"recurring": _TEXT, "on": _TEXT},
            {
                "hours": _NUMBER,
                "method": _TEXT,
                "document": _TEXT,
                "revision": _TEXT,
                "note": _TEXT,
            },
        ),
        # A promise to look again, at those hours since overhaul or on that day.
        "promised": (
            {"item": _TEXT, "what": _TEXT},
            {"hours": _NUMBER, "on": _TEXT, "reason": _TEXT, "finding": _TEXT},
        ),
        "given": ({"what": _TEXT, "to": _TEXT}, {"on": _TEXT, "note": _TEXT}),
        "drafted": ({"what": _TEXT, "text": _TEXT}, {"fields": _TABLE, "note": _TEXT}),
        "signed": (
            {"what": _TEXT, "text": _TEXT, "sha256": _TEXT, "name": _TEXT},
            {
                "certificate": _TEXT,
                "certificate_kind": _TEXT,
                "statement": _TEXT,
                "fields": _TABLE,
                "head": _TEXT,
            },
        ),
        "earlier": (
            {"item": _TEXT, "service": _TEXT},
            {
                "place": _TEXT,
                "engine_hours": _NUMBER,
                "item_hours": _NUMBER,
                "readings": _LIST,
                "note": _TEXT,
            },
        ),
        "filed": ({"file": _TEXT, "sha256": _TEXT, "text": _TEXT}, {"note": _TEXT}),
        "note": ({"text": _TEXT}, {"item": _TEXT, "place": _TEXT}),
        "put_away": ({"reason": _TEXT}, {}),
        "brought_back": ({"reason": _TEXT}, {}),
    }
)

# Years that a moment of a book can lie in: beyond them no clock can be held against another.
_YEARS = (1900, 2999)
# Years that a written day can lie in: nothing of a hangar is older, or promised for longer.
_DAYS = (1900, 2100)
_DEEPEST = 20
_MOST_WHOLE = 2**53 - 1
_COMMON = ("id", "kind", "at", "by")
# What every kind may have: the key of the person under whose supervision it was done (DESIGN 4b, 1).
_SHARED = {"under": _TEXT}
ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9:._-]{3,79}$")
_CHECKS = {
    _TEXT: lambda v: isinstance(v, str),
    _FLAG: lambda v: isinstance(v, bool),
    _WHOLE: lambda v: isinstance(v, int) and not isinstance(v, bool),
    _NUMBER: lambda v: isinstance(v, (int, float)) and not isinstance(v, bool),
    _TABLE: lambda v: isinstance(v, dict),
    _LIST: lambda v: isinstance(v, list),
}


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing that happened, as written.

    ``data`` holds the fields of its kind; ``original`` what a line says that cannot be shown
    (:mod:`rehang.trade.terms.aside`). ``seq`` is 0 and ``hash`` empty until the book has
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

    @property
    def is_sealed(self) -> bool:
        return bool(self.hash)

    @property
    def item(self) -> str:
        return str(self.data.get("item", ""))

    @property
    def place(self) -> str:
        return str(self.data.get("place", ""))

    def get(self, name: str, default: Any = "") -> Any:
        return self.data.get(name, default)

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
    for name in _COMMON:
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
        if name in _COMMON or name in SEAL_FIELDS or name == "v":
            continue
        wanted = must.get(name) or may.get(name) or _SHARED.get(name)
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


def new_entry(kind: str, *, at: datetime, by: str, id: str = "", **data: Any) -> Entry:  # noqa: A002 - the field is called id
    """A new entry, checked like one that came from outside.

    Without an ``id`` one is worked out from the content, so that writing the same thing
    twice is one entry.
    """
    fields = {name: value for name, value in data.items() if value not in (None, "")}
    raw = {"kind": kind, "at": at.isoformat(), "by": by, **fields}
    raw["id"] = id or str(uuid.uuid5(_NAMESPACE, canonical(raw)))
    return entry_from(raw)


# Our own name for ids worked out from content; any fixed UUID would do.
_NAMESPACE = uuid.UUID("5b3c9a52-6f0e-5d0b-9f57-8f6f9d2b7c11")


def seal_hash(entry: Entry, *, seq: int, kept: datetime, prev: str) -> str:
    """SHA-256 over the link before, a line feed and the canonical entry with seq and kept."""
    body = canonical(entry.content() | {"seq": seq, "kept": kept.isoformat()})
    return hashlib.sha256(f"{prev}\n{body}".encode()).hexdigest()


def seal(entry: Entry, *, seq: int, kept: datetime, prev: str) -> Entry:
    """The entry with its place in the chain."""
    return Entry(
        id=entry.id,
        kind=entry.kind,
        at=entry.at,
        by=entry.by,
        data=entry.data,
        seq=seq,
        kept=kept,
        prev=prev,
        hash=seal_hash(entry, seq=seq, kept=kept, prev=prev),
    )


def chain_problems(entries: Iterable[Entry], *, where: str = "book.jsonl, line ") -> list[str]:
    """What is wrong with a chain, a sentence each; empty when it holds."""
    problems: list[str] = []
    prev, seq = GENESIS, 0
    for number, entry in enumerate(entries, start=1):
        place = f"{where}{number}"
        if not entry.is_sealed:
            problems.append(f"{place}: The entry is not sealed.")
            continue
        assert entry.kept is not None
        seq += 1
        if entry.seq != seq:
            problems.append(
                f"{place}: The entry says it is number {entry.seq}; it stands at {seq}."
            )
        if entry.prev != prev:
            problems.append(f"{place}: The entry does not follow the one before it.")
        if entry.hash != seal_hash(entry, seq=entry.seq, kept=entry.kept, prev=entry.prev):
            problems.append(f"{place}: The entry has been changed since it was kept.")
        prev, seq = entry.hash, entry.seq
    return problems


def last_day(text: str, where: str = "") -> date:
    """The last good day of a written date: a month or quarter means its last day."""
    full = re.fullmatch(r"([0-9]{4})-([0-9]{2})-([0-9]{2})", text)
    month = re.fullmatch(r"([0-9]{4})-([0-9]{2})", text)
    quarter = re.fullmatch(r"([0-9]{4})-Q([1-4])", text)
    written = full or month or quarter
    if written and not _DAYS[0] <= int(written[1]) <= _DAYS[1]:
        raise BadInput(f'"{text}" is in the year {written[1]}. Look at the digits again.', where)
    try:
        if full:
            return date.fromisoformat(text)
        if month:
            return _end_of_month(int(month[1]), int(month[2]))
        if quarter:
            return _end_of_month(int(quarter[1]), 3 * int(quarter[2]))
    except ValueError:
        pass
    raise BadInput(
        f'"{text}" is not a date. Write 2027-01-31, 2027-01 or 2027-Q1.',
        where,
    )


def _end_of_month(year: int, month: int) -> date:
    if not 1 <= month <= 12:
        raise ValueError(month)
    following = date(year + month // 12, month % 12 + 1, 1)
    return date.fromordinal(following.toordinal() - 1)
