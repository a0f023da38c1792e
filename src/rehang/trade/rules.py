"""Rules about writing in the book. Each is written once; its sentence is what people read."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from rehang.trade.entries import Entry
from rehang.trade.errors import NotAllowed
from rehang.trade.facts import JobFacts, Person
from rehang.trade.state import JobState, item_kind
from rehang.trade.verdict import fold_job

__all__ = [
    "READS_ONLY",
    "can_write",
    "check_can_append",
    "check_can_strike",
    "check_can_write",
]

READS_ONLY = "reads"
# A phone's clock may run a little ahead of the shop's; more than this is a wrong clock.
CLOCK_SLACK = timedelta(minutes=10)


def check_can_write(person: Person | None) -> None:
    """Whether someone may write in this job's book at all."""
    if person is None:
        raise NotAllowed("You are not in this job's list of people. Ask its owner to add you.")
    if person.role == READS_ONLY:
        raise NotAllowed(f"{person.name} reads this book and does not write in it.")


def can_write(person: Person | None) -> bool:
    """See :func:`check_can_write`."""
    try:
        check_can_write(person)
    except NotAllowed:
        return False
    return True


def check_can_strike(entry: Entry, state: JobState) -> None:
    """Whether an entry may be struck out. The entry stays in the book, struck."""
    if entry.kind == "filed":
        raise NotAllowed("A filed sheet is not struck. File the sheet again with the right text.")
    if entry.kind == "struck":
        raise NotAllowed("A strike is not struck. Write the thing again instead.")
    if entry.id in state.struck:
        raise NotAllowed("This entry is struck already.")


def check_can_append(
    new: Sequence[Entry],
    book: Sequence[Entry],
    facts: JobFacts,
    *,
    at: datetime | None = None,
    state: JobState | None = None,
) -> JobState:
    """Fold the book with new entries at its end, or refuse them all with one sentence.

    Returns the state with them in it. An entry whose id is in the book already with the same
    content is let through; it will not be kept twice. ``state`` is the fold of ``book`` by these
    facts, where it is at hand.
    """
    if state is None:
        state = fold_job(facts, book)
    for entry in new:
        check_can_write(facts.people.get(entry.by))
        if at is not None and entry.at > at + CLOCK_SLACK:
            raise NotAllowed(
                f"The entry is dated {entry.at.isoformat(timespec='minutes')}, which is still to "
                "come. Set the clock of this device right."
            )
        if entry.kind == "struck" and entry.id not in state.entries:
            check_can_strike(state.entry(entry.data["entry"]), state)
        if entry.kind == "called" and entry.id not in state.entries:
            _check_can_call(entry, state)
        if entry.kind == "closed" and not entry.data["reason"].strip():
            raise NotAllowed("Closing a finding takes a reason. Write it.")
        if entry.kind == "reading" and item_kind(entry.item) not in facts.sheets:
            raise NotAllowed(f'There is no check sheet for "{entry.item}".')
    return fold_job(facts, [*book, *new])


def _check_can_call(entry: Entry, state: JobState) -> None:
    if not entry.data["reason"].strip():
        raise NotAllowed("Calling a close call takes a reason. Write it.")
    target = state.entry(entry.data["entry"])
    if target.id in state.struck:
        raise NotAllowed("That reading is struck, so there is nothing to call.")
