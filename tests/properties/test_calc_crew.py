"""What holds for the people that `rehang.calc.crew` gives to activities, looked at without it."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rehang.calc.crew import Ask, crews
from rehang.calc.errors import OutOfRange
from rehang.calc.schedule import Activity, Need, Project, Resource, plan, violations

PEOPLE = ("ann", "bo", "cy", "di")
SHOP = tuple((day * 24, day * 24 + 9) for day in range(60))


@st.composite
def shops(draw: st.DrawFn):
    """Work with looks at it, and people who all may do both."""
    people = PEOPLE[: draw(st.integers(2, 4))]
    away = {one: draw(st.sets(st.integers(0, 5), max_size=3)) for one in people}
    windows = {
        one: tuple(w for day, w in enumerate(SHOP) if day % 7 not in away[one]) for one in people
    }
    activities, asks, apart = {}, {}, []
    for n in range(draw(st.integers(1, 8))):
        name = f"w{n}"
        before = draw(st.sets(st.sampled_from(sorted(activities)), max_size=2)) if n else set()
        activities[name] = Activity(
            draw(st.integers(1, 12)),
            tuple(Need(one) for one in sorted(before)),
            calendar="shop",
            splittable=True,
        )
        asks[name] = Ask(draw(st.integers(1, len(people) - 1)), people)
        if draw(st.booleans()):
            activities[f"look{n}"] = Activity(1, (Need(name),), calendar="shop")
            asks[f"look{n}"] = Ask(1, people)
            apart.append((f"look{n}", name))
    return Project(activities, {}, {"shop": SHOP}), asks, windows, apart


@settings(max_examples=60, deadline=None)
@given(shops())
def test_a_plan_with_its_people_keeps_everyone_free_in_and_apart(shop):
    project, asks, windows, apart = shop
    counted = plan(project, effort=0.05)
    shared = crews(project, counted.starts, asks, windows, apart)
    found = shared.of
    if not found:
        # Only where somebody's days and another's never meet, or too few are ever in.
        assert any(ask.number > 1 for ask in asks.values())
        return
    assert set(found) == set(asks)
    for name, team in found.items():
        assert len(set(team)) == len(team) == asks[name].number
        assert set(team) <= set(asks[name].among)
    for look, work in apart:
        assert not set(found[look]) & set(found[work])
    named = Project(
        {
            name: Activity(
                one.duration,
                one.needs,
                dict.fromkeys(found[name], 1),
                calendar="shop",
                splittable=one.splittable,
            )
            for name, one in project.activities.items()
        },
        {one: Resource(1, windows[one]) for one in windows},
        project.calendars,
    )
    made = plan(named, effort=0.05)
    assert made.makespan is not None
    assert not violations(named, made.starts, made.ends)
    # The pass is itself a plan with these people; the search finds none that is over later.
    assert shared.over is not None
    assert counted.bound <= made.makespan <= shared.over


def test_two_equals_share_the_work_and_look_at_each_others():
    """Worked by hand: each does one piece at a time, and looks at the other's."""
    both = ("ann", "bo")
    job = Project(
        {
            "a": Activity(2),
            "b": Activity(6),
            "look": Activity(1, (Need("a"),)),
        }
    )
    asks = {name: Ask(1, both) for name in job.activities}
    found = crews(
        job,
        {"a": 0, "b": 0, "look": 2},
        asks,
        {"ann": ((0, 90),), "bo": ((0, 90),)},
        [("look", "a")],
    ).of
    assert found == {"a": ("ann",), "b": ("bo",), "look": ("bo",)}


def test_where_nobody_is_left_there_are_no_crews():
    job = Project({"a": Activity(2), "look": Activity(1, (Need("a"),))})
    asks = {"a": Ask(1, ("ann",)), "look": Ask(1, ("ann",))}
    assert crews(job, {"a": 0, "look": 2}, asks, {"ann": ((0, 9),)}, [("look", "a")]).of == {}


def test_a_name_that_is_not_there_is_refused():
    job = Project({"a": Activity(2)})
    with pytest.raises(OutOfRange, match="may take bo, who is not among the people"):
        crews(job, {"a": 0}, {"a": Ask(1, ("bo",))}, {"ann": ((0, 9),)})
    with pytest.raises(OutOfRange, match="b is named, which is not among the activities"):
        crews(job, {"a": 0}, {}, {}, [("a", "b")])
