"""From pieces of work to a plan: what the scheduling core is asked, and what its answer says."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta

import numpy as np

from rehang.calc import schedule
from rehang.trade.facts.shop import WEEKDAYS
from rehang.trade.gate.stock_rules import start_of
from rehang.trade.gate.who import days_in, is_in, lookers
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.went_in import part_for
from rehang.trade.plan.cutting import IN_HAND_AT, pieces_of
from rehang.trade.plan.plan_people import crew_of, with_crew
from rehang.trade.plan.plan_pieces import Arrival, Pieces, PlanAsked, arrival_words, moment
from rehang.trade.plan.plan_values import Decision, Option, OrderBy, PlanDay, PlanRow, Wanted
from rehang.trade.terms.days import last_day
from rehang.trade.terms.entries import is_a
from rehang.trade.terms.kinds.work import FinishWanted, PlanPromised
from rehang.trade.terms.wording import listed, on_day, upper_first
from rehang.trade.work.stock import arrival_if_ordered, last_order_day

__all__ = ["RUNS", "Planner", "Solved", "day_words", "wanted_in"]

# Runs of the simulation: the 80th percentile of 300 runs is good to about 2 in 100.
RUNS = 300

# The solver's own measure of effort, and a limit in seconds so that a page never waits longer.
EFFORT = 0.5

SECONDS = 1.5

NOON = time(12)

# Said where the work cannot be shared so that every look is another person's.
NOBODY_ELSE = (
    "No way was found to share the work so that every second look is another person's than whoever "
    "did it. Add someone to the list of people, or mark someone for second looks."
)


@dataclass(frozen=True, slots=True)
class Solved:
    """Pieces, the part of them that can be planned, and the plan of that part.

    Where it matters who does what, ``project`` has people by name as ``crew`` gives them, and
    ``counted`` only counts them: its bound holds for every way to share the work.
    """

    cut: Pieces
    project: schedule.Project | None
    found: schedule.Plan | None
    why: tuple[str, ...]
    counted: schedule.Project | None = None
    crew: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    def at(self, minutes: float) -> datetime:
        return self.cut.at(minutes)

    @property
    def makespan(self) -> int | None:
        return self.found.makespan if self.found else None

    @property
    def finish(self) -> datetime | None:
        """When all is over; None where something never is."""
        if self.why or self.makespan is None:
            return None
        return self.at(self.makespan)

    @property
    def hang(self) -> datetime | None:
        if self.found is None or self.cut.hang not in self.found.ends:
            return None
        return self.at(self.found.ends[self.cut.hang])

    @property
    def last(self) -> datetime | None:
        """When the last of what can be done is over."""
        return self.at(self.makespan) if self.makespan is not None else None


class Planner:
    """Plans one job from one moment; lives only inside :func:`plan_of`."""

    def __init__(self, judged: JudgedJob, origin: datetime) -> None:
        self.judged = judged
        self.facts = judged.facts
        self.origin = origin
        self.promised = _promised(judged)

    def solve(self, asked: PlanAsked, *, only_days: bool = False) -> Solved:
        """The plan by what is asked; without promises and leanings where only its days count."""
        cut = pieces_of(self.judged, self.origin, asked)
        if cut.project is None:
            return Solved(cut, None, None, ())
        stuck = _with_followers(cut)
        activities = {}
        for key, one in cut.project.activities.items():
            start = self.promised.get(key)
            if only_days:
                one = replace(one, lean=0)
            elif start is not None and start >= self.origin:
                one = replace(one, promised=moment(self.origin, start))
            if key not in stuck:
                activities[key] = one
        why = tuple(dict.fromkeys(s for key in cut.stuck for s in cut.stuck[key]))
        if cut.not_ordered:
            are = "is" if len(cut.not_ordered) == 1 else "are"
            why = (f"{listed(cut.not_ordered)} {are} short and not ordered.", *why)
        if not activities:
            return Solved(cut, None, None, why)
        counted = project = replace(cut.project, activities=activities)
        crew: Mapping[str, tuple[str, ...]] = {}
        if cut.equals:
            project, found, crew = self._shared_out(cut, counted)
            if found.makespan is not None and not crew:
                return Solved(cut, None, None, (*why, NOBODY_ELSE), counted)
        else:
            project, found = self._hung_early(counted, cut.hang)
        if found.status == "IMPOSSIBLE":
            why = (*why, *self._wishes(found.impossible, cut))
        elif found.status == "NOT FOUND":
            why = (*why, *found.notes)
        return Solved(cut, project, found, why, counted, crew)

    def _shared_out(
        self, cut: Pieces, counted: schedule.Project
    ) -> tuple[schedule.Project, schedule.Plan, Mapping[str, tuple[str, ...]]]:
        """The plan with people by name.

        How good it is, is said by the plan that counts people: no way to share it is over before.
        """
        share = 0.5
        bound = schedule.plan(counted, effort=EFFORT * share, seconds=SECONDS * share)
        if bound.makespan is None:
            return counted, bound, {}
        latest = schedule.latest_starts(counted, bound.starts, bound.makespan)
        crew = crew_of(cut, counted, (bound.starts, latest), self.facts)
        if not crew:
            return counted, bound, {}
        named = with_crew(cut, counted, crew, self.facts)
        project, found = self._hung_early(named, cut.hang, share)
        if found.makespan is None:
            return counted, bound, {}
        proved = found.makespan <= bound.bound
        return (
            project,
            replace(found, bound=bound.bound, status="PROVED" if proved else "FOUND"),
            crew,
        )

    def _hung_early(
        self, project: schedule.Project, hang: str, share: float = 1.0
    ) -> tuple[schedule.Project, schedule.Plan]:
        """The earliest finish, and with that kept the engine hung as early as can be."""
        effort, seconds = EFFORT * share, SECONDS * share
        found = schedule.plan(project, effort=effort, seconds=seconds)
        if hang not in found.ends:
            return project, found
        wanted = {hang}
        for key in reversed(_in_order(project)):
            if key in wanted:
                wanted |= {need.on for need in project.activities[key].needs}
        first = replace(
            project,
            activities={
                key: replace(one, promised=None, lean=0)
                for key, one in project.activities.items()
                if key in wanted
            },
        )
        earliest = schedule.plan(first, effort=effort / 4, seconds=seconds / 4)
        if earliest.makespan is None or found.ends[hang] <= earliest.makespan:
            return project, found
        # More than all other leanings together.
        early = replace(project.activities[hang], lean=100)
        project = replace(project, activities={**project.activities, hang: early})
        again = schedule.plan(project, effort=effort, seconds=seconds)
        sooner = again.makespan == found.makespan and again.ends[hang] < found.ends[hang]
        return project, again if sooner else found

    # ------------------------------------------------------------ rows and days

    def rows(self, solved: Solved) -> tuple[PlanRow, ...]:
        found = solved.found
        if found is None or found.makespan is None:
            return ()
        order = sorted(found.starts, key=lambda key: (found.starts[key], found.ends[key]))
        who = self._who(solved, order)
        rows = []
        for key in order:
            piece = solved.cut.pieces[key]
            start = solved.at(found.starts[key])
            promised = self.promised.get(key)
            rows.append(
                PlanRow(
                    key=key,
                    task=piece.task,
                    kind=piece.kind,
                    title=piece.title,
                    places=piece.places,
                    start=start,
                    end=solved.at(found.ends[key]),
                    minutes=solved.cut.project.activities[key].duration
                    if solved.cut.project
                    else 0,
                    hands=piece.hands,
                    who=who[key],
                    critical=key in found.critical,
                    slack_minutes=found.slack[key],
                    waits=tuple(arrival_words(one) for one in piece.waits),
                    promised=promised if promised is not None and promised != start else None,
                )
            )
        return tuple(rows)

    def _who(self, solved: Solved, order: Iterable[str]) -> dict[str, tuple[str, ...]]:
        """Who could do each piece: whoever is in all its days and has nothing else then."""
        assert solved.found is not None
        if solved.crew:
            return {
                key: tuple(self.facts.person(one) for one in solved.crew.get(key, ()))
                for key in order
            }
        busy: dict[str, list[tuple[int, int]]] = {}
        chosen: dict[str, tuple[str, ...]] = {}
        looks = {p.task: p.lookers for p in solved.cut.pieces.values() if p.kind == "look"}
        looked: dict[str, str] = {}
        worked: dict[str, set[str]] = {}
        for key in order:
            piece = solved.cut.pieces[key]
            start, end = solved.found.starts[key], solved.found.ends[key]
            pool = piece.lookers if piece.kind == "look" else solved.cut.hands
            number = 1 if piece.kind == "look" else piece.hands
            days = _days_between(solved.at(start), solved.at(end))
            free = [
                one
                for one in pool
                if all(
                    is_in(self.facts.people[one], self.facts.shop, d) for d in days if self._open(d)
                )
                and not any(b < end and start < e for b, e in busy.get(one, ()))
            ]
            task = piece.task
            if piece.kind == "look":
                # A second look is another person's than whoever does the work.
                free = [one for one in free if one not in worked.get(task, ())]
            elif task in looks:
                done = worked.get(task, set())
                free = [
                    one
                    for one in free
                    if one != looked.get(task) and set(looks[task]) - done - {one}
                ]
                free.sort(key=lambda one: one not in done)
            taken = free[:number]
            for one in taken:
                busy.setdefault(one, []).append((start, end))
            if piece.kind == "look" and taken:
                looked[task] = taken[0]
            elif piece.kind != "look":
                worked.setdefault(task, set()).update(taken)
            chosen[key] = tuple(self.facts.person(one) for one in taken)
        return chosen

    def _open(self, day: date) -> bool:
        return day not in self.facts.shop.shut_on and day.weekday() in self.facts.shop.days

    def days(self, solved: Solved, rows: Sequence[PlanRow]) -> tuple[PlanDay, ...]:
        last = max((row.end for row in rows), default=self.origin).date()
        arriving: dict[date, list[Arrival]] = {}
        used = set(solved.found.starts) if solved.found else set()
        waits = [one for key, p in solved.cut.pieces.items() if key in used for one in p.waits]
        for one in _summed(waits):
            if one.day is not None:
                arriving.setdefault(one.day, []).append(one)
        last = max([last, *arriving])
        found = []
        for day in _days_between(self.origin, datetime.combine(last, time())):
            is_open = self._open(day)
            noon = datetime.combine(day, NOON)
            opens = datetime.combine(day, self.facts.shop.opens)
            shuts = datetime.combine(day, self.facts.shop.shuts)
            found.append(
                PlanDay(
                    day=day,
                    is_today=day == self.origin.date(),
                    is_open=is_open,
                    morning=_between(rows, opens, noon) if is_open else (),
                    afternoon=_between(rows, noon, shuts) if is_open else (),
                    arrivals=tuple(arriving.get(day, ())),
                    who=tuple(
                        self.facts.person(key)
                        for key in solved.cut.hands
                        if is_in(self.facts.people[key], self.facts.shop, day)
                    ),
                    lookers=tuple(
                        one.name
                        for one in lookers(self.facts, day)
                        if is_in(one, self.facts.shop, day)
                    ),
                )
            )
        return tuple(found)

    # ------------------------------------------------------------ how sure

    def chances(
        self, solved: Solved, rng: np.random.Generator | None, runs: int
    ) -> tuple[datetime | None, datetime | None]:
        """When half and four of five simulated jobs are over."""
        if rng is None or solved.finish is None:
            return None, None
        if solved.project is None or solved.found is None:
            return None, None
        found = schedule.simulate(
            solved.project,
            solved.found.starts,
            solved.cut.durations,
            rng,
            runs,
        )
        return (
            solved.at(found.p50) if np.isfinite(found.p50) else None,
            solved.at(found.p80) if np.isfinite(found.p80) else None,
        )

    # ------------------------------------------------------------ orders

    def order_by(self, solved: Solved, wanted: Wanted | None) -> tuple[OrderBy, ...]:
        """Per part that is still to be ordered: the last day for it that keeps the day."""
        if solved.finish is None or solved.project is None or solved.found is None:
            return ()
        keeps = solved.finish.date()
        if wanted is not None and wanted.possible:
            keeps = wanted.on
        closing = datetime.combine(keeps, self.facts.shop.shuts)
        by = max(moment(self.origin, closing), solved.makespan or 0)
        latest = schedule.latest_starts(solved.project, solved.found.starts, by)
        today = self.origin.date()
        found = []
        for one in self.judged.stock.order_today:
            gated = [
                key
                for key in latest
                if any(
                    a.part == one.part.id and not a.ordered for a in solved.cut.pieces[key].waits
                )
            ]
            lead = one.part.lead_days
            if not gated or lead is None:
                continue
            needed = solved.at(min(latest[key] for key in gated))
            there = needed.date() if needed.time() >= IN_HAND_AT else needed.date() - _DAY
            order_by = max(today, last_order_day(there, lead))
            found.append(
                OrderBy(
                    part=one.part.id,
                    name=one.part.name,
                    number=one.to_order,
                    lead_days=lead,
                    order_by=order_by,
                    arrives_if_today=arrival_if_ordered(today, lead),
                    keeps=keeps,
                    sentence=f"Order {one.to_order} {one.part.name} "
                    f"{'today' if order_by == today else f'by {day_words(order_by)}'} to be ready on "
                    f"{day_words(keeps)}.",
                )
            )
        return tuple(sorted(found, key=lambda o: (o.order_by, -o.lead_days)))

    def options(self, solved: Solved, day: date, *, never_order: bool) -> tuple[Option, ...]:
        """When it hangs and is ready: ordered on the day, a working day or a week later, never."""
        if not self.judged.stock.order_today:
            return ()
        later, week = arrival_if_ordered(day, 1), arrival_if_ordered(day, 5)
        when = "today" if day == self.origin.date() else day_words(day)
        found = []
        for name, order_on in (
            (f"ordered {when}", day),
            (f"ordered a working day later, {day_words(later)}", later),
            (f"ordered a week later, {day_words(week)}", week),
            ("nothing ordered", None),
        ):
            known = (
                solved if (order_on is None) == never_order and order_on in (day, None) else None
            )
            one = known or self.solve(PlanAsked(order_on), only_days=True)
            found.append(_option(name, one))
        return tuple(found)

    # ------------------------------------------------------------ decisions, wishes

    def with_options(self, decision: Decision, solved: Solved, asked: PlanAsked) -> Decision:
        """A decision with what each way of it comes to."""
        options = [_option("goes back, as it is or settled in place", solved)]
        part = part_for(decision.item, self.facts)
        if part is not None and part.lead_days is not None:
            back = arrival_if_ordered(self.origin.date(), part.lead_days)
            away = self.solve(replace(asked, away={decision.item: back}), only_days=True)
            name = f"{part.name.lower()} ({part.lead_days} working days, back {day_words(back)})"
            options.append(_option(name, away, part.price))
        return replace(decision, options=tuple(options))

    def wanted(self, solved: Solved, by: date) -> Wanted:
        closing = datetime.combine(by, self.facts.shop.shuts)
        if solved.finish is not None and solved.finish <= closing:
            spare = (by - solved.finish.date()).days
            days = f", {spare} {'day' if spare == 1 else 'days'} in hand" if spare else ""
            return Wanted(
                by,
                True,
                f"Ready by {day_words(by)} can be: {day_words(solved.finish.date())}{days}.",
                (),
            )
        if solved.why:
            return Wanted(
                by, False, f"Ready by {day_words(by)} cannot be: {solved.why[0]}", solved.why
            )
        assert solved.finish is not None and solved.project is not None
        sooner = solved.at(solved.found.bound) if solved.found else solved.finish
        found = schedule.plan(
            _by(solved.project, moment(self.origin, closing)), effort=EFFORT, seconds=SECONDS
        )
        if found.status == "IMPOSSIBLE" and solved.crew and solved.counted is not None:
            # Impossible with this way to share the work; is it with every way?
            found = schedule.plan(
                _by(solved.counted, moment(self.origin, closing)), effort=EFFORT, seconds=SECONDS
            )
            if found.status in ("PROVED", "FOUND"):
                found = replace(found, status="NOT FOUND")
        if found.status in ("PROVED", "FOUND"):
            return Wanted(
                by,
                True,
                f"Ready by {day_words(by)} can be, and this plan is not it: plan again with that day.",
                (),
            )
        if found.status != "IMPOSSIBLE" and sooner <= closing:
            return Wanted(
                by,
                False,
                f"No plan was found that is ready by {day_words(by)}; none was proved impossible. This "
                f"one is ready on {day_words(solved.finish.date())}.",
                (),
            )
        ways = tuple(
            dict.fromkeys(words for words in self._wishes(found.impossible, solved.cut) if words)
        )
        in_the_way = f" In the way: {' '.join(ways)}" if ways else ""
        return Wanted(
            by,
            False,
            f"Ready by {day_words(by)} cannot be; the earliest is {day_words(sooner.date())}.{in_the_way}",
            ways,
        )

    def _wishes(self, wishes: Iterable[schedule.Wish], cut: Pieces) -> tuple[str, ...]:
        """The wishes that cannot all be kept, a sentence each; a deadline is the one asked about."""
        found = []
        for wish in wishes:
            piece = cut.pieces.get(wish.name)
            match wish.kind:
                case "release" if piece is not None:
                    found += [f"{upper_first(arrival_words(one))}." for one in piece.waits]
                    if not piece.waits:
                        found.append(f"{piece.task} ({piece.title}) cannot start sooner.")
                case "resource" if wish.name.startswith("look:"):
                    found.append(self._who_looks(wish.name))
                case "resource" if wish.name == "hands":
                    names = [self.facts.person(key) for key in cut.hands]
                    found.append(f"The hands there are: {listed(names)}.")
                case "calendar":
                    shop = self.facts.shop
                    found.append(
                        f"The shop is open {shop.opens:%H:%M} to {shop.shuts:%H:%M} on "
                        f"{listed([WEEKDAYS[d] for d in shop.days])}."
                    )
        return tuple(dict.fromkeys(found))

    def _who_looks(self, resource: str) -> str:
        told = []
        for key in resource.removeprefix("look:").split("+"):
            person = self.facts.people[key]
            days = listed([WEEKDAYS[d] for d in days_in(person, self.facts.shop)])
            away = [
                f", away {on_day(first)} to {on_day(last)}"
                for first, last in person.away
                if last >= self.origin.date()
            ]
            told.append(f"{person.name} gives second looks and is in on {days}{''.join(away)}")
        return f"{'; '.join(told)}."


_DAY = timedelta(days=1)


def _in_order(project: schedule.Project) -> list[str]:
    """Keys with everything they need before them."""
    order: dict[str, None] = {}

    def put(key: str) -> None:
        if key not in order:
            for need in project.activities[key].needs:
                put(need.on)
            order[key] = None

    for key in project.activities:
        put(key)
    return list(order)


def _with_followers(cut: Pieces) -> set[str]:
    """The stuck pieces and all that waits for them."""
    stuck = set(cut.stuck)
    while True:
        more = {
            key
            for key, piece in cut.pieces.items()
            if key not in stuck and any(need.on in stuck for need in piece.needs)
        }
        if not more:
            return stuck
        stuck |= more


def _promised(judged: JudgedJob) -> dict[str, datetime]:
    """The starts of the last plan that was promised."""
    entries = [entry for entry in judged.state.live() if is_a(entry, PlanPromised)]
    if not entries:
        return {}
    found = {key: start_of(start) for key, start in entries[-1].fields.starts.items()}
    return {key: start for key, start in found.items() if start is not None}


def wanted_in(judged: JudgedJob) -> date | None:
    entries = [entry for entry in judged.state.live() if is_a(entry, FinishWanted)]
    return last_day(entries[-1].fields.on) if entries else None


def _by(project: schedule.Project, deadline: int) -> schedule.Project:
    """The same project, over by a moment."""
    return replace(
        project,
        activities={
            key: replace(one, deadline=deadline, promised=None)
            for key, one in project.activities.items()
        },
    )


def _days_between(first: datetime, last: datetime) -> list[date]:
    return [
        first.date() + timedelta(days=ahead)
        for ahead in range((last.date() - first.date()).days + 1)
    ]


def _between(rows: Iterable[PlanRow], first: datetime, last: datetime) -> tuple[PlanRow, ...]:
    return tuple(row for row in rows if row.start < last and first < row.end)


def _summed(waits: Iterable[Arrival]) -> list[Arrival]:
    found: dict[tuple[str, date | None, bool], Arrival] = {}
    for one in waits:
        key = (one.part, one.day, one.ordered)
        there = found.get(key)
        found[key] = replace(one, number=one.number + there.number) if there else one
    return list(found.values())


# ---------------------------------------------------------------- words


def day_words(day: date) -> str:
    return f"{day:%a} {on_day(day)}"


def _option(name: str, solved: Solved, cost: float | None = None) -> Option:
    if solved.finish is not None:
        hung = f"hung {day_words(solved.hang.date())}, " if solved.hang else ""
        sentence = f"{upper_first(name)}: {hung}ready {day_words(solved.finish.date())}."
    else:
        hung = f"hung {day_words(solved.hang.date())}" if solved.hang else "not hung"
        until = (
            f"; the work there is ends on {day_words(solved.last.date())}" if solved.last else ""
        )
        sentence = f"{upper_first(name)}: {hung}, never ready{until}. {' '.join(solved.why)}"
    return Option(name, solved.hang, solved.finish, cost, sentence)
