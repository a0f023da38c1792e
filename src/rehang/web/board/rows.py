"""Rows of the bench board: where I left off, what I can do now, what waits, what to take.

Nothing here reads a clock or a database. Templates print these and decide nothing.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.fastened import torque_places
from rehang.trade.known.state import item_kind, item_name
from rehang.trade.life.oil_trend import oil_asks
from rehang.trade.telling.sentences import STOP_WHYS, entry_words
from rehang.trade.telling.sheet_parts import status_name
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.kinds.readings import ReadingTaken, Seen
from rehang.trade.terms.kinds.work import CarriedOn, Stopped
from rehang.trade.terms.wording import plural
from rehang.trade.verdicts.calls import Call
from rehang.trade.work.task_states import TaskWork, WorkPlace
from rehang.web.board.hand_rows import BenchRow, bench_rows, struck_rows
from rehang.web.shared.times import short_when, time_text, zone_of
from rehang.web.work.rows import (
    EventRow,
    Half,
    LaterTask,
    OutRow,
    OwnRow,
    TaskCard,
    cards,
    halves,
    held,
    out_rows,
    own_row,
    total_text,
)
from rehang.web.work.waits import Wait, waits

__all__ = ["CARDS", "Board", "Spot", "board", "next_spot"]

# What a person takes in at a glance, beside the tray on a laptop.
CARDS = 4


@dataclass(frozen=True, slots=True)
class Spot:
    """A check at a hole of the tray."""

    check: str
    label: str
    hole: str


@dataclass(frozen=True, slots=True)
class LastRow:
    """One of the last three readings, a link to take it again."""

    item: str
    hole: str
    check: str
    label: str
    text: str
    call: str
    mark: str


@dataclass(frozen=True, slots=True)
class MiniHole:
    """One hole of the small tray picture, placed in its drawing."""

    hole: str
    verdict: str
    mark: str
    lit: bool
    x: float
    y: float
    width: float
    text_x: float
    mark_x: float
    mid_x: float


@dataclass(frozen=True, slots=True)
class MiniTray:
    width: int
    height: int
    holes: tuple[MiniHole, ...]
    words: str


@dataclass(frozen=True, slots=True)
class AwayRow:
    day: str
    time: str
    who: str
    words: str


@dataclass(frozen=True, slots=True)
class Sign:
    """What stands over the job, told by a number: where it leads, and whether it holds the engine."""

    number: str
    words: str
    page: str
    anchor: str = ""
    small: str = ""


@dataclass(frozen=True, slots=True)
class TaskSpot:
    """A place of a task that was stopped at, later than the tray was left."""

    task: str
    place: str
    name: str
    title: str
    words: str
    own: tuple[OwnRow, ...]
    waits: bool


@dataclass(frozen=True, slots=True)
class Board:
    """``run`` is the run that is on; else ``task`` is where I left off when that was a task, or
    ``spot`` of the tray is.
    """

    run: str
    spot: Spot | None
    task: TaskSpot | None
    stopped: str
    half_keyed: str
    last: tuple[LastRow, ...]
    tray: MiniTray
    halves: tuple[Half, ...]
    cards: tuple[TaskCard, ...]
    cards_more: int
    total: str
    waits: tuple[Wait, ...]
    held: tuple[LaterTask, ...]
    takes: tuple[BenchRow, ...]
    out: tuple[OutRow, ...]
    away: tuple[AwayRow, ...]
    away_more: int
    struck: tuple[EventRow, ...]
    signs: tuple[Sign, ...]
    proofs: tuple[Sign, ...]


def next_spot(judged: JudgedJob, check_name: str = "", hole: str = "") -> Spot | None:
    """Where the next reading goes: onward round the tray, then the next test.

    The hole that was stopped at counts itself when it is still to be read.
    """
    walk = judged.facts.layout.walk
    sheet = judged.facts.sheets["plug"]
    names = [c.name for c in sheet.checks]
    first = names.index(check_name) if check_name in names else 0
    start = walk.index(hole) if hole in walk else 0
    order = names[first:] + names[:first]
    for number, name in enumerate(order):
        holes = walk[start:] + walk[:start] if number == 0 else walk
        for one in holes:
            held = judged.at(one)
            if held is None or held.verdict == "REJECT":
                continue
            call = held.call(name)
            if call is not None and call.call in ("NOT READ", "VOID"):
                return Spot(name, call.label, one)
    return None


def board(judged: JudgedJob, *, person: str) -> Board:
    """All that the bench board says to one person."""
    zone = zone_of(judged)
    stop = judged.state.stop
    # After a stop the last three are of whoever stopped: they are what is owned before going on.
    last = _last_entries(judged, stop.by if stop is not None else person)
    if stop is not None:
        spot = next_spot(judged, stop.fields.check, stop.place)
    elif last:
        newest = last[-1]
        state = judged.state.items.get(newest.entry.item if newest.entry else "")
        spot = next_spot(judged, newest.check, state.place if state else "")
    else:
        spot = next_spot(judged)
    found = cards(judged)
    shown = found[:CARDS]
    task = _task_spot(judged, person)
    away, more = _away(judged, person, zone)
    on = judged.runs.now
    return Board(
        run=on.name if on is not None else "",
        spot=spot,
        task=task,
        stopped=_stopped_words(judged, last, zone, person),
        half_keyed=stop.fields.half_keyed if stop is not None else "",
        last=tuple(_last_row(judged, call) for call in last),
        tray=_mini_tray(judged, spot.hole if spot else ""),
        halves=tuple(_loose(judged, task)),
        cards=shown,
        cards_more=len(found) - len(shown),
        total=total_text(shown),
        waits=waits(judged),
        held=held(judged),
        takes=bench_rows(judged, shown),
        out=out_rows(judged),
        away=away,
        away_more=more,
        struck=struck_rows(judged, person),
        signs=tuple(_signs(judged)),
        proofs=_proofs(judged),
    )


def _signs(judged: JudgedJob) -> list[Sign]:
    """What stands against flying and against signing, and what a person is asked to decide."""
    reasons = plural("reason", len(judged.blockers))
    words = f"{reasons} not to return it to service yet"
    signs = [Sign(str(len(judged.blockers)), words, "blockers")]
    if overdue := len(judged.may_not_fly):
        words = "May not fly until " + ("this is done" if overdue == 1 else "these are done")
        signs.append(Sign(str(overdue), words, "blockers", "#h-grounded", "overdue"))
    signs += [Sign("?", f"Decide: {one.sentence}", "oil") for one in oil_asks(judged)]
    if promised := sum(one.kind == "promised" for one in judged.due):
        signs.append(Sign(str(promised), "Promised to look again", "due"))
    return signs


def _proofs(judged: JudgedJob) -> tuple[Sign, Sign]:
    """How far the ground run and the torques are."""
    last = judged.runs.last
    ran = f"run {last.name}, {last.state}" if last is not None else "none yet"
    every = [
        one
        for one in torque_places(judged.facts, judged.state)
        if one.group.task not in judged.facts.left_out
    ]
    of = sum(one.group.number for one in every)
    done = of - sum(len(one.missing) for one in every)
    return (
        Sign(str(len(judged.runs.runs)), "Ground run", "run", small=ran),
        Sign(str(done), "Torque cards", "torque", small=f"of {of} torqued"),
    )


def _task_spot(judged: JudgedJob, person: str) -> TaskSpot | None:
    """The task that was stopped at last, where it can go on and the tray was not left later."""
    stopped = [
        (one, place)
        for one in judged.work.tasks.values()
        for place in one.places
        if place.stop is not None and not (one.look is not None and one.look.waits)
    ]
    if not stopped:
        return None
    one, place = max(stopped, key=lambda pair: _stop_entry(pair[1]).at)
    entry = _stop_entry(place)
    if any(e.at > entry.at and _is_of_the_tray(e) for e in judged.state.live()):
        return None
    why = entry.fields.why
    words = f"Stopped {short_when(entry.at, zone_of(judged))}"
    if entry.by != person:
        words += f" by {judged.facts.person(entry.by)}"
    if why:
        words += f", {STOP_WHYS.get(why, why)}"
    assert place.stop is not None
    return TaskSpot(
        task=one.task.id,
        place=place.name,
        name=place.name or one.task.id,
        title=f"{one.task.title}, {place.label}" if place.label else one.task.title,
        words=words,
        own=tuple(own_row(e, judged) for e in place.stop.own_again),
        waits=why == "part",
    )


def _stop_entry(place: WorkPlace) -> Entry[Stopped]:
    assert place.stop is not None
    return place.stop.entry


def _is_of_the_tray(entry: Entry) -> bool:
    if is_a(entry, Stopped, CarriedOn):
        return not entry.fields.task
    return is_a(entry, ReadingTaken, Seen) and item_kind(entry.item) == "plug"


def _loose(judged: JudgedJob, task: TaskSpot | None) -> list[Half]:
    """Loose ends that no other list on the board shows: fasteners and stops, but for the big one."""
    waiting = {one.task.id for one in _waiting(judged)}
    return [
        half
        for half in halves(judged)
        if half.loose
        and half.task not in waiting
        and (task is None or (half.task, half.place) != (task.task, task.place))
    ]


def _waiting(judged: JudgedJob) -> list[TaskWork]:
    return [one for one in judged.work.tasks.values() if one.look is not None and one.look.waits]


def _last_entries(judged: JudgedJob, person: str) -> list[Call]:
    taken = [
        e
        for e in judged.state.live()
        if is_a(e, ReadingTaken, Seen) and e.fields.check and item_kind(e.item) == "plug"
    ]
    mine = [e for e in taken if e.by == person] or taken
    return [_call_of(judged, entry) for entry in mine[-3:]]


def _call_of(judged: JudgedJob, entry: Entry[ReadingTaken | Seen]) -> Call:
    """The call on an entry as the item's verdict holds it."""
    verdict = judged.item(entry.item)
    found = verdict.call(entry.fields.check)
    assert found is not None
    for call in (found, *found.others):
        if call.entry is not None and call.entry.id == entry.id:
            return call
    # A look is called as a whole: the earlier words of it share the call.
    return found


def _last_row(judged: JudgedJob, call: Call) -> LastRow:
    assert call.entry is not None
    place = judged.state.items[call.entry.item].place or call.entry.place
    return LastRow(
        item=call.entry.item,
        # One that stands for a reject came out of no hole.
        hole=place or item_name(call.entry.item),
        check=call.check,
        label=call.label,
        text=call.reading or "looked at",
        call=call.call,
        mark=status_name(call.call),
    )


def _stopped_words(judged: JudgedJob, last: Sequence[Call], zone: ZoneInfo, person: str) -> str:
    stop = judged.state.stop
    if stop is not None:
        why = STOP_WHYS.get(stop.fields.why, stop.fields.why)
        by = "" if stop.by == person else f" by {judged.facts.person(stop.by)}"
        return f"Stopped {short_when(stop.at, zone)}{by}" + (f", {why}" if why else "")
    if last and last[-1].entry is not None:
        entry = last[-1].entry
        by = "" if entry.by == person else f" by {judged.facts.person(entry.by)}"
        return f"Last reading {short_when(entry.at, zone)}{by}"
    return "Nothing has been read yet"


# The drawing's own units; they are pixels on a laptop.
_TRAY_WIDTH, _GAP, _HOLE_HEIGHT, _EDGE = 408, 9, 44, 10


def _mini_tray(judged: JudgedJob, lit: str) -> MiniTray:
    lines = []
    for row in judged.facts.layout.tray:
        wide = len(row)
        # Long rows fold, so that a hole's name stays as large as on a four-cylinder tray.
        fold = wide if wide <= 4 else math.ceil(wide / 2)
        lines.append([row[i : i + fold] for i in range(0, wide, fold)])
    folded = [line[part] for part in range(len(lines[0])) for line in lines if part < len(line)]
    across = max(len(row) for row in folded)
    width = (_TRAY_WIDTH - 2 * _EDGE - _GAP * (across - 1)) / across
    holes = []
    for down, row in enumerate(folded):
        for along, hole in enumerate(row):
            held = judged.at(hole)
            x = _EDGE + along * (width + _GAP)
            verdict = held.verdict if held else ""
            holes.append(
                MiniHole(
                    hole=hole,
                    verdict=verdict,
                    mark=status_name(verdict),
                    lit=hole == lit,
                    x=round(x, 1),
                    y=_EDGE + down * (_HOLE_HEIGHT + _GAP),
                    width=round(width, 1),
                    text_x=round(x + 10, 1),
                    mark_x=round(x + width - 32, 1),
                    mid_x=round(x + width / 2, 1),
                )
            )
    words = ", ".join(f"{h.hole} {h.verdict.lower() or 'empty'}" for h in holes)
    height = 2 * _EDGE + len(folded) * _HOLE_HEIGHT + (len(folded) - 1) * _GAP
    return MiniTray(_TRAY_WIDTH, height, tuple(holes), words)


# Five lines are what stands beside the tray on a laptop without scrolling.
_AWAY_LINES = 5


def _away(judged: JudgedJob, person: str, zone: ZoneInfo) -> tuple[tuple[AwayRow, ...], int]:
    """What others wrote since this person's own last entry."""
    live = judged.state.live()
    mine = [n for n, e in enumerate(live) if e.by == person]
    others = [e for e in live[(mine[-1] + 1) if mine else 0 :] if e.by != person]
    shown = others[-_AWAY_LINES:]
    rows = tuple(
        AwayRow(
            day=f"{e.at.astimezone(zone).day} {e.at.astimezone(zone):%b}",
            time=time_text(e.at, zone),
            who=judged.facts.person(e.by),
            words=entry_words(e, judged),
        )
        for e in reversed(shown)
    )
    return rows, len(others) - len(shown)
