"""What a task of the job, a place of it and its second look come to, as values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime

from rehang.trade.facts.tasks import Task
from rehang.trade.terms.entries import Entry
from rehang.trade.terms.kinds.torque import Torqued
from rehang.trade.terms.kinds.work import (
    CarriedOn,
    ClosedShort,
    Done,
    Flagged,
    SecondLookTaken,
    Started,
    Stopped,
)

__all__ = [
    "CLOSED",
    "DONE",
    "HELD",
    "NOT_STARTED",
    "STARTED",
    "WORK_KINDS",
    "WORK_STATES",
    "JobWork",
    "SecondLook",
    "Stop",
    "TaskWork",
    "WorkFlag",
    "WorkPlace",
]

# A place is NOT STARTED, STARTED, DONE or CLOSED SHORT; a task also HELD: done, and waiting for
# its second look.
WORK_STATES = ("NOT STARTED", "STARTED", "HELD", "DONE", "CLOSED SHORT")

NOT_STARTED, STARTED, HELD, DONE, CLOSED = WORK_STATES

WORK_KINDS = (Started, Done, ClosedShort, SecondLookTaken, Stopped, CarriedOn, Torqued)


@dataclass(frozen=True, slots=True)
class Stop:
    """Where work on a place stopped, and the last three things its person did, to own again."""

    entry: Entry[Stopped]
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
    closed: Entry[ClosedShort] | None
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
    closed: Entry[ClosedShort] | None
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
class WorkFlag:
    """A flag on the engine itself, as a red streamer, until it is taken off."""

    what: str
    place: str
    task: str
    entry: Entry[Flagged]


@dataclass(frozen=True, slots=True)
class JobWork:
    """All the work of a job. ``said`` are sentences about entries that found no place in it.

    ``standing`` says of each meter why it is not to be used today, or nothing; ``found_out`` are
    those that are out of tolerance and not put right.
    """

    tasks: Mapping[str, TaskWork]
    flags: tuple[WorkFlag, ...]
    out: Mapping[str, int]
    said: tuple[str, ...]
    today: date | None
    standing: Mapping[str, str] = field(default_factory=dict)
    found_out: frozenset[str] = frozenset()

    def of_state(self, *states: str) -> list[TaskWork]:
        return [one for one in self.tasks.values() if one.state in states]
