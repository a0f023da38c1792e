"""Rows of a part's story, the book, meters and limits, ready to show; from a judged job.

Nothing here reads a clock or a database. Templates print these and decide nothing.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from itertools import pairwise
from zoneinfo import ZoneInfo

from rehang.trade.facts.items import Check, CheckSheet, Word
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.limits import Limit, limit_for, limit_words
from rehang.trade.facts.meters import Meter
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.meter_choice import chosen_meter, meters_for_check
from rehang.trade.known.state import Finding, ItemState, understand
from rehang.trade.telling.sentences import entry_words, voided_by, with_stop
from rehang.trade.terms.entries import Entry, last_day
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.quantities import Quantity, show
from rehang.trade.terms.series import rises_running
from rehang.trade.terms.wording import at_time, listed, on_day, written_day
from rehang.trade.verdicts.verdict import Call, ItemVerdict, better_meters

__all__ = [
    "BookRow",
    "LimitRow",
    "MeterRow",
    "ReadBackRow",
    "Story",
    "book_rows",
    "entry_words",
    "limit_rows",
    "meter_choices",
    "meter_rows",
    "read_back_rows",
    "slug",
    "story",
    "unread_words",
]


def slug(word: str) -> str:
    """A status word as its mark is named: ``CLOSE CALL`` is ``close-call``."""
    return word.lower().replace(" ", "-")


def zone_of(judged: JudgedJob) -> ZoneInfo:
    return ZoneInfo(judged.facts.timezone_name)


def time_text(when: datetime, zone: ZoneInfo) -> str:
    """``11:52`` in the job's time zone."""
    return f"{when.astimezone(zone):%H:%M}"


def when_text(when: datetime, zone: ZoneInfo) -> str:
    """``14 Oct 2026, 11:52``."""
    local = when.astimezone(zone)
    return at_time(local)


def short_when(when: datetime, zone: ZoneInfo) -> str:
    """``14 Oct, 11:52``, for what lies days back, not years."""
    local = when.astimezone(zone)
    return f"{local.day} {local:%b}, {local:%H:%M}"


def due_text(text: str) -> str:
    """A written due date as people say it: ``Jan 2027``, ``Q1 2027``, ``31 Jan 2027``."""
    return written_day(text)


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
    charts: tuple[Chart, ...]
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
    drawn = [c for c in measured if _series(verdict, c).points]
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
        mark=slug(verdict.verdict),
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
    if entry is not None and entry.kind == "reading" and call.call != "VOID":
        _, reading = understand(entry, judged.facts.sheets, judged.facts.meters)
        if reading.at_psi is not None:
            text += f" at {reading.at_psi} psi"
    meter = call.meter
    if entry is not None and entry.get("range") and meter:
        meter += f" ({entry.get('range')})"
    return CheckRow(
        check=call.check,
        label=call.label,
        kind=check.kind,
        text=text or "not read",
        call=call.call,
        mark=slug(call.call),
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
        if entry.item != verdict.item or entry.kind != "reading":
            continue
        try:
            check, reading = understand(entry, judged.facts.sheets, judged.facts.meters)
            text, label = reading.text(check), check.label
        except BadInput:
            # A struck one may speak of a meter or a check that is no longer on file.
            text, label = str(entry.get("written")), str(entry.get("check"))
        why = f"Struck by {judged.facts.person(strike.by)}: {with_stop(strike.data['reason'])}"
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
        mark=slug(call),
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


# The chart of one check across services


@dataclass(frozen=True, slots=True)
class Point:
    """One point of the chart; ``y`` is None for an open circuit, drawn as an arrow."""

    x: float
    y: float
    text: str
    label: str
    now: bool
    mark: str
    open: bool
    left: bool
    text_x: float
    text_y: float
    anchor: str
    mark_x: float
    mark_y: float


@dataclass(frozen=True, slots=True)
class Line:
    x1: float
    y1: float
    x2: float
    y2: float


@dataclass(frozen=True, slots=True)
class Tick:
    y: float
    text: str
    text_y: float


@dataclass(frozen=True, slots=True)
class Bound:
    y: float
    text: str
    text_y: float


@dataclass(frozen=True, slots=True)
class Chart:
    """Everything of the drawing, in its own units."""

    width: int
    height: int
    left: float
    right: float
    bottom: float
    title: str
    unit: str
    sentence: str
    points: tuple[Point, ...]
    lines: tuple[Line, ...]
    ticks: tuple[Tick, ...]
    bounds: tuple[Bound, ...]
    bar: tuple[float, float, float] | None
    hatch: tuple[float, float, float] | None
    hatch_width: int
    bar_words: str
    limit_words: str
    size: str


@dataclass(frozen=True, slots=True)
class _Sample:
    when: date
    found: int | None
    found_open: bool
    left: int | None
    text: str


@dataclass(frozen=True, slots=True)
class _Series:
    samples: tuple[_Sample, ...]

    @property
    def points(self) -> bool:
        return sum(1 for s in self.samples if s.found is not None or s.left is not None) >= 2


WIDE, NARROW = 720, 340
_HEIGHT = 320


def _series(verdict: ItemVerdict, check: Check) -> _Series:
    samples = []
    for earlier in sorted(verdict.history, key=lambda e: e.service):
        found, left = earlier.readings.get(check.name), earlier.left.get(check.name)
        if found is None and left is None:
            continue
        kept = found or left
        assert kept is not None
        samples.append(
            _Sample(
                last_day(earlier.service),
                found.value if found else None,
                found is not None and found.state == "ol",
                left.value if left else None,
                kept.text(check),
            )
        )
    return _Series(tuple(samples))


def chart(verdict: ItemVerdict, check: Check, width: int) -> Chart:
    """The check at each earlier service and now, against the limit on file."""
    quantity = check.quantity
    assert quantity is not None
    call = verdict.call(check.name)
    series = _series(verdict, check).samples
    now_entry = call.entry if call is not None else None
    now_value = call.value if call is not None else None
    now_open = call is not None and call.reading == "OL"
    limit = call.limit_data if call is not None else None
    values = [v for s in series for v in (s.found, s.left) if v is not None]
    if now_value is not None:
        values.append(now_value)
    edges = [e for e in ((limit.lower, limit.upper) if limit else ()) if e is not None]
    log = quantity.name == "resistance"
    low, high = _span([*values, *edges], log=log)
    wide = width == WIDE
    # The last value is written out to the right of its mark, past the end of the axis.
    left, right, top, bottom = 56.0, width - 66.0, 44.0, _HEIGHT - 34.0
    days = [s.when.toordinal() for s in series]
    if now_entry is not None:
        days.append(now_entry.at.date().toordinal())
    first, final = min(days), max(days)

    def at_x(ordinal: int) -> float:
        share = (ordinal - first) / (final - first) if final > first else 0.5
        return round(left + 30 + share * (right - left - 46), 1)

    def at_y(value: float) -> float:
        if log:
            share = math.log(value / low) / math.log(high / low)
        else:
            share = (value - low) / (high - low)
        return round(bottom - min(max(share, 0.0), 1.0) * (bottom - top), 1)

    # Narrower than this two labels run into each other.
    apart = 96 if wide else 56
    last_label = last_text = -1000.0
    now_x = at_x(final) if now_entry is not None else 1e9
    points, lines = [], []
    before: tuple[float, float] | None = None
    for sample in series:
        x = at_x(sample.when.toordinal())
        label = f"{sample.when:%b %Y}" if wide else f"{sample.when:%Y}"
        if x - last_label < apart or now_x - x < apart - 14:
            label = ""
        else:
            last_label = x
        here = sample.found if sample.found is not None else sample.left
        if sample.found_open or here is None:
            points.append(_point(x, top, sample.text, label, opened=True))
            before = None
            continue
        y = at_y(here)
        if before is not None and sample.found is not None:
            lines.append(Line(*before, x, y))
        text = _bare(here, quantity)
        if x - last_text < 48:
            text = ""
        else:
            last_text = x
        # Where the limit's own label stands above the point, its value goes below.
        under = any(abs(y - 16 - (at_y(e) - 8)) < 20 for e in edges if limit and e == limit.upper)
        points.append(_point(x, y, text, label, under=under))
        before = (x, y)
        if sample.left is not None and sample.found is not None and sample.left != sample.found:
            y_left = at_y(sample.left)
            points.append(_point(x, y_left, "", "", left=True))
            before = (x, y_left)
    bar = hatch = None
    if now_entry is not None and call is not None and (now_value is not None or now_open):
        x = at_x(now_entry.at.date().toordinal())
        mark = slug(call.call)
        if now_value is None:
            if before is not None:
                lines.append(Line(*before, x, top + 12))
            points.append(_point(x, top, "open", "now", opened=True, now=True, mark=mark))
        else:
            y = at_y(now_value)
            if before is not None:
                lines.append(Line(*before, x, y))
            points.append(_point(x, y, _bare(now_value, quantity), "now", now=True, mark=mark))
            if call.band is not None:
                lower = max(call.band.low, low if log else 0)
                bar = (x, at_y(lower), at_y(min(call.band.high, high)))
                if call.call == "CLOSE CALL":
                    hatch = (x - (58 if wide else 40), bar[2], round(bar[1] - bar[2], 1))
    return Chart(
        width=width,
        height=_HEIGHT,
        left=left,
        right=right,
        bottom=bottom,
        title=check.label,
        unit=_unit(quantity),
        sentence=_trend_words(verdict, check, call),
        points=tuple(points),
        lines=tuple(lines),
        ticks=tuple(
            Tick(at_y(v), _bare(v, quantity), at_y(v) + 6)
            for v in _ticks(low, high, quantity, log=log)
        ),
        bounds=tuple(_bounds(limit, quantity, at_y)),
        bar=bar,
        hatch=hatch,
        hatch_width=40 if wide else 24,
        limit_words=f"Limit {call.limit}, {call.source}." if call is not None and limit else "",
        bar_words=call.band_words if call is not None and bar is not None else "",
        size="wide" if wide else "narrow",
    )


def _point(
    x: float,
    y: float,
    text: str,
    label: str,
    *,
    now: bool = False,
    mark: str = "",
    opened: bool = False,
    left: bool = False,
    under: bool = False,
) -> Point:
    return Point(
        x=x,
        y=y,
        text=text,
        label=label,
        now=now,
        mark=mark,
        open=opened,
        left=left,
        # The last point is written out beside its mark, the others above theirs.
        text_x=x + 19 if now else x,
        text_y=y + _text_below(now=now, opened=opened, under=under),
        anchor="start" if now else "middle",
        mark_x=x - 13,
        mark_y=y - 13,
    )


def _text_below(*, now: bool, opened: bool, under: bool) -> int:
    """How far below its point a value's base line stands."""
    if now:
        return 14 if opened else 6
    if opened or under:
        return 30
    return -16


def _span(values: Sequence[int], *, log: bool) -> tuple[float, float]:
    low, high = float(min(values)), float(max(values))
    if log:
        return max(low, 1.0) / 1.4, high * 1.9
    room = max((high - low) * 0.25, 1.0)
    return max(low - room, 0.0), high + room


def _ticks(low: float, high: float, quantity: Quantity, *, log: bool) -> list[float]:
    if log:
        found = []
        for power in range(int(math.log10(low)) - 1, int(math.log10(high)) + 2):
            found += [m * 10.0**power for m in (1, 2, 5)]
        return [v for v in found if low <= v <= high]
    unit = float(quantity.units[quantity.keyed])
    for step in (1, 2, 5, 10, 20, 50, 100):
        if (high - low) / (step * unit) <= 6:
            first = math.ceil(low / (step * unit))
            return [n * step * unit for n in range(first, int(high / (step * unit)) + 1)]
    return []


def _bounds(limit: Limit | None, quantity: Quantity, at_y: Callable[[float], float]) -> list[Bound]:
    found = []
    edges = ((limit.upper, "or less"), (limit.lower, "or more")) if limit is not None else ()
    for value, word in edges:
        if value is not None:
            y = at_y(value)
            below = word == "or more"
            # Whose limit it is stands under the drawing, where there is room for all of it.
            found.append(
                Bound(y, f"LIMIT {_bare(value, quantity)} {word}", y + 22 if below else y - 8)
            )
    return found


def _bare(value: float, quantity: Quantity) -> str:
    return show(value, quantity).rsplit(" ", 1)[0]


def _unit(quantity: Quantity) -> str:
    return show(0, quantity).rsplit(" ", 1)[1]


_TIMES = ("", "once", "twice", "three times", "four times", "five times", "six times")


def _trend_words(verdict: ItemVerdict, check: Check, call: Call | None) -> str:
    """What the chart says, in a sentence."""
    quantity = check.quantity
    assert quantity is not None
    samples = _series(verdict, check).samples
    values = [s.found if s.found is not None else s.left for s in samples]
    read = [v for v in values if v is not None]
    now = call.value if call is not None and call.call != "VOID" else None
    opened = call is not None and call.reading == "OL"
    grown = []
    if check.reworkable and any(s.left is not None for s in samples):
        for before, after in pairwise(samples):
            if before.left is not None and after.found is not None:
                grown.append(after.found - before.left)
        if now is not None and samples and samples[-1].left is not None:
            grown.append(now - samples[-1].left)
    if grown:
        steps = ", ".join(_bare(g, quantity) for g in grown)
        return f"{check.label} grew by {steps} {_unit(quantity)} from one opening to the next."
    run = [*read, *([now] if now is not None else [])]
    rises = rises_running(run)
    shown = ", ".join(_bare(v, quantity) for v in run)
    tail = ", and open now" if opened else ""
    if rises >= 2:
        times = _TIMES[rises] if rises < len(_TIMES) else f"{rises} times"
        return f"{check.label} is up {times} running: {shown} {_unit(quantity)}{tail}."
    return f"{check.label} at each opening: {shown} {_unit(quantity)}{tail}."


# Read it back


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
            rows.append(ReadBackRow(hole, "", "", "", "", ()))
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
                    mark=slug(call.call),
                    notes=tuple(notes),
                    anchor=f"r-{hole}-{call.check}",
                    missing=missing,
                )
            )
        rows.append(
            ReadBackRow(hole, held.item, held.name, held.verdict, slug(held.verdict), tuple(cells))
        )
    return rows


def _changed(judged: JudgedJob) -> set[tuple[str, str]]:
    """Item and check of every reading that was struck and written again."""
    found = set()
    for target in judged.state.struck:
        entry = judged.state.entries[target]
        if entry.kind in ("reading", "seen") and entry.get("check"):
            found.add((entry.item, str(entry.get("check"))))
    return found


def unread_words(rows: Sequence[ReadBackRow]) -> list[tuple[str, str]]:
    """Anchor and words of each value still to be read."""
    return [
        (cell.anchor, f"{row.hole}, {cell.label.lower()}: {_not_read(cell)}")
        for row in rows
        for cell in row.cells
        if cell.missing
    ]


def _not_read(cell: ReadBackCell) -> str:
    return "void, to be taken again" if cell.call == "VOID" else "not read"


# The book


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
                struck_reason=with_stop(strike.data["reason"]) if strike else "",
                can_strike=strike is None and entry.kind not in ("struck", "filed", "signed"),
                hash=entry.hash[:8],
            )
        )
    return rows


# Meters and limits


def meter_standing(judged: JudgedJob, meter: Meter, today: date) -> str:
    """Empty when it may be used today; else the two or three words that say so."""
    if judged.state.is_out(meter.id) is not None:
        return "FOUND OUT"
    if not judged.state.standing(meter, today):
        return ""
    return "NO CALIBRATION" if meter.due is None else "OUT OF DATE"


@dataclass(frozen=True, slots=True)
class MeterRow:
    id: str
    name: str
    kind: str
    measures: str
    worth: str
    due: str
    by: str
    standing: str
    sentence: str
    used: int
    ranges: str
    proved: str
    note: str
    found: tuple[str, ...] = ()


def meter_rows(judged: JudgedJob, today: date) -> list[MeterRow]:
    """Every meter: what it is worth, when it is due, how it stands today."""
    used: dict[str, int] = {}
    for entry in judged.state.live():
        if entry.kind == "reading" and entry.get("meter"):
            used[str(entry.get("meter"))] = used.get(str(entry.get("meter")), 0) + 1
    rows = []
    for meter in judged.facts.meters.values():
        proof = judged.state.proved.get(meter.id)
        rows.append(
            MeterRow(
                id=meter.id,
                name=meter.name,
                kind=meter.kind,
                measures=meter.quantity.name if meter.quantity else "",
                worth=meter.worth,
                due=due_text(meter.due_text),
                by=meter.calibrated_by,
                standing=meter_standing(judged, meter, today),
                sentence=_standing_words(judged, meter, today),
                used=used.get(meter.id, 0),
                ranges=", ".join(r.name for r in meter.ranges),
                proved=(
                    f"{entry_words(proof, judged)} "
                    f"{judged.facts.person(proof.by)}, {when_text(proof.at, zone_of(judged))}"
                    if proof
                    else ""
                ),
                note=meter.note,
                found=tuple(
                    f"{entry_words(one.entry, judged)} "
                    f"{judged.facts.person(one.entry.by)}, {when_text(one.entry.at, zone_of(judged))}"
                    for one in judged.state.found_out.get(meter.id, ())
                ),
            )
        )
    return rows


def _standing_words(judged: JudgedJob, meter: Meter, today: date) -> str:
    found = judged.state.is_out(meter.id)
    if found is not None:
        return (
            f"Found out of tolerance on {on_day(found.found_on)}: {found.as_found}. It is good "
            "again from the check on which a new certificate with its day is entered."
        )
    proof = judged.state.proved.get(meter.id)
    if meter.standing(today) and not judged.state.standing(meter, today) and proof is not None:
        return f"Proved good to {due_text(str(proof.get('due')))}, that day included."
    if meter.due is None:
        return "No calibration on record: its readings are called and raise a blocker."
    if today > meter.due:
        return f"Past its date since {on_day(meter.due)}: its readings raise a blocker."
    return f"In date to {on_day(meter.due)}, that day included."


@dataclass(frozen=True, slots=True)
class MeterChoice:
    """A meter and range to pick in a form."""

    value: str
    label: str
    chosen: bool


def meter_choices(judged: JudgedJob, check: Check, chosen: str = "") -> list[MeterChoice]:
    """Meters that can take a check, the one that a person chose for it picked.

    Until somebody has chosen, the first choice is to choose. ``chosen`` is ``meter|range``.
    """
    if not chosen:
        chosen = "|".join(chosen_meter(check, judged.facts, judged.state))
    found = []
    for meter in meters_for_check(check, judged.facts, judged.state):
        for range_name in [r.name for r in meter.ranges] or [""]:
            value = f"{meter.id}|{range_name}"
            label = f"{meter.id}, {meter.name}" + (f", {range_name}" if range_name else "")
            found.append(MeterChoice(value, label, value == chosen))
    if found and not any(one.chosen for one in found):
        found.insert(0, MeterChoice("", "Choose the meter", chosen=True))
    return found


@dataclass(frozen=True, slots=True)
class LimitRow:
    """One limit, or the place where one is missing."""

    number: int
    item: str
    check: str
    label: str
    words: str
    use: str
    source: str
    entered: str
    judges: bool
    note: str
    for_type: str = ""


def limit_rows(facts: JobFacts) -> list[LimitRow]:
    """Limits in the order of the check sheets; a check with none says so."""
    rows = []
    numbers = {id(one): number for number, one in enumerate(facts.limits)}
    for kind, sheet in facts.sheets.items():
        for check in sheet.checks:
            mine = [one for one in facts.limits if one.item == kind and one.check == check.name]
            rows += [_limit_row(one, numbers[id(one)], check.label, facts) for one in mine]
            if (kind, check.name) == ("hose", "age"):
                rows += [
                    _no_limit(kind, check.name, f"{check.label}, {one}", for_type=one)
                    for one in _types_without_rule(facts, mine)
                ]
            elif not mine or limit_for(facts.limits, kind, check.name, "service") is None:
                rows.append(_no_limit(kind, check.name, check.label))
    shown = {row.number for row in rows}
    rows += [
        _limit_row(one, number, f"{one.item}, {one.check.replace('_', ' ')}", facts)
        for number, one in enumerate(facts.limits)
        if number not in shown
    ]
    filed = {one.check for one in facts.limits if one.item == "engine"}
    rows += [
        _no_limit("engine", one.limit, f"engine, {one.limit.replace('_', ' ')}")
        for one in facts.torque_groups.values()
        if one.limit not in filed
    ]
    return rows


def _types_without_rule(facts: JobFacts, rules: Sequence[Limit]) -> list[str]:
    """Types of hose on file that no age rule names."""
    ruled = {one.wants.get("type") for one in rules}
    return sorted({hose.type for hose in facts.hoses.values()} - ruled)


def _no_limit(kind: str, check: str, label: str, *, for_type: str = "") -> LimitRow:
    return LimitRow(
        -1, kind, check, label, "", "", "", "", judges=False, note="", for_type=for_type
    )


def _limit_row(limit: Limit, number: int, label: str, facts: JobFacts) -> LimitRow:
    uses = {"service": "to go back as found", "setting": "to be set to", "": ""}
    words = limit_words(limit)
    if limit.short_is_out:
        words += "; short is out"
    entered = ""
    if limit.entered_by:
        entered = f"put in by {facts.person(limit.entered_by)}"
        if limit.entered_on:
            entered += f", {on_day(limit.entered_on)}"
    return LimitRow(
        number=number,
        item=limit.item,
        check=limit.check,
        label=label,
        words=words,
        use=uses[limit.use],
        source=limit.source_text,
        entered=entered,
        judges=limit.has_source,
        note=limit.note,
    )
