"""What the printed sheets say, every text ready: the tray record and the blank tray sheet.

The record is a draft until a person signs it on paper. It repeats calls and verdicts and
decides nothing. Amounts are in the record's units (0.018 in, 1,180 Ω); a reason that the
verdict wrote about a reading is said again here in those units, and a person's own words are
never changed.
"""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, tzinfo

from rehang.trade.facts.items import Check, CheckSheet
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.limits import Limit, limit_for, limit_words
from rehang.trade.facts.meters import Meter
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.doubts import uses_in_doubt
from rehang.trade.known.photos import belongs_to, live_photos, scale_words
from rehang.trade.known.state import JobState, item_name
from rehang.trade.release.blockers import OF_THE_WHOLE
from rehang.trade.terms.ends import end_words
from rehang.trade.terms.entries import Entry
from rehang.trade.terms.quantities import QUANTITIES, Quantity, number_and_unit
from rehang.trade.terms.wording import at_time, lower_first, on_day, upper_first, written_day
from rehang.trade.verdicts.calls import Call
from rehang.trade.verdicts.item_verdict import ItemVerdict
from rehang.trade.verdicts.reason_words import band_on_record, reason_on_record
from rehang.trade.verdicts.reasons import ToTake

__all__ = [
    "BlankRow",
    "BlankSheet",
    "Cell",
    "Column",
    "Fact",
    "Paragraph",
    "Part",
    "PhotoLine",
    "Record",
    "Row",
    "Sign",
    "blank_sheet",
    "engine_facts",
    "sheet_id",
    "shop_words",
    "stamp_words",
    "status_name",
    "tray_record",
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
class Part:
    """A piece of a fact: ``s/n`` TV4-2207, 3,184.6 ``h``. An empty ``text`` is a ruled blank."""

    text: str
    before: str = ""
    after: str = ""


@dataclass(frozen=True, slots=True)
class Fact:
    """One line of the title block, its parts with a comma between."""

    label: str
    parts: tuple[Part, ...]


@dataclass(frozen=True, slots=True)
class Column:
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
class Cell:
    """One reading in its row. ``status`` names the shape, ``word`` says it.

    ``marks`` are the letters of the legend; ``extra`` a short line below the word.
    """

    text: str
    status: str
    word: str
    marks: str = ""
    extra: str = ""


@dataclass(frozen=True, slots=True)
class Row:
    """One hole of the tray."""

    hole: str
    serial: str
    cells: tuple[Cell, ...]
    verdict: str
    status: str
    why: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Paragraph:
    """A heading with its lines."""

    title: str
    lines: tuple[str, ...]


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


@dataclass(frozen=True, slots=True)
class Record:
    """The plug tray record, ready to be set in type."""

    title: str
    shop: str
    sheet_id: str
    printed: str
    book: str
    draft: str
    notices: tuple[str, ...]
    facts: tuple[Fact, ...]
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    legend: tuple[Cell, ...]
    marks: tuple[str, ...]
    paragraphs: tuple[Paragraph, ...]
    statement: str
    signs: tuple[Sign, ...]
    foot: str
    photos: tuple[PhotoLine, ...] = ()


@dataclass(frozen=True, slots=True)
class BlankRow:
    """One hole of the blank sheet; an empty serial prints as a ruled blank."""

    hole: str
    serial: str


@dataclass(frozen=True, slots=True)
class BlankSheet:
    """The tray with empty boxes, ready to be set in type."""

    title: str
    shop: str
    sheet_id: str
    printed: str
    notices: tuple[str, ...]
    facts: tuple[Fact, ...]
    tray: tuple[tuple[BlankRow, ...], ...]
    tray_ends: tuple[str, str]
    columns: tuple[Column, ...]
    rows: tuple[BlankRow, ...]
    paragraphs: tuple[Paragraph, ...]
    statement: str
    signs: tuple[Sign, ...]
    foot: str


SIGNS_ASKED = (
    Sign("Work done, or reference", wide=True, lines=3),
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


# The record


def tray_record(judged: JudgedJob, *, zone: tzinfo, printed_at: datetime) -> Record:
    """The tray as it stands, a row for each hole in walk order."""
    facts, state = judged.facts, judged.state
    printed = stamp_words(printed_at.astimezone(zone))
    plugs = [(hole, judged.at(hole)) for hole in facts.layout.walk]
    on_tray = {one.item for _, one in plugs if one is not None}
    beside = [one for one in judged.items if one.item not in on_tray]
    sheet = _tray_sheet(facts, [one for _, one in plugs if one is not None])
    whole = judged
    judged = replace(whole, items=tuple(one for one in whole.items if one.kind == sheet.item))
    columns = _columns(sheet, [call for one in judged.items for call in one.calls])
    changed = _changed(judged, sheet, on_tray, zone)
    rows = [_row(hole, one, columns, judged, changed) for hole, one in plugs]
    # A part that stands in for a reject has no hole of the tray yet, and is judged like the rest.
    rows += [
        _row("in for " + _stands_for(one, state), one, columns, judged, changed)
        for one in beside
        if one.kind == sheet.item
    ]
    # Parts that a plug of this tray opened a finding on; the rest of the engine is elsewhere.
    others = [
        one
        for one in beside
        if one.kind != sheet.item
        and any(f.entry.item in on_tray and f.is_open for f in one.findings)
    ]
    shown = on_tray | {one.item for one in beside if one.kind == sheet.item or one in others}
    used = [c for row in rows for c in row.cells]
    return Record(
        title=f"{sheet.item.capitalize()} tray record",
        shop=shop_words(facts),
        sheet_id=sheet_id(facts, state),
        printed=printed,
        book=_book_words(state),
        draft=DRAFT,
        notices=_notices(facts, judged, zone),
        facts=(
            *engine_facts(facts),
            Fact("Taken", (Part(_last_taken(judged, on_tray, zone)),)),
            Fact("Printed", (Part(printed),)),
        ),
        columns=columns,
        rows=tuple(rows),
        legend=_legend(used),
        marks=_mark_words(used),
        paragraphs=tuple(
            Paragraph(title, tuple(lines))
            for title, lines in (
                ("Also found", [line for one in others for line in _other(one)]),
                ("Limits", _limit_lines(facts, sheet, judged)),
                ("Rule for calls", [_rule(facts)]),
                ("Meters", _meter_lines(judged, sheet, zone)),
                ("Called by a person", _called_lines(judged, zone)),
                ("Read again, changed or struck", [line for _, _, line in changed]),
                ("Before the engine may go back to service", _blocker_lines(whole, shown)),
            )
            if lines
        ),
        statement=GENERAL,
        signs=SIGNS_ASKED,
        foot=SIGNS,
        photos=tuple(
            _photo_line(number, entry, judged, zone)
            for number, entry in enumerate(live_photos(state), start=1)
        ),
    )


def _photo_line(number: int, entry: Entry, judged: JudgedJob, zone: tzinfo) -> PhotoLine:
    """A photo under the number it has on the sheet, tied to its file by the start of its sum."""
    about = belongs_to(entry, judged.facts, judged.state)
    sha256 = str(entry.data["sha256"])
    who = f"{judged.facts.person(entry.by)}, {_when(entry, zone)}"
    return PhotoLine(
        name=str(entry.data["photo"]),
        sha256=sha256,
        title=f"{number}. {about}",
        scale=scale_words(entry),
        taken=f"Added by {who}. Sum begins {sha256[:12]}.",
        says=f"Photo {number}: {about}. {scale_words(entry)}",
    )


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


def _book_words(state: JobState) -> str:
    """Which book the sheet was made from, so that it can be found again."""
    if not state.order:
        return "Made from a book with no entries."
    head = state.order[-1].hash
    seal = f", the last one sealed {head[:12]}" if head else ", the last one not sealed"
    return f"Made from a book of {len(state.order)} entries{seal}."


def _tray_sheet(facts: JobFacts, plugs: Sequence[ItemVerdict]) -> CheckSheet:
    """The check sheet of what sits in the tray."""
    kind = plugs[0].kind if plugs else "plug"
    return facts.sheets[kind]


def _columns(sheet: CheckSheet, calls: Sequence[Call] = ()) -> tuple[Column, ...]:
    """A column for each check; a pressure all gradings share goes into the heading."""
    return tuple(_column(check, _shared_psi(check, calls)) for check in _in_columns(sheet))


def _in_columns(sheet: CheckSheet) -> list[Check]:
    def place(check: Check) -> tuple[int, int]:
        if check.kind == "look":
            return len(_COLUMN_ORDER) + 1, check.order
        if check.name in _COLUMN_ORDER:
            return _COLUMN_ORDER.index(check.name), check.order
        return len(_COLUMN_ORDER), check.order

    return sorted(sheet.checks, key=place)


def _shared_psi(check: Check, calls: Sequence[Call]) -> str:
    taken = {
        call.entry.get("at_psi", None)
        for call in calls
        if call.check == check.name and call.entry is not None
    }
    psi = taken.pop() if len(taken) == 1 else None
    return f"at {psi} psi" if psi is not None else ""


def _column(check: Check, unit: str = "") -> Column:
    unit = unit or _unit(check.quantity)
    if check.quantity is QUANTITIES["resistance"]:
        label = "Ohms"
    elif unit:
        label = f"{check.label} {unit}" if check.quantity is None else f"{check.label}, {unit}"
    else:
        label = check.label
    return Column(check.name, label, unit, check.kind)


def _unit(quantity: Quantity | None) -> str:
    return number_and_unit(0, quantity, record=True)[1] if quantity else ""


def _row(
    hole: str,
    one: ItemVerdict | None,
    columns: Sequence[Column],
    judged: JudgedJob,
    changed: Sequence[tuple[str, str, str]],
) -> Row:
    if one is None:
        cells = tuple(Cell("", "not-read", "not read") for _ in columns)
        return Row(hole, "", cells, "NOT YET", "not-yet", ("Nothing is written down for it.",))
    kept = {(item, check) for item, check, _ in changed}
    cells = tuple(
        _cell(call, column, was_changed=(one.item, column.check) in kept)
        for column in columns
        if (call := one.call(column.check)) is not None
    )
    why = _why(one, judged.facts)
    return Row(hole, one.name, cells, one.verdict, status_name(one.verdict), why)


def _cell(call: Call, column: Column, *, was_changed: bool) -> Cell:
    text = _without_unit(call.record, column.unit)
    extra = "called by a person" if call.called_by else "left open" if call.left_open else ""
    if call.call == "NOT READ" and text == "not read":
        text = ""
    marks = ("k" if call.kept_as_keyed else "") + ("c" if was_changed else "")
    if call.entry is not None:
        if "+" in str(call.entry.get("written")).lstrip("+"):
            marks += "w"
        if call.entry.get("at_psi"):
            text += f" at {call.entry.get('at_psi')} psi"
        text = _without_unit(text, column.unit)
    if call.meter_standing and call.call != "VOID":
        marks += "m"
    return Cell(text, status_name(call.call), call.call.lower(), marks, extra)


def _without_unit(text: str, unit: str) -> str:
    return text.removesuffix(f" {unit}") if unit else text


def _why(one: ItemVerdict, facts: JobFacts) -> tuple[str, ...]:
    """The reasons, the deciding one first, then what comes next or what became of it."""
    said = [
        reason_on_record(reason, facts)
        for reason in one.why
        # The row itself shows which checks are still to be taken.
        if not isinstance(reason, ToTake)
    ]
    if one.verdict == "KEEP" and not one.decided_by:
        # The first reason of a KEEP only says what the row of marks shows.
        said = [one.next, *said[1:]]
    elif one.verdict != "REJECT" and one.next:
        said.append(f"Next: {lower_first(one.next)}")
    gone = one.state.disposed
    if gone is not None:
        note = f" ({gone.get('note')})" if gone.get("note") else ""
        said.append(f"What became of it: {gone.get('how')}{note}.")
    if one.state.replaced_by:
        said.append(f"Replaced by {one.state.replaced_by}.")
    return tuple(_full_stop(text) for text in said if text)


def _full_stop(text: str) -> str:
    return text if not text or text[-1] in ".!?" else f"{text}."


def _other(one: ItemVerdict) -> list[str]:
    """A cylinder or other part that a finding opened."""
    head = f"{one.kind.capitalize()} {one.name}: {one.verdict}."
    lines = [f"{head} {' '.join(one.reasons)}"]
    if one.next and one.verdict != "KEEP":
        lines[0] += f" Next: {lower_first(_full_stop(one.next))}"
    return lines


# The words below the table


def _legend(cells: Sequence[Cell]) -> tuple[Cell, ...]:
    order = ("within", "close-call", "out", "not-judged", "not-read", "void")
    seen = {cell.status: cell.word for cell in cells}
    return tuple(Cell("", status, seen[status]) for status in order if status in seen)


_MARKS = {
    "k": "k = kept as keyed",
    "c": "c = read again or struck",
    "w": "w = the wider of two",
    "m": "m = meter not proved",
}


def _mark_words(cells: Sequence[Cell]) -> tuple[str, ...]:
    used = {mark for cell in cells for mark in cell.marks}
    return tuple(words for mark, words in _MARKS.items() if mark in used)


def _limit_lines(facts: JobFacts, sheet: CheckSheet, judged: JudgedJob) -> list[str]:
    """The limits that were judged by, gathered under the source that they share."""
    used: dict[tuple[str, str], Limit] = {}
    missing: list[str] = []
    for check in _in_columns(sheet):
        limits = {
            call.limit_data.use: call.limit_data
            for one in judged.items
            if (call := one.call(check.name)) is not None and call.limit_data is not None
        }
        on_file = limit_for(facts.limits, sheet.item, check.name, "service")
        if not limits and on_file is not None:
            limits = {on_file.use: on_file}
        for use, limit in limits.items():
            used[check.name, use] = limit
        if not limits:
            missing.append(check.label.lower())
    gathered: dict[str, list[str]] = {}
    for (name, use), limit in used.items():
        bound = _bound(sheet.check(name), limit)
        if use == "setting":
            bound += " when set"
        gathered.setdefault(_limit_source(limit, facts), []).append(bound)
    lines = [f"{source}: {'; '.join(bounds)}." for source, bounds in gathered.items()]
    if missing:
        lines.append(f"No limit on file, so not judged: {', '.join(missing)}.")
    return lines


def _bound(check: Check, limit: Limit) -> str:
    comma = "," if check.kind == "look" else ""
    return f"{check.label.lower()}{comma} {limit_words(limit, record=True)}"


def _limit_source(limit: Limit, facts: JobFacts) -> str:
    said = limit.source_text
    said = said[0].upper() + said[1:]
    if not limit.entered_by:
        return f"{said}, entered by nobody on file"
    when = on_day(limit.entered_on) if limit.entered_on else "on no date"
    return f"{said}, entered by {facts.person(limit.entered_by)}, {when}"


def _rule(facts: JobFacts) -> str:
    return (
        f"Chance that the true value lies inside the limit: {facts.thresholds.words}, "
        "CLOSE CALL between the two (JCGM 106:2012)."
    )


def _meter_lines(judged: JudgedJob, sheet: CheckSheet, zone: tzinfo) -> list[str]:
    """Every meter a shown reading was taken on, when it is due, and where it was not proved."""
    facts, state = judged.facts, judged.state
    used: dict[str, list[str]] = {}
    for one in judged.items:
        for call in one.calls:
            meter = call.meter or (str(call.entry.get("meter")) if call.entry else "")
            if not meter:
                continue
            used.setdefault(meter, [])
            if call.meter_standing and call.call != "VOID":
                said = f"{one.place or one.kind} {one.name} {call.label.lower()} {call.record}"
                if call.band is not None and call.quantity is not None:
                    said += f", which may be {band_on_record(call.band, call.quantity)}"
                used[meter].append(said)
    lines = []
    for name in [m for m in facts.meters if m in used]:
        line = _meter_line(facts.meters[name])
        proved = state.proved.get(name)
        if proved is not None:
            line += (
                f" As-found check written down on {_when(proved, zone)} by "
                f"{facts.person(proved.by)}: {_full_stop(str(proved.get('reason')))}"
            )
        line += _found_out(name, judged)
        if used[name]:
            line += f" Not proved for {'; '.join(used[name])}."
        lines.append(line)
    return lines


def _found_out(name: str, judged: JudgedJob) -> str:
    """That a meter was found out, and what of it stands by a person's word."""
    line = ""
    uses = uses_in_doubt(judged.facts, judged.state, name)
    for one in judged.state.found_out.get(name, ()):
        said = f"Found out of tolerance on {on_day(one.found_on)}: {one.as_found}"
        line += f" {_full_stop(said)}"
        for use in uses:
            if use.found.entry is one.entry:
                said = f"{use.what}: {use.said or 'open again'}"
                line += f" {_full_stop(upper_first(said))}"
    return line


def _meter_line(meter: Meter) -> str:
    due = f"due {written_day(meter.due_text)}" if meter.due else "no calibration on record"
    worth = f", {meter.worth}" if meter.worth and meter.worth != meter.note else ""
    note = f" ({meter.note})" if meter.note else ""
    name = f", {meter.name}" if meter.name != meter.id else ""
    return f"{meter.id}{name}{worth}, {due}{note}."


def _called_lines(judged: JudgedJob, zone: tzinfo) -> list[str]:
    """Close calls called or left open by a named person, and verdicts decided against."""
    facts, lines = judged.facts, []
    for one in judged.items:
        where = f"{one.place or one.kind} {one.name}"
        for taken in one.state.readings:
            sheet = facts.sheets[one.kind]
            check = sheet.check(taken.reading.check)
            shown = f"{where} {check.label.lower()} {taken.reading.text(check, record=True)}"
            if taken.called and taken.called_entry is not None:
                by = taken.called_entry
                void = f" Void since: {taken.void}." if taken.void else ""
                lines.append(
                    f"{shown}: called {taken.called} by {facts.person(by.by)}, "
                    f"{_when(by, zone)}: {_full_stop(str(by.get('reason')))}{void}"
                )
            elif taken.left_open is not None:
                by = taken.left_open
                said = str(by.get("reason"))
                waits = str(by.get("person"))
                lines.append(
                    f"{shown}: left open by {facts.person(by.by)}, {_when(by, zone)}"
                    + (f", for {facts.person(waits)}" if waits else "")
                    + (f": {_full_stop(said)}" if said else ".")
                )
        by_hand = one.state.disagreed
        if by_hand is not None:
            lines.append(
                f"{where}: {one.verdict} decided by {one.decided_by}, {_when(by_hand, zone)}, "
                f"against the proposed {one.proposed}: {_full_stop(str(by_hand.get('reason')))}"
            )
    return lines


def _changed(
    judged: JudgedJob, sheet: CheckSheet, on_tray: set[str], zone: tzinfo
) -> list[tuple[str, str, str]]:
    """What is on file and not shown in the table: item, check and a line for each."""
    facts, state = judged.facts, judged.state
    found: list[tuple[str, str, str]] = []
    for one in judged.items:
        where = f"{one.place or one.kind} {one.name}"
        for call in one.calls:
            for other in call.others:
                if other.entry is None or (call.entry and other.entry.id == call.entry.id):
                    continue
                line = f"{where} {call.label.lower()} {_read_line(other, facts, zone)}"
                found.append((one.item, call.check, line))
    for target, strike in state.struck.items():
        entry = state.entries[target]
        check = str(entry.get("check"))
        found.append((entry.item, check, _struck_line(entry, strike, facts, zone)))
    return found


def _read_line(call: Call, facts: JobFacts, zone: tzinfo) -> str:
    assert call.entry is not None
    said = f"{call.record}, {_when(call.entry, zone)}, {facts.person(call.entry.by)}"
    meter = call.meter or str(call.entry.get("meter"))
    if meter:
        said += f", {meter}"
    if call.call == "VOID":
        return f"{said}. {call.sentence}"
    return f"{said}. {call.call.capitalize()}, and on file."


def _struck_line(entry: Entry, strike: Entry, facts: JobFacts, zone: tzinfo) -> str:
    what = [entry.kind.replace("_", " ")]
    for name in ("place", "item", "check", "written", "word", "act", "call", "reason", "text"):
        value = str(entry.get(name))
        if value:
            what.append(item_name(value) or value if name == "item" else value)
    return (
        f"Struck: {' '.join(what)} ({facts.person(entry.by)}, {_when(entry, zone)}), by "
        f"{facts.person(strike.by)}, {_when(strike, zone)}: "
        f"{_full_stop(str(strike.get('reason')))}"
    )


def _blocker_lines(judged: JudgedJob, shown: Collection[str]) -> list[str]:
    """The blockers of this tray, short: what the table says at length is not said again."""
    if not judged.state.holes:
        return ["No plug of this tray has been written down."]
    if not judged.blockers:
        return ["Nothing in this book stands in the way; the rest of the engine is not in it."]
    items = {one.item for one in judged.items}
    used = {c.meter for one in judged.items if one.item in shown for c in one.calls}
    alike: dict[str, list[str]] = {}
    lines: list[str] = []
    elsewhere = 0
    for blocker in judged.blockers:
        meter = blocker.about.removeprefix("meter:")
        if (
            (blocker.about in items and blocker.about not in shown)
            or (meter != blocker.about and meter not in used)
            or blocker.group in OF_THE_WHOLE
        ):
            elsewhere += 1
            continue
        if blocker.standing:
            alike.setdefault(blocker.standing, []).append(blocker.subject)
        else:
            lines.append(blocker.sentence[0].upper() + blocker.sentence[1:])
    if elsewhere:
        lines.append(f"{elsewhere} more on the rest of the engine.")
    return [f"{said}: {', '.join(heads)}." for said, heads in alike.items()] + lines


# The blank sheet


def blank_sheet(
    facts: JobFacts, state: JobState, *, zone: tzinfo, printed_at: datetime
) -> BlankSheet:
    """The tray with empty boxes: holes in walk order, checks in the order they are taken."""
    kinds = [state.items[i].kind for i in state.holes.values() if i in state.items]
    sheet = facts.sheets[kinds[0] if kinds else "plug"]
    printed = stamp_words(printed_at.astimezone(zone))
    layout = facts.layout

    def row(hole: str) -> BlankRow:
        return BlankRow(hole, item_name(state.holes.get(hole, "")))

    return BlankSheet(
        title="Blank tray sheet",
        shop=shop_words(facts),
        sheet_id=sheet_id(facts, state),
        printed=printed,
        notices=(INVENTED,) if facts.engine.get("invented") else (),
        facts=(
            *engine_facts(facts),
            Fact("Job", (Part(facts.job),)),
            Fact("Printed", (Part(printed),)),
        ),
        tray=tuple(tuple(row(hole) for hole in line) for line in layout.tray),
        tray_ends=_tray_ends(layout.prop_end),
        columns=tuple(_blank_column(check, sheet, facts) for check in sheet.checks),
        rows=tuple(row(hole) for hole in layout.walk),
        paragraphs=(
            Paragraph(
                "To key it in",
                (
                    "Each column from top to bottom is one line: its letter, then the values; "
                    "- is not read.",
                ),
            ),
            *_letters(sheet),
            Paragraph("Limits", tuple(_blank_limits(sheet, facts))),
        ),
        statement=GENERAL,
        signs=(Sign("Taken by"), Sign("Date")),
        foot="Pencilled readings count once they are kept in the book. Rehang does not sign.",
    )


def _tray_ends(prop_end: str) -> tuple[str, str]:
    """The words at the left and right end of the tray picture."""
    words = "propeller end"
    return {"left": (words, ""), "right": ("", words)}.get(prop_end, ("", ""))


def _blank_column(check: Check, sheet: CheckSheet, facts: JobFacts) -> Column:
    limit = limit_for(facts.limits, sheet.item, check.name, "service")
    return replace(
        _column(check),
        letter=check.letter,
        letters=" ".join(choice.letter for choice in check.choices)
        if check.kind == "grade"
        else "",
        limit=limit_words(limit, record=True) if limit and limit.has_source else "",
    )


def _letters(sheet: CheckSheet) -> list[Paragraph]:
    found = [
        Paragraph(
            f"{check.label} letters",
            ("; ".join(f"{c.letter} = {c.word}" for c in check.choices) + ".",),
        )
        for check in sheet.checks
        if check.choices
    ]
    words = "; ".join(f"{w.letter} = {lower_first(w.label)}" for w in sheet.look_words)
    if words:
        found.append(Paragraph(f"{sheet.look.label} letters", (f"{words}.",)))
    return found


def _blank_limits(sheet: CheckSheet, facts: JobFacts) -> list[str]:
    """Whose the limits are; the bounds themselves stand in the headings."""
    gathered: dict[str, list[str]] = {}
    missing = []
    for check in sheet.checks:
        limit = limit_for(facts.limits, sheet.item, check.name, "service")
        if limit is None or not limit.has_source:
            missing.append(check.label.lower())
        else:
            gathered.setdefault(_limit_source(limit, facts), []).append(check.label.lower())
    alone = len(gathered) == 1 and not missing
    lines = [
        f"{source}." if alone else f"{source}: {'; '.join(checks)}."
        for source, checks in gathered.items()
    ]
    if missing:
        lines.append(f"No limit with a source on file: {'; '.join(missing)}.")
    return lines


# Title block


def shop_words(facts: JobFacts) -> str:
    """The shop and where it is, as far as they are on file."""
    return ", ".join(t for t in (_text(facts, "shop"), _text(facts, "place")) if t)


def engine_facts(facts: JobFacts) -> tuple[Fact, ...]:
    """Engine, aircraft and times as they came in; what is not on file is a ruled blank."""
    hours = facts.engine.get("hours")
    run = hours if isinstance(hours, Mapping) else {}
    return (
        Fact("Engine", (Part(_text(facts, "engine")), Part(_text(facts, "serial"), "s/n "))),
        Fact("Off", (Part(_text(facts, "airframe")), Part(_text(facts, "registration")))),
        Fact(
            "Time",
            (
                Part(_hours(run.get("since_new")), after=" h"),
                Part(_hours(run.get("since_overhaul")), "overhaul ", " h ago"),
            ),
        ),
        Fact(
            "Airframe",
            (
                Part(_text(facts, "airframe_serial"), "s/n "),
                Part(_hours(facts.engine.get("airframe_hours")), after=" h"),
            ),
        ),
    )


def _text(facts: JobFacts, key: str) -> str:
    value = facts.engine.get(key, "")
    return str(value).strip() if value is not None else ""


def _hours(value: object) -> str:
    return f"{value:,.1f}" if isinstance(value, (int, float)) else ""


def _date_text(value: object) -> str:
    # The book copy holds a day in both forms, to be read and to be sorted by.
    return f"{value.isoformat()} ({on_day(value)})" if isinstance(value, date) else ""


def _notices(facts: JobFacts, judged: JudgedJob, zone: tzinfo) -> tuple[str, ...]:
    found = [INVENTED] if facts.engine.get("invented") else []
    if judged.now is not None:
        found.append(f"Judged as it stood on {stamp_words(judged.now.astimezone(zone))}.")
    return tuple(found)


def _last_taken(judged: JudgedJob, on_tray: set[str], zone: tzinfo) -> str:
    taken = [
        entry.at
        for entry in judged.state.live()
        if entry.kind in ("reading", "seen") and entry.item in on_tray
    ]
    return _date_text(max(taken).astimezone(zone).date()) if taken else ""


def _stands_for(one: ItemVerdict, state: JobState) -> str:
    return next(
        (old.name for old in state.items.values() if old.replaced_by == one.name),
        "no hole yet",
    )


# Small words


def _when(entry: Entry, zone: tzinfo) -> str:
    return at_time(entry.at.astimezone(zone))


def stamp_words(at: datetime) -> str:
    """A moment with its offset, as sheets print it."""
    offset = f"{at:%z}"
    sign = "−" if offset.startswith("-") else "+"
    return f"{at_time(at)} {sign}{offset[1:3]}:{offset[3:5]}"
