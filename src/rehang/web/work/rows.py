"""Rows of the rest of the job: what can be done now, what waits, what is held back, what is done.

Worked out from a judged job; nothing here reads a clock or a database. Templates print these and
decide nothing.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.job.again import AskedAgain, asked_again
from rehang.trade.job.judging import JudgedJob
from rehang.trade.telling.sentences import STOP_WHYS, entry_words, with_stop
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.kinds.readings import ReadingTaken, Seen
from rehang.trade.terms.wording import listed, lower_first, on_day, plural, upper_first
from rehang.trade.work.task_states import HELD, NOT_STARTED, STARTED, TaskWork, WorkPlace
from rehang.trade.work.todo import (
    CanDo,
    HalfDone,
    can_do_now,
    held_back,
    left_half_done,
)
from rehang.web.shared.times import short_when, zone_of
from rehang.web.work.waits import Wait, waits

__all__ = [
    "MOST_PEGS",
    "EventRow",
    "Half",
    "LaterTask",
    "OutRow",
    "OwnRow",
    "Rest",
    "TaskCard",
    "cards",
    "event_row",
    "finished_words",
    "halves",
    "held",
    "minutes_text",
    "out_rows",
    "own_row",
    "rest",
    "state_mark",
    "total_text",
]

# A row of pegs is read at a glance; more than this is said as a number alone.
MOST_PEGS = 18
# Estimates are no finer than this.
_STEP_MIN = 5


@dataclass(frozen=True, slots=True)
class TaskCard:
    """One thing that can be done now: a task of the sheet, or what a finding asks of an item.

    ``task`` is empty where it is only of an item, and then ``item`` names it. ``new`` is the id of
    the entry that made the card, for as long as it has not been opened on this device.
    """

    key: str
    task: str
    item: str
    title: str
    where: str
    pegs: tuple[bool, ...]
    pegs_words: str
    started: bool
    new: str
    minutes: float
    minutes_words: str
    hands: int
    first_tool: str
    notes: tuple[str, ...]
    offered: bool
    order: int
    items: tuple[str, ...] = ()

    @property
    def number(self) -> str:
        """The figure of how long it takes."""
        return self.minutes_words.partition(" ")[0]

    @property
    def unit(self) -> str:
        return self.minutes_words.partition(" ")[2]


@dataclass(frozen=True, slots=True)
class LaterTask:
    """A task that waits for other tasks, or is held back by choice."""

    id: str
    title: str
    after: str
    reason: str


@dataclass(frozen=True, slots=True)
class FinishedTask:
    id: str
    title: str
    state: str
    mark: str
    words: str


@dataclass(frozen=True, slots=True)
class OutRow:
    """Blanks, covers and the like that are still in or on the engine."""

    what: str
    number: int


@dataclass(frozen=True, slots=True)
class Half:
    """Work that was begun and not finished, in a line, with its notes."""

    task: str
    place: str
    title: str
    words: str
    notes: tuple[str, ...]
    short: str
    loose: bool
    pegs: tuple[bool, ...]
    pegs_words: str

    @property
    def far(self) -> str:
        """How far it is: the first of its words."""
        return with_stop(self.words.partition(". ")[0])


@dataclass(frozen=True, slots=True)
class Rest:
    """The page of the rest of the job."""

    now: tuple[TaskCard, ...]
    total: str
    waits: tuple[Wait, ...]
    held: tuple[LaterTask, ...]
    later: tuple[LaterTask, ...]
    finished: tuple[FinishedTask, ...]
    out: tuple[OutRow, ...]
    tasks: int


@dataclass(frozen=True, slots=True)
class OwnRow:
    """One of the last three things to own again, with a way to take it once more."""

    words: str
    item: str
    check: str
    task: str


@dataclass(frozen=True, slots=True)
class EventRow:
    when: str
    who: str
    words: str
    entry: str
    struck: bool


def minutes_text(minutes: float) -> str:
    """About so long, no finer than five minutes; hours from two hours on.

    >>> minutes_text(9.4), minutes_text(2.5), minutes_text(240), minutes_text(150)
    ('10 min', '5 min', '4 h', '2½ h')
    """
    whole = max(_STEP_MIN, _STEP_MIN * round(minutes / _STEP_MIN))
    if whole < 120:
        return f"{whole} min"
    halves = round(whole / 30)
    return f"{halves // 2}{'½' if halves % 2 else ''} h"


def total_text(found: Iterable[TaskCard]) -> str:
    """The time for several cards together, those that are only offered left out."""
    wanted = [one for one in found if not one.offered]
    return minutes_text(sum(one.minutes for one in wanted)) if wanted else ""


# What can be done now


def cards(judged: JudgedJob) -> tuple[TaskCard, ...]:
    """All that can be done now, tasks and items, as the task sheet runs; what is offered comes last."""
    found = [
        _task_card(one, judged)
        for one in can_do_now(judged.work, judged.facts, judged.stock.in_hand)
    ]
    found += [_again_card(one) for one in asked_again(judged)]
    return tuple(sorted(found, key=lambda one: (one.offered, one.order, one.key)))


def _task_card(one: CanDo, judged: JudgedJob) -> TaskCard:
    work = judged.work.tasks[one.task]
    task = work.task
    ready = [place for place in work.places if place.name in work.ready]
    pegs, words = task_pegs(work)
    told: list[str] = []
    if len(ready) == 1 and task.for_each == "plug":
        plug = next((i for i in judged.items if i.state.came_out_of == ready[0].name), None)
        told = [plug.next] if plug is not None and plug.next else []
    notes = [f"Parts for some of it only: {listed(one.short)} wanted."] if one.short else []
    tools = [tool.name for tool in task.tools]
    return TaskCard(
        key=f"task:{one.task}",
        task=one.task,
        item="",
        title=one.title,
        where=one.where,
        pegs=pegs,
        pegs_words=words,
        started=work.state == STARTED,
        new="",
        minutes=one.minutes,
        minutes_words=minutes_text(one.minutes),
        hands=one.hands,
        first_tool=lower_first(tools[0]) if tools and not told else "",
        notes=(*told, *notes),
        offered=task.offered,
        order=task.order,
    )


def task_pegs(work: TaskWork) -> tuple[tuple[bool, ...], str]:
    """A peg for each place; for each fastener or check where it has one place."""
    if len(work.places) > 1:
        done, of, what = work.number_done, len(work.places), work.task.for_each
    else:
        only = work.places[0]
        done, of, what = min(only.done, only.of), only.of, only.what
    if not 1 < of <= MOST_PEGS:
        return (), ""
    return tuple(n < done for n in range(of)), f"{done} of {of} {plural(what, of)}"


def _again_card(one: AskedAgain) -> TaskCard:
    return TaskCard(
        key=one.items[0],
        task="",
        item=one.items[0],
        title=one.title,
        where=one.where,
        pegs=(),
        pegs_words="",
        started=False,
        new=one.newest.id if one.newest is not None else one.items[0],
        minutes=one.minutes,
        minutes_words=minutes_text(one.minutes) if one.minutes else "",
        hands=1,
        first_tool=", ".join(one.meters),
        notes=(),
        offered=False,
        order=one.order,
        items=one.items,
    )


# Left half done


def halves(judged: JudgedJob) -> tuple[Half, ...]:
    """Work begun and not finished, loose fasteners first."""
    return tuple(_half(one, judged) for one in left_half_done(judged.work, judged.facts))


def _half(one: HalfDone, judged: JudgedJob) -> Half:
    work = judged.work.tasks[one.task]
    place = work.place(one.place)
    loose = place is not None and work.task.fasteners > 0 and 0 < place.done < place.of
    pegs, words = task_pegs(work)
    if loose and place is not None:
        pegs = tuple(n < place.done for n in range(place.of))
        words = f"{place.done} of {place.of} {plural(place.what, place.of)}"
    title = f"{one.title}, {one.label}" if loose and one.label else one.title
    return Half(
        task=one.task,
        place=one.place,
        title=title,
        words=upper_first(one.sentence.removeprefix(title).lstrip(":, ")),
        notes=one.notes,
        short=_short_words(work, place, judged),
        loose=loose or (place is not None and place.stop is not None),
        pegs=pegs,
        pegs_words=words,
    )


def _short_words(work: TaskWork, place: WorkPlace | None, judged: JudgedJob) -> str:
    """What stands out about work left half done, in a few words."""
    if place is None:
        return ""
    said = []
    for meter in judged.facts.meters.values():
        if any(meter.id in words for words in place.meters):
            said.append(f"{meter.id} out of date")
    if place.stop is not None:
        entry = place.stop.entry
        why = entry.fields.why
        said.append(
            f"stopped {entry.at.day} {entry.at:%b}"
            + (f", {STOP_WHYS.get(why, why)}" if why else "")
        )
    said += [f"{flag.what} on" for flag in judged.work.flags if flag.task == work.task.id]
    return upper_first("; ".join(said))


# The rest of the job


def rest(judged: JudgedJob) -> Rest:
    """What can be done now, what waits, what is done."""
    now = cards(judged)
    work = judged.work
    shown = {one.task for one in now} | {one.task for one in waits(judged)}
    back = held(judged)
    late = {one.id for one in back}
    later = tuple(
        LaterTask(
            one.task.id,
            one.task.title,
            listed([lower_first(work.tasks[name].task.title) for name in one.waits_for]),
            "",
        )
        for one in work.of_state(NOT_STARTED, STARTED, HELD)
        if one.task.id not in shown and one.task.id not in late
    )
    return Rest(
        now=now,
        total=total_text(now),
        waits=waits(judged),
        held=back,
        later=later,
        finished=tuple(
            FinishedTask(
                one.task.id, one.task.title, one.state, state_mark(one.state),
                finished_words(one, judged.facts),
            )
            for one in work.tasks.values()
            if one.is_finished
        ),
        out=out_rows(judged),
        tasks=len(work.tasks),
    )  # fmt: skip


def held(judged: JudgedJob) -> tuple[LaterTask, ...]:
    """Tasks left late on purpose."""
    return tuple(
        LaterTask(
            one.task, one.title, listed([lower_first(name) for name in one.after]), one.reason
        )
        for one in held_back(judged.work, judged.facts)
    )


def out_rows(judged: JudgedJob) -> tuple[OutRow, ...]:
    """Counts that are not back to zero."""
    return tuple(OutRow(what, number) for what, number in judged.work.out.items() if number)


def state_mark(state: str) -> str:
    return {
        "DONE": "within", "CLOSED SHORT": "void", "HELD": "waiting", "STARTED": "rework",
    }.get(state, "not-read")  # fmt: skip


def finished_words(one: TaskWork, facts: JobFacts) -> str:
    if one.closed is not None and one.state == "CLOSED SHORT":
        reason = with_stop(one.closed.fields.reason)
        return f"Closed short {on_day(one.closed.at)} by {facts.person(one.closed.by)}. {reason}"
    last = one.last
    words = ""
    if last is not None:
        words = f"{on_day(last.at)}, {listed([facts.person(key) for key in one.by])}"
    if one.look is not None and one.look.given is not None:
        given = one.look.given
        words += f"; second look {on_day(given.at)}, {facts.person(given.by)}"
    return words


def own_row(entry: Entry, judged: JudgedJob) -> OwnRow:
    """One of the last three, in words, and where it is taken again."""
    check = entry.fields.check if is_a(entry, ReadingTaken, Seen) else ""
    return OwnRow(
        words=entry_words(entry, judged),
        item=entry.item if check else "",
        check=check,
        task=entry.task,
    )


def event_row(entry: Entry, judged: JudgedJob) -> EventRow:
    return EventRow(
        when=short_when(entry.at, zone_of(judged)),
        who=judged.facts.person(entry.by),
        words=entry_words(entry, judged),
        entry=entry.id,
        struck=entry.id in judged.state.struck,
    )
