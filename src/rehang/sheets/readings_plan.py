"""What keeping a table of readings would write: its rows, and what the book holds of their items."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from zoneinfo import ZoneInfo

from rehang.decode.tables import Row
from rehang.trade.facts.items import Check, CheckSheet
from rehang.trade.known.state import ItemState, JobState, item_kind, item_name
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.kinds.items import Reworked
from rehang.trade.terms.kinds.readings import ReadingTaken
from rehang.trade.terms.wording import at_time

__all__ = [
    "CYCLE",
    "Made",
    "Plan",
    "PlannedRow",
    "Settings",
    "done_words",
    "last_cycle",
    "says",
    "values_on_file",
]

# What begins a new cycle of an item: a reading from before it no longer counts.
CYCLE = ("removed", "reworked", "dropped", "overheated", "unknown_history")


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


@dataclass(slots=True)
class Made:
    """One reading of the table on its way to an entry."""

    row: Row
    place: str
    says: str
    entry: Entry[ReadingTaken] | None = None
    standing: str = "new"
    reason: str = ""
    strike: str = ""
    removed: Entry | None = None
    own_id: bool = False

    def cannot(self, reason: str) -> None:
        self.standing, self.reason = "cannot", reason

    @property
    def when(self) -> datetime:
        assert self.entry is not None
        return self.entry.at

    def is_of(self, where: str) -> bool:
        """Whether a refusal is about an entry of this row."""
        return bool(where) and where in (
            self.entry.id if self.entry else "",
            self.removed.id if self.removed else "",
        )


def says(entry: Entry[ReadingTaken], check: Check, zone: ZoneInfo) -> str:
    name = f"{item_kind(entry.item)} {item_name(entry.item)}"
    place = f" ({entry.place})" if entry.place else ""
    on = f" on {entry.fields.meter} {entry.fields.range}".rstrip() if entry.fields.meter else ""
    when = at_time(entry.at.astimezone(zone))
    return f"{name}{place}: {check.label.lower()} {entry.fields.written}{on}, {when}"


def done_words(entry: Entry, sheet: CheckSheet) -> str:
    if is_a(entry, Reworked) and entry.fields.act in sheet.reworks:
        return sheet.reworks[entry.fields.act].done
    return {"unknown_history": "found to have no known history"}.get(entry.kind, entry.kind)


def last_cycle(state: JobState) -> dict[str, dict[str, Entry]]:
    """The latest reading of each check of each item, and the latest of what ends a cycle."""
    found: dict[str, dict[str, Entry]] = {}
    for entry in state.live():
        if is_a(entry, ReadingTaken):
            name = entry.fields.check
        elif entry.kind in CYCLE:
            # The name of a check has no blank in it, so this is none.
            name = f"{entry.kind} "
        else:
            continue
        held = found.setdefault(entry.item, {})
        if name not in held or held[name].at <= entry.at:
            held[name] = entry
    return found


def values_on_file(state: JobState) -> dict[tuple[str, str], dict[str, int]]:
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
