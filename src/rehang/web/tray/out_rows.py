"""Rows of the plugs as they come out: what is out, what stands in each hole still, and last time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from rehang.trade.job.judging import JudgedJob
from rehang.trade.job.last_time import LastTime
from rehang.trade.terms.wording import listed, on_day
from rehang.web.shared.times import short_when

__all__ = ["LastCard", "OutRow", "last_card", "out_rows"]


@dataclass(frozen=True, slots=True)
class OutRow:
    """One plug that came out of a hole, as it was written."""

    hole: str
    name: str
    entry: str
    when: str
    note: str


@dataclass(frozen=True, slots=True)
class LastCard:
    """What the last job of the engine left in the holes that no plug came out of yet.

    ``planned`` says of which holes it knows no more than what was to go in.
    """

    title: str
    on: str
    plugs: tuple[tuple[str, str], ...]
    planned: str
    act: str
    rest: int

    @property
    def number(self) -> int:
        return len(self.plugs)


def last_card(told: LastTime | None, empty: Sequence[str]) -> LastCard | None:
    """The card of last time, for the holes that are still to be written; None where it says nothing."""
    if told is None:
        return None
    plugs = tuple((hole, told.plugs[hole]) for hole in empty if hole in told.plugs)
    if not plugs:
        return None
    holes = [hole for hole, _ in plugs if hole in told.planned]
    every = len(holes) == len(plugs)
    return LastCard(
        title=told.title or told.job,
        on=on_day(told.at),
        plugs=plugs,
        planned=_planned("every hole" if every else listed(holes)) if holes else "",
        act="AS PLANNED THEN" if every else "AS LAST TIME",
        rest=len(empty) - len(plugs),
    )


def _planned(holes: str) -> str:
    return f"No plug was written back in: {holes}. What its rotation sent there is shown."


def out_rows(judged: JudgedJob, person: str) -> tuple[OutRow, ...]:
    """The plugs that came out, in the order of the walk; by whom where it is not ``person`` (a key)."""
    zone = ZoneInfo(judged.facts.timezone_name)
    state = judged.state
    found = []
    for hole in judged.facts.layout.walk:
        item = state.items.get(state.holes.get(hole, ""))
        if item is None or item.removed is None:
            continue
        entry = item.removed
        found.append(
            OutRow(
                hole=hole,
                name=item.name,
                entry=entry.id,
                when=short_when(entry.at, zone)
                + (f", {judged.facts.person(entry.by)}" if entry.by != person else ""),
                note=entry.fields.note,
            )
        )
    return tuple(found)
