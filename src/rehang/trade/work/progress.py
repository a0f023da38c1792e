"""The state of the work, counted from the book: what is done, half done, waiting and held back.

Where readings, reworks or torques show that a place is done, they are what counts and nobody ticks
anything. Only work that leaves no such trace is written down as done by a person.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from types import MappingProxyType

from rehang.trade.facts.items import Check, CheckSheet
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.tasks import Task
from rehang.trade.gate.who import lookers, next_day_in
from rehang.trade.known.doubts import torqued_now, torques_in_doubt
from rehang.trade.known.drafts import WHATS
from rehang.trade.known.fastened import torque_voids
from rehang.trade.known.fitting import fitted_at, place_words
from rehang.trade.known.state import ItemState, JobState, item_kind, item_name
from rehang.trade.papers.signing import standing
from rehang.trade.run.runs import runs_of
from rehang.trade.terms.entries import Entry, last_day
from rehang.trade.terms.wording import on_day, plural
from rehang.trade.verdicts.calls import Call
from rehang.trade.verdicts.item_verdict import ItemVerdict

__all__ = [
    "WORK_KINDS",
    "WORK_STATES",
    "Flag",
    "SecondLook",
    "Stop",
    "TaskWork",
    "Work",
    "WorkPlace",
    "asks_again",
    "place_named",
    "places_of",
    "work_of",
]

# A place is NOT STARTED, STARTED, DONE or CLOSED SHORT; a task also HELD: done, and waiting for
# its second look.
WORK_STATES = ("NOT STARTED", "STARTED", "HELD", "DONE", "CLOSED SHORT")
NOT_STARTED, STARTED, HELD, DONE, CLOSED = WORK_STATES
WORK_KINDS = (
    "started", "done", "closed_short", "second_look", "stopped", "carried_on", "torqued",
)  # fmt: skip
# Kinds of place that are named by holes.
_BY_HOLE = ("hole", "plug", "lead")


@dataclass(frozen=True, slots=True)
class Stop:
    """Where work on a place stopped, and the last three things its person did, to own again."""

    entry: Entry
    own_again: tuple[Entry, ...]


@dataclass(frozen=True, slots=True)
class WorkPlace:
    """One place of a task: a hole, a cylinder, a hose; the whole task where it has no places.

    ``done`` of ``of`` are counted: fasteners torqued, or checks and acts that are answered
    (``of`` is 0 where a person says that it is done). ``what`` is what is counted ("screw",
    "check"). ``missing`` is what is still to be written down, in words. ``meters`` are sentences
    about wrenches that were out of date when they were used here. ``let_off`` says why nothing
    more is asked of it (a reject is not tested). ``again`` says what was read here and has to be
    put right or settled, and ``open_needs`` which needed tasks are not met for it: both are kept
    for a finished place too.
    """

    name: str
    label: str
    state: str
    done: int
    of: int
    what: str
    missing: tuple[str, ...]
    by: tuple[str, ...]
    first: Entry | None
    last: Entry | None
    stop: Stop | None
    closed: Entry | None
    meters: tuple[str, ...]
    note: str
    let_off: str = ""
    again: str = ""
    open_needs: tuple[str, ...] = ()

    @property
    def is_finished(self) -> bool:
        return self.state in (DONE, CLOSED)


@dataclass(frozen=True, slots=True)
class SecondLook:
    """A second person's look that work may not pass.

    ``waits`` says that it is due now. ``who`` may give it (keys, the soonest first) and
    ``next_day`` is the first day one of them is in; None where nobody can.
    """

    task: str
    what: str
    waits: bool
    since: datetime | None
    doers: tuple[str, ...]
    who: tuple[str, ...]
    next_day: date | None
    given: Entry | None


@dataclass(frozen=True, slots=True)
class TaskWork:
    """One task as the book leaves it.

    ``waits_for`` are needs that keep an unfinished place from being worked on, ``ready`` the
    unfinished places that none keeps. ``late_waits`` are the tasks it is held back for by choice.
    ``used`` are the parts already used for it: part, place, number.
    """

    task: Task
    state: str
    places: tuple[WorkPlace, ...]
    waits_for: tuple[str, ...]
    ready: tuple[str, ...]
    late_waits: tuple[str, ...]
    look: SecondLook | None
    by: tuple[str, ...]
    closed: Entry | None
    used: tuple[tuple[str, str, int], ...] = ()

    @property
    def is_finished(self) -> bool:
        return self.state in (DONE, CLOSED)

    @property
    def unfinished(self) -> tuple[WorkPlace, ...]:
        return tuple(one for one in self.places if not one.is_finished)

    @property
    def number_done(self) -> int:
        return sum(one.is_finished for one in self.places)

    @property
    def last(self) -> Entry | None:
        found = [one.last for one in self.places if one.last is not None]
        return max(found, key=lambda e: e.at, default=None)

    def place(self, name: str) -> WorkPlace | None:
        return next((one for one in self.places if one.name == name), None)


@dataclass(frozen=True, slots=True)
class Flag:
    """A flag on the engine itself, as a red streamer, until it is taken off."""

    what: str
    place: str
    task: str
    entry: Entry


@dataclass(frozen=True, slots=True)
class Work:
    """All the work of a job. ``said`` are sentences about entries that found no place in it.

    ``standing`` says of each meter why it is not to be used today, or nothing; ``found_out`` are
    those that are out of tolerance and not put right.
    """

    tasks: Mapping[str, TaskWork]
    flags: tuple[Flag, ...]
    out: Mapping[str, int]
    said: tuple[str, ...]
    today: date | None
    standing: Mapping[str, str] = field(default_factory=dict)
    found_out: frozenset[str] = frozenset()

    def of_state(self, *states: str) -> list[TaskWork]:
        return [one for one in self.tasks.values() if one.state in states]


@dataclass(frozen=True, slots=True)
class _Trace:
    """What the book says of one place of a task, as far as it has been read.

    ``started_at`` and ``worked_at`` are the numbers of the entries that last began it and that
    last changed it; -1 where there is none.
    """

    of: int
    torqued: int = 0
    said_done: bool = False
    begun: bool = False
    closed: Entry | None = None
    stop: Stop | None = None
    started_at: int = -1
    worked_at: int = -1
    entries: tuple[Entry, ...] = ()
    meters: tuple[str, ...] = ()

    @property
    def work(self) -> tuple[Entry, ...]:
        """The entries of those who did it."""
        return tuple(e for e in self.entries if e.kind in ("started", "done", "torqued"))


@dataclass(frozen=True, slots=True)
class _Answer:
    """One check or act asked of one item, and the entry that answers it."""

    words: str
    answered: bool
    entry: Entry | None
    let_off: str = ""
    again: str = ""


class _Book:
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
            if entry.kind == "used" and entry.get("task") in facts.tasks:
                place = place_named(facts.tasks[entry.get("task")], entry.place, facts, state)
                self.used.setdefault(entry.get("task"), []).append(
                    (entry.data["part"], place or "", entry.data["number"])
                )
        # A run with no figure is no run (DESIGN 4b.6).
        self.runs = sum(run.is_whole for run in runs_of(facts, state, ()).runs)
        self.stay_began = self._stay_began()
        self.came_in = {
            f"{item_kind(entry.item)} {entry.data['for']}".casefold(): number
            for number, entry in enumerate(self.live)
            if entry.kind == "replaced"
        }

    def has_one_card(self, torqued: Entry) -> bool:
        """Whether all that is torqued for a task is of one group, in whatever words."""
        task = torqued.get("task")
        return [one.task for one in self.facts.torque_groups.values()].count(task) == 1

    def _counted_at(self) -> Iterator[tuple[str, Entry]]:
        """The holes that something was counted out for, one piece for each hole that is named."""
        spelled = {hole.casefold(): hole for hole in self.facts.layout.walk}
        for entry in self.live:
            if entry.kind != "counted_out":
                continue
            named = [one.strip().casefold() for one in entry.place.split(",")]
            if entry.data["number"] == len(named) and all(one in spelled for one in named):
                yield from ((spelled[one], entry) for one in named)

    def is_before_fitting(self, entry: Entry, task: Task, place: str) -> bool:
        """Whether a torque is of what came out of a place again, or went in before it was put in."""
        fits = [kind for kind, act in task.acts if act == "fitted" and self.inspects(kind)]
        return any(self.index[entry.id] < self.put_in_at(kind, place) for kind in fits)

    def put_in_at(self, kind: str, place: str) -> int:
        """The number of the entry that put in what is in a place now; past the book where none is."""
        now = fitted_at(kind, place, self.facts, self.state)
        return len(self.live) if now is None else self.index[now.id]

    def _stay_began(self) -> date | None:
        """Samples and counts of this stay are those from its last run on."""
        days = [
            day
            for key in ("last_run_on", "removed_on")
            if isinstance(day := self.facts.engine.get(key), date)
        ]
        return min(days, default=self.live[0].at.date() if self.live else None)

    def of_this_stay(self, entry: Entry) -> bool:
        on = entry.get("on")
        day = last_day(on) if on else entry.at.date()
        return self.stay_began is None or day >= self.stay_began

    def is_of_the_old_one(self, entry: Entry, task: Task) -> bool:
        """Whether an entry about a place came before what is in that place now."""
        given = entry.place.strip().casefold().removeprefix(f"{task.for_each} ")
        return self.index[entry.id] < self.came_in.get(f"{task.for_each} {given}", -1)

    def inspects(self, kind: str) -> bool:
        """Whether readings on this kind of item can be looked for in this job at all."""
        return kind in self.facts.inspect or kind not in self.facts.sheets

    def items_at(self, kind: str, for_each: str, place: str) -> list[str]:
        """The items of a kind that are at a place of a task; all of them where it has none."""
        if for_each in _BY_HOLE and kind in _BY_HOLE:
            return [self.plug_of.get(place, "") if kind == "plug" else f"{kind}:{place}"]
        if for_each == "cylinder" and kind in _BY_HOLE:
            holes = [h for h in self.facts.layout.walk if self.cylinder_at(h) == place]
            return [self.plug_of.get(h, "") if kind == "plug" else f"{kind}:{h}" for h in holes]
        if for_each == kind:
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
            found: Sequence[str] = facts.layout.walk
        case "cylinder":
            found = [str(one) for one in facts.layout.cylinders]
        case "magneto":
            found = list(facts.layout.ignition)
        case "hose":
            found = [_hose_now(name, state) for name in facts.hoses]
        case _:
            found = []
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


def _label(task: Task, place: str, book: _Book) -> str:
    if not place:
        return ""
    if task.for_each == "plug":
        plug = book.plug_of.get(place)
        return f"{item_name(plug)} ({place})" if plug else f"the plug of {place}"
    if task.for_each == "magneto":
        return f"{place} magneto"
    return f"{task.for_each} {place}"


def work_of(
    facts: JobFacts, state: JobState, items: Sequence[ItemVerdict], today: date | None
) -> Work:
    """The work of a job, from its book and its judged items, as it stands on ``today``.

    An entry about a task or place that the sheet does not have (any more) stays in the book and is
    said; the rules refuse a new one.
    """
    book = _Book(facts, state, items)
    about: dict[str, list[Entry]] = {name: [] for name in facts.tasks}
    said: list[str] = []
    for entry in book.live:
        task = entry.get("task")
        if not task or entry.kind not in WORK_KINDS:
            continue
        if task in about:
            about[task].append(entry)
        else:
            said.append(
                f"An entry of {on_day(entry.at)} is about task {task}, which is not in the task sheet "
                "(any more). It stays in the book and counts for nothing."
            )
    done = {
        task.id: _task_work(_fold_task(task, about[task.id], book, said), book, today, said)
        for task in facts.tasks.values()
    }
    done = {name: _with_needs(one, done, book) for name, one in done.items()}
    return Work(
        tasks=MappingProxyType(done),
        flags=tuple(_flags(book.live)),
        out=MappingProxyType(dict(state.out)),
        said=tuple(dict.fromkeys(said)),
        today=today,
        standing=MappingProxyType(
            {one.id: state.standing(one, today) for one in facts.meters.values()} if today else {}
        ),
        found_out=frozenset(name for name in facts.meters if state.is_out(name) is not None),
    )


@dataclass(frozen=True, slots=True)
class _TaskTrace:
    """What the book says of one task; ``closed`` and ``begun`` are of the whole of it."""

    task: Task
    places: Mapping[str, _Trace]
    looks: tuple[Entry, ...]
    begun: bool
    closed: Entry | None


def _fold_task(task: Task, entries: Sequence[Entry], book: _Book, said: list[str]) -> _TaskTrace:
    places = places_of(task, book.facts, book.state)
    traces = {name: _Trace(of=task.fasteners) for name in places}
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
        if entry.kind == "torqued" and book.is_before_fitting(entry, task, named[0]):
            continue
        if entry.kind == "second_look":
            looks.append(entry)
            continue
        if entry.kind == "closed_short" and not entry.place:
            closed = entry
        elif entry.kind in ("started", "done", "torqued"):
            closed = None
        if len(named) > 1 and entry.kind not in ("done", "closed_short"):
            # A start or a stop that names no place is of the task and opens no place again.
            begun = begun or entry.kind in ("started", "stopped")
            continue
        for name in named:
            traces[name] = _traced(traces[name], entry, book)
    return _TaskTrace(task, traces, tuple(looks), begun, closed)


def _traced(trace: _Trace, entry: Entry, book: _Book) -> _Trace:
    """What is known of a place after one entry more."""
    at = book.index[entry.id]
    trace = replace(trace, entries=(*trace.entries, entry))
    match entry.kind:
        case "started":
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
        case "done":
            return replace(trace, said_done=True, closed=None, stop=None, worked_at=at)
        case "torqued":
            alike = [
                e
                for e in trace.entries
                if e.kind == "torqued"
                and (book.has_one_card(entry) or e.data["what"] == entry.data["what"])
            ]
            good = [e for e in alike if e.id not in book.torque_voids]
            return replace(
                trace,
                torqued=torqued_now(good, book.state),
                of=entry.data["of"],
                begun=trace.begun
                or len(good) < len(alike)
                or bool(torques_in_doubt(alike, book.state)),
                closed=None,
                stop=None,
                worked_at=at,
                meters=_wrench_words(alike, book),
            )
        case "closed_short":
            return replace(trace, closed=entry, stop=None)
        case "stopped":
            return replace(trace, begun=True, stop=Stop(entry, _own_again(entry, book)))
        case "carried_on":
            return replace(trace, stop=None)
    return trace


def _wrench_words(alike: Sequence[Entry], book: _Book) -> tuple[str, ...]:
    """What is wrong with the wrench of the last torque, or of one that it only went on from."""
    loose = torques_in_doubt(alike, book.state)
    entry = loose[-1] if loose else alike[-1]
    meter = book.facts.meters.get(entry.data["meter"])
    standing = book.state.not_proved(meter, entry) if meter else ""
    if not standing:
        return ()
    return (f"{standing}; used here on {on_day(entry.at)}.",)


def _own_again(stop: Entry, book: _Book) -> tuple[Entry, ...]:
    """The last three readings, torques or places of whoever stopped, before the stop."""
    mine = [
        entry
        for entry in book.live[: book.index[stop.id]]
        if entry.by == stop.by
        and (
            entry.kind in ("torqued", "done")
            or (entry.kind in ("reading", "seen") and entry.get("check"))
        )
    ]
    return tuple(mine[-3:])


def _answers(task: Task, place: str, book: _Book) -> list[_Answer]:
    """Everything that readings and acts are asked to show of a place."""
    found: list[_Answer] = []
    for kind, check in task.answers:
        if not book.inspects(kind):
            continue
        for item_id in book.items_at(kind, task.for_each, place):
            found.append(_answer_of_check(item_id, kind, check, book))
    for kind, act in task.acts:
        if act == "signed":
            found.append(_answer_of_record(kind, book))
            continue
        if not book.inspects(kind):
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


def _answer_of_check(item_id: str, kind: str, check: str, book: _Book) -> _Answer:
    sheet = book.facts.sheets.get(kind)
    one = next((c for c in sheet.checks if c.name == check), None) if sheet else None
    words = one.label.lower() if one else check
    current = book.stand_in(item_id)
    verdict = book.items.get(current)
    if item_id:
        words = f"{words} of {_item_words(current)}"
    if verdict is None or one is None:
        return _Answer(words, False, None)
    call = verdict.call(check)
    if call is not None and call.entry is not None and call.call != "VOID":
        # A look that found something is a look; a number that could not be read is not one.
        if call.call != "NOT READ" or one.kind == "look":
            again = words if verdict.verdict != "REJECT" and asks_again(call, one) else ""
            return _Answer(words, True, call.entry, again=again)
    elif call is not None and call.call in ("WITHIN", "OUT", "CLOSE CALL", "NOT JUDGED"):
        return _Answer(words, True, None)
    if verdict.verdict == "REJECT":
        return _Answer(words, True, None, f"{_item_words(current)} is a REJECT")
    return _Answer(words, False, None)


def asks_again(call: Call, check: Check) -> bool:
    """Whether a check that was read is to be put right and read again, or settled.

    What a person left open for another waits on that person, and asks for no work.
    """
    if call.left_open or (call.called_by and call.call == "WITHIN"):
        return False
    return call.call == "CLOSE CALL" or (call.call == "OUT" and check.reworkable)


def _answer_of_act(item_id: str, kind: str, act: str, book: _Book) -> _Answer:
    item = book.state.items.get(item_id)
    sheet = book.facts.sheets.get(kind)
    words = _act_words(act, kind, sheet)
    if item_id:
        words = f"{words} {_item_words(item_id)}"
    entry = _act_entry(item, act, book) if item is not None else None
    if entry is not None:
        return _Answer(words, True, entry)
    verdict = book.items.get(item_id)
    if verdict is not None and verdict.verdict == "REJECT":
        return _Answer(words, True, None, f"{_item_words(item_id)} is a REJECT")
    return _Answer(words, False, None)


def _answer_of_fitting(kind: str, place: str, book: _Book) -> _Answer:
    """What is in a place of the task answers, whichever serial it is."""
    entry = fitted_at(kind, place, book.facts, book.state)
    where = f" in {place_words(kind, place)}" if place else ""
    return _Answer(f"which {kind} is{where}", entry is not None, entry)


def _answer_of_count(kind: str, place: str, book: _Book) -> _Answer:
    """A blank, or a dehydrator plug, that was counted out for this very hole."""
    return _Answer(f"the {kind} counted out", place in book.counted, book.counted.get(place))


def _answer_of_record(what: str, book: _Book) -> _Answer:
    """A record answers while it stands signed, and asks again once something has changed."""
    signed = standing(book.state, what)
    words = f"the signature on the {WHATS.get(what, what).lower()}"
    return _Answer(words, signed is not None, signed.entry if signed else None)


def _act_entry(item: ItemState, act: str, book: _Book) -> Entry | None:
    match act:
        case "removed":
            return item.removed
        case "seen":
            seen = [one.entry for one in item.findings if one.entry.item == item.id]
            return seen[-1] if seen else None
        case "sampled":
            # The oil may be drained once the bottle is filled; the laboratory answers later.
            found = [e for e in (*item.samples, *item.bottles) if book.of_this_stay(e)]
        case "counted":
            found = [entry for entry in item.counts if book.of_this_stay(entry)]
        case "disposed":
            return item.disposed
        case _:
            found = [entry for entry in item.reworks if entry.get("act") == act]
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
    if kind in ("cylinder", "hole", "lead", "hose"):
        return f"{kind} {name}"
    if kind == "magneto":
        return f"{name} magneto"
    return f"{kind}, {name}" if name else kind


def _task_work(traced: _TaskTrace, book: _Book, today: date | None, said: list[str]) -> TaskWork:
    task = traced.task
    places: list[WorkPlace] = []
    shown: list[Entry] = []
    for name, trace in traced.places.items():
        answers = _answers(task, name, book)
        shown += [one.entry for one in answers if one.entry is not None]
        places.append(_work_place(task, name, trace, answers, book))
    states = {one.state for one in places}
    if states <= {DONE, CLOSED}:
        state = CLOSED if CLOSED in states or traced.closed is not None else DONE
    elif not traced.begun and not any(map(_is_touched, places)):
        state = NOT_STARTED
    else:
        state = STARTED
    look = None
    if task.hold:
        look = _second_look(traced, state, places, shown, book, today, said)
        if look.waits and states <= {DONE, CLOSED}:
            state = HELD
    closed = [one.closed for one in places if one.closed is not None]
    return TaskWork(
        task=task,
        state=state,
        places=tuple(places),
        waits_for=(),
        ready=(),
        late_waits=(),
        look=look,
        by=tuple(dict.fromkeys(key for one in places for key in one.by)),
        closed=traced.closed or next(iter(closed), None),
        used=tuple(book.used.get(task.id, ())),
    )


def _is_touched(place: WorkPlace) -> bool:
    """Whether anyone worked on a place; what is let off was not."""
    return place.state == STARTED or (place.is_finished and not place.let_off)


def _work_place(
    task: Task, name: str, trace: _Trace, answers: Sequence[_Answer], book: _Book
) -> WorkPlace:
    given = [one for one in answers if one.answered]
    shown = [one.entry for one in answers if one.entry is not None]
    # Where a torque is only part of a task that readings answer, its card asks for it.
    torque = task.fasteners > 0 or (trace.of > 0 and task.id not in book.carded)
    done, of, what = 0, 0, ""
    if torque:
        done, of, what = trace.torqued, trace.of or task.fasteners, task.fastener
    elif answers:
        done, of, what = len(given), len(answers), "check" if not task.acts else "entry"
    complete = (not answers or len(given) == len(answers)) and (not torque or done >= of)
    if not torque and not answers:
        complete = trace.said_done
    unrun = task.run > book.runs
    complete = complete and not unrun
    last_shown = max((book.index[entry.id] for entry in shown), default=-1)
    if answers and trace.started_at == trace.worked_at > last_shown:
        # Begun again after everything was answered: the answers are of the work before.
        complete = False
    if complete:
        state = DONE
    elif trace.closed is not None:
        state = CLOSED
    elif trace.begun or trace.torqued or any(one.entry for one in given) or trace.said_done:
        state = STARTED
    else:
        state = NOT_STARTED
    missing: list[str] = []
    if state in (NOT_STARTED, STARTED):
        missing = [one.words for one in answers if not one.answered]
        if torque and done < of:
            missing.append(f"{of - done} of {of} {plural(task.fastener, of)} torqued")
        if unrun:
            missing.append(
                f"ground run {task.run}, ended and with its figures ({book.runs} on file)"
            )
    known = {entry.id: entry for entry in (*trace.entries, *shown)}
    entries = sorted(known.values(), key=lambda entry: book.index[entry.id])
    notes = [entry.get("note") for entry in trace.entries if entry.get("note")]
    return WorkPlace(
        name=name,
        label=_label(task, name, book),
        state=state,
        done=done,
        of=of,
        what=what,
        missing=tuple(missing),
        by=tuple(dict.fromkeys(entry.by for entry in (*trace.work, *shown))),
        first=entries[0] if entries else None,
        last=entries[-1] if entries else None,
        stop=trace.stop if state == STARTED else None,
        closed=trace.closed if state == CLOSED else None,
        meters=trace.meters,
        note=notes[-1] if notes else "",
        let_off=next((one.let_off for one in answers if one.let_off), ""),
        again=next((one.again for one in answers if one.again), ""),
    )


def _second_look(
    traced: _TaskTrace,
    state: str,
    places: Sequence[WorkPlace],
    shown: Sequence[Entry],
    book: _Book,
    today: date | None,
    said: list[str],
) -> SecondLook:
    """Whether the second look is given, waits, or is still to come."""
    task = traced.task
    during = task.hold_when == "started"
    worked = [one for one in places if one.state == DONE or (during and one.state == STARTED)]
    by_whom = [*(e for trace in traced.places.values() for e in trace.work), *shown]
    good: list[Entry] = []
    for entry in traced.looks:
        at = book.index[entry.id]
        if entry.by in {e.by for e in by_whom if book.index[e.id] < at}:
            said.append(
                f"{book.facts.person(entry.by)} did part of {task.id} and gave its second look on "
                f"{on_day(entry.at)}. A second look is another person's; it does not count."
            )
        else:
            good.append(entry)

    def covers(look: Entry, place: WorkPlace) -> bool:
        trace = traced.places[place.name]
        after = trace.started_at if during else trace.worked_at
        # What went in after the look was not looked at.
        for kind, act in task.acts if not during else ():
            if act == "fitted" and book.inspects(kind):
                after = max(after, book.put_in_at(kind, place.name))
        named = (
            not look.place or place_named(task, look.place, book.facts, book.state) == place.name
        )
        return named and book.index[look.id] > after

    uncovered = [one for one in worked if not any(covers(look, one) for look in good)]
    # What is closed short as a whole, its look with it, waits for nobody.
    due = bool(worked) and traced.closed is None and (during or state in (DONE, CLOSED))
    waits = due and bool(uncovered)
    doers = tuple(dict.fromkeys(entry.by for entry in by_whom))
    who, next_day = _who_next(book.facts, doers, today)
    since = [one.last.at for one in uncovered if one.last is not None]
    return SecondLook(
        task=task.id,
        what=task.hold,
        waits=waits,
        since=max(since, default=None) if waits else None,
        doers=doers,
        who=who,
        next_day=next_day,
        given=good[-1] if good and worked and not uncovered else None,
    )


def _who_next(
    facts: JobFacts, doers: Sequence[str], today: date | None
) -> tuple[tuple[str, ...], date | None]:
    free = [one for one in lookers(facts, today) if one.key not in doers]
    if today is None:
        return tuple(one.key for one in free), None
    days = [(next_day_in(one, facts.shop, today), one.key) for one in free]
    soonest = sorted((day, key) for day, key in days if day is not None)
    never = [key for day, key in days if day is None]
    return (
        (*(key for _, key in soonest), *never),
        soonest[0][0] if soonest else None,
    )


def _with_needs(one: TaskWork, tasks: Mapping[str, TaskWork], book: _Book) -> TaskWork:
    waits: list[str] = []
    ready: list[str] = []
    places: list[WorkPlace] = []
    for place in one.places:
        unmet = [
            need for need in one.task.needs if not _is_met(tasks[need], one.task, place.name, book)
        ]
        places.append(replace(place, open_needs=tuple(unmet)))
        if place.is_finished:
            continue
        waits += unmet
        if not unmet:
            ready.append(place.name)
    late = [
        name for name in one.task.late_after if not one.is_finished and not tasks[name].is_finished
    ]
    return replace(
        one,
        places=tuple(places),
        waits_for=tuple(dict.fromkeys(waits)),
        ready=tuple(ready),
        late_waits=tuple(late),
    )


def _is_met(need: TaskWork, task: Task, place: str, book: _Book) -> bool:
    """Whether a need is met for one place: its whole task, or the same place of it.

    A place of it whose reading has to be put right or settled first meets nothing: no cover goes on
    over a clearance that is taken again.
    """
    related = _related(need.task, task, place, book)
    asked = [one for one in need.places if not related or one.name in related]
    if any(one.again for one in asked):
        return False
    if need.is_finished:
        return True
    return not need.task.hold and bool(related) and all(one.is_finished for one in asked)


def _related(need: Task, task: Task, place: str, book: _Book) -> set[str]:
    """The places of a needed task that belong to a place of the task; none where all do."""
    if not place or not need.for_each:
        return set()
    if task.for_each == need.for_each or (task.for_each in _BY_HOLE and need.for_each in _BY_HOLE):
        return {place}
    if task.for_each in _BY_HOLE and need.for_each == "cylinder":
        return {book.cylinder_at(place)}
    if task.for_each == "cylinder" and need.for_each in _BY_HOLE:
        return {hole for hole in book.facts.layout.walk if book.cylinder_at(hole) == place}
    return set()


def _flags(live: Iterable[Entry]) -> Iterator[Flag]:
    open_now: dict[tuple[str, str], Entry] = {}
    for entry in live:
        key = (str(entry.get("what")).casefold(), entry.place.casefold())
        if entry.kind == "flagged":
            open_now[key] = entry
        elif entry.kind == "flag_off":
            open_now.pop(key, None)
    for entry in open_now.values():
        yield Flag(entry.data["what"], entry.place, entry.get("task"), entry)
