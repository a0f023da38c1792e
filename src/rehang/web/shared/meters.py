"""Meters to choose from in a form, and how each stands."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from rehang.trade.facts.items import Check
from rehang.trade.facts.meters import Meter
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.meter_choice import chosen_meter, meters_for_check

__all__ = [
    "SOON_DAYS",
    "MeterChoice",
    "certificate_soon",
    "meter_choices",
    "meter_standing",
]


def meter_standing(judged: JudgedJob, meter: Meter, today: date) -> str:
    """Empty when it may be used today; else the two or three words that say so."""
    if judged.state.is_out(meter.id) is not None:
        return "FOUND OUT"
    if not judged.state.standing(meter, today):
        return ""
    return "NO CALIBRATION" if meter.due is None else "OUT OF DATE"


# How long before its day a certificate is said to come due: common practice, no source.
SOON_DAYS = 30


def certificate_soon(meter: Meter, today: date) -> bool:
    """Whether a meter in date comes due within the next 30 days, that day included."""
    return meter.due is not None and 0 <= (meter.due - today).days <= SOON_DAYS


@dataclass(frozen=True, slots=True)
class MeterChoice:
    """A meter and range to pick in a form."""

    value: str
    label: str
    chosen: bool


def meter_choices(judged: JudgedJob, check: Check, chosen: str = "") -> list[MeterChoice]:
    """Meters that can take a check, the one that a person chose for it picked.

    Until somebody has chosen, the first choice is to choose. ``chosen`` is ``meter|range``.
    """
    if not chosen:
        chosen = "|".join(chosen_meter(check, judged.facts, judged.state))
    found = []
    for meter in meters_for_check(check, judged.facts, judged.state):
        for range_name in [r.name for r in meter.ranges] or [""]:
            value = f"{meter.id}|{range_name}"
            label = f"{meter.id}, {meter.name}" + (f", {range_name}" if range_name else "")
            found.append(MeterChoice(value, label, value == chosen))
    if found and not any(one.chosen for one in found):
        found.insert(0, MeterChoice("", "Choose the meter", chosen=True))
    return found
