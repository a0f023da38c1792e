"""What a person decides of what stands in the book."""

from __future__ import annotations

from typing import Annotated, ClassVar

from rehang.trade.terms.kinds.fields import (
    Fields,
    Holds,
    ItemId,
    Names,
    Reasoned,
    entry_kind,
    who,
)
from rehang.trade.terms.wording import with_stop

__all__ = [
    "CallMade",
    "Closed",
    "Disagreed",
    "LeftOpen",
    "Struck",
    "TeardownDecided",
]

TEARDOWN = ("no teardown", "tear down", "torn down")


@entry_kind("struck")
class Struck(Fields):
    """An entry is struck out; it stays to be read."""

    entry: str
    reason: Annotated[str, Holds(empty="Striking a line takes a reason. Write it.")]


@entry_kind("called")
class CallMade(Reasoned):
    """A close reading is called WITHIN or OUT."""

    settles: ClassVar[bool] = True

    entry: str
    call: str
    reason: str


@entry_kind("left_open")
class LeftOpen(Fields):
    """A close reading waits for a second opinion."""

    entry: str
    reason: str = ""
    person: str = ""


@entry_kind("disagreed")
class Disagreed(Reasoned):
    """A verdict that is not the one which the readings give."""

    settles: ClassVar[bool] = True

    item: ItemId
    verdict: str
    reason: str

    def said(self, names: Names) -> str:
        return f"{who(self.item, '')}: {self.verdict} by decision. Reason: {with_stop(self.reason)}"


@entry_kind("closed")
class Closed(Reasoned):
    """A finding is closed, or what is worked out under such a name stands as it is."""

    settles: ClassVar[bool] = True

    finding: str
    reason: str
    found: str = ""


@entry_kind("teardown")
class TeardownDecided(Reasoned):
    """Whether an engine that was stopped by a blow is taken apart, or that it was; by which document."""

    settles: ClassVar[bool] = True

    outcome: str
    document: Annotated[str, Holds(empty="Write by which document: its name and revision.")]
    reason: str

    def said(self, names: Names) -> str:
        return f"Teardown: {self.outcome}, by {self.document}. Reason: {with_stop(self.reason)}"
