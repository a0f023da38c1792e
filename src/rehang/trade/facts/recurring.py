"""What comes due again by hours, by date or by both: directives, inspections, overhauls.

All of it is the user's own data; nothing here knows a directive.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Annotated, Any, ClassVar

from pydantic import Field

from rehang.trade.declared.taken import Where, by_id, read
from rehang.trade.declared.values import STRICT, Flag, ListOf, Number, OneOf, Text
from rehang.trade.facts.for_models import Models
from rehang.trade.terms.days import last_day
from rehang.trade.terms.errors import BadInput

__all__ = ["Recurring", "RecurringFile", "recurring_from"]

# Which of the engine's hour counts an interval runs on.
CLOCKS = ("since_overhaul", "since_new", "airframe")


def _whole_months(given: float) -> int:
    if given != int(given):
        raise BadInput(f'"every_months" is {given:g}. Write whole months, as in 12.')
    return int(given)


@dataclass(frozen=True, slots=True, kw_only=True)
class Recurring:
    """One line of ``recurring.toml``.

    ``every_hours`` and ``every_months`` are the intervals, None where there is none. Last done at
    ``last_hours`` of ``clock`` and on ``last_on``. ``blocks`` says whether being overdue keeps the
    engine from service. ``item`` is the item it is of, where there is one ("magneto:right").
    """

    __pydantic_config__ = STRICT
    __thing__: ClassVar[str] = "What recurs"

    id: Annotated[str, Text(needed=True), Field(title="Short name")]
    title: Annotated[str, Text(needed=True), Field(title="What comes due")]
    kind: Annotated[str, Text("As in inspection or directive.")] = "inspection"
    item: Annotated[
        str, Text("What it is of, as in magneto:right."), Field(title="What it is of")
    ] = ""
    every_hours: Annotated[
        float | None, Number(most=100_000, above=0), Field(title="Every so many hours")
    ] = None
    every_months: Annotated[
        int | None,
        Number(most=1_200, above=0, parse=_whole_months),
        Field(title="Every so many months"),
    ] = None
    clock: Annotated[
        str,
        OneOf(
            CLOCKS,
            "Which hours it runs on.",
            wrong='"{given}" is not a clock. Write one of {options}.',
        ),
        Field(title="Hours that count"),
    ] = "since_overhaul"
    last_hours: Annotated[float | None, Number(0, 200_000), Field(title="Last done at, hours")] = (
        None
    )
    last_on: Annotated[
        date | None,
        Text("As in 2025-09-20, 2025-09 or 2025-Q3.", also=(date,), parse=last_day),
    ] = None
    to_month_end: Annotated[
        bool, Flag("Due on the last day of its month."), Field(title="Due at the end of its month")
    ] = True
    once: Annotated[
        bool, Flag("Done once, it is done for good."), Field(title="Done once only")
    ] = False
    at_hours: Annotated[
        float | None, Number(0, 200_000, "Of one that is done once."), Field(title="Due at, hours")
    ] = None
    by_day: Annotated[
        date | None,
        Text("Of one that is done once.", also=(date,), parse=last_day),
        Field(title="Due by, day"),
    ] = None
    event: Annotated[
        str, Text("What it falls due at, as in next overhaul."), Field(title="Due at an event")
    ] = ""
    serials: Annotated[
        tuple[str, ...],
        ListOf(Text(), "Engine serials it is for; every one if none."),
        Field(title="Engine serials"),
    ] = ()
    not_for: Annotated[
        str,
        Text("Why it does not apply to this engine; empty where it does."),
        Field(title="Does not apply, because"),
    ] = ""
    method: Annotated[str, Text()] = ""
    document: Annotated[str, Text()] = ""
    revision: Annotated[str, Text(also=(int, float))] = ""
    blocks: Annotated[
        bool,
        Flag("Overdue, it keeps the engine from service."),
        Field(title="Overdue, it grounds the engine"),
    ] = True
    note: Annotated[str, Text()] = ""
    models: Models = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class RecurringFile:
    """``recurring.toml``."""

    __pydantic_config__ = STRICT
    __thing__: ClassVar[str] = "recurring.toml"
    __words__: ClassVar[str] = "What recurs by hours or calendar: directives, inspections."

    recurring: Annotated[tuple[Recurring, ...], ListOf(Recurring)] = ()


def recurring_from(raw: Mapping[str, Any], where: Where) -> dict[str, Recurring]:
    """What recurs by its id, from ``recurring.toml``."""
    found = by_id(read(RecurringFile, raw, where).recurring, "recurring", where)
    for number, one in enumerate(found.values()):
        intervals = (one.every_hours, one.every_months)
        if one.once and intervals != (None, None):
            raise BadInput(
                f"{one.title} is done once and has an interval. Write at_hours or by_day, or take "
                "once out.",
                where("recurring", number, "once"),
            )
        if not one.once and (one.at_hours, one.by_day) != (None, None):
            raise BadInput(
                f"{one.title} has at_hours or by_day, which are of what is done once. Write once = true.",
                where("recurring", number, "id"),
            )
        # What does not apply, or falls due at an event, is counted by nothing.
        when = (*intervals, one.at_hours, one.by_day)
        if all(side is None for side in when) and not (one.event or one.not_for):
            raise BadInput(
                f"{one.title} has no interval. Write every_hours, every_months or both.",
                where("recurring", number, "id"),
            )
    return found
