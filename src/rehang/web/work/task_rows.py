"""Rows of one task: its places, what it needs, what it takes and what the book says of it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from rehang.trade.facts.limits import FROM_MEAN
from rehang.trade.facts.tasks import Task
from rehang.trade.job.again import needed_checks
from rehang.trade.job.judging import JudgedJob
from rehang.trade.telling.sentences import STOP_WHYS, item_as_said, voided_by, with_stop
from rehang.trade.telling.sheet_parts import status_name
from rehang.trade.terms.entries import is_a
from rehang.trade.terms.kinds.items import Fitted
from rehang.trade.terms.wording import listed, lower_first, on_day, plural, upper_first, written_day
from rehang.trade.work.task_states import STARTED, SecondLook, TaskWork, WorkPlace
from rehang.trade.work.todo import meters_for, minutes_left, uses_of
from rehang.web.shared.meters import meter_standing
from rehang.web.shared.times import short_when, zone_of
from rehang.web.work.fit_rows import FitRow, fit_row, place_of_task
from rehang.web.work.item_lines import (
    AllRead,
    ItemLine,
    ItemLink,
    QuickAct,
    ReadLink,
    all_reads,
    item_lines,
)
from rehang.web.work.rows import (
    MOST_PEGS,
    EventRow,
    OutRow,
    OwnRow,
    event_row,
    finished_words,
    minutes_text,
    out_rows,
    own_row,
    state_mark,
)
from rehang.web.work.waits import weekday_text

__all__ = ["PlaceRow", "TaskPage", "task_page"]


# So many taps and readings of a place that the work is not at stand open on the page.
MOST_OPEN = 2


@dataclass(frozen=True, slots=True)
class UseRow:
    """So many of a part, to be written as used by a tap."""

    part: str
    name: str
    number: int


@dataclass(frozen=True, slots=True)
class PlaceRow:
    """One place of a task, with what may be done there now.

    ``asks`` says how it gets done: "tap" (a person says so), "write" (readings or acts on
    ``links``) or "torque"; ``in_turn`` that its steps are gone through at one place after another.
    """

    name: str
    label: str
    state: str
    mark: str
    pegs: tuple[bool, ...]
    count: str
    missing: tuple[str, ...]
    notes: tuple[str, ...]
    by: str
    ready: bool
    waits_for: str
    asks: str
    links: tuple[ItemLink, ...]
    acts: tuple[QuickAct, ...]
    reads: tuple[ReadLink, ...]
    here: bool
    fit: FitRow | None
    blanks: tuple[str, ...]
    uses: tuple[UseRow, ...]
    in_turn: bool = False

    @property
    def is_over(self) -> bool:
        """Whether nothing is left to do here."""
        return self.state in ("DONE", "CLOSED SHORT")

    @property
    def lines(self) -> tuple[ItemLine, ...]:
        return item_lines(self.links, self.acts, self.reads)

    @property
    def all_reads(self) -> tuple[AllRead, ...]:
        return all_reads(self.reads) if self.lines else ()

    @property
    def to_do(self) -> int:
        return len(self.acts) + len(self.reads)

    @property
    def folds(self) -> bool:
        """Whether its buttons wait for a tap: there are many, and the work is at another place."""
        return self.in_turn and not self.here and self.to_do > MOST_OPEN


@dataclass(frozen=True, slots=True)
class NeedRow:
    id: str
    title: str
    state: str
    met: bool


@dataclass(frozen=True, slots=True)
class StopRow:
    place: str
    label: str
    words: str
    own: tuple[OwnRow, ...]
    asks_why: bool


@dataclass(frozen=True, slots=True)
class LookRow:
    """A second look: what at, who may give it, and why the person at the page may not."""

    what: str
    waits: bool
    words: str
    given: str
    may: bool
    why_not: str


@dataclass(frozen=True, slots=True)
class FlagRow:
    what: str
    place: str
    words: str


@dataclass(frozen=True, slots=True)
class ToolRow:
    """A tool, meter or part in a list to fetch; ``key`` names its tick."""

    key: str
    name: str
    size: str
    due: str
    standing: str
    meter: str


@dataclass(frozen=True, slots=True)
class TaskPage:
    id: str
    title: str
    how: str
    steps: tuple[str, ...]
    stage: str
    source: str
    state: str
    mark: str
    minutes: str
    hands: int
    offered: bool
    each: str
    places: tuple[PlaceRow, ...]
    done: int
    needs: tuple[NeedRow, ...]
    follows: tuple[NeedRow, ...]
    late: str
    late_after: str
    tools: tuple[ToolRow, ...]
    uses: tuple[ToolRow, ...]
    cautions: tuple[str, ...]
    look: LookRow | None
    stop: StopRow | None
    flags: tuple[FlagRow, ...]
    counts_in: bool
    out: tuple[OutRow, ...]
    events: tuple[EventRow, ...]
    here: str
    here_label: str
    working: bool
    closed: str
    waiting: str
    torque_group: str
    cards: tuple[tuple[str, str], ...]
    to_use: tuple[UseRow, ...]
    done_on: str

    @property
    def holes_to_write(self) -> int:
        """The holes of a task that takes plugs out whose plug is not written yet."""
        return sum(one.fit is not None and one.fit.types_out for one in self.places)


def task_page(judged: JudgedJob, task_id: str, person: str) -> TaskPage | None:
    """A task with its places, what it needs and what it asks for; None where there is none."""
    one = judged.work.tasks.get(task_id)
    if one is None:
        return None
    facts, task = judged.facts, one.task
    stop = _stop_row(one, judged)
    here = _here(one)
    least, likely, most = minutes_left(one)
    minutes = ""
    if one.unfinished:
        minutes = minutes_text(likely)
        if least < likely < most:
            minutes += f" ({minutes_text(least)} to {minutes_text(most)})"
    here_place = one.place(here) if here is not None else None
    return TaskPage(
        id=task.id,
        title=task.title,
        how=task.how,
        steps=task.steps,
        stage=task.stage,
        source=task.source,
        state=one.state,
        mark=state_mark(one.state),
        minutes=minutes,
        hands=task.hands,
        offered=task.offered,
        each=task.for_each,
        places=tuple(_place_row(one, place, judged, here) for place in one.places),
        done=one.number_done,
        needs=_need_rows(task.needs, judged),
        follows=_need_rows([t.id for t in facts.tasks.values() if task.id in t.before], judged),
        late=task.late if one.late_waits else "",
        late_after=listed([lower_first(facts.tasks[name].title) for name in one.late_waits]),
        tools=_tool_rows(task, judged),
        uses=_use_rows(one, judged),
        cautions=task.cautions,
        look=_look_row(one.look, one, judged, person) if one.look is not None else None,
        stop=stop,
        flags=_flag_rows(task, judged),
        counts_in=task.counts_in,
        out=out_rows(judged),
        events=_task_events(one, judged),
        here=here or "",
        here_label=here_place.label if here_place is not None else "",
        working=here_place is not None and here_place.state == STARTED,
        closed=finished_words(one, facts) if one.is_finished else "",
        waiting=_waiting_words(one, judged),
        torque_group=next(
            (g.id for g in facts.torque_groups.values() if g.task == task.id and task.fasteners), ""
        ),
        # Fasteners that the task itself does not count.
        cards=tuple(
            (g.id, g.title)
            for g in facts.torque_groups.values()
            if g.task == task.id and not task.fasteners
        ),
        to_use=_uses_of_all(one, judged) if one.state != "NOT STARTED" else (),
        done_on=_done_on(task, judged),
    )


def _done_on(task: Task, judged: JudgedJob) -> str:
    """The page on which a task is done, where that is not its own."""
    if task.run:
        return "run"
    if task.is_record:
        return "records"
    return "hoses" if task.for_each == "hose" and not judged.facts.hoses else ""


def _flag_rows(task: Task, judged: JudgedJob) -> tuple[FlagRow, ...]:
    return tuple(
        FlagRow(
            flag.what,
            flag.place,
            f"{upper_first(flag.what)} on {flag.place}, {on_day(flag.entry.at)}, "
            f"{judged.facts.person(flag.entry.by)}.",
        )
        for flag in judged.work.flags
        if flag.task == task.id
    )


def _waiting_words(one: TaskWork, judged: JudgedJob) -> str:
    """Why nothing of it can be worked on now, where that is so."""
    if one.is_finished or one.ready:
        return ""
    titles = [f"{lower_first(judged.facts.tasks[name].title)} ({name})" for name in one.waits_for]
    return f"Waits for {listed(titles)}." if titles else ""


def _here(one: TaskWork) -> str | None:
    """The place that is being worked on: where it stopped, or begun last, or the first ready."""
    begun = [place for place in one.places if place.state == STARTED]
    stopped = next((place for place in begun if place.stop is not None), None)
    if stopped is not None:
        return stopped.name
    latest = max(
        (place for place in begun if place.last is not None),
        key=lambda place: place.last.at.timestamp() if place.last is not None else 0.0,
        default=None,
    )
    if latest is not None:
        return latest.name
    return one.ready[0] if one.ready else None


def _place_row(one: TaskWork, place: WorkPlace, judged: JudgedJob, here: str | None) -> PlaceRow:
    facts = judged.facts
    torque = place.what == one.task.fastener and place.of > 0
    counted = place.of > 0
    asks = "torque" if torque else ("write" if counted else "tap")
    pegs = (
        tuple(n < place.done for n in range(place.of))
        if counted and (1 < place.of <= MOST_PEGS)
        else ()
    )
    notes = [*place.meters]
    if place.note:
        notes.append(with_stop(place.note))
    if place.let_off:
        notes.append(f"Nothing more is asked: {with_stop(place.let_off)}")
    if place.closed is not None:
        notes.append(f"Closed short: {with_stop(place.closed.fields.reason)}")
    fit = _fit(one.task, place, judged)
    links = () if place.is_finished or fit is not None else _links(one.task, place, judged)
    by = ""
    if place.last is not None and place.by:
        by = f"{on_day(place.last.at)}, {listed([facts.person(key) for key in place.by])}"
    return PlaceRow(
        name=place.name,
        label=upper_first(place.label) if place.label else "",
        state=place.state,
        mark=state_mark(place.state),
        pegs=pegs,
        count=f"{place.done} of {place.of} {plural(place.what, place.of)}" if counted else "",
        missing=place.missing,
        notes=tuple(dict.fromkeys(notes)),
        by=by,
        ready=place.name in one.ready,
        waits_for=""
        if place.is_finished or place.name in one.ready
        else listed([lower_first(facts.tasks[name].title) for name in one.waits_for]),
        asks=asks,
        links=links,
        acts=tuple(_quick_acts(one.task, links, judged)),
        reads=tuple(_reads(one.task, links, judged)),
        here=place.name == here,
        fit=fit,
        blanks=BLANKS if _asks_blank(one.task, place) else (),
        uses=_uses_at(one, place, judged),
        in_turn=bool(one.task.steps) and bool(place.name),
    )


# What is counted out for a hole: the words of the count.
BLANKS = ("blanks", "dehydrator plugs")


def _asks_blank(task: Task, place: WorkPlace) -> bool:
    return ("blank", "counted_out") in task.acts and not place.is_finished


def _fit(task: Task, place: WorkPlace, judged: JudgedJob) -> FitRow | None:
    """What goes in at a place of a task that puts parts in, or comes out at one that takes plugs out."""
    for kind, act in task.acts:
        if act == "fitted" or (kind, act) == ("plug", "removed"):
            found = place_of_task(kind, place.name, judged)
            row = fit_row(found, judged) if found is not None else None
            if act == "fitted" or (row is not None and row.types_out):
                return row
    return None


def _uses_at(one: TaskWork, place: WorkPlace, judged: JudgedJob) -> tuple[UseRow, ...]:
    """What each place takes and is not written as used there; what goes in with a part is."""
    if any(act == "fitted" for _, act in one.task.acts):
        return ()
    return tuple(
        _use_row(use.part, use.number, judged)
        for use in one.task.uses
        if use.each and not any((part, at) == (use.part, place.name) for part, at, _ in one.used)
    )


def _use_row(part: str, number: int, judged: JudgedJob) -> UseRow:
    return UseRow(part, judged.facts.part_name(part), number)


def _uses_of_all(one: TaskWork, judged: JudgedJob) -> tuple[UseRow, ...]:
    """What the whole task takes and is not written as used, finished or not."""
    return tuple(
        _use_row(use.part, use.number, judged)
        for use in one.task.uses
        if not use.each
        and not any(part == use.part for part, _, _ in one.used)
        and not any(is_a(e, Fitted) and e.fields.part == use.part for e in judged.state.live())
    )


_BY_HOLE = ("hole", "plug", "lead")


def _links(task: Task, place: WorkPlace, judged: JudgedJob) -> tuple[ItemLink, ...]:
    """The items whose pages take what a place still asks for."""
    kinds = dict.fromkeys(kind for kind, _ in (*task.answers, *task.acts))
    if not kinds and task.fasteners and task.for_each:
        kinds = dict.fromkeys([task.for_each])
    found = []
    for verdict in judged.items:
        if verdict.kind not in kinds:
            continue
        names = {verdict.name, verdict.state.came_out_of, verdict.place} - {""}
        if place.name and place.name not in names and _is_placed(verdict.kind, task, judged):
            continue
        if verdict.verdict == "REJECT":
            continue
        found.append(
            ItemLink(
                verdict.item,
                upper_first(item_as_said(verdict.item)),
                verdict.verdict,
                status_name(verdict.verdict),
            )
        )
    return tuple(found)


def _quick_acts(task: Task, links: Iterable[ItemLink], judged: JudgedJob) -> Iterable[QuickAct]:
    """A sound look, and the acts of the bench, that a place still asks for."""
    for link in links:
        verdict = judged.item(link.item)
        sheet = judged.facts.sheets.get(verdict.kind)
        if sheet is None:
            continue
        call = verdict.call(sheet.look.name)
        if (verdict.kind, sheet.look.name) in task.answers and call is not None and not call.entry:
            for word in sheet.words.values():
                if word.severities == (0,):
                    yield QuickAct(word.label, "seen", link.item, sheet.look.name, word.name, "")
        for kind, act in task.acts:
            done = any(entry.fields.act == act for entry in verdict.state.reworks)
            if kind == verdict.kind and act in sheet.reworks and not done:
                words = upper_first(sheet.reworks[act].done)
                gone = listed(voided_by(verdict.state, act, sheet))
                yield QuickAct(words, "reworked", link.item, "", "", act, gone)


def _reads(task: Task, links: Iterable[ItemLink], judged: JudgedJob) -> Iterable[ReadLink]:
    """Checks to be measured that a place still asks for."""
    for link in links:
        verdict = judged.item(link.item)
        sheet = judged.facts.sheets.get(verdict.kind)
        for call, _, _ in needed_checks(verdict, judged):
            if sheet is None or (verdict.kind, call.check) not in task.answers:
                continue
            check = sheet.check(call.check)
            if check.kind != "look" and check.method != FROM_MEAN:
                yield ReadLink(call.label, link.item, call.check, check.is_read_in_rows)


def _is_placed(kind: str, task: Task, judged: JudgedJob) -> bool:
    sheet = judged.facts.sheets.get(kind)
    one_for = {kind, sheet.one_for if sheet is not None else ""}
    return task.for_each in one_for or (task.for_each in _BY_HOLE and kind in _BY_HOLE)


def _need_rows(names: Iterable[str], judged: JudgedJob) -> tuple[NeedRow, ...]:
    tasks = judged.work.tasks
    return tuple(
        NeedRow(name, tasks[name].task.title, tasks[name].state, tasks[name].is_finished)
        for name in dict.fromkeys(names)
        if name in tasks
    )


def _stop_row(one: TaskWork, judged: JudgedJob) -> StopRow | None:
    stopped = [place for place in one.places if place.stop is not None]
    if not stopped:
        return None
    place = stopped[0]
    assert place.stop is not None
    entry = place.stop.entry
    why = entry.fields.why
    words = f"Stopped {short_when(entry.at, zone_of(judged))} by {judged.facts.person(entry.by)}"
    if why:
        words += f": {STOP_WHYS.get(why, why)}"
    return StopRow(
        place=place.name,
        label=place.label,
        words=f"{words}.",
        own=tuple(own_row(entry, judged) for entry in place.stop.own_again),
        asks_why=not why,
    )


def _look_row(look: SecondLook, one: TaskWork, judged: JudgedJob, person: str) -> LookRow:
    facts = judged.facts
    words = ""
    if look.waits:
        if not look.who:
            words = "Everyone who may give it worked on this. Add someone to the list of people."
        else:
            names = listed([facts.person(key) for key in look.who], "or")
            words = f"{names} may give it"
            words += f", in next on {weekday_text(look.next_day)}." if look.next_day else "."
    elif look.given is None:
        stage = "done" if one.task.hold_when == "done" else "begun"
        words = f"Comes once it is {stage}. The next work waits for it."
    given = look.given
    why_not = ""
    if look.waits and person in look.doers:
        why_not = "You worked on this, so the second look is another person's."
    elif look.waits and person not in look.who:
        why_not = "You are not down for second looks."
    return LookRow(
        what=look.what,
        waits=look.waits,
        words=words,
        given=f"Given {short_when(given.at, zone_of(judged))} by {facts.person(given.by)}."
        if given is not None
        else "",
        may=look.waits and not why_not,
        why_not=why_not,
    )


def _tool_rows(task: Task, judged: JudgedJob) -> tuple[ToolRow, ...]:
    found = []
    for tool in task.tools:
        size = ", ".join(
            part for part in (tool.size, f"{tool.drive} drive" if tool.drive else "") if part
        )
        on_file = meters_for(tool.meter, judged.facts.meters) if tool.meter else []
        if not on_file:
            standing = "NONE ON FILE" if tool.meter else ""
            found.append(ToolRow(f"tool:{tool.name}", tool.name, size, "", standing, ""))
        for meter in on_file:
            found.append(
                ToolRow(
                    f"meter:{meter.id}",
                    f"{meter.id}, {lower_first(meter.name)}",
                    size,
                    f"due {written_day(meter.due_text)}" if meter.due_text else "",
                    meter_standing(judged, meter, judged.today) if judged.today is not None else "",
                    meter.id,
                )
            )
    return tuple(found)


def _use_rows(one: TaskWork, judged: JudgedJob) -> tuple[ToolRow, ...]:
    found = []
    in_hand = judged.stock.in_hand
    for use in uses_of(one):
        there = in_hand(use.part)
        standing = ""
        if there is not None and there < use.number:
            standing = f"{there} IN HAND"
        found.append(
            ToolRow(
                f"part:{use.part}",
                f"{use.number} × {judged.facts.part_name(use.part)}",
                "",
                f"{there} in hand" if there is not None and not standing else "",
                standing,
                "",
            )
        )
    return tuple(found)


def _task_events(one: TaskWork, judged: JudgedJob) -> tuple[EventRow, ...]:
    """What the book says of a task, the newest first, and what was struck."""
    found = [entry for entry in judged.state.order if entry.task == one.task.id]
    return tuple(event_row(entry, judged) for entry in reversed(found))
