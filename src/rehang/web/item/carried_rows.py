"""What the engine carries and what meters its fuel, as the engine page shows it."""

from __future__ import annotations

from dataclasses import dataclass

from rehang.trade.facts.fuel_systems import FUEL_SYSTEMS
from rehang.trade.job.judging import JudgedJob
from rehang.trade.papers.due import hours_of
from rehang.trade.terms.wording import listed, upper_first

__all__ = ["Carried", "CarriedRow", "carried"]

_HAS = {"carburettor": "by a carburettor", "injection": "by injection"}


@dataclass(frozen=True, slots=True)
class CarriedRow:
    """One accessory: where it has a page, ``item``; its plate, its hours now, and what is due of it."""

    item: str
    key: str
    label: str
    plate: str
    hours: str
    due: str
    is_past: bool


@dataclass(frozen=True, slots=True)
class Carried:
    """What meters the fuel in a sentence, whether it is known, and each accessory."""

    fuel: str
    is_fuel_known: bool
    rows: tuple[CarriedRow, ...]


def carried(judged: JudgedJob) -> Carried:
    """What meters the engine's fuel and what it carries, in the order of the engine's file."""
    fuel = judged.facts.fuel_system
    said = f"Fuel is metered {_HAS[fuel]}." if fuel else ""
    if not fuel:
        said = (
            f"Not on file what meters its fuel, {listed(FUEL_SYSTEMS, 'or')}: carburettor heat is asked "
            "for, and nothing of injectors."
        )
        if "injector" in judged.facts.inspect:
            said = (
                f"Not on file what meters its fuel, {listed(FUEL_SYSTEMS, 'or')}: what is of both is "
                "asked for."
            )
    return Carried(said, bool(fuel), tuple(_row(item, judged) for item in judged.facts.accessories))


def _row(item: str, judged: JudgedJob) -> CarriedRow:
    one = judged.facts.accessories[item]
    place = next((p for p in judged.places if p.key == item), None)
    serial = place.serial if place is not None and place.item else ""
    due = next((d for d in judged.due if d.id == item), None)
    plate = " ".join(part for part in (one.maker, f"s/n {serial}" if serial else "") if part)
    if place is not None and not place.item:
        plate = f"off (s/n {one.serial})" if one.serial else "off"
    return CarriedRow(
        item=item if any(v.item == item for v in judged.items) else "",
        key=" ".join(part for part in (one.kind, one.name) if part),
        label=upper_first(one.words),
        plate=plate or "no serial on file",
        hours=_hours(item, serial, judged),
        due=(due.by_hours if not due.unknown else due.sentence) if due is not None else "",
        is_past=due is not None and (due.overdue or bool(due.unknown)),
    )


def _hours(item: str, serial: str, judged: JudgedJob) -> str:
    """Its own hours, with what the engine ran since; empty where a part of that is not known."""
    one = judged.facts.accessories[item]
    now = hours_of(judged.facts, judged.state).on("since_overhaul")
    if one.hours is None or (serial and serial != one.serial.strip()):
        return ""
    if one.engine_hours is None or now is None:
        return f"{one.hours:,.1f} h when it was written"
    return f"{one.hours + now - one.engine_hours:,.1f} h"
