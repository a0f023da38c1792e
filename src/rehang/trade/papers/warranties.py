"""Warranties on parts and work, as things that end by a day, by hours or by both."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.known.hours import HourCounts, hours_of
from rehang.trade.known.state import JobState
from rehang.trade.papers.due import Due
from rehang.trade.terms.days import last_day
from rehang.trade.terms.entries import Entry, of_kind
from rehang.trade.terms.kinds.extra import WarrantyGiven
from rehang.trade.terms.wording import on_day, plural, stopped, upper_first

__all__ = ["WARRANTY", "warranties_due", "warranties_of_others"]

# What the id of a warranty among what comes due begins with; its entry follows.
WARRANTY = "warranty-"


def warranties_due(facts: JobFacts, state: JobState, today: date | None) -> tuple[Due, ...]:
    """Each warranty that the book has, with when it ends. None is ever overdue, and none blocks."""
    hours = hours_of(facts, state)
    return tuple(_due(one, hours, today, facts) for one in of_kind(state.live(), WarrantyGiven))


def warranties_of_others(
    facts: JobFacts, home: JobState, others: Mapping[str, JobState], today: date | None
) -> tuple[Due, ...]:
    """The warranties of older jobs of the engine that may still run, by the hours of ``home``."""
    hours = hours_of(facts, home)
    began = home.order[0].at if home.order else None
    found = [
        replace(_due(one, hours, today, facts), job=job)
        for job, state in others.items()
        if began is None or not state.order or state.order[0].at < began
        for one in of_kind(state.live(), WarrantyGiven)
    ]
    return tuple(one for one in found if not _is_over(one))


def _due(one: Entry[WarrantyGiven], hours: HourCounts, today: date | None, facts: JobFacts) -> Due:
    told = one.fields
    now = hours.on("since_overhaul")
    until = last_day(told.until) if told.until else None
    hours_left = None if told.hours is None or now is None else round(told.hours - now, 1)
    days_left = None if until is None or today is None else (until - today).days
    due = Due(
        id=f"{WARRANTY}{one.id}",
        title=f"Warranty: {told.of}",
        kind="warranty",
        item=told.item,
        due_hours=told.hours,
        hours_left=hours_left,
        due_on=until,
        days_left=days_left,
        governs="",
        overdue=False,
        blocks=False,
        by_hours=_hours_words(told.hours, hours_left),
        by_date=_date_words(until, days_left),
        last=f"entered on {on_day(one.at)} by {facts.person(one.by)}",
        source=f"{told.given_by}{f', {told.document}' if told.document else ''}",
        method="",
        sentence="",
        note=told.note,
    )
    return replace(due, sentence=_sentence(due, told))


def _is_over(one: Due) -> bool:
    """Whether it ended: of hours or day, whichever comes first. The last day is still good."""
    return any(left is not None and left < 0 for left in (one.hours_left, one.days_left))


def _sentence(one: Due, told: WarrantyGiven) -> str:
    what = f"{upper_first(told.of)}: the warranty of {told.given_by}"
    both = told.hours is not None and bool(told.until)
    return stopped(
        f"{what} {'has ended' if _is_over(one) else 'ends'}, {told.ends}"
        f"{', whichever comes first' if both else ''}"
    )


def _hours_words(ends: float | None, left: float | None) -> str:
    if ends is None:
        return "none entered"
    at = f"{ends:,.1f} h since overhaul"
    if left is None:
        return f"{at}; the hours now are not on file"
    return f"{at}, {abs(left):g} h {'past' if left < 0 else 'left'}"


def _date_words(ends: date | None, left: int | None) -> str:
    if ends is None:
        return "none entered"
    if left is None:
        return on_day(ends)
    return (
        f"{on_day(ends)}, {abs(left)} {plural('day', abs(left))} {'past' if left < 0 else 'left'}"
    )
