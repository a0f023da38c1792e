"""Gaskets, wire, oil: whether what a task uses up was written, and as many as its places ask for.

The task sheet says what a task takes (``use``). When its places are done and nothing is written as
used, or not as many as they ask for, the book does not tell what went in (DESIGN 4b, 3).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.task_takes import Use
from rehang.trade.facts.tasks import Task
from rehang.trade.known.state import JobState, item_kind
from rehang.trade.terms.entries import Entry, is_a, of_kind
from rehang.trade.terms.kinds.items import Fitted
from rehang.trade.terms.kinds.stock import AboutStock, NotNeeded, Used
from rehang.trade.terms.wording import listed, plural
from rehang.trade.verdicts.item_blockers import Blocker
from rehang.trade.work.task_states import DONE, JobWork, TaskWork

__all__ = ["Unwritten", "unwritten_uses", "use_blockers"]


@dataclass(frozen=True, slots=True)
class Unwritten:
    """What a task that is over asks for and nothing is written of: a part, in words, and how many."""

    task: Task
    part: str
    name: str
    number: int


def unwritten_uses(facts: JobFacts, state: JobState, work: JobWork) -> tuple[Unwritten, ...]:
    """What was used up, or spared, and not written, task by task."""
    live = _of_stock(state)
    return tuple(
        Unwritten(one.task, use.part, facts.part_name(use.part), asked)
        for one, done in _over(work)
        for use in one.task.uses
        for asked in [_asked(one, use, done, live)]
        if asked and not _used(one, use, live) and not _number(live, NotNeeded, use.part)
    )


def _of_stock(state: JobState) -> list[Entry]:
    return list(of_kind(state.live(), Used, Fitted, NotNeeded))


def _over(work: JobWork) -> Iterator[tuple[TaskWork, int]]:
    """The tasks that are over, each with how many of its places are done."""
    for one in work.tasks.values():
        done = sum(place.state == DONE for place in one.places)
        # Half done it is told as work; what it used up is asked for once it is over.
        if done and not one.unfinished:
            yield one, done


def use_blockers(facts: JobFacts, state: JobState, work: JobWork) -> list[Blocker]:
    """What was used up and not written, or written wrong, task by task."""
    live = _of_stock(state)
    found = []
    unwritten = unwritten_uses(facts, state, work)
    open_ones = {(one.task.id, one.part) for one in unwritten}
    for one, done in _over(work):
        for use in one.task.uses:
            used, asked = _used(one, use, live), _asked(one, use, done, live)
            spared = _number(live, NotNeeded, use.part)
            name = facts.part_name(use.part)
            if (one.task.id, use.part) not in open_ones and (
                (used + spared < asked and (use.each or not _noted(one, use, live)))
                or (use.each and used - _noted(one, use, live) > asked)
            ):
                found.append(_wrong(one, use, name, used, asked))
            if use.each and _fits_plugs(one):
                found += _beside_annealed(one, use, name, live)
    if unwritten:
        named = [f"{one.name} for {one.task.title} ({one.task.id})" for one in unwritten]
        found.append(
            Blocker(
                "used",
                f"Not written as used, though the work is done: {listed(named)}.",
                "Write on the page of parts how many were used, or that none was needed and why.",
            )
        )
    return found


def _wrong(one: TaskWork, use: Use, name: str, used: int, asked: int) -> Blocker:
    if not use.each:
        why = f"the task asks for {asked}."
    elif _fits_plugs(one):
        why = (
            f"{asked} {plural('plug', asked)} went in without {'its' if asked == 1 else 'their'} "
            "old one."
        )
    else:
        why = f"its {plural(one.task.for_each or 'place', asked)} ask for {asked}."
    return Blocker(
        f"task:{one.task.id}",
        f"{one.task.title}: {used} × {name} written as used, and {why}",
        "Write what else was used, strike what was not, or write in a note why the count is another.",
    )


def _beside_annealed(one: TaskWork, use: Use, name: str, live: list[Entry]) -> list[Blocker]:
    """Holes where a plug went in with its old gasket, and a new one is counted all the same."""
    new = Counter(e.place for e in live if _takes_a_new_one(e))
    used = Counter(e.place for e in live if _is_of(e, use))
    annealed = {e.place: 1 for e in live if is_a(e, Fitted) and e.fields.gasket == "annealed"}
    both = [place for place in annealed if used[place] > new[place]]
    return [
        Blocker(
            f"task:{one.task.id}",
            f"{one.task.title}: a new {name} is written as used at {listed(both)}, where the old one "
            "went in annealed. One gasket goes under a plug.",
            "Strike what was not so.",
        )
        for _ in both[:1]
    ]


def _fits_plugs(one: TaskWork) -> bool:
    return ("plug", "fitted") in one.task.acts


def _asked(one: TaskWork, use: Use, done: int, live: list[Entry]) -> int:
    """How many the places ask for: of gaskets one for each plug that went in without its old one."""
    if not use.each:
        return use.number
    if not _fits_plugs(one):
        return use.number * done
    return use.number * len([e for e in live if _takes_a_new_one(e)])


def _takes_a_new_one(entry: Entry) -> bool:
    return (
        is_a(entry, Fitted)
        and item_kind(entry.item) == "plug"
        # A new copper gasket each time, or the old one annealed: common practice, no source.
        and entry.fields.gasket != "annealed"
    )


def _used(one: TaskWork, use: Use, live: list[Entry]) -> int:
    """How many were written as used for the task.

    A plug that goes in at another time takes its gasket there: all gaskets of plugs are one count.
    """
    every = _fits_plugs(one) and use.each
    number = sum(
        e.fields.number
        for e in of_kind(live, Used)
        if e.fields.part == use.part and (every or e.fields.task == one.task.id)
    )
    if number or use.each:
        return number
    # What was used and names no task, and a part that was fitted by its name, are written too.
    loose = sum(
        e.fields.number
        for e in of_kind(live, Used)
        if e.fields.part == use.part and not e.fields.task
    )
    return loose + sum(e.fields.part == use.part for e in of_kind(live, Fitted))


def _is_of(entry: Entry, use: Use) -> bool:
    return is_a(entry, Used) and entry.fields.part == use.part


def _noted(one: TaskWork, use: Use, live: list[Entry]) -> int:
    """How many of what was used have a note that says why."""
    every = _fits_plugs(one)
    return sum(
        e.fields.number
        for e in of_kind(live, Used)
        if e.fields.part == use.part
        and e.fields.note.strip()
        and (every or e.fields.task == one.task.id)
    )


def _number(live: list[Entry], kind: type[AboutStock], part: str) -> int:
    return sum(e.fields.number for e in of_kind(live, kind) if e.fields.part == part)
