"""What was read inside the magnetos, of the fuel system and of accessories, for a maintenance entry."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from rehang.trade.facts.items import CheckSheet
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.drafts import LineRows
from rehang.trade.terms.wording import lower_first, on_day, upper_first
from rehang.trade.verdicts.calls import Call
from rehang.trade.verdicts.item_verdict import ItemVerdict
from rehang.trade.work.names import item_label

__all__ = ["LINES"]


def _magnetos_inside(judged: JudgedJob) -> LineRows:
    """Each magneto that was opened, with what counts of what was read for that."""
    return tuple(
        (f"{upper_first(one.name)} magneto", told)
        for one in judged.items
        if one.kind == "magneto"
        for checks in [{c.name for c in judged.facts.sheets[one.kind].checks if c.asked_after}]
        if (told := _figures([call for call in one.calls if call.check in checks]))
    )


def _of_engine(judged: JudgedJob) -> LineRows:
    """What the engine carries, each with its serial and hours and with what counts of what was read."""
    return tuple(
        (item_label(judged.facts, one.item), told)
        for one in judged.items
        if (sheet := judged.facts.sheets.get(one.kind)) is not None and sheet.is_of_engine
        if (told := ", ".join(part for part in _told(one, sheet, judged) if part))
    )


def _told(one: ItemVerdict, sheet: CheckSheet, judged: JudgedJob) -> tuple[str, ...]:
    # What another check judges stands in that one's words.
    judged_there = {check.name for check in sheet.checks if check.judged_by}
    calls = [call for call in one.calls if call.check not in judged_there]
    return _plate(one, judged), _moved(one, judged), _figures(calls, sheet.look.name)


def _moved(one: ItemVerdict, judged: JudgedJob) -> str:
    """When it came off and went in; another in its place stands among the parts."""
    off, on = one.state.removed, judged.state.fitted.get(one.item)
    said = (
        f"taken off {on_day(off.at)}" if off is not None else "",
        f"put in {on_day(on.at)}" if on is not None else "",
    )
    return ", ".join(part for part in said if part)


def _plate(one: ItemVerdict, judged: JudgedJob) -> str:
    known = judged.facts.accessories.get(one.item)
    place = next((p for p in judged.places if p.key == one.item), None)
    serial = place.serial if place is not None else ""
    if not serial:
        return ""
    # Its hours are those of the one on file.
    is_own = known is not None and known.serial.strip() == serial and known.hours is not None
    return f"s/n {serial}" + (f" with {known.hours:,.1f} h" if is_own and known else "")


def _figures(calls: Sequence[Call], look: str = "") -> str:
    return ", ".join(
        f"looked at, {lower_first(call.record)}"
        if call.check == look
        else f"{lower_first(call.label)} {call.record}"
        + (f" on {call.meter}" if call.meter else "")
        for call in calls
        if call.entry is not None and call.call not in ("NOT READ", "VOID")
    )


# The lines of the entry: name, title, and what gives the rows.
LINES: tuple[tuple[str, str, Callable[[JudgedJob], LineRows]], ...] = (
    ("inside", "Magnetos inside", _magnetos_inside),
    ("carried", "Fuel and accessories", _of_engine),
)
