"""Readings as a table: out of a judged job, and back in through a mapping of its columns.

Two shapes come in: one row for each reading (``check`` and ``written`` columns), and one row
for each item with a column for each check. Nothing is kept here: a plan says of every row what
it would write, or why it cannot be written.
"""

from __future__ import annotations

import re
import uuid
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from rehang.decode.tables import Cell, Row, Table, beyond_words
from rehang.sheets.readings_out import joined_written, readings_table, row_of
from rehang.sheets.readings_plan import (
    CYCLE,
    Made,
    Plan,
    PlannedRow,
    Settings,
    done_words,
    last_cycle,
    says,
    values_on_file,
)
from rehang.sheets.table_columns import (
    FIELDS,
    FLAGS,
    LEFT_OUT,
    WITH,
    Column,
    Target,
    check_choices,
    check_name,
    guess,
    numbered,
    target_from,
    target_text,
    wanted_checks,
)
from rehang.sheets.table_moments import cell_text, moment, yes_or_no
from rehang.trade.doors.rules import CLOCK_SLACK, check_can_append, check_can_write
from rehang.trade.facts.items import Check, CheckSheet
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.lines import with_unit
from rehang.trade.facts.readings import LARGEST_VALUE, NO_READING, unlikely
from rehang.trade.known.state import item_kind, item_name, understand
from rehang.trade.terms.entries import Entry, canonical, is_a, new_entry
from rehang.trade.terms.errors import BadInput, Refused
from rehang.trade.terms.kinds.decisions import Struck
from rehang.trade.terms.kinds.readings import ReadingTaken
from rehang.trade.terms.wording import at_time
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

# Our own name for ids worked out from rows; any fixed UUID would do.
_NAMESPACE = uuid.UUID("0c0b1f6e-4f57-5b0e-8f0b-6b8f0a0d6e52")


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
        self.last_at = last_cycle(self.state)

    def plan(self) -> Plan:
        made = [one for row in self.table.rows for one in self._row(row)]
        self._refuse_the_same_id_twice(made)
        self._doubt(made)
        # Read in the order they were taken: of two readings of one check, the last one counts.
        new = sorted((m for m in made if m.standing == "new"), key=lambda one: one.when)
        self._refuse_what_does_not_fold(new)
        entries = self._entries([m for m in new if m.standing == "new"])
        rows = tuple(PlannedRow(m.row.line, m.place, m.says, m.standing, m.reason) for m in made)
        done = Plan(rows, tuple(entries), self.table.notices)
        if done.can_be_kept:
            self._check_rules(entries)
        return done

    # One row

    def _row(self, row: Row) -> list[Made]:
        place = self.table.place(row.line)
        if row.beyond:
            bad = Made(row, place, "")
            bad.cannot(beyond_words(row))
            return [bad]
        try:
            cells = self._fields(row)
        except Refused as refusal:
            bad = Made(row, place, "")
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
                bad = Made(row, self.table.place(row.line, number), target.check)
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
            if clock != "" and cell_text(clock).strip():
                raise BadInput("There is a time of day and no day. Write the day too.")
            return ""
        when = moment(day, clock)
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
    ) -> Made:
        written = cells.get("written", "")
        shown = " ".join(
            part for part in (cells.get("item") or cells.get("place", ""), check, written) if part
        )
        made = Made(row, place, shown)
        try:
            self._fill(made, cells, check)
        except Refused as refusal:
            made.cannot(refusal.sentence)
        return made

    def _fill(self, made: Made, cells: Mapping[str, str], check_text: str) -> None:
        if not cells.get("written", "").strip():
            raise BadInput(
                "Nothing is written for the reading. Fill the cell, or take out the row."
            )
        if not check_text:
            raise BadInput("The row says no check. Write which one it is a reading of.")
        name = check_name(check_text, self.checks)
        given_id = cells.get("id", "")
        item, hole = self._item(cells, name)
        sheet = self._sheet(item)
        check = sheet.check(name)
        by = self._by(cells.get("by", ""))
        data = self._data(cells, check, item, hole, exact=bool(given_id))
        at = cells["at"]
        when = datetime.fromisoformat(at) if at else self.settings.read_at or self.settings.at
        entry_id = given_id or self._id(data, at, cells.get("by", ""))
        entry = new_entry(ReadingTaken, at=when, by=by, id=entry_id, **data)
        made.entry, made.own_id = entry, not given_id
        made.strike = cells.get("struck", "")
        made.says = says(entry, check, self.zone)
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

    def _stands_already(self, made: Made, stored: Entry, entry: Entry) -> None:
        if is_a(stored, ReadingTaken) and (made.own_id or row_of(stored) == row_of(entry)):
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
        joined = joined_written(written, unit)
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
        for flag in FLAGS:
            data[flag] = yes_or_no(cells.get(flag, ""), flag)
        conditions = {
            name.removeprefix(WITH): text
            for name, text in cells.items()
            if name.startswith(WITH) and text
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
            if later.kind in CYCLE:
                raise BadInput(
                    f"{who} was {done_words(later, self._sheet(entry.item))} on {day}, after this was "
                    "read. Added now, it would count as read since."
                )

    # All rows together

    def _refuse_the_same_id_twice(self, made: Sequence[Made]) -> None:
        first: dict[str, Made] = {}
        for one in made:
            if one.entry is None or one.standing == "cannot":
                continue
            other = first.setdefault(one.entry.id, one)
            if other is not one:
                one.cannot(f"The id {one.entry.id} stands at {other.place} too. Take one row out.")

    def _doubt(self, made: Sequence[Made]) -> None:
        """Numbers that look like slips beside their fellows, asked about as when keying."""
        values = values_on_file(self.state)
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
            if not one.own_id or entry.fields.kept_as_keyed or entry.id not in read:
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
                one.entry = new_entry(
                    ReadingTaken, at=entry.at, by=entry.by, id=entry.id, **content
                )
                one.reason = f"Unlikely, and kept as it stands. {doubt.sentence}"
            else:
                one.standing = "unlikely"
                one.reason = (
                    f"It is unlikely. {doubt.sentence} Mend it, or say that unlikely numbers are "
                    "kept as they stand."
                )

    def _refuse_what_does_not_fold(self, new: Sequence[Made]) -> None:
        """Whatever the fold refuses is said of its row; the others are tried again without it."""
        left = list(new)
        while left:
            entries = self._entries(left, strikes=False)
            try:
                fold_job(self.facts, [*self.book, *entries], where={e.id: e.id for e in entries})
                return
            except BadInput as refusal:
                found = next((m for m in left if m.is_of(refusal.where)), None)
                if found is None:
                    found = self._first_that_does_not_fold(left)
                found.cannot(refusal.sentence)
                left.remove(found)

    def _first_that_does_not_fold(self, made: Sequence[Made]) -> Made:
        for number in range(1, len(made) + 1):
            try:
                fold_job(self.facts, [*self.book, *self._entries(made[:number], strikes=False)])
            except BadInput:
                return made[number - 1]
        raise AssertionError("the whole did not fold, and every part of it did")

    def _entries(self, made: Sequence[Made], *, strikes: bool = True) -> list[Entry]:
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
        first = [e for e in entries if not is_a(e, Struck)]
        strikes = [e for e in entries if is_a(e, Struck)]
        at = self.settings.at
        state = check_can_append(first, self.book, self.facts, at=at, state=self.state)
        if strikes:
            check_can_append(strikes, [*self.book, *first], self.facts, at=at, state=state)
