"""The one gate: what may be written in a book, entry by entry, whichever door it comes through.

Each rule looks at one entry, at the book as it stood before it, and at the facts. A door (page,
line, API, table) is refused with the rule's sentence before anything is kept. The same rules run
while a whole book is folded: an entry that was let in before a rule was known stays in the book,
is named among what blocks the return to service, and settles nothing (DESIGN 4b, 14).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime, timedelta
from types import MappingProxyType
from typing import cast

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.gate.due_rules import check_complied, check_promised
from rehang.trade.gate.extra_rules import (
    check_answered,
    check_extra_closed,
    check_found,
    check_sent,
    check_spent,
    check_used_for,
    check_warranty,
)
from rehang.trade.gate.finding_rules import (
    check_closing,
    check_counted,
    check_not_a_count,
    check_seen,
)
from rehang.trade.gate.monitor_rules import check_monitor
from rehang.trade.gate.order_rules import check_after_its_work
from rehang.trade.gate.powers import (
    check_reason,
    check_says_enough,
    check_settling,
    check_signature,
    check_supervision,
)
from rehang.trade.gate.reason_rules import check_read, check_teardown
from rehang.trade.gate.run_gate import check_leak_closed, check_lock
from rehang.trade.gate.stock_rules import check_planned, check_stock, check_wanted
from rehang.trade.known.drafts import check_drafted, leaves_out
from rehang.trade.known.fastened import check_torqued
from rehang.trade.known.fitting import check_fitted, check_papers, check_removed, check_replaced
from rehang.trade.known.meter_choice import meter_takes_check
from rehang.trade.known.state import JobState, item_kind
from rehang.trade.terms import strikes
from rehang.trade.terms.bounds import check_bounds
from rehang.trade.terms.entries import Entry, F
from rehang.trade.terms.errors import NotAllowed, Refused
from rehang.trade.terms.kinds.decisions import Closed, Struck, TeardownDecided
from rehang.trade.terms.kinds.extra import (
    ExtraClosed,
    ExtraSent,
    ExtraSpent,
    OwnerAnswered,
    WarrantyGiven,
    WorkFound,
)
from rehang.trade.terms.kinds.fields import Fields, Reasoned
from rehang.trade.terms.kinds.items import Fitted, Removed, Replaced
from rehang.trade.terms.kinds.meters import MasterRead
from rehang.trade.terms.kinds.monitor import MonitorRead
from rehang.trade.terms.kinds.oil import PiecesCounted
from rehang.trade.terms.kinds.papers import (
    Complied,
    DocumentRead,
    Drafted,
    PapersGiven,
    Promised,
    RecordSigned,
)
from rehang.trade.terms.kinds.readings import ReadingTaken, Seen
from rehang.trade.terms.kinds.register import CLASSES
from rehang.trade.terms.kinds.stock import AboutStock, Used
from rehang.trade.terms.kinds.torque import Torqued
from rehang.trade.terms.kinds.work import FinishWanted, PlanPromised
from rehang.trade.terms.lookalikes import check_no_twin
from rehang.trade.terms.wording import at_time

__all__ = ["CLOCK_SLACK", "check_entry", "check_not_ahead", "fault_of", "is_ahead"]

Rule = Callable[[Entry, JobState, JobFacts], None]
# Two clocks in one shop are never quite the same; more than this is a wrong one (DESIGN 4b, 14).
CLOCK_SLACK = timedelta(minutes=2)


def _bounds(entry: Entry, state: JobState, facts: JobFacts) -> None:
    check_bounds(entry)


def _of(
    kind: type[F], rule: Callable[[Entry[F], JobState, JobFacts], None]
) -> tuple[type[Fields], Rule]:
    """A rule on entries of one kind, or of those that a class stands for."""
    return kind, cast("Rule", rule)


def _strike(entry: Entry[Struck], state: JobState, facts: JobFacts) -> None:
    """A strike strikes an entry that stands before it, and no strike."""
    wanted = entry.fields.entry
    declined = strikes.ever_declined(state.order)
    said = strikes.refusal(wanted, state.entries.get(wanted), state.void_strikes, declined)
    if said:
        raise NotAllowed(said)


def _twin(entry: Entry, state: JobState, facts: JobFacts) -> None:
    check_no_twin(entry.item, state.items)


def _drafted(entry: Entry[Drafted], state: JobState, facts: JobFacts) -> None:
    check_drafted(entry)
    if leaves_out(entry.fields):
        check_says_enough(entry.fields.reason)


def _has_sheet(entry: Entry[ReadingTaken], state: JobState, facts: JobFacts) -> None:
    if item_kind(entry.item) not in facts.sheets:
        raise NotAllowed(f'There is no check sheet for "{entry.item}".')


# One line for each rule, in the order they are asked, with the kind that it is about; a rule raises
# BadInput or NotAllowed with the sentence people read.
RULES: tuple[tuple[type[Fields], Rule], ...] = (
    # First: the rules below take what an entry holds for sound in itself.
    _of(Fields, _bounds),
    _of(Struck, _strike),
    _of(Fields, _twin),
    _of(ReadingTaken, _has_sheet),
    _of(Drafted, _drafted),
    _of(AboutStock, check_stock),
    _of(Used, check_used_for),
    _of(WorkFound, check_found),
    _of(ExtraSent, check_sent),
    _of(OwnerAnswered, check_answered),
    _of(ExtraSpent, check_spent),
    _of(ExtraClosed, check_extra_closed),
    _of(WarrantyGiven, check_warranty),
    _of(MonitorRead, check_monitor),
    _of(FinishWanted, check_wanted),
    _of(PlanPromised, check_planned),
    _of(ReadingTaken, meter_takes_check),
    _of(MasterRead, meter_takes_check),
    _of(Seen, check_seen),
    _of(PiecesCounted, check_counted),
    _of(ReadingTaken, check_not_a_count),
    _of(Closed, check_closing),
    _of(Complied, check_complied),
    _of(Promised, check_promised),
    _of(DocumentRead, check_read),
    _of(TeardownDecided, check_teardown),
    _of(Closed, check_leak_closed),
    _of(ReadingTaken, check_lock),
    _of(Torqued, check_torqued),
    _of(Fields, check_after_its_work),
    _of(Removed, check_removed),
    _of(Replaced, check_replaced),
    _of(Fitted, check_fitted),
    _of(PapersGiven, check_papers),
    _of(Fields, check_settling),
    _of(RecordSigned, check_signature),
    _of(Reasoned, check_reason),
    _of(Fields, check_supervision),
)


# Worked out once: the gate is asked for every entry of every fold.
_RULES_OF: Mapping[str, tuple[Rule, ...]] = MappingProxyType(
    {
        kind: tuple(rule for of, rule in RULES if issubclass(one, of))
        for kind, one in CLASSES.items()
    }
)


def is_ahead(at: datetime, clock: datetime) -> bool:
    """Whether a moment lies later than the clock allows."""
    return at > clock + CLOCK_SLACK


def check_not_ahead(at: datetime, clock: datetime | None) -> None:
    """Refuse what is dated later than now, where the clock is known."""
    if clock is not None and is_ahead(at, clock):
        raise NotAllowed(
            f"This is dated {at_time(at)}, which is still to "
            "come. Set the clock of this device right."
        )


def check_entry(
    entry: Entry, state: JobState, facts: JobFacts, clock: datetime | None = None
) -> None:
    """Refuse an entry that may not follow the book as ``state`` has it.

    ``clock`` is the machine's, where the entry is held against it.

    Raises
    ------
    BadInput, NotAllowed
        The sentence of the first rule that it breaks.
    """
    # DESIGN 4b, 14. Not in the list: where no clock is given nothing can be asked of it.
    check_not_ahead(entry.at, clock)
    for rule in _RULES_OF[entry.kind]:
        rule(entry, state, facts)


def fault_of(entry: Entry, state: JobState, facts: JobFacts, clock: datetime | None = None) -> str:
    """The sentence of the first rule that an entry breaks; empty where it breaks none."""
    try:
        check_entry(entry, state, facts, clock)
    # Only what a rule says: a bug in a rule is no fault of the entry, and goes through.
    except Refused as refusal:
        return str(refusal)
    return ""
