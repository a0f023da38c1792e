"""What comes due again by hours, by date or by both: directives, inspections, overhauls.

All of it is the user's own data; nothing here knows a directive.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from math import isfinite
from typing import Any

from rehang.trade.terms.entries import last_day
from rehang.trade.terms.errors import BadInput

__all__ = ["CLOCKS", "Recurring", "recurring_from"]

Where = Callable[..., str]
# Which of the engine's hour counts an interval runs on.
CLOCKS = ("since_overhaul", "since_new", "airframe")


@dataclass(frozen=True, slots=True)
class Recurring:
    """One line of ``recurring.toml``.

    ``every_hours`` and ``every_months`` are the intervals, None where there is none. Last done at
    ``last_hours`` of ``clock`` and on ``last_on``. ``blocks`` says whether being overdue keeps the
    engine from service. ``item`` is the item it is of, where there is one ("magneto:right").
    """

    id: str
    title: str
    kind: str
    item: str
    every_hours: float | None
    every_months: int | None
    clock: str
    last_hours: float | None
    last_on: date | None
    to_month_end: bool
    method: str
    document: str
    revision: str
    blocks: bool
    note: str


_KEYS = {
    "id", "title", "kind", "item", "every_hours", "every_months", "clock", "last_hours", "last_on",
    "to_month_end", "method", "document", "revision", "blocks", "note",
}  # fmt: skip


def recurring_from(raw: Mapping[str, Any], where: Where) -> Recurring:
    """A recurring thing from ``recurring.toml``."""
    for key in raw:
        if key not in _KEYS:
            raise BadInput(
                f'What recurs has no "{key}". It has {", ".join(sorted(_KEYS))}.', where(key)
            )
    for key in ("id", "title"):
        if not isinstance(raw.get(key), str) or not raw[key].strip():
            raise BadInput(f'What recurs needs "{key}".', where(key))
    for key in ("every_hours", "every_months", "last_hours"):
        given = raw.get(key)
        if given is not None and (
            isinstance(given, bool)
            or not isinstance(given, (int, float))
            or not isfinite(given)
            or (given <= 0 if key != "last_hours" else given < 0)
        ):
            raise BadInput(f'"{key}" of {raw["title"]} is {given}. Write more than 0.', where(key))
    months = raw.get("every_months")
    if months is not None and months != int(months):
        raise BadInput(
            f'"every_months" of {raw["title"]} is {months}. Write whole months, as in 12.',
            where("every_months"),
        )
    clock = str(raw.get("clock", "since_overhaul"))
    if clock not in CLOCKS:
        raise BadInput(
            f'"{clock}" is not a clock. Write one of {", ".join(CLOCKS)}.', where("clock")
        )
    if raw.get("every_hours") is None and raw.get("every_months") is None:
        raise BadInput(
            f"{raw['title']} has no interval. Write every_hours, every_months or both.", where("id")
        )
    last_on = raw.get("last_on")
    if isinstance(last_on, str):
        last_on = last_day(last_on, where("last_on"))
    return Recurring(
        id=raw["id"],
        title=raw["title"],
        kind=str(raw.get("kind", "inspection")),
        item=str(raw.get("item", "")),
        every_hours=raw.get("every_hours"),
        every_months=int(months) if months is not None else None,
        clock=clock,
        last_hours=raw.get("last_hours"),
        last_on=last_on,
        to_month_end=bool(raw.get("to_month_end", True)),
        method=str(raw.get("method", "")),
        document=str(raw.get("document", "")),
        revision=str(raw.get("revision", "")),
        blocks=bool(raw.get("blocks", True)),
        note=str(raw.get("note", "")),
    )
