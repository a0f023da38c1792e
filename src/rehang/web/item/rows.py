"""The page of one item that decides: what it comes to, why, each check with its past."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from rehang.trade.drawn.chart_values import Chart, Sheet, openings
from rehang.trade.drawn.charts import chart_svg
from rehang.trade.drawn.drawing import LEAK_PATHS, cylinder_svg, scale_svg
from rehang.trade.drawn.item_charts import chart_of_check, checks_of
from rehang.trade.drawn.turn import turn_svg
from rehang.trade.facts.items import Check, CheckSheet
from rehang.trade.facts.limits import FROM_MEAN
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.state import FLAG, Finding, understand
from rehang.trade.life.history import story
from rehang.trade.life.notes import item_notes
from rehang.trade.telling.sentences import entry_words, with_stop
from rehang.trade.telling.sheet_parts import status_name
from rehang.trade.terms.days import last_day
from rehang.trade.terms.entries import is_a
from rehang.trade.terms.kinds.readings import ReadingTaken
from rehang.trade.terms.wording import lower_first, on_day, upper_first
from rehang.trade.verdicts.calls import Call, better_meters
from rehang.trade.verdicts.item_verdict import ItemVerdict
from rehang.trade.verdicts.leaks import leaks_of
from rehang.trade.verdicts.round_turn import RoundTurn, round_turn
from rehang.trade.work.names import item_label
from rehang.web.shared.times import when_text, zone_of

__all__ = [
    "CheckRow",
    "ItemHead",
    "ItemPage",
    "OddFlag",
    "check_rows",
    "closed_flag",
    "head_of",
    "item_page",
    "odd_flag",
    "settling",
    "small_drawings",
]

# What decides stands first among the checks; a picture stands before a word.
_FIRST = ("OUT", "CLOSE CALL", "NOT JUDGED", "VOID", "NOT READ")
# Widths in pixels that a small chart is drawn at; the page shows the wider one where it fits.
_WIDTHS = (("narrow", 284), ("phone", 342))
_HIGH = 164


# What every page of the item begins with


@dataclass(frozen=True, slots=True)
class ItemHead:
    """The item, what it comes to, the one reason, and what is done next."""

    item: str
    kind: str
    name: str
    heading: str
    title: str
    came_out_of: str
    goes_to: str
    hours: str
    verdict: str
    mark: str
    decided: str
    reasons: tuple[str, ...]
    next: str
    disposed: str
    replaced_by: str

    @property
    def is_serial(self) -> bool:
        return self.heading == self.name


def head_of(judged: JudgedJob, verdict: ItemVerdict) -> ItemHead:
    sheet = judged.facts.sheets.get(verdict.kind)
    state = verdict.state
    label = item_label(judged.facts, verdict.item)
    # What is taken out one by one is known by its serial; the rest by what it is.
    is_serial = sheet is not None and sheet.one_for == "removed"
    disposed = ""
    if state.disposed is not None:
        when = when_text(state.disposed.at, zone_of(judged))
        disposed = f"{entry_words(state.disposed, judged)} {when}"
    decided = ""
    if verdict.proposed != verdict.verdict:
        decided = f"Proposed: {verdict.proposed}; decided by {verdict.decided_by}."
    return ItemHead(
        item=verdict.item,
        kind=verdict.kind,
        name=verdict.name,
        heading=verdict.name if is_serial else label,
        title=sheet.title if sheet is not None and is_serial else "",
        came_out_of=state.came_out_of,
        goes_to=verdict.goes_to,
        hours=f"{state.hours:,} h" if state.hours is not None else "",
        verdict=verdict.verdict,
        mark=status_name(verdict.verdict),
        decided=decided,
        reasons=verdict.reasons,
        next=verdict.next,
        disposed=disposed,
        replaced_by=state.replaced_by,
    )


def settling(judged: JudgedJob, verdict: ItemVerdict) -> tuple[str, str]:
    """Check and meter that would settle a close call."""
    for call in verdict.calls:
        if call.call == "CLOSE CALL":
            found = [one for one in better_meters(call, judged.facts, judged.state) if one[3]]
            if found:
                return call.check, found[0][0].id
    return "", ""


# Its checks


@dataclass(frozen=True, slots=True)
class CheckRow:
    """One check: its call, the reading that carries it, its limit, and its past as a picture."""

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
    entry: str
    is_keyed: bool
    judged_by: str
    pictures: tuple[tuple[str, str], ...] = ()
    past: str = ""

    @property
    def word(self) -> str:
        """What is stamped beside it. What was looked at was seen, and is not read."""
        seen = {"NOT YET": "SEEN", "NOT READ": "NOT SEEN"} if self.kind == "look" else {}
        return seen.get(self.call, self.call)

    @property
    def held_to(self) -> str:
        """What it is judged by: its limit, or another check."""
        if self.judged_by:
            return f"Judged by: {self.judged_by}."
        return f"Limit: {self.limit}." if self.limit else "No limit on file."

    @property
    def is_open(self) -> bool:
        """Whether it is still to be read or looked at."""
        return self.call in ("NOT READ", "VOID")


def check_rows(judged: JudgedJob, verdict: ItemVerdict) -> tuple[CheckRow, ...]:
    """Each check of the item in the order of its sheet, without its picture."""
    sheet = judged.facts.sheets.get(verdict.kind)
    if sheet is None:
        return ()
    return tuple(_check_row(judged, call, sheet.check(call.check)) for call in verdict.calls)


def _check_row(judged: JudgedJob, call: Call, check: Check) -> CheckRow:
    text, entry, meter = call.reading, call.entry, call.meter
    if entry is not None and is_a(entry, ReadingTaken) and call.call != "VOID":
        _, reading = understand(entry, judged.facts.sheets, judged.facts.meters)
        if reading.at_psi is not None:
            text += f" at {reading.at_psi} psi"
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
        sentence="" if (by := _judged_by(judged, call, check)) else call.sentence,
        entry=entry.id if entry is not None else "",
        is_keyed=check.method not in ("age", "counted", FROM_MEAN),
        judged_by=by,
    )


def _judged_by(judged: JudgedJob, call: Call, check: Check) -> str:
    """The check that judges what has no limit of its own; empty where there is none or it has one."""
    if not check.judged_by or call.limit_data is not None:
        return ""
    sheet = next(s for s in judged.facts.sheets.values() if check in s.checks)
    return lower_first(sheet.check(check.judged_by).label)


Pictures = tuple[tuple[str, str], ...]


def _pictures(
    judged: JudgedJob, verdict: ItemVerdict, text: int
) -> dict[str, tuple[Pictures, str]]:
    """What is drawn of each check, and what its past says in words.

    Its past where there is one, else the reading on its scale.
    """
    told = story(judged, verdict.item)
    found: dict[str, tuple[Pictures, str]] = {
        call.check: ((("phone", picture),), "")
        for call in verdict.calls
        if (picture := scale_svg(call, _floor(judged, call)))
    }
    for call in verdict.calls:
        turn = _turn_of(judged, call)
        if turn is not None:
            found[call.check] = (
                (("phone", turn_svg(turn, f"{call.label}. {turn.words}")),),
                "",
            )
    for check, _ in checks_of(told, judged):
        chart = chart_of_check(told, check, judged, None)
        if len(openings(chart)) > 1:
            found[check] = (tuple(small_drawings(chart, text)), chart.sentence)
    return found


def _turn_of(judged: JudgedJob, call: Call) -> RoundTurn | None:
    """What the reading that carries a check comes to round a turn."""
    if call.taken is None:
        return None
    check, reading = understand(call.taken, judged.facts.sheets, judged.facts.meters)
    return round_turn(reading, check)


def small_drawings(chart: Chart, text: int, high: int = _HIGH) -> list[tuple[str, str]]:
    """A chart small enough for a card, in both of its widths."""
    return [
        (name, chart_svg(chart, Sheet(width, high, text, "page", is_small=True)))
        for name, width in _WIDTHS
    ]


def _floor(judged: JudgedJob, call: Call) -> int | None:
    """The master reading a call is held against, in base steps."""
    if call.limit_data is None or call.limit_data.floor != "master" or call.entry is None:
        return None
    master = judged.state.master(call.meter, call.entry.at.date())
    return master[1] if master is not None else None


def _sources(rows: Sequence[CheckRow]) -> tuple[tuple[str, str], ...]:
    """Whose limits they are, each source said once with the checks it is for."""
    held: dict[str, list[str]] = {}
    for row in rows:
        if row.source:
            held.setdefault(row.source, []).append(lower_first(row.label))
    return tuple((upper_first(", ".join(labels)), source) for source, labels in held.items())


# What was seen on it, and what sets it apart


@dataclass(frozen=True, slots=True)
class FindingRow:
    id: str
    label: str
    severity: int
    words: str
    is_open: bool
    standing: str
    entry: str
    asks_found: bool = False


def _finding_row(judged: JudgedJob, finding: Finding) -> FindingRow:
    standing = upper_first(with_stop(finding.resolved)) if finding.resolved else ""
    for key, person in judged.facts.people.items():
        standing = standing.replace(f" by {key}:", f" by {person.name}:")
    if finding.is_open and finding.cleaned:
        standing = "Cleaned; the look after it is still to come."
    who = judged.facts.person(finding.entry.by)
    words = [f"{who}, {when_text(finding.entry.at, zone_of(judged))}."]
    words += [with_stop(finding.note)] if finding.note else []
    if finding.severity:
        words += [f"Likely: {lower_first(finding.cause)}."] if finding.cause else []
        words += [f"{finding.next_act}."] if finding.next_act and finding.is_open else []
    return FindingRow(
        id=finding.id,
        label=finding.label,
        severity=finding.severity,
        words=" ".join(words),
        is_open=finding.is_open,
        standing=standing,
        entry=finding.entry.id,
        asks_found="found" in finding.closed_by,
    )


@dataclass(frozen=True, slots=True)
class OddFlag:
    """One odd out: its sentence, the id it is closed by, and how it was closed."""

    id: str
    sentence: str
    closed: str


def odd_flag(judged: JudgedJob, one: ItemVerdict) -> OddFlag | None:
    """What sets an item apart from its fellows, open or closed; None where nothing does."""
    flag_id = f"{FLAG}{one.item}"
    return OddFlag(flag_id, one.flag, "") if one.flag else closed_flag(judged, flag_id)


def closed_flag(judged: JudgedJob, flag_id: str) -> OddFlag | None:
    settled = judged.state.settled.get(flag_id)
    if settled is None:
        return None
    said = f"Closed by {judged.facts.person(settled.by)}, {on_day(settled.at)}"
    return OddFlag(flag_id, "", f"{said}: {settled.fields.reason}")


# Its past in figures


@dataclass(frozen=True, slots=True)
class HistoryRow:
    """One service of an item: how it was found and left."""

    day: str
    hours: str
    place: str
    cells: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class LeakRow:
    on: str
    state: str
    reading: str
    loss: str
    area: str
    path: str


def _history(verdict: ItemVerdict, sheet: CheckSheet) -> tuple[HistoryRow, ...]:
    """Every service on file, the oldest first and this job last; none where there is no past."""
    checks = [
        check
        for check in sheet.checks
        if any(check.name in {**one.readings, **one.left} for one in verdict.history)
    ]
    if not checks:
        return ()
    rows = []
    for earlier in sorted(verdict.history, key=lambda one: one.service):
        cells = []
        for check in checks:
            found, left = earlier.readings.get(check.name), earlier.left.get(check.name)
            text = found.text(check) if found else ""
            if left is not None:
                given = left.text(check)
                is_set = not text and check.reworkable
                text = f"{text} → {given}" if text else f"set to {given}" if is_set else given
            cells.append((check.label, text or "none on file"))
        hours = f"{earlier.engine_hours:,.1f}" if earlier.engine_hours is not None else ""
        place = earlier.place or "new"
        rows.append(HistoryRow(on_day(last_day(earlier.service)), hours, place, tuple(cells)))
    now = [(check.label, verdict.call(check.name)) for check in checks]
    cells = [(label, call.reading if call and call.reading else "not read") for label, call in now]
    return (*rows, HistoryRow("This job", "", verdict.state.came_out_of, tuple(cells)))


def _leaks(judged: JudgedJob, one: ItemVerdict) -> tuple[LeakRow, ...]:
    return tuple(
        LeakRow(
            on=leak.on,
            state=leak.state,
            reading=f"{leak.held}/{leak.supply}",
            loss=f"{leak.loss:g} %",
            area=f"{leak.area} ({leak.span})",
            path=leak.path if leak.path != "none" else "",
        )
        for leak in leaks_of(one, judged.facts)
    )


def _leak_drawing(one: ItemVerdict, call: Call | None) -> tuple[str, str]:
    if call is None or call.taken is None:
        return "", ""
    path = str(call.taken.fields.with_.get("path", "") or "")
    if path in LEAK_PATHS:
        words = f"Cylinder {one.name} lets air out at the {path}."
    elif path == "none":
        words = f"No air was heard leaving cylinder {one.name}."
    else:
        words = f"Where the air of cylinder {one.name} goes was not written down."
    note = str(call.taken.fields.with_.get("path_note", "") or "")
    return cylinder_svg(path, words), f"{words} {note.capitalize()}".strip()


# The page


@dataclass(frozen=True, slots=True)
class ItemPage:
    """What decides about one item. ``undecided`` is a count that a person has to call."""

    head: ItemHead
    checks: tuple[CheckRow, ...]
    sources: tuple[tuple[str, str], ...]
    told: tuple[tuple[CheckRow, Check], ...]
    findings: tuple[FindingRow, ...]
    flag: OddFlag | None
    notes: tuple[str, ...]
    drawing: str
    drawing_words: str
    leaks: tuple[LeakRow, ...]
    history: tuple[HistoryRow, ...]
    undecided: str

    @property
    def settled(self) -> tuple[FindingRow, ...]:
        """Findings that are closed, or that say that it is sound."""
        return tuple(one for one in self.findings if not self._stands(one))

    @property
    def standing(self) -> tuple[FindingRow, ...]:
        """Findings that are open and say that something is wrong."""
        return tuple(one for one in self.findings if self._stands(one))

    @staticmethod
    def _stands(one: FindingRow) -> bool:
        return one.is_open and one.severity > 0


def item_page(judged: JudgedJob, one: ItemVerdict, text: int) -> ItemPage:
    """The page of an item; ``text`` is the size of type on its charts."""
    sheet = judged.facts.sheets.get(one.kind)
    methods = {check.name: check.method for check in sheet.checks} if sheet else {}
    pressure = next((c for c in one.calls if methods.get(c.check) == "compression"), None)
    counted = [c for c in one.calls if methods.get(c.check) == "counted" and c.entry]
    drawing, words = _leak_drawing(one, pressure)
    pictures = _pictures(judged, one, text) if sheet is not None else {}
    checks = check_rows(judged, one)

    def place(row: CheckRow) -> tuple[int, bool]:
        return (_FIRST.index(row.call) if row.call in _FIRST else 9, row.check not in pictures)

    said = " ".join((*one.reasons, one.flag))
    return ItemPage(
        head=head_of(judged, one),
        checks=tuple(
            # What the verdict's reason says already is not said again beside the check.
            replace(
                row,
                pictures=pictures[row.check][0] if row.check in pictures else (),
                past=pictures[row.check][1] if row.check in pictures else "",
                sentence="" if row.sentence in said else row.sentence,
            )
            for row in sorted(checks, key=place)
        ),
        sources=_sources(checks),
        told=tuple((row, sheet.check(row.check)) for row in checks) if sheet else (),
        findings=tuple(_finding_row(judged, f) for f in reversed(one.findings)),
        flag=odd_flag(judged, one),
        notes=tuple(item_notes(one, judged)),
        drawing=drawing,
        drawing_words=words,
        leaks=_leaks(judged, one) if pressure is not None else (),
        history=_history(one, sheet) if sheet is not None else (),
        undecided=next((c.entry.id for c in counted if c.entry and c.call == "NOT JUDGED"), ""),
    )
