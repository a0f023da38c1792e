"""Next due: by hours or by the calendar, whichever comes first, and which of the two governs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from rehang.trade.ages import add_months, overdue_words
from rehang.trade.entries import Entry, last_day
from rehang.trade.errors import BadInput
from rehang.trade.facts import JobFacts
from rehang.trade.recurring import Recurring
from rehang.trade.state import JobState
from rehang.trade.verdict import Blocker
from rehang.trade.wording import on_day, plural

__all__ = ["CLOCK_WORDS", "Due", "Hours", "due_blockers", "due_of", "flying_rate", "hours_of"]

CLOCK_WORDS = {
    "since_overhaul": "since overhaul",
    "since_new": "since new",
    "airframe": "airframe",
}
DAYS_A_YEAR = 365.25


@dataclass(frozen=True, slots=True)
class Hours:
    """The engine's hour counts as the book leaves them; a clock that is not on file is missing."""

    by_clock: Mapping[str, float]

    def on(self, clock: str) -> float | None:
        return self.by_clock.get(clock)


@dataclass(frozen=True, slots=True)
class Due:
    """When one thing is next due.

    ``hours_left`` and ``days_left`` are below 0 once it is past. ``governs`` is ``hours``,
    ``calendar``, ``both`` (both past) or empty where it cannot be said. ``by_hours`` and
    ``by_date`` are the two sides in words; a side without an interval says "none entered".
    ``unknown`` says why it cannot be told whether it is past; what is not known passes nothing.
    """

    id: str
    title: str
    kind: str
    item: str
    due_hours: float | None
    hours_left: float | None
    due_on: date | None
    days_left: int | None
    governs: str
    overdue: bool
    blocks: bool
    by_hours: str
    by_date: str
    last: str
    source: str
    method: str
    sentence: str
    note: str
    unknown: str = ""


def hours_of(facts: JobFacts, state: JobState) -> Hours:
    """The hours of each clock: those on file, moved on by what the ground runs wrote down.

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
    for entry in state.live():
        if entry.kind not in ("run_began", "run_ended") or entry.get("engine_hours", None) is None:
            continue
        given = float(entry.data["engine_hours"])
        if now is not None and given < now:
            raise BadInput(
                f"The run is written at {given:g} h since overhaul; {now:g} h were on file before. "
                "Hours do not run backwards: read the meter again."
            )
        now = given
    if base is not None and now is not None:
        clocks = {clock: round(value + now - base, 1) for clock, value in clocks.items()}
    return Hours(clocks)


def due_of(facts: JobFacts, state: JobState, today: date | None) -> tuple[Due, ...]:
    """All that recurs, in the order of ``recurring.toml``, as it stands on ``today``.

    Raises
    ------
    BadInput
        An entry of compliance names nothing on file, or lies before the one it follows.
    """
    hours = hours_of(facts, state)
    done: dict[str, Entry] = {}
    for entry in state.live():
        if entry.kind == "complied":
            _check(entry, facts, done)
            done[entry.data["recurring"]] = entry
    rate = flying_rate(facts)
    return tuple(
        _due(one, done.get(one.id), hours.on(one.clock), today, rate)
        for one in facts.recurring.values()
    )


def _check(entry: Entry, facts: JobFacts, done: Mapping[str, Entry]) -> None:
    name = entry.data["recurring"]
    one = facts.recurring.get(name)
    if one is None:
        raise BadInput(
            f'"{name}" is not in recurring.toml. It has {", ".join(facts.recurring) or "nothing"}.'
        )
    on = _full_day(entry.data["on"])
    before = done.get(name)
    earlier = _full_day(before.data["on"]) if before else one.last_on
    if earlier is not None and on < earlier:
        raise BadInput(
            f"{one.title} is written as done on {on_day(on)}; it was done on "
            f"{on_day(earlier)} already. Look at the date again."
        )
    given = entry.get("hours", None)
    last = before.get("hours", None) if before else one.last_hours
    if given is not None and last is not None and given < last:
        raise BadInput(
            f"{one.title} is written as done at {given:g} h; the last time it was at {last:g} h. "
            "Hours do not run backwards: read the meter again."
        )
    if one.every_hours is not None and given is None:
        raise BadInput(
            f"{one.title} runs on hours too. Write the {CLOCK_WORDS[one.clock]} hours it was done at."
        )


def _full_day(text: str) -> date:
    if len(text) != 10:
        raise BadInput(f'"{text}" is not a day. Write it whole, as in 2026-11-12.')
    return last_day(text)


def flying_rate(facts: JobFacts) -> float | None:
    """Hours flown in a year, by engine.toml; None where it does not say."""
    rate: Any = facts.engine.get("flying_hours_per_year")
    return float(rate) if isinstance(rate, (int, float)) and rate > 0 else None


def _due(
    one: Recurring, done: Entry | None, now: float | None, today: date | None, rate: float | None
) -> Due:
    last_on = _full_day(done.data["on"]) if done else one.last_on
    last_hours = done.get("hours", None) if done else one.last_hours
    due_hours = None
    if one.every_hours is not None and last_hours is not None:
        due_hours = round(last_hours + one.every_hours, 1)
    due_on = None
    if one.every_months is not None and last_on is not None:
        due_on = add_months(last_on, one.every_months)
        if one.to_month_end:
            due_on = last_day(f"{due_on.year:04}-{due_on.month:02}")
    hours_left = None if due_hours is None or now is None else round(due_hours - now, 1)
    days_left = None if due_on is None or today is None else (due_on - today).days
    past_hours = hours_left is not None and hours_left < 0
    past_days = days_left is not None and days_left < 0
    unknown = _unknown(one, last_hours, last_on, hours_left, days_left)
    governs = _governs(hours_left, days_left, past_hours, past_days, today, rate)
    if unknown and not (past_hours or past_days):
        governs = ""
    last = _last(last_on, last_hours, one)
    return Due(
        id=one.id,
        title=one.title,
        kind=one.kind,
        item=one.item,
        due_hours=due_hours,
        hours_left=hours_left,
        due_on=due_on,
        days_left=days_left,
        governs=governs,
        overdue=past_hours or past_days,
        blocks=one.blocks,
        by_hours=_hours_words(one, due_hours, hours_left),
        by_date=_date_words(one, due_on, days_left, today),
        last=last,
        source=_source(one, done),
        method=done.get("method") if done and done.get("method") else one.method,
        sentence=(
            f"When {one.title} is due cannot be said: {unknown}."
            if unknown and not governs
            else _sentence(one, governs, hours_left, days_left, due_on, today, rate)
        ),
        unknown="" if governs else unknown,
        note=one.note,
    )


def _unknown(
    one: Recurring,
    last_hours: float | None,
    last_on: date | None,
    hours_left: float | None,
    days_left: int | None,
) -> str:
    """Why a side that was entered cannot be counted; empty where each can."""
    by_hours = one.every_hours is not None and hours_left is None
    by_date = one.every_months is not None and days_left is None
    if (by_hours and last_hours is None) or (by_date and last_on is None):
        return "when it was last done is not entered"
    if by_hours:
        return f"the hours {CLOCK_WORDS[one.clock]} now are not on file"
    return ""


def _governs(
    hours_left: float | None,
    days_left: int | None,
    past_hours: bool,
    past_days: bool,
    today: date | None,
    rate: float | None,
) -> str:
    """What is past governs; else what is reached first at the engine's stated flying rate."""
    if past_hours and past_days:
        return "both"
    if past_hours or days_left is None:
        return "hours" if hours_left is not None else ""
    if past_days or hours_left is None:
        return "calendar"
    if rate is None or today is None:
        return ""
    flown_out = today + timedelta(days=hours_left / rate * DAYS_A_YEAR)
    return "hours" if flown_out < today + timedelta(days=days_left) else "calendar"


def _hours_words(one: Recurring, due: float | None, left: float | None) -> str:
    if one.every_hours is None:
        return "none entered"
    if due is None:
        return f"each {one.every_hours:g} h; when it was last done is not entered"
    at = f"{due:,.1f} h {CLOCK_WORDS[one.clock]}"
    if left is None:
        return f"{at}; the hours now are not on file"
    return f"{at}, {abs(left):g} h {'over' if left < 0 else 'left'}"


def _date_words(one: Recurring, due: date | None, left: int | None, today: date | None) -> str:
    if one.every_months is None:
        return "none entered"
    if due is None:
        return f"each {one.every_months:g} months; when it was last done is not entered"
    if left is None or today is None:
        return on_day(due)
    if left < 0:
        return f"{on_day(due)}, overdue {overdue_words(due, today)}"
    return f"{on_day(due)}, {left} day{'s' if left != 1 else ''} left"


def _sentence(
    one: Recurring,
    governs: str,
    hours_left: float | None,
    days_left: int | None,
    due_on: date | None,
    today: date | None,
    rate: float | None,
) -> str:
    match governs:
        case "both":
            return f"{one.title} is past by hours and by the calendar."
        case "calendar" if days_left is not None and days_left < 0 and due_on and today:
            although = f", although {hours_left:g} h remain" if hours_left is not None else ""
            return f"{one.title} is overdue {overdue_words(due_on, today)}: the calendar governs{although}."
        case "hours" if hours_left is not None and hours_left < 0:
            although = (
                f", although {days_left} {plural('day', days_left)} remain{'s' if days_left == 1 else ''}"
                if days_left is not None
                else ""
            )
            return f"{one.title} is {-hours_left:g} h over: the hours govern{although}."
        case "":
            if hours_left is None and days_left is None:
                return f"{one.title} has no interval, by hours or by date."
            return (
                f"{one.title}: which comes first cannot be said, as no flying rate is on file. "
                "Both sides hold."
            )
    at = (
        f" at {rate:g} h a year"
        if rate is not None and hours_left is not None and days_left is not None
        else ""
    )
    if days_left is None:
        return f"{one.title}: by hours only, {hours_left:g} left."
    if hours_left is None:
        return f"{one.title}: by the calendar only, {days_left} {plural('day', days_left)} left."
    first = "the hours come first" if governs == "hours" else "the calendar comes first"
    return f"{one.title}: {first}{at}."


def _last(on: date | None, hours: float | None, one: Recurring) -> str:
    parts = []
    if on is not None:
        parts.append(on_day(on))
    if hours is not None:
        parts.append(f"{hours:,.1f} h {CLOCK_WORDS[one.clock]}")
    return ", ".join(parts) or "not entered"


def _source(one: Recurring, done: Entry | None) -> str:
    document = (done.get("document") if done else "") or one.document
    revision = (done.get("revision") if done else "") or one.revision
    if not document:
        return "no source on file"
    return f"{document}, rev {revision}" if revision else document


def due_blockers(due: tuple[Due, ...]) -> list[Blocker]:
    """What is overdue, or may be, and keeps the engine from service."""
    return [
        Blocker(
            f"recurring:{one.id}",
            one.sentence,
            f"Write in recurring.toml when it was last done, or do it and write it down ({one.source})."
            if one.unknown
            else f"Do it and write it down with its date, hours and method ({one.source}).",
        )
        for one in due
        if one.blocks and (one.overdue or one.unknown)
    ]
