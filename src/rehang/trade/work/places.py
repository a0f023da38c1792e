"""Every place of the job that carries a part: what came out of it and what is in it now.

All of it is told by entries: ``removed``, ``fitted``, ``replaced``, ``disposed``. A part that never
left its place is in it as engine.toml names it. A place ends the job with exactly one part that has
a KEEP of its own, whose serial was written, and whose papers are on file when it is new (DESIGN 4b,
3). That a serial is in two places, or one new part in for two rejects, is refused at the gate.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.known.cylinders_off import CYLINDER
from rehang.trade.known.fitting import (
    ACCESSORIES,
    NAMED_BY_SERIAL,
    OF_ENGINE,
    accessory_words,
    line_of,
    place_names,
    place_words,
)
from rehang.trade.known.state import JobState, before, item_kind, item_name
from rehang.trade.known.went_in import went_in
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.kinds.items import Fitted, Removed
from rehang.trade.terms.kinds.papers import PapersGiven
from rehang.trade.terms.kinds.stock import Arrived
from rehang.trade.terms.wording import upper_first
from rehang.trade.verdicts.item_blockers import Blocker
from rehang.trade.verdicts.item_verdict import ItemVerdict
from rehang.trade.work.rotation import Rotation
from rehang.trade.work.stock_values import Stock
from rehang.trade.work.task_states import NOT_STARTED, JobWork

__all__ = ["PlaceNow", "place_blockers", "places_now"]

# Kinds whose places are looked at where the job inspects them or engine.toml names them.
KINDS = ("plug", "lead", "hose", "magneto", "cylinder", "filter", *OF_ENGINE)


@dataclass(frozen=True, slots=True)
class PlaceNow:
    """One place of a kind, as the book leaves it.

    ``began`` is the item that was in it, ``item`` what is in it now, empty where nothing is;
    ``entry`` put it in, None where it never left. ``serial`` is its serial or batch as written.
    ``own`` is the one that engine.toml names for the place, or that was read as it came out.
    ``goes_in`` is the item that is to go in next. ``part`` is the part of ``stock.toml`` that a new
    one is, ``papers`` its release document in words.
    """

    kind: str
    name: str
    began: str
    item: str
    entry: Entry[Fitted] | None
    serial: str
    goes_in: str
    is_new: bool
    own: str
    part: str
    papers: str

    @property
    def label(self) -> str:
        if self.kind == "plug":
            return self.name
        if self.kind == "magneto":
            return f"{self.name} magneto"
        if self.kind in OF_ENGINE:
            return accessory_words(self.kind, self.name)
        return self.name if self.kind == "filter" else f"{self.kind} {self.name}"

    @property
    def key(self) -> str:
        return f"{self.kind}:{self.name}"


def places_now(
    facts: JobFacts, state: JobState, items: Sequence[ItemVerdict], rotation: Rotation
) -> tuple[PlaceNow, ...]:
    """Each place of the job, kind by kind in the order of the layout."""
    verdicts = {one.item: one for one in items}
    found = [
        _place(kind, name, facts, state, verdicts, rotation)
        for kind in KINDS
        if kind in facts.inspect
        or kind in OF_ENGINE
        or (kind == CYLINDER and facts.off)
        or any(_of(kind, key) for key in state.fitted)
        for name in place_names(kind, facts, state)
        if kind not in OF_ENGINE
        or facts.engine.get(kind)
        or f"{kind}:{name}" in facts.accessories
        or f"{kind}:{name}" in state.fitted
    ]
    known = {one.key for one in found}
    # What was put in anywhere else: isolators, a clamp, whatever was written.
    for key in state.fitted:
        if key not in known:
            found.append(_place(item_kind(key), item_name(key), facts, state, verdicts, rotation))
    return _with_papers(found, facts, state)


def _of(kind: str, key: str) -> bool:
    return item_kind(key) == kind


def _place(
    kind: str,
    name: str,
    facts: JobFacts,
    state: JobState,
    verdicts: Mapping[str, ItemVerdict],
    rotation: Rotation,
) -> PlaceNow:
    entry = state.fitted.get(f"{kind}:{name}")
    began = _began(kind, name, state)
    own = _own_serial(kind, name, facts) or _came_out_with(kind, name, began, state)
    item = entry.item if entry is not None else ""
    if entry is None and _never_left(kind, began, state, verdicts):
        item = began
    serial = own
    if entry is not None:
        serial = (entry.fields.serial or entry.fields.batch).strip()
        if kind in NAMED_BY_SERIAL:
            serial = serial or item_name(entry.item)
    return PlaceNow(
        kind=kind,
        name=name,
        began=began,
        item=item,
        entry=entry,
        serial=serial if item else "",
        goes_in=_goes_in(kind, name, began, state, rotation),
        is_new=entry is not None and _is_new(entry, serial, own, facts, state),
        own=own,
        part="",
        papers="",
    )


def _began(kind: str, name: str, state: JobState) -> str:
    if kind == "plug":
        return next(
            (o.id for o in state.items.values() if o.kind == "plug" and o.came_out_of == name), ""
        )
    if kind in ACCESSORIES or (kind in OF_ENGINE and name == kind):
        # There is one of it, so whatever name it came out under is it.
        removed = (o.id for o in state.items.values() if o.kind == kind and o.removed is not None)
        return next(removed, f"{kind}:{name}")
    return "filter:oil" if kind == "filter" else f"{kind}:{name}"


def _own_serial(kind: str, name: str, facts: JobFacts) -> str:
    """The serial that engine.toml names for what was in a place."""
    if kind == "magneto":
        held = facts.engine.get("magnetos")
        return str(held.get(name, "")) if isinstance(held, Mapping) else ""
    if kind in OF_ENGINE:
        known = facts.accessories.get(f"{kind}:{name}")
        return (known.serial if known is not None else "") or str(facts.engine.get(kind, ""))
    return name if kind == "hose" else ""


def _came_out_with(kind: str, name: str, began: str, state: JobState) -> str:
    """The serial that was read on what was in a place: as it came out, or as it went in before."""
    for entry in reversed(state.live()):
        same = entry.item == began or (is_a(entry, Fitted) and entry.place == name)
        # What stands in the place now says nothing of the one before it.
        if not same or entry is state.fitted.get(f"{kind}:{name}"):
            continue
        if is_a(entry, Removed, Fitted) and item_kind(entry.item) == kind and entry.fields.serial:
            return entry.fields.serial.strip()
    return ""


def _never_left(
    kind: str, began: str, state: JobState, verdicts: Mapping[str, ItemVerdict]
) -> bool:
    """Whether what was in a place at the beginning is in it still, without an entry to say so."""
    if kind == "plug":
        # Every plug comes out, so a hole holds what was put in and nothing else.
        return False
    one = state.items.get(began)
    if kind == "filter":
        # A filter is opened to be looked at, and does not go on again.
        return one is None or not (one.looks or one.counts)
    if one is None:
        return True
    return one.removed is None and one.disposed is None and not one.replaced_by


def _goes_in(kind: str, name: str, began: str, state: JobState, rotation: Rotation) -> str:
    if kind == "plug":
        place = rotation.place(name)
        return place.plug if place is not None else ""
    if kind == "filter":
        return "filter:new"
    one = state.items.get(began)
    seen = set()
    while one is not None and one.replaced_by and one.id not in seen:
        seen.add(one.id)
        began = f"{kind}:{one.replaced_by}"
        one = state.items.get(began)
    return began


def _is_new(entry: Entry[Fitted], serial: str, own: str, facts: JobFacts, state: JobState) -> bool:
    """Whether a part came from outside this engine."""
    kind, name = item_kind(entry.item), item_name(entry.item)
    if kind in NAMED_BY_SERIAL or kind in ("lead", "cylinder"):
        one = state.items.get(entry.item)
        # In the turn of another it is its replacement.
        if line_of(kind, name, state) != name:
            return True
        if kind in ("lead", "cylinder") and (
            entry.fields.papers or entry.fields.part or _number(own) not in ("", _number(serial))
        ):
            return True
        return kind == "plug" and not (one is not None and one.came_out_of)
    held = facts.engine.get("magnetos")
    named = [*held.values()] if kind == "magneto" and isinstance(held, Mapping) else []
    named.append(facts.engine.get(kind, ""))
    named += [each.serial for each in facts.accessories.values() if each.kind == kind]
    # One without a number counts as new: it has to show its papers.
    return not _number(serial) or _number(serial) not in map(_number, map(str, named))


def _number(serial: str) -> str:
    """The number of a serial that may stand behind maker and model: "Orrin OM-L s/n 6172"."""
    words = serial.casefold().split()
    return words[-1] if words else ""


# Papers


def _with_papers(
    places: Sequence[PlaceNow], facts: JobFacts, state: JobState
) -> tuple[PlaceNow, ...]:
    """The places with the part of each new one and the document that covers it.

    An arrival covers as many as came with it, in the order in which they first went in: a part
    that comes out and goes back keeps the papers it came with. What was lying on the shelf has
    papers of its own.
    """
    pieces = [one for one in went_in(facts, state, (Fitted,)) if one.item]
    part_of = {one.item: one.part for one in pieces if one.part}
    first = {one.item: one.entry for one in pieces}

    def came_in(place: PlaceNow) -> Entry:
        assert place.entry is not None
        return first.get(place.item, place.entry)

    live = state.live()
    own = {
        e.fields.about.strip(): words
        for e in live
        if is_a(e, PapersGiven) and (words := e.fields.papers)
    }
    came: dict[str, list[tuple[datetime, str]]] = {}
    for entry in live:
        if is_a(entry, Arrived) and entry.fields.papers:
            each = [(entry.at, entry.fields.papers)] * entry.fields.number
            came.setdefault(entry.fields.part, []).extend(each)
    order = {entry.id: number for number, entry in enumerate(live)}
    told: dict[str, tuple[str, str]] = {}
    for one in sorted(
        (p for p in places if p.is_new and p.entry is not None),
        key=lambda p: order.get(came_in(p).id, 0),
    ):
        assert one.entry is not None
        part = part_of.get(one.item, "")
        words = own.get(one.item) or one.entry.fields.papers or own.get(part, "")
        # What arrived after the part went in does not cover it.
        here = [each for each in came.get(part, ()) if each[0] <= came_in(one).at]
        if not words and here:
            came[part].remove(here[0])
            words = here[0][1]
        told[one.key] = (part, words)
    return tuple(
        replace(one, part=told[one.key][0], papers=told[one.key][1]) if one.key in told else one
        for one in places
    )


# What of the places keeps the engine from service


def place_blockers(
    facts: JobFacts,
    state: JobState,
    items: Sequence[ItemVerdict],
    places: Sequence[PlaceNow],
    work: JobWork,
    stock: Stock,
) -> list[Blocker]:
    """Each place that does not end with one part that was shown to be right (DESIGN 4b, 3)."""
    verdicts = {one.item: one for one in items}
    found = [*_empty(places, state, work), *_twice(places)]
    for one in places:
        if one.item and one.entry is not None:
            found += _of_part(one, one.entry, facts, verdicts.get(one.item), state)
    found += [
        Blocker(
            f"part:{each.part.id}",
            f"{each.below} more {each.part.name} went in than were on the shelf and had arrived.",
            "Write what arrived and when, strike what did not go in, or count the shelf again.",
        )
        for each in stock.parts.values()
        # DESIGN 4b, 3: a count below zero blocks.
        if each.below
    ]
    return found


def _empty(places: Sequence[PlaceNow], state: JobState, work: JobWork) -> list[Blocker]:
    """The places with nothing in them, kind by kind.

    Where the task that puts them in has not begun, it blocks by itself and says it once.
    """
    waiting = {
        kind
        for one in work.tasks.values()
        if one.state == NOT_STARTED and not one.task.offered
        for kind, act in one.task.acts
        if act == "fitted"
    }
    found = []
    for kind in dict.fromkeys(one.kind for one in places):
        if kind in waiting:
            continue
        for one in places:
            # A hole nobody took a plug out of is asked for where plugs come out.
            if one.kind != kind or one.item or (kind == "plug" and not one.began):
                continue
            what = "plug" if kind == "plug" else kind
            name = item_name(one.goes_in) if kind in NAMED_BY_SERIAL else f"the {one.label}"
            way = f"Put {name} in" if one.goes_in else f"Write which {what} goes in, and put it in"
            found.append(
                Blocker(
                    one.name if kind == "plug" else f"place:{one.key}",
                    f"No {what} is in {place_words(kind, one.name)}.",
                    f"{way}: {_line(one, name)}",
                )
            )
    return found


def _twice(places: Sequence[PlaceNow]) -> list[Blocker]:
    """One number on two places, where one of them is only told by engine.toml."""
    found = []
    at: dict[tuple[str, str], PlaceNow] = {}
    for one in places:
        if not one.item or one.kind in NAMED_BY_SERIAL or not _number(one.serial):
            continue
        other = at.setdefault((one.kind, _number(one.serial)), one)
        if other is not one:
            found.append(
                Blocker(
                    f"place:{one.key}",
                    f"{upper_first(other.label)} and {one.label} have the one number {one.serial}.",
                    "Read both plates, and write each part where it is.",
                )
            )
    return found


def _line(one: PlaceNow, name: str) -> str:
    page = "PUT IN, on the page of its task or on its own"
    if one.kind == "plug":
        return f"{page}, or {f'in {one.name} {name}'.strip()} on the line of the tray."
    return f"{page}."


def _of_part(
    one: PlaceNow,
    entry: Entry[Fitted],
    facts: JobFacts,
    verdict: ItemVerdict | None,
    state: JobState,
) -> list[Blocker]:
    """What is wrong with the part that was put into a place."""
    name = item_name(one.item) if one.kind in NAMED_BY_SERIAL else one.label
    where = place_words(one.kind, one.name)
    about = one.item if one.item in state.items else f"place:{one.key}"
    found: list[Blocker] = []

    def blocks(sentence: str, way_out: str, mend: str = "", *, is_unread: bool = False) -> None:
        found.append(Blocker(about, sentence, way_out, mend=mend, is_unread=is_unread))

    sheet = facts.sheets.get(one.kind)
    # A new filter has nothing to be judged by: its look is at what the old one held.
    judged = one.kind in facts.inspect and sheet is not None and one.kind != "filter"
    gone = verdict.state.disposed if verdict is not None else None
    if verdict is not None and (verdict.verdict == "REJECT" or gone is not None):
        became = f" ({gone.fields.how})" if gone is not None else ""
        blocks(
            f"{upper_first(name)}, in {where}, is a REJECT{became}"
            + (f": {verdict.because}" if verdict.why else "."),
            "Take it out, and put in the one that stands in for it.",
            f"place:{one.key}",
        )
    elif verdict is not None and one.is_new and _read_of_the_old(one.item, state):
        blocks(
            f"{upper_first(name)}, new in {where}, has no KEEP of its own: what was read is of the one "
            "before it.",
            "Take every check again on the one that is in now.",
        )
    elif judged and (verdict is None or verdict.verdict != "KEEP"):
        said = verdict.verdict if verdict is not None else "nothing of it was ever read here"
        blocks(
            f"{upper_first(name)}, in {where}, has no KEEP of its own: {said}.",
            "Take every check on it that is missing, or put in one that has its KEEP.",
            is_unread=verdict is not None and verdict.is_unread,
        )
    if not one.serial:
        blocks(
            f"{upper_first(name)} went into {where} without a serial or batch.",
            "Write its number where it stands among the places; it is then written in again.",
            f"place:{one.key}",
        )
    if one.is_new and not one.serial:
        # What it is comes first.
        return found
    if one.is_new and facts.parts and not one.part and not one.papers:
        blocks(
            f"Nothing says where {name}{f' {one.serial}' if one.serial != name else ''} in {where} "
            "came from: it is no part of this engine, and it never arrived.",
            "Write its arrival and its release document, or put back the part that belongs there.",
            f"papers:{one.item}",
        )
    elif one.is_new and not one.papers:
        blocks(
            f"{upper_first(name)}, new in {where}, has no release document on file: form and number.",
            "Write both where it arrived or on its page, or the shop's reason why there is none.",
            f"papers:{one.item}",
        )
    return found


def _read_of_the_old(item_id: str, state: JobState) -> bool:
    """Whether something that counts was read before the part that had this name last came out."""
    one = state.items.get(item_id)
    if one is None or one.removed is None or item_kind(item_id) in NAMED_BY_SERIAL:
        return False
    taken = [*(t.entry for t in one.readings if t.counts), *one.looks[-1:]]
    return any(entry in before(one.removed, state) for entry in taken)
