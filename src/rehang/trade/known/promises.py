"""What was promised when something was closed or decided: look again at these hours, on that day."""

from __future__ import annotations

from collections.abc import Mapping

from rehang.trade.known.state import JobState, item_kind, item_name
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.kinds.items import Disposed, Replaced
from rehang.trade.terms.kinds.oil import PiecesCounted, Sampled
from rehang.trade.terms.kinds.papers import Complied, Promised
from rehang.trade.terms.kinds.readings import ReadingTaken, Seen

__all__ = ["PROMISED", "promises_of", "still_owed"]

# What the id of a promise begins with where it is said to be kept; its entry follows.
PROMISED = "promised-"
# Whoever does one of these to a part has looked at it again.
_LOOKED = (Seen, ReadingTaken, PiecesCounted, Sampled)
# There is one of it and a new one each time, so its name says nothing.
_ONE_OF_ITS_KIND = ("filter",)


def promises_of(state: JobState) -> list[Entry[Promised]]:
    """The promises that are not kept yet, in the order they were made."""
    live = state.live()
    kept = {e.fields.recurring for e in live if is_a(e, Complied)}
    return [e for e in live if is_a(e, Promised) and f"{PROMISED}{e.id}" not in kept]


def still_owed(home: JobState, others: Mapping[str, JobState]) -> list[tuple[str, Entry[Promised]]]:
    """What older jobs of one engine promised and nobody has answered since, with each one's job.

    It is answered by a later look, count or reading of its item in another job, by the part having
    gone, or by being written down as done. A job that began after ``home`` is no older one.
    """
    began = home.order[0].at if home.order else None
    found = []
    for job, state in others.items():
        if began is not None and state.order and state.order[0].at >= began:
            continue
        after = (home, *(one for name, one in others.items() if name != job))
        found += [
            (job, entry)
            for entry in promises_of(state)
            if not any(_answers(one, entry) for later in after for one in later.live())
        ]
    return sorted(found, key=lambda pair: pair[1].at)


def _answers(entry: Entry, promise: Entry[Promised]) -> bool:
    if is_a(entry, Complied):
        return bool(entry.fields.recurring == f"{PROMISED}{promise.id}")
    # The look that gave the promise does not keep it.
    if entry.at <= promise.at:
        return False
    kind = item_kind(promise.item)
    if kind in _ONE_OF_ITS_KIND:
        return isinstance(entry.fields, _LOOKED) and item_kind(entry.item) == kind
    if is_a(entry, Replaced):
        return item_kind(entry.item) == kind and entry.fields.for_ == item_name(promise.item)
    return isinstance(entry.fields, (*_LOOKED, Disposed)) and entry.item == promise.item
