"""Times and days as pages write them, in the job's time zone."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

from rehang.book import queries
from rehang.trade.job.judging import JudgedJob
from rehang.trade.terms.wording import at_time

__all__ = [
    "short_when",
    "time_text",
    "when_text",
    "zone_for",
    "zone_of",
]


def zone_of(judged: JudgedJob) -> ZoneInfo:
    return ZoneInfo(judged.facts.timezone_name)


def zone_for(person: str) -> ZoneInfo:
    """The time zone of a person's shop, else that of a job of theirs, for pages of no job."""
    books = (queries.shop_for(person), *queries.jobs(person=person, put_away=None))
    book = next((one for one in books if one is not None), None)
    return ZoneInfo(queries.facts(book).timezone_name if book is not None else "UTC")


def time_text(when: datetime, zone: ZoneInfo) -> str:
    """``11:52`` in the job's time zone."""
    return f"{when.astimezone(zone):%H:%M}"


def when_text(when: datetime, zone: ZoneInfo) -> str:
    """``14 Oct 2026, 11:52``."""
    local = when.astimezone(zone)
    return at_time(local)


def short_when(when: datetime, zone: ZoneInfo) -> str:
    """``14 Oct, 11:52``, for what lies days back, not years."""
    local = when.astimezone(zone)
    return f"{local.day} {local:%b}, {local:%H:%M}"
