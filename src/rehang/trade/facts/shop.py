"""When a shop works and what its hours cost."""

import re
from dataclasses import dataclass
from datetime import date, time
from typing import Annotated, ClassVar

from pydantic import Field

from rehang.trade.declared.taken import Where
from rehang.trade.declared.values import STRICT, Day, ListOf, Number, Text
from rehang.trade.terms.errors import BadInput

__all__ = ["WEEKDAYS", "Shop", "check_opens", "clock_from", "days_from"]

WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


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


def clock_from(given: str) -> time:
    """A time of the shop's own clock out of "08:00"."""
    try:
        found = time.fromisoformat(given)
    except ValueError:
        raise BadInput(f'"{given}" is not a time. Write "08:00".') from None
    if found.tzinfo is not None:
        raise BadInput(
            f'"{given}" has an offset, and the shop goes by its own clock. Write "08:00".'
        )
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Shop:
    """``[shop_hours]`` of ``engine.toml``; ``days`` count from 0, Monday."""

    __pydantic_config__ = STRICT
    __thing__: ClassVar[str] = "[shop_hours]"
    __words__: ClassVar[str] = "When the shop works and what its hours cost."

    days: Annotated[
        tuple[int, ...],
        Text("Working days, as in Mon-Sat.", parse=days_from),
        Field(title="Working days"),
    ] = (
        0,
        1,
        2,
        3,
        4,
        5,
    )
    opens: Annotated[
        time,
        Text('When it opens, as in "08:00".', also=(time,), parse=clock_from),
        Field(alias="from", title="Opens"),
    ] = time(8)
    shuts: Annotated[
        time,
        Text('When it shuts, as in "17:00".', also=(time,), parse=clock_from),
        Field(alias="to", title="Shuts"),
    ] = time(17)
    shut_on: Annotated[frozenset[date], ListOf(Day(), into=frozenset)] = frozenset()
    research_days: Annotated[
        float | None,
        Number(1, 3_650, "An inspection asks for directives researched within so many days."),
        Field(title="Directives are researched within, days"),
    ] = None
    currency: Annotated[str, Text()] = "$"
    labour_per_hour: Annotated[
        float | None, Number(0, 1_000_000), Field(title="Labour for an hour")
    ] = None
    unplanned_visit_hours: Annotated[
        float | None,
        Number(0, 10_000, "Hours of labour that opening it again between services costs."),
        Field(title="Hours that an unplanned opening costs"),
    ] = None


def check_opens(shop: Shop, where: Where) -> None:
    """Refuse a shop that is never open."""
    if not shop.days or shop.opens >= shop.shuts:
        raise BadInput(
            f"The shop is open on {len(shop.days)} days from {shop.opens:%H:%M} to "
            f"{shop.shuts:%H:%M}, which is never. Write days, from and to.",
            where("from"),
        )
