"""The verdict on one item, as a value."""

from __future__ import annotations

from dataclasses import dataclass

from rehang.trade.known.state import (
    Earlier,
    Finding,
    ItemState,
)
from rehang.trade.verdicts.calls import Call

__all__ = ["VERDICTS", "ItemVerdict", "trend"]

VERDICTS = ("REJECT", "REWORK", "NOT YET", "KEEP")


@dataclass(frozen=True, slots=True)
class ItemVerdict:
    """What is proposed for one item, why, and the next act.

    ``flag`` says what sets it apart from its fellows, until that is closed with a reason.
    """

    item: str
    kind: str
    name: str
    place: str
    goes_to: str
    verdict: str
    proposed: str
    reasons: tuple[str, ...]
    next: str
    calls: tuple[Call, ...]
    findings: tuple[Finding, ...]
    history: tuple[Earlier, ...]
    state: ItemState
    decided_by: str = ""
    flag: str = ""

    def call(self, check: str) -> Call | None:
        return next((c for c in self.calls if c.check == check), None)


def trend(verdict: ItemVerdict, check: str) -> list[tuple[str, int | None, str]]:
    """Service date, value in base steps and text of a check at each earlier service."""
    found = []
    for earlier in sorted(verdict.history, key=lambda e: e.service):
        reading = earlier.readings.get(check) or earlier.left.get(check)
        if reading is not None:
            found.append((earlier.service, reading.value, reading.written))
    return found
