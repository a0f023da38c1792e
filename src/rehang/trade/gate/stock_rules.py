"""Rules on entries about parts and about the plan."""

from __future__ import annotations

import math
from datetime import datetime

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.known.state import JobState, item_name
from rehang.trade.terms.days import last_day
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.errors import NotAllowed
from rehang.trade.terms.kinds.stock import AboutStock, Arrived, Ordered, StockCounted, Used
from rehang.trade.terms.kinds.work import FinishWanted, PlanPromised
from rehang.trade.terms.wording import on_day, written_day

__all__ = ["check_planned", "check_stock", "check_wanted", "start_of"]


def check_stock(entry: Entry[AboutStock], state: JobState, facts: JobFacts) -> None:
    """Whether an entry about parts may be written, or a sentence saying why not."""
    part = entry.fields.part
    # Without a stock list, parts go by the names that the task sheet gives them.
    known = list(facts.parts) or sorted(
        {use.part for task in facts.tasks.values() for use in task.uses}
    )
    if part not in known:
        raise NotAllowed(
            f'There is no part "{part}" in {"the parts list" if facts.parts else "the task sheet"}. Its '
            f"parts are {', '.join(known) or 'none'}."
        )
    name = facts.part_name(part)
    number = entry.fields.number
    # A shelf that was counted may be empty.
    if number < 1 and not (is_a(entry, StockCounted) and number == 0):
        raise NotAllowed(f"{number} of {name} cannot be. Write 1 or more.")
    # DESIGN 4b, 3: one new part is in one place.
    if is_a(entry, Used) and entry.item and number != 1:
        raise NotAllowed(
            f"{number} of {name} cannot become {item_name(entry.item)}. Write one at a time, or "
            "leave the item out."
        )
    price = entry.fields.price if is_a(entry, Ordered, Arrived) else None
    if price is not None and not (math.isfinite(price) and price >= 0):
        raise NotAllowed(f"The price of {name} is {price}. Write the price of one, 0 or more.")
    due = entry.fields.due if is_a(entry, Ordered) else ""
    if due and last_day(due, "due") < entry.at.date():
        raise NotAllowed(
            f"{name} is ordered on {on_day(entry.at)} and due on {written_day(due)}, which is "
            "before that. Write the day it comes."
        )


def check_wanted(entry: Entry[FinishWanted], state: JobState, facts: JobFacts) -> None:
    """Whether the day that the engine is wanted by is one."""
    # Asked for its refusal alone: it raises where the text is no day.
    last_day(entry.fields.on, "on")


def check_planned(entry: Entry[PlanPromised], state: JobState, facts: JobFacts) -> None:
    """Whether the starts of a plan can be read, or a sentence saying what to write."""
    for key, start in entry.fields.starts.items():
        if start_of(start) is None:
            raise NotAllowed(
                f'The start of {key} is "{start}". Write day and time, as in 2026-10-22T08:00.'
            )


def start_of(given: object) -> datetime | None:
    """A start on the shop's clock; None where it cannot be read."""
    try:
        # The plan is made on the shop's own clock and names no zone.
        return datetime.fromisoformat(str(given)).replace(tzinfo=None)
    except ValueError:
        return None
