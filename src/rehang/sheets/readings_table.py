"""Readings as a table: out of a judged job, and back in through a mapping of its columns.

Two shapes come in: one row for each reading (``check`` and ``written`` columns), and one row
for each item with a column for each check. Nothing is kept here: a plan says of every row what
it would write, or why it cannot be written.
"""

from __future__ import annotations

import re
import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time
from types import MappingProxyType
from typing import Any
from zoneinfo import ZoneInfo

from rehang.decode.tables import Cell, Row, Table, beyond_words
from rehang.trade.doors.rules import CLOCK_SLACK, check_can_append, check_can_write
from rehang.trade.facts.items import Check, CheckSheet
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.lines import with_unit
from rehang.trade.facts.readings import LARGEST_VALUE, NO_READING, unlikely
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.state import ItemState, JobState, item_kind, item_name, understand
from rehang.trade.terms.entries import Entry, canonical, new_entry
from rehang.trade.terms.errors import BadInput, Refused
from rehang.trade.terms.wording import at_time
from rehang.trade.verdicts.calls import Call
from rehang.trade.verdicts.folding import fold_job

__all__ = [
    "FIELDS",
    "LEFT_OUT",
    "Column",
    "Plan",
    "PlannedRow",
    "Settings",
    "Target",
    "check_choices",
    "guess",
    "numbered",
    "plan",
    "readings_table",
    "target_from",
    "target_text",
    "wanted_checks",
]

LEFT_OUT = "-"
# What a column may be, with its words. Conditions ("with.state") come beside these.
FIELDS: Mapping[str, str] = MappingProxyType(
    {
        "at": "when it was read",
        "time": "time of day, beside a column with the day",
        "by": "who read it (key or name)",
        "item": "the item (serial, or kind:name)",
        "place": "the hole",
        "check": "which check",
        "written": "the reading",
        "unit": "the unit of the reading",
        "meter": "the meter",
        "range": "the range of the meter",
        "at_psi": "the pressure of a spark test",
        "note": "a note",
        "set": "the set it belongs to",
        "photo": "the photo's name",
        "kept_as_keyed": "yes where an unlikely number was kept as keyed",
        "hidden_first": "yes where the first reading was hidden",
        "struck": "why it was struck out",
        "id": "the entry's id",
    }
)
# Worked out when a table is written; never taken back in.
WORKED_OUT = ("call", "p_within", "limit", "void", "seq")
_COLUMNS = (
    "at", "by", "item", "place", "check", "written", "unit", "meter", "range", "at_psi",
)  # fmt: skip
_SELDOM = ("set", "photo", "kept_as_keyed", "hidden_first")
_FLAGS = ("kept_as_keyed", "hidden_first")
_WITH = "with."

# Headings that shops write, small and without marks. The guess is shown before it is used.
_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "when": "at", "date": "at", "day": "at", "taken": "at", "taken at": "at", "date time": "at",
        "timestamp": "at", "date and time": "at", "time of day": "time", "hour": "time",
        "who": "by", "mechanic": "by", "inspector": "by", "person": "by", "taken by": "by",
        "initials": "by", "serial": "item", "serial no": "item", "serial number": "item",
        "s n": "item", "sn": "item", "part": "item", "hole": "place", "position": "place",
        "pos": "place", "location": "place", "test": "check", "measurement": "check",
        "reading": "written", "value": "written", "measured": "written", "result": "written",
        "units": "unit", "uom": "unit", "instrument": "meter", "tester": "meter",
        "meter id": "meter", "gauge": "meter", "scale": "range", "meter range": "range",
        "psi": "at_psi", "bench pressure": "at_psi", "notes": "note", "remark": "note",
        "remarks": "note", "comment": "note", "comments": "note", "entry id": "id",
        "struck reason": "struck",
    }
)  # fmt: skip
_KIND_WORDS: Mapping[str, str] = MappingProxyType(
    {"cyl": "cylinder", "plug serial": "plug", "spark plug": "plug", "mag": "magneto"}
)
_CHECK_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "ohm": "resistance", "ohms": "resistance", "kohm": "resistance", "kohms": "resistance",
        "kω": "resistance", "ω": "resistance", "resistor": "resistance", "gaps": "gap",
        "wear": "electrode", "electrodes": "electrode", "sparks": "spark", "bench test": "spark",
        "comp": "compression", "differential": "compression", "compressions": "compression",
    }
)  # fmt: skip

_NUMERIC = re.compile(r"[\d.,+/-]*\d[\d.,+/-]*$")
_SPLIT = re.compile(r"([\d.,+/-]*\d[\d.,+/-]*) (\S(?:.*\S)?)$")
# Our own name for ids worked out from rows; any fixed UUID would do.
_NAMESPACE = uuid.UUID("0c0b1f6e-4f57-5b0e-8f0b-6b8f0a0d6e52")
# What begins a new cycle of an item: a reading from before it no longer counts.
_CYCLE = ("removed", "reworked", "dropped", "overheated", "unknown_history")


@dataclass(frozen=True, slots=True)
class Target:
    """What one column is: a field, ``item`` of a kind, a condition, or readings of one check."""

    field: str = LEFT_OUT
    check: str = ""
    unit: str = ""
    kind: str = ""


@dataclass(frozen=True, slots=True)
class Column:
    """One column and what it is taken for. ``how`` is exact, guessed, said or left out."""

    heading: str
    target: Target
    how: str
    words: str


@dataclass(frozen=True, slots=True)
class Settings:
    """What the table itself does not say.

    ``at`` is when the rows are kept; rows with no time of their own are read at ``read_at``, or
    then. ``meters`` gives a meter and range for each check whose rows name none. With ``own``,
    a row by anyone but ``by`` is refused.
    """

    by: str
    at: datetime
    read_at: datetime | None = None
    own: bool = False
    meters: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    at_psi: int | None = None
    bring_in: bool = False
    keep_unlikely: bool = False


@dataclass(frozen=True, slots=True)
class PlannedRow:
    """One reading of the table and what becomes of it.

    ``standing`` is ``new``, ``in the book``, ``cannot`` or ``unlikely`` (it cannot either, until
    it is said that unlikely numbers are kept as they stand).
    """

    line: int
    place: str
    says: str
    standing: str
    reason: str = ""

    @property
    def is_bad(self) -> bool:
        return self.standing in ("cannot", "unlikely")


@dataclass(frozen=True, slots=True)
class Plan:
    """What keeping the table would write: all of ``entries``, or nothing while a row is bad."""

    rows: tuple[PlannedRow, ...]
    entries: tuple[Entry, ...]
    notices: tuple[str, ...] = ()

    @property
    def bad(self) -> tuple[PlannedRow, ...]:
        return tuple(row for row in self.rows if row.is_bad)

    def count(self, standing: str) -> int:
        return sum(1 for row in self.rows if row.standing == standing)

    @property
    def can_be_kept(self) -> bool:
        return not self.bad and bool(self.entries)


# Out


def readings_table(judged: JudgedJob) -> tuple[list[str], list[list[str]]]:
    """Headings and rows of every reading of the book, in its order."""
    state = judged.state
    readings = [entry for entry in state.order if entry.kind == "reading"]
    conditions = sorted({f"{_WITH}{name}" for e in readings for name in e.get("with", {})})
    seldom = [name for name in _SELDOM if any(name in e.data for e in readings)]
    headings = [
        *_COLUMNS, *conditions, "note", *seldom,
        "call", "p_within", "limit", "void", "struck", "seq", "id",
    ]  # fmt: skip
    calls = _calls(judged)
    voids = {t.entry.id: t.void for item in state.items.values() for t in item.readings}
    rows = []
    for entry in readings:
        row = _row_of(entry)
        call = calls.get(entry.id)
        struck = state.struck.get(entry.id)
        row |= {
            "call": call.call if call else "",
            "p_within": "" if call is None or call.p_within is None else repr(call.p_within),
            "limit": call.limit if call else "",
            "void": voids.get(entry.id, ""),
            "struck": struck.data["reason"] if struck else "",
            "seq": str(entry.seq or ""),
        }
        rows.append([row.get(name, "") for name in headings])
    return headings, rows


def _calls(judged: JudgedJob) -> dict[str, Call]:
    found: dict[str, Call] = {}
    for item in judged.items:
        for call in item.calls:
            for one in (*call.others, call):
                if one.entry is not None and one.entry.kind == "reading":
                    found[one.entry.id] = one
    return found


def _row_of(entry: Entry) -> dict[str, str]:
    """The columns that hold what the person wrote; reading them back gives the same entry."""
    content = entry.content()
    written, unit = _split(str(content["written"]))
    row = {"written": written, "unit": unit}
    for name, value in content.items():
        if name == "with":
            row |= {f"{_WITH}{key}": str(inner) for key, inner in value.items()}
        elif name in _FLAGS:
            row[name] = "yes" if value else "no"
        elif name in FIELDS and name != "written":
            row[name] = str(value)
    return row


def _split(written: str) -> tuple[str, str]:
    found = _SPLIT.fullmatch(written)
    return (found[1], found[2]) if found else (written, "")


def _joined(written: str, unit: str) -> str:
    return f"{written} {unit}" if unit and _NUMERIC.fullmatch(written) else written


# What the columns are


def target_text(target: Target) -> str:
    """A target as it is written: ``at``, ``item:cylinder``, ``resistance in ohm``, ``-``."""
    if target.kind:
        return f"{target.field}:{target.kind}"
    if target.check:
        return f"{target.check} in {target.unit}" if target.unit else target.check
    return target.field


def target_from(text: str, facts: JobFacts) -> Target:
    """A target from its text; one that is not known is refused with the known ones."""
    text = " ".join(text.split())
    if text in ("", LEFT_OUT):
        return Target()
    if text in FIELDS:
        return Target(text)
    if text.startswith("item:"):
        kind = text.removeprefix("item:")
        if kind in facts.sheets:
            return Target("item", kind=kind)
        raise BadInput(f'There is no check sheet for "{kind}". Use {", ".join(facts.sheets)}.')
    if text.startswith(_WITH):
        if text.removeprefix(_WITH) in _conditions(facts):
            return Target(text)
        known = ", ".join(f"{_WITH}{name}" for name in _conditions(facts))
        raise BadInput(f'No check asks for "{text.removeprefix(_WITH)}". Use {known}.')
    name, _, unit = text.partition(" in ")
    check = check_choices(facts).get(name)
    if check is None:
        raise BadInput(
            f'"{name}" is not something a column can be. It can be {", ".join(FIELDS)}, '
            f"item:KIND, with.CONDITION, a check ({', '.join(check_choices(facts))}) or - to leave "
            "it out."
        )
    if unit and (check.quantity is None or unit not in check.quantity.units):
        units = ", ".join(check.quantity.units) if check.quantity else ""
        raise BadInput(
            f'{check.label} is not written in "{unit}". '
            + (f"Use {units}." if units else "It takes no unit.")
        )
    return Target("reading", check=name, unit=unit)


def check_choices(facts: JobFacts) -> dict[str, Check]:
    """The checks that a reading can be of, by name; looks are findings and stand apart."""
    return {
        check.name: check
        for kind in dict.fromkeys((*facts.inspect, *facts.sheets))
        for check in facts.sheets[kind].checks
        if check.kind != "look" and check.method != "age"
    }


def _conditions(facts: JobFacts) -> list[str]:
    return list(dict.fromkeys(n for c in check_choices(facts).values() for n in c.asks))


def numbered(table: Table, said: Mapping[str, str] | Mapping[int, str] | None) -> dict[int, str]:
    """What was said of columns, by their number; it is said by number or by heading."""
    found: dict[int, str] = {}
    for key, value in (said or {}).items():
        if isinstance(key, int):
            found[key] = value
            continue
        if key not in table.headings:
            raise BadInput(
                f'The table has no column "{key}". '
                f"It has {', '.join(h for h in table.headings if h)}.",
                table.name,
            )
        if table.headings.count(key) > 1:
            raise BadInput(
                f'The table has the heading "{key}" twice. Give each column its own.', table.name
            )
        found[table.headings.index(key)] = value
    return found


def guess(
    table: Table, facts: JobFacts, said: Mapping[str, str] | Mapping[int, str] | None = None
) -> list[Column]:
    """What each column is taken for: as ``said``, else by its heading's words.

    Raises
    ------
    BadInput
        A column that is spoken of is not there, or two columns are said to be the same thing.
    """
    given = numbered(table, said)
    columns: list[Column] = []
    taken: dict[Target, str] = {}
    wanted = [
        target_from(given[n], facts) if n in given else None for n in range(len(table.headings))
    ]
    for heading, target in zip(table.headings, wanted, strict=True):
        if target is None or target.field == LEFT_OUT:
            continue
        slot = _slot(target)
        if slot in taken:
            raise BadInput(
                f'"{taken[slot]}" and "{heading}" are both said to be {target_text(slot)}. '
                "Leave one of them out.",
                table.name,
            )
        taken[slot] = heading
    long_shape = _is_long(table, facts, wanted)
    for heading, target in zip(table.headings, wanted, strict=True):
        if target is not None:
            how = "left out" if target.field == LEFT_OUT else "said"
            columns.append(Column(heading, target, how, _words(target, facts)))
            continue
        found, exact = _guess_one(heading, facts, long_shape=long_shape)
        if found.field == LEFT_OUT or _slot(found) in taken:
            words = "worked out, not taken in" if heading in WORKED_OUT else "left out"
            columns.append(Column(heading, Target(), "left out", words))
            continue
        taken[_slot(found)] = heading
        columns.append(
            Column(heading, found, "exact" if exact else "guessed", _words(found, facts))
        )
    return columns


def _slot(target: Target) -> Target:
    """What may be taken by one column only, whatever its unit or kind."""
    return Target(target.field, check=target.check)


def _is_long(table: Table, facts: JobFacts, wanted: Sequence[Target | None]) -> bool:
    fields = set()
    for heading, target in zip(table.headings, wanted, strict=True):
        found = target or _guess_one(heading, facts, long_shape=True)[0]
        fields.add(found.field)
    return {"check", "written"} <= fields


def _guess_one(heading: str, facts: JobFacts, *, long_shape: bool) -> tuple[Target, bool]:
    if heading in WORKED_OUT:
        return Target(), True
    if heading in FIELDS:
        return Target(heading), True
    if heading.startswith(_WITH) and heading.removeprefix(_WITH) in _conditions(facts):
        return Target(heading), True
    plain = " ".join(re.sub(r"[^\w%Ω]+", " ", heading.casefold()).replace("_", " ").split())
    if plain in FIELDS:
        return Target(plain), False
    if plain.replace(" ", "_") in FIELDS:
        return Target(plain.replace(" ", "_")), False
    if plain in _WORDS:
        return Target(_WORDS[plain]), False
    kind = _KIND_WORDS.get(plain, plain)
    if kind in facts.sheets:
        return Target("item", kind=kind), False
    if plain in _conditions(facts):
        return Target(f"{_WITH}{plain}"), False
    if not long_shape:
        check, unit = _guess_check(plain, facts)
        if check is not None:
            return Target("reading", check=check.name, unit=unit), heading == check.name
    return Target(), False


def _guess_check(plain: str, facts: JobFacts) -> tuple[Check | None, str]:
    """The check a heading names, and the unit that stands in it (``Gap (thou)``)."""
    checks = check_choices(facts)
    by_word = {name.replace("_", " "): check for name, check in checks.items()}
    by_word |= {check.label.casefold().replace(",", ""): check for check in checks.values()}
    by_word |= {w: checks[name] for w, name in _CHECK_WORDS.items() if name in checks}
    words = plain.split()
    for length in range(len(words), 0, -1):
        check = by_word.get(" ".join(words[:length]))
        if check is None:
            continue
        rest = " ".join(words[length:]) or (plain if length == 1 else "")
        unit = ""
        if check.quantity is not None:
            units = {name.casefold(): name for name in check.quantity.units}
            unit = units.get(rest, "")
        return check, unit
    return None, ""


def _words(target: Target, facts: JobFacts) -> str:
    if target.field == LEFT_OUT:
        return "left out"
    if target.check:
        label = check_choices(facts)[target.check].label
        return f"readings of {label.lower()}" + (f", in {target.unit}" if target.unit else "")
    if target.kind:
        return f"the item, a {target.kind}"
    if target.field.startswith(_WITH):
        return f"{target.field.removeprefix(_WITH)}, written with the reading"
    return FIELDS[target.field]


def wanted_checks(table: Table, columns: Sequence[Column], facts: JobFacts) -> list[Check]:
    """The checks in the table whose rows name no meter, so that one has to be said."""
    targets = [column.target for column in columns]
    fields = {target.field for target in targets}
    if "meter" in fields:
        return []
    known = check_choices(facts)
    found = [target.check for target in targets if target.check]
    if "check" in fields:
        at = next(n for n, target in enumerate(targets) if target.field == "check")
        found += [_check_name(_text(row.cells[at]), known) for row in table.rows]
    return [known[name] for name in dict.fromkeys(found) if name in known]


def _check_name(text: str, known: Mapping[str, Check]) -> str:
    """A check as its sheet names it, whatever word stands in the cell for it."""
    plain = " ".join(text.casefold().replace("_", " ").split())
    for name, check in known.items():
        if plain in (name.replace("_", " "), check.label.casefold()):
            return name
    return _CHECK_WORDS.get(plain, text)


# In


def plan(
    table: Table,
    columns: Sequence[Column],
    facts: JobFacts,
    book: Sequence[Entry],
    settings: Settings,
) -> Plan:
    """What keeping the table would write, row by row. Nothing is written.

    Raises
    ------
    BadInput
        The columns hold no readings at all, or say no item.
    """
    targets = [column.target for column in columns]
    fields = {target.field for target in targets}
    if not ({"check", "written"} <= fields or "reading" in fields):
        raise BadInput(
            "No column holds readings. Say which column is the check and which the reading, or "
            "which column holds the readings of one check, as in Ohms=resistance.",
            table.name,
        )
    if not fields & {"item", "place"}:
        raise BadInput(
            "No column says the item. Say which column is the serial or the hole, as in "
            "Serial=item.",
            table.name,
        )
    planner = _Planner(table, targets, facts, book, settings)
    return planner.plan()


@dataclass(slots=True)
class _Made:
    """One reading of the table on its way to an entry."""

    row: Row
    place: str
    says: str
    entry: Entry | None = None
    standing: str = "new"
    reason: str = ""
    strike: str = ""
    removed: Entry | None = None
    own_id: bool = False

    def cannot(self, reason: str) -> None:
        self.standing, self.reason = "cannot", reason


class _Planner:
    """Makes the rows of one table into entries; lives only inside :func:`plan`."""

    def __init__(
        self,
        table: Table,
        targets: Sequence[Target],
        facts: JobFacts,
        book: Sequence[Entry],
        settings: Settings,
    ) -> None:
        self.table = table
        self.targets = targets
        self.facts = facts
        self.book = book
        self.settings = settings
        self.state = fold_job(facts, book)
        self.zone = ZoneInfo(facts.timezone_name)
        self.checks = check_choices(facts)
        self.seen: dict[str, int] = {}
        self.coming: dict[str, str] = {}
        self.last_at = _last_cycle(self.state)

    def plan(self) -> Plan:
        made = [one for row in self.table.rows for one in self._row(row)]
        self._refuse_the_same_id_twice(made)
        self._doubt(made)
        # Read in the order they were taken: of two readings of one check, the last one counts.
        new = sorted((m for m in made if m.standing == "new"), key=_when)
        self._refuse_what_does_not_fold(new)
        entries = self._entries([m for m in new if m.standing == "new"])
        rows = tuple(PlannedRow(m.row.line, m.place, m.says, m.standing, m.reason) for m in made)
        done = Plan(rows, tuple(entries), self.table.notices)
        if done.can_be_kept:
            self._check_rules(entries)
        return done

    # One row

    def _row(self, row: Row) -> list[_Made]:
        place = self.table.place(row.line)
        if row.beyond:
            bad = _Made(row, place, "")
            bad.cannot(beyond_words(row))
            return [bad]
        try:
            cells = self._fields(row)
        except Refused as refusal:
            bad = _Made(row, place, "")
            bad.cannot(refusal.sentence)
            return [bad]
        found = []
        if "written" in {t.field for t in self.targets}:
            found.append(self._made(row, place, cells, cells.get("check", ""), ""))
        for number, target in enumerate(self.targets):
            if target.field != "reading":
                continue
            try:
                text = self._cell(row, number).strip()
            except BadInput as refusal:
                bad = _Made(row, self.table.place(row.line, number), target.check)
                bad.cannot(refusal.sentence)
                found.append(bad)
                continue
            if text in ("", "-"):
                # An empty cell of a wide table says nothing; a dash there is "not read".
                continue
            one = {k: v for k, v in cells.items() if k not in ("id", "struck")}
            one |= {"written": text, "unit": target.unit}
            found.append(
                self._made(row, self.table.place(row.line, number), one, target.check, target.check)
            )
        return found

    def _fields(self, row: Row) -> dict[str, str]:
        cells: dict[str, str] = {}
        for number, target in enumerate(self.targets):
            if target.field in (LEFT_OUT, "reading", "at", "time"):
                continue
            text = self._cell(row, number)
            cells[target.field] = text
            if target.kind and text.strip():
                cells["kind"] = target.kind
        cells["at"] = self._at(row)
        if not cells.get("id", "").strip():
            return {name: text.strip() for name, text in cells.items()}
        # A row with an id came out of a book: it is taken to the letter.
        return cells | {"id": cells["id"].strip()}

    def _cell(self, row: Row, number: int) -> str:
        cell = row.cells[number]
        if not isinstance(cell, str):
            raise BadInput(
                f"{self.table.place(row.line, number)} holds a date where there should be text. A "
                "spreadsheet turns 7/8 into one; set the column to text and write it again."
            )
        return cell

    def _at(self, row: Row) -> str:
        """When the row says it was read, with its offset; empty where it does not say."""
        day: Cell = ""
        clock: Cell = ""
        for number, target in enumerate(self.targets):
            if target.field == "at":
                day = row.cells[number]
            elif target.field == "time":
                clock = row.cells[number]
        if isinstance(day, str):
            day = day.strip()
        if day == "":
            if clock != "" and _text(clock).strip():
                raise BadInput("There is a time of day and no day. Write the day too.")
            return ""
        when = _moment(day, clock)
        if when.tzinfo is not None:
            return when.isoformat()
        local = when.replace(tzinfo=self.zone)
        if local.utcoffset() != local.replace(fold=1).utcoffset():
            raise BadInput(
                f'"{when.isoformat(sep=" ", timespec="minutes")}" lies in the hour when the '
                f"clocks of {self.facts.timezone_name} change. Write its offset too, as in -05:00."
            )
        return local.isoformat()

    # One reading

    def _made(
        self, row: Row, place: str, cells: Mapping[str, str], check: str, column: str
    ) -> _Made:
        written = cells.get("written", "")
        shown = " ".join(
            part for part in (cells.get("item") or cells.get("place", ""), check, written) if part
        )
        made = _Made(row, place, shown)
        try:
            self._fill(made, cells, check)
        except Refused as refusal:
            made.cannot(refusal.sentence)
        return made

    def _fill(self, made: _Made, cells: Mapping[str, str], check_text: str) -> None:
        if not cells.get("written", "").strip():
            raise BadInput(
                "Nothing is written for the reading. Fill the cell, or take out the row."
            )
        if not check_text:
            raise BadInput("The row says no check. Write which one it is a reading of.")
        name = _check_name(check_text, self.checks)
        given_id = cells.get("id", "")
        item, hole = self._item(cells, name)
        sheet = self._sheet(item)
        check = sheet.check(name)
        by = self._by(cells.get("by", ""))
        data = self._data(cells, check, item, hole, exact=bool(given_id))
        at = cells["at"]
        when = datetime.fromisoformat(at) if at else self.settings.read_at or self.settings.at
        entry_id = given_id or self._id(data, at, cells.get("by", ""))
        entry = new_entry("reading", at=when, by=by, id=entry_id, **data)
        made.entry, made.own_id = entry, not given_id
        made.strike = cells.get("struck", "")
        made.says = _says(entry, check, self.zone)
        stored = self.state.entries.get(entry.id)
        if stored is not None:
            self._stands_already(made, stored, entry)
            return
        check_can_write(self.facts.people.get(by))
        if when > self.settings.at + CLOCK_SLACK:
            raise BadInput(
                f"It is dated {when.isoformat(timespec='minutes')}, which is still to come. "
                "Mend the date."
            )
        _, reading = understand(entry, self.facts.sheets, self.facts.meters)
        if reading.value is not None and reading.value > LARGEST_VALUE:
            raise BadInput(
                f'"{reading.written}" is more than anything a meter reads. Look at the digits again.'
            )
        used = self.facts.meters.get(reading.meter)
        scale = used.range(reading.range) if used is not None else None
        if scale is not None and scale.factor != 1 and reading.value is not None:
            # The number was read off a needle's scale; what it comes to is to be seen.
            made.says += f", which is {reading.text(check)}"
        self._refuse_older(entry, check)
        if item_kind(item) == "plug" and item not in self.state.items:
            made.removed = self._removed(item, hole, when, by)

    def _stands_already(self, made: _Made, stored: Entry, entry: Entry) -> None:
        if stored.kind == "reading" and (made.own_id or _row_of(stored) == _row_of(entry)):
            made.standing = "in the book"
            if stored.id in self.state.struck:
                made.reason = "It is in the book, struck out."
            return
        raise BadInput(
            f"The id {entry.id} stands in the book already with other content. "
            "Take the id out, so that the row is a reading of its own."
        )

    def _sheet(self, item: str) -> CheckSheet:
        sheet = self.facts.sheets.get(item_kind(item))
        if sheet is None:
            raise BadInput(
                f'There is no check sheet for "{item}". Use {", ".join(self.facts.sheets)}.'
            )
        return sheet

    def _item(self, cells: Mapping[str, str], check: str) -> tuple[str, str]:
        """The item's id and, for a plug, its hole as the layout spells it."""
        text, place = cells.get("item", ""), cells.get("place", "")
        if not text and not place:
            raise BadInput("The row names no item and no hole. Write one of them.")
        kinds = [k for k, s in self.facts.sheets.items() if any(c.name == check for c in s.checks)]
        if not kinds:
            raise BadInput(f'There is no check "{check}". The checks are {", ".join(self.checks)}.')
        if cells.get("kind"):
            kinds = [cells["kind"]]
        if not text:
            return self._item_in(place, check, kinds)
        item = text if ":" in text else self._named(text, kinds)
        if item_kind(item) != "plug" or not place:
            return item, place
        return item, self.facts.layout.check_hole(place)

    def _item_in(self, place: str, check: str, kinds: Sequence[str]) -> tuple[str, str]:
        hole = self.facts.layout.check_hole(place)
        if "plug" in kinds:
            if hole not in self.state.holes:
                raise BadInput(f"No plug has come out of {hole} in this job. Write its serial.")
            return self.state.holes[hole], hole
        for kind in kinds:
            name = f"{kind}:{hole}"
            if name in self.state.items:
                return name, ""
        raise BadInput(f'Nothing at {hole} has a check "{check}". Write the item.')

    def _named(self, text: str, kinds: Sequence[str]) -> str:
        known = [i for i in self.state.items if item_kind(i) in kinds]
        exact = [i for i in known if item_name(i) == text]
        near = exact or [i for i in known if item_name(i).casefold() == text.casefold()]
        if len(near) == 1:
            return near[0]
        if len(near) > 1:
            raise BadInput(f'"{text}" may be {" or ".join(near)}. Write it out so.')
        if "plug" in kinds:
            return f"plug:{text}"
        raise BadInput(
            f'There is no {" or ".join(kinds)} "{text}" in this job. '
            f"There are {', '.join(item_name(i) for i in known) or 'none'}."
        )

    def _removed(self, item: str, hole: str, when: datetime, by: str) -> Entry:
        """The entry that brings a plug in, where that was asked for."""
        name = item_name(item)
        if not hole:
            raise BadInput(
                f"{name} has not come into this job, and the row names no hole it came out of."
            )
        if not self.settings.bring_in:
            raise BadInput(
                f"{name} has not come into this job. Enter it as out of {hole} first, or say that "
                "plugs in the table are to be brought in."
            )
        holder = self.state.holes.get(hole) or next(
            (i for i, h in self.coming.items() if h == hole and i != item), ""
        )
        if holder:
            raise BadInput(
                f"{item_name(holder)} came out of {hole}; {name} cannot have come out of it too."
            )
        if self.coming.setdefault(item, hole) != hole:
            raise BadInput(
                f"{name} is in {hole} here and in {self.coming[item]} further up. Mend the hole."
            )
        own = str(uuid.uuid5(_NAMESPACE, canonical({"removed": item, "place": hole})))
        return new_entry("removed", at=when, by=by, id=own, item=item, place=hole)

    def _by(self, text: str) -> str:
        if not text:
            return self.settings.by
        people = self.facts.people
        found = next(
            (
                key
                for key, person in people.items()
                if text.casefold() in (key.casefold(), person.name.casefold())
            ),
            text,
        )
        if self.settings.own and found != self.settings.by:
            raise BadInput(
                f'The row is by "{text}", and you are {self.facts.person(self.settings.by)}. Each '
                "person brings in their own readings; leave the column out to write them as yours."
            )
        return found

    def _data(
        self, cells: Mapping[str, str], check: Check, item: str, hole: str, *, exact: bool
    ) -> dict[str, Any]:
        written, unit = cells["written"], cells.get("unit", "")
        meter, range_name = cells.get("meter", ""), cells.get("range", "")
        at_psi = self._psi(cells.get("at_psi", ""))
        if not exact:
            if not meter and written.lower() not in ("-", "not taken", "not read"):
                meter, usual = self.settings.meters.get(check.name, ("", ""))
                range_name = range_name or usual
            meter = self._meter(meter)
            if check.kind == "grade" and at_psi is None:
                at_psi = self.settings.at_psi if check.name == "spark" else None
            if item_kind(item) == "plug" and not hole and item in self.state.items:
                hole = self.state.items[item].place
        joined = _joined(written, unit)
        if not exact and not unit and written.lower() not in NO_READING:
            # So that the number means one thing for ever, whatever the meter is set to later.
            joined = with_unit(written, check, self.facts.meters.get(meter))
        data: dict[str, Any] = {
            "item": item,
            "check": check.name,
            "written": joined,
            "place": (cells.get("place", "") if exact or item_kind(item) != "plug" else hole),
            "meter": meter,
            "range": range_name,
            "at_psi": at_psi,
            "note": cells.get("note", ""),
            "set": cells.get("set", ""),
            "photo": cells.get("photo", ""),
        }
        for flag in _FLAGS:
            data[flag] = _yes_or_no(cells.get(flag, ""), flag)
        conditions = {
            name.removeprefix(_WITH): text
            for name, text in cells.items()
            if name.startswith(_WITH) and text
        }
        if conditions:
            data["with"] = conditions
        return {name: value for name, value in data.items() if value not in (None, "")}

    def _psi(self, text: str) -> int | None:
        text = re.sub(r"\s*psi$", "", text, flags=re.IGNORECASE)
        if not text:
            return None
        if not (text.isascii() and text.isdigit() and len(text) < 6):
            raise BadInput(f'The pressure is "{text}". Write whole psi, as in 100.')
        return int(text)

    def _meter(self, text: str) -> str:
        if text in self.facts.meters:
            return text
        near = [m for m in self.facts.meters if m.casefold() == text.casefold()]
        return near[0] if len(near) == 1 else text

    def _id(self, data: Mapping[str, Any], at: str, by: str) -> str:
        """The same row gives the same id, so that the table may come in twice.

        What the row does not say itself (when, by whom) is not in it; of rows that say the very
        same thing each has its number.
        """
        said = canonical(
            {
                "job": self.facts.job,
                "at": at or (self.settings.read_at.isoformat() if self.settings.read_at else ""),
                "by": by,
                **data,
            }
        )
        number = self.seen[said] = self.seen.get(said, 0) + 1
        return str(uuid.uuid5(_NAMESPACE, f"{said}\n{number}"))

    def _refuse_older(self, entry: Entry, check: Check) -> None:
        """A book is read in its order: what is added now counts as the newest."""
        for name, later in self.last_at.get(entry.item, {}).items():
            if later.at <= entry.at:
                continue
            day = at_time(later.at.astimezone(self.zone))
            who = item_name(entry.item)
            if name == check.name:
                raise BadInput(
                    f"The book has a later {check.label.lower()} of {who} ({day}). Added now, this "
                    "older one would count in its place."
                )
            if later.kind in _CYCLE:
                raise BadInput(
                    f"{who} was {_done(later, self._sheet(entry.item))} on {day}, after this was "
                    "read. Added now, it would count as read since."
                )

    # All rows together

    def _refuse_the_same_id_twice(self, made: Sequence[_Made]) -> None:
        first: dict[str, _Made] = {}
        for one in made:
            if one.entry is None or one.standing == "cannot":
                continue
            other = first.setdefault(one.entry.id, one)
            if other is not one:
                one.cannot(f"The id {one.entry.id} stands at {other.place} too. Take one row out.")

    def _doubt(self, made: Sequence[_Made]) -> None:
        """Numbers that look like slips beside their fellows, asked about as when keying."""
        values = _values(self.state)
        new = [m for m in made if m.standing == "new" and m.entry is not None]
        read = {}
        for one in new:
            assert one.entry is not None
            check, reading = understand(one.entry, self.facts.sheets, self.facts.meters)
            if reading.value is None or check.quantity is None:
                continue
            read[one.entry.id] = (check, reading.value)
            values.setdefault((item_kind(one.entry.item), check.name), {})[one.entry.item] = (
                reading.value
            )
        for one in new:
            entry = one.entry
            assert entry is not None
            # A row with an id has been through this when it was first kept.
            if not one.own_id or entry.get("kept_as_keyed", False) or entry.id not in read:
                continue
            check, value = read[entry.id]
            fellows = values[(item_kind(entry.item), check.name)]
            doubt = unlikely(check, value, [v for i, v in fellows.items() if i != entry.item])
            if doubt is None:
                continue
            if self.settings.keep_unlikely:
                content = {k: v for k, v in entry.data.items() if k != "kept_as_keyed"} | {
                    "kept_as_keyed": True
                }
                one.entry = new_entry("reading", at=entry.at, by=entry.by, id=entry.id, **content)
                one.reason = f"Unlikely, and kept as it stands. {doubt.sentence}"
            else:
                one.standing = "unlikely"
                one.reason = (
                    f"It is unlikely. {doubt.sentence} Mend it, or say that unlikely numbers are "
                    "kept as they stand."
                )

    def _refuse_what_does_not_fold(self, new: Sequence[_Made]) -> None:
        """Whatever the fold refuses is said of its row; the others are tried again without it."""
        left = list(new)
        while left:
            entries = self._entries(left, strikes=False)
            try:
                fold_job(self.facts, [*self.book, *entries], where={e.id: e.id for e in entries})
                return
            except BadInput as refusal:
                found = next((m for m in left if _is_of(m, refusal.where)), None)
                if found is None:
                    found = self._first_that_does_not_fold(left)
                found.cannot(refusal.sentence)
                left.remove(found)

    def _first_that_does_not_fold(self, made: Sequence[_Made]) -> _Made:
        for number in range(1, len(made) + 1):
            try:
                fold_job(self.facts, [*self.book, *self._entries(made[:number], strikes=False)])
            except BadInput:
                return made[number - 1]
        raise AssertionError("the whole did not fold, and every part of it did")

    def _entries(self, made: Sequence[_Made], *, strikes: bool = True) -> list[Entry]:
        """The entries in order: plugs as they come in, readings, and then what is struck."""
        entries: list[Entry] = []
        in_already: set[str] = set(self.state.entries)
        for one in made:
            assert one.entry is not None
            if one.removed is not None and one.removed.id not in in_already:
                in_already.add(one.removed.id)
                entries.append(one.removed)
            entries.append(one.entry)
        if strikes:
            for one in made:
                if one.strike.strip() and one.entry is not None:
                    own = str(uuid.uuid5(_NAMESPACE, f"struck {one.entry.id}"))
                    entries.append(
                        new_entry(
                            "struck",
                            at=max(self.settings.at, one.entry.at),
                            by=one.entry.by,
                            id=own,
                            entry=one.entry.id,
                            reason=one.strike,
                        )
                    )
        return entries

    def _check_rules(self, entries: Sequence[Entry]) -> None:
        """The trade's own rules, once more over all of it."""
        first = [e for e in entries if e.kind != "struck"]
        strikes = [e for e in entries if e.kind == "struck"]
        at = self.settings.at
        state = check_can_append(first, self.book, self.facts, at=at, state=self.state)
        if strikes:
            check_can_append(strikes, [*self.book, *first], self.facts, at=at, state=state)


def _when(made: _Made) -> datetime:
    assert made.entry is not None
    return made.entry.at


def _is_of(made: _Made, where: str) -> bool:
    return bool(where) and where in (
        made.entry.id if made.entry else "",
        made.removed.id if made.removed else "",
    )


def _text(cell: Cell) -> str:
    return cell if isinstance(cell, str) else cell.isoformat()


def _says(entry: Entry, check: Check, zone: ZoneInfo) -> str:
    name = f"{item_kind(entry.item)} {item_name(entry.item)}"
    place = f" ({entry.place})" if entry.place else ""
    on = f" on {entry.get('meter')} {entry.get('range')}".rstrip() if entry.get("meter") else ""
    when = at_time(entry.at.astimezone(zone))
    return f"{name}{place}: {check.label.lower()} {entry.get('written')}{on}, {when}"


def _done(entry: Entry, sheet: CheckSheet) -> str:
    if entry.kind == "reworked" and entry.get("act") in sheet.reworks:
        return sheet.reworks[entry.get("act")].done
    return {"unknown_history": "found to have no known history"}.get(entry.kind, entry.kind)


def _last_cycle(state: JobState) -> dict[str, dict[str, Entry]]:
    """The latest reading of each check of each item, and the latest of what ends a cycle."""
    found: dict[str, dict[str, Entry]] = {}
    for entry in state.live():
        if entry.kind == "reading":
            name = entry.get("check")
        elif entry.kind in _CYCLE:
            # The name of a check has no blank in it, so this is none.
            name = f"{entry.kind} "
        else:
            continue
        held = found.setdefault(entry.item, {})
        if name not in held or held[name].at <= entry.at:
            held[name] = entry
    return found


def _values(state: JobState) -> dict[tuple[str, str], dict[str, int]]:
    """The last number that counts of each check on each item."""
    found: dict[tuple[str, str], dict[str, int]] = {}
    items: Iterable[ItemState] = state.items.values()
    for item in items:
        for taken in item.readings:
            if taken.counts and taken.reading.value is not None:
                found.setdefault((item.kind, taken.reading.check), {})[item.id] = (
                    taken.reading.value
                )
    return found


def _yes_or_no(text: str, name: str) -> bool | None:
    if not text:
        return None
    plain = text.casefold()
    if plain in ("yes", "true", "x"):
        return True
    if plain in ("no", "false"):
        return False
    raise BadInput(f'"{name}" is "{text}". Write yes or no.')


def _moment(day: Cell, clock: Cell) -> datetime:
    if isinstance(day, time):
        raise BadInput("There is a time of day where there should be a day. Write the day too.")
    if isinstance(day, str):
        day = _written_moment(day)
    clock_given = clock.strip() if isinstance(clock, str) else clock
    if isinstance(day, datetime):
        if clock_given != "":
            raise BadInput("The day has a time of day in it and another beside it. Leave one out.")
        return day
    if clock_given == "":
        raise BadInput(
            f'"{day.isoformat()}" is a day with no time. Write both, as in 2026-10-12 09:05.'
        )
    if isinstance(clock_given, str):
        try:
            clock_given = time.fromisoformat(clock_given.zfill(5))
        except ValueError:
            raise BadInput(f'"{clock_given}" is not a time of day. Write it as in 09:05.') from None
    if isinstance(clock_given, datetime):
        clock_given = clock_given.time()
    if not isinstance(clock_given, time):
        raise BadInput(f'"{clock_given.isoformat()}" is a day where a time of day should be.')
    return datetime.combine(day, clock_given)


def _written_moment(text: str) -> datetime | date:
    no_date = BadInput(
        f'"{text}" is not a date that reads one way only. Write year, month and day, as in '
        "2026-10-12 09:05."
    )
    if not re.match(r"\d{4}-\d{2}-\d{2}($|[T ]\d{2}:\d{2})", text):
        raise no_date
    try:
        return date.fromisoformat(text) if len(text) == 10 else datetime.fromisoformat(text)
    except ValueError:
        raise no_date from None
