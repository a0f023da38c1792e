"""What torque leaves open: fasteners never torqued, torqued wrong, or torqued by nothing that tells."""

from __future__ import annotations

from collections.abc import Sequence

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.torquegroups import TorqueGroup
from rehang.trade.known.fastened import TorqueCall, TorquePlace, torque_places
from rehang.trade.known.state import JobState
from rehang.trade.terms.wording import listed, lower_first, plural, upper_first
from rehang.trade.verdicts.item_blockers import Blocker
from rehang.trade.work.task_states import JobWork, WorkPlace

__all__ = ["fasteners_words", "torque_blockers"]


def torque_blockers(facts: JobFacts, state: JobState, work: JobWork) -> list[Blocker]:
    """Every group of fasteners that is not shown to be right (DESIGN 4b, 4)."""
    found: list[Blocker] = []
    by_group: dict[str, list[TorquePlace]] = {}
    for one in torque_places(facts, state):
        by_group.setdefault(one.group.id, []).append(one)
    for name, places in by_group.items():
        group = facts.torque_groups[name]
        about = f"torque:{name}"
        found += [Blocker(about, *said) for said in _wrong(places)]
        gone = [(p, numbers) for p in places if (numbers := _gone(p, work))]
        if gone:
            found.append(Blocker(about, _missing_words(group, gone, len(places)), _way_out(gone)))
    carded = {one.task for one in facts.torque_groups.values()}
    found += [
        Blocker(
            f"torque:{one.task.id}",
            f"{one.task.title} ({one.task.id}) has {one.task.fasteners} "
            f"{plural(one.task.fastener, one.task.fasteners)} and no torque card.",
            "Enter them under Fasteners to torque, with the name of their range.",
        )
        for one in work.tasks.values()
        # DESIGN 4b, 4: a group that a sheet calls for and that has no card blocks.
        if one.task.fasteners and one.task.id not in carded and one.state != "CLOSED SHORT"
    ]
    return found


def _gone(place: TorquePlace, work: JobWork) -> tuple[int, ...]:
    """The fasteners of a place to be torqued that nothing else says, and those whose torque is void."""
    if _is_asked(place.group, place.place, work):
        return place.missing
    return tuple(n for n in place.missing if n in place.calls and place.calls[n].call == "VOID")


def _is_asked(group: TorqueGroup, place: str, work: JobWork) -> bool:
    """Whether a fastener that is not torqued stands by itself among what is open.

    What is not begun, or counts its fasteners and is half done, says so as a task.
    """
    if not group.task:
        return True
    one = work.tasks.get(group.task)
    if one is None or one.state in ("NOT STARTED", "CLOSED SHORT"):
        return False
    here: WorkPlace | None = one.place(place) if one.task.for_each == group.for_each else None
    state = here.state if here is not None else one.state
    if state in ("NOT STARTED", "CLOSED SHORT"):
        return False
    return not (one.task.fasteners and state == "STARTED")


def _wrong(places: Sequence[TorquePlace]) -> list[tuple[str, str]]:
    """Sentence and way out for each thing that a torque came to, the places alike together."""
    told: dict[tuple[str, str], list[str]] = {}
    for place in places:
        ones: dict[str, tuple[TorqueCall, list[int]]] = {}
        for number, call in place.calls.items():
            # What is void is told among the missing, once.
            if number in place.standing:
                ones.setdefault(call.entry.id, (call, []))[1].append(number)
        for call, numbers in ones.values():
            words = fasteners_words(place, numbers)
            if call.call != "WITHIN":
                key = (f"torque is {call.call}. {upper_first(call.sentence)}", call.way_out)
                told.setdefault(key, []).append(words)
            # DESIGN 4b, 4: and the passes that the source asks for.
            if call.passes_short:
                made = call.entry.fields.passes
                asked = place.group.passes
                said = "passes are not written" if made is None else f"passes are written as {made}"
                key = (
                    f"torque {said} and {asked} are asked for",
                    f"Torque it again in {asked} passes, and write them.",
                )
                told.setdefault(key, []).append(words)
    return [(f"{upper_first(listed(words))}: {said}.", way) for (said, way), words in told.items()]


# A blocker is read at a glance: more reasons than these stand on the torque card alone.
MOST_REASONS = 2


def _missing_words(
    group: TorqueGroup, gone: Sequence[tuple[TorquePlace, tuple[int, ...]]], places: int
) -> str:
    void = {
        call.sentence
        for place, numbers in gone
        for number, call in place.calls.items()
        if number in numbers and call.call == "VOID"
    }
    because = f" {upper_first(listed(sorted(void)))}." if void else ""
    if len(void) > MOST_REASONS:
        because = f" {len(void)} that were written do not count; the torque card says why of each."
    if len(gone) == places and all(len(numbers) == group.number for _, numbers in gone):
        every = group.number * places
        return (
            f"{group.title}: none of {every} {plural(group.fastener, every)} torqued.{because}"
            if every > 1
            else f"{group.title}: not torqued.{because}"
        )
    words = listed([fasteners_words(place, numbers) for place, numbers in gone])
    return f"{group.title}: not torqued: {words}.{because}"


def _way_out(gone: Sequence[tuple[TorquePlace, tuple[int, ...]]]) -> str:
    return (
        "Torque each with a wrench in date and write it on its torque card."
        if sum(len(numbers) for _, numbers in gone) > 1
        else "Torque it with a wrench in date and write it on its torque card."
    )


def fasteners_words(place: TorquePlace, numbers: Sequence[int]) -> str:
    """Fasteners of a place in words: "screws 1 and 3 of cylinder 2", "the propeller bolts"."""
    group = place.group
    where = f" of {place.label}" if place.place else ""
    if len(numbers) == group.number:
        words = group.fastener if place.place and group.number == 1 else lower_first(group.title)
        return f"the {words}{where}"
    named = listed([str(one) for one in numbers])
    return f"{plural(group.fastener, len(numbers))} {named}{where}" + (
        "" if where else f" of the {lower_first(group.title)}"
    )
