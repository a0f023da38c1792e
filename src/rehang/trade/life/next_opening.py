"""How many hours on an engine is opened again, by the inspections on file."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from rehang.trade.job.judging import JudgedJob
from rehang.trade.life.story_values import engine_hours
from rehang.trade.terms.days import last_day
from rehang.trade.terms.wording import on_day

__all__ = ["ASSUMED_HOURS", "Opening", "next_opening"]

# Where nothing on file says when the engine is opened again: the interval of a 100-hour
# inspection (14 CFR 91.409(b)), taken as an assumption and said.
ASSUMED_HOURS = 100.0


@dataclass(frozen=True, slots=True)
class Opening:
    """How many hours on the engine is opened again, why, and whether that is only assumed."""

    hours: float
    words: str
    assumed: bool


def next_opening(judged: JudgedJob) -> Opening:
    """Hours to the next opening after this service, by the inspections on file."""
    inspections = [one for one in judged.facts.recurring.values() if one.kind == "inspection"]
    rate, rate_words = _flying_rate(judged)
    found: list[tuple[float, str]] = []
    for one in inspections:
        if one.every_hours is not None:
            found.append((one.every_hours, f"{one.title} each {one.every_hours:g} h"))
        if one.every_months is not None and rate is not None:
            hours = one.every_months / 12 * rate
            found.append((hours, f"{one.title} each {one.every_months} months at {rate_words}"))
    if found:
        hours, words = min(found)
        return Opening(round(hours, 1), words, assumed=False)
    why = "no inspection is on file" if not inspections else "no flying rate is on file"
    return Opening(
        ASSUMED_HOURS,
        f"assumed: {why}, so the 100 h of 14 CFR 91.409(b) are taken",
        assumed=True,
    )


def _flying_rate(judged: JudgedJob) -> tuple[float | None, str]:
    """Hours a year: on file, or as flown since the first service on file."""
    rate = judged.facts.engine.get("flying_hours_per_year")
    if isinstance(rate, (int, float)) and rate > 0:
        return float(rate), f"{rate:g} h a year"
    now = engine_hours(judged)
    then = {
        (last_day(e.service), float(e.engine_hours))
        for item in judged.state.items.values()
        for e in item.earlier
        if e.engine_hours is not None
    }
    on = judged.facts.engine.get("last_run_on")
    if now is None or not then or not isinstance(on, date):
        return None, ""
    first, hours = min(then)
    days = (on - first).days
    # Less than half a year says little of a year.
    if days < 183 or now <= hours:
        return None, ""
    own = (now - hours) / days * 365.25
    return own, f"{own:.0f} h a year, as flown since {on_day(first)}"
