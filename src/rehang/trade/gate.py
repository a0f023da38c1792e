"""The one gate: what may be written in a book, entry by entry, whichever door it comes through.

Each rule looks at one entry, at the book as it stood before it, and at the facts. A door (page,
line, API, table) is refused with the rule's sentence before anything is kept. The same rules run
while a whole book is folded: an entry that was let in before a rule was known stays in the book,
is named among what blocks the return to service, and settles nothing (DESIGN 4b, 14).
"""

from __future__ import annotations

from collections.abc import Callable

from rehang.trade.due_rules import check_complied, check_promised
from rehang.trade.entries import Entry
from rehang.trade.errors import Refused
from rehang.trade.facts import JobFacts
from rehang.trade.fastened import check_torqued
from rehang.trade.finding_rules import check_closing, check_counted, check_seen
from rehang.trade.fitting import check_fitted, check_papers, check_removed, check_replaced
from rehang.trade.meter_choice import meter_takes_check
from rehang.trade.powers import (
    check_reason,
    check_settling,
    check_signature,
    check_supervision,
)
from rehang.trade.run_gate import check_leak_closed, check_lock
from rehang.trade.state import JobState

__all__ = ["check_entry", "fault_of"]

Rule = Callable[[Entry, JobState, JobFacts], None]

# One line for each rule; a rule raises BadInput or NotAllowed with the sentence people read.
RULES: tuple[Rule, ...] = (
    meter_takes_check,
    check_seen,
    check_counted,
    check_closing,
    check_complied,
    check_promised,
    check_leak_closed,
    check_lock,
    check_torqued,
    check_removed,
    check_replaced,
    check_fitted,
    check_papers,
    check_settling,
    check_signature,
    check_reason,
    check_supervision,
)


def check_entry(entry: Entry, state: JobState, facts: JobFacts) -> None:
    """Refuse an entry that may not follow the book as ``state`` has it.

    Raises
    ------
    BadInput, NotAllowed
        The sentence of the first rule that it breaks.
    """
    for rule in RULES:
        rule(entry, state, facts)


def fault_of(entry: Entry, state: JobState, facts: JobFacts) -> str:
    """The sentence of the first rule that an entry breaks; empty where it breaks none."""
    try:
        check_entry(entry, state, facts)
    except Refused as refusal:
        return str(refusal)
    return ""
