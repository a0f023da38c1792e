"""What holds for all projects handed to `rehang.calc.schedule`, and small ones by trying all.

Small projects are also planned here by a second route: every order of the activities, each
activity at the first moment where it breaks nothing, moment by moment. For an earliest finish
one of these plans is as good as any, because a plan whose activities are moved up in order of
their starts stays a plan.
"""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rehang.calc import _hours as clock
from rehang.calc.errors import OutOfRange
from rehang.calc.schedule import (
    Activity,
    Need,
    Project,
    Resource,
    ThreePoint,
    Wish,
    find_cycle,
    latest_starts,
    plan,
    simulate,
    violations,
)

# Hours of a short week: enough closings for work to meet them, few enough to try all moments.
SHOP = ((2, 8), (10, 16), (20, 26), (28, 34), (38, 60))
OTHERS = ((4, 7), (12, 15), (21, 30), (40, 55))
CAPACITIES = {"hand": 2, "stand": 1, "second": 1}


@st.composite
def activities(draw, names, *, tight=False):
    found = {}
    for k, name in enumerate(names):
        needs = tuple(
            Need(other, draw(st.sampled_from([0, 0, 0, 5])))
            for other in names[:k]
            if draw(st.integers(0, 3)) == 0
        )
        uses = {
            resource: draw(st.integers(1, capacity))
            for resource, capacity in CAPACITIES.items()
            if draw(st.integers(0, 2)) == 0
        }
        found[name] = Activity(
            draw(st.integers(0, 5)),
            needs=needs,
            resources=uses,
            release=draw(st.sampled_from([0, 0, 0, 3, 9, 17])),
            deadline=draw(st.sampled_from([None, None, 11, 25])) if tight else None,
            calendar=draw(st.sampled_from([None, "shop", "shop", "others"])),
            splittable=draw(st.booleans()),
        )
    return found


@st.composite
def projects(draw, most=7, *, tight=False):
    names = "abcdefg"[: draw(st.integers(1, most))]
    return Project(
        draw(activities(names, tight=tight)),
        {
            "hand": Resource(2, taken=draw(st.sampled_from([(), ((3, 6, 1),), ((10, 22, 2),)]))),
            "stand": Resource(1),
            "second": Resource(1, windows=draw(st.sampled_from([None, OTHERS, SHOP]))),
        },
        {"shop": SHOP, "others": OTHERS},
    )


def open_at(project, activity, moment):
    lists = [project.calendars[activity.calendar]] if activity.calendar else []
    lists += [
        project.resources[k].windows
        for k in activity.resources
        if project.resources[k].windows is not None
    ]
    return all(any(b <= moment < e for b, e in windows) for windows in lists)


def moments_of(project, activity, start):
    """Moments from start to end, stepping from one to the next; None when it cannot start."""
    moments = []
    left = activity.duration
    moment = start
    while left:
        is_open = open_at(project, activity, moment)
        if not is_open and (not moments or not activity.splittable or moment > 60):
            return None
        left -= is_open
        moments.append(moment)
        moment += 1
    return moments


def by_trying(project):
    """Least makespan over all orders; None when no order gives a plan."""
    best = None
    for order in permutations(project.activities):
        ends = {}
        used = {k: np.zeros(200, int) for k in project.resources}
        for k, resource in project.resources.items():
            for b, e, n in resource.taken:
                used[k][b:e] += n
        for name in order:
            a = project.activities[name]
            if any(need.on not in ends for need in a.needs):
                break
            start = max([a.release, *(ends[need.on] + need.lag for need in a.needs)])
            for moment in range(start, 100):
                run = moments_of(project, a, moment)
                if run is not None and all(
                    (used[k][run] + n <= project.resources[k].capacity).all()
                    for k, n in a.resources.items()
                    if run
                ):
                    break
            else:
                break
            ends[name] = run[-1] + 1 if run else moment
            if a.deadline is not None and ends[name] > a.deadline:
                break
            for k, n in a.resources.items():
                used[k][run] += n
        else:
            if best is None or max(ends.values()) < best:
                best = max(ends.values())
    return best


@settings(max_examples=150)
@given(projects())
def test_a_plan_keeps_everything_and_is_no_better_than_its_bound(project):
    found = plan(project)
    assert found.status in {"PROVED", "IMPOSSIBLE"}
    if found.status == "PROVED":
        assert violations(project, found.starts, found.ends) == ()
        assert found.bound == found.makespan == max(found.ends.values())
        assert found.gap == 0
        assert found.critical


@settings(max_examples=80)
@given(projects(most=4, tight=True))
def test_the_finish_is_the_earliest_of_all_orders(project):
    assert plan(project).makespan == by_trying(project)


def without(project, wish):
    acts, resources, calendars = (
        dict(project.activities),
        dict(project.resources),
        project.calendars,
    )
    if wish.kind == "deadline":
        acts[wish.name] = replace(acts[wish.name], deadline=None)
    elif wish.kind == "release":
        acts[wish.name] = replace(acts[wish.name], release=0)
    elif wish.kind == "calendar":
        acts = {
            name: replace(a, calendar=None) if a.calendar == wish.name else a
            for name, a in acts.items()
        }
    else:
        resources[wish.name] = Resource(resources[wish.name].capacity)
    return Project(acts, resources, calendars)


@settings(max_examples=80)
@given(projects(most=4, tight=True))
def test_wishes_named_as_impossible_are_so_together_and_each_is_needed(project):
    found = plan(project)
    if found.status != "IMPOSSIBLE":
        assert found.impossible == ()
        return
    assert found.impossible
    assert (found.starts, found.ends, found.makespan, found.gap) == ({}, {}, None, float("inf"))
    alone = project
    for wish in wishes_of(project):
        if wish not in found.impossible:
            alone = without(alone, wish)
    assert by_trying(alone) is None
    for wish in found.impossible:
        assert by_trying(without(alone, wish)) is not None


def wishes_of(project):
    for name, a in project.activities.items():
        if a.deadline is not None:
            yield Wish("deadline", name)
        if a.release:
            yield Wish("release", name)
    yield from (Wish("calendar", k) for k in project.calendars)
    yield from (Wish("resource", k) for k in project.resources)


@settings(max_examples=60)
@given(projects())
def test_all_at_their_latest_is_a_plan_too(project):
    found = plan(project)
    if found.status != "PROVED":
        return
    latest = latest_starts(project, found.starts, found.makespan)
    ends = {}
    for name, a in project.activities.items():
        run = moments_of(project, a, latest[name])
        assert run is not None
        ends[name] = run[-1] + 1 if run else latest[name]
        assert latest[name] - found.starts[name] == found.slack[name]
    assert violations(project, latest, ends) == ()
    assert max(ends.values()) <= found.makespan


@settings(max_examples=60)
@given(projects())
def test_certain_durations_end_as_planned(project):
    found = plan(project)
    if found.status == "PROVED":
        finish = simulate(project, found.starts, {}, np.random.default_rng(1), n=2)
        assert finish.finishes.tolist() == [found.makespan] * 2
        assert (finish.p50, finish.p80, finish.notes) == (found.makespan, found.makespan, ())


@settings(max_examples=40)
@given(projects(), st.integers(0, 3))
def test_longer_guesses_never_end_sooner(project, longer):
    found = plan(project)
    if found.status == "PROVED":
        guesses = {
            name: ThreePoint(a.duration, a.duration + longer, a.duration + 2 * longer)
            for name, a in project.activities.items()
        }
        finish = simulate(project, found.starts, guesses, np.random.default_rng(1), n=50)
        assert found.makespan <= finish.finishes[0] <= finish.p50 <= finish.p80
        assert (np.diff(finish.finishes[np.isfinite(finish.finishes)]) >= 0).all()


@settings(max_examples=60)
@given(projects(), st.data())
def test_planned_again_nothing_moves_and_the_same_comes_out(project, data):
    first = plan(project)
    assert plan(project) == first
    if first.status != "PROVED":
        return
    promised = {
        name: replace(a, promised=first.starts[name]) for name, a in project.activities.items()
    }
    again = plan(replace(project, activities=promised))
    assert (again.makespan, again.drift, again.drift_bound) == (first.makespan, 0, 0)
    # What is under way stays where it is.
    under_way = data.draw(st.sampled_from(sorted(first.starts)))
    promised[under_way] = replace(promised[under_way], pinned=first.starts[under_way])
    pinned = plan(replace(project, activities=promised))
    assert pinned.starts[under_way] == first.starts[under_way]
    assert pinned.makespan == first.makespan


@settings(max_examples=60)
@given(projects(), st.data())
def test_leaning_and_promises_move_no_finish_and_break_nothing(project, data):
    names = sorted(project.activities)
    changed = {
        name: replace(
            a,
            lean=data.draw(st.sampled_from([-3, -1, 0, 0, 2])),
            promised=data.draw(st.sampled_from([None, None, 0, 12, 30])),
        )
        for name, a in project.activities.items()
    }
    project = replace(project, activities=changed)
    found = plan(project)
    plain = plan(
        replace(project, activities={n: replace(changed[n], lean=0, promised=None) for n in names})
    )
    assert (found.status, found.makespan) == (plain.status, plain.makespan)
    if found.status == "PROVED":
        assert violations(project, found.starts, found.ends) == ()
        if found.drift is not None:
            assert found.drift_bound <= found.drift


def test_left_late_on_purpose_is_as_late_as_the_finish_allows():
    # Worked by hand: a chain of 9, and two on one hand beside it, of which one leans late.
    project = Project(
        {
            "chain": Activity(9),
            "late": Activity(2, resources={"hand": 1}, lean=-1),
            "plain": Activity(3, resources={"hand": 1}),
            "early": Activity(1, (Need("plain"),), resources={"hand": 1}, lean=1),
        },
        {"hand": Resource(1)},
    )
    found = plan(project)
    assert found.starts == {"chain": 0, "late": 7, "plain": 0, "early": 3}


def test_a_promise_is_kept_as_near_as_can_be():
    # Worked by hand: the second is promised for 4, and what is under way takes the hand to 5.
    project = Project(
        {
            "now": Activity(5, resources={"hand": 1}, pinned=0),
            "next": Activity(3, resources={"hand": 1}, promised=4),
            "long": Activity(14, release=0),
            "other": Activity(3, resources={"hand": 1}, promised=9),
        },
        {"hand": Resource(1)},
    )
    found = plan(project)
    assert found.starts == {"now": 0, "next": 5, "long": 0, "other": 9}
    assert (found.drift, found.drift_bound) == (1, 1)


def test_circle_is_named_in_order():
    circle = {
        "a": Activity(1),
        "b": Activity(1, (Need("a"), Need("d"))),
        "c": Activity(1, (Need("b"),)),
        "d": Activity(1, (Need("c"),)),
    }
    assert find_cycle(circle) == ("b", "d", "c")
    with pytest.raises(
        OutOfRange,
        match=r"^Nothing of a circle can be first: b needs d needs c needs b. "
        r"Take one of these needs out.$",
    ):
        plan(Project(circle))
    itself = {"a": Activity(1, (Need("a"),))}
    assert find_cycle(itself) == ("a",)


@given(st.lists(st.tuples(st.integers(0, 7), st.integers(0, 7)), max_size=16))
def test_circle_is_one_and_is_found_when_there_is_one(pairs):
    found = {str(k): Activity(1) for k in range(8)}
    for one, other in pairs:
        found[str(one)] = replace(found[str(one)], needs=(*found[str(one)].needs, Need(str(other))))
    circle = find_cycle(found)
    for name, following in zip(circle, circle[1:] + circle[:1], strict=True):
        assert following in {need.on for need in found[name].needs}
    # By a second route: powers of the table of needs have a diagonal when there is a circle.
    table = np.zeros((8, 8), bool)
    for one, other in pairs:
        table[one, other] = True
    reach = table.copy()
    for _ in range(8):
        reach |= reach @ table
    assert bool(circle) == bool(reach.diagonal().any())


def test_someone_who_never_comes_and_something_that_never_arrives_are_named():
    one = Project(
        {"look": Activity(1, resources={"second": 1}), "other": Activity(1, deadline=5)},
        {"second": Resource(1, windows=())},
    )
    assert plan(one).impossible == (Wish("resource", "second"),)
    part = Project({"a": Activity(1, deadline=50), "b": Activity(1, (Need("a"),), release=None)})
    assert plan(part).impossible == (Wish("release", "b"),)
    late = Project({"a": Activity(2, release=8), "b": Activity(3, (Need("a"),), deadline=12)})
    assert set(plan(late).impossible) == {Wish("deadline", "b"), Wish("release", "a")}
    twice = Project(
        {name: Activity(4, resources={"hand": 1}, pinned=3) for name in "ab"}, {"hand": Resource(1)}
    )
    assert set(plan(twice).impossible) == {Wish("pinned", "a"), Wish("pinned", "b")}


REFUSED = [
    (Project({}), r"^Give at least one activity: got none\.$"),
    (
        Project({"a": Activity(-3)}),
        r"^a: the duration must be a whole number from 0 to 1,000,000,000: got -3\.$",
    ),
    (
        Project({"a": Activity(2.5)}),
        r"^a: the duration must be a whole number from 0 to 1,000,000,000: got 2\.5\.$",
    ),
    (
        Project({"a": Activity(1), "b": Activity(1, (Need("a", lag=-1),))}),
        r"^b: the lag after a must be a whole number from 0 to 1,000,000,000: got -1\.$",
    ),
    (
        Project({"a": Activity(1, (Need("x"),))}),
        r"^a needs x, which is not among the activities\.$",
    ),
    (
        Project({"a": Activity(1, calendar="x")}),
        r"^a keeps the calendar x, which is not there\.$",
    ),
    (
        Project({"a": Activity(1, resources={"x": 1})}),
        r"^a uses x, which is not among the resources\.$",
    ),
    (
        Project({"a": Activity(1, resources={"x": 3})}, {"x": Resource(2)}),
        r"^a uses 3 of x, and there are only 2\.$",
    ),
    (
        Project({"a": Activity(1, lean=2000)}),
        r"^a: the lean must be a whole number from -1000 to 1000: got 2000\.$",
    ),
    (
        Project({"a": Activity(1)}, {"x": Resource(-1)}),
        r"^x: the capacity must be a whole number from 0 to 1,000,000,000: got -1\.$",
    ),
    (
        Project({"a": Activity(1)}, {"x": Resource(1, taken=((0, 5, 2),))}),
        r"^x: of 1, no more and no less than 0 can be taken from 0 to 5: got 2\.$",
    ),
    (
        Project({"a": Activity(1)}, calendars={"shop": ((5, 5),)}),
        r"^shop: a window must end after it starts, from 0 to 1,000,000,000, in whole numbers: "
        r"got 5 to 5\.$",
    ),
]


@pytest.mark.parametrize(("project", "sentence"), REFUSED)
def test_what_is_no_project_is_refused_with_what_was_given(project, sentence):
    with pytest.raises(OutOfRange, match=sentence):
        plan(project)


def test_limits_and_guesses_are_refused_with_what_was_given():
    one = Project({"a": Activity(1)})
    with pytest.raises(OutOfRange, match=r"^The effort must be a finite number above 0: got 0\.$"):
        plan(one, effort=0)
    with pytest.raises(OutOfRange, match=r"must be a finite number above 0: got inf\.$"):
        plan(one, seconds=float("inf"))
    with pytest.raises(OutOfRange, match=r"workers must be a whole number from 1 up: got 0\.$"):
        plan(one, workers=0)
    rng = np.random.default_rng(1)
    with pytest.raises(OutOfRange, match=r"^a: give least, likeliest and most in this order"):
        simulate(one, {"a": 0}, {"a": ThreePoint(3, 2, 5)}, rng)
    with pytest.raises(OutOfRange, match=r"given for x, which is not among the activities\.$"):
        simulate(one, {"a": 0}, {"x": ThreePoint(1, 2, 5)}, rng)
    with pytest.raises(OutOfRange, match=r"runs must be a whole number from 1 up: got 0\.$"):
        simulate(one, {"a": 0}, {}, rng, n=0)
    with pytest.raises(OutOfRange, match=r"^a cannot start at a moment that was not given: plan"):
        simulate(one, {}, {}, rng)
    with pytest.raises(OutOfRange, match=r"does not keep the need of b: plan again"):
        latest_starts(
            Project({"a": Activity(2), "b": Activity(1, (Need("a"),))}), {"a": 0, "b": 1}, 9
        )
    with pytest.raises(OutOfRange, match=r"^The moment must be a whole number from 0"):
        latest_starts(one, {"a": 0}, -1)


def test_runs_that_outlast_the_windows_are_counted():
    one = Project({"a": Activity(4, calendar="c", splittable=True)}, calendars={"c": ((0, 6),)})
    found = simulate(one, {"a": 0}, {"a": ThreePoint(2, 5, 10)}, np.random.default_rng(3), n=1000)
    over = int(np.isinf(found.finishes).sum())
    assert 0 < over < 500
    assert found.notes == (f"In {over} of 1000 runs the windows ran out before the end.",)


windows = st.lists(st.tuples(st.integers(0, 40), st.integers(1, 9)), max_size=6).map(
    lambda pairs: [(b, b + length) for b, length in pairs]
)


@given(windows, st.integers(0, 50), st.integers(1, 12), st.booleans())
def test_runs_are_those_found_moment_by_moment(opened, moment, duration, split):
    project = Project({"a": Activity(duration)}, calendars={"c": tuple(opened)})
    a = Activity(duration, calendar="c", splittable=split)
    hours = clock.hours(opened)
    runs = {
        start: (start, run[-1] + 1)
        for start in range(60)
        if (run := moments_of(project, a, start)) is not None
    }
    following = [runs[s] for s in sorted(runs) if s >= moment]
    assert clock.first_run(hours, moment, duration, split) == (following[0] if following else None)
    before = [runs[s] for s in sorted(runs) if runs[s][1] <= moment]
    assert clock.last_run(hours, moment, duration, split) == (before[-1] if before else None)
    if split:
        lengths = clock.lengths_by_start(hours, duration, moment, 60)
        assert {
            s: size for size, pieces in lengths.items() for b, e in pieces for s in range(b, e + 1)
        } == {run[0]: run[1] - run[0] for run in following}


@given(windows, windows, st.integers(0, 60))
def test_open_in_both_is_open_in_each(one, other, moment):
    shared = clock.both(clock.hours(one), clock.hours(other))

    def is_open(pieces):
        return any(b <= moment < e for b, e in pieces)

    assert is_open(clock.windows_of(shared)) == (is_open(one) and is_open(other))
    assert clock.open_before(shared, moment) == sum(
        is_open_at(one, t) and is_open_at(other, t) for t in range(moment)
    )


def is_open_at(pieces, moment):
    return any(b <= moment < e for b, e in pieces)


def test_the_solver_is_not_loaded_before_a_plan_needs_it():
    code = (
        "import sys; from rehang.calc.schedule import *; import rehang.calc.assignment; "
        "found = plan(Project({'a': Activity(1)})); assert found.proved; "
        "print('ortools' in sys.modules, 'scipy' in sys.modules)"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.split() == ["False", "False"]
