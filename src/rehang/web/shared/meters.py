"""Meters to choose from in a form, and how each stands."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from rehang.trade.facts.items import Check
from rehang.trade.facts.meters import Meter
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.meter_choice import chosen_meter, meters_for_check
from rehang.trade.terms.wording import on_day

__all__ = [
    "SOON_DAYS",
    "CertificateRow",
    "MeterChoice",
    "certificate_rows",
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
class CertificateRow:
    """A meter whose certificate is past its day, or soon will be."""

    meter: str
    name: str
    words: str
    is_past: bool


def certificate_rows(judged: JudgedJob, today: date) -> list[CertificateRow]:
    """Meters that are past their day and not proved since, then those due within 30 days."""
    found = []
    for meter in judged.facts.meters.values():
        if meter.due is None or not (certificate_soon(meter, today) or today > meter.due):
            continue
        is_past = today > meter.due
        if is_past and not judged.state.standing(meter, today):
            continue
        words = f"OUT OF DATE since {on_day(meter.due)}" if is_past else f"due {on_day(meter.due)}"
        found.append((meter.due, CertificateRow(meter.id, meter.name, words, is_past)))
    return [row for _, row in sorted(found, key=lambda one: one[0])]


@dataclass(frozen=True, slots=True)
class MeterChoice:
    """A meter and range to pick in a form."""

    value: str
    label: str
    chosen: bool


def meter_choices(judged: JudgedJob, check: Check, chosen: str = "") -> list[MeterChoice]:
    """Meters that can take a check, the one that a person chose for it picked.

    Until somebody has chosen, the first choice is to choose. ``chosen`` is ``meter|range``, or a
    meter alone, which is then picked with its first range.
    """
    if not chosen:
        chosen = "|".join(chosen_meter(check, judged.facts, judged.state))
    held = judged.facts.meters.get(chosen)
    if held is not None:
        chosen = f"{chosen}|{held.ranges[0].name if held.ranges else ''}"
    found = []
    for meter in meters_for_check(check, judged.facts, judged.state):
        for range_name in [r.name for r in meter.ranges] or [""]:
            value = f"{meter.id}|{range_name}"
            label = f"{meter.id}, {meter.name}" + (f", {range_name}" if range_name else "")
            found.append(MeterChoice(value, label, value == chosen))
    if found and not any(one.chosen for one in found):
        found.insert(0, MeterChoice("", "Choose the meter", chosen=True))
    return found
