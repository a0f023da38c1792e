"""What is allowed in a book and worth a look: times that run back, letters that only look alike."""

from __future__ import annotations

from datetime import datetime

from rehang.trade.gate.entry_gate import CLOCK_SLACK
from rehang.trade.gate.powers import days_of, need_of
from rehang.trade.known.state import JobState
from rehang.trade.terms.entries import Entry, of_kind
from rehang.trade.terms.kinds.items import Fitted, Removed
from rehang.trade.terms.lookalikes import odd_names
from rehang.trade.terms.wording import at_time, listed, on_day

__all__ = ["oddities_of"]

# So many are named; the rest are counted.
_NAMED = 3


def oddities_of(state: JobState) -> tuple[str, ...]:
    """A sentence for each kind of oddity of a book."""
    names = [
        *state.items,
        *(e.fields.serial for e in of_kind(state.order, Removed, Fitted) if e.fields.serial),
    ]
    return (
        *_running_back(state),
        *_settled_late(state),
        *(f"{one} Look at it again." for one in odd_names(names)),
    )


def _running_back(state: JobState) -> list[str]:
    """Entries dated before one that stands above them: written late, or under a wrong clock."""
    latest: datetime | None = None
    found: list[Entry] = []
    for entry in state.order:
        if latest is not None and entry.at < latest - CLOCK_SLACK:
            found.append(entry)
        # The latest so far and not the last one, so that one wrong clock does not hide the next.
        latest = entry.at if latest is None else max(latest, entry.at)
    if not found:
        return []
    named = [f"{one.kind.replace('_', ' ')} of {at_time(one.at)}" for one in found[:_NAMED]]
    if len(found) > _NAMED:
        named.append(f"{len(found) - _NAMED} more")
    many = "1 line is" if len(found) == 1 else f"{len(found)} lines are"
    return [
        f"{many} dated before one that stands above: {listed(named)}. Written late, or under a wrong "
        "clock: look at the times."
    ]


def _settled_late(state: JobState) -> list[str]:
    """What settles something, on a day before the one on which the book received it."""
    found = []
    for entry in state.order:
        # Allowed, as a page is written up late; said, as a paper may have run out in between.
        if len(days := days_of(entry)) > 1 and need_of(entry, state) is not None:
            found.append(
                f"{entry.kind.replace('_', ' ')} of {on_day(days[0])}, kept on {on_day(days[1])}"
            )
    if not found:
        return []
    shown, more = found[:_NAMED], len(found) - _NAMED
    return [
        f"Settled on a day before the book had it: {listed([*shown, *([f'{more} more'] if more > 0 else [])])}. "
        "The papers of both days were looked at."
    ]
