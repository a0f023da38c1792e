"""What printed sheets are made of, as values, and the texts that all of them carry."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, tzinfo

from rehang.trade.facts.items import Check, CheckSheet
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.known.state import JobState
from rehang.trade.terms.ends import end_words
from rehang.trade.terms.entries import Entry
from rehang.trade.terms.quantities import QUANTITIES, Quantity, number_and_unit
from rehang.trade.terms.wording import at_time, on_day
from rehang.trade.verdicts.calls import Call
from rehang.trade.verdicts.item_verdict import ItemVerdict

__all__ = [
    "DRAFT",
    "GENERAL",
    "INVENTED",
    "SIGNS",
    "SIGNS_ASKED",
    "Paragraph",
    "PhotoLine",
    "SheetCell",
    "SheetColumn",
    "SheetFact",
    "SheetPart",
    "SheetRow",
    "Sign",
    "column_of",
    "columns_of",
    "date_text",
    "engine_facts",
    "full_stop",
    "in_columns",
    "sheet_id",
    "shop_words",
    "stamp_words",
    "status_name",
    "tray_sheet",
    "when_words",
]

DRAFT = "DRAFT, NOT SIGNED"

GENERAL = (
    "General figures are never approved data; the maker's current manual, local rules and "
    "licensed judgement govern."
)

SIGNS = "The signature approves only the work written here. Rehang does not sign."

INVENTED = "Invented job: every name, serial, limit and document in it is made up."

# Gap first, then ohms, as a plug sheet on a clipboard has them: common practice, no source.
_COLUMN_ORDER = ("gap", "resistance", "electrode", "spark")

# Crockford's base 32 leaves out I, L, O and U, so that a sheet's id can be read aloud.
_ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"


@dataclass(frozen=True, slots=True)
class SheetPart:
    """A piece of a fact: ``s/n`` TV4-2207, 3,184.6 ``h``. An empty ``text`` is a ruled blank."""

    text: str
    before: str = ""
    after: str = ""


@dataclass(frozen=True, slots=True)
class SheetFact:
    """One line of the title block, its parts with a comma between."""

    label: str
    parts: tuple[SheetPart, ...]


@dataclass(frozen=True, slots=True)
class SheetColumn:
    """One check as a column. ``label`` is the whole heading, its unit in it.

    ``kind`` is the check's own: a column of words is set wider than one of numbers.
    """

    check: str
    label: str
    unit: str
    kind: str
    letter: str = ""
    letters: str = ""
    limit: str = ""


@dataclass(frozen=True, slots=True)
class SheetCell:
    """One reading in its row. ``status`` names the shape, ``word`` says it.

    ``marks`` are the letters of the legend; ``extra`` a short line below the word.
    """

    text: str
    status: str
    word: str
    marks: str = ""
    extra: str = ""


@dataclass(frozen=True, slots=True)
class SheetRow:
    """One hole of the tray. ``short`` is the reason or the next act in a few words, ``why`` all of it."""

    hole: str
    serial: str
    cells: tuple[SheetCell, ...]
    verdict: str
    status: str
    why: tuple[str, ...]
    short: str = ""


@dataclass(frozen=True, slots=True)
class Paragraph:
    """A heading with its lines; ``in_front`` what stands with the table, before the signature."""

    title: str
    lines: tuple[str, ...]
    in_front: bool = False


@dataclass(frozen=True, slots=True)
class Sign:
    """A ruled blank; ``lines`` of them, ``wide`` over the whole page."""

    label: str
    wide: bool = False
    lines: int = 1


@dataclass(frozen=True, slots=True)
class PhotoLine:
    """One photo with what is printed under it. ``says`` is also what a reader of tags hears."""

    name: str
    sha256: str
    title: str
    scale: str
    taken: str
    says: str


SIGNS_ASKED = (
    Sign("Work done, or reference", wide=True),
    Sign("Done by"),
    Sign("Signature"),
    Sign("Certificate no."),
    Sign("Kind"),
    Sign("Date"),
    Sign("Second look"),
)


def status_name(words: str) -> str:
    """The shape of a call or verdict: ``CLOSE CALL`` is ``close-call``."""
    return words.lower().replace(" ", "-")


def sheet_id(facts: JobFacts, state: JobState) -> str:
    """The sheet's id: number and hash of the last entry of the book that it was printed from.

    It holds the whole book to what it was: ``rehang verify JOB --against "213 3f9a 22c1 8d04 77be"``.
    Where the last entry has no seal yet: four characters out of the book, and how many it has.
    """
    if state.order and state.order[-1].is_sealed:
        return end_words(state.order[-1].seq, state.order[-1].hash)
    digest = hashlib.sha256(facts.job.encode())
    for entry in state.order:
        digest.update(b"\n" + entry.line().encode())
    number = int.from_bytes(digest.digest()[:3], "big")
    letters = "".join(_ALPHABET[(number >> shift) & 31] for shift in (15, 10, 5, 0))
    return f"{letters}-{len(state.order)}"


def tray_sheet(facts: JobFacts, plugs: Sequence[ItemVerdict]) -> CheckSheet:
    """The check sheet of what sits in the tray."""
    kind = plugs[0].kind if plugs else "plug"
    return facts.sheets[kind]


def columns_of(sheet: CheckSheet, calls: Sequence[Call] = ()) -> tuple[SheetColumn, ...]:
    """A column for each check; a pressure all gradings share goes into the heading."""
    return tuple(column_of(check, _shared_psi(check, calls)) for check in in_columns(sheet))


def in_columns(sheet: CheckSheet) -> list[Check]:
    def place(check: Check) -> tuple[int, int]:
        if check.kind == "look":
            return len(_COLUMN_ORDER) + 1, check.order
        if check.name in _COLUMN_ORDER:
            return _COLUMN_ORDER.index(check.name), check.order
        return len(_COLUMN_ORDER), check.order

    return sorted(sheet.checks, key=place)


def _shared_psi(check: Check, calls: Sequence[Call]) -> str:
    taken = {
        call.taken.fields.at_psi if call.taken is not None else None
        for call in calls
        if call.check == check.name and call.entry is not None
    }
    psi = taken.pop() if len(taken) == 1 else None
    return f"at {psi} psi" if psi is not None else ""


def column_of(check: Check, unit: str = "") -> SheetColumn:
    unit = unit or _unit(check.quantity)
    if check.quantity is QUANTITIES["resistance"]:
        label = "Ohms"
    elif unit:
        label = f"{check.label} {unit}" if check.quantity is None else f"{check.label}, {unit}"
    else:
        label = check.label
    return SheetColumn(check.name, label, unit, check.kind)


def _unit(quantity: Quantity | None) -> str:
    return number_and_unit(0, quantity, record=True)[1] if quantity else ""


def full_stop(text: str) -> str:
    return text if not text or text[-1] in ".!?" else f"{text}."


# Title block


def shop_words(facts: JobFacts) -> str:
    """The shop and where it is, as far as they are on file."""
    return ", ".join(t for t in (_text(facts, "shop"), _text(facts, "place")) if t)


def engine_facts(facts: JobFacts) -> tuple[SheetFact, ...]:
    """Engine, aircraft and times as they came in; what is not on file is a ruled blank."""
    hours = facts.engine.get("hours")
    run = hours if isinstance(hours, Mapping) else {}
    return (
        SheetFact(
            "Engine", (SheetPart(_text(facts, "engine")), SheetPart(_text(facts, "serial"), "s/n "))
        ),
        SheetFact(
            "Off", (SheetPart(_text(facts, "airframe")), SheetPart(_text(facts, "registration")))
        ),
        SheetFact(
            "Time",
            (
                SheetPart(_hours(run.get("since_new")), after=" h"),
                SheetPart(_hours(run.get("since_overhaul")), "overhaul ", " h ago"),
            ),
        ),
        SheetFact(
            "Airframe",
            (
                SheetPart(_text(facts, "airframe_serial"), "s/n "),
                SheetPart(_hours(facts.engine.get("airframe_hours")), after=" h"),
            ),
        ),
    )


def _text(facts: JobFacts, key: str) -> str:
    value = facts.engine.get(key, "")
    return str(value).strip() if value is not None else ""


def _hours(value: object) -> str:
    return f"{value:,.1f}" if isinstance(value, (int, float)) else ""


def date_text(value: object) -> str:
    # The book copy holds a day in both forms, to be read and to be sorted by.
    return f"{value.isoformat()} ({on_day(value)})" if isinstance(value, date) else ""


# Small words


def when_words(entry: Entry, zone: tzinfo) -> str:
    return at_time(entry.at.astimezone(zone))


def stamp_words(at: datetime) -> str:
    """A moment with its offset, as sheets print it."""
    offset = f"{at:%z}"
    sign = "−" if offset.startswith("-") else "+"
    return f"{at_time(at)} {sign}{offset[1:3]}:{offset[3:5]}"
