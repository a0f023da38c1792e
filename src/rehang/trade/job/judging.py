"""A whole job judged: items, tasks, parts and what blocks the return to service, from one book."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.gate.oddities import oddities_of
from rehang.trade.known.cylinders_off import opened
from rehang.trade.known.state import JobState
from rehang.trade.papers.due import Due, due_blockers, due_of, hours_of
from rehang.trade.papers.signing import Signed, signed_of
from rehang.trade.papers.warranties import warranties_due
from rehang.trade.release.blockers import release_blockers
from rehang.trade.release.claims import shared_papers
from rehang.trade.release.consumed import use_blockers
from rehang.trade.run.accused import with_accused
from rehang.trade.run.runs import Runs, runs_of
from rehang.trade.terms.entries import Entry
from rehang.trade.terms.errors import BadInput
from rehang.trade.verdicts.folding import fold_job
from rehang.trade.verdicts.item_blockers import Blocker
from rehang.trade.verdicts.item_verdict import ItemVerdict
from rehang.trade.verdicts.verdict import judge_items
from rehang.trade.work.places import PlaceNow, place_blockers, places_now
from rehang.trade.work.progress import work_of
from rehang.trade.work.rotation import Rotation, rotation_of, with_goes_to
from rehang.trade.work.stock import stock_of
from rehang.trade.work.stock_values import Stock
from rehang.trade.work.task_states import JobWork

__all__ = ["JudgedJob", "judge", "judge_state"]


@dataclass(frozen=True, slots=True)
class JudgedJob:
    """A job with every item judged, its work and its parts counted."""

    facts: JobFacts
    state: JobState
    items: tuple[ItemVerdict, ...]
    blockers: tuple[Blocker, ...]
    now: datetime | None
    work: JobWork
    runs: Runs
    stock: Stock
    rotation: Rotation
    due: tuple[Due, ...]
    signed: tuple[Signed, ...]
    places: tuple[PlaceNow, ...] = ()
    notices: tuple[str, ...] = field(default=())
    today: date | None = None

    def item(self, item_id: str) -> ItemVerdict:
        for one in self.items:
            if one.item == item_id:
                return one
        raise BadInput(f'There is no item "{item_id}" in this job.')

    @property
    def may_not_fly(self) -> tuple[Blocker, ...]:
        """What is overdue: it keeps the aircraft down, and no entry on other work (DESIGN 4b, 8)."""
        return tuple(due_blockers(self.due))

    def against(self, what: str) -> tuple[Blocker, ...]:
        """What keeps a record from being signed as one that approves."""
        return (*self.blockers, *(self.may_not_fly if what == "inspection" else ()))

    @property
    def empty_holes(self) -> tuple[str, ...]:
        """The holes that no plug came out of yet, in the order of the walk."""
        return tuple(hole for hole in self.facts.layout.walk if hole not in self.state.holes)

    def at(self, hole: str) -> ItemVerdict | None:
        """The item in a hole of the tray."""
        held = self.state.holes.get(hole)
        return self.item(held) if held else None


def judge(
    facts: JobFacts,
    entries: Sequence[Entry],
    now: datetime | None = None,
    where: Mapping[str, str] | None = None,
    today: date | None = None,
    clock: datetime | None = None,
) -> JudgedJob:
    """Every item of a job judged from its book, as it stood at ``now``.

    ``today`` is the day that ages are judged on: the day of ``now``, or of the last entry, when
    left out. ``clock`` is the machine's: what is dated later than it settles nothing.
    """
    return judge_state(facts, fold_job(facts, entries, now, where, clock=clock), now, today)


def judge_state(
    facts: JobFacts,
    state: JobState,
    now: datetime | None = None,
    today: date | None = None,
) -> JudgedJob:
    """Every item of a job judged from the fold of its book at ``now``."""
    if today is None:
        last = now or (state.order[-1].at if state.order else None)
        today = last.date() if last is not None else None
    facts = opened(facts.as_of(today), state)
    verdicts, blockers = judge_items(facts, state, today)
    rotation = rotation_of(facts, state, verdicts)
    verdicts = with_goes_to(verdicts, rotation)
    work = work_of(facts, state, verdicts, today)
    stock = stock_of(facts, state, verdicts, work, today)
    runs = runs_of(facts, state, verdicts)
    verdicts, accused = with_accused(facts, state, verdicts, runs)
    due = (*due_of(facts, state, today), *warranties_due(facts, state, today))
    signed = signed_of(state)
    places = places_now(facts, state, verdicts, rotation)
    return JudgedJob(
        facts=facts,
        state=state,
        items=verdicts,
        blockers=release_blockers(
            facts,
            state,
            items=(
                *blockers,
                *accused,
                *place_blockers(facts, state, verdicts, places, work, stock),
                *shared_papers(state, places),
                *use_blockers(facts, state, work),
            ),
            work=work,
            runs=runs,
            due=due,
            hours=hours_of(facts, state),
            signed=signed,
        ),
        now=now,
        work=work,
        runs=runs,
        stock=stock,
        rotation=rotation,
        due=due,
        signed=signed,
        places=places,
        notices=(*work.said, *stock.said, *rotation.said, *oddities_of(state)),
        today=today,
    )
