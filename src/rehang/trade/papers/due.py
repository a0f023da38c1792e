"""Next due: by hours or by the calendar, whichever comes first, and which of the two governs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

from rehang.trade.facts.ages import add_months, overdue_words
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.recurring import Recurring
from rehang.trade.known.hours import CLOCK_WORDS, HourCounts, full_day, hours_of
from rehang.trade.known.no_more import no_more
from rehang.trade.known.promises import PROMISED, promises_of, still_owed
from rehang.trade.known.state import JobState
from rehang.trade.terms.days import last_day
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.kinds.papers import Complied, Promised, Researched
from rehang.trade.terms.wording import on_day, plural, upper_first, with_stop
from rehang.trade.verdicts.item_blockers import Blocker

__all__ = [
    "CLOCK_WORDS",
    "MAY_NOT_FLY",
    "Due",
    "HourCounts",
    "claim_blockers",
    "due_blockers",
    "due_of",
    "flying_rate",
    "hours_of",
    "last_done",
    "last_research",
    "owed_of",
]

DAYS_A_YEAR = 365.25
# The heading of what is overdue: it grounds the aircraft and no entry on other work waits for it.
MAY_NOT_FLY = "May not fly until"


@dataclass(frozen=True, slots=True)
class Due:
    """When one thing is next due.

    ``hours_left`` and ``days_left`` are below 0 once it is past. ``governs`` is ``hours``,
    ``calendar``, ``both`` (both past) or empty where it cannot be said. ``by_hours`` and
    ``by_date`` are the two sides in words; a side without an interval says "none entered".
    ``unknown`` says why it cannot be told whether it is past; what is not known passes nothing.
    ``job`` names the older job of the engine in whose book it was promised, and is written done.
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
    job: str = ""


def due_of(facts: JobFacts, state: JobState, today: date | None) -> tuple[Due, ...]:
    """All that recurs, in the order of ``recurring.toml``, then what was promised and is not done yet,
    as it stands on ``today``.
    """
    hours = hours_of(facts, state)
    done = _done(state)
    rate = flying_rate(facts)
    recurring = [
        _over(one, why, done.get(one.id))
        if (why := no_more(one, done.get(one.id), facts) or _at_event(one))
        else _due(one, done.get(one.id), hours.on(one.clock), today, rate)
        for one in (_of_what_is_in(each, facts, state) for each in facts.recurring.values())
    ]
    return (*recurring, *(_promise(e, hours, today, rate) for e in promises_of(state)))


def _of_what_is_in(one: Recurring, facts: JobFacts, state: JobState) -> Recurring:
    """What comes due of an accessory, of the one that is in: of another serial no hours are on file."""
    known = facts.accessories.get(one.id)
    entry = state.fitted.get(one.id)
    if known is None or entry is None:
        return one
    serial = entry.fields.serial.strip()
    if not serial or serial == known.serial.strip():
        return one
    return replace(
        one,
        title=f"{upper_first(known.words)}, s/n {serial}: {known.due_hours:,g} h of its own",
        once=False,
        at_hours=None,
        every_hours=known.due_hours,
        note=f"Write its serial and hours in the place of s/n {known.serial or 'unknown'}, under On file.",
    )


def _done(state: JobState) -> dict[str, Entry[Complied]]:
    return {e.fields.recurring: e for e in state.live() if is_a(e, Complied)}


def last_done(state: JobState) -> dict[str, tuple[date, float | None]]:
    """When what recurs was last done by this book, and at which hours, by its id."""
    found = {}
    for name, entry in _done(state).items():
        on = full_day(entry.fields.on)
        if on is not None:
            found[name] = (on, entry.fields.hours)
    return found


def owed_of(
    facts: JobFacts, home: JobState, others: Mapping[str, JobState], today: date | None
) -> tuple[Due, ...]:
    """What older jobs of the engine promised and nobody has answered, by the hours of ``home``."""
    hours, rate = hours_of(facts, home), flying_rate(facts)
    return tuple(
        replace(
            _promise(entry, hours, today, rate), source=f"promised in the book of {job}", job=job
        )
        for job, entry in still_owed(home, others)
    )


def _promise(
    entry: Entry[Promised], hours: HourCounts, today: date | None, rate: float | None
) -> Due:
    """What a person promised when something was closed or decided: once, by hours or by a day."""
    now = hours.on("since_overhaul")
    due_hours = entry.fields.hours
    due_on = last_day(entry.fields.on) if entry.fields.on else None
    one = Recurring(
        id=f"{PROMISED}{entry.id}",
        title=entry.fields.what,
        kind="promised",
        item=entry.item,
        every_hours=due_hours,
        # Any number would do: it has a day and no interval, and None says that none was entered.
        every_months=1 if due_on is not None else None,
        clock="since_overhaul",
        last_hours=None,
        last_on=None,
        to_month_end=False,
        method="",
        document="",
        revision="",
        blocks=False,
        note="",
    )
    hours_left, days_left = _left(due_hours, now, due_on, today)
    governs = _governs(hours_left, days_left, today, rate)
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
        # Told when it is past, and holds up nothing: a person promised it, no rule asked for it.
        overdue=_past(hours_left, days_left),
        blocks=False,
        by_hours=_hours_words(one, due_hours, hours_left),
        by_date=_date_words(one, due_on, days_left, today),
        last=f"promised on {on_day(entry.at)}",
        source="promised in this job's book",
        method="",
        sentence=_sentence(one, governs, hours_left, days_left, due_on, today, rate),
        note=with_stop(entry.fields.reason) if entry.fields.reason else "",
    )


def flying_rate(facts: JobFacts) -> float | None:
    """Hours flown in a year, by engine.toml; None where it does not say."""
    rate: Any = facts.engine.get("flying_hours_per_year")
    return float(rate) if isinstance(rate, (int, float)) and rate > 0 else None


def _at_event(one: Recurring) -> str:
    """What falls due at an event alone is counted by nothing: whoever does it writes it down."""
    counted = (one.every_hours, one.every_months, one.at_hours, one.by_day)
    if one.event and all(side is None for side in counted):
        return f"{one.title} falls due at: {one.event.rstrip('.')}."
    return ""


def _over(one: Recurring, why: str, done: Entry[Complied] | None) -> Due:
    """One that counts down to nothing."""
    last_on = full_day(done.fields.on) if done else one.last_on
    return Due(
        id=one.id,
        title=one.title,
        kind=one.kind,
        item=one.item,
        due_hours=None,
        hours_left=None,
        due_on=None,
        days_left=None,
        governs="",
        overdue=False,
        blocks=one.blocks,
        by_hours="not counted",
        by_date="not counted",
        last=_last(last_on, done.fields.hours if done else one.last_hours, one),
        source=_source(one, done),
        method=done.fields.method if done and done.fields.method else one.method,
        sentence=why,
        note=one.note,
    )


def _due(
    one: Recurring,
    done: Entry[Complied] | None,
    now: float | None,
    today: date | None,
    rate: float | None,
) -> Due:
    # The book goes before the file: it knows what was done since.
    last_on = full_day(done.fields.on) if done else one.last_on
    last_hours = done.fields.hours if done else one.last_hours
    due_hours = one.at_hours
    if one.every_hours is not None and last_hours is not None:
        # To the tenth, as the meters read.
        due_hours = round(last_hours + one.every_hours, 1)
    due_on = one.by_day
    if one.every_months is not None and last_on is not None:
        due_on = add_months(last_on, one.every_months)
        # As an annual is good to the end of its month: 14 CFR 91.409(a), from memory.
        if one.to_month_end:
            due_on = last_day(f"{due_on.year:04}-{due_on.month:02}")
    hours_left, days_left = _left(due_hours, now, due_on, today)
    cannot_be = _not_yet(one, last_hours, last_on, now, today)
    unknown = cannot_be or _unknown(one, last_hours, last_on, hours_left, days_left)
    # From a last time that cannot have been nothing can be counted.
    overdue = _past(hours_left, days_left) and not cannot_be
    governs = "" if unknown and not overdue else _governs(hours_left, days_left, today, rate)
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
        overdue=overdue,
        blocks=one.blocks,
        by_hours=_hours_words(one, due_hours, hours_left),
        by_date=_date_words(one, due_on, days_left, today),
        last=last,
        source=_source(one, done),
        method=done.fields.method if done and done.fields.method else one.method,
        sentence=(
            f"When {one.title} is due cannot be said: {unknown}."
            if unknown and not governs
            else _sentence(one, governs, hours_left, days_left, due_on, today, rate)
        ),
        unknown="" if governs else unknown,
        note=one.note,
    )


def _left(
    due_hours: float | None, now: float | None, due_on: date | None, today: date | None
) -> tuple[float | None, int | None]:
    """Hours and days left, below 0 once past; None on a side that cannot be counted."""
    return (
        None if due_hours is None or now is None else round(due_hours - now, 1),
        None if due_on is None or today is None else (due_on - today).days,
    )


def _past(*left: float | None) -> bool:
    # DESIGN 4a, 14: the due day itself is still good.
    return any(one is not None and one < 0 for one in left)


def _unknown(
    one: Recurring,
    last_hours: float | None,
    last_on: date | None,
    hours_left: float | None,
    days_left: int | None,
) -> str:
    """Why a side that was entered cannot be counted; empty where each can."""
    by_hours = (one.every_hours or one.at_hours) is not None and hours_left is None
    by_date = one.every_months is not None and days_left is None
    if (by_hours and last_hours is None and not one.once) or (by_date and last_on is None):
        return "when it was last done is not entered"
    if by_hours:
        return f"the hours {CLOCK_WORDS[one.clock]} now are not on file"
    return ""


def _not_yet(
    one: Recurring,
    last_hours: float | None,
    last_on: date | None,
    now: float | None,
    today: date | None,
) -> str:
    """Why what is written as last done cannot have been (DESIGN 4b, 8); empty where it can."""
    if last_on is not None and today is not None and last_on > today:
        return f"it is written as last done on {on_day(last_on)}, which is still to come"
    if last_hours is not None and now is not None and last_hours > now:
        return (
            f"it is written as last done at {last_hours:,.1f} h, and {now:,.1f} h "
            f"{CLOCK_WORDS[one.clock]} are on file"
        )
    return ""


def _governs(
    hours_left: float | None,
    days_left: int | None,
    today: date | None,
    rate: float | None,
) -> str:
    """What is past governs; else what is reached first at the engine's stated flying rate."""
    past_hours, past_days = _past(hours_left), _past(days_left)
    if past_hours and past_days:
        return "both"
    if past_hours or days_left is None:
        return "hours" if hours_left is not None else ""
    if past_days or hours_left is None:
        return "calendar"
    # DESIGN 4a, 14: no rate on file, so both sides are shown and it is said.
    if rate is None or today is None:
        return ""
    # The rate is of a whole year: flying that comes in seasons is not told by it.
    flown_out = today + timedelta(days=hours_left / rate * DAYS_A_YEAR)
    return "hours" if flown_out < today + timedelta(days=days_left) else "calendar"


def _hours_words(one: Recurring, due: float | None, left: float | None) -> str:
    if one.every_hours is None and one.at_hours is None:
        return "none entered"
    if due is None:
        return f"each {one.every_hours:g} h; when it was last done is not entered"
    at = f"{due:,.1f} h {CLOCK_WORDS[one.clock]}"
    if left is None:
        return f"{at}; the hours now are not on file"
    return f"{at}, {abs(left):g} h {'over' if left < 0 else 'left'}"


def _date_words(one: Recurring, due: date | None, left: int | None, today: date | None) -> str:
    if one.every_months is None and one.by_day is None:
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


def _source(one: Recurring, done: Entry[Complied] | None) -> str:
    document = (done.fields.document if done else "") or one.document
    revision = (done.fields.revision if done else "") or one.revision
    if not document:
        return "no source on file"
    return f"{document}, rev {revision}" if revision else document


def claim_blockers(facts: JobFacts, state: JobState, due: tuple[Due, ...]) -> list[Blocker]:
    """What is overdue under an inspection that this job says was made.

    A maintenance entry approves the work it describes and waits for nothing that is not part of it
    (14 CFR 43.9); an inspection that finds an aircraft airworthy does (14 CFR 43.11, 43.15).
    """
    claimed = [
        one.title
        for one in facts.recurring.values()
        if one.kind == "inspection"
        and any(is_a(e, Complied) and e.fields.recurring == one.id for e in state.live())
    ]
    old = _not_researched(facts, state) if claimed else ""
    research = [
        Blocker(
            "record:research",
            f"{' and '.join(claimed)} is written as done. {old}",
            "Look through the directives and service documents, and write by which list.",
        )
    ]
    return (research if old else []) + [
        Blocker(
            f"record:inspection:{one.about}",
            f"{' and '.join(claimed)} is written as done while this is open: {one.sentence}",
            one.way_out,
        )
        for one in due_blockers(due)
        if claimed
    ]


def last_research(state: JobState) -> Entry[Researched] | None:
    """When directives and service documents were last looked through by this book."""
    found = [one for one in state.live() if is_a(one, Researched)]
    return found[-1] if found else None


def _not_researched(facts: JobFacts, state: JobState) -> str:
    """Why the research is too old for an inspection, on the day of the last line; empty where it is not."""
    days, last = facts.shop.research_days, last_research(state)
    if days is None or not state.order:
        return ""
    if last is None:
        return "Directives and service documents have not been researched in this job."
    now = state.order[-1].at.date()
    if (now - last.at.date()).days <= days:
        return ""
    return (
        f"Directives and service documents have not been researched since {on_day(last.at)}; the shop "
        f"asks for it within {days:g} days."
    )


def due_blockers(due: tuple[Due, ...]) -> list[Blocker]:
    """What is overdue, or may be: until it is done the aircraft may not fly (DESIGN 4b, 8)."""
    return [
        Blocker(
            f"recurring:{one.id}",
            one.sentence,
            f"Enter when it was last done, or do it and write it down ({one.source})."
            if one.unknown
            else f"Do it and write it down with its date, hours and method ({one.source}).",
            MAY_NOT_FLY,
        )
        for one in due
        # What was never shown to be right is not right: not known grounds it like overdue.
        if one.blocks and (one.overdue or one.unknown)
    ]
