"""What each torque came to: what arrived at the fastener, called against its range like a reading.

DESIGN 4b, 4 and 5: each fastener of each group is shown to be right by an entry of its own, with a
wrench that can tell. What was never shown to be right is not right.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.limits import Limit, limit_for, limit_words
from rehang.trade.facts.meters import Meter, band_of
from rehang.trade.facts.torquegroups import TorqueGroup
from rehang.trade.known.cylinders_off import CYLINDER
from rehang.trade.known.doubts import last_torques, standing_torques
from rehang.trade.known.state import JobState, item_kind, item_name
from rehang.trade.known.torque import (
    TORQUE,
    adapter_from,
    arrived_at,
    in_lb,
    in_lb_words,
    in_steps,
    is_wrench,
    lever_of,
    scale_of,
    wrenches,
)
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.errors import BadInput, NotAllowed
from rehang.trade.terms.kinds.items import Fitted, Moved, Removed, Replaced, Reworked
from rehang.trade.terms.kinds.torque import Torqued
from rehang.trade.terms.kinds.work import Done, SecondLookTaken, Started
from rehang.trade.terms.quantities import parse_amount
from rehang.trade.terms.wording import (
    accuracy_not_known,
    listed,
    lower_first,
    on_day,
    plural,
    upper_first,
)

__all__ = [
    "MOVES",
    "TorqueCall",
    "TorquePlace",
    "check_torqued",
    "group_named",
    "item_of",
    "places_of_group",
    "standing_entries",
    "torque_places",
    "torque_voids",
    "what_of",
]


@dataclass(frozen=True, slots=True)
class TorqueCall:
    """What one torque came to. ``arrived`` is at the fastener, in in-lb; None where nothing can say.

    ``sentence`` says why, without the place; ``way_out`` what to do where it is not WITHIN.
    """

    entry: Entry[Torqued]
    call: str
    arrived: float | None
    p: float | None
    sentence: str
    way_out: str
    called_by: str = ""
    passes_short: bool = False


@dataclass(frozen=True, slots=True)
class TorquePlace:
    """One place of a group: the call of each of its fasteners that was torqued.

    ``calls`` goes by the number of the fastener, the turn it is tightened at; a fastener that is
    not in it was never torqued, or not since what it holds was worked on. ``standing`` are those
    that count as torqued.
    """

    group: TorqueGroup
    place: str
    calls: Mapping[int, TorqueCall]
    standing: frozenset[int]

    @property
    def label(self) -> str:
        return f"{self.group.for_each} {self.place}" if self.place else self.group.title

    @property
    def missing(self) -> tuple[int, ...]:
        every = range(1, self.group.number + 1)
        return tuple(one for one in every if one not in self.standing)


def places_of_group(facts: JobFacts, group: TorqueGroup) -> tuple[str, ...]:
    """The places of a group by the layout; one without a name where it has none."""
    match group.for_each:
        case "hole":
            return tuple(facts.layout.walk)
        case "cylinder":
            every = tuple(str(one) for one in facts.layout.cylinders)
            # At the gate, where nothing is opened yet, any of them may be meant.
            return facts.off if group.when_off and facts.off else every
        case "magneto":
            return tuple(facts.layout.ignition)
    return ("",)


def item_of(group: TorqueGroup, place: str) -> str:
    """The item a torque is written under: its place, or the group itself."""
    return f"{group.for_each}:{place}" if place else f"engine:{group.id}"


def what_of(group: TorqueGroup, place: str) -> str:
    """What a torque was put on, in words; a later one of the same words goes over it again.

    >>> from types import SimpleNamespace as group
    >>> cover = group(title="Rocker cover screws", fastener="screw", number=6, for_each="cylinder")
    >>> what_of(cover, "2")
    'rocker cover screws of cylinder 2'
    """
    words = group.fastener if place and group.number == 1 else lower_first(group.title)
    return f"{words} of {group.for_each} {place}" if place else words


def group_named(entry: Entry[Torqued], facts: JobFacts) -> tuple[TorqueGroup, str]:
    """The group of fasteners that a torque was put on, and which of its places.

    Raises
    ------
    BadInput
        It was put on nothing that has a torque card.
    """
    groups = facts.torque_groups
    what = entry.fields.what
    known = f"There are cards for {listed([lower_first(g.title) for g in groups.values()])}."
    given = entry.fields.group
    if given and given not in groups:
        raise BadInput(f'There is no torque card "{given}" in this job. {known}')
    fitting = [groups[given]] if given else _by_words(entry, groups.values())
    fitting = [one for one in fitting if _fits(entry, one)]
    if not fitting:
        raise BadInput(
            f'"{what}" of {entry.item} has no torque card: torque is put on a group of fasteners. '
            f"{known}"
        )
    group = fitting[0]
    places = places_of_group(facts, group)
    if places == ("",):
        return group, ""
    # An entry may write "cylinder 2" where the place is 2.
    wanted = entry.place.strip().casefold().removeprefix(f"{group.for_each} ")
    found = next((one for one in places if one.casefold() == wanted), None)
    on = item_name(entry.item).casefold() if item_kind(entry.item) == group.for_each else wanted
    if found is not None and on == wanted:
        return group, found
    raise BadInput(
        f"{group.title} are torqued {group.for_each} by {group.for_each}. Write which: "
        f"{', '.join(places)}."
    )


def _by_words(entry: Entry[Torqued], groups: Iterable[TorqueGroup]) -> list[TorqueGroup]:
    """The groups that an entry without a group's name may mean: of its task, or of its words."""
    every = list(groups)
    task = entry.fields.task
    words = entry.fields.what.casefold()
    # "spark plug 1T" is of the spark plugs.
    named = [one for one in every if one.title.casefold().removesuffix("s") in words]
    alike = [one for one in (every if not task else named or every) if one.task == task or not task]
    return [one for one in alike if one.fastener.casefold() in words and (task or one in named)]


def _fits(entry: Entry, group: TorqueGroup) -> bool:
    return item_kind(entry.item) in {group.for_each, group.part, "engine"} - {""}


def limit_of(group: TorqueGroup, facts: JobFacts) -> Limit | None:
    """The range on file for a group."""
    # DESIGN 4a, 6: a torque is something that is set.
    return limit_for(facts.limits, "engine", group.limit, "setting")


# The gate


def check_torqued(entry: Entry[Torqued], state: JobState, facts: JobFacts) -> None:
    """Refuse a torque that could show nothing, whatever its figure (DESIGN 4b, 4)."""
    meter = facts.meters.get(entry.fields.meter)
    if meter is None or not is_wrench(meter):
        known = [one.id for one in wrenches(facts)]
        raise BadInput(
            f"{entry.fields.meter} is not a torque wrench. "
            + (f"Those on file are {listed(known)}." if known else "Add the wrench to the meters.")
        )
    group, place = group_named(entry, facts)
    what = what_of(group, place)
    if entry.fields.of != group.number:
        raise BadInput(
            f"{upper_first(what)}: {entry.fields.of} is written where the card has "
            f"{group.number} {plural(group.fastener, group.number)}."
        )
    passes = entry.fields.passes
    if passes is not None and not 1 <= passes <= group.passes:
        raise BadInput(
            f"{upper_first(what)}: {passes} {'pass is' if passes == 1 else 'passes are'} written; "
            f"the card asks for {group.passes}. Write the passes that were made."
        )
    setting = scale_of(entry.fields)
    if setting is None:
        raise BadInput(
            f"{upper_first(what)} torqued with no value. Write what the wrench was set to, as in "
            "325 in-lb."
        )
    # Asked for its refusal alone: it raises where the lengths make no lever.
    lever_of(adapter_from(entry.fields.adapter))
    _check_range(meter, setting)
    _check_looked_at(entry, group, state, facts)


def _check_range(meter: Meter, setting: float) -> None:
    low, high = span_of(meter)
    if setting < low or (high is not None and setting > high):
        raise BadInput(
            f"{meter.id} goes from {low:g} to {high:g} in-lb; {in_lb_words(setting)} in-lb is not on "
            "its scale. Use a wrench whose range holds it."
        )


def _check_looked_at(entry: Entry, group: TorqueGroup, state: JobState, facts: JobFacts) -> None:
    """Where a look stands before the torque, the look comes first."""
    task = facts.tasks.get(group.task)
    if task is None or not task.hold or task.hold_when != "started":
        return
    doers: set[str] = set()
    looked = False
    for one in state.live():
        if one.id == entry.id:
            # While a book is folded its later entries are known already; they are not before it.
            break
        if one.task != task.id:
            continue
        if is_a(one, Started, Done, Torqued):
            doers.add(one.by)
            # What is begun again after the look is work that nobody has looked at.
            looked = looked and not is_a(one, Started)
        # A second look is another person's; who did the work gives none.
        elif is_a(one, SecondLookTaken) and one.by not in doers:
            looked = True
    if not looked:
        raise NotAllowed(
            f"{upper_first(lower_first(group.title))} are torqued after a second person has looked: "
            f"{task.id} asks for a look at {task.hold}. Get the look, then torque."
        )


# What voids a torque

# What takes a part out of a place or puts one in.
MOVES = (Fitted, Removed, Moved, Replaced)


def torque_voids(facts: JobFacts, state: JobState) -> dict[str, str]:
    """Torques that do not count any more, each with why: what they hold was worked on since."""
    return state.once("torque voids", lambda: _torque_voids(facts, state), facts)


def _torque_voids(facts: JobFacts, state: JobState) -> dict[str, str]:
    live = state.live()
    # DESIGN 4b, 14: what breaks a rule stays in the book and shows nothing.
    found = {e.id: state.faults[e.id] for e in live if is_a(e, Torqued) and e.id in state.faults}
    groups = {kind for one in facts.torque_groups.values() for kind in (one.part, *one.undone_by)}
    acts = [
        (number, one)
        for number, one in enumerate(live)
        if isinstance(one.fields, (*MOVES, Reworked)) and item_kind(one.item) in groups - {""}
    ]
    held: dict[str, str] = {}
    at = {one.id: number for number, one in enumerate(live)}
    begun: dict[tuple[str, str], list[Entry[Torqued]]] = {}
    for entry in live:
        if is_a(entry, Fitted) and entry.place:
            held[entry.place.casefold()] = entry.item
        if is_a(entry, Started):
            found |= _begun_again(entry, begun, facts)
        if not is_a(entry, Torqued) or entry.id in found:
            continue
        named = _named(entry, facts)
        if named is None:
            continue
        group, place = named
        begun.setdefault((group.id, place), []).append(entry)
        in_it = {entry.item, held.get(place.casefold(), entry.item)}
        since = [
            one
            for number, one in acts
            # By the order of the book: two entries of one minute have one time.
            if number > at[entry.id] and _touches(one, group, place, in_it, facts)
        ]
        if since:
            last = since[-1]
            did = "worked on" if is_a(last, Reworked) else last.kind
            found[entry.id] = (
                f"{item_kind(last.item)} {item_name(last.item)} was {did} on {on_day(last.at)}, after "
                "it was torqued"
            )
    return found


def _begun_again(
    started: Entry[Started], torqued: dict[tuple[str, str], list[Entry[Torqued]]], facts: JobFacts
) -> dict[str, str]:
    """What was torqued whole before its task was begun once more."""
    found: dict[str, str] = {}
    for (name, place), entries in torqued.items():
        group = facts.torque_groups[name]
        given = started.place.casefold().removeprefix(f"{group.for_each} ")
        if started.fields.task != group.task or (place and given not in ("", place.casefold())):
            continue
        if place and not given:
            # A start that names no place opens none again.
            continue
        done = {number for e in entries for number in e.fields.reach}
        # A group half done is only carried on when its task starts again; a whole one is done anew.
        if len(done) == group.number:
            found |= {e.id: f"begun again on {on_day(started.at)}" for e in entries}
            entries.clear()
    return found


def _named(entry: Entry[Torqued], facts: JobFacts) -> tuple[TorqueGroup, str] | None:
    """The group and place of a torque; None where it has none, which is a fault of the entry."""
    try:
        return group_named(entry, facts)
    except BadInput:
        return None


def standing_entries(facts: JobFacts, state: JobState) -> list[Entry[Torqued]]:
    """Torques that some fastener still has as its last, none that is void."""
    voids = torque_voids(facts, state)
    alike: dict[tuple[str, str], list[Entry[Torqued]]] = {}
    for entry in state.live():
        if is_a(entry, Torqued) and entry.id not in voids:
            named = _named(entry, facts)
            key = (named[0].id, named[1]) if named else ("", entry.fields.what)
            alike.setdefault(key, []).append(entry)
    found = {e.id: e for ones in alike.values() for e in last_torques(ones, state).values()}
    return list(found.values())


def _touches(act: Entry, group: TorqueGroup, place: str, in_it: set[str], facts: JobFacts) -> bool:
    kind = item_kind(act.item)
    if kind != group.part and not (kind in group.undone_by and isinstance(act.fields, MOVES)):
        return False
    if kind == CYLINDER and group.for_each == "hole":
        return str(facts.layout.cylinder_of(place)) == item_name(act.item)
    if is_a(act, Reworked) and group.part == "plug":
        # A plug's place is its place in the tray; what is torqued is the plug that was put in.
        return act.item in in_it
    places = {one.casefold() for one in places_of_group(facts, group)}
    named = {act.place.casefold(), item_name(act.item).casefold()} & places
    # What names no place of the group is of all of it.
    return not place or not named or place.casefold() in named


# Calls


def torque_places(facts: JobFacts, state: JobState) -> tuple[TorquePlace, ...]:
    """Every place of every group, with what each of its fasteners came to."""
    return state.once("torque places", lambda: _torque_places(facts, state), facts)


def _torque_places(facts: JobFacts, state: JobState) -> tuple[TorquePlace, ...]:
    voids = torque_voids(facts, state)
    torqued: dict[tuple[str, str], list[Entry[Torqued]]] = {}
    for entry in state.live():
        if not is_a(entry, Torqued):
            continue
        named = _named(entry, facts)
        if named is not None:
            torqued.setdefault((named[0].id, named[1]), []).append(entry)
    return tuple(
        _place(group, place, torqued.get((group.id, place), []), voids, facts, state)
        for group in facts.torque_groups.values()
        for place in places_of_group(facts, group)
    )


def _place(
    group: TorqueGroup,
    place: str,
    entries: Sequence[Entry[Torqued]],
    voids: Mapping[str, str],
    facts: JobFacts,
    state: JobState,
) -> TorquePlace:
    good = [one for one in entries if one.id not in voids]
    calls = {
        number: _void(entry, voids)
        for number, entry in last_torques(entries, state).items()
        if entry.id in voids
    }
    called: dict[str, TorqueCall] = {}
    for number, entry in last_torques(good, state).items():
        if entry.id not in called:
            called[entry.id] = call_of(entry, group, facts, state)
        calls[number] = called[entry.id]
    # An older book may have torqued more than the card has now.
    calls = {number: call for number, call in calls.items() if number <= group.number}
    return TorquePlace(
        group=group,
        place=place,
        calls=dict(sorted(calls.items())),
        standing=frozenset(standing_torques(good, state)),
    )


def _void(entry: Entry[Torqued], voids: Mapping[str, str]) -> TorqueCall:
    return TorqueCall(
        entry,
        "VOID",
        None,
        None,
        f"does not count: {voids[entry.id].rstrip('.')}",
        "Torque it again.",
    )


def call_of(
    entry: Entry[Torqued], group: TorqueGroup, facts: JobFacts, state: JobState
) -> TorqueCall:
    """What arrived at the fastener, called against the range on file with the wrench's accuracy."""
    meter = facts.meters[entry.fields.meter]
    adapter = adapter_from(entry.fields.adapter)
    setting = scale_of(entry.fields)
    assert setting is not None
    drag = in_lb(parse_amount(entry.fields.drag, TORQUE)) if entry.fields.drag else 0.0
    # AC 43.13-1B, 7-40: adapter and friction drag.
    arrived = arrived_at(setting, adapter, drag)
    said = f"{in_lb_words(arrived)} in-lb arrived ({in_lb_words(setting)} in-lb set on {meter.id}"
    said += f", {adapter.words}" if adapter else ""
    said += f", {in_lb_words(drag)} in-lb of drag)" if drag else ")"
    made = entry.fields.passes
    # What was never shown to be right is not right: passes that nobody wrote were not made.
    short = group.passes > 1 and (made is None or made < group.passes)
    limit = limit_of(group, facts)
    cannot = _cannot_judge(limit, meter)
    if cannot is not None:
        why, way_out = cannot
        return TorqueCall(
            entry, "NOT JUDGED", arrived, None, f"{said}: {why}", way_out, passes_short=short
        )
    assert limit is not None and limit.lower is not None and limit.upper is not None
    # The limits as they are on the wrench's own scale, where its accuracy is stated.
    factor = lever_of(adapter)
    lower, upper = (in_steps((in_lb(one) + drag) / factor) for one in (limit.lower, limit.upper))
    band = band_of(meter, in_steps(setting), _range_name(meter, setting))
    p = band.p_inside(lower, upper)
    call = facts.thresholds.call(p)
    asks = f"where {limit_words(limit)} is asked for"
    by = ""
    person = state.torque_calls.get(entry.id)
    # DESIGN 4a, 4: a person settles what a meter cannot tell; an OUT is torqued again.
    if call == "CLOSE CALL" and person is not None:
        call, by = person.fields.call, facts.person(person.by)
        asks += f"; called {call} by {by}: {person.fields.reason.strip().rstrip('.')}"
    elif call == "CLOSE CALL":
        asks += f"; with that wrench it is inside {p * 100:.0f} times in 100, so it cannot tell"
    # A bolt pulled too far may have yielded for good (common practice, no source).
    way_out = "Torque it again to its value" + (
        " with a better wrench, or have it called by a person who may."
        if call == "CLOSE CALL"
        else "; look first at what too much may have done to it."
        if arrived > in_lb(limit.upper)
        else "."
    )
    return TorqueCall(entry, call, arrived, p, f"{said}, {asks}", way_out, by, short)


def _cannot_judge(limit: Limit | None, meter: Meter) -> tuple[str, str] | None:
    """Why a torque is measured and not judged, and what to do; None where it can be judged."""
    if limit is None or not limit.has_source:
        return (
            "no range on file" if limit is None else "the range on file names no source",
            "Enter the range with its document, revision and page on the torque card.",
        )
    if limit.quantity is not TORQUE:
        return "the limit on file is no torque", "Write the range as a torque."
    if limit.lower is None or limit.upper is None or limit.lower == limit.upper:
        # One end lets anything by on the other side, and a figure with no width lets nothing by.
        return (
            f"{limit_words(limit)} is no range",
            "Write both ends: the figure of the manual with the tolerance that it gives.",
        )
    if meter.accuracy_not_known:
        return f"the accuracy of {meter.id} is not known", accuracy_not_known(meter.id)
    if meter.way.no_number or span_of(meter)[1] is None:
        return (
            f"{meter.id} is on file without its range and accuracy",
            f"Put {meter.id} on file as a torque wrench: lowest, highest, and what it is good to.",
        )
    return None


def span_of(meter: Meter) -> tuple[float, float | None]:
    """The lowest and highest torque on a wrench's scale, in in-lb; None where none is on file."""
    tops = [one.top for one in meter.ranges if one.top is not None]
    high = meter.highest or (max(tops) if tops else 0) or meter.full_scale
    return in_lb(meter.lowest), in_lb(high) if high else None


def _range_name(meter: Meter, setting: float) -> str:
    """The finest range of a digital wrench that holds a setting; a wrench with one scale has none."""
    holds = [one for one in meter.ranges if one.top is not None and in_lb(one.top) >= setting]
    return min(holds, key=lambda one: one.top or 0).name if holds else ""
