"""Rules on the order of days: a look is given after the work, a fastener torqued after the part is in.

The book keeps its own order, and an old happening may be written late; what settles something says
when it was, so a time before the work it settles is a slip or worse.
"""

from __future__ import annotations

from datetime import timedelta

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.known.state import JobState, before, item_kind
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.errors import NotAllowed
from rehang.trade.terms.kinds.items import Fitted
from rehang.trade.terms.kinds.torque import Torqued
from rehang.trade.terms.kinds.work import Done, SecondLookTaken, Started
from rehang.trade.terms.wording import at_time

__all__ = ["check_after_its_work"]

# Two devices of one shop write in one book, and their clocks differ by this much at most.
_SLACK = timedelta(minutes=2)


def check_after_its_work(entry: Entry, state: JobState, facts: JobFacts) -> None:
    """Whether a look or a torque is dated after what it speaks of.

    Raises
    ------
    NotAllowed
        What stands before it in the book, and it speaks of, was later by its own time.
    """
    if is_a(entry, SecondLookTaken):
        task = facts.tasks.get(entry.fields.task)
        acts = task.acts if task is not None else ()
        what, of = (
            "The second look",
            [
                one
                for one in before(entry, state)
                if (is_a(one, Started, Done, Torqued) and one.fields.task == entry.fields.task)
                # Some work is told by what was done to the parts, without a start of its task.
                or (item_kind(one.item), one.kind) in acts
            ],
        )
    elif is_a(entry, Torqued) and entry.place:
        group = facts.torque_groups.get(entry.fields.group)
        parts = (group.part, *group.undone_by) if group is not None else ()
        what, of = (
            "The torque",
            [
                one
                for one in before(entry, state)
                if is_a(one, Fitted) and one.place == entry.place and item_kind(one.item) in parts
            ],
        )
    else:
        return
    late = max((one.at for one in of), default=entry.at)
    if late > entry.at + _SLACK:
        raise NotAllowed(
            f"{what} is dated {at_time(entry.at)}, and what it is of was done on {at_time(late)}. "
            "Write it with the time it was done, after the work."
        )
