"""What came off the shelf and went into the engine, each piece once.

A piece may stand in the book twice: as an item that was fitted, and as a part that was used. The
part ties the two. ``fitted`` names it; what was fitted for a reject is the part of ``stock.toml``
that replaces that reject; and ``used`` may name the item that it became. A ``used`` that names no
item is the same piece as an item of its part, as many as were fitted, and no more.
"""

from __future__ import annotations

from dataclasses import dataclass

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.parts import Part
from rehang.trade.known.state import JobState, item_kind
from rehang.trade.terms.entries import Entry, is_a, of_kind
from rehang.trade.terms.kinds.items import Fitted, Replaced
from rehang.trade.terms.kinds.stock import Used

__all__ = ["WentIn", "part_for", "went_in"]


@dataclass(frozen=True, slots=True)
class WentIn:
    """So many of a part that went in: an item by its name, or a count of what has no name.

    ``part`` is empty where nothing says which part an item is. ``stands_for`` is the item that it
    went in for. ``entry`` is the first that says so; one that is only chosen is not ``is_in``.
    """

    part: str
    number: int
    item: str
    stands_for: str
    place: str
    task: str
    entry: Entry
    is_in: bool = True


def part_for(item_id: str, facts: JobFacts) -> Part | None:
    """The part that a new one of an item is: named for the very item, or for its kind."""
    for wanted in (item_id, item_kind(item_id)):
        for part in facts.parts.values():
            if wanted in part.replaces:
                return part
    return None


def went_in(
    facts: JobFacts,
    state: JobState,
    kinds: tuple[type[Replaced | Fitted], ...] = (Replaced, Fitted),
) -> tuple[WentIn, ...]:
    """Each piece that went in, once, in the order of the book.

    ``kinds`` are the entries that bring an item in: with :class:`Fitted` alone, what was chosen to go
    in and is not on yet is left out. An item that came out of this engine and went back is no new
    piece; nor is one that no part, no reject and no release document is tied to.
    """
    live = state.live()
    stands_for = {
        entry.item: f"{item_kind(entry.item)}:{entry.fields.for_}"
        for entry in live
        if is_a(entry, Replaced)
    }
    items: dict[str, list[Entry]] = {}
    loose: dict[str, list[Entry[Used]]] = {}
    for entry in live:
        if isinstance(entry.fields, kinds) or (is_a(entry, Used) and entry.item):
            items.setdefault(entry.item, []).append(entry)
        elif is_a(entry, Used):
            loose.setdefault(entry.fields.part, []).append(entry)
    found = []
    covered: dict[str, int] = {}
    for item, entries in items.items():
        old = stands_for.get(item, "")
        part = next((one for e in reversed(entries) if (one := _part_of(e))), "")
        if not part and old:
            known = part_for(old, facts)
            part = known.id if known is not None else ""
        seen = state.items.get(item)
        used = any(is_a(entry, Used) for entry in entries)
        went_back = seen is not None and seen.came_out_of and not (old or used)
        if went_back or not (
            part or old or any(e.fields.release for e in of_kind(entries, Fitted))
        ):
            continue
        if part and not used:
            covered[part] = covered.get(part, 0) + 1
        found.append(
            WentIn(
                part=part,
                number=1,
                item=item,
                stands_for=old,
                place=next((e.place for e in reversed(entries) if e.place), ""),
                task=next((e.task for e in entries if e.task), ""),
                entry=entries[0],
                # A plug is chosen on the bench days before it goes in.
                is_in=item_kind(item) != "plug" or any(is_a(e, Fitted) for e in entries),
            )
        )
    for part, ones in loose.items():
        left = covered.get(part, 0)
        for entry in ones:
            same = min(left, entry.fields.number)
            left -= same
            if entry.fields.number > same:
                found.append(
                    WentIn(
                        part=part,
                        number=entry.fields.number - same,
                        item="",
                        stands_for="",
                        place=entry.place,
                        task=entry.fields.task,
                        entry=entry,
                    )
                )
    order = {entry.id: number for number, entry in enumerate(live)}
    return tuple(sorted(found, key=lambda one: order[one.entry.id]))


def _part_of(entry: Entry) -> str:
    return entry.fields.part if is_a(entry, Fitted, Used) else ""
