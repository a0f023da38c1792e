"""The state of the work, counted from the book: what is done, half done, waiting and held back.

Where readings, reworks or torques show that a place is done, they are what counts and nobody ticks
anything. Only work that leaves no such trace is written down as done by a person.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date
from types import MappingProxyType

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.tasks import Task
from rehang.trade.gate.who import lookers, next_day_in
from rehang.trade.known.state import JobState
from rehang.trade.terms.entries import Entry, is_a, of_kind
from rehang.trade.terms.kinds.work import Flagged, FlagOff
from rehang.trade.terms.wording import on_day, plural
from rehang.trade.verdicts.item_verdict import ItemVerdict
from rehang.trade.work.task_states import (
    CLOSED,
    DONE,
    HELD,
    NOT_STARTED,
    STARTED,
    WORK_KINDS,
    JobWork,
    SecondLook,
    TaskWork,
    WorkFlag,
    WorkPlace,
)
from rehang.trade.work.traces import (
    BY_HOLE,
    TaskTrace,
    Trace,
    WorkAnswer,
    WorkBook,
    answers_of,
    fold_task,
    place_label,
    place_named,
)

__all__ = ["work_of"]


def work_of(
    facts: JobFacts, state: JobState, items: Sequence[ItemVerdict], today: date | None
) -> JobWork:
    """The work of a job, from its book and its judged items, as it stands on ``today``.

    An entry about a task or place that the sheet does not have (any more) stays in the book and is
    said; the rules refuse a new one.
    """
    book = WorkBook(facts, state, items)
    about: dict[str, list[Entry]] = {name: [] for name in facts.tasks}
    said: list[str] = []
    for entry in book.live:
        task = entry.task
        if not task or not isinstance(entry.fields, WORK_KINDS):
            continue
        if task in about:
            about[task].append(entry)
        else:
            said.append(
                f"An entry of {on_day(entry.at)} is about task {task}, which is not in the task sheet "
                "(any more). It stays in the book and counts for nothing."
            )
    done = {
        task.id: _task_work(fold_task(task, about[task.id], book, said), book, today, said)
        for task in facts.tasks.values()
    }
    done = {name: _with_needs(one, done, book) for name, one in done.items()}
    return JobWork(
        tasks=MappingProxyType(done),
        flags=tuple(_flags(book.live)),
        out=MappingProxyType(dict(state.out)),
        said=tuple(dict.fromkeys(said)),
        today=today,
        standing=MappingProxyType(
            {one.id: state.standing(one, today) for one in facts.meters.values()} if today else {}
        ),
        found_out=frozenset(name for name in facts.meters if state.is_out(name) is not None),
    )


def _task_work(traced: TaskTrace, book: WorkBook, today: date | None, said: list[str]) -> TaskWork:
    task = traced.task
    places: list[WorkPlace] = []
    shown: list[Entry] = []
    for name, trace in traced.places.items():
        answers = answers_of(task, name, book)
        shown += [one.entry for one in answers if one.entry is not None]
        places.append(_work_place(task, name, trace, answers, book))
    states = {one.state for one in places}
    if states <= {DONE, CLOSED}:
        state = CLOSED if CLOSED in states or traced.closed is not None else DONE
    elif not traced.begun and not any(map(_is_touched, places)):
        state = NOT_STARTED
    else:
        state = STARTED
    look = None
    if task.hold:
        look = _second_look(traced, state, places, shown, book, today, said)
        if look.waits and states <= {DONE, CLOSED}:
            state = HELD
    closed = [one.closed for one in places if one.closed is not None]
    return TaskWork(
        task=task,
        state=state,
        places=tuple(places),
        waits_for=(),
        ready=(),
        late_waits=(),
        look=look,
        by=tuple(dict.fromkeys(key for one in places for key in one.by)),
        closed=traced.closed or next(iter(closed), None),
        used=tuple(book.used.get(task.id, ())),
    )


def _is_touched(place: WorkPlace) -> bool:
    """Whether anyone worked on a place; what is let off was not."""
    return place.state == STARTED or (place.is_finished and not place.let_off)


def _work_place(
    task: Task, name: str, trace: Trace, answers: Sequence[WorkAnswer], book: WorkBook
) -> WorkPlace:
    given = [one for one in answers if one.answered]
    shown = [one.entry for one in answers if one.entry is not None]
    # Where a torque is only part of a task that readings answer, its card asks for it.
    torque = task.fasteners > 0 or (trace.of > 0 and task.id not in book.carded)
    done, of, what = 0, 0, ""
    if torque:
        done, of, what = trace.torqued, trace.of or task.fasteners, task.fastener
    elif answers:
        done, of, what = len(given), len(answers), "check" if not task.acts else "entry"
    complete = (not answers or len(given) == len(answers)) and (not torque or done >= of)
    if not torque and not answers:
        complete = trace.said_done
    # DESIGN 4b, 6: if tasks ask for a second run, the second run must exist.
    unrun = task.run > book.runs
    complete = complete and not unrun
    last_shown = max((book.index[entry.id] for entry in shown), default=-1)
    if answers and trace.started_at == trace.worked_at > last_shown:
        # Begun again after everything was answered: the answers are of the work before.
        complete = False
    opened = _opened_again(task, name, trace, last_shown, book)
    if complete and not opened:
        state = DONE
    elif trace.closed is not None:
        state = CLOSED
    elif trace.begun or trace.torqued or any(one.entry for one in given) or trace.said_done:
        state = STARTED
    else:
        state = NOT_STARTED
    missing: list[str] = []
    if state in (NOT_STARTED, STARTED):
        missing = [one.words for one in answers if not one.answered]
        if torque and done < of:
            missing.append(f"{of - done} of {of} {plural(task.fastener, of)} torqued")
        # Where a person says that it is done, saying so again is all there is to come.
        missing += opened if answers or torque else []
        if unrun:
            missing.append(
                f"ground run {task.run}, ended and with its figures ({book.runs} on file)"
            )
    known = {entry.id: entry for entry in (*trace.entries, *shown)}
    entries = sorted(known.values(), key=lambda entry: book.index[entry.id])
    notes = [entry.note for entry in trace.entries if entry.note]
    return WorkPlace(
        name=name,
        label=place_label(task, name, book),
        state=state,
        done=done,
        of=of,
        what=what,
        missing=tuple(missing),
        by=tuple(dict.fromkeys(entry.by for entry in (*trace.work, *shown))),
        first=entries[0] if entries else None,
        last=entries[-1] if entries else None,
        stop=trace.stop if state == STARTED else None,
        closed=trace.closed if state == CLOSED else None,
        meters=trace.meters,
        note=notes[-1] if notes else "",
        let_off=next((one.let_off for one in answers if one.let_off), ""),
        again=next((one.again for one in answers if one.again), ""),
    )


def _opened_again(
    task: Task, name: str, trace: Trace, last_shown: int, book: WorkBook
) -> list[str]:
    """What opened a place again after it was done; empty where nothing did."""
    title, done = task.title.lower(), max(trace.worked_at, last_shown)
    found = []
    # A stop that nobody carried on from leaves it half done, whatever was counted before.
    if trace.stop is not None and book.index[trace.stop.entry.id] > done:
        found.append(f"what was left at {trace.stop.entry.fields.where or title}")
    # What was never done is not to be done again.
    if book.undone_at(task, name) > done >= 0:
        found.append(f"{title} again: a part came out or went in after it")
    return found


def _second_look(
    traced: TaskTrace,
    state: str,
    places: Sequence[WorkPlace],
    shown: Sequence[Entry],
    book: WorkBook,
    today: date | None,
    said: list[str],
) -> SecondLook:
    """Whether the second look is given, waits, or is still to come."""
    task = traced.task
    # A look in the middle of work, as at bolts before they are torqued (DESIGN 4b, 4).
    during = task.hold_when == "started"
    worked = [one for one in places if one.state == DONE or (during and one.state == STARTED)]
    by_whom = [*(e for trace in traced.places.values() for e in trace.work), *shown]
    good: list[Entry] = []
    for entry in traced.looks:
        at = book.index[entry.id]
        # What they did before it counts; to work on after a look does not undo it.
        if entry.by in {e.by for e in by_whom if book.index[e.id] < at}:
            said.append(
                f"{book.facts.person(entry.by)} did part of {task.id} and gave its second look on "
                f"{on_day(entry.at)}. A second look is another person's; it does not count."
            )
        else:
            good.append(entry)

    def covers(look: Entry, place: WorkPlace) -> bool:
        trace = traced.places[place.name]
        after = trace.started_at if during else trace.worked_at
        # What was worked on after the look was not looked at.
        if not during:
            after = max(after, book.touched_at(task, place.name))
        named = (
            not look.place or place_named(task, look.place, book.facts, book.state) == place.name
        )
        return named and book.index[look.id] > after

    uncovered = [one for one in worked if not any(covers(look, one) for look in good)]
    # What is closed short as a whole, its look with it, waits for nobody.
    due = bool(worked) and traced.closed is None and (during or state in (DONE, CLOSED))
    waits = due and bool(uncovered)
    doers = tuple(dict.fromkeys(entry.by for entry in by_whom))
    who, next_day = _who_next(book.facts, doers, today)
    since = [one.last.at for one in uncovered if one.last is not None]
    return SecondLook(
        task=task.id,
        what=task.hold,
        waits=waits,
        since=max(since, default=None) if waits else None,
        doers=doers,
        who=who,
        next_day=next_day,
        given=good[-1] if good and worked and not uncovered else None,
    )


def _who_next(
    facts: JobFacts, doers: Sequence[str], today: date | None
) -> tuple[tuple[str, ...], date | None]:
    free = [one for one in lookers(facts, today) if one.key not in doers]
    if today is None:
        return tuple(one.key for one in free), None
    days = [(next_day_in(one, facts.shop, today), one.key) for one in free]
    soonest = sorted((day, key) for day, key in days if day is not None)
    never = [key for day, key in days if day is None]
    return (
        (*(key for _, key in soonest), *never),
        soonest[0][0] if soonest else None,
    )


def _with_needs(one: TaskWork, tasks: Mapping[str, TaskWork], book: WorkBook) -> TaskWork:
    waits: list[str] = []
    ready: list[str] = []
    places: list[WorkPlace] = []
    for place in one.places:
        unmet = [
            need for need in one.task.needs if not _is_met(tasks[need], one.task, place.name, book)
        ]
        places.append(replace(place, open_needs=tuple(unmet)))
        if place.is_finished:
            continue
        waits += unmet
        if not unmet:
            ready.append(place.name)
    late = [
        name for name in one.task.late_after if not one.is_finished and not tasks[name].is_finished
    ]
    return replace(
        one,
        places=tuple(places),
        waits_for=tuple(dict.fromkeys(waits)),
        ready=tuple(ready),
        late_waits=tuple(late),
    )


def _is_met(need: TaskWork, task: Task, place: str, book: WorkBook) -> bool:
    """Whether a need is met for one place: its whole task, or the same place of it.

    A place of it whose reading has to be put right or settled first meets nothing: no cover goes on
    over a clearance that is taken again.
    """
    related = _related(need.task, task, place, book)
    asked = [one for one in need.places if not related or one.name in related]
    # Before "finished" is asked: a task may be done and its reading be OUT.
    if any(one.again for one in asked):
        return False
    if need.is_finished:
        return True
    # With a second look it is met as a whole, once that is given.
    return not need.task.hold and bool(related) and all(one.is_finished for one in asked)


def _related(need: Task, task: Task, place: str, book: WorkBook) -> set[str]:
    """The places of a needed task that belong to a place of the task; none where all do."""
    if not place or not need.for_each:
        return set()
    if task.for_each == need.for_each or (task.for_each in BY_HOLE and need.for_each in BY_HOLE):
        return {place}
    if task.for_each in BY_HOLE and need.for_each == "cylinder":
        return {book.cylinder_at(place)}
    if task.for_each == "cylinder" and need.for_each in BY_HOLE:
        return {hole for hole in book.facts.layout.walk if book.cylinder_at(hole) == place}
    return set()


def _flags(live: Iterable[Entry]) -> Iterator[WorkFlag]:
    open_now: dict[tuple[str, str], Entry[Flagged]] = {}
    for entry in of_kind(live, Flagged, FlagOff):
        key = (entry.fields.what.casefold(), entry.place.casefold())
        if is_a(entry, Flagged):
            open_now[key] = entry
        else:
            open_now.pop(key, None)
    for entry in open_now.values():
        yield WorkFlag(entry.fields.what, entry.place, entry.fields.task, entry)
