"""What may go into which place: names of places, and the rules on entries that put in and take out.

Each rule here looks at one entry and at the book before it (see :mod:`rehang.trade.gate.entry_gate`); what only
the whole job can say of a place is in :mod:`rehang.trade.work.places` (DESIGN 4b, 3).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from rehang.trade.facts.accessories import KINDS as OF_ENGINE
from rehang.trade.facts.accessories import accessory_words
from rehang.trade.facts.ages import Dated
from rehang.trade.facts.engine import ACCESSORIES
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.known.cylinders_off import CYLINDER, is_off
from rehang.trade.known.state import ItemState, JobState, before, fitted_key, item_kind, item_name
from rehang.trade.terms.days import last_day
from rehang.trade.terms.entries import Entry, is_a, of_kind
from rehang.trade.terms.errors import BadInput, NotAllowed
from rehang.trade.terms.kinds.items import Fitted, Removed, Replaced
from rehang.trade.terms.kinds.papers import PapersGiven
from rehang.trade.terms.wording import is_blank, listed, on_day

__all__ = [
    "ACCESSORIES",
    "FILTER_PLACE",
    "GASKETS",
    "NAMED_BY_SERIAL",
    "OF_ENGINE",
    "accessory_words",
    "check_fitted",
    "check_papers",
    "check_removed",
    "check_replaced",
    "fitted_at",
    "hose_dates",
    "line_of",
    "place_names",
    "place_words",
]

FILTER_PLACE = "oil filter"
# A gasket goes in new, or the old one annealed. A new one comes off the count.
GASKETS = ("new", "annealed")
# Kinds whose items have their place for a name: one made or set for a place goes on nowhere else.
NAMED_BY_PLACE = ("hose", "lead", "magneto")
# Kinds whose items have the serial, or the tag, for a name.
NAMED_BY_SERIAL = ("plug", "hose")


def place_names(kind: str, facts: JobFacts, state: JobState) -> tuple[str, ...]:
    """The places of a kind of part; none where any place will do."""
    match kind:
        case "plug" | "lead":
            return tuple(facts.layout.walk)
        case "cylinder":
            return tuple(str(one) for one in facts.layout.cylinders)
        case "magneto":
            return tuple(facts.layout.ignition)
        case "hose":
            return tuple(name for name in facts.hoses if not _is_stand_in(f"hose:{name}", state))
        case "filter":
            return (FILTER_PLACE,)
        case _ if kind in OF_ENGINE:
            named = [one.item for one in facts.accessories.values() if one.kind == kind]
            return tuple(map(item_name, named)) or ((kind,) if kind in ACCESSORIES else ())
    return ()


def _is_stand_in(item_id: str, state: JobState) -> bool:
    kind, name = item_kind(item_id), item_name(item_id)
    return any(one.kind == kind and one.replaced_by == name for one in state.items.values())


def line_of(kind: str, name: str, state: JobState) -> str:
    """The place whose turn a part has: its own name, or that of the first it stands in for.

    A hose that replaced HS2 lies where HS2 lay.
    """
    seen = {name}
    while True:
        before = next(
            (o.name for o in state.items.values() if o.kind == kind and o.replaced_by == name), ""
        )
        # A book may say of two that each is in for the other.
        if not before or before in seen:
            return name
        seen.add(before)
        name = before


def fitted_at(kind: str, place: str, facts: JobFacts, state: JobState) -> Entry[Fitted] | None:
    """What was put into a place of a task and is in it still; None where nothing was."""
    if kind == "hose":
        place = line_of(kind, place, state)
    names = place_names(kind, facts, state)
    if not place and len(names) == 1:
        place = names[0]
    if not place:
        return next((e for key, e in state.fitted.items() if item_kind(key) == kind), None)
    return state.fitted.get(f"{kind}:{place}")


def place_words(kind: str, place: str) -> str:
    """A place in the middle of a sentence: a hole by its name, else the kind with it."""
    if kind == "plug":
        return place
    if kind == "magneto":
        return f"the {place} magneto's place"
    if kind == "hose":
        return f"the place of hose {place}"
    if kind in ("lead", "cylinder"):
        return f"the place of {kind} {place}"
    if kind in OF_ENGINE:
        return f"the place of the {accessory_words(kind, place)}"
    return f"the place of the {place}"


def _spelled(entry: Entry, facts: JobFacts, state: JobState) -> str:
    """The place of an entry as the job spells it, or a sentence that names the places."""
    key = fitted_key(entry, facts.layout)
    kind, place = item_kind(key), item_name(key)
    names = place_names(kind, facts, state)
    if names and place not in names:
        raise BadInput(
            f'"{entry.place}" is no place of a {kind}. '
            f"{'Its place is' if len(names) == 1 else 'Its places are'} {listed(names)}."
        )
    return place


def check_fitted(entry: Entry[Fitted], state: JobState, facts: JobFacts) -> None:
    """Whether a part may go into a place (DESIGN 4b, 3), or a sentence saying why not."""
    kind, name = item_kind(entry.item), item_name(entry.item)
    place = _spelled(entry, facts, state)
    if entry.fields.gasket and entry.fields.gasket not in GASKETS:
        raise BadInput(f'A gasket goes in {listed(GASKETS, "or")}, not "{entry.fields.gasket}".')
    if entry.fields.made:
        made = last_day(entry.fields.made, "made")
        # A month means its last day (DESIGN 4a, 14), so it is its first that may not lie ahead.
        if made.replace(day=1) > entry.at.date():
            raise BadInput(
                f"{name} was made {entry.fields.made}, which is after it went in.", "made"
            )
    _check_known(entry, state, facts)
    old = state.items.get(entry.item)
    # Its can was cut to look at the pleats: common practice, no source.
    if kind == "filter" and old is not None and (old.looks or old.counts):
        raise NotAllowed(
            f"The {name} filter was opened and looked at, and does not go on again. Put a new one in."
        )
    if kind in NAMED_BY_SERIAL and old is not None:
        if old.disposed is not None:
            raise NotAllowed(
                f"{name} was {old.disposed.fields.how} on {on_day(old.disposed.at)}. "
                "What is rejected is not put in again."
            )
        if old.replaced_by:
            raise NotAllowed(f"{name} is a reject and {old.replaced_by} is in for it. Put that in.")
    own = line_of(kind, name, state)
    if kind in NAMED_BY_PLACE and own != place and own in place_names(kind, facts, state):
        raise NotAllowed(
            f"{_named(entry)} belongs in {place_words(kind, own)} and does not go on in "
            f"{place_words(kind, place)}. Read its tag again, and write where it went on."
        )
    _check_gasket(entry, place, state, facts)
    _check_used_filter(entry, state)
    for key, other in state.fitted.items():
        # DESIGN 4b, 3: in no other place.
        if item_kind(key) != kind or _serial(other) != _serial(entry):
            continue
        words = place_words(kind, item_name(key))
        raise NotAllowed(f"{_named(entry)} is in {words}. Take it out there first.")
    # DESIGN 4b, 3: a place carries exactly one part.
    holder = state.fitted.get(f"{kind}:{place}")
    if holder is not None:
        raise NotAllowed(
            f"{_named(holder)} is in {place_words(kind, place)}. Take it out first, then put "
            f"{_named(entry)} in."
        )


def _check_gasket(entry: Entry[Fitted], place: str, state: JobState, facts: JobFacts) -> None:
    """A copper gasket is annealed once: hardened twice, it scales and thins (common practice, no source).

    The old gasket is that of the plug, or the one that was under the last plug of the hole.
    """
    if entry.fields.gasket != "annealed":
        return
    last = {
        key: one
        for one in before(entry, state)
        if is_a(one, Fitted) and item_kind(one.item) == "plug"
        for key in (one.item, fitted_key(one, facts.layout))
    }
    for key in (entry.item, f"plug:{place}"):
        one = last.get(key)
        if one is not None and one.fields.gasket == "annealed":
            raise NotAllowed(
                f"The gasket that went in with {item_name(one.item)} at {one.place} on "
                f"{on_day(one.at)} was annealed then, and a gasket is annealed once. Put a new one in."
            )


def _check_used_filter(entry: Entry[Fitted], state: JobState) -> None:
    """A filter that came off does not go on again; one batch may hold another of its number."""
    number = (entry.fields.serial or entry.fields.batch).strip().casefold()
    # A note is how a person says that this is another of the same batch.
    if item_kind(entry.item) != "filter" or not number or not is_blank(entry.fields.note):
        return
    off = [
        one
        for one in before(entry, state)
        if is_a(one, Fitted, Removed)
        and item_kind(one.item) == "filter"
        and number in (one.fields.serial.casefold(), one.fields.batch.casefold())
    ]
    if off and not any(_serial(one) == number for one in state.fitted.values()):
        raise NotAllowed(
            f"A filter with the number {entry.fields.serial or entry.fields.batch} came off this "
            "engine, and does not go on again. Put a new one in; where this is another one of its "
            "batch, say so in a note."
        )


def _serial(entry: Entry[Fitted]) -> str:
    """What tells one part from its fellows: its serial or batch, else its name."""
    if item_kind(entry.item) in NAMED_BY_SERIAL:
        return item_name(entry.item).strip().casefold()
    written = (entry.fields.serial or entry.fields.batch).strip()
    # Two parts without a number are two where their places differ.
    return (written or f"{item_name(entry.item)} at {entry.place}").casefold()


def _named(entry: Entry[Fitted]) -> str:
    if item_kind(entry.item) in NAMED_BY_SERIAL:
        return item_name(entry.item)
    serial = entry.fields.serial or entry.fields.batch
    return f"{item_kind(entry.item)} {serial or item_name(entry.item)}"


def _check_known(entry: Entry, state: JobState, facts: JobFacts) -> None:
    """A plug or a hose came out of this engine, or is in for one that did."""
    kind, name = item_kind(entry.item), item_name(entry.item)
    # Without a list of hoses nothing can tell a stranger.
    if kind not in NAMED_BY_SERIAL or (kind == "hose" and not facts.hoses):
        return
    seen = state.items.get(entry.item)
    from_here = (seen is not None and bool(seen.came_out_of)) or (
        kind == "hose" and name in facts.hoses
    )
    if not from_here and not _is_stand_in(entry.item, state):
        raise NotAllowed(
            f"{name} was never seen in this job: it came out of no place here and is in for no "
            f"{kind}. Write where it came out of, or on the page of the one it replaces that it "
            "goes in for it."
        )


def check_removed(entry: Entry[Removed], state: JobState, facts: JobFacts) -> None:
    """Whether a part may be taken out of a place."""
    place = _spelled(entry, facts, state)
    inside = state.fitted.get(fitted_key(entry, facts.layout))
    if inside is not None and inside.item != entry.item:
        raise NotAllowed(
            f"{_named(inside)} is in {place_words(item_kind(entry.item), place)}, so "
            f"{item_name(entry.item)} cannot come out of it."
        )
    kind, name = item_kind(entry.item), item_name(entry.item)
    if kind == CYLINDER and place != name:
        raise BadInput(
            f"Cylinder {name} is not in the place of cylinder {place}. Write which it is."
        )
    if kind == CYLINDER and is_off(state, name):
        raise NotAllowed(f"Cylinder {name} is off already. Put it on before it comes off again.")
    stands_for = [
        one.name
        for one in state.items.values()
        if one.kind == kind == "plug" and one.replaced_by.casefold() == name.casefold()
    ]
    # The other way round of what check_replaced refuses: one plug would be planned for two holes.
    if stands_for and inside is None:
        raise NotAllowed(
            f"{name} is to go in for {listed(stands_for)} and is in no hole yet, so it cannot come "
            f"out of {place}. Strike the one that is wrong."
        )


def check_replaced(entry: Entry[Replaced], state: JobState, facts: JobFacts) -> None:
    """One new part stands in for one reject (DESIGN 4b, 3)."""
    kind, name = item_kind(entry.item), item_name(entry.item)
    if name.casefold() == entry.fields.for_.casefold():
        raise NotAllowed(f"{name} cannot go in for itself. Write the serial of the new one.")
    others = [
        one.name
        for one in state.items.values()
        if one.kind == kind
        and one.replaced_by.casefold() == name.casefold()
        and one.name != entry.fields.for_
    ]
    if others:
        raise NotAllowed(
            f"{name} is in for {listed(others)} already, so it cannot be in for "
            f"{entry.fields.for_} too: one new part replaces one reject."
        )
    own = _of_a_hole(entry, state)
    if own is not None:
        goes = "is a reject" if own.replaced_by or own.disposed else "goes back by its own"
        raise NotAllowed(f"{own.name} came out of {own.came_out_of} and {goes}; name another.")
    if entry.fields.made:
        last_day(entry.fields.made, "made")


def _of_a_hole(entry: Entry[Replaced], state: JobState) -> ItemState | None:
    """The part as it came out of a hole of this job: its place there is planned already."""
    item_id = entry.item.casefold()
    return next(
        (one for one in state.items.values() if one.came_out_of and one.id.casefold() == item_id),
        None,
    )


def check_papers(entry: Entry[PapersGiven], state: JobState, facts: JobFacts) -> None:
    """A release document has a form and a number; without one there is a written reason."""
    about = entry.fields.about.strip()
    known: Sequence[str] = (*facts.parts, *state.items, *(e.item for e in state.fitted.values()))
    if about not in known:
        raise NotAllowed(
            f'There is no part and no item "{about}" in this job. Write the item, as in plug:N0701, '
            "or the part as the parts list names it."
        )
    told = entry.fields
    # DESIGN 4b, 3: form and number, or the shop's written reason.
    if not (told.form.strip() and told.reference.strip()) and not told.reason.strip():
        raise NotAllowed(
            "Write the form of the release document and its number, or the reason why there is none."
        )


def hose_dates(name: str, facts: JobFacts, state: JobState) -> Dated | None:
    """When a hose was made and went on, and its type; None where nothing says.

    One that came in during this job has the dates that were written when it went in, and the type
    of the hose that it stands in for.
    """
    on_file = facts.hoses.get(name)
    item = f"hose:{name}"
    if not _is_stand_in(item, state):
        return on_file
    told = [entry for entry in of_kind(state.live(), Replaced, Fitted) if entry.item == item]
    if not told:
        return on_file
    made = next((e.fields.made for e in reversed(told) if e.fields.made), "")
    kind = next((e.fields.type for e in of_kind(told, Replaced) if e.fields.type), "")
    went_in = told[-1].at.date()
    before = facts.hoses.get(line_of("hose", name, state))
    if on_file is None and before is None:
        return None
    like = on_file or before
    assert like is not None
    return replace(
        like,
        id=name,
        type=kind or like.type,
        # No day is guessed: what is not known makes the hose one of unknown history.
        made=made or (on_file.made if on_file else "unknown"),
        made_on=last_day(made) if made else (on_file.made_on if on_file else None),
        fitted=f"{went_in:%Y-%m-%d}",
        fitted_on=went_in,
        note=f"in for {before.id}" if before is not None else like.note,
        came_in=True,
    )
