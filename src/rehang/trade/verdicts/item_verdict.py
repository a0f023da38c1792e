"""The verdict on one item, as a value."""

from __future__ import annotations

from dataclasses import dataclass

from rehang.trade.known.state import Earlier, Finding, ItemState
from rehang.trade.verdicts.calls import Call
from rehang.trade.verdicts.reason_words import reason_words
from rehang.trade.verdicts.reasons import (
    Apart,
    BeyondLimit,
    Ended,
    Reason,
    Scrap,
    TakeAgain,
    TakeAllAgain,
    ToTake,
    Unjudged,
)

__all__ = ["VERDICTS", "ItemVerdict", "trend"]

VERDICTS = ("REJECT", "REWORK", "NOT YET", "KEEP")


@dataclass(frozen=True, slots=True)
class ItemVerdict:
    """What is proposed for one item, why, and the next act.

    ``why`` is the reasons, the deciding one first; ``apart`` what sets it apart from its fellows,
    until that is closed with a reason.
    """

    item: str
    kind: str
    name: str
    place: str
    goes_to: str
    verdict: str
    proposed: str
    why: tuple[Reason, ...]
    next: str
    calls: tuple[Call, ...]
    findings: tuple[Finding, ...]
    history: tuple[Earlier, ...]
    state: ItemState
    decided_by: str = ""
    apart: Apart | None = None

    @property
    def reasons(self) -> tuple[str, ...]:
        """The reasons as the screen says them, the deciding one first."""
        return tuple(reason_words(reason) for reason in self.why)

    @property
    def deciding(self) -> tuple[Reason, ...]:
        """The deciding reason, and every other that would make the verdict by itself."""
        alone = (Ended, Scrap, BeyondLimit)
        return (*self.why[:1], *(one for one in self.why[1:] if isinstance(one, alone)))

    @property
    def because(self) -> str:
        """The deciding reasons as the screen says them; the next act where there is none."""
        return " ".join(map(reason_words, self.deciding)) or self.next

    @property
    def is_unread(self) -> bool:
        """Whether all that is wrong with it is that nobody has read it yet, or again."""
        taken = any(isinstance(one, (ToTake, TakeAllAgain)) or _is_void(one) for one in self.why)
        rest = (ToTake, TakeAllAgain, TakeAgain, Unjudged)
        return (
            self.verdict == "NOT YET"
            and taken
            and all(isinstance(one, rest) for one in self.why)
            # A figure that is on file and answers nothing is more than a check not taken.
            and all(_is_void(one) for one in self.why if isinstance(one, TakeAgain))
        )

    @property
    def flag(self) -> str:
        """What sets it apart, as the screen says it; empty where nothing does."""
        return reason_words(self.apart) if self.apart else ""

    def call(self, check: str) -> Call | None:
        return next((c for c in self.calls if c.check == check), None)


def _is_void(one: Reason) -> bool:
    return isinstance(one, TakeAgain) and one.call.call == "VOID"


def trend(verdict: ItemVerdict, check: str) -> list[tuple[str, int | None, str]]:
    """Service date, value in base steps and text of a check at each earlier service."""
    found = []
    for earlier in sorted(verdict.history, key=lambda e: e.service):
        reading = earlier.readings.get(check) or earlier.left.get(check)
        if reading is not None:
            found.append((earlier.service, reading.value, reading.written))
    return found
