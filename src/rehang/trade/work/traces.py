"""What the book says of each task and place: begun, stopped, done, asked again, and what answers it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from rehang.trade.facts.accessories import KINDS as ACCESSORIES
from rehang.trade.facts.accessories import accessory_words
from rehang.trade.facts.items import Check, CheckSheet
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.tasks import Task
from rehang.trade.known.cylinders_off import CYLINDER, with_places
from rehang.trade.known.doubts import torqued_now, torques_in_doubt
from rehang.trade.known.drafts import WHATS
from rehang.trade.known.fastened import MOVES, torque_voids
from rehang.trade.known.fitting import fitted_at, place_words
from rehang.trade.known.state import ItemState, JobState, item_kind, item_name
from rehang.trade.papers.signing import standing
from rehang.trade.run.proofs import Act, acts_on
from rehang.trade.run.runs import runs_of
from rehang.trade.terms.days import last_day
from rehang.trade.terms.entries import Entry, is_a, of_kind
from rehang.trade.terms.kinds.items import Replaced
from rehang.trade.terms.kinds.oil import PiecesCounted, Sampled
from rehang.trade.terms.kinds.readings import ReadingTaken, Seen
from rehang.trade.terms.kinds.runs import PLeadFound
from rehang.trade.terms.kinds.stock import Used
from rehang.trade.terms.kinds.torque import Torqued
from rehang.trade.terms.kinds.work import (
    CarriedOn,
    ClosedShort,
    CountedOut,
    Done,
    SecondLookTaken,
    Started,
    Stopped,
)
from rehang.trade.terms.wording import lower_first, on_day
from rehang.trade.verdicts.calls import Call
from rehang.trade.verdicts.item_verdict import ItemVerdict
from rehang.trade.work.task_states import Stop

__all__ = [
    "BY_HOLE",
    "TaskTrace",
    "Trace",
    "WorkAnswer",
    "WorkBook",
    "answers_of",
    "asks_again",
    "fold_task",
    "place_label",
    "place_named",
    "places_of",
]

# What takes a part out of a place or puts one in.

# Kinds of place that are named by holes.
BY_HOLE = ("hole", "plug", "lead")


@dataclass(frozen=True, slots=True)
class Trace:
    """What the book says of one place of a task, as far as it has been read.

    ``started_at`` and ``worked_at`` are the numbers of the entries that last began it and that
    last changed it; -1 where there is none.
    """

    of: int
    torqued: int = 0
    said_done: bool = False
    begun: bool = False
    closed: Entry[ClosedShort] | None = None
    stop: Stop | None = None
    started_at: int = -1
    worked_at: int = -1
    entries: tuple[Entry, ...] = ()
    meters: tuple[str, ...] = ()

    @property
    def work(self) -> tuple[Entry, ...]:
        """The entries of those who did it."""
        return tuple(e for e in self.entries if is_a(e, Started, Done, Torqued))


@dataclass(frozen=True, slots=True)
class WorkAnswer:
    """One check or act asked of one item, and the entry that answers it."""

    words: str
    answered: bool
    entry: Entry | None
    let_off: str = ""
    again: str = ""


class WorkBook:
    """What the fold looks things up in; lives only inside :func:`work_of`."""

    def __init__(self, facts: JobFacts, state: JobState, items: Sequence[ItemVerdict]) -> None:
        self.facts = facts
        self.state = state
        self.items = {one.item: one for one in items}
        self.live = state.live()
        self.torque_voids = torque_voids(facts, state)
        self.carded = {one.task for one in facts.torque_groups.values()}
        self.index = {entry.id: number for number, entry in enumerate(self.live)}
        self.plug_of = {
            one.came_out_of: one.id
            for one in state.items.values()
            if one.kind == "plug" and one.came_out_of
        }
        self.counted = dict(self._counted_at())
        self.used: dict[str, list[tuple[str, str, int]]] = {}
        for entry in self.live:
            if is_a(entry, Used) and entry.fields.task in facts.tasks:
                place = place_named(facts.tasks[entry.fields.task], entry.place, facts, state)
                self.used.setdefault(entry.fields.task, []).append(
                    (entry.fields.part, place or "", entry.fields.number)
                )
        # A run with no figure is no run (DESIGN 4b.6).
        self.runs = sum(run.is_whole for run in runs_of(facts, state, ()).runs)
        self.stay_began = self._stay_began()
        self.acts = [
            (self.index[act.entry.id], act)
            for act in acts_on(facts, state)
            # These only looked at it.
            if not is_a(act.entry, ReadingTaken, Seen, PLeadFound)
        ]
        self._by_kinds: dict[frozenset[str], list[tuple[int, Act]]] = {}
        self.came_in = {
            f"{item_kind(entry.item)} {entry.fields.for_}".casefold(): number
            for number, entry in enumerate(self.live)
            if is_a(entry, Replaced)
        }

    def has_one_card(self, torqued: Entry[Torqued]) -> bool:
        """Whether all that is torqued for a task is of one group, in whatever words."""
        task = torqued.fields.task
        return [one.task for one in self.facts.torque_groups.values()].count(task) == 1

    def _counted_at(self) -> Iterator[tuple[str, Entry]]:
        """The holes that something was counted out for, one piece for each hole that is named."""
        spelled = {hole.casefold(): hole for hole in self.facts.layout.walk}
        for entry in self.live:
            if not is_a(entry, CountedOut):
                continue
            named = [one.strip().casefold() for one in entry.place.split(",")]
            # Eight for four holes say nothing of any one of them.
            if entry.fields.number == len(named) and all(one in spelled for one in named):
                yield from ((spelled[one], entry) for one in named)

    def is_before_fitting(self, entry: Entry, task: Task, place: str) -> bool:
        """Whether a torque is of what came out of a place again, or went in before it was put in."""
        fits = [kind for kind, act in task.acts if act == "fitted" and self.inspects(kind, task)]
        return any(self.index[entry.id] < self.put_in_at(kind, place) for kind in fits)

    def put_in_at(self, kind: str, place: str) -> int:
        """The number of the entry that put in what is in a place now; past the book where none is."""
        now = fitted_at(kind, place, self.facts, self.state)
        return len(self.live) if now is None else self.index[now.id]

    def touched_at(self, task: Task, place: str) -> int:
        """The number of the last work on what undoes a place of a task; -1 where there is none."""
        return max((number for number, _ in self._acts_at(task, place)), default=-1)

    def undone_at(self, task: Task, place: str) -> int:
        """The number of the entry by which such a part last came out or went in; -1 where none did."""
        found = self._acts_at(task, place)
        return max(
            (number for number, act in found if isinstance(act.entry.fields, MOVES)), default=-1
        )

    def _acts_at(self, task: Task, place: str) -> list[tuple[int, Act]]:
        kinds = frozenset(task.undone_by)
        if kinds not in self._by_kinds:
            self._by_kinds[kinds] = [one for one in self.acts if kinds & set(one[1].kinds)]
        found = self._by_kinds[kinds]
        if not place:
            return found
        if task.for_each in BY_HOLE:
            plug = fitted_at("plug", place, self.facts, self.state)
            own = {plug.item} if plug is not None else set()
            own.add(f"{CYLINDER}:{self.cylinder_at(place)}")
            return [one for one in found if one[1].hole == place or own & set(one[1].items)]
        own = {f"{task.for_each}:{place}"}
        return [one for one in found if own & set(one[1].items)]

    def _stay_began(self) -> date | None:
        """Samples and counts of this stay are those from its last run on."""
        days = [
            day
            for key in ("last_run_on", "removed_on")
            if isinstance(day := self.facts.engine.get(key), date)
        ]
        # The earlier one: what was drained between the last run and the removal is of this stay.
        return min(days, default=self.live[0].at.date() if self.live else None)

    def of_this_stay(self, entry: Entry[PiecesCounted | Sampled]) -> bool:
        on = entry.fields.on
        day = last_day(on) if on else entry.at.date()
        return self.stay_began is None or day >= self.stay_began

    def is_of_the_old_one(self, entry: Entry, task: Task) -> bool:
        """Whether an entry about a place came before what is in that place now."""
        given = entry.place.strip().casefold().removeprefix(f"{task.for_each} ")
        return self.index[entry.id] < self.came_in.get(f"{task.for_each} {given}", -1)

    def inspects(self, kind: str, task: Task) -> bool:
        """Whether readings on this kind of item can be looked for in this job at all."""
        # One that came off is judged in a job that looks at no cylinder else.
        of_one_off = task.when_off and kind == CYLINDER
        return of_one_off or kind in self.facts.inspect or kind not in self.facts.sheets

    def asked_again_of(self, task: Task, place: str, answer: tuple[str, str]) -> str:
        """Why a check of a cylinder that came off is not asked of a task; empty where it is.

        A task for cylinders that came off asks for it, at its own time: after the run, of compression.
        """
        if task.when_off or task.for_each != CYLINDER or place not in self.facts.off:
            return ""
        for one in self.facts.tasks.values():
            if one.when_off and answer in one.answers:
                return f"cylinder {place} came off; {lower_first(one.title)} asks for it"
        return ""

    def is_asked(self, item_id: str, kind: str, check: str) -> bool:
        """Whether a check is asked of an item: one that is asked for after an act, once that was done."""
        sheet, item = self.facts.sheets.get(kind), self.state.items.get(item_id)
        act = next((c.asked_after for c in sheet.checks if c.name == check), "") if sheet else ""
        return not act or (item is not None and any(e.fields.act == act for e in item.reworks))

    def items_at(self, kind: str, for_each: str, place: str) -> list[str]:
        """The items of a kind that are at a place of a task; all of them where it has none."""
        if for_each in BY_HOLE and kind in BY_HOLE:
            return [self.plug_of.get(place, "") if kind == "plug" else f"{kind}:{place}"]
        if for_each == "cylinder" and kind in BY_HOLE:
            holes = [h for h in self.facts.layout.walk if self.cylinder_at(h) == place]
            return [self.plug_of.get(h, "") if kind == "plug" else f"{kind}:{h}" for h in holes]
        sheet = self.facts.sheets.get(kind)
        if for_each == kind or (sheet is not None and for_each and sheet.one_for == for_each):
            return [f"{kind}:{place}"]
        stand_ins = {
            f"{one.kind}:{one.replaced_by}" for one in self.state.items.values() if one.replaced_by
        }
        return [
            one
            for one in dict.fromkeys([*self.items, *self.state.items])
            if item_kind(one) == kind and one not in stand_ins
        ] or [""]

    def cylinder_at(self, hole: str) -> str:
        return str(self.facts.layout.cylinder_of(hole))

    def stand_in(self, item_id: str) -> str:
        """What stands in for an item now: itself, or the last of its replacements."""
        seen = {item_id}
        while (one := self.state.items.get(item_id)) is not None and one.replaced_by:
            item_id = f"{one.kind}:{one.replaced_by}"
            # A book may say of two that each is in for the other.
            if item_id in seen:
                break
            seen.add(item_id)
        return item_id


def places_of(task: Task, facts: JobFacts, state: JobState | None = None) -> tuple[str, ...]:
    """The places of a task by the layout and the hoses; one without a name where it has none.

    With ``state``, a hose that was replaced is the one that stands in for it, and counts once.
    """
    match task.for_each:
        case "hole" | "plug" | "lead":
            found: Sequence[str] = list(facts.layout.walk)
        case "cylinder":
            found = [str(one) for one in facts.layout.cylinders]
        case "magneto":
            found = list(facts.layout.ignition)
        case "hose":
            found = [_hose_now(name, state) for name in facts.hoses]
        case _:
            found = []
    found = with_places(found, task, facts.off)
    return tuple(dict.fromkeys(found)) or ("",)


def _hose_now(name: str, state: JobState | None) -> str:
    """The hose that is on a line now: itself, or the last of its replacements."""
    seen = set()
    while state is not None and name not in seen:
        seen.add(name)
        held = state.items.get(f"hose:{name}")
        name = held.replaced_by if held is not None and held.replaced_by else name
    return name


def place_named(task: Task, given: str, facts: JobFacts, state: JobState) -> str | None:
    """The place of a task that someone named, however it is spelled; None when there is none."""
    wanted = given.strip().casefold()
    if task.for_each == "hose":
        old = next((h for h in facts.hoses if wanted in (h.casefold(), f"hose {h}".casefold())), "")
        wanted = _hose_now(old, state).casefold() if old else wanted
    for place in places_of(task, facts, state):
        spelled = {place.casefold(), f"{task.for_each} {place}".casefold()}
        if task.for_each == "plug":
            spelled |= {
                one.name.casefold()
                for one in state.items.values()
                if one.kind == "plug" and one.came_out_of == place
            }
        if wanted in spelled:
            return place
    return None


def place_label(task: Task, place: str, book: WorkBook) -> str:
    if not place:
        return ""
    if task.for_each == "plug":
        plug = book.plug_of.get(place)
        # What stands in for a reject is what is worked on.
        return f"{item_name(book.stand_in(plug))} ({place})" if plug else f"the plug of {place}"
    if task.for_each == "magneto":
        return f"{place} magneto"
    return f"{task.for_each} {place}"


@dataclass(frozen=True, slots=True)
class TaskTrace:
    """What the book says of one task; ``closed`` and ``begun`` are of the whole of it."""

    task: Task
    places: Mapping[str, Trace]
    looks: tuple[Entry, ...]
    begun: bool
    closed: Entry[ClosedShort] | None


def fold_task(task: Task, entries: Sequence[Entry], book: WorkBook, said: list[str]) -> TaskTrace:
    places = places_of(task, book.facts, book.state)
    traces = {name: Trace(of=task.fasteners) for name in places}
    looks: list[Entry] = []
    begun, closed = False, None
    for entry in entries:
        named: Sequence[str] = places
        if entry.place and places != ("",):
            one = place_named(task, entry.place, book.facts, book.state)
            if one is None:
                said.append(
                    f'An entry of {on_day(entry.at)} is about "{entry.place}", which is not a place '
                    f"of {task.id} (any more). It stays in the book and counts for nothing."
                )
                continue
            if book.is_of_the_old_one(entry, task):
                # What was done to a hose says nothing of the one that came in its place.
                continue
            named = [one]
        if is_a(entry, Torqued) and book.is_before_fitting(entry, task, named[0]):
            continue
        if is_a(entry, SecondLookTaken):
            looks.append(entry)
            continue
        if is_a(entry, ClosedShort) and not entry.place:
            closed = entry
        elif is_a(entry, Started, Done, Torqued):
            closed = None
        if len(named) > 1 and not is_a(entry, Done, ClosedShort):
            # A start or a stop that names no place is of the task and opens no place again.
            begun = begun or is_a(entry, Started, Stopped)
            continue
        for name in named:
            traces[name] = _traced(traces[name], entry, book)
    return TaskTrace(task, traces, tuple(looks), begun, closed)


def _traced(trace: Trace, entry: Entry, book: WorkBook) -> Trace:
    """What is known of a place after one entry more."""
    at = book.index[entry.id]
    trace = replace(trace, entries=(*trace.entries, entry))
    if is_a(entry, Started):
        # Begun again after all was tight, none counts; half done, what was tight stays so.
        finished = trace.said_done or 0 < trace.of <= trace.torqued
        return replace(
            trace,
            torqued=0 if finished else trace.torqued,
            said_done=False,
            begun=True,
            closed=None,
            started_at=at,
            worked_at=at,
        )
    if is_a(entry, Done):
        return replace(trace, said_done=True, closed=None, stop=None, worked_at=at)
    if is_a(entry, Torqued):
        # With one card all words mean that group, however they were written.
        what = None if book.has_one_card(entry) else entry.fields.what
        alike = [e for e in of_kind(trace.entries, Torqued) if what in (None, e.fields.what)]
        good = [e for e in alike if e.id not in book.torque_voids]
        return replace(
            trace,
            torqued=torqued_now(good, book.state),
            of=entry.fields.of,
            # A torque that is void or in doubt was work all the same.
            begun=trace.begun
            or len(good) < len(alike)
            or bool(torques_in_doubt(alike, book.state)),
            closed=None,
            stop=None,
            worked_at=at,
            meters=_wrench_words(alike, book),
        )
    if is_a(entry, ClosedShort):
        return replace(trace, closed=entry, stop=None)
    if is_a(entry, Stopped):
        return replace(trace, begun=True, stop=Stop(entry, _own_again(entry, book)))
    if is_a(entry, CarriedOn):
        return replace(trace, stop=None)
    return trace


def _wrench_words(alike: Sequence[Entry[Torqued]], book: WorkBook) -> tuple[str, ...]:
    """What is wrong with the wrench of the last torque, or of one that it only went on from."""
    loose = torques_in_doubt(alike, book.state)
    entry = loose[-1] if loose else alike[-1]
    meter = book.facts.meters.get(entry.fields.meter)
    standing = book.state.not_proved(meter, entry) if meter else ""
    if not standing:
        return ()
    return (f"{standing}; used here on {on_day(entry.at)}.",)


def _own_again(stop: Entry, book: WorkBook) -> tuple[Entry, ...]:
    """The last three readings, torques or places of whoever stopped, before the stop."""
    mine = [
        entry
        for entry in book.live[: book.index[stop.id]]
        if entry.by == stop.by
        and (is_a(entry, Torqued, Done) or (is_a(entry, ReadingTaken, Seen) and entry.fields.check))
    ]
    return tuple(mine[-3:])


def answers_of(task: Task, place: str, book: WorkBook) -> list[WorkAnswer]:
    """Everything that readings and acts are asked to show of a place."""
    found: list[WorkAnswer] = []
    for kind, check in task.answers:
        if not book.inspects(kind, task):
            continue
        again = book.asked_again_of(task, place, (kind, check))
        for item_id in book.items_at(kind, task.for_each, place):
            if not book.is_asked(item_id, kind, check):
                continue
            one = _answer_of_check(item_id, kind, check, book)
            found.append(replace(one, answered=True, let_off=again) if again else one)
    for kind, act in task.acts:
        if act == "signed":
            found.append(_answer_of_record(kind, book))
            continue
        if not book.inspects(kind, task):
            continue
        if act == "fitted":
            found.append(_answer_of_fitting(kind, place, book))
            continue
        if act == "counted_out":
            found.append(_answer_of_count(kind, place, book))
            continue
        for item_id in book.items_at(kind, task.for_each, place):
            found.append(_answer_of_act(item_id, kind, act, book))
    return found


def _answer_of_check(item_id: str, kind: str, check: str, book: WorkBook) -> WorkAnswer:
    sheet = book.facts.sheets.get(kind)
    one = next((c for c in sheet.checks if c.name == check), None) if sheet else None
    words = one.label.lower() if one else check
    current = book.stand_in(item_id)
    verdict = book.items.get(current)
    if item_id:
        words = f"{words} of {_item_words(current)}"
    if verdict is None or one is None:
        return WorkAnswer(words, False, None)
    call = verdict.call(check)
    if call is not None and call.entry is not None and call.call != "VOID":
        # A look that found something is a look; a number that could not be read is not one.
        if call.call != "NOT READ" or one.kind == "look":
            again = words if verdict.verdict != "REJECT" and asks_again(call, one) else ""
            return WorkAnswer(words, True, call.entry, again=again)
    # Worked out, as an age is, it has no entry of its own.
    elif call is not None and call.call in ("WITHIN", "OUT", "CLOSE CALL", "NOT JUDGED"):
        return WorkAnswer(words, True, None)
    # A reject is not tested any further: common practice, no source.
    if verdict.verdict == "REJECT":
        return WorkAnswer(words, True, None, f"{_item_words(current)} is a REJECT")
    return WorkAnswer(words, False, None)


def asks_again(call: Call, check: Check) -> bool:
    """Whether a check that was read is to be put right and read again, or settled.

    What a person left open for another waits on that person, and asks for no work.
    """
    if call.left_open or (call.called_by and call.call == "WITHIN"):
        return False
    return call.call == "CLOSE CALL" or (call.call == "OUT" and check.reworkable)


def _answer_of_act(item_id: str, kind: str, act: str, book: WorkBook) -> WorkAnswer:
    item = book.state.items.get(item_id)
    sheet = book.facts.sheets.get(kind)
    words = _act_words(act, kind, sheet)
    if item_id:
        words = f"{words} {_item_words(item_id)}"
    entry = _act_entry(item, act, book) if item is not None else None
    if entry is not None:
        return WorkAnswer(words, True, entry)
    verdict = book.items.get(item_id)
    if verdict is not None and verdict.verdict == "REJECT":
        return WorkAnswer(words, True, None, f"{_item_words(item_id)} is a REJECT")
    return WorkAnswer(words, False, None)


def _answer_of_fitting(kind: str, place: str, book: WorkBook) -> WorkAnswer:
    """What is in a place of the task answers, whichever serial it is."""
    entry = fitted_at(kind, place, book.facts, book.state)
    where = f" in {place_words(kind, place)}" if place else ""
    return WorkAnswer(f"which {kind} is{where}", entry is not None, entry)


def _answer_of_count(kind: str, place: str, book: WorkBook) -> WorkAnswer:
    """A blank, or a dehydrator plug, that was counted out for this very hole."""
    return WorkAnswer(f"the {kind} counted out", place in book.counted, book.counted.get(place))


def _answer_of_record(what: str, book: WorkBook) -> WorkAnswer:
    """A record answers while it stands signed, and asks again once something has changed."""
    signed = standing(book.state, what)
    words = f"the signature on the {WHATS.get(what, what).lower()}"
    return WorkAnswer(words, signed is not None, signed.entry if signed else None)


def _act_entry(item: ItemState, act: str, book: WorkBook) -> Entry | None:
    found: Sequence[Entry]
    match act:
        case "removed":
            return item.removed
        case "seen":
            found = [one.entry for one in item.findings if one.entry.item == item.id]
        case "sampled":
            # The oil may be drained once the bottle is filled; the laboratory answers later.
            found = [e for e in (*item.samples, *item.bottles) if book.of_this_stay(e)]
        case "counted":
            found = [entry for entry in item.counts if book.of_this_stay(entry)]
        case "disposed":
            return item.disposed
        case _:
            found = [entry for entry in item.reworks if entry.fields.act == act]
    return found[-1] if found else None


def _act_words(act: str, kind: str, sheet: CheckSheet | None) -> str:
    match act:
        case "removed":
            return f"which {kind} came out of"
        case "seen":
            return "what was seen on"
        case "sampled":
            return "the sample of"
        case "counted":
            return "the pieces counted in"
        case "disposed":
            return "what became of"
    rework = sheet.reworks.get(act) if sheet else None
    return f"that it was {rework.done}:" if rework else act


def _item_words(item_id: str) -> str:
    kind, name = item_kind(item_id), item_name(item_id)
    if kind == "plug":
        return name
    if kind in ("hole", "lead", "hose", "injector") or name.isdigit():
        return f"{kind} {name}"
    if kind == "magneto":
        return f"{name} magneto"
    if kind in ACCESSORIES:
        return f"the {accessory_words(kind, name)}"
    return f"{kind}, {name}" if name else kind
