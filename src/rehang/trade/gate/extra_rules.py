"""Rules on work found: that it is priced, asked about before it is answered, and agreed before it is done."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.known.extras import Extra, extra_of
from rehang.trade.known.hours import hours_of
from rehang.trade.known.state import JobState
from rehang.trade.terms.days import last_day
from rehang.trade.terms.entries import Entry
from rehang.trade.terms.errors import BadInput, NotAllowed
from rehang.trade.terms.kinds.extra import (
    ANSWERS,
    DONE,
    HOWS,
    OUTCOMES,
    ExtraClosed,
    ExtraSent,
    ExtraSpent,
    OwnerAnswered,
    WarrantyGiven,
    WorkFound,
)
from rehang.trade.terms.kinds.stock import Used
from rehang.trade.terms.money import money_from, plain_money
from rehang.trade.terms.quantities import parse_number
from rehang.trade.terms.wording import is_blank, listed, on_day

__all__ = [
    "check_answered",
    "check_extra_closed",
    "check_found",
    "check_sent",
    "check_spent",
    "check_used_for",
    "check_warranty",
]

# Beyond any one piece of work: a slip of the key (our choice, no source).
_MOST_HOURS = Decimal(1_000)


def check_found(entry: Entry[WorkFound], state: JobState, facts: JobFacts) -> None:
    """Whether work found says what it takes, in amounts that can be added up."""
    told = entry.fields
    for one in told.parts:
        _check_keys(one, ("part", "number"), "each", "parts")
        number = one["number"]
        # Not isinstance: True is an int in Python.
        if type(number) is not int or not 1 <= number <= 10_000:
            raise BadInput(f"{number} of {one['part']} cannot be. Write 1 or more.", "number")
        _check_money(one.get("each"), f"The price of one {one['part']}", "each")
    for one in told.outside:
        _check_keys(one, ("what",), "price", "outside")
        _check_money(one.get("price"), f"The price of {one['what']}", "price")
    if told.hours:
        _check_hours(told.hours)
    _check_money(told.rate or None, "The rate of an hour", "rate")
    if not (told.parts or told.hours or told.outside):
        raise BadInput("Write what it takes: parts, hours or outside work.", "hours")
    if told.item and told.item not in state.items:
        raise BadInput(f'There is no item "{told.item}" in this job.', "item")


def _check_keys(one: Any, must: tuple[str, ...], may: str, name: str) -> None:
    if not isinstance(one, Mapping) or not set(must) <= set(one) <= {*must, may}:
        raise BadInput(f"A line of {name} has {listed(must)}, and {may} where it is known.", name)
    what = one[must[0]]
    if not isinstance(what, str) or is_blank(what):
        raise BadInput(f"A line of {name} does not say what it is. Write it.", name)


def _check_money(given: object, what: str, where: str) -> None:
    if given is None:
        return
    # A number of JSON is a binary fraction.
    if not isinstance(given, str):
        raise BadInput(f'{what} is {given}. Write money as text, as in "48.50".', where)
    if given != plain_money(money_from(given, what, where)):
        raise BadInput(f'{what} is "{given}". The book keeps it as in "48.50".', where)


def _check_hours(text: str) -> None:
    hours = parse_number(text, "hours")
    if not 0 < hours <= _MOST_HOURS:
        raise BadInput(
            f"{text} h cannot be. Write hours above 0 and up to {_MOST_HOURS:,}.", "hours"
        )
    if f"{hours:f}" != text:
        raise BadInput(f'Hours are "{text}". The book keeps them as in "2.5".', "hours")


def _open_one(extra: str, state: JobState, facts: JobFacts) -> Extra:
    found = extra_of(facts, state, extra)
    if found is None:
        raise BadInput(f'There is no work found "{extra}" in this book that stands.')
    if found.closed is not None:
        raise NotAllowed(
            f"{found.told.what}: {found.closed.fields.outcome} since {on_day(found.closed.at)}. "
            "Write it as new work found."
        )
    return found


def _check_how(how: str) -> None:
    if how not in HOWS:
        raise BadInput(f'"{how}" is no way that it was asked. Write {listed(HOWS, "or")}.', "how")


def check_sent(entry: Entry[ExtraSent], state: JobState, facts: JobFacts) -> None:
    """Whether what is put before the owner is open, and says to whom."""
    told = entry.fields
    if not told.extras:
        raise BadInput("Pick what is put before the owner.", "extras")
    for extra in told.extras:
        _open_one(str(extra), state, facts)
    _check_how(told.how)
    _check_named(told.person, told.to, facts, "to")


def _check_named(person: str, name: str, facts: JobFacts, where: str) -> None:
    if person and person not in facts.people:
        raise BadInput(f'"{person}" is not in the list of people. Write the name instead.', where)
    if bool(person) == (not is_blank(name)):
        raise BadInput("Write the owner's name, or pick a person of the list: one of them.", where)


def check_answered(entry: Entry[OwnerAnswered], state: JobState, facts: JobFacts) -> None:
    """Whether the owner was asked, and the answer is theirs: a person of the list answers themself."""
    told = entry.fields
    found = _open_one(told.extra, state, facts)
    if told.answer not in ANSWERS:
        raise BadInput(f'"{told.answer}" is no answer. Write {listed(ANSWERS, "or")}.', "answer")
    _check_how(told.how)
    _check_named(told.person, told.name, facts, "name")
    if told.person and told.person != entry.by:
        raise NotAllowed(
            f"{facts.person(told.person)} answers with their own PIN. Write a name and how the "
            "answer came where they told you."
        )
    if not found.sent:
        raise NotAllowed(f"{found.told.what}: nobody has put it before the owner. Do that first.")


def check_spent(entry: Entry[ExtraSpent], state: JobState, facts: JobFacts) -> None:
    """Whether what was spent can be added up, and is on work that was agreed."""
    told = entry.fields
    _check_agreed(told.extra, state, facts)
    if not (told.hours or told.cost):
        raise BadInput("Write the hours, or what was bought and what it cost.", "hours")
    if told.hours:
        _check_hours(told.hours)
    if told.cost:
        if is_blank(told.what):
            raise BadInput("Write what was bought.", "what")
        _check_money(told.cost, f"What {told.what} cost", "cost")


def check_used_for(entry: Entry[Used], state: JobState, facts: JobFacts) -> None:
    """Whether parts go into work found that was agreed."""
    if entry.fields.extra:
        _check_agreed(entry.fields.extra, state, facts)


def _check_agreed(extra: str, state: JobState, facts: JobFacts) -> None:
    found = _open_one(extra, state, facts)
    if not found.is_accepted:
        raise NotAllowed(
            f"{found.told.what}: the owner has not accepted it. Write the answer first."
        )


def check_extra_closed(entry: Entry[ExtraClosed], state: JobState, facts: JobFacts) -> None:
    """Whether work found can be closed so: only what was agreed is done."""
    told = entry.fields
    if told.outcome not in OUTCOMES:
        raise BadInput(
            f'"{told.outcome}" does not close it. Write {listed(OUTCOMES, "or")}.', "outcome"
        )
    if told.outcome == DONE:
        _check_agreed(told.extra, state, facts)
    else:
        _open_one(told.extra, state, facts)


def check_warranty(entry: Entry[WarrantyGiven], state: JobState, facts: JobFacts) -> None:
    """Whether a warranty has an end, and one that can be."""
    told = entry.fields
    if not told.until and told.hours is None:
        raise BadInput("Write the day it ends, the hours, or both.", "until")
    if told.until and last_day(told.until, "until") < entry.at.date():
        raise BadInput(f"{on_day(last_day(told.until))} is past. Write the day it ends.", "until")
    now = hours_of(facts, state, entry).on("since_overhaul")
    if told.hours is not None and now is not None and told.hours <= now:
        raise BadInput(
            f"{told.hours:,.1f} h is not ahead of the engine's {now:,.1f} h since overhaul.",
            "hours",
        )
    if told.extra and extra_of(facts, state, told.extra) is None:
        raise BadInput(f'There is no work found "{told.extra}" in this book that stands.')
    if told.item and told.item not in state.items:
        raise BadInput(f'There is no item "{told.item}" in this job.', "item")
