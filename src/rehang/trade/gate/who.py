"""Who is in on which day, whose hands the work takes, and who may give a second look."""

from __future__ import annotations

from datetime import date, timedelta

from rehang.trade.facts.job_facts import JobFacts, Person
from rehang.trade.facts.shop import Shop, days_from
from rehang.trade.gate.powers import LOOK, holders

__all__ = ["days_in", "hands_on", "is_in", "lookers", "next_day_in", "open_day", "workers"]

# How far ahead a day is looked for on which someone is in.
# 92: the longest three calendar months.
AHEAD_DAYS = 92


def is_in(person: Person, shop: Shop, day: date) -> bool:
    """Whether someone is in on a day: the shop is open, it is a day of theirs, they are not away."""
    if day in shop.shut_on or day.weekday() not in days_in(person, shop):
        return False
    # Both ends of an absence are days away.
    return not any(first <= day <= last for first, last in person.away)


def days_in(person: Person, shop: Shop) -> tuple[int, ...]:
    """The weekdays, Monday 0, on which someone is in and the shop is open."""
    theirs = days_from(person.days)
    return tuple(day for day in shop.days if not theirs or day in theirs)


def next_day_in(person: Person, shop: Shop, day: date) -> date | None:
    """The first day from ``day`` on that someone is in; None when there is none in three months."""
    return next(
        (
            later
            for later in (day + timedelta(days=ahead) for ahead in range(AHEAD_DAYS))
            if is_in(person, shop, later)
        ),
        None,
    )


def lookers(facts: JobFacts, day: date | None) -> list[Person]:
    """Who may give a second look on a day: those whose papers, or whose mark, give it."""
    return holders(LOOK, day, facts)


def workers(facts: JobFacts) -> list[Person]:
    """Whose hands the work takes.

    Those who are marked for second looks keep their hands off it, so that their look is another
    person's, unless that would leave nobody. The plan, and what can be done now, both count them.
    """
    writers = [one for one in facts.people.values() if one.role != "reads"]
    return [one for one in writers if not one.second_look] or writers


def open_day(shop: Shop, day: date) -> date | None:
    """The first day from ``day`` on that the shop is open; None when there is none."""
    return next(
        (
            later
            for later in (day + timedelta(days=ahead) for ahead in range(AHEAD_DAYS))
            if later not in shop.shut_on and later.weekday() in shop.days
        ),
        None,
    )


def hands_on(facts: JobFacts, day: date | None) -> int:
    """How many whose hands the work takes are in on a day; on a day it is shut, on its next one."""
    people = workers(facts)
    if day is None:
        return len(people)
    # What is read on a Sunday is what can be done on Monday.
    at_work = open_day(facts.shop, day)
    return sum(is_in(one, facts.shop, at_work) for one in people) if at_work else 0
