"""A plan keeps every need, look, arrival, hand and hour of whatever job it is given.

Random task sheets, people and stock lists; the plan's rows are looked at one by one, with no help
from what made them. The check of a plan inside the scheduling core is run as well.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from itertools import pairwise

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rehang.calc.schedule import plan as calc_plan
from rehang.calc.schedule import violations
from rehang.sheets import layouts
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.tasks import tasks_from
from rehang.trade.gate.who import is_in
from rehang.trade.job.judging import JudgedJob, judge
from rehang.trade.plan.cutting import pieces_of
from rehang.trade.plan.plan_pieces import PlanAsked
from rehang.trade.plan.plan_values import Plan, PlanRow
from rehang.trade.plan.planning import plan_of
from rehang.trade.work.rotation import RULES, best_rotation, broken_rules, rotation_of
from rehang.trade.work.stock import arrival_if_ordered
from tests.trade.cast import Bench, facts

NOW = datetime.fromisoformat("2026-11-02T09:00:00-06:00")


@dataclass(frozen=True)
class Job:
    """A random job, as its files."""

    tasks: str
    people: str
    stock: str


@st.composite
def jobs(draw: st.DrawFn) -> Job:
    number = draw(st.integers(2, 9))
    tasks = []
    for n in range(number):
        needs = draw(st.lists(st.integers(0, n - 1), unique=True, max_size=2)) if n else []
        likely = draw(st.integers(5, 200))
        lines = [
            "[[task]]",
            f'id = "T{n}"',
            f'title = "Work {n}"',
            f"minutes = [{likely // 2}, {likely}, {likely * 2}]",
            f"needs = {[f'T{one}' for one in needs]}".replace("'", '"'),
            f"hands = {draw(st.integers(1, 2))}",
        ]
        if draw(st.booleans()):
            lines.append('hold = "the work"')
            if draw(st.booleans()):
                lines.append('hold_when = "started"')
        if draw(st.booleans()):
            lines.append("in_one_go = true")
        if draw(st.integers(0, 3)) == 0:
            lines.append(f"after_hours = {draw(st.integers(1, 30))}")
        lines.append(draw(st.sampled_from(["", "stand = true", "hoist = true"])))
        if draw(st.integers(0, 2)) == 0:
            lines.append(f'use = [{{ part = "P{draw(st.integers(0, 2))}", number = 1 }}]')
        tasks.append("\n".join(lines))
    people = "\n".join(
        f'[[person]]\nkey = "w{n}"\nname = "Worker {n}"\nrole = "mechanic"\n{extra}\n'
        for n, extra in enumerate(
            [
                "",
                draw(
                    st.sampled_from(["", 'days = "Mon-Wed"', "away = [[2026-11-03, 2026-11-04]]"])
                ),
            ]
        )
    )
    look = draw(
        st.sampled_from(
            ['days = "Tue, Thu"', 'days = "Fri"', "", "away = [[2026-11-01, 2026-11-08]]"]
        )
    )
    people += f'[[person]]\nkey = "look"\nname = "Looker"\nrole = "second look"\nsecond_look = true\n{look}\n'
    stock = "\n".join(
        f'[[part]]\nid = "P{n}"\nname = "Part {n}"\nstock = {draw(st.integers(0, 2))}\n'
        f"lead_days = {draw(st.integers(0, 9))}\n"
        for n in range(3)
    )
    return Job("\n\n".join(tasks), people, stock)


def _judged(job: Job) -> JudgedJob:
    found = facts(people=job.people, stock=job.stock, limits="", meters="")
    return judge(replace(found, tasks=tasks_from(tomllib.loads(job.tasks))), [], NOW)


SLOW = settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@SLOW
@given(jobs())
def test_no_plan_breaks_what_a_job_asks_for(job):
    judged = _judged(job)
    plan = plan_of(judged, NOW, rng=np.random.default_rng(1), compare=False, runs=5)
    assert plan.finish is not None or plan.impossible
    _needs_are_kept(plan, judged.facts)
    _looks_are_kept(plan, judged.facts)
    _hours_are_kept(plan, judged.facts)
    _hands_are_kept(plan, judged.facts)
    _arrivals_are_kept(plan, judged)
    assert plan.bound is not None
    assert plan.finish is None or plan.bound <= plan.finish
    cut = pieces_of(judged, NOW.replace(tzinfo=None), PlanAsked(NOW.date()))
    assert cut.project is not None
    if not cut.stuck:
        found = calc_plan(cut.project, effort=0.1)
        assert not violations(cut.project, found.starts, found.ends)


@SLOW
@given(jobs())
def test_among_equals_no_look_is_given_by_whoever_did_the_work(job):
    """Everybody has a paper for looks and nobody is marked for them: all work and all look."""
    paper = 'certificate = "W-1"\ncertificate_kind = "shop inspector"\n'
    people = job.people.replace("second_look = true\n", "").replace(
        "[[person]]\n", f"[[person]]\n{paper}"
    )
    equals = replace(job, people=people)
    judged = _judged(equals)
    plan = plan_of(judged, NOW, compare=False)
    assert plan.finish is not None or plan.impossible
    _needs_are_kept(plan, judged.facts)
    _hours_are_kept(plan, judged.facts)
    keys = {one.name: one for one in judged.facts.people.values()}
    for row in plan.rows:
        wanted = 1 if row.kind == "look" else row.hands
        assert len(set(row.who)) == len(row.who) == wanted, row.key
        for name in row.who:
            for day in (row.start.date(), row.end.date()):
                assert is_in(keys[name], judged.facts.shop, day), (row.key, name, day)
        if row.kind == "look":
            doers = {n for one in _of(plan, row.task) if one.kind != "look" for n in one.who}
            assert doers
            assert not doers & set(row.who), row.key
    for name in keys:
        theirs = sorted((r for r in plan.rows if name in r.who), key=lambda r: r.start)
        assert all(a.end <= b.start for a, b in pairwise(theirs)), name
    assert plan.bound is not None or not plan.rows
    if plan.finish is not None:
        assert plan.bound is not None and plan.bound <= plan.finish
        assert plan.proved == (plan.bound == plan.finish)


def _of(plan: Plan, task: str) -> list[PlanRow]:
    return [row for row in plan.rows if row.task == task]


def _needs_are_kept(plan: Plan, the_facts: JobFacts) -> None:
    for row in plan.rows:
        for need in the_facts.tasks[row.task].needs:
            before = _of(plan, need)
            assert before, f"{row.key} is planned and {need}, which it needs, is not"
            assert max(one.end for one in before) <= row.start
            wait = timedelta(hours=the_facts.tasks[need].after_hours)
            work = [one.end for one in before if one.kind == "work"]
            assert max(work) + wait <= row.start


def _looks_are_kept(plan: Plan, the_facts: JobFacts) -> None:
    looker = the_facts.people["look"]
    for row in plan.rows:
        task = the_facts.tasks[row.task]
        if row.kind != "look":
            assert "Looker" not in row.who
            continue
        assert is_in(looker, the_facts.shop, row.start.date())
        assert row.start.date() == row.end.date()
        work = sorted(
            (one for one in _of(plan, row.task) if one.kind == "work"), key=lambda r: r.start
        )
        if task.hold_when == "done":
            assert all(one.end <= row.start for one in work)
        else:
            # Some of the work is before the look and some after it.
            assert work[0].end <= row.start
            assert work[-1].start >= row.end
    planned = {row.task for row in plan.rows if row.kind == "work"}
    looks = [row for row in plan.rows if row.kind == "look"]
    if plan.finish is not None:
        asked = {name for name in planned if the_facts.tasks[name].hold}
        assert {row.task for row in looks} == asked
    by_start = sorted(looks, key=lambda r: r.start)
    assert all(a.end <= b.start for a, b in pairwise(by_start))


def _minutes_open(row: PlanRow, the_facts: JobFacts) -> int:
    """Minutes of the shop's hours between a row's start and end."""
    shop = the_facts.shop
    total = 0
    day = row.start.date()
    while day <= row.end.date():
        if day.weekday() in shop.days and day not in shop.shut_on:
            opens = max(row.start, datetime.combine(day, shop.opens))
            shuts = min(row.end, datetime.combine(day, shop.shuts))
            total += max(0, round((shuts - opens).total_seconds() / 60))
        day += timedelta(days=1)
    return total


def _hours_are_kept(plan: Plan, the_facts: JobFacts) -> None:
    now = NOW.replace(tzinfo=None)
    for row in plan.rows:
        assert row.start >= now
        for when in (row.start, row.end):
            assert when.weekday() in the_facts.shop.days
            assert the_facts.shop.opens <= when.time() <= the_facts.shop.shuts
        open_minutes = _minutes_open(row, the_facts)
        # Work stops while too few are in, so that it may take longer than its minutes.
        assert open_minutes >= row.minutes
        if the_facts.tasks[row.task].in_one_go or row.kind == "look":
            assert row.start.date() == row.end.date()
            assert open_minutes == row.minutes


def _hands_are_kept(plan: Plan, the_facts: JobFacts) -> None:
    workers = [one for one in the_facts.people.values() if not one.second_look]
    for row in plan.rows:
        now = [one for one in plan.rows if one.start <= row.start < one.end]
        there = sum(is_in(one, the_facts.shop, row.start.date()) for one in workers)
        assert sum(one.hands for one in now) <= there
        for thing in ("stand", "hoist"):
            using = [
                one
                for one in now
                if one.kind == "work" and getattr(the_facts.tasks[one.task], thing)
            ]
            assert len(using) <= 1


def _arrivals_are_kept(plan: Plan, judged: JudgedJob) -> None:
    """Each part is used no more often than there are of it by then."""
    shelf: Mapping[str, int] = {name: one.on_hand for name, one in judged.stock.parts.items()}
    for name, part in judged.facts.parts.items():
        users = [
            min(_of(plan, task.id), key=lambda r: r.start)
            for task in judged.facts.tasks.values()
            if _of(plan, task.id) and any(use.part == name for use in task.uses)
        ]
        assert part.lead_days is not None
        noon = datetime.combine(arrival_if_ordered(NOW.date(), part.lead_days), datetime.min.time())
        early = [row for row in users if row.start < noon + timedelta(hours=12)]
        assert len(early) <= shelf[name]


# ---------------------------------------------------------------- rotation


@given(st.sampled_from(sorted(layouts())), st.data())
@settings(max_examples=25, deadline=None)
def test_every_rotation_sends_each_plug_to_a_hole_of_its_own(name, data):
    """On every layout, with plugs changed by hand, dropped and partly read."""
    one = layouts()[name]
    engine = f'format = 1\njob = "case"\nlayout = "{name}"\ntimezone = "America/Chicago"\n'
    bench = Bench(item=f"plug:P-{one.walk[0]}", place=one.walk[0])
    for hole in one.walk[1:]:
        bench.write("removed", item=f"plug:P-{hole}", place=hole)
    holes = st.sampled_from(one.walk)
    for hole in data.draw(st.lists(holes, unique=True, max_size=4)):
        bench.write("dropped", item=f"plug:P-{hole}")
    for item, hole in data.draw(st.lists(st.tuples(holes, holes), max_size=5)):
        bench.write("assigned", item=f"plug:P-{item}", place=hole)
    judged = bench.judged(facts(engine=engine))
    for rotation in (
        rotation_of(judged.facts, judged.state, judged.items),
        best_rotation(judged.facts, judged.state, judged.items),
    ):
        assert sorted(place.slot for place in rotation.places) == sorted(
            f"plug:P-{hole}" for hole in one.walk
        )
        assert sorted(rotation.goes_to[f"plug:P-{hole}"] for hole in one.walk) == sorted(one.walk)
        counted = sum(len(place.breaks) for place in rotation.places)
        by_hand = sum(
            len(broken_rules(one, place.came_out_of, place.hole))
            for place in rotation.places
            if not place.is_new
        )
        assert counted == by_hand
        assert sum(len(rotation.broken(rule)) for rule in RULES) == counted
        assert not rotation.said


def test_a_date_is_a_date() -> None:
    """The clock the random jobs run by begins on a Monday, so that weekdays mean what they say."""
    assert NOW.date() == date(2026, 11, 2)
    assert NOW.weekday() == 0
