"""Times and days as pages write them, in the job's time zone."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

from rehang.trade.job.judging import JudgedJob
from rehang.trade.terms.wording import at_time

__all__ = [
    "short_when",
    "time_text",
    "when_text",
    "zone_of",
]


def zone_of(judged: JudgedJob) -> ZoneInfo:
    return ZoneInfo(judged.facts.timezone_name)


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
