"""From a judged job to what the scheduling core plans: pieces of work, second looks, arrivals.

A piece is what can be done in one go once what it waits for is there: the places of a task whose
needs are met, those that still wait, those for which a part is to come, a second look, a check to
be taken again. Times are whole minutes of the shop's own clock from the moment planned from.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from rehang.calc.schedule import Need, Project, ThreePoint
from rehang.trade.facts.tasks import Task
from rehang.trade.terms.wording import on_day

__all__ = ["Arrival", "Piece", "Pieces", "PlanAsked", "arrival_words", "fitting_task", "moment"]


@dataclass(frozen=True, slots=True)
class Arrival:
    """So many of a part and the day they are here; ``day`` is None where nobody knows or orders.

    ``ordered`` says whether they are on order already; ``stuck`` is why nobody knows the day.
    """

    part: str
    name: str
    number: int
    day: date | None
    ordered: bool
    stuck: str = ""


@dataclass(frozen=True, slots=True)
class PlanAsked:
    """What a plan takes for granted.

    ``order_on`` is the day everything that is short is ordered; None: it never is. ``away`` are
    items that are out of the shop, with the day each is back.
    """

    order_on: date | None
    away: Mapping[str, date] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece of the plan.

    ``kind`` is work, again (a check to be taken again) or look. ``waits`` are the arrivals it
    cannot start before, ``lookers`` the keys of those who may give a look. ``part_done`` work was
    left with some of its fasteners tight, and is finished first.
    """

    key: str
    task: str
    kind: str
    title: str
    places: tuple[str, ...]
    minutes: tuple[float, float, float]
    hands: int
    needs: tuple[Need, ...]
    release: int | None
    waits: tuple[Arrival, ...]
    lookers: tuple[str, ...]
    in_one_go: bool
    stand: bool
    hoist: bool
    late: bool
    part_done: bool = False


@dataclass(frozen=True, slots=True)
class Pieces:
    """Everything to be planned, and the project it makes.

    ``equals`` says that the same people do the work and look at it, so that it matters who does
    what. ``stuck`` are pieces that nothing can start, by sentences that say why: a part that nobody
    orders, a look that nobody can give. ``not_ordered`` names parts that are short and that the
    plan takes as never ordered. ``notes`` is what the plan takes for granted.
    """

    origin: datetime
    ordered_on: date | None
    pieces: Mapping[str, Piece]
    project: Project | None
    durations: Mapping[str, ThreePoint]
    arrivals: tuple[Arrival, ...]
    hands: tuple[str, ...]
    equals: bool
    hang: str
    stuck: Mapping[str, tuple[str, ...]]
    not_ordered: tuple[str, ...]
    notes: tuple[str, ...]

    def at(self, minutes: float) -> datetime:
        return self.origin + timedelta(minutes=minutes)


def moment(origin: datetime, when: datetime) -> int:
    """Whole minutes from the origin, never before it."""
    return max(0, math.ceil((when - origin).total_seconds() / 60))


def arrival_words(one: Arrival) -> str:
    """A part that is waited for, in a few words."""
    number = f"{one.number} " if one.number > 1 else ""
    if one.day is None:
        return f"{number}{one.name}, no day known"
    how = "on order, due" if one.ordered else "to be ordered, here"
    return f"{number}{one.name}, {how} {one.day:%a} {on_day(one.day)}"


def fitting_task(kind: str, tasks: Mapping[str, Task]) -> str | None:
    """The task at which a new item of a kind goes on.

    One whose acts say so; one whose fasteners are such items; the last that is done for each of
    them by hand; the first that reads them; else the last of the sheet.
    """
    in_order = sorted(tasks.values(), key=lambda task: task.order)
    for found in (
        [task for task in in_order if (kind, "fitted") in task.acts],
        [task for task in in_order if task.fasteners and task.fastener == kind],
        [
            task
            for task in reversed(in_order)
            if task.for_each == kind and not task.answers and not task.acts
        ],
        [task for task in in_order if any(one == kind for one, _ in task.answers)],
        in_order[-1:],
    ):
        if found:
            return found[0].id
    return None
