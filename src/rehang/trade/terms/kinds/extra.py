"""Work that was found and is not agreed yet: its price, the owner's word, what it took, its warranty.

Amounts of money and hours are texts of digits and a point, so that no binary fraction comes in.
"""

from __future__ import annotations

from dataclasses import field
from typing import Annotated, ClassVar

from rehang.trade.terms.days import last_day
from rehang.trade.terms.kinds.fields import (
    DatedText,
    EngineHours,
    Fields,
    Holds,
    ItemId,
    ListField,
    Names,
    Reasoned,
    Remark,
    entry_kind,
    noted,
    topic,
)
from rehang.trade.terms.wording import listed, lower_first, on_day, stopped, with_stop

__all__ = [
    "ACCEPTED",
    "ANSWERS",
    "DECLINED",
    "DONE",
    "HOWS",
    "OUTCOMES",
    "AboutExtra",
    "ExtraClosed",
    "ExtraSent",
    "ExtraSpent",
    "OwnerAnswered",
    "WarrantyGiven",
    "WorkFound",
]

ANSWERS = ACCEPTED, DECLINED = "accepted", "declined"
OUTCOMES = DONE, TAKEN_BACK = "done", "taken back"
# How the owner's word came.
HOWS = ("on this page", "on the printed page", "by phone", "in writing", "in person")

Amount = Annotated[str, Holds(longest=20, digits=True)]


@entry_kind("work_found")
class WorkFound(Fields):
    """Work that is not agreed, priced: parts with the price of one, hours at a rate, outside work.

    ``parts`` are tables of part, number and each, ``outside`` of what and price; a price that nobody
    knows is left out. ``airworthiness`` says whether the aircraft is unairworthy until it is done.
    """

    what: Annotated[str, Holds(longest=200, empty="Write what is to be done.")]
    reason: Annotated[str, Holds(empty="Write why: what was seen, and where.")]
    airworthiness: bool
    parts: ListField = field(default_factory=list)
    hours: Amount = ""
    rate: Amount = ""
    outside: ListField = field(default_factory=list)
    currency: Annotated[str, Holds(longest=8)] = ""
    item: ItemId = ""
    note: Remark = ""

    def said(self, names: Names) -> str:
        bears = "unairworthy until it is done" if self.airworthiness else "no airworthiness item"
        return f"Work found: {stopped(f'{self.what}, {bears}: {self.reason}')}{noted(self.note)}"


@entry_kind("extra_sent")
class ExtraSent(Fields):
    """It was put before the owner: a person of the list by their key, or a name."""

    is_quiet: ClassVar[bool] = True

    extras: ListField
    how: str
    to: str = ""
    person: str = ""
    note: Remark = ""

    def said(self, names: Names) -> str:
        to = names.person(self.person) if self.person else self.to
        some = f"{len(self.extras)} {'piece' if len(self.extras) == 1 else 'pieces'} of work found"
        return f"{some} put before {to}, {stopped(self.how)}{noted(self.note)}"


@topic
class AboutExtra(Fields):
    """One piece of work found, by the id of its entry."""

    extra: Annotated[str, Holds(longest=120)]


@entry_kind("owner_answered")
class OwnerAnswered(AboutExtra):
    """The owner's word on it: of a person of the list by their key, or of a name that was written."""

    # At fault it is no answer.
    settles: ClassVar[bool] = True

    answer: str
    how: str
    name: Annotated[str, Holds(longest=200, names=True)] = ""
    person: str = ""
    note: Remark = ""

    def said(self, names: Names) -> str:
        who = names.person(self.person) if self.person else self.name
        return f"Work found: {self.answer} by {who}, {stopped(self.how)}{noted(self.note)}"


@entry_kind("extra_spent")
class ExtraSpent(AboutExtra):
    """What it took besides parts off the shelf: hours, or something bought with what it cost."""

    is_quiet: ClassVar[bool] = True

    hours: Amount = ""
    cost: Amount = ""
    what: Annotated[str, Holds(longest=200)] = ""
    note: Remark = ""

    def said(self, names: Names) -> str:
        told = [f"{self.hours} h"] if self.hours else []
        told += [f"{self.what or 'something bought'}, {self.cost}"] if self.cost else []
        return f"Spent on work found: {stopped(listed(told))}{noted(self.note)}"


@entry_kind("extra_closed")
class ExtraClosed(Reasoned):
    """It is done, or is no work any more; why."""

    settles: ClassVar[bool] = True

    extra: Annotated[str, Holds(longest=120)]
    outcome: str
    reason: str

    def said(self, names: Names) -> str:
        return f"Work found: {self.outcome}. {with_stop(self.reason)}"


@entry_kind("warranty")
class WarrantyGiven(Fields):
    """Who answers for a part or for work, until that day or those hours since overhaul."""

    is_quiet: ClassVar[bool] = True

    of: Annotated[str, Holds(longest=200, empty="Write what the warranty is on.")]
    given_by: Annotated[str, Holds(longest=200, empty="Write who gives the warranty.")]
    until: DatedText = ""
    hours: EngineHours | None = None
    extra: Annotated[str, Holds(longest=120)] = ""
    item: ItemId = ""
    document: str = ""
    note: Remark = ""

    @property
    def ends(self) -> str:
        """When it ends: "to 30 Nov 2027 or at 900.0 h since overhaul"."""
        sides = [
            f"to {on_day(last_day(self.until))}" if self.until else "",
            f"at {self.hours:,.1f} h since overhaul" if self.hours is not None else "",
        ]
        return " or ".join(one for one in sides if one)

    def said(self, names: Names) -> str:
        by = f"Warranty on {lower_first(self.of)} by {self.given_by}"
        return f"{stopped(f'{by}, {self.ends}')}{noted(self.note)}"
