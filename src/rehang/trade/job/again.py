"""What items ask for that no unfinished task asks for: rework, a finer meter, a check again.

A task's answers are read once; a reading that settles nothing, or work that voids it, asks for
more when the task is long done.
"""

from __future__ import annotations

from collections.abc import Container
from dataclasses import dataclass

from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.meter_choice import chosen_meter
from rehang.trade.known.state import ItemState, item_name
from rehang.trade.terms.entries import Entry
from rehang.trade.terms.wording import lower_first, upper_first
from rehang.trade.verdicts.calls import Call, better_meters
from rehang.trade.verdicts.item_verdict import ItemVerdict
from rehang.trade.work.task_states import TaskWork, WorkPlace
from rehang.trade.work.todo import minutes_left

__all__ = ["AskedAgain", "asked_again", "needed_checks", "to_settle"]

# A name as short as "2B" or "left" says little without its kind.
_SHORT_NAME = 5
# After every task of a sheet.
_LAST = 999


@dataclass(frozen=True, slots=True)
class AskedAgain:
    """One act that one item asks for, or several alike."""

    items: tuple[str, ...]
    title: str
    where: str
    minutes: float
    meters: tuple[str, ...]
    newest: Entry | None
    order: int

    @property
    def sentence(self) -> str:
        where = f": {self.where}" if self.where else ""
        return f"{self.title}{where}{f' ({self.minutes:.0f} min)' if self.minutes else ''}."


def asked_again(judged: JudgedJob) -> tuple[AskedAgain, ...]:
    """What can be done now for items whose tasks are done, in the order of the items."""
    together: dict[tuple[str, str], list[ItemVerdict]] = {}
    for verdict in judged.items:
        if verdict.verdict not in ("REWORK", "NOT YET") or verdict.kind not in judged.facts.sheets:
            continue
        if any(call.left_open for call in verdict.calls) or to_settle(verdict, judged):
            continue
        if verdict.kind == "run" and not _asks_for_another(verdict, judged):
            continue
        asked = [
            _asked_by(verdict.kind, call.check, verdict.state, judged)
            for call, _, _ in needed_checks(verdict, judged)
        ]
        tasks = {one.task.id: one for one in asked if one is not None}
        if not all(_is_due(one, verdict.state, tasks) for one in tasks.values()):
            continue
        act = verdict.item if verdict.place else verdict.next
        together.setdefault((verdict.kind, act), []).append(verdict)
    return tuple(_act(alike, judged) for alike in together.values())


def _asks_for_another(verdict: ItemVerdict, judged: JudgedJob) -> bool:
    """Whether a run is the last that was, and over: a later one, or its own card, says what is next."""
    last = judged.runs.last
    return last is not None and last.item == verdict.item and judged.runs.now is None


def _act(alike: list[ItemVerdict], judged: JudgedJob) -> AskedAgain:
    first = alike[0]
    minutes, order, meters = 0.0, _LAST, dict[str, None]()
    for one in alike:
        for call, meter, _ in needed_checks(one, judged):
            task = _asked_by(one.kind, call.check, one.state, judged)
            if meter:
                meters[meter] = None
            if task is not None:
                minutes += minutes_left(task, 1)[1]
                order = min(order, task.task.order)
    title = (first.next or first.reasons[0]).rstrip(".")
    close = next(
        (c for c, m, _ in needed_checks(first, judged) if c.call == "CLOSE CALL" and m), None
    )
    if close is not None:
        title = f"Read the {close.label.lower()} on {next(iter(meters))}"
    where = f"{first.name}, {first.place}" if first.place else ""
    if not first.place:
        title = f"{upper_first(', '.join(one.name for one in alike))}: {lower_first(title)}"
        if first.name[:1].isdigit() or len(first.name) <= _SHORT_NAME:
            title = f"{first.kind.capitalize()} {lower_first(title)}"
    newest = max(
        (call.entry for one in alike for call in one.calls if call.entry is not None),
        key=lambda entry: entry.at,
        default=None,
    )
    return AskedAgain(
        items=tuple(one.item for one in alike),
        title=title,
        where=where,
        minutes=minutes,
        meters=tuple(meters),
        newest=newest,
        order=order,
    )


def needed_checks(verdict: ItemVerdict, judged: JudgedJob) -> list[tuple[Call, str, str]]:
    """Calls that still ask for a reading, with the meter and range that would take it."""
    found = []
    sheet = judged.facts.sheets.get(verdict.kind)
    if sheet is None:
        return []
    for call in verdict.calls:
        check = sheet.check(call.check)
        if call.call == "CLOSE CALL":
            better = [one for one in better_meters(call, judged.facts, judged.state) if one[3]]
            if better:
                found.append((call, better[0][0].id, better[0][1]))
        elif call.call in ("NOT READ", "VOID") or (call.call == "OUT" and check.reworkable):
            found.append((call, *chosen_meter(check, judged.facts, judged.state)))
    return found


def _asked_by(kind: str, check: str, state: ItemState, judged: JudgedJob) -> TaskWork | None:
    """The task whose answers hold this check of an item: an unfinished one first."""
    found = None
    for one in judged.work.tasks.values():
        if (kind, check) not in one.task.answers:
            continue
        if not _finished_at(one, state):
            return one
        found = found or one
    return found


def _is_due(one: TaskWork, state: ItemState, together: Container[str]) -> bool:
    """Whether a task is done at an item's place, and what it needs is, but for what is asked with it."""
    return all(
        place.is_finished and all(need in together for need in place.open_needs)
        for place in _own_places(one, state)
    )


def _finished_at(one: TaskWork, state: ItemState) -> bool:
    return all(place.is_finished for place in _own_places(one, state))


def _own_places(one: TaskWork, state: ItemState) -> list[WorkPlace]:
    names = {state.came_out_of, item_name(state.id)} - {""}
    if state.id.startswith("plug:") and state.place:
        names.add(state.place)
    return [place for place in one.places if place.name in names] or list(one.places)


def to_settle(verdict: ItemVerdict, judged: JudgedJob) -> bool:
    """Whether an open finding asks someone for a decision; a plug's deposits ask for cleaning.

    What no task reads is no part of the engine's own, as a drying agent: it is done, not decided.
    """
    read = {kind for task in judged.facts.tasks.values() for kind, _ in task.answers}
    if verdict.kind == "plug" or (judged.facts.tasks and verdict.kind not in read):
        return False
    return any(one.is_open and one.severity >= 2 for one in verdict.findings)
