"""Words that the tray, the pad and why share."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from zoneinfo import ZoneInfo

from rehang.trade.facts.items import Check
from rehang.trade.facts.limits import Limit, limit_for
from rehang.trade.job.judging import JudgedJob
from rehang.trade.terms.entries import is_a
from rehang.trade.terms.kinds.readings import ReadingTaken, Seen
from rehang.trade.terms.quantities import Quantity, show
from rehang.trade.terms.wording import on_day

__all__ = [
    "ENDED_WORDS",
    "PLUG",
    "WORDS_ON_FIRST_FACE",
    "bare_number",
    "day_text",
    "masked_at",
    "plug_limit",
    "short_label",
    "unit_shown",
]

PLUG = "plug"
# Nine large words and one key for the rest fill the pad at 360 x 640 with keys of 56 px.
WORDS_ON_FIRST_FACE = 9
UNIT_SHOWN = {"kohm": "kΩ", "ohm": "Ω", "deg": "°"}
ENDED_WORDS = {
    "dropped": "dropped",
    "overheated": "overheated",
    "unknown_history": "no history",
}


def short_label(check: Check) -> str:
    """The check's name where there is room for one word."""
    if check.quantity is not None and check.quantity.name == "resistance":
        return "Ohms"
    return check.label.split(",")[0].split()[0]


def unit_shown(unit: str) -> str:
    return UNIT_SHOWN.get(unit, unit)


def day_text(when: datetime, zone: ZoneInfo) -> str:
    """``14 Oct 2026`` in the job's time zone."""
    return on_day(when.astimezone(zone))


def masked_at(judged: JudgedJob, again: str) -> tuple[str, str] | None:
    """Hole and check of a reading that is taken again: what it read is not shown meanwhile."""
    if not again:
        return None
    entry = judged.state.entry(again)
    held = judged.state.items.get(entry.item)
    check = entry.fields.check if is_a(entry, ReadingTaken, Seen) else ""
    return (held.place if held else entry.place, check)


def plug_limit(judged: JudgedJob, check: Check) -> Limit | None:
    """The limit of a check in service, where one with a source is on file."""
    limit = limit_for(judged.facts.limits, PLUG, check.name, "service")
    return limit if limit is not None and limit.has_source else None


def bare_number(quantity: Quantity) -> Callable[[float], str]:
    """A function from base steps to the number as shown, without its unit."""

    def text(base: float) -> str:
        return show(base, quantity).rsplit(" ", 1)[0]

    return text
