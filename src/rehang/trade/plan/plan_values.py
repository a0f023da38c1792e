"""A plan of what is left, as values."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from rehang.trade.plan.plan_pieces import Arrival
from rehang.trade.work.todo import CanDo, Waiting

__all__ = ["Decision", "Option", "OrderBy", "Plan", "PlanDay", "PlanRow", "Wanted"]


@dataclass(frozen=True, slots=True)
class PlanRow:
    """One piece of the plan, from ``start`` to ``end`` on the shop's clock.

    ``kind`` is work, again or look. ``slack_minutes`` is how much later it could start with the
    finish kept; a ``critical`` one has none. ``promised`` is the start that was said before, where
    it is another. ``waits`` are the parts that it cannot start before.
    """

    key: str
    task: str
    kind: str
    title: str
    places: tuple[str, ...]
    start: datetime
    end: datetime
    minutes: int
    hands: int
    who: tuple[str, ...]
    critical: bool
    slack_minutes: int
    waits: tuple[str, ...]
    promised: datetime | None


@dataclass(frozen=True, slots=True)
class PlanDay:
    """One day of the drawn calendar: what is worked on, what arrives, who is in."""

    day: date
    is_today: bool
    is_open: bool
    morning: tuple[PlanRow, ...]
    afternoon: tuple[PlanRow, ...]
    arrivals: tuple[Arrival, ...]
    who: tuple[str, ...]
    lookers: tuple[str, ...]

    @property
    def is_free(self) -> bool:
        return not (self.morning or self.afternoon or self.arrivals)


@dataclass(frozen=True, slots=True)
class OrderBy:
    """The last day a part may be ordered so that the day it is for is kept."""

    part: str
    name: str
    number: int
    lead_days: int
    order_by: date
    arrives_if_today: date
    keeps: date
    sentence: str


@dataclass(frozen=True, slots=True)
class Option:
    """One way things may go, and when the engine hangs and is ready then; None for never."""

    name: str
    hang: datetime | None
    finish: datetime | None
    cost: float | None
    sentence: str


@dataclass(frozen=True, slots=True)
class Decision:
    """An item that waits for a person's decision, and what each way would come to."""

    item: str
    sentence: str
    since: datetime | None
    options: tuple[Option, ...]


@dataclass(frozen=True, slots=True)
class Wanted:
    """The day someone wants it ready; whether that can be, and what is in the way."""

    on: date
    possible: bool
    sentence: str
    in_the_way: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Plan:
    """When what is left is done.

    ``hang`` is when the engine is hung, ``finish`` when all is over; None where something is in
    the way for good, and ``impossible`` then says what, a sentence each; the rows are what can be
    done all the same. ``bound`` is the moment no plan is over before, ``gap`` the largest part of
    the time that a better plan could save, 0 where ``proved``. ``p50`` and ``p80`` are when half
    and four of five simulated jobs are over: parts come on their day in all of them.
    """

    made_at: datetime
    rows: tuple[PlanRow, ...]
    days: tuple[PlanDay, ...]
    hang: datetime | None
    finish: datetime | None
    bound: datetime | None
    gap: float
    proved: bool
    p50: datetime | None
    p80: datetime | None
    ordered_on: date | None
    order_by: tuple[OrderBy, ...]
    options: tuple[Option, ...]
    decisions: tuple[Decision, ...]
    wanted: Wanted | None
    can_do_now: tuple[CanDo, ...]
    waiting_on: tuple[Waiting, ...]
    impossible: tuple[str, ...]
    notes: tuple[str, ...]
    sentence: str
    how_good: str
    minutes_left: int

    @property
    def critical(self) -> tuple[PlanRow, ...]:
        return tuple(row for row in self.rows if row.critical)

    def row(self, key: str) -> PlanRow | None:
        return next((row for row in self.rows if row.key == key), None)
