"""Known optima of eight instances of PSPLIB 1996 (Kolisch and Sprecher), as printed there.

The instances are in ``data/psplib``, verbatim. R. Kolisch and A. Sprecher, European Journal of
Operational Research 96, 1996, 205-216; the optima are the library's own tables.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from pytest import approx

from rehang.calc.schedule import (
    Activity,
    Broken,
    Need,
    Project,
    Resource,
    ThreePoint,
    plan,
    simulate,
    violations,
)
from tests.published.psplib import FOLDER, instance

OPTIMA = {
    "j301_1": 43,
    "j302_1": 38,
    "j305_1": 53,
    "j3017_1": 64,
    "j3025_1": 93,
    "j3041_1": 86,
    "j601_1": 77,
    "j6017_1": 86,
}


def test_every_instance_that_is_kept_has_its_optimum_here():
    assert {path.stem for path in FOLDER.glob("*.sm")} == set(OPTIMA)


@pytest.mark.parametrize(("name", "optimum"), OPTIMA.items())
def test_earliest_finish_is_the_known_optimum_and_is_proved(name, optimum):
    project = instance(name)
    found = plan(project, effort=10.0, seconds=60.0)
    assert (found.status, found.makespan, found.bound, found.gap) == ("PROVED", optimum, optimum, 0)
    assert violations(project, found.starts, found.ends) == ()
    assert max(found.ends.values()) == optimum
    # What has no slack reaches from the beginning to the end.
    assert found.starts[found.critical[0]] == 0
    assert found.ends[found.critical[-1]] == optimum


def test_a_start_that_is_a_unit_early_is_seen():
    project = instance("j301_1")
    found = plan(project, effort=10.0, seconds=60.0)
    for name in found.critical:
        if found.starts[name]:
            early = {**found.starts, name: found.starts[name] - 1}
            ends = {**found.ends, name: found.ends[name] - 1}
            seen = {broken.what for broken in violations(project, early, ends)}
            assert seen & {"need", "capacity"}, name


def test_one_unit_less_than_the_optimum_is_impossible_and_the_wish_is_named():
    # A known optimum is also a known proof: nothing is over before it.
    project = instance("j305_1")
    activities = {
        name: replace(a, deadline=OPTIMA["j305_1"] - 1 if name == "32" else None)
        for name, a in project.activities.items()
    }
    found = plan(replace(project, activities=activities), effort=10.0, seconds=60.0)
    assert found.status == "IMPOSSIBLE"
    assert [(wish.kind, wish.name) for wish in found.impossible] == [("deadline", "32")]


def test_certain_durations_end_with_the_optimum():
    project = instance("j3041_1")
    found = plan(project, effort=10.0, seconds=60.0)
    certain = {
        name: ThreePoint(a.duration, a.duration, a.duration)
        for name, a in project.activities.items()
    }
    finish = simulate(project, found.starts, certain, np.random.default_rng(1), n=3)
    assert finish.finishes.tolist() == [OPTIMA["j3041_1"]] * 3


def test_mean_of_three_points():
    # Malcolm, Roseboom, Clark and Fazar 1959: (a + 4 m + b)/6; from memory. Worked by hand for
    # 2, 4, 12: 30/6 = 5, and the variance of that beta is (5 - 2)(12 - 5)/7 = 3. In units of
    # a thousandth, so that drawing to the nearest unit does not show.
    n = 10_000
    one = Project({"a": Activity(4000)})
    guess = {"a": ThreePoint(2000, 4000, 12000)}
    finishes = simulate(one, {"a": 0}, guess, np.random.default_rng(7), n).finishes / 1000
    # Five standard errors: sqrt(3/n) of the mean; the variance's is below that of a normal.
    assert finishes.mean() == approx(5, abs=5 * np.sqrt(3 / n))
    assert finishes.var() == approx(3, abs=5 * 3 * np.sqrt(2 / n))
    assert finishes.min() >= 2
    assert finishes.max() <= 12


def test_two_at_once_and_one_at_a_time():
    # Worked by hand. Three of 4, 3 and 2 on one resource: 9 with one unit; 5 with two.
    three = {
        name: Activity(duration, resources={"hand": 1})
        for name, duration in zip("abc", (4, 3, 2), strict=True)
    }
    assert plan(Project(three, {"hand": Resource(1)})).makespan == 9
    assert plan(Project(three, {"hand": Resource(2)})).makespan == 5


def test_broken_things_are_named():
    # Worked by hand: each line of the plan breaks one thing.
    project = Project(
        {
            "a": Activity(4, resources={"hand": 1}),
            "b": Activity(3, (Need("a", lag=2),), resources={"hand": 1}),
            "c": Activity(2, release=3, deadline=5, calendar="shop"),
            "d": Activity(1, pinned=7),
        },
        {"hand": Resource(1, taken=((0, 1, 1),))},
        {"shop": ((2, 4), (6, 9))},
    )
    starts = {"a": 0, "b": 3, "c": 5, "d": 8}
    ends = {"a": 4, "b": 6, "c": 7, "d": 10}
    assert set(violations(project, starts, ends)) == {
        Broken("capacity", "a", "hand"),
        Broken("capacity", "b", "hand"),
        Broken("need", "b", "a"),
        Broken("closed", "c"),
        Broken("duration", "c"),
        Broken("deadline", "c"),
        Broken("pinned", "d"),
        Broken("duration", "d"),
    }
    assert violations(project, {}, {})[0] == Broken("missing", "a")
