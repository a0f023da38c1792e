"""What there is to do: left half done, waiting, held back, possible now, and what to fetch for it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.meters import Meter
from rehang.trade.facts.task_takes import Use
from rehang.trade.facts.tasks import Task
from rehang.trade.gate.who import hands_on
from rehang.trade.terms.entries import Entry
from rehang.trade.terms.wording import listed, on_day, plural, upper_first
from rehang.trade.verdicts.item_blockers import Blocker
from rehang.trade.work.task_states import JobWork, SecondLook, TaskWork, WorkFlag, WorkPlace

__all__ = [
    "Bench",
    "BenchMeter",
    "BenchPart",
    "BenchTool",
    "CanDo",
    "HalfDone",
    "HeldBack",
    "Waiting",
    "can_do_now",
    "held_back",
    "is_about_work",
    "left_half_done",
    "meter_waits",
    "meters_for",
    "minutes_left",
    "people_words",
    "places_words",
    "take_to_bench",
    "uses_of",
    "waiting_on",
    "waits_for_meter",
    "work_blockers",
]

# How many of a part are in hand; None where nobody counts it.
InHand = Callable[[str], int | None]


@dataclass(frozen=True, slots=True)
class HalfDone:
    """A piece of work that was begun and not finished, and where to go on."""

    task: str
    title: str
    place: str
    label: str
    sentence: str
    notes: tuple[str, ...]
    own_again: tuple[Entry, ...]
    since: datetime | None


@dataclass(frozen=True, slots=True)
class Waiting:
    """What work waits on: what for, since when, for whom and until when."""

    task: str
    sentence: str
    since: datetime | None
    who: tuple[str, ...]
    until: date | None


@dataclass(frozen=True, slots=True)
class HeldBack:
    """A task left late on purpose, why, and the tasks it waits for by that choice."""

    task: str
    title: str
    reason: str
    after: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CanDo:
    """A task that can be worked on now; ``where`` names its places in one breath.

    ``short`` names parts that reach for some of its places only. ``notes`` say which meter is out
    of date with no other on file: a task with one waits, see :func:`waits_for_meter`.
    """

    task: str
    title: str
    places: tuple[str, ...]
    where: str
    hands: int
    minutes: float
    short: tuple[str, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class BenchTool:
    name: str
    size: str
    drive: str
    tasks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class BenchMeter:
    """A meter to take along; ``standing`` says what is wrong with its calibration, or nothing.

    ``id`` is empty where no meter on file answers to the name.
    """

    id: str
    name: str
    size: str
    standing: str
    tasks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class BenchPart:
    """``in_hand`` is None where the part is not on the stock list."""

    id: str
    name: str
    number: int
    in_hand: int | None
    tasks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Bench:
    """What to fetch before a block of work, merged over its tasks."""

    tools: tuple[BenchTool, ...]
    meters: tuple[BenchMeter, ...]
    parts: tuple[BenchPart, ...]
    cautions: tuple[str, ...]
    hands: int


def left_half_done(work: JobWork, facts: JobFacts) -> tuple[HalfDone, ...]:
    """Work that was begun and not finished: fasteners first, then as the sheet runs."""
    found = [half for one in work.of_state("STARTED") for half in _halves(one, work, facts)]
    # A loose fastener looks like a tight one, so it comes first (common practice, no source).
    return tuple(half for _, half in sorted(found, key=lambda pair: pair[0]))


def _halves(one: TaskWork, work: JobWork, facts: JobFacts) -> list[tuple[int, HalfDone]]:
    """The loose ends of one task, each with 0 where fasteners are left loose and 1 elsewhere."""
    found: list[tuple[int, HalfDone]] = []
    begun = [place for place in one.places if place.state == "STARTED"]
    tight = [place for place in begun if place.what == one.task.fastener and place.done > 0]
    for place in tight:
        found.append((0, _half_done(one, [place], work, facts)))
    left = [place for place in one.unfinished if place not in tight]
    # Places that nobody has touched are no loose end of a fastener half done elsewhere.
    if left and (begun != tight or one.number_done or not tight):
        found.append((1, _half_done(one, left, work, facts)))
    return found


def _half_done(
    one: TaskWork, places: Sequence[WorkPlace], work: JobWork, facts: JobFacts
) -> HalfDone:
    stopped = next((place for place in places if place.stop is not None), None)
    go_on = stopped or next((p for p in places if p.state == "STARTED"), None)
    go_on = go_on or next((p for p in places if p.name in one.ready), places[0])
    sentence = f"{one.task.title}{_progress(one, places)}"
    last = one.last
    if last is not None:
        sentence += f" Last worked on {on_day(last.at)} by {facts.person(last.by)}."
    notes: list[str] = []
    for place in places:
        notes += place.meters
        if place.stop is not None:
            why = place.stop.entry.fields.why
            notes.append(
                f"Stopped {on_day(place.stop.entry.at)} by {facts.person(place.stop.entry.by)}"
                + (f": {why}." if why else ".")
            )
        elif place.note and place.state == "STARTED":
            notes.append(f"{upper_first(place.note.rstrip('.'))}.")
    notes += [_flag_words(flag, facts) for flag in work.flags if flag.task == one.task.id]
    if one.look is not None and one.look.waits:
        notes.append(upper_first(_look_words(one.look, facts)))
    return HalfDone(
        task=one.task.id,
        title=one.task.title,
        place=go_on.name,
        label=go_on.label,
        sentence=sentence,
        notes=tuple(dict.fromkeys(notes)),
        own_again=go_on.stop.own_again if go_on.stop is not None else (),
        since=last.at if last is not None else None,
    )


def _progress(one: TaskWork, places: Sequence[WorkPlace]) -> str:
    """How far it is, as the end of a sentence that begins with its title."""
    first = places[0]
    if len(places) == 1 and first.what == one.task.fastener and first.of:
        where = f", {first.label}" if first.label else ""
        return f"{where}: {first.done} of {first.of} {plural(one.task.fastener, first.of)} torqued."
    if len(one.places) == 1:
        if first.of and not first.missing:
            return ": begun again since it was done."
        if first.of:
            return f": {first.done} of {first.of} written; still to come: {listed(first.missing)}."
        if first.missing:
            return f": begun; still to come: {listed(first.missing)}."
        return ": begun and not finished."
    return (
        f": {one.number_done} of {len(one.places)} done; left: "
        f"{_labels([(p.name, p.label) for p in places], one.task.for_each)}."
    )


def _labels(places: Sequence[tuple[str, str]], for_each: str) -> str:
    """Places as a list: "holes 2B, 4T and 4B", or plugs by their serials."""
    if len(places) > 1 and all(label == f"{for_each} {name}" for name, label in places):
        return f"{for_each}s {listed([name for name, _ in places])}"
    return listed([label for _, label in places])


def places_words(labels: Sequence[str]) -> str:
    """Labels of places in one breath, what they begin with said once.

    >>> places_words(["hole 2B", "hole 4T"]), places_words(["K0418 (4B)"])
    ('holes 2B and 4T', 'K0418 (4B)')
    >>> places_words(["the plug of 1T", "the plug of 1B"])
    'the plugs of 1T and 1B'
    """
    heads = {label.rpartition(" ")[0] for label in labels}
    head = heads.pop()
    if heads or len(labels) < 2 or not head:
        return listed(list(labels))
    noun = f"{head.removesuffix(' of')}s of" if head.endswith(" of") else f"{head}s"
    return f"{noun} {listed([label.rpartition(' ')[2] for label in labels])}"


def waiting_on(work: JobWork, facts: JobFacts) -> tuple[Waiting, ...]:
    """Second looks that work waits for, the longest first."""
    found = [
        Waiting(
            one.task.id,
            f"{one.task.title}, {_look_words(one.look, facts)}",
            one.look.since,
            tuple(one.look.who),
            one.look.next_day,
        )
        for one in work.tasks.values()
        if one.look is not None and one.look.waits
    ]
    return tuple(
        sorted(found, key=lambda w: (w.since is None, w.since.timestamp() if w.since else 0.0))
    )


def held_back(work: JobWork, facts: JobFacts) -> tuple[HeldBack, ...]:
    """Tasks left late on purpose, with the reason, as the sheet runs."""
    return tuple(
        HeldBack(
            one.task.id,
            one.task.title,
            one.task.late,
            tuple(facts.tasks[name].title for name in one.late_waits),
        )
        for one in work.tasks.values()
        if one.late_waits
    )


def uses_of(one: TaskWork) -> tuple[Use, ...]:
    """What a task still takes of each part, for its unfinished places, less what it has used."""
    left = {place.name for place in one.unfinished}
    found = []
    for use in one.task.uses:
        used = sum(
            number
            for part, place, number in one.used
            if part == use.part and (not use.each or place in left)
        )
        # What is used once for all is asked for while any place is left.
        wanted = use.number * (len(left) if use.each else min(1, len(left))) - used
        if wanted > 0:
            found.append(Use(part=use.part, number=wanted))
    return tuple(found)


def minutes_left(one: TaskWork, places: int | None = None) -> tuple[float, float, float]:
    """Least, likely and most minutes for its unfinished places, or for so many of them."""
    number = len(one.unfinished) if places is None else places
    if one.task.minutes_for:
        return one.task.minutes_with(number)
    share = number / len(one.places)
    least, likely, most = one.task.minutes
    return least * share, likely * share, most * share


def people_words(hands: int) -> str:
    """What follows the minutes of work that takes more than one person.

    >>> people_words(1), people_words(2)
    ('', ', 2 people')
    """
    return f", {hands} people" if hands > 1 else ""


def can_do_now(
    work: JobWork, facts: JobFacts, in_hand: InHand = lambda part: None
) -> tuple[CanDo, ...]:
    """What can be worked on now: needs met, not held back, hands in, parts in hand, meter in date.

    ``in_hand`` says how many of a part are there, or None where nobody counts it. On a day the
    shop is shut, the hands of its next day are meant.
    """
    return tuple(one for one in _possible(work, facts, in_hand) if not one.notes)


def waits_for_meter(
    work: JobWork, facts: JobFacts, in_hand: InHand = lambda part: None
) -> tuple[CanDo, ...]:
    """What could be worked on now, were a wrench or meter for it in date; its notes say which."""
    return tuple(one for one in _possible(work, facts, in_hand) if one.notes)


def meter_waits(
    work: JobWork, facts: JobFacts, in_hand: InHand = lambda part: None
) -> tuple[Waiting, ...]:
    """What waits for a wrench or meter in date, as things that work waits on."""
    found = []
    for one in waits_for_meter(work, facts, in_hand):
        last = work.tasks[one.task].last
        since = f" since {on_day(last.at)}" if last is not None else ""
        where = f", {one.where}," if one.where else ""
        sentence = f"{one.title}{where} waits{since} for a meter in date: {' '.join(one.notes)}"
        found.append(Waiting(one.task, sentence, last.at if last else None, (), None))
    return tuple(found)


def _possible(work: JobWork, facts: JobFacts, in_hand: InHand) -> tuple[CanDo, ...]:
    """What can be worked on with any meter at all, in date or not."""
    hands = hands_on(facts, work.today)
    found = []
    for one in work.of_state("NOT STARTED", "STARTED"):
        task = one.task
        # What is left late on purpose could be done, and is not to be done yet.
        if not one.ready or one.late_waits or task.hands > hands:
            continue
        # A hold is a look that work may not pass (DESIGN 3).
        if one.look is not None and one.look.waits:
            continue
        # It closes at zero, so it cannot be done before.
        if task.counts_in and any(work.out.values()):
            continue
        reach, short = _reach(one, facts, in_hand)
        if reach == 0:
            continue
        places = [p for p in one.unfinished if p.name in one.ready][:reach]
        found.append(
            CanDo(
                task=task.id,
                title=task.title,
                places=tuple(p.label for p in places),
                where=_labels([(p.name, p.label) for p in places], task.for_each),
                hands=task.hands,
                minutes=minutes_left(one, reach)[1],
                short=short,
                notes=tuple(_meter_notes(task, facts, work)),
            )
        )
    return tuple(found)


def _meter_notes(task: Task, facts: JobFacts, work: JobWork) -> Iterator[str]:
    for tool in task.tools:
        found = meters_for(tool.meter, facts.meters) if tool.meter else []
        standing = [work.standing.get(one.id, "") for one in found] if work.today else []
        # One in date is enough; where none is on file the list of what to fetch says so.
        if standing and all(standing):
            yield f"{standing[0]}, and no other on file is in date."


def _reach(one: TaskWork, facts: JobFacts, in_hand: InHand) -> tuple[int, tuple[str, ...]]:
    """For how many of its ready places the parts reach, and which fall short."""
    reach = len(one.ready)
    short = []
    for use in one.task.uses:
        there = in_hand(use.part)
        if there is None:
            continue
        # A place that has its part already asks for none.
        have = {
            place for part, place, number in one.used if part == use.part and number >= use.number
        }
        wanting = [name for name in one.ready if name not in have]
        if not use.each:
            # Used once for the whole task, at whichever place it was written.
            wanting = [] if have else wanting[:1]
        wanted = use.number * len(wanting)
        if there >= wanted:
            continue
        short.append(f"{wanted - there} more {facts.part_name(use.part)}")
        without = len(wanting) - there // use.number
        reach = min(reach, len(one.ready) - without if use.each else 0)
    return reach, tuple(short)


def meters_for(words: str, meters: Mapping[str, Meter]) -> list[Meter]:
    """The meters that a task means: one by its id, or all whose name holds the words."""
    if words in meters:
        return [meters[words]]
    return [one for one in meters.values() if words.casefold() in one.name.casefold()]


def take_to_bench(
    tasks: Sequence[str], work: JobWork, facts: JobFacts, in_hand: InHand = lambda part: None
) -> Bench:
    """Tools, meters and parts of a block of work, merged, with what is still to be done of it.

    A meter that was found out of tolerance and is not put right is not on it.
    """
    chosen = [work.tasks[name] for name in tasks if name in work.tasks]
    tools: dict[tuple[str, str, str], list[str]] = {}
    meters: dict[tuple[str, str, str], list[str]] = {}
    parts: dict[str, tuple[int, list[str]]] = {}
    for one in chosen:
        for tool in one.task.tools:
            if not tool.meter:
                tools.setdefault((tool.name, tool.size, tool.drive), []).append(one.task.id)
                continue
            on_file = [
                one for one in meters_for(tool.meter, facts.meters) if one.id not in work.found_out
            ]
            for meter in on_file:
                meters.setdefault((meter.id, meter.name, tool.size), []).append(one.task.id)
            if not on_file:
                meters.setdefault(("", tool.name, tool.size), []).append(one.task.id)
        for use in uses_of(one):
            number, ids = parts.get(use.part, (0, []))
            parts[use.part] = (number + use.number, [*ids, one.task.id])
    return Bench(
        tools=tuple(BenchTool(*key, tuple(ids)) for key, ids in tools.items()),
        meters=tuple(
            BenchMeter(name_id, name, size, _standing(name_id, work), tuple(ids))
            for (name_id, name, size), ids in meters.items()
        ),
        parts=tuple(
            BenchPart(
                part,
                facts.part_name(part),
                number,
                in_hand(part),
                tuple(ids),
            )
            for part, (number, ids) in parts.items()
        ),
        cautions=tuple(dict.fromkeys(c for one in chosen for c in one.task.cautions)),
        hands=max((one.task.hands for one in chosen), default=0),
    )


def _standing(meter: str, work: JobWork) -> str:
    if not meter:
        return "No meter on file that may be used answers to this name."
    return work.standing.get(meter, "")


def work_blockers(work: JobWork, facts: JobFacts) -> list[Blocker]:
    """What of the work keeps the engine from service, each with its way out.

    The record itself is no work that the engine waits for: it is written when all else is done.
    """
    found: list[Blocker] = []
    for one in work.of_state("STARTED"):
        if one.task.is_record:
            continue
        halves = _halves(one, work, facts)
        found.append(
            Blocker(
                f"task:{one.task.id}",
                f"Part-done: {' '.join(half.sentence for _, half in halves)}",
                "Finish it, or close it short with a reason.",
            )
        )
    for one in work.tasks.values():
        if one.look is not None and one.look.waits:
            found.append(
                Blocker(
                    f"look:{one.task.id}",
                    f"{one.task.title}: no second look yet at {one.look.what}.",
                    _way_out_of(one.look, facts),
                )
            )
    found += [
        Blocker(
            f"flag:{flag.place}",
            _flag_words(flag, facts),
            "Finish what it marks, take it off and write that it is off.",
        )
        for flag in work.flags
    ]
    rest = [
        one
        for one in work.of_state("NOT STARTED")
        # Offered work keeps nothing from service until somebody begins it.
        if not one.task.offered and not one.task.is_record
    ]
    if rest:
        number = "1 task is" if len(rest) == 1 else f"{len(rest)} tasks are"
        found.append(
            Blocker(
                "work",
                f"{number} not started: {'; '.join(one.task.title for one in rest)}.",
                "Do each, or close it short with a reason.",
            )
        )
    return found


def _look_words(look: SecondLook, facts: JobFacts) -> str:
    since = f" since {on_day(look.since)}" if look.since is not None else ""
    return f"waiting{since} for a second look at {look.what}. {_way_out_of(look, facts)}"


def is_about_work(blocker: Blocker) -> bool:
    """Whether a blocker is of the work on the engine and not of an item, meter or count."""
    return blocker.about.partition(":")[0] in ("task", "look", "flag", "work")


def _way_out_of(look: SecondLook, facts: JobFacts) -> str:
    if not look.who:
        return "Everyone who may give it worked on this: add someone to the list of people."
    name = facts.person(look.who[0])
    if look.next_day is None:
        return f"{name} may give it."
    return f"{name} may give it, in next on {look.next_day:%a} {on_day(look.next_day)}."


def _flag_words(flag: WorkFlag, facts: JobFacts) -> str:
    return (
        f"{upper_first(flag.what)} on {flag.place}, put there on "
        f"{on_day(flag.entry.at)} by {facts.person(flag.entry.by)}."
    )
