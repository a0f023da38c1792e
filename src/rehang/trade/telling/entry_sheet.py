"""What the printed maintenance entry, inspection entry and list of discrepancies say.

A draft is printed as it stands, with a ruled blank for every field that is empty. A signed record
is printed as it was signed, line for line, with the name and certificate of who signed; the ruled
line for a pen stays.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, tzinfo

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.drafts import APPROVES, BLANK, Draft, RecordField
from rehang.trade.papers.due import hours_of
from rehang.trade.papers.no_age_rule import without_age_rule
from rehang.trade.papers.signing import Signed
from rehang.trade.telling.entry_tables import EntryPiece, draft_as_signed, pieces_of
from rehang.trade.telling.sentences import entry_words
from rehang.trade.telling.sheet_parts import (
    DRAFT,
    GENERAL,
    INVENTED,
    SheetFact,
    SheetPart,
    engine_facts,
    sheet_id,
    shop_words,
    stamp_words,
)
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.wording import on_day, plural

__all__ = [
    "DueLine",
    "DueSheet",
    "EntryLine",
    "EntrySheet",
    "changed_words",
    "draft_sheet",
    "due_sheet",
    "has_short_form",
    "signed_sheet",
]

OF_THE_RULES = "14 CFR 43.9 and 43.11 say what a record holds; the mechanic's own rules govern."
# So many letters of sentences go on one page with the signature, at the size of a bench sheet.
_ONE_PAGE = 1200
SHORT_FORM = (
    "Short form. Every reading, part and paper is in the whole entry, kept with the engine."
)
# Fields that the person who signs fills by signing.
AT_SIGNING = ("Signature", "Certificate number", "Kind of certificate")


@dataclass(frozen=True, slots=True)
class EntryLine:
    """One sentence. ``own`` says who wrote it anew, ``struck`` the part that is struck through."""

    title: str
    text: str
    own: str = ""
    struck: str = ""


@dataclass(frozen=True, slots=True)
class EntrySheet:
    """One record ready to be set; a field with no value is a ruled blank.

    Where there are ``pieces`` they and the signature are one page, and the ``lines`` stand behind it
    word for word; else the lines come first.
    """

    title: str
    shop: str
    sheet_id: str
    notices: tuple[str, ...]
    facts: tuple[SheetFact, ...]
    pieces: tuple[EntryPiece, ...]
    lines: tuple[EntryLine, ...]
    fields: tuple[RecordField, ...]
    signature: tuple[tuple[str, str], ...]
    statement: str
    small: tuple[str, ...]
    foot: str
    annex: str = "The whole text, word for word"
    short_form: str = ""


def draft_sheet(
    judged: JudgedJob, draft: Draft, *, zone: tzinfo, printed_at: datetime
) -> EntrySheet:
    """A draft as it stands, with everything a rule asks for or a ruled blank for it."""
    notices = _invented(judged.facts)
    if draft.what in ("maintenance", "inspection") and judged.against(draft.what):
        number = len(judged.against(draft.what))
        notices += (
            f"{number} {plural('reason', number)} not to return it to service "
            f"{'stands' if number == 1 else 'stand'} in the book.",
        )
    if draft.what == "maintenance" and judged.may_not_fly:
        held = " ".join(one.sentence for one in judged.may_not_fly)
        notices += (f"May not fly until this is done: {held}",)
    lines = tuple(
        EntryLine(
            one.title, one.text, f"in the words of {one.in_words_of}" if one.in_words_of else ""
        )
        for one in draft.lines
        if one.text
    )
    if draft.what == "discrepancies" and not lines:
        lines = (EntryLine("None", "Nothing on these sheets keeps the engine from service."),)
    return EntrySheet(
        title=draft.title,
        shop=shop_words(judged.facts),
        sheet_id=sheet_id(judged.facts, judged.state),
        notices=notices,
        facts=_facts(judged, _date_of(draft.fields), printed_at.astimezone(zone)),
        pieces=_pieces(draft),
        lines=lines,
        fields=tuple(one for one in draft.fields if not one.filled_at_signing),
        signature=tuple((label, "") for label in AT_SIGNING),
        statement=draft.statement,
        small=(GENERAL, OF_THE_RULES),
        foot=f"{draft.title}, {DRAFT}",
        short_form=SHORT_FORM,
    )


def signed_sheet(
    judged: JudgedJob, signed: Signed, *, zone: tzinfo, printed_at: datetime
) -> EntrySheet:
    """A signed record, every line as it was signed."""
    if signed.fault:
        raise BadInput(f"{signed.title}: {signed.fault} It is not printed as a signed record.")
    title, *rest = signed.text.split("\n")
    lines: list[EntryLine] = []
    fields: list[RecordField] = []
    statement: list[str] = []
    labels = _field_labels(rest)
    for number, text in enumerate(rest):
        head, cut, tail = text.partition(": ")
        if not cut or number > labels.stop - 1:
            statement.append(text)
        elif number in labels:
            if head not in AT_SIGNING:
                fields.append(RecordField(head, head, "" if tail == BLANK else tail, "", False))
        else:
            lines.append(_line(head, tail))
    at = signed.entry.at.astimezone(zone)
    changed = changed_words(signed, judged)
    return EntrySheet(
        title=title,
        shop=shop_words(judged.facts),
        sheet_id=sheet_id(judged.facts, judged.state),
        notices=(*_invented(judged.facts), *((changed,) if changed else ())),
        facts=_facts(judged, _date_of(fields), printed_at.astimezone(zone)),
        pieces=_pieces(draft_as_signed(judged, signed)),
        lines=tuple(lines),
        fields=tuple(fields),
        signature=(
            ("Signature", f"{signed.name}, {stamp_words(at)}"),
            ("Certificate number", signed.certificate),
            ("Kind of certificate", signed.kind),
        ),
        statement=" ".join(statement),
        small=(
            f"Signed in the book, entry {signed.entry.seq}, with the signer's own "
            f"{signed.entry.fields.secret}. "
            f"Sum of the text (SHA-256): {signed.entry.fields.sha256}",
        ),
        foot=f"{title}, SIGNED by {signed.name}, {on_day(at)}",
        short_form=f"{SHORT_FORM} Its sum (SHA-256) begins {signed.entry.fields.sha256[:12]}.",
    )


def has_short_form(draft: Draft | None) -> bool:
    """Whether an entry is a page of tables with its text behind, and goes on a sticker.

    A list for the owner is nothing but its lines, and a short draft has room for all of them.
    """
    if draft is None or draft.what not in APPROVES:
        return False
    return sum(len(one.text) for one in draft.lines) > _ONE_PAGE


def _pieces(draft: Draft | None) -> tuple[EntryPiece, ...]:
    return pieces_of(draft) if draft is not None and has_short_form(draft) else ()


def _field_labels(lines: list[str]) -> range:
    """Where the fields stand in a signed text: up to the last of those that signing fills."""
    last = max(
        (n for n, line in enumerate(lines) if line.partition(": ")[0] in AT_SIGNING), default=-1
    )
    first = last
    starts = ("Engine", "Type and brief extent")
    for number in range(last, -1, -1):
        if lines[number].partition(": ")[0] in starts:
            first = number
            break
    return range(max(first, 0), last + 1)


def _line(title: str, text: str) -> EntryLine:
    """A signed sentence; one that tells of a struck line, as records once did, is set struck."""
    gone, cut, rest = text.rpartition(" Struck by ") if title == "Struck" else ("", "", "")
    return EntryLine(title, f"Struck by {rest}", struck=gone) if cut else EntryLine(title, text)


def changed_words(signed: Signed, judged: JudgedJob) -> str:
    """What has changed since a record was signed, in one sentence; empty while it stands."""
    if signed.fault:
        return f"{signed.fault} The chain of the book says what was changed: verify it."
    if not signed.after:
        return ""
    number = len(signed.after)
    last = signed.after[-1]
    return (
        f"Changed since signing: {number} {plural('line', number)}, the last on "
        f"{on_day(last.at)}. {entry_words(last, judged)} It needs a new record."
    )


def _date_of(fields: Sequence[RecordField]) -> str:
    return next((one.value for one in fields if one.label == "Date"), "")


def _facts(judged: JudgedJob, done: str, printed_at: datetime) -> tuple[SheetFact, ...]:
    return (
        *_title_facts(judged),
        SheetFact("Done", (SheetPart(done),)),
        SheetFact("Printed", (SheetPart(stamp_words(printed_at)),)),
    )


def _invented(facts: JobFacts) -> tuple[str, ...]:
    return (INVENTED,) if facts.engine.get("invented") else ()


def _title_facts(judged: JudgedJob) -> tuple[SheetFact, ...]:
    """The title block with the hours as the runs left them."""
    hours = hours_of(judged.facts, judged.state)

    def said(clock: str) -> str:
        value = hours.on(clock)
        return f"{value:,.1f}" if value is not None else ""

    engine, off, _, airframe = engine_facts(judged.facts)
    time = SheetFact(
        "Time",
        (
            SheetPart(said("since_new"), after=" h"),
            SheetPart(said("since_overhaul"), "overhaul ", " h ago"),
        ),
    )
    return (
        engine,
        off,
        time,
        SheetFact("Airframe", (airframe.parts[0], SheetPart(said("airframe"), after=" h"))),
    )


# Next due


@dataclass(frozen=True, slots=True)
class DueLine:
    """One thing that recurs: both sides always, and which governs."""

    title: str
    method: str
    last: str
    by_hours: str
    by_date: str
    governs: str
    source: str


@dataclass(frozen=True, slots=True)
class DueSheet:
    """The next-due sheet ready to be set."""

    title: str
    shop: str
    sheet_id: str
    notices: tuple[str, ...]
    facts: tuple[SheetFact, ...]
    rows: tuple[DueLine, ...]
    small: tuple[str, ...]
    foot: str


def due_sheet(judged: JudgedJob, *, zone: tzinfo, printed_at: datetime) -> DueSheet:
    """Everything that recurs as it stands today (14 CFR 91.417(a)(2)(v) asks for time and date)."""
    today = judged.today.isoformat() if judged.today else ""
    return DueSheet(
        title="Next due",
        shop=shop_words(judged.facts),
        sheet_id=sheet_id(judged.facts, judged.state),
        notices=(
            *_invented(judged.facts),
            *(one.sentence for one in without_age_rule(judged.facts, judged.state)),
        ),
        facts=(
            *_title_facts(judged),
            SheetFact("As of", (SheetPart(today),)),
            SheetFact("Printed", (SheetPart(stamp_words(printed_at.astimezone(zone))),)),
        ),
        rows=tuple(
            DueLine(
                one.title, one.method, one.last, one.by_hours, one.by_date, one.sentence, one.source
            )
            for one in judged.due
        ),
        small=(
            "Hours or calendar, whichever comes first. The day on which a thing is due is itself "
            "still good; a month means its last day.",
            GENERAL,
        ),
        foot="Not a record: it is not signed and returns nothing to service.",
    )
