"""Which plug each hole had when the engine was last put together, by the book of that job."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime
from types import MappingProxyType

from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.state import item_kind, item_name
from rehang.trade.terms.entries import is_a
from rehang.trade.terms.kinds.items import Fitted, Moved, Removed

__all__ = ["SCRIBED", "LastTime", "last_time_of", "next_scribed"]

# What a mechanic scribes on a plug without a serial begins with.
SCRIBED = "A"


@dataclass(frozen=True, slots=True)
class LastTime:
    """The plugs of one job by the holes that they left it in.

    ``planned`` are the holes that no plug was written back into: only the rotation of that job says
    which was to go there. ``at`` is when its last plug was handled.
    """

    job: str
    title: str
    at: datetime
    plugs: Mapping[str, str]
    planned: tuple[str, ...]


def last_time_of(judged: JudgedJob) -> LastTime | None:
    """The serial of each hole at the end of a job; None where no plug was handled in it.

    What went in stands before what the rotation sends there; a hole of which neither is known, as
    that of a reject that nothing stands in for yet, is left out.
    """
    handled = [
        entry.at
        for entry in judged.state.live()
        if is_a(entry, Removed, Fitted, Moved) and item_kind(entry.item) == "plug"
    ]
    if not handled:
        return None
    places = [one for one in judged.places if one.kind == "plug"]
    plugs = {one.name: item_name(one.item) for one in places if one.item}
    planned = []
    for one in places:
        name = item_name(one.goes_in)
        if one.name not in plugs and name and name not in plugs.values():
            plugs[one.name] = name
            planned.append(one.name)
    return LastTime(
        job=judged.facts.job,
        title=judged.facts.title,
        at=max(handled),
        plugs=MappingProxyType(plugs),
        planned=tuple(planned),
    )


def next_scribed(taken: Collection[str]) -> str:
    """The first serial to scribe that no plug has: A1, A2 and so on.

    >>> next_scribed(["K0411", "a1"])
    'A2'
    """
    known = {one.casefold() for one in taken}
    number = 1
    while f"{SCRIBED}{number}".casefold() in known:
        number += 1
    return f"{SCRIBED}{number}"
