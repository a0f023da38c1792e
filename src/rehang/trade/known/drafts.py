"""Drafts of records as values: their sentences, the fields that a rule asks for, and the whole text.

What each must hold: 14 CFR 43.9(a) for maintenance, 43.11(a) for inspections, 43.11(b) for the
list of discrepancies. The mechanic's own rules govern.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from rehang.trade.known.state import JobState
from rehang.trade.terms.days import last_day
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.kinds.papers import Drafted
from rehang.trade.terms.wording import is_blank

__all__ = [
    "APPROVES",
    "BLANK",
    "LEFT_OUT",
    "WHATS",
    "Draft",
    "LineRows",
    "RecordField",
    "RecordLine",
    "check_drafted",
    "check_full_day",
    "check_what",
    "leaves_out",
    "own_of",
    "words_before",
]

# What may be drafted and signed, and its title.
WHATS: Mapping[str, str] = {
    "maintenance": "Maintenance entry",
    "inspection": "Inspection entry",
    "discrepancies": "List of discrepancies",
}
# Approvals for return to service; a list of discrepancies may be signed with blockers open.
APPROVES = ("maintenance", "inspection")
LEFT_OUT = "left out"
# How an empty field stands in a text; on paper it is a ruled line.
BLANK = "________"
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9-]*")
_DAY = re.compile(r"\d{4}-\d\d-\d\d")


# The values that a sentence was made of, a row for each thing it tells.
LineRows = tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class RecordLine:
    """One sentence of a draft.

    ``drawn`` is what the book gives, ``own`` what the person wrote in its place, ``by`` whom
    and for what ``reason`` it was left out; ``before`` is what a person had written before that.
    ``from_what`` says what it was drawn from; ``rows`` are what the book's sentence says, for a table.
    """

    id: str
    title: str
    drawn: str
    own: str
    by: str
    from_what: str
    reason: str = ""
    before: str = ""
    rows: LineRows = ()

    @property
    def in_words_of(self) -> str:
        """Whose words it is in; empty where it stands as the book gives it, or is left out."""
        return self.by if self.own not in ("", LEFT_OUT) else ""

    @property
    def text(self) -> str:
        """The sentence as it stands; of one left out what it said, by whom it was and why."""
        if self.own == LEFT_OUT:
            # Who reads and signs sees what is not said.
            return (
                f"left out by {self.by} ({self.reason.strip().rstrip('.')}): "
                f"{self.drawn or self.before}"
            )
        return self.own or self.drawn


@dataclass(frozen=True, slots=True)
class RecordField:
    """One thing that a rule asks for. An empty ``value`` prints as a ruled blank.

    ``filled_at_signing`` are those that only the person who signs can fill.
    """

    name: str
    label: str
    value: str
    rule: str
    required: bool
    filled_at_signing: bool = False


@dataclass(frozen=True, slots=True)
class Draft:
    """A draft of one record."""

    what: str
    title: str
    lines: tuple[RecordLine, ...]
    fields: tuple[RecordField, ...]
    statement: str

    @property
    def text(self) -> str:
        """The whole text that would be signed: sentences, then fields, then the statement."""
        told = [f"{line.title}: {self._told(line)}" for line in self.lines if line.text]
        # A blank is printed and not left out, so that who signs sees what is not there.
        named = [f"{one.label}: {one.value or BLANK}" for one in self.fields]
        return "\n".join([self.title, *told, *named, *([self.statement] if self.statement else [])])

    def _told(self, line: RecordLine) -> str:
        """A sentence as it is read and signed; of an open item in other words, what the book gives too."""
        if self.what != "discrepancies" or not line.drawn or not line.in_words_of:
            return line.text
        # Else words without a decision would take an item off the owner's list.
        return f"{line.text} In the words of {line.by}; the book: {line.drawn}"

    @property
    def blank(self) -> tuple[RecordField, ...]:
        """Fields a rule asks for that are empty and that signing does not fill."""
        return tuple(
            one
            for one in self.fields
            if one.required and not one.value and not one.filled_at_signing
        )


def check_what(what: str) -> str:
    """A record's name, when there is such a record."""
    if what not in WHATS:
        raise BadInput(f'"{what}" is not a record. The records are {", ".join(WHATS)}.')
    return what


def check_drafted(entry: Entry[Drafted]) -> None:
    """Whether a ``drafted`` entry names a sentence of a record: ``maintenance:plugs-in``."""
    what, _, name = entry.fields.what.partition(":")
    check_what(what)
    if not _NAME.fullmatch(name):
        raise BadInput(f'"{name}" is not a sentence of a record. Write it as in {what}:more-1.')
    text = entry.fields.text.strip()
    if is_blank(text):
        raise BadInput("Write the sentence, or leave it out.", "text")
    if name == "field-date":
        check_full_day(text)


def leaves_out(told: Drafted) -> bool:
    """Whether it leaves a sentence out, rather than puts words in its place."""
    return told.text.strip() == LEFT_OUT


def check_full_day(text: str) -> date:
    """A day written whole: no record is dated "about" (14 CFR 43.12, falsification)."""
    if not _DAY.fullmatch(text):
        raise BadInput(f'"{text}" is not a day. Write it whole, as in 2026-11-12.', "text")
    return last_day(text)


def own_of(state: JobState, what: str) -> dict[str, Entry[Drafted]]:
    """What people wrote in place of a drawn sentence of a record, the last of each.

    One left out against the rules, as before they were known, stands as the book gives it.
    """
    found: dict[str, Entry[Drafted]] = {}
    for entry in state.live():
        if is_a(entry, Drafted):
            record, _, name = entry.fields.what.partition(":")
            at_fault = entry.id in state.faults and leaves_out(entry.fields)
            if record == what and name and not at_fault:
                found[name] = entry
    return found


def words_before(state: JobState, left: Entry[Drafted]) -> str:
    """What stood in a person's words where a sentence was left out; empty where nothing did."""
    words = [
        one.fields.text
        for one in state.live()
        if is_a(one, Drafted) and one.fields.what == left.fields.what and not leaves_out(one.fields)
    ]
    return words[-1] if words else ""
