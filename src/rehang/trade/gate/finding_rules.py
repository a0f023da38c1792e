"""Rules on what is seen, counted and closed, so that a word cannot say less than was found (DESIGN 4b, 9)."""

from __future__ import annotations

import re

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.known.state import WORKED_OUT_NAMES, Finding, JobState, before, item_kind
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.errors import BadInput, NotAllowed
from rehang.trade.terms.kinds.decisions import Closed
from rehang.trade.terms.kinds.oil import PiecesCounted
from rehang.trade.terms.kinds.readings import ReadingTaken, Seen
from rehang.trade.terms.wording import listed

__all__ = ["check_closing", "check_counted", "check_not_a_count", "check_seen"]


def check_seen(entry: Entry[Seen], state: JobState, facts: JobFacts) -> None:
    """A severity is one that its word has, and a note does not say worse than its word."""
    sheet = facts.sheets.get(item_kind(entry.item))
    if sheet is None:
        return
    word = sheet.word(entry.fields.word)
    given = entry.fields.severity
    # Oil-wet is milder in a hole that oil runs down to: both severities are its own.
    allowed = {*word.severities} | ({word.drained_severity} - {None})
    if given is not None and given not in allowed:
        raise BadInput(
            f"{word.label} goes with severity "
            f"{listed([str(one) for one in sorted(word.severities, reverse=True)], 'or')}, not {given}. "
            "Write it with that, or with the word for what was seen.",
            "severity",
        )
    # A mild word with a grave note would let pass what the grave word stops.
    for better, signs in word.instead.items():
        sign = _says(entry.fields.note, signs)
        if sign and better in sheet.words:
            raise BadInput(
                f'The note says "{sign}" and the word is {word.label.lower()}. Use the word '
                f'"{better}" ({sheet.words[better].label.lower()}), or write the note anew.',
                "note",
            )


def _says(note: str, signs: tuple[str, ...]) -> str:
    """The first of the signs that a note has, unless it says that there is none of it."""
    for sign in signs:
        for found in re.finditer(rf"\b{re.escape(sign)}\b", note.casefold()):
            # "No crack" says that there is none, up to the next comma or stop.
            if not re.search(
                r"\b(no|none|nothing|not|without)\b[^,;.]*$", note.casefold()[: found.start()]
            ):
                return sign
    return ""


def check_counted(entry: Entry[PiecesCounted], state: JobState, facts: JobFacts) -> None:
    """A count is whole and of this world."""
    pieces, magnetic = entry.fields.pieces, entry.fields.magnetic
    if not 0 <= magnetic <= pieces:
        raise BadInput(f"{magnetic} magnetic of {pieces} pieces cannot be.", "magnetic")
    largest = entry.fields.largest_mm
    if largest is not None and not (0 < largest < 1000 if pieces else largest == 0):
        raise BadInput(
            f"The largest of {pieces} pieces cannot be {largest:g} mm. Measure it again.",
            "largest_mm",
        )


def check_not_a_count(entry: Entry[ReadingTaken], state: JobState, facts: JobFacts) -> None:
    """What is counted is not keyed as a reading."""
    sheet = facts.sheets.get(item_kind(entry.item))
    if sheet is None:
        return
    check = sheet.check(entry.fields.check)
    if check.method == "counted":
        raise NotAllowed(f"{check.label} is counted: write the count of pieces instead.")


def check_closing(entry: Entry[Closed], state: JobState, facts: JobFacts) -> None:
    """A finding that came from another part is closed by what its word asks for (DESIGN 4b, 9)."""
    if entry.fields.finding.startswith(WORKED_OUT_NAMES):
        return
    finding = state.finding(entry.fields.finding)
    # What was seen on the part itself is closed with a reason alone.
    if not finding.closed_by:
        return
    ways = {"look": _looked_after(finding, entry, state, facts), "found": _found(entry)}
    if any(ways[way] for way in finding.closed_by):
        return
    kind = item_kind(finding.item)
    sheet = facts.sheets.get(kind)
    look = sheet.look.label.lower() if sheet is not None else "look"
    name = finding.item.replace(":", " ")
    asked = {
        "look": f"a {look} look at {name} after it was found, written down first",
        "found": "where it was found, in words",
    }
    raise NotAllowed(
        f"{finding.label}: closing it takes {listed([asked[way] for way in finding.closed_by], 'or')}."
    )


def _found(entry: Entry[Closed]) -> bool:
    return any(char.isalnum() for char in entry.fields.found)


def _looked_after(finding: Finding, entry: Entry, state: JobState, facts: JobFacts) -> bool:
    """Whether the item was looked at, as its check asks, between the finding and its closing."""
    sheet = facts.sheets.get(item_kind(finding.item))
    if sheet is None:
        # A kind without a sheet has no look that could be asked for.
        return True
    seen = [
        one
        for one in before(entry, state)
        if is_a(one, Seen) and one.item == finding.item and one.fields.check == sheet.look.name
    ]
    # Later, not at once: the look that found it does not close it.
    return any(one.at > finding.entry.at for one in seen)
