"""Which meters can take a check, and which one a person has chosen for it (DESIGN 4b, 12).

A meter is for what its ``use`` on file names; without one, what reads through an orifice is for
compression and wires are for gaps. Where some meter on file is for a check, those that say
nothing of themselves do not take it.
"""

from __future__ import annotations

from collections.abc import Mapping

from rehang.trade.facts.items import Check
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.meters import Meter
from rehang.trade.known.state import JobState, item_kind
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.kinds.meters import MasterRead
from rehang.trade.terms.kinds.readings import ReadingTaken
from rehang.trade.terms.wording import listed

__all__ = ["chosen_meter", "meter_takes_check", "meters_for_check", "why_not"]


def meters_for_check(check: Check, facts: JobFacts, state: JobState) -> list[Meter]:
    """The meters on file that can take a check, in their order; none that was found out."""
    if check.kind == "look" or check.by_eye:
        return []
    return [
        meter
        for meter in facts.meters.values()
        if state.is_out(meter.id) is None and not why_not(meter, check, facts.meters)
    ]


def why_not(meter: Meter, check: Check, meters: Mapping[str, Meter]) -> str:
    """Why a meter cannot take a check; empty when it can."""
    uses = _uses(meter)
    if check.kind == "measure" and (meter.way.no_number or meter.quantity is not check.quantity):
        gives = meter.quantity.name if meter.quantity else "no number"
        wanted = check.quantity.name if check.quantity else "a number"
        return f"{meter.id} reads {gives}; {check.label.lower()} is read as {wanted}."
    if check.kind == "grade" and not meter.way.no_number and check.use not in uses:
        return f"{meter.id} gives a number; {check.label.lower()} is graded on a tester."
    if check.use in uses:
        return ""
    if uses:
        return (
            f"{meter.id} is for {listed(uses)}; {check.label.lower()} takes a meter for "
            f"{check.use}."
        )
    own = [one.id for one in meters.values() if check.use in _uses(one)]
    if own:
        return (
            f"{check.label} is read on {listed(own, 'or')}, on file for {check.use}; "
            f"{meter.id} is not."
        )
    return ""


def _uses(meter: Meter) -> tuple[str, ...]:
    if meter.use:
        return meter.use
    if meter.orifice:
        return ("compression",)
    return meter.way.uses


def chosen_meter(check: Check, facts: JobFacts, state: JobState) -> tuple[str, str]:
    """The meter and range that a person last chose for a check; empty until somebody has.

    Nothing is guessed: not the first on file, and not the only one.
    """
    can = {meter.id for meter in meters_for_check(check, facts, state)}
    for entry in reversed(state.live()):
        if is_a(entry, ReadingTaken) and entry.fields.check == check.name:
            meter = entry.fields.meter
            # A check of the same name on another sheet is another check.
            if meter in can and _sheet_check(entry, facts) == check:
                return meter, entry.fields.range
    return "", ""


def meter_takes_check(
    entry: Entry[ReadingTaken | MasterRead], state: JobState, facts: JobFacts
) -> None:
    """Refuse a reading, or a master of the day, on a meter that cannot take it."""
    meter = facts.meters.get(entry.fields.meter)
    if meter is None:
        # One that is not on file is refused where the reading is understood.
        return
    if is_a(entry, ReadingTaken):
        check = _sheet_check(entry, facts)
    else:
        check = next(
            (c for s in facts.sheets.values() for c in s.checks if c.method == "compression"), None
        )
    why = why_not(meter, check, facts.meters) if check is not None and not check.by_eye else ""
    if why:
        raise BadInput(why, "meter")


def _sheet_check(entry: Entry[ReadingTaken], facts: JobFacts) -> Check | None:
    sheet = facts.sheets.get(item_kind(entry.item))
    return next((c for c in sheet.checks if c.name == entry.fields.check), None) if sheet else None
