"""The lines of the book, and each cell of the tray as it is read back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from urllib.parse import urlencode

from django.http import HttpRequest

from rehang.trade.job.judging import JudgedJob
from rehang.trade.telling.sentences import entry_words, with_stop
from rehang.trade.telling.sheet_parts import status_name
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.kinds.decisions import Struck
from rehang.trade.terms.kinds.papers import Filed, RecordSigned
from rehang.trade.terms.kinds.readings import ReadingTaken, Seen
from rehang.trade.terms.kinds.register import CLASSES
from rehang.trade.terms.wording import on_day
from rehang.trade.work.names import item_label
from rehang.web.shared.forms import BenchForm, Pick
from rehang.web.shared.times import zone_of

__all__ = [
    "BookRow",
    "LinesForm",
    "ReadBackRow",
    "book_rows",
    "read_back_rows",
    "unread_number",
    "unread_words",
]


# Read it back

# As many letters stand side by side with another value on a phone.
_SHORT = 9


@dataclass(frozen=True, slots=True)
class ReadBackCell:
    check: str
    label: str
    text: str
    call: str
    mark: str
    notes: tuple[str, ...]
    anchor: str
    missing: bool

    @property
    def is_wide(self) -> bool:
        """Whether it takes a line to itself: words do, figures stand side by side."""
        return len(self.text) > _SHORT or bool(self.notes)


@dataclass(frozen=True, slots=True)
class ReadBackRow:
    hole: str
    item: str
    name: str
    verdict: str
    mark: str
    cells: tuple[ReadBackCell, ...]


def read_back_rows(judged: JudgedJob) -> list[ReadBackRow]:
    """Every value in tray order, large, to be read aloud."""
    rows = []
    changed = _changed(judged)
    for hole in judged.facts.layout.walk:
        held = judged.at(hole)
        if held is None:
            continue
        cells = []
        for call in held.calls:
            notes = []
            if call.kept_as_keyed:
                notes.append("kept as keyed")
            if (held.item, call.check) in changed:
                notes.append("changed")
            if call.called_by:
                notes.append(f"called {call.call} by {call.called_by}")
            missing = call.call in ("NOT READ", "VOID") and held.verdict != "REJECT"
            cells.append(
                ReadBackCell(
                    check=call.check,
                    label=call.label,
                    text=call.reading or "not read",
                    call=call.call,
                    mark=status_name(call.call),
                    notes=tuple(notes),
                    anchor=f"r-{hole}-{call.check}",
                    missing=missing,
                )
            )
        rows.append(
            ReadBackRow(
                hole, held.item, held.name, held.verdict, status_name(held.verdict), tuple(cells)
            )
        )
    return rows


def _changed(judged: JudgedJob) -> set[tuple[str, str]]:
    """Item and check of every reading that was struck and written again."""
    found = set()
    for target in judged.state.struck:
        entry = judged.state.entries[target]
        if is_a(entry, ReadingTaken, Seen) and entry.fields.check:
            found.add((entry.item, entry.fields.check))
    return found


def unread_words(rows: Sequence[ReadBackRow]) -> list[tuple[str, list[tuple[str, str]]]]:
    """Each hole with values still to be read: the anchor and the words of each."""
    found = [
        (row.hole, [(cell.anchor, _to_read(cell)) for cell in row.cells if cell.missing])
        for row in rows
    ]
    return [(hole, cells) for hole, cells in found if cells]


def unread_number(rows: Sequence[ReadBackRow]) -> int:
    """How many values are still to be read."""
    return sum(len(cells) for _, cells in unread_words(rows))


def _to_read(cell: ReadBackCell) -> str:
    return f"{cell.label.lower()} again: void" if cell.call == "VOID" else cell.label.lower()


# The book

# What a line is about, by the room that its kind is declared in.
SORTS = {
    "readings": "Readings and looks",
    "items": "Parts out, in, worked on",
    "work": "Work",
    "decisions": "Decisions and strikes",
    "torque": "Torques",
    "runs": "Ground runs",
    "oil": "Oil and metal",
    "stock": "Parts ordered and used",
    "papers": "Papers and signatures",
    "meters": "Meters",
    "shop": "The job as a whole",
}


def sort_of(entry: Entry) -> str:
    """What a line is about, a key of :data:`SORTS`."""
    return CLASSES[entry.kind].__module__.rpartition(".")[2]


class LinesForm(BenchForm):
    """Which lines of the book are shown; all of them where nothing is picked."""

    def __init__(self, request: HttpRequest, judged: JudgedJob, entries: Sequence[Entry]) -> None:
        super().__init__(request, request.GET.dict())
        people = {one.by: judged.facts.person(one.by) for one in entries}
        parts = {one.item: item_label(judged.facts, one.item) for one in entries if one.item}
        sorts = {sort_of(one) for one in entries}
        for name, label, every, choices in (
            ("part", "Part", "Every part", parts),
            ("by", "Who", "Everybody", people),
            ("about", "About", "Everything", {k: v for k, v in SORTS.items() if k in sorts}),
        ):
            ordered = sorted(choices.items(), key=lambda one: one[1])
            self.fields[name] = Pick(label, [("", every), *ordered])
        self.asked = {name: request.GET.get(name, "") for name in self.fields}

    @property
    def query(self) -> str:
        """What is picked, as an address has it."""
        return urlencode({name: value for name, value in self.asked.items() if value})

    @property
    def before(self) -> str:
        """The same, up to the line before which is shown."""
        return f"{self.query}&before=" if self.query else "before="

    def takes(self, entry: Entry) -> bool:
        """Whether a line is among those picked."""
        found = {"part": entry.item, "by": entry.by, "about": sort_of(entry)}
        return all(not value or found[name] == value for name, value in self.asked.items())


@dataclass(frozen=True, slots=True)
class BookRow:
    seq: int
    id: str
    day: str
    time: str
    who: str
    words: str
    kind: str
    struck_by: str
    struck_reason: str
    can_strike: bool
    hash: str


def book_rows(judged: JudgedJob, entries: Sequence[Entry]) -> list[BookRow]:
    """Entries as lines of the book, in the order given."""
    zone = zone_of(judged)
    rows = []
    for entry in entries:
        strike = judged.state.struck.get(entry.id)
        local = entry.at.astimezone(zone)
        rows.append(
            BookRow(
                seq=entry.seq,
                id=entry.id,
                day=on_day(local),
                time=f"{local:%H:%M}",
                who=judged.facts.person(entry.by),
                words=entry_words(entry, judged),
                kind=entry.kind,
                struck_by=judged.facts.person(strike.by) if strike else "",
                struck_reason=with_stop(strike.fields.reason) if strike else "",
                can_strike=strike is None and not is_a(entry, Struck, Filed, RecordSigned),
                hash=entry.hash[:8],
            )
        )
    return rows
