"""What a plan takes off the shelf, when it arrives, and who is there to use it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime

from rehang.calc.schedule import Resource
from rehang.trade.facts.job_facts import Person
from rehang.trade.facts.shop import Shop
from rehang.trade.gate.who import is_in
from rehang.trade.job.judging import JudgedJob
from rehang.trade.plan.plan_pieces import Arrival, PlanAsked, moment
from rehang.trade.work.stock import arrival_if_ordered

__all__ = ["crew_of", "hours", "local", "merged", "spread", "supply"]


# ---------------------------------------------------------------- small questions


def local(when: datetime) -> datetime:
    """A time of the book on the shop's clock: its own offset, without it."""
    return when.replace(tzinfo=None)


def spread(minutes: tuple[float, float, float]) -> tuple[float, float, float]:
    """Least, likely and most around the whole minutes that are planned with."""
    likely = float(max(1, round(minutes[1])))
    return min(minutes[0], likely), likely, max(minutes[2], likely)


def supply(judged: JudgedJob, part: str, asked: PlanAsked) -> list[Arrival]:
    """What there is of a part, the soonest first; the last of it is without end."""
    stock = judged.stock.parts[part]
    name = stock.part.name
    today = judged.today
    found = []
    if stock.on_hand:
        # Without a name: on the shelf, and waited for by nobody.
        found.append(Arrival(part, "", stock.on_hand, today, False))
    unknown = (
        f"Nobody knows when the {name} on order comes. Write the day it is due, or on the "
        "parts list how many days it takes."
    )
    coming = [
        Arrival(part, name, order.to_come, order.due, True, "" if order.due else unknown)
        for order in stock.orders
        if order.to_come
    ]
    if today is not None:
        # What is overdue may come any day; the plan counts on the next one.
        coming = [
            replace(one, day=arrival_if_ordered(today, 1))
            if one.day is not None and one.day < today
            else one
            for one in coming
        ]
    found += sorted(coming, key=lambda one: (one.day is None, one.day or date.max))
    day, stuck = None, ""
    if stock.part.lead_days is None:
        stuck = f"Nobody knows how long {name} takes to come. Write the days on the parts list."
    elif asked.order_on is not None:
        day = arrival_if_ordered(asked.order_on, stock.part.lead_days)
    endless = Arrival(part, name, 10**6, day, False, stuck)
    return [*found, endless]


def merged(waits: Iterable[Arrival]) -> tuple[Arrival, ...]:
    found: dict[tuple[str, date | None, bool], Arrival] = {}
    for one in waits:
        key = (one.part, one.day, one.ordered)
        there = found.get(key)
        found[key] = replace(one, number=one.number + there.number) if there else one
    return tuple(found.values())


def hours(origin: datetime, shop: Shop, day: date) -> tuple[int, int] | None:
    """The shop's hours of a day in minutes from the origin; None where it is shut or over."""
    if day in shop.shut_on or day.weekday() not in shop.days:
        return None
    start = moment(origin, datetime.combine(day, shop.opens))
    end = moment(origin, datetime.combine(day, shop.shuts))
    return (start, end) if end > start else None


def crew_of(
    people: Sequence[Person], shop: Shop, open_days: Mapping[date, tuple[int, int]]
) -> Resource:
    """People as a resource: how many there are at most, and when fewer are in."""
    counts = {day: sum(is_in(one, shop, day) for one in people) for day in open_days}
    most = max(counts.values(), default=0)
    return Resource(
        capacity=most,
        windows=tuple(open_days[day] for day, number in counts.items() if number),
        taken=tuple(
            (*open_days[day], most - number) for day, number in counts.items() if 0 < number < most
        ),
    )
