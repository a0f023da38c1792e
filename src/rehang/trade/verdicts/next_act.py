"""The next act on an item, in words."""

from __future__ import annotations

from collections.abc import Mapping

from rehang.trade.facts.items import CheckSheet
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.limits import FROM_MEAN
from rehang.trade.facts.meters import range_words
from rehang.trade.known.state import Finding, ItemState, JobState
from rehang.trade.terms.quantities import show
from rehang.trade.verdicts.calls import Call, better_meters

__all__ = [
    "LOOK_AT_IT",
    "next_for_keep",
    "next_for_not_yet",
    "next_for_reject",
    "next_for_repeat",
    "next_for_rework",
]

LOOK_AT_IT = "Look at it."


def next_for_reject(item: ItemState) -> str:
    if item.disposed is None:
        return f"Tag {item.name} as a reject and write down what becomes of it."
    if not item.replaced_by:
        return "Fit a replacement with its own KEEP."
    return f"Replaced by {item.replaced_by}."


def next_for_rework(
    item: ItemState, sheet: CheckSheet | None, acts: list[str], by_check: Mapping[str, Call]
) -> str:
    assert sheet is not None
    act = next((a for a in acts if a), "")
    rework = sheet.reworks.get(act)
    checks = [sheet.check(v).label.lower() for v in rework.voids] if rework else []
    target = ""
    for check in sheet.checks:
        # What is worked out of all of them is not set to anything.
        if check.rework_act != act or check.method == FROM_MEAN:
            continue
        call = by_check[check.name]
        limit = call.limit_data
        if limit is not None and check.quantity is not None:
            aim = limit.aim
            # The middle leaves the most room on both sides.
            if aim is None and limit.lower is not None and limit.upper is not None:
                aim = round((limit.lower + limit.upper) / 2)
            if aim is not None:
                target = f" to {show(aim, check.quantity)}"
                break
    done = rework.done if rework else act
    return f"Have it {done}{target}, then take again: {', '.join(checks)}."


def next_for_repeat(call: Call) -> str:
    """What an OUT that rejects nothing yet waits for."""
    return f"Clean the contact and read {call.label.lower()} again."


def next_for_not_yet(
    item: ItemState,
    sheet: CheckSheet | None,
    calls: list[Call],
    open_two: list[Finding],
    facts: JobFacts,
    state: JobState,
) -> str:
    for finding in open_two:
        if finding.next_act and not finding.cleaned:
            return f"{finding.next_act}."
    for call in calls:
        if call.call == "CLOSE CALL":
            return better_words(call, facts, state)
    counts = [c for c in calls if sheet is not None and sheet.check(c.check).method == "counted"]
    for call in counts:
        if call.call in ("OUT", "NOT JUDGED"):
            return "Find where it comes from; a named person decides on the count, with a reason."
        if call.call == "NOT READ":
            return "Count the pieces, those a magnet takes, and measure the largest."
    for call in calls:
        # An OUT that rejects nothing yet waits for its repeat on a clean contact (DESIGN 4).
        if call.call == "OUT":
            return next_for_repeat(call)
    offered = {c.name for c in sheet.checks if not c.required} if sheet else set()
    for call in calls:
        if call.call in ("NOT READ", "VOID") and call.check not in offered:
            if sheet is not None and sheet.check(call.check).kind == "look":
                return LOOK_AT_IT if call.label == "Look" else f"To do: {call.label.lower()}."
            return f"Take {call.label.lower()}."
    for call in calls:
        if call.call == "NOT JUDGED":
            return f"Enter the limit for {call.label.lower()} from the maker's manual."
    return "Close the open finding with a reason."


def better_words(call: Call, facts: JobFacts, state: JobState) -> str:
    """What would settle a close call: the meter and range by name, or a named person."""
    assert call.quantity is not None
    better = better_meters(call, facts, state)
    settling = [one for one in better if one[3]]
    same = [one for one in better if one[0].id == call.meter]
    own_settles = [one for one in same if one[3]]
    if not settling:
        return "No meter on file can tell. A named person calls it, with a reason."
    meter, _name, band, _ = settling[0]
    good = show(band.width / 2, call.quantity)
    sentence = f"Read the {call.label.lower()} on {meter.id}, good to {good} there."
    if same and not own_settles:
        sentence += f" No range of {call.meter} can settle it."
    elif own_settles and meter.id != call.meter:
        sentence += f" {call.meter} on {range_words(own_settles[0][1])} would do too."
    return sentence


def next_for_keep(item: ItemState, facts: JobFacts) -> str:
    if item.kind == "plug" and item.came_out_of:
        return f"Goes to {facts.layout.next_hole(item.came_out_of)}, with a new or annealed gasket."
    return ""
