"""The engine's hour counts as the book leaves them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.known.state import JobState, before
from rehang.trade.terms.days import last_day
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.kinds.runs import RunBegan, RunEnded

__all__ = ["CLOCK_WORDS", "HourCounts", "full_day", "hours_of"]

CLOCK_WORDS = {
    "since_overhaul": "since overhaul",
    "since_new": "since new",
    "airframe": "airframe",
}


@dataclass(frozen=True, slots=True)
class HourCounts:
    """The engine's hour counts as the book leaves them; a clock that is not on file is missing."""

    by_clock: Mapping[str, float]

    def on(self, clock: str) -> float | None:
        return self.by_clock.get(clock)


def hours_of(facts: JobFacts, state: JobState, until: Entry | None = None) -> HourCounts:
    """The hours of each clock: those on file, moved on by what the ground runs wrote down.

    With ``until`` as they stood before that entry.

    Raises
    ------
    BadInput
        A run says fewer hours than were on file or than the run before it.
    """
    clocks: dict[str, float] = {}
    held = facts.engine.get("hours")
    if isinstance(held, Mapping):
        for clock in ("since_overhaul", "since_new"):
            value = held.get(clock)
            if isinstance(value, (int, float)):
                clocks[clock] = float(value)
    airframe = facts.engine.get("airframe_hours")
    if isinstance(airframe, (int, float)):
        clocks["airframe"] = float(airframe)
    base = clocks.get("since_overhaul")
    now = base
    for entry in state.live() if until is None else before(until, state):
        if not is_a(entry, RunBegan, RunEnded) or entry.fields.engine_hours is None:
            continue
        given = float(entry.fields.engine_hours)
        # DESIGN 4b, 8: hours lower than before are refused.
        if now is not None and given < now:
            raise BadInput(
                f"The run is written at {given:g} h since overhaul; {now:g} h were on file before. "
                "Hours do not run backwards: read the meter again."
            )
        now = given
    if base is not None and now is not None:
        # One engine turns all its clocks alike; to the tenth, as the meters read.
        clocks = {clock: round(value + now - base, 1) for clock, value in clocks.items()}
    return HourCounts(clocks)


def full_day(text: str) -> date:
    if len(text) != 10:
        raise BadInput(f'"{text}" is not a day. Write it whole, as in 2026-11-12.', "on")
    return last_day(text, "on")
