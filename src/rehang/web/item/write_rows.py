"""The page of one item that writes: its readings, what is seen, what was done, what is on file."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rehang.trade.facts.items import CheckSheet, Word
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.state import ItemState, as_read
from rehang.trade.telling.sentences import entry_words, voided_by, with_stop
from rehang.trade.telling.sheet_parts import status_name
from rehang.trade.terms.entries import is_a
from rehang.trade.terms.kinds.readings import ReadingTaken
from rehang.trade.terms.wording import listed, on_day, written_day
from rehang.trade.verdicts.item_verdict import ItemVerdict
from rehang.trade.verdicts.next_act import next_for_repeat
from rehang.trade.verdicts.reasons import BeyondLimit
from rehang.web.item.rows import CheckRow, ItemHead, check_rows, head_of
from rehang.web.shared.times import when_text, zone_of

__all__ = ["ReworkChoice", "WritePage", "to_rework", "write_page"]

_SEVERITIES = {
    0: "Sound",
    1: "Note it (1)",
    2: "Put right before it flies (2)",
    3: "Reject (3)",
}


@dataclass(frozen=True, slots=True)
class WordChoice:
    """One finding button: a single severity, or several to pick from."""

    name: str
    label: str
    severities: tuple[int, ...]
    confirm: bool
    picks: bool


@dataclass(frozen=True, slots=True)
class WordGroup:
    title: str
    words: tuple[WordChoice, ...]


@dataclass(frozen=True, slots=True)
class ReworkChoice:
    name: str
    label: str
    voids: str
    caution: str


@dataclass(frozen=True, slots=True)
class FileRow:
    """One line on file: what, who and when and why, its mark; ``seq`` is its line of the book."""

    text: str
    note: str
    mark: str = ""
    word: str = ""
    seq: int = 0
    is_struck: bool = False


@dataclass(frozen=True, slots=True)
class WritePage:
    """What may be written about one item, and what was.

    ``in_place`` is the place of one that is known by its place, where another takes it over.
    """

    head: ItemHead
    checks: tuple[CheckRow, ...]
    groups: tuple[WordGroup, ...]
    look_check: str
    look: str
    is_look_due: bool
    reworks: tuple[ReworkChoice, ...]
    cautions: tuple[str, ...]
    cards: tuple[tuple[str, str, str], ...]
    is_counted: bool
    asks_made: bool
    in_place: str
    on_file: tuple[tuple[str, tuple[FileRow, ...]], ...]


def write_page(judged: JudgedJob, one: ItemVerdict) -> WritePage:
    facts = judged.facts
    sheet = facts.sheets.get(one.kind)
    checks = sheet.checks if sheet is not None else ()
    rows = check_rows(judged, one)
    lists = (
        ("Also on file", tuple(_stood_aside(judged, one))),
        ("Pieces counted", tuple(_counts(one.state))),
        ("Fasteners torqued", tuple(_torqued(judged, one.state))),
        ("Done to it", tuple(_acts(judged, one.state))),
    )
    return WritePage(
        head=head_of(judged, one),
        checks=rows,
        groups=_groups(sheet, one.state, judged) if sheet is not None else (),
        look_check=sheet.look.name if sheet is not None else "",
        look=sheet.look.label if sheet is not None else "",
        is_look_due=any(row.kind == "look" and row.is_open for row in rows),
        reworks=tuple(_rework(sheet, name, one.state) for name in sheet.reworks) if sheet else (),
        cautions=sheet.cautions if sheet is not None else (),
        cards=tuple(_cards(facts, one)),
        is_counted=any(check.method == "counted" for check in checks),
        asks_made=any(check.method == "age" for check in checks),
        in_place=one.name if sheet is not None and sheet.one_for != "removed" else "",
        on_file=tuple((title, held) for title, held in lists if held),
    )


def to_rework(judged: JudgedJob, verdict: ItemVerdict) -> ReworkChoice | None:
    """The rework that is next on an item; None where something else is.

    A REWORK asks for one; so does an OUT that counts once it is repeated after it.
    """
    sheet = judged.facts.sheets.get(verdict.kind)
    if sheet is None:
        return None
    out = [one for one in verdict.why if isinstance(one, BeyondLimit)]
    acts: list[str] = []
    if verdict.verdict == "REWORK":
        acts = [sheet.check(one.call.check).rework_act for one in out]
    elif verdict.verdict == "NOT YET":
        # Something else may be next: a finding, a close call.
        repeats = [one for one in out if one.once and verdict.next == next_for_repeat(one.call)]
        acts = [sheet.check(one.call.check).repeat_after for one in repeats]
    acts = [one for one in acts if one in sheet.reworks]
    return _rework(sheet, acts[0], verdict.state) if acts else None


def _cards(facts: JobFacts, one: ItemVerdict) -> list[tuple[str, str, str]]:
    """Torque cards of what holds an item: the group, which of its places, its title."""
    return [
        (group.id, one.name if group.for_each == one.kind else "", group.title)
        for group in facts.torque_groups.values()
        if one.kind in (group.for_each, group.part)
    ]


# What may be seen on it, and done to it


def _groups(sheet: CheckSheet, state: ItemState, judged: JudgedJob) -> tuple[WordGroup, ...]:
    drained = state.came_out_of in judged.facts.layout.drains_to
    found: dict[int, list[WordChoice]] = {severity: [] for severity in _SEVERITIES}
    for word in sheet.words.values():
        found[_severity(word, drained=drained)].append(_choice(word, drained=drained))
    return tuple(WordGroup(_SEVERITIES[s], tuple(words)) for s, words in found.items() if words)


def _severity(word: Word, *, drained: bool) -> int:
    if drained and word.drained_severity is not None:
        return word.drained_severity
    return word.severity


def _choice(word: Word, *, drained: bool) -> WordChoice:
    several = len(word.severities) > 1
    # One number on the sheet is the sheet's to give; a range is the person's to pick.
    severities = word.severities if several else (_severity(word, drained=drained),)
    confirm = several or severities[0] == 3
    return WordChoice(word.name, word.label, severities, confirm, several)


def _rework(sheet: CheckSheet, name: str, state: ItemState) -> ReworkChoice:
    rework = sheet.reworks[name]
    read = voided_by(state, name, sheet)
    labels = [sheet.check(v).label.lower() for v in rework.voids]
    voids = f"Voids {listed(read) if read else ', '.join(labels)}."
    return ReworkChoice(name, rework.done.upper(), voids, rework.caution)


# What is on file


def _stood_aside(judged: JudgedJob, verdict: ItemVerdict) -> Iterator[FileRow]:
    """Readings that carry nothing: void, stood behind another, or struck."""
    facts, zone = judged.facts, zone_of(judged)
    for call in verdict.calls:
        carried = call.entry.id if call.entry is not None else ""
        for other in call.others:
            entry = other.entry
            if entry is None or (entry.id == carried and call.call != "VOID"):
                continue
            void = other.call == "VOID"
            why = other.sentence if void else f"Another carries it. {other.sentence}"
            yield FileRow(
                text=f"{call.label} {other.reading}",
                note=f"{why} {facts.person(entry.by)}, {when_text(entry.at, zone)}.",
                mark=status_name(other.call),
                word=other.call,
            )
    for target, strike in judged.state.struck.items():
        entry = judged.state.entries[target]
        if entry.item != verdict.item or not is_a(entry, ReadingTaken):
            continue
        text = " ".join(as_read(entry, facts.sheets, facts.meters))
        why = f"Struck by {facts.person(strike.by)}: {with_stop(strike.fields.reason)}"
        yield FileRow(
            text=text,
            note=f"{why} {facts.person(entry.by)}, {when_text(entry.at, zone)}.",
            mark=status_name("VOID"),
            word="STRUCK",
            is_struck=True,
        )


def _counts(state: ItemState) -> Iterator[FileRow]:
    for entry in reversed(state.counts):
        told = entry.data
        words = f"{told['pieces']} pieces, {told['magnetic']} magnetic"
        if told.get("largest_mm"):
            words += f", largest {told['largest_mm']:g} mm"
        yield FileRow(words, written_day(str(told.get("on") or "")) or on_day(entry.at.date()))


def _torqued(judged: JudgedJob, state: ItemState) -> Iterator[FileRow]:
    for entry in reversed(state.torqued):
        who = judged.facts.person(entry.by)
        note = f"{who}, {on_day(entry.at)}, {entry.fields.meter}"
        yield FileRow(f"{entry.fields.what}: {entry.fields.which}", note)


def _acts(judged: JudgedJob, state: ItemState) -> Iterator[FileRow]:
    """Reworks, drops, notes and decisions, newest first."""
    entries = [*state.reworks, *state.ended, *state.notes]
    entries += [e for e in (state.disposed, state.disagreed) if e is not None]
    for entry in sorted(entries, key=lambda e: (e.at, e.seq), reverse=True):
        note = f"{judged.facts.person(entry.by)}, {when_text(entry.at, zone_of(judged))}"
        yield FileRow(entry_words(entry, judged), note, seq=entry.seq)
