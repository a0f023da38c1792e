"""The page of one item: what it is, what it comes to and why, and all that is on file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from rehang.trade.facts.items import Check, CheckSheet, Word
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.state import Finding, ItemState, as_read, understand
from rehang.trade.telling.sentences import entry_words, voided_by, with_stop
from rehang.trade.telling.sheet_parts import status_name
from rehang.trade.terms.days import last_day
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.kinds.readings import ReadingTaken
from rehang.trade.terms.wording import listed, on_day
from rehang.trade.verdicts.calls import Call, better_meters
from rehang.trade.verdicts.item_verdict import ItemVerdict
from rehang.trade.verdicts.reasons import BeyondLimit
from rehang.web.item.chart import NARROW, WIDE, PastChart, chart, series_of
from rehang.web.shared.times import when_text, zone_of

__all__ = [
    "ReworkChoice",
    "Story",
    "story",
    "to_rework",
]


# The story of one item


@dataclass(frozen=True, slots=True)
class CheckRow:
    """One check of an item: its call and the reading that carries it."""

    check: str
    label: str
    kind: str
    text: str
    call: str
    mark: str
    limit: str
    source: str
    meter: str
    standing: str
    sentence: str
    how_far: str
    catches: str
    misses: str
    caution: str
    entry: str
    close: bool

    @property
    def word(self) -> str:
        """What is stamped beside it. What was looked at was seen, and is not read."""
        seen = {"NOT YET": "SEEN", "NOT READ": "NOT SEEN"} if self.kind == "look" else {}
        return seen.get(self.call, self.call)


@dataclass(frozen=True, slots=True)
class FileRow:
    """A reading on file that carries nothing: void, struck or stood behind another."""

    label: str
    text: str
    when: str
    who: str
    why: str
    mark: str
    word: str
    entry: str
    seq: int
    struck: bool


@dataclass(frozen=True, slots=True)
class FindingRow:
    id: str
    label: str
    severity: int
    note: str
    when: str
    who: str
    is_open: bool
    standing: str
    cause: str
    next_act: str
    entry: str
    asks_found: bool = False


@dataclass(frozen=True, slots=True)
class WordChoice:
    """One finding button: a single severity, or several to pick from."""

    name: str
    label: str
    severities: tuple[int, ...]
    cause: str
    confirm: bool
    picks: bool


@dataclass(frozen=True, slots=True)
class WordGroup:
    severity: int
    title: str
    words: tuple[WordChoice, ...]


@dataclass(frozen=True, slots=True)
class ReworkChoice:
    name: str
    label: str
    voids: str
    caution: str


@dataclass(frozen=True, slots=True)
class HistoryRow:
    """One service of an item: how it was found and left."""

    day: str
    hours: str
    place: str
    cells: tuple[str, ...]
    note: str


@dataclass(frozen=True, slots=True)
class Story:
    item: str
    kind: str
    name: str
    place: str
    came_out_of: str
    goes_to: str
    hours: str
    title: str
    verdict: str
    mark: str
    proposed: str
    decided_by: str
    reasons: tuple[str, ...]
    next: str
    checks: tuple[CheckRow, ...]
    on_file: tuple[FileRow, ...]
    findings: tuple[FindingRow, ...]
    groups: tuple[WordGroup, ...]
    reworks: tuple[ReworkChoice, ...]
    history_heads: tuple[str, ...]
    history: tuple[HistoryRow, ...]
    charts: tuple[PastChart, ...]
    chart_check: str
    chart_choices: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]
    acts: tuple[FileRow, ...]
    disposed: str
    replaced_by: str
    look_check: str
    look_due: bool
    better: tuple[str, str]


SEVERITIES = {
    0: "Sound",
    1: "Note it (1)",
    2: "Put right before it flies (2)",
    3: "Reject (3)",
}


def story(judged: JudgedJob, verdict: ItemVerdict, chart_check: str = "") -> Story:
    """One item: what it is, what it comes to and why, and all that is on file."""
    zone = zone_of(judged)
    facts = judged.facts
    sheet = facts.sheets.get(verdict.kind)
    state = verdict.state
    look = verdict.call(sheet.look.name) if sheet else None
    measured = [c for c in sheet.checks if c.kind == "measure" and c.quantity] if sheet else []
    drawn = [c for c in measured if series_of(verdict, c).points]
    chosen = next((c for c in drawn if c.name == chart_check), None) or next(
        (c for c in drawn if c.name in _telling(verdict)), drawn[0] if drawn else None
    )
    heads = [
        c for c in measured if any(c.name in {**e.readings, **e.left} for e in verdict.history)
    ]
    return Story(
        item=verdict.item,
        kind=verdict.kind,
        name=verdict.name,
        place=verdict.place,
        came_out_of=state.came_out_of,
        goes_to=verdict.goes_to,
        hours=f"{state.hours:,} h" if state.hours is not None else "",
        title=sheet.title if sheet else verdict.kind.capitalize(),
        verdict=verdict.verdict,
        mark=status_name(verdict.verdict),
        proposed=verdict.proposed if verdict.proposed != verdict.verdict else "",
        decided_by=verdict.decided_by,
        reasons=verdict.reasons,
        next=verdict.next,
        checks=tuple(_check_row(judged, call, sheet) for call in verdict.calls) if sheet else (),
        on_file=tuple(_on_file(judged, verdict, zone)),
        findings=tuple(_finding_row(judged, f, zone) for f in reversed(verdict.findings)),
        groups=tuple(_groups(sheet, state, judged)) if sheet else (),
        reworks=tuple(_rework_choice(sheet, name, state) for name in sheet.reworks)
        if sheet
        else (),
        history_heads=tuple(c.label for c in heads),
        history=tuple(_history_rows(verdict, heads)),
        charts=tuple(chart(verdict, chosen, width) for width in (WIDE, NARROW)) if chosen else (),
        chart_check=chosen.name if chosen else "",
        chart_choices=tuple((c.name, c.label) for c in drawn),
        cautions=sheet.cautions if sheet else (),
        acts=tuple(_acts(judged, state, zone)),
        disposed=_disposed_words(judged, state, zone),
        replaced_by=state.replaced_by,
        look_check=sheet.look.name if sheet else "",
        look_due=look is not None and look.call in ("NOT READ", "VOID"),
        better=_better(judged, verdict),
    )


def to_rework(judged: JudgedJob, verdict: ItemVerdict) -> ReworkChoice | None:
    """The rework that an item asks for first; None where its verdict is another."""
    sheet = judged.facts.sheets.get(verdict.kind)
    if verdict.verdict != "REWORK" or sheet is None:
        return None
    checks = [sheet.check(one.call.check) for one in verdict.why if isinstance(one, BeyondLimit)]
    acts = [one.rework_act for one in checks if one.rework_act]
    return _rework_choice(sheet, acts[0], verdict.state) if acts else None


def _better(judged: JudgedJob, verdict: ItemVerdict) -> tuple[str, str]:
    """Check and meter that would settle a close call."""
    for call in verdict.calls:
        if call.call == "CLOSE CALL":
            settling = [one for one in better_meters(call, judged.facts, judged.state) if one[3]]
            if settling:
                return call.check, settling[0][0].id
    return "", ""


def _telling(verdict: ItemVerdict) -> list[str]:
    """Checks whose call is the trouble, worst first: their chart is shown first."""
    order = ("OUT", "CLOSE CALL")
    return [c.check for word in order for c in verdict.calls if c.call == word]


def _check_row(judged: JudgedJob, call: Call, sheet: CheckSheet) -> CheckRow:
    check = sheet.check(call.check)
    text = call.reading
    entry = call.entry
    if entry is not None and is_a(entry, ReadingTaken) and call.call != "VOID":
        _, reading = understand(entry, judged.facts.sheets, judged.facts.meters)
        if reading.at_psi is not None:
            text += f" at {reading.at_psi} psi"
    meter = call.meter
    if call.taken is not None and call.taken.fields.range and meter:
        meter += f" ({call.taken.fields.range})"
    return CheckRow(
        check=call.check,
        label=call.label,
        kind=check.kind,
        text=text or ("not looked at" if check.kind == "look" else "not read"),
        call=call.call,
        mark=status_name(call.call),
        limit=call.limit,
        source=call.source,
        meter=meter,
        standing=call.meter_standing,
        sentence=call.sentence,
        how_far=call.how_far,
        catches=check.catches,
        misses=check.misses,
        caution=check.caution,
        entry=entry.id if entry is not None else "",
        close=call.call == "CLOSE CALL",
    )


def _on_file(judged: JudgedJob, verdict: ItemVerdict, zone: ZoneInfo) -> list[FileRow]:
    rows = []
    for call in verdict.calls:
        carried = call.entry.id if call.entry is not None else ""
        for other in call.others:
            if other.entry is None or (other.entry.id == carried and call.call != "VOID"):
                continue
            why = (
                other.sentence if other.call == "VOID" else f"Another carries it. {other.sentence}"
            )
            rows.append(
                _file_row(judged, other.entry, zone, other.call, other.reading, call.label, why)
            )
    for target, strike in judged.state.struck.items():
        entry = judged.state.entries[target]
        if entry.item != verdict.item or not is_a(entry, ReadingTaken):
            continue
        label, text = as_read(entry, judged.facts.sheets, judged.facts.meters)
        why = f"Struck by {judged.facts.person(strike.by)}: {with_stop(strike.fields.reason)}"
        rows.append(_file_row(judged, entry, zone, "VOID", text, label, why, struck=True))
    return rows


def _file_row(
    judged: JudgedJob,
    entry: Entry,
    zone: ZoneInfo,
    call: str,
    text: str,
    label: str,
    why: str,
    *,
    struck: bool = False,
) -> FileRow:
    return FileRow(
        label=label,
        text=text,
        when=when_text(entry.at, zone),
        who=judged.facts.person(entry.by),
        why=why,
        mark=status_name(call),
        word="STRUCK" if struck else call,
        entry=entry.id,
        seq=entry.seq,
        struck=struck,
    )


def _acts(judged: JudgedJob, state: ItemState, zone: ZoneInfo) -> list[FileRow]:
    """Reworks, drops and notes of an item, newest first, each with the means to take it back."""
    entries = [*state.reworks, *state.ended, *state.notes]
    entries += [e for e in (state.disposed, state.disagreed) if e is not None]
    rows = []
    for entry in sorted(entries, key=lambda e: (e.at, e.seq), reverse=True):
        words = entry_words(entry, judged)
        rows.append(_file_row(judged, entry, zone, "WITHIN", words, "", ""))
    return rows


def _disposed_words(judged: JudgedJob, state: ItemState, zone: ZoneInfo) -> str:
    if state.disposed is None:
        return ""
    return f"{entry_words(state.disposed, judged)} {when_text(state.disposed.at, zone)}"


def _finding_row(judged: JudgedJob, finding: Finding, zone: ZoneInfo) -> FindingRow:
    standing = (
        f"{finding.resolved[0].upper()}{with_stop(finding.resolved)[1:]}"
        if finding.resolved
        else ""
    )
    for key, person in judged.facts.people.items():
        standing = standing.replace(f" by {key}:", f" by {person.name}:")
    if finding.is_open and finding.cleaned:
        standing = "Cleaned; the look after it is still to come."
    return FindingRow(
        id=finding.id,
        label=finding.label,
        severity=finding.severity,
        note=with_stop(finding.note) if finding.note else "",
        when=when_text(finding.entry.at, zone),
        who=judged.facts.person(finding.entry.by),
        is_open=finding.is_open,
        standing=standing,
        cause=finding.cause,
        next_act=finding.next_act,
        entry=finding.entry.id,
        asks_found="found" in finding.closed_by,
    )


def _groups(sheet: CheckSheet, state: ItemState, judged: JudgedJob) -> list[WordGroup]:
    drained = state.came_out_of in judged.facts.layout.drains_to
    found: dict[int, list[WordChoice]] = {0: [], 1: [], 2: [], 3: []}
    for word in sheet.words.values():
        found[_severity(word, drained=drained)].append(_choice(word, drained=drained))
    return [WordGroup(s, SEVERITIES[s], tuple(words)) for s, words in found.items() if words]


def _severity(word: Word, *, drained: bool) -> int:
    if drained and word.drained_severity is not None:
        return word.drained_severity
    return word.severity


def _choice(word: Word, *, drained: bool) -> WordChoice:
    several = len(word.severities) > 1
    # One number on the sheet is the sheet's to give; a range is the person's to pick.
    severities = word.severities if several else (_severity(word, drained=drained),)
    return WordChoice(
        name=word.name,
        label=word.label,
        severities=severities,
        cause=word.cause,
        confirm=several or severities[0] == 3,
        picks=several,
    )


def _rework_choice(sheet: CheckSheet, name: str, state: ItemState) -> ReworkChoice:
    rework = sheet.reworks[name]
    read = voided_by(state, name, sheet)
    labels = [sheet.check(v).label.lower() for v in rework.voids]
    return ReworkChoice(
        name=name,
        label=rework.done.upper(),
        voids=f"voids {listed(read) if read else ', '.join(labels)}",
        caution=rework.caution,
    )


def _history_rows(verdict: ItemVerdict, checks: Sequence[Check]) -> list[HistoryRow]:
    rows = []
    for earlier in sorted(verdict.history, key=lambda e: e.service):
        cells = []
        for check in checks:
            found, left = earlier.readings.get(check.name), earlier.left.get(check.name)
            text = found.text(check) if found else ""
            if left is not None:
                given = left.text(check)
                if text:
                    text = f"{text} → {given}"
                else:
                    text = f"set to {given}" if check.reworkable else given
            cells.append(text or "none on file")
        rows.append(
            HistoryRow(
                day=on_day(last_day(earlier.service)),
                hours=f"{earlier.engine_hours:,.1f}" if earlier.engine_hours is not None else "",
                place=earlier.place or "new",
                cells=tuple(cells),
                note=earlier.note,
            )
        )
    now = [verdict.call(check.name) for check in checks]
    rows.append(
        HistoryRow(
            day="This job",
            hours="",
            place=verdict.state.came_out_of,
            cells=tuple((c.reading if c and c.reading else "not read") for c in now),
            note="",
        )
    )
    return rows
