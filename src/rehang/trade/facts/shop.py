"""When a shop works and what its hours cost."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, time
from typing import Any

from rehang.trade.terms.errors import BadInput

__all__ = ["WEEKDAYS", "Shop", "days_from", "shop_from"]

WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
Where = Callable[..., str]


@dataclass(frozen=True, slots=True)
class Shop:
    """Working days (0 Monday to 6 Sunday), hours, days it is shut, money.

    ``unplanned_visit`` is what opening the engine again between services costs the owner, in
    hours of labour.
    """

    days: tuple[int, ...] = (0, 1, 2, 3, 4, 5)
    opens: time = time(8)
    shuts: time = time(17)
    shut_on: frozenset[date] = frozenset()
    currency: str = "$"
    labour_per_hour: float | None = None
    unplanned_visit_hours: float | None = None


_KEYS = {
    "days", "from", "to", "shut_on", "currency", "labour_per_hour", "unplanned_visit_hours",
}  # fmt: skip


def days_from(text: str, where: str = "") -> tuple[int, ...]:
    """Weekdays out of "Tue, Thu" or "Mon-Sat", Monday 0.

    >>> days_from("Mon-Wed, Sat")
    (0, 1, 2, 5)
    """
    found: set[int] = set()
    for part in (p.strip() for p in text.split(",") if p.strip()):
        ends = [end.strip()[:3].capitalize() for end in re.split(r"\s*-\s*", part)]
        if len(ends) > 2 or any(end not in WEEKDAYS for end in ends):
            raise BadInput(f'"{part}" is not a weekday. Write "Tue, Thu" or "Mon-Sat".', where)
        first, last = WEEKDAYS.index(ends[0]), WEEKDAYS.index(ends[-1])
        if last < first:
            raise BadInput(f'"{part}" runs backwards. Write "Mon-Sat".', where)
        found.update(range(first, last + 1))
    return tuple(sorted(found))


def shop_from(raw: Mapping[str, Any], where: Where) -> Shop:
    """The ``[shop_hours]`` table of ``engine.toml``."""
    for key in raw:
        if key not in _KEYS:
            raise BadInput(
                f'[shop_hours] has no "{key}". It has {", ".join(sorted(_KEYS))}.', where(key)
            )
    days = days_from(str(raw.get("days", "Mon-Sat")), where("days"))
    opens = _clock(raw.get("from", time(8)), where("from"))
    shuts = _clock(raw.get("to", time(17)), where("to"))
    if not days or opens >= shuts:
        raise BadInput(
            f"The shop is open on {len(days)} days from {opens:%H:%M} to {shuts:%H:%M}, which is "
            "never. Write days, from and to.",
            where("from"),
        )
    shut_on = raw.get("shut_on", [])
    if not isinstance(shut_on, list) or not all(type(day) is date for day in shut_on):
        raise BadInput('"shut_on" is a list of dates, as in [2026-11-26].', where("shut_on"))
    return Shop(
        days=days,
        opens=opens,
        shuts=shuts,
        shut_on=frozenset(shut_on),
        currency=str(raw.get("currency", "$")),
        labour_per_hour=_money(raw, "labour_per_hour", where),
        unplanned_visit_hours=_money(raw, "unplanned_visit_hours", where),
    )


def _clock(given: object, where: str) -> time:
    try:
        found = given if isinstance(given, time) else time.fromisoformat(str(given))
    except ValueError:
        raise BadInput(f'"{given}" is not a time. Write "08:00".', where) from None
    if found.tzinfo is not None:
        raise BadInput(
            f'"{given}" has an offset, and the shop goes by its own clock. Write "08:00".', where
        )
    return found


def _money(raw: Mapping[str, Any], key: str, where: Where) -> float | None:
    given = raw.get(key)
    if given is None:
        return None
    if isinstance(given, bool) or not isinstance(given, (int, float)) or given < 0:
        raise BadInput(f'"{key}" is {given}. Write a number of 0 or more.', where(key))
    return float(given)
