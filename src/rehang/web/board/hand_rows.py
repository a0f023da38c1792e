"""Rows of what to take to the bench, and of what one person hands over to the next."""

from __future__ import annotations

from collections.abc import Collection, Hashable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from rehang.trade.job.again import needed_checks
from rehang.trade.job.judging import JudgedJob
from rehang.trade.telling.sentences import entry_words
from rehang.trade.terms.entries import is_a
from rehang.trade.terms.kinds.items import EarlierService
from rehang.trade.terms.kinds.papers import Filed
from rehang.trade.terms.kinds.readings import ReadingTaken
from rehang.trade.terms.kinds.torque import Torqued
from rehang.trade.terms.wording import listed, lower_first, on_day, upper_first, written_day
from rehang.trade.verdicts.item_verdict import ItemVerdict
from rehang.trade.work.todo import Bench, take_to_bench
from rehang.web.shared.meters import meter_standing
from rehang.web.shared.times import short_when, time_text, zone_of
from rehang.web.work.rows import (
    EventRow,
    Half,
    LaterTask,
    OutRow,
    TaskCard,
    cards,
    halves,
    held,
    out_rows,
    total_text,
)
from rehang.web.work.waits import Wait, item_title, waits, weekday_text

__all__ = [
    "BenchPage",
    "BenchRow",
    "Handover",
    "bench_page",
    "bench_rows",
    "handover",
    "struck_rows",
]


@dataclass(frozen=True, slots=True)
class BenchRow:
    """One line of what to take to the bench; ``kind`` is tool, meter, part or paper."""

    key: str
    kind: str
    name: str
    size: str
    due: str
    standing: str
    meter: str
    page: str = ""


@dataclass(frozen=True, slots=True)
class BenchPage:
    choices: tuple[tuple[TaskCard, bool], ...]
    rows: tuple[BenchRow, ...]
    cautions: tuple[str, ...]
    total: str


@dataclass(frozen=True, slots=True)
class Handover:
    """All that whoever comes next has to know, in the order in which it is said."""

    day: str
    left_off: str
    done: tuple[EventRow, ...]
    done_more: int
    halves: tuple[Half, ...]
    waits: tuple[Wait, ...]
    held: tuple[LaterTask, ...]
    struck: tuple[EventRow, ...]
    odd: tuple[str, ...]
    out: tuple[OutRow, ...]
    now: tuple[TaskCard, ...]
    blockers: int


# Take to the bench


def bench_rows(judged: JudgedJob, chosen: Sequence[TaskCard]) -> tuple[BenchRow, ...]:
    """Meters, tools, parts and paper for these cards, merged."""
    bench = take_to_bench(
        [one.task for one in chosen if one.task], judged.work, judged.facts, judged.stock.in_hand
    )
    return (
        *_meter_rows(bench, chosen, judged),
        *(
            BenchRow(
                f"tool:{tool.name}:{tool.size}",
                "tool",
                tool.name,
                ", ".join(p for p in (tool.size, f"{tool.drive} drive" if tool.drive else "") if p),
                "",
                "",
                "",
            )
            for tool in bench.tools
        ),
        *(
            BenchRow(
                f"part:{part.id}",
                "part",
                f"{part.number} × {part.name}",
                "",
                f"{part.in_hand} in hand" if part.in_hand is not None else "",
                "NOT ENOUGH" if part.in_hand is not None and part.in_hand < part.number else "",
                "",
            )
            for part in bench.parts
        ),
        BenchRow("paper:blank", "paper", "Blank tray sheet", "", "print it", "", "", "paper"),
    )


def _meter_rows(bench: Bench, chosen: Sequence[TaskCard], judged: JudgedJob) -> list[BenchRow]:
    ids: dict[str, str] = {one.id: one.size for one in bench.meters if one.id}
    wanted = {item for card in chosen for item in card.items}
    for verdict in judged.items:
        if verdict.item in wanted or _is_asked_of(verdict, chosen, judged):
            for _, meter, _ in needed_checks(verdict, judged):
                if meter and meter not in judged.work.found_out:
                    ids.setdefault(meter, "")
    found = []
    for name, size in ids.items():
        one = judged.facts.meters[name]
        found.append(
            BenchRow(
                f"meter:{name}",
                "meter",
                name,
                ", ".join(part for part in (one.name, size) if part),
                f"due {written_day(one.due_text)}" if one.due_text else "",
                meter_standing(judged, one, judged.today) if judged.today is not None else "",
                name,
            )
        )
    found += [
        BenchRow(f"meter:{asked.name}", "meter", asked.name, asked.size, "", "NONE ON FILE", "")
        for asked in bench.meters
        if not asked.id
    ]
    return found


def _is_asked_of(verdict: ItemVerdict, chosen: Sequence[TaskCard], judged: JudgedJob) -> bool:
    """Whether a chosen task's answers are readings on this item that are still to be taken."""
    tasks = {one.task for one in chosen if one.task}
    if verdict.verdict not in ("NOT YET", "REWORK"):
        return False
    return any(
        (verdict.kind, call.check) in judged.work.tasks[task].task.answers
        for call, _, _ in needed_checks(verdict, judged)
        for task in tasks
    )


def bench_page(judged: JudgedJob, keys: Collection[str], most: int) -> BenchPage:
    """The list for the chosen cards; for the first so many where none is chosen."""
    found = cards(judged)
    wanted = set(keys) & {one.key for one in found}
    if not wanted:
        wanted = {one.key for one in found[:most]}
    chosen = [one for one in found if one.key in wanted]
    bench = take_to_bench(
        [one.task for one in chosen if one.task], judged.work, judged.facts, judged.stock.in_hand
    )
    return BenchPage(
        choices=tuple((one, one.key in wanted) for one in found),
        rows=bench_rows(judged, chosen),
        cautions=bench.cautions,
        total=total_text(chosen),
    )


# The handover sheet

# More than this is read out of the book, not over the bench.
_HANDED_LINES = 8


def handover(judged: JudgedJob, today: date) -> Handover:
    """What was done on the last day of work, what is not, what waits, what is odd."""
    zone = zone_of(judged)
    live = [e for e in judged.state.live() if not is_a(e, Filed, EarlierService)]
    days = [e.at.astimezone(zone).date() for e in live]
    day = max((one for one in days if one <= today), default=today)
    done = [e for e, on in zip(live, days, strict=True) if on == day]
    return Handover(
        day=weekday_text(day),
        left_off=_left_off(judged, zone),
        done=tuple(
            EventRow(
                time_text(e.at, zone),
                judged.facts.person(e.by),
                entry_words(e, judged),
                e.id,
                False,
            )
            for e in done[-_HANDED_LINES:]
        ),
        done_more=max(0, len(done) - _HANDED_LINES),
        halves=_together(halves(judged), judged),
        waits=waits(judged),
        held=held(judged),
        struck=struck_rows(judged),
        odd=tuple(_odd(judged, today)),
        out=out_rows(judged),
        now=cards(judged),
        blockers=len(judged.blockers),
    )


def _together(found: Sequence[Half], judged: JudgedJob) -> tuple[Half, ...]:
    """Loose ends, those with the same places left in one line: one plug that waits at each test."""
    groups: dict[Hashable, list[Half]] = {}
    for half in found:
        work = judged.work.tasks[half.task]
        left = tuple(place.name for place in work.unfinished)
        alone = half.loose or half.notes or len(work.places) == 1
        key = (half.task, half.place) if alone else (left, work.number_done, work.task.for_each)
        groups.setdefault(key, []).append(half)
    return tuple(_merged(group, judged) for group in groups.values())


def _merged(group: Sequence[Half], judged: JudgedJob) -> Half:
    first = group[0]
    if len(group) == 1:
        return first
    work = judged.work.tasks[first.task]
    left = listed([place.label for place in work.unfinished])
    others = [lower_first(one.title) for one in group[1:]]
    words = f"{work.number_done} of {len(work.places)} done; left: {left}."
    if len(others) == 1:
        return replace(first, title=f"{first.title} and {others[0]}", words=words)
    return replace(
        first,
        title=f"{first.title}, and {len(others)} tasks more",
        words=f"{words} As far are {listed(others)}.",
    )


def _left_off(judged: JudgedJob, zone: ZoneInfo) -> str:
    stops = [
        place.stop.entry
        for one in judged.work.tasks.values()
        for place in one.places
        if place.stop is not None
    ]
    if judged.state.stop is not None:
        stops.append(judged.state.stop)
    if not stops:
        return ""
    last = max(stops, key=lambda entry: entry.at)
    return (
        f"{entry_words(last, judged)} {short_when(last.at, zone)}, {judged.facts.person(last.by)}."
    )


def _odd(judged: JudgedJob, today: date) -> Iterable[str]:
    """Flags, open findings and meters out of date: what the next person would trip over."""
    facts = judged.facts
    for flag in judged.work.flags:
        yield f"{upper_first(flag.what)} on {flag.place} since {on_day(flag.entry.at)}."
    for verdict in judged.items:
        # Of what another is in for nothing is left to do but what its blocker says.
        if verdict.verdict == "REJECT" and verdict.state.replaced_by:
            continue
        for finding in verdict.findings:
            if finding.is_open and finding.severity >= 2:
                yield (
                    f"{item_title(verdict)}: {lower_first(finding.label)}, "
                    f"severity {finding.severity}, open since {on_day(finding.entry.at)}."
                )
    used = {
        e.fields.meter
        for e in judged.state.live()
        if is_a(e, ReadingTaken, Torqued) and e.fields.meter
    }
    for meter in facts.meters.values():
        standing = judged.state.standing(meter, today)
        if standing and meter.id in used:
            yield f"{standing}."


# A strike of one's line stands on the board until a week after it one has written something.
_STRUCK_FOR = timedelta(days=7)


def struck_rows(judged: JudgedJob, person: str = "") -> tuple[EventRow, ...]:
    """Lines of this person, or of everyone, that somebody else struck lately, with the reason."""
    zone, state = zone_of(judged), judged.state
    told = [e.at for e in state.order if person in ("", e.by)]
    rows = []
    for wanted, strike in state.struck.items():
        target = state.entries[wanted]
        if strike.by == target.by or person not in ("", target.by):
            continue
        if strike.at < max(told) - _STRUCK_FOR:
            continue
        whose = "" if person else f"{judged.facts.person(target.by)}: "
        rows.append(
            EventRow(
                short_when(strike.at, zone),
                judged.facts.person(strike.by),
                f"struck: {whose}{entry_words(target, judged)} Reason: {strike.fields.reason}",
                strike.id,
                False,
            )
        )
    return tuple(reversed(rows))
