"""What was promised when something was closed or decided: look again at these hours, on that day."""

from __future__ import annotations

from rehang.trade.entries import Entry
from rehang.trade.state import JobState

__all__ = ["PROMISED", "promises_of"]

# What the id of a promise begins with where it is said to be kept; its entry follows.
PROMISED = "promised-"


def promises_of(state: JobState) -> list[Entry]:
    """The promises that are not kept yet, in the order they were made."""
    live = state.live()
    kept = {e.data["recurring"] for e in live if e.kind == "complied"}
    return [e for e in live if e.kind == "promised" and f"{PROMISED}{e.id}" not in kept]
