"""Where each plug goes: by the layout's map, by hand, or by the cheapest way to keep the rules.

A plug is moved so that neither its polarity nor its place keeps wearing one side of it: to the
next cylinder in the firing order, which a magneto with alternating sparks fires the other way
round, and to the other row, away from where oil and lead run to. Common practice, no source; that
one lead always fires one polarity where the number of cylinders is even is in FAA-H-8083-32,
chapter 4 (from memory). Both magnetos are taken to begin with the same polarity.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from rehang.calc.assignment import cheapest_assignment
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.layout import Layout
from rehang.trade.known.state import JobState
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.errors import NotAllowed
from rehang.trade.terms.kinds.items import Assigned
from rehang.trade.terms.wording import listed, on_day
from rehang.trade.verdicts.item_verdict import ItemVerdict

__all__ = [
    "RULES",
    "Rotation",
    "RotationChange",
    "RotationPlace",
    "best_rotation",
    "broken_rules",
    "check_assigned",
    "rotation_of",
    "with_goes_to",
]

# Rules and what breaking one weighs when the cheapest way is looked for. The weights order the
# rules and are our own choice: common practice ranks them so, no source gives numbers.
RULES: Mapping[str, float] = MappingProxyType(
    {"polarity": 4.0, "row": 3.0, "drains-to": 2.0, "same cylinder": 1.0}
)
# Ways that cost the same are settled by the layout's map, and then by the order of the walk.
OFF_THE_MAP = 0.01


@dataclass(frozen=True, slots=True)
class RotationPlace:
    """One hole, and the plug that goes into it.

    ``slot`` is the plug that came out and whose turn it is; ``plug`` what goes in: itself, its
    stand-in, or nothing yet where a new one is still to come (``is_new``). ``breaks`` are the rules
    the move breaks. ``by_map`` is the hole the layout's map sends the slot to.
    """

    hole: str
    slot: str
    plug: str
    name: str
    came_out_of: str
    is_new: bool
    by_map: str
    breaks: tuple[str, ...]
    assigned: Entry[Assigned] | None
    sentence: str


@dataclass(frozen=True, slots=True)
class RotationChange:
    """A change by hand: what went where, what it swapped with, and the rules that it breaks."""

    entry: Entry[Assigned]
    slot: str
    hole: str
    swapped: str
    breaks: tuple[str, ...]
    sentence: str


@dataclass(frozen=True, slots=True)
class Rotation:
    """Where each plug goes, hole by hole in the order of the walk.

    ``by`` says what it follows. ``goes_to`` is the hole of each item: of a plug that came out, of
    the slot of a reject, and of what stands in for one. ``cost`` is the weight of all broken rules.
    """

    places: tuple[RotationPlace, ...]
    by: str
    goes_to: Mapping[str, str]
    changes: tuple[RotationChange, ...]
    cost: float
    said: tuple[str, ...]

    def place(self, hole: str) -> RotationPlace | None:
        return next((one for one in self.places if one.hole == hole), None)

    @property
    def new_at(self) -> tuple[str, ...]:
        """The holes that take a new plug."""
        return tuple(one.hole for one in self.places if one.is_new)

    def broken(self, rule: str) -> tuple[str, ...]:
        """The holes whose plug breaks a rule by going there."""
        return tuple(one.hole for one in self.places if rule in one.breaks)


@dataclass(frozen=True, slots=True)
class _Slot:
    """The turn of one plug that came out: itself, or whatever stands in for it."""

    item: str
    plug: str
    name: str
    source: str
    is_new: bool
    worn: float


def broken_rules(layout: Layout, source: str, hole: str) -> tuple[str, ...]:
    """The rules that a plug out of ``source`` breaks by going into ``hole``.

    polarity: it keeps the polarity it had (only where the number of cylinders is even; else each
    lead changes its own). row: it stays in its row. drains-to: it goes from one hole that oil runs
    to into another. same cylinder: it stays in its cylinder.
    """
    found = []
    if _polarity(layout, source) == _polarity(layout, hole) != 0:
        found.append("polarity")
    if len(layout.rows) > 1 and layout.row_of(source) == layout.row_of(hole):
        found.append("row")
    # Where oil runs to every hole, no move keeps out of it and the rule says nothing.
    everywhere = len(layout.drains_to) == len(layout.walk)
    if not everywhere and source in layout.drains_to and hole in layout.drains_to:
        found.append("drains-to")
    if len(layout.cylinders) > 1 and layout.cylinder_of(source) == layout.cylinder_of(hole):
        found.append("same cylinder")
    return tuple(found)


def _polarity(layout: Layout, hole: str) -> int:
    """1 or -1 by the place of the cylinder in the firing order; 0 where it changes by itself."""
    if len(layout.cylinders) % 2:
        return 0
    return 1 if layout.firing_order.index(layout.cylinder_of(hole)) % 2 == 0 else -1


def rotation_of(facts: JobFacts, state: JobState, items: Sequence[ItemVerdict]) -> Rotation:
    """The rotation by the layout's map, with the changes that people wrote down.

    A change swaps: whoever was to go into the hole takes the place that is left. A later one
    stands over an earlier one.
    """
    slots = _slots(facts, state, items)
    where = {item: facts.layout.next_hole(slot.source) for item, slot in slots.items()}
    return _with_changes(facts, state, slots, where, "the layout's map")


def best_rotation(facts: JobFacts, state: JobState, items: Sequence[ItemVerdict]) -> Rotation:
    """The rotation that breaks the rules least, with the changes people wrote down kept.

    A broken rule weighs more on a plug with more of its electrode gone, and nothing on a new one.
    """
    slots = _slots(facts, state, items)
    layout = facts.layout
    order = list(slots)
    holes = _holes_for(layout, slots)
    pinned: dict[str, str] = {}
    for item, hole, _ in _assigned(facts, state, slots):
        if hole in holes:
            # The last to claim a hole has it, and a plug has the last hole it was sent to.
            pinned = {h: one for h, one in pinned.items() if one != item} | {hole: item}
    kept = {item: hole for hole, item in pinned.items()}
    cost = [
        [
            _cost(layout, slots[item], hole)
            if kept.get(item, hole) == hole and pinned.get(hole, item) == item
            # A hole that a person gave to one plug takes no other.
            else float("inf")
            for hole in holes
        ]
        for item in order
    ]
    if not order:
        return _with_changes(facts, state, slots, {}, "the cheapest way to keep the rules")
    found = cheapest_assignment(cost)
    where = {order[row]: holes[column] for row, column in found.pairs}
    return _with_changes(facts, state, slots, where, "the cheapest way to keep the rules")


def _holes_for(layout: Layout, slots: Mapping[str, _Slot]) -> list[str]:
    """The holes to be filled: all, once all plugs are out; until then those the map fills."""
    filled = {layout.next_hole(slot.source) for slot in slots.values()}
    return [hole for hole in layout.walk if hole in filled]


def _cost(layout: Layout, slot: _Slot, hole: str) -> float:
    if slot.is_new:
        weight = 0.0
    else:
        weight = (1.0 + slot.worn) * sum(
            RULES[rule] for rule in broken_rules(layout, slot.source, hole)
        )
    return weight + (OFF_THE_MAP if hole != layout.next_hole(slot.source) else 0.0)


def _slots(facts: JobFacts, state: JobState, items: Sequence[ItemVerdict]) -> dict[str, _Slot]:
    """The plugs that came out, in the order of the walk, each with what goes back in its turn."""
    verdicts = {one.item: one for one in items}
    out = {
        one.came_out_of: one
        for one in state.items.values()
        if one.kind == "plug" and one.came_out_of
    }
    found = {}
    for hole in facts.layout.walk:
        if hole not in out:
            continue
        item = out[hole]
        now = item
        while now.replaced_by and f"{now.kind}:{now.replaced_by}" in state.items:
            following = state.items[f"{now.kind}:{now.replaced_by}"]
            # A book may say of two that each is in for the other.
            if following is item or following is now:
                break
            now = following
        verdict = verdicts.get(now.id)
        gone = verdict is not None and verdict.verdict == "REJECT"
        found[item.id] = _Slot(
            item=item.id,
            plug="" if gone else now.id,
            name=f"new, for {now.name}" if gone else now.name,
            source=hole,
            is_new=gone or now is not item,
            worn=_worn(verdict),
        )
    return found


def _worn(verdict: ItemVerdict | None) -> float:
    """The share of the electrode that is gone, 0 where nobody read it."""
    for call in verdict.calls if verdict else ():
        if call.quantity is not None and call.quantity.name == "share" and call.call != "VOID":
            left = call.value if call.value is not None else call.band.centre if call.band else None
            if left is not None:
                # Shares are kept in tenths of a per cent.
                return min(1.0, max(0.0, 1.0 - left / 1000))
    return 0.0


def _assigned(
    facts: JobFacts, state: JobState, slots: Mapping[str, _Slot]
) -> list[tuple[str, str, Entry[Assigned]]]:
    """The changes by hand that still have a plug and a hole: slot, hole, entry."""
    slot_of = {slot.plug: item for item, slot in slots.items() if slot.plug}
    holes = {hole.casefold(): hole for hole in facts.layout.walk}
    found = []
    for entry in state.live():
        if not is_a(entry, Assigned):
            continue
        item = entry.item if entry.item in slots else slot_of.get(entry.item, "")
        hole = holes.get(entry.place.casefold(), "")
        if item and hole:
            found.append((item, hole, entry))
    return found


def _with_changes(
    facts: JobFacts,
    state: JobState,
    slots: Mapping[str, _Slot],
    where: Mapping[str, str],
    by: str,
) -> Rotation:
    layout = facts.layout
    now = dict(where)
    changes: list[RotationChange] = []
    by_hand: dict[str, Entry[Assigned]] = {}
    for item, hole, entry in _assigned(facts, state, slots):
        other = next((one for one, there in now.items() if there == hole and one != item), "")
        if other:
            now[other] = now[item]
            by_hand.pop(other, None)
        now[item] = hole
        by_hand[item] = entry
        changes.append(_change(facts, slots, entry, item, other, now))
    said = [
        f"The change of {on_day(entry.at)} names {entry.item} and {entry.place}, which this job "
        "does not have. It counts for nothing."
        for entry in state.live()
        if is_a(entry, Assigned) and not any(entry is change.entry for change in changes)
    ]
    slot_at = {hole: slots[item] for item, hole in now.items()}
    places = tuple(_place(layout, hole, slot_at.get(hole), by_hand) for hole in layout.walk)
    goes_to = dict(now)
    goes_to |= {slots[item].plug: hole for item, hole in now.items() if slots[item].plug}
    return Rotation(
        places=places,
        by=by,
        goes_to=MappingProxyType(goes_to),
        changes=tuple(changes),
        cost=sum(RULES[rule] for one in places for rule in one.breaks),
        said=tuple(said),
    )


def _change(
    facts: JobFacts,
    slots: Mapping[str, _Slot],
    entry: Entry[Assigned],
    item: str,
    other: str,
    now: Mapping[str, str],
) -> RotationChange:
    told = []
    broken: list[str] = []
    for one in (item, other):
        if not one or slots[one].is_new:
            continue
        breaks = broken_rules(facts.layout, slots[one].source, now[one])
        broken += breaks
        if breaks:
            told.append(f"{_why(facts.layout, slots[one], now[one], breaks)}")
    sentence = f"{facts.person(entry.by)} sends {_plug_words(slots[item])} to {now[item]}"
    if other:
        sentence += f", and {_plug_words(slots[other])} to {now[other]} in its place"
    reason = entry.fields.reason.strip().rstrip(".")
    sentence += f": {reason}." if reason else "."
    sentence += f" {' '.join(told)}" if told else " No rule is broken."
    return RotationChange(
        entry=entry,
        slot=item,
        hole=now[item],
        swapped=other,
        breaks=tuple(dict.fromkeys(broken)),
        sentence=sentence,
    )


def _plug_words(slot: _Slot) -> str:
    """A slot's plug in the middle of a sentence; a new one is still to come."""
    return slot.name if slot.plug else f"the new one {slot.name.removeprefix('new, ')}"


def _why(layout: Layout, slot: _Slot, hole: str, breaks: Sequence[str]) -> str:
    """What the broken rules mean for a plug."""
    row = next((one.name for one in layout.rows if one.letter == layout.row_of(hole)), "")
    words = {
        "polarity": "keeps its polarity, so the same electrode goes on wearing",
        "row": f"stays in the {row} row",
        "drains-to": "goes from one hole that oil runs to into another",
        "same cylinder": f"stays in cylinder {layout.cylinder_of(hole)}",
    }
    return f"{slot.name} {listed([words[rule] for rule in breaks])}."


def _place(
    layout: Layout, hole: str, slot: _Slot | None, by_hand: Mapping[str, Entry[Assigned]]
) -> RotationPlace:
    if slot is None:
        return RotationPlace(
            hole,
            "",
            "",
            "",
            "",
            False,
            "",
            (),
            None,
            f"Which plug goes to {hole} is not known yet.",
        )
    breaks = () if slot.is_new else broken_rules(layout, slot.source, hole)
    sentence = f"{hole} takes {slot.name}"
    if not slot.is_new:
        sentence += f", out of {slot.source}"
    sentence += "."
    if breaks:
        sentence += f" {_why(layout, slot, hole, breaks)}"
    return RotationPlace(
        hole=hole,
        slot=slot.item,
        plug=slot.plug,
        name=slot.name,
        came_out_of=slot.source,
        is_new=slot.is_new,
        by_map=layout.next_hole(slot.source),
        breaks=breaks,
        assigned=by_hand.get(slot.item),
        sentence=sentence,
    )


def check_assigned(
    entry: Entry[Assigned], state: JobState, facts: JobFacts, items: Sequence[ItemVerdict]
) -> None:
    """Whether a plug may be sent to a hole by hand, or a sentence saying why not.

    A reject goes nowhere: what is sent is the new one for it, and the entry says so with ``new``.
    ``items`` are the verdicts before the entry.
    """
    hole = facts.layout.check_hole(entry.place)
    item = state.items.get(entry.item)
    if item is None or item.kind != "plug":
        raise NotAllowed(f'There is no plug "{entry.item}" in this job to send to {hole}.')
    stand_ins = {f"plug:{one.replaced_by}" for one in state.items.values() if one.replaced_by}
    if not item.came_out_of and item.id not in stand_ins:
        raise NotAllowed(f"{item.name} came out of no hole here and stands in for no plug.")
    gone = item.replaced_by or any(one.item == item.id and one.verdict == "REJECT" for one in items)
    if gone and not entry.fields.new:
        raise NotAllowed(
            f"{item.name} is a REJECT and goes nowhere. Send the new one for it to {hole}: write "
            '"new" as well.'
        )
    if not gone and entry.fields.new:
        raise NotAllowed(
            f"{item.name} is no reject, so there is no new one for it. Send {item.name} itself, or "
            'leave "new" out.'
        )


def with_goes_to(items: Sequence[ItemVerdict], rotation: Rotation) -> tuple[ItemVerdict, ...]:
    """The items with the hole that each goes to by the rotation."""
    return tuple(
        one
        if one.kind != "plug" or rotation.goes_to.get(one.item, one.goes_to) == one.goes_to
        else _sent(one, rotation.goes_to[one.item])
        for one in items
    )


def _sent(one: ItemVerdict, hole: str) -> ItemVerdict:
    """An item sent to another hole, its next act with it."""
    following = one.next.replace(f"Goes to {one.goes_to},", f"Goes to {hole},")
    return replace(one, goes_to=hole, next=following)
