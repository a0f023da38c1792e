"""Work found that the engine is unairworthy without: it blocks until it is done or closed.

What the owner declined, or has not answered, is a discrepancy (14 CFR 43.11(b)); what was accepted
is work not done.
"""

from __future__ import annotations

from collections.abc import Iterator

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.known.extras import Extra, extras_of
from rehang.trade.known.state import JobState
from rehang.trade.terms.wording import on_day, stopped, upper_first
from rehang.trade.verdicts.item_blockers import Blocker

__all__ = ["BEARS", "MAY_FLY", "extra_blockers", "owner_of"]

BEARS = "Until it is done the aircraft is unairworthy as found."
MAY_FLY = "Airworthiness does not hang on it."


def extra_blockers(facts: JobFacts, state: JobState, *, agreed: bool) -> Iterator[Blocker]:
    """What is open of work found that airworthiness hangs on: what was agreed, or all the rest."""
    for one in extras_of(facts, state):
        if one.told.airworthiness and one.closed is None and one.is_accepted is agreed:
            yield Blocker(f"extra:{one.id}", _sentence(one, facts), _way_out(one))


def owner_of(one: Extra, facts: JobFacts) -> str:
    """Who answered for the owner."""
    if one.answer is None:
        return ""
    told = one.answer.fields
    return facts.person(told.person) if told.person else told.name.strip()


def _sentence(one: Extra, facts: JobFacts) -> str:
    what, reason = upper_first(one.told.what.rstrip(".")), stopped(one.told.reason)
    if one.answer is None:
        asked = "the owner has not answered" if one.sent else "the owner has not been asked"
        return f"{what}: {asked}. {reason}"
    said = f"{one.answer.fields.answer} by {owner_of(one, facts)} on {on_day(one.answer.at)}"
    return f"{what}: {said}{' and not done' if one.is_accepted else ''}. {reason}"


def _way_out(one: Extra) -> str:
    if one.is_accepted:
        return "Do it, and write it as done."
    if one.is_declined:
        return (
            "The owner accepts it and it is done, or whoever has papers closes it with a reason; until "
            "then it goes on the list for the owner."
        )
    return "Put it before the owner, and write the answer."
