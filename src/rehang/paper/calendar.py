"""Calendar files (iCalendar) that other programs open."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from icalendar import Calendar, Event, vText

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.job.judging import JudgedJob
from rehang.trade.plan.plan_values import Plan, PlanRow

__all__ = ["due_ics", "ical_text", "plan_ics"]

# Our own name for the ids of events; any fixed UUID would do.
_NAMESPACE = uuid.UUID("0c7be0a7-52c8-5a9e-8d0e-2f0f6c1f7a44")


def plan_ics(plan: Plan, facts: JobFacts) -> bytes:
    """A plan as a calendar: an event for each piece, and one all day for each arrival.

    An event's id is of the job and the piece, so that a later file moves it and adds no second.
    """
    zone = ZoneInfo(facts.timezone_name)
    made_at = plan.made_at.replace(tzinfo=zone).astimezone(ZoneInfo("UTC"))
    calendar = Calendar()
    calendar.add("prodid", "-//Rehang//plan//EN")
    calendar.add("version", "2.0")
    calendar.add("x-wr-calname", ical_text(f"Rehang: {facts.title}"))
    calendar.add("x-wr-timezone", facts.timezone_name)
    for row in plan.rows:
        event = _event(facts, f"piece:{row.key}", made_at)
        event.add("summary", ical_text(_summary(row)))
        event.add("dtstart", row.start.replace(tzinfo=zone))
        event.add("dtend", row.end.replace(tzinfo=zone))
        event.add("description", ical_text(_described(row)))
        calendar.add_component(event)
    for day in plan.days:
        for number, one in enumerate(day.arrivals):
            event = _event(facts, f"arrival:{one.part}:{number}:{one.ordered}", made_at)
            state = "due" if one.ordered else "here, when ordered in time"
            event.add("summary", ical_text(f"{one.number} {one.name} {state}"))
            event.add("dtstart", day.day)
            event.add("dtend", day.day + timedelta(days=1))
            event.add("transp", "TRANSPARENT")
            calendar.add_component(event)
    # Calendars that know the zone's rules need them in the file (RFC 5545, 3.6.5).
    last = max((row.end.date() for row in plan.rows), default=plan.made_at.date())
    calendar.add_missing_timezones(plan.made_at.date(), last + timedelta(days=1))
    written: bytes = calendar.to_ical()
    return written


def due_ics(judged: JudgedJob, made_at: datetime) -> bytes:
    """What recurs and has a day, as whole-day events; what runs on hours alone has none."""
    calendar = Calendar()
    calendar.add("prodid", "-//Rehang//next due//EN")
    calendar.add("version", "2.0")
    calendar.add("x-wr-calname", ical_text(f"Next due: {judged.facts.title}"))
    for one in judged.due:
        if one.due_on is None:
            continue
        event = _event(judged.facts, f"due:{one.id}", made_at)
        serial = judged.facts.engine.get("serial", judged.facts.job)
        event.add("summary", ical_text(f"{one.title}, {serial}"))
        event.add("dtstart", one.due_on)
        event.add("dtend", one.due_on + timedelta(days=1))
        event.add("transp", "TRANSPARENT")
        said = [
            one.sentence,
            f"By hours: {one.by_hours}.",
            f"Method: {one.method}." if one.method else "",
            f"Source: {one.source}.",
        ]
        event.add("description", ical_text("\n".join(line for line in said if line)))
        calendar.add_component(event)
    written: bytes = calendar.to_ical()
    return written


def ical_text(text: str) -> vText:
    r"""A text as a calendar holds it: each line break is \n, and no other control character is in it.

    RFC 5545, 3.3.11 (TEXT) and 3.1 (CONTROL).
    """
    lines = text.splitlines()
    return vText("\n".join("".join(c for c in one if c == "\t" or c >= " ") for one in lines))


def _event(facts: JobFacts, name: str, made_at: datetime) -> Event:
    event = Event()
    event.add("uid", f"{uuid.uuid5(_NAMESPACE, f'{facts.job}/{name}')}@rehang")
    event.add("dtstamp", made_at)
    return event


def _summary(row: PlanRow) -> str:
    places = f": {', '.join(row.places)}" if row.places else ""
    return f"{row.task} {row.title}{places}"


def _described(row: PlanRow) -> str:
    lines = []
    if row.who:
        lines.append(f"Who: {', '.join(row.who)}.")
    lines.append(f"{row.minutes} minutes of work.")
    lines += [f"Waits for {wait}." for wait in row.waits]
    if row.critical:
        lines.append("Move this and the finish moves.")
    return "\n".join(lines)
