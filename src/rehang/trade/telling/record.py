"""What the printed sheets say, every text ready: the tray record and the blank tray sheet.

The record is a draft until a person signs it on paper. It repeats calls and verdicts and
decides nothing. Amounts are in the record's units (0.018 in, 1,180 Ω); a reason that the
verdict wrote about a reading is said again here in those units, and a person's own words are
never changed.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, tzinfo

from rehang.trade.facts.items import Check, CheckSheet
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.limits import Limit, limit_for, limit_words
from rehang.trade.facts.meters import Meter
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.doubts import uses_in_doubt
from rehang.trade.known.photos import belongs_to, live_photos, scale_words
from rehang.trade.known.state import JobState, item_name
from rehang.trade.release.blockers import OF_THE_WHOLE
from rehang.trade.telling.sheet_parts import (
    DRAFT,
    GENERAL,
    INVENTED,
    SIGNS,
    SIGNS_ASKED,
    Paragraph,
    PhotoLine,
    SheetCell,
    SheetColumn,
    SheetFact,
    SheetPart,
    SheetRow,
    Sign,
    columns_of,
    date_text,
    engine_facts,
    full_stop,
    in_columns,
    sheet_id,
    shop_words,
    stamp_words,
    status_name,
    tray_sheet,
    when_words,
)
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.kinds.decisions import Struck
from rehang.trade.terms.kinds.readings import Pictured, ReadingTaken, Seen
from rehang.trade.terms.kinds.work import CarriedOn, Stopped
from rehang.trade.terms.wording import lower_first, on_day, upper_first, written_day
from rehang.trade.verdicts.calls import Call
from rehang.trade.verdicts.item_verdict import ItemVerdict
from rehang.trade.verdicts.reason_words import band_on_record, reason_in_column, reason_on_record
from rehang.trade.verdicts.reasons import Blind, ToTake

__all__ = ["Record", "limit_source", "tray_record"]


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
    facts: tuple[SheetFact, ...]
    columns: tuple[SheetColumn, ...]
    rows: tuple[SheetRow, ...]
    legend: tuple[SheetCell, ...]
    marks: tuple[str, ...]
    paragraphs: tuple[Paragraph, ...]
    statement: str
    signs: tuple[Sign, ...]
    foot: str
    photos: tuple[PhotoLine, ...] = ()


# The record


def tray_record(judged: JudgedJob, *, zone: tzinfo, printed_at: datetime) -> Record:
    """The tray as it stands, a row for each hole in walk order."""
    facts, state = judged.facts, judged.state
    printed = stamp_words(printed_at.astimezone(zone))
    plugs = [(hole, judged.at(hole)) for hole in facts.layout.walk]
    on_tray = {one.item for _, one in plugs if one is not None}
    beside = [one for one in judged.items if one.item not in on_tray]
    sheet = tray_sheet(facts, [one for _, one in plugs if one is not None])
    whole = judged
    judged = replace(whole, items=tuple(one for one in whole.items if one.kind == sheet.item))
    columns = columns_of(sheet, [call for one in judged.items for call in one.calls])
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
            SheetFact("Taken", (SheetPart(_last_taken(judged, on_tray, zone)),)),
            SheetFact("Printed", (SheetPart(printed),)),
        ),
        columns=columns,
        rows=tuple(rows),
        legend=_legend(used),
        marks=_mark_words(used),
        paragraphs=tuple(
            Paragraph(title, tuple(lines), title in _IN_FRONT)
            for title, lines in (
                ("Why", _why_lines(rows)),
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


# What a reading was judged by stands beside it; the rest is on the pages behind.
_IN_FRONT = ("Limits", "Rule for calls", "Meters")


def _why_lines(rows: Sequence[SheetRow]) -> list[str]:
    """What the column says in a few words, whole."""
    return [
        f"{row.hole} {row.serial}: {' '.join(row.why)}"
        for row in rows
        if row.serial and " ".join(row.why).rstrip(".") != row.short.rstrip(".")
    ]


def _photo_line(number: int, entry: Entry[Pictured], judged: JudgedJob, zone: tzinfo) -> PhotoLine:
    """A photo under the number it has on the sheet, tied to its file by the start of its sum."""
    about = belongs_to(entry, judged.facts, judged.state)
    sha256 = entry.fields.sha256
    who = f"{judged.facts.person(entry.by)}, {when_words(entry, zone)}"
    return PhotoLine(
        name=entry.fields.photo,
        sha256=sha256,
        title=f"{number}. {about}",
        scale=scale_words(entry),
        taken=f"Added by {who}. Sum begins {sha256[:12]}.",
        says=f"Photo {number}: {about}. {scale_words(entry)}",
    )


def _book_words(state: JobState) -> str:
    """Which book the sheet was made from, so that it can be found again."""
    if not state.order:
        return "Made from a book with no entries."
    head = state.order[-1].hash
    seal = f", the last one sealed {head[:12]}" if head else ", the last one not sealed"
    return f"Made from a book of {len(state.order)} entries{seal}."


def _row(
    hole: str,
    one: ItemVerdict | None,
    columns: Sequence[SheetColumn],
    judged: JudgedJob,
    changed: Sequence[tuple[str, str, str]],
) -> SheetRow:
    if one is None:
        cells = tuple(SheetCell("", "not-read", "not read") for _ in columns)
        nothing = "Nothing is written down for it."
        return SheetRow(hole, "", cells, "NOT YET", "not-yet", (nothing,), nothing)
    kept = {(item, check) for item, check, _ in changed}
    cells = tuple(
        _cell(call, column, was_changed=(one.item, column.check) in kept)
        for column in columns
        if (call := one.call(column.check)) is not None
    )
    why = _why(one, judged.facts)
    return SheetRow(hole, one.name, cells, one.verdict, status_name(one.verdict), why, _short(one))


def _short(one: ItemVerdict) -> str:
    """Of a reject why it is one, of any other what comes next."""
    if one.verdict != "REJECT" and not one.decided_by and one.next:
        return one.next
    # With a test that passed and cannot see what is wrong.
    told = [
        reason for number, reason in enumerate(one.why) if number == 0 or isinstance(reason, Blind)
    ]
    return full_stop("; ".join(reason_in_column(reason) for reason in told))


def _cell(call: Call, column: SheetColumn, *, was_changed: bool) -> SheetCell:
    text = _without_unit(call.record, column.unit)
    extra = "called by a person" if call.called_by else "left open" if call.left_open else ""
    if call.call == "NOT READ" and text == "not read":
        text = ""
    marks = ("k" if call.kept_as_keyed else "") + ("c" if was_changed else "")
    if call.entry is not None:
        taken = call.taken.fields if call.taken is not None else None
        if taken is not None and "+" in taken.written.lstrip("+"):
            marks += "w"
        if taken is not None and taken.at_psi:
            text += f" at {taken.at_psi} psi"
        text = _without_unit(text, column.unit)
    if call.meter_standing and call.call != "VOID":
        marks += "m"
    return SheetCell(text, status_name(call.call), call.call.lower(), marks, extra)


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
        note = f" ({gone.fields.note})" if gone.fields.note else ""
        said.append(f"What became of it: {gone.fields.how}{note}.")
    if one.state.replaced_by:
        said.append(f"Replaced by {one.state.replaced_by}.")
    return tuple(full_stop(text) for text in said if text)


def _other(one: ItemVerdict) -> list[str]:
    """A cylinder or other part that a finding opened."""
    head = f"{one.kind.capitalize()} {one.name}: {one.verdict}."
    lines = [f"{head} {' '.join(one.reasons)}"]
    if one.next and one.verdict != "KEEP":
        lines[0] += f" Next: {lower_first(full_stop(one.next))}"
    return lines


# The words below the table


def _legend(cells: Sequence[SheetCell]) -> tuple[SheetCell, ...]:
    order = ("within", "close-call", "out", "not-judged", "not-read", "void")
    seen = {cell.status: cell.word for cell in cells}
    return tuple(SheetCell("", status, seen[status]) for status in order if status in seen)


_MARKS = {
    "k": "k = kept as keyed",
    "c": "c = read again or struck",
    "w": "w = the wider of two",
    "m": "m = meter not proved",
}


def _mark_words(cells: Sequence[SheetCell]) -> tuple[str, ...]:
    used = {mark for cell in cells for mark in cell.marks}
    return tuple(words for mark, words in _MARKS.items() if mark in used)


def _limit_lines(facts: JobFacts, sheet: CheckSheet, judged: JudgedJob) -> list[str]:
    """The limits that were judged by, gathered under the source that they share."""
    used: dict[tuple[str, str], Limit] = {}
    missing: list[str] = []
    for check in in_columns(sheet):
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
        gathered.setdefault(limit_source(limit, facts), []).append(bound)
    lines = [f"{source}: {'; '.join(bounds)}." for source, bounds in gathered.items()]
    if missing:
        lines.append(f"No limit on file, so not judged: {', '.join(missing)}.")
    return lines


def _bound(check: Check, limit: Limit) -> str:
    comma = "," if check.kind == "look" else ""
    return f"{check.label.lower()}{comma} {limit_words(limit, record=True)}"


def limit_source(limit: Limit, facts: JobFacts) -> str:
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
            meter = call.meter or (call.taken.fields.meter if call.taken else "")
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
                f" As-found check written down on {when_words(proved, zone)} by "
                f"{facts.person(proved.by)}: {full_stop(proved.fields.reason)}"
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
        line += f" {full_stop(said)}"
        for use in uses:
            if use.found.entry is one.entry:
                said = f"{use.what}: {use.said or 'open again'}"
                line += f" {full_stop(upper_first(said))}"
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
                    f"{when_words(by, zone)}: {full_stop(by.fields.reason)}{void}"
                )
            elif taken.left_open is not None:
                left = taken.left_open
                said = left.fields.reason
                waits = left.fields.person
                lines.append(
                    f"{shown}: left open by {facts.person(left.by)}, {when_words(left, zone)}"
                    + (f", for {facts.person(waits)}" if waits else "")
                    + (f": {full_stop(said)}" if said else ".")
                )
        by_hand = one.state.disagreed
        if by_hand is not None:
            lines.append(
                f"{where}: {one.verdict} decided by {one.decided_by}, {when_words(by_hand, zone)}, "
                f"against the proposed {one.proposed}: {full_stop(by_hand.fields.reason)}"
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
        found.append((entry.item, _check_of(entry), _struck_line(entry, strike, facts, zone)))
    return found


def _check_of(entry: Entry) -> str:
    told = entry.fields
    return told.check if isinstance(told, (ReadingTaken, Seen, Stopped, CarriedOn)) else ""


def _read_line(call: Call, facts: JobFacts, zone: tzinfo) -> str:
    assert call.entry is not None
    said = f"{call.record}, {when_words(call.entry, zone)}, {facts.person(call.entry.by)}"
    meter = call.meter or (call.taken.fields.meter if call.taken else "")
    if meter:
        said += f", {meter}"
    if call.call == "VOID":
        return f"{said}. {call.sentence}"
    return f"{said}. {call.call.capitalize()}, and on file."


def _struck_line(entry: Entry, strike: Entry[Struck], facts: JobFacts, zone: tzinfo) -> str:
    what = [entry.kind.replace("_", " ")]
    for name in ("place", "item", "check", "written", "word", "act", "call", "reason", "text"):
        value = str(entry.data.get(name, ""))
        if value:
            what.append(item_name(value) or value if name == "item" else value)
    return (
        f"Struck: {' '.join(what)} ({facts.person(entry.by)}, {when_words(entry, zone)}), by "
        f"{facts.person(strike.by)}, {when_words(strike, zone)}: "
        f"{full_stop(strike.fields.reason)}"
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


def _notices(facts: JobFacts, judged: JudgedJob, zone: tzinfo) -> tuple[str, ...]:
    found = [INVENTED] if facts.engine.get("invented") else []
    if judged.now is not None:
        found.append(f"Judged as it stood on {stamp_words(judged.now.astimezone(zone))}.")
    return tuple(found)


def _last_taken(judged: JudgedJob, on_tray: set[str], zone: tzinfo) -> str:
    taken = [
        entry.at
        for entry in judged.state.live()
        if is_a(entry, ReadingTaken, Seen) and entry.item in on_tray
    ]
    return date_text(max(taken).astimezone(zone).date()) if taken else ""


def _stands_for(one: ItemVerdict, state: JobState) -> str:
    return next(
        (old.name for old in state.items.values() if old.replaced_by == one.name),
        "no hole yet",
    )
