"""The meter in hand for each check of the tray, and those to choose from."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import unquote

from rehang.trade.facts.items import Check
from rehang.trade.facts.meters import Meter, MeterRange
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.meter_choice import meters_for_check
from rehang.trade.terms.entries import is_a
from rehang.trade.terms.kinds.readings import ReadingTaken
from rehang.trade.terms.wording import whole
from rehang.web.tray.words import PLUG

__all__ = [
    "Chosen",
    "MeterOffer",
    "chosen_meters",
    "meter_choices",
    "meter_offers",
    "meter_words",
]


# Meters chosen for each check


@dataclass(frozen=True, slots=True)
class Chosen:
    """The meter in hand for a check, its range and, for a spark, the pressure set."""

    meter: str = ""
    range: str = ""
    psi: int | None = None


def chosen_meters(judged: JudgedJob, cookie: str = "") -> dict[str, Chosen]:
    """The meter in hand for each check: chosen on this device, else last used; else to choose.

    ``cookie`` is ``check:meter:range:psi`` for each check, joined by semicolons, quoted.
    """
    sheet = judged.facts.sheets[PLUG]
    found: dict[str, Chosen] = {}
    for entry in judged.state.live():
        if is_a(entry, ReadingTaken) and entry.fields.meter and entry.item.startswith(f"{PLUG}:"):
            found[entry.fields.check] = Chosen(
                entry.fields.meter, entry.fields.range, entry.fields.at_psi
            )
    for part in unquote(cookie).split(";"):
        fields = part.split(":")
        if len(fields) != 4:
            continue
        check_name, meter, name, psi = fields
        found[check_name] = Chosen(meter, name, whole(psi))
    for check in sheet.checks:
        offers = meter_offers(check, judged)
        one = found.get(check.name)
        fits = one is not None and any(
            o.meter.id == one.meter and o.range_name == one.range for o in offers
        )
        if not fits:
            found.pop(check.name, None)
    return found


@dataclass(frozen=True, slots=True)
class MeterOffer:
    """One meter and range that can answer a check."""

    meter: Meter
    range_name: str
    one: MeterRange | None


def meter_offers(check: Check, judged: JudgedJob) -> list[MeterOffer]:
    """Meters on file that can answer a check, with each of their ranges."""
    return [
        MeterOffer(meter, one.name if one else "", one)
        for meter in meters_for_check(check, judged.facts, judged.state)
        for one in meter.ranges or (None,)
    ]


@dataclass(frozen=True, slots=True)
class MeterButton:
    """One button of the meter's list: its key for the form and what it says."""

    key: str
    words: str
    small: str


def meter_choices(judged: JudgedJob, check_name: str) -> tuple[MeterButton, ...]:
    """The meters that can answer a check, ready for a form."""
    check = judged.facts.sheets[PLUG].check(check_name)
    return tuple(
        MeterButton(
            f"{o.meter.id}|{o.range_name}",
            f"{o.meter.id} {o.range_name}".strip(),
            f"{o.meter.name}, {o.meter.worth}" if o.meter.worth else o.meter.name,
        )
        for o in meter_offers(check, judged)
    )


def meter_words(chosen: Chosen) -> str:
    """``AN-1 on x10``, ``DM-2``, ``SB-1 at 100 psi``."""
    if not chosen.meter:
        return ""
    text = f"{chosen.meter} {chosen.range}".strip()
    return f"{text}, {chosen.psi} psi" if chosen.psi is not None else text
