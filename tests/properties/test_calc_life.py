"""What holds for all inputs of `rehang.calc.life`, and its numbers by a second route."""

from __future__ import annotations

from dataclasses import astuple

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from pytest import approx
from scipy.special import gamma
from scipy.stats import chi2

from rehang.calc.life import (
    weibull,
    weibull_hours,
    weibull_lasting,
)

seeds = st.integers(0, 2**32 - 1)
shapes = st.floats(0.4, 6.0)
watches = st.floats(0.3, 2.0)


def simulated(seed, shape=2.0, watch=1.0, parts=30, late=True, scale=1000.0):
    """Lives of which some end, some are still going on, and half were met in service."""
    rng = np.random.default_rng(seed)
    entered = np.where(rng.random(parts) < 0.5, rng.uniform(0, 600, parts), 0.0) * late
    # Drawn from what is left of life at entry.
    life = scale * ((entered / scale) ** shape + rng.exponential(size=parts)) ** (1 / shape)
    until = entered + rng.uniform(0.2, 1.0, parts) * watch * scale
    return np.minimum(life, until), life <= until, entered


def enough(failed, failures=3):
    assume(failed.sum() >= failures)


@given(seeds, shapes, watches)
@settings(max_examples=25)
def test_a_value_lies_between_its_ends(seed, shape, watch):
    hours, failed, entered = simulated(seed, shape, watch, parts=15)
    enough(failed, 2)
    found = weibull(hours, failed, entered)
    assume(np.isfinite(found.shape.value))
    wider = weibull(hours, failed, entered, confidence=0.99)
    for name in ("shape", "scale", "mean"):
        one, two = getattr(found, name), getattr(wider, name)
        assert one.low < one.value < one.high
        assert two.low <= one.low
        assert one.high <= two.high
    chance = weibull_lasting(found, [1, 100, 1000], age=[0, 700, 300])
    assert (chance.low <= chance.chance).all()
    assert (chance.chance <= chance.high).all()
    needed = weibull_hours(found, 0.1, age=400)
    assert needed.low < needed.value < needed.high


@given(seeds, shapes, st.sampled_from([1e-3, 1 / 24, 60.0, 3600.0]))
@settings(max_examples=25)
def test_unit_of_time_scales_the_scale_and_nothing_else(seed, shape, unit):
    hours, failed, entered = simulated(seed, shape)
    enough(failed)
    here = weibull(hours, failed, entered)
    there = weibull(hours * unit, failed, entered * unit)
    assert astuple(there.shape) == approx(astuple(here.shape), rel=1e-6, nan_ok=True)
    for name in ("scale", "mean"):
        scaled = np.array(astuple(getattr(here, name))) * unit
        assert astuple(getattr(there, name)) == approx(tuple(scaled), rel=1e-6, nan_ok=True)
    lasting = (
        weibull_lasting(here, 300, age=500),
        weibull_lasting(there, 300 * unit, age=500 * unit),
    )
    assert astuple(lasting[1])[:3] == approx(astuple(lasting[0])[:3], rel=1e-6, nan_ok=True)
    assert there.log_likelihood == approx(
        here.log_likelihood - failed.sum() * np.log(unit), rel=1e-9, nan_ok=True
    )


@given(seeds, shapes)
@settings(max_examples=25)
def test_entry_at_zero_is_no_late_entry(seed, shape):
    hours, failed, _ = simulated(seed, shape, late=False)
    enough(failed)
    one, two = weibull(hours, failed), weibull(hours, failed, np.zeros(len(hours)))
    for name in ("shape", "scale"):
        assert astuple(getattr(two, name)) == approx(
            astuple(getattr(one, name)), rel=1e-12, nan_ok=True
        )
    # And as good as zero is nearly the same, by the other formula.
    near = weibull(hours, failed, np.full(len(hours), 1e-12 * hours.min()))
    assert near.shape.value == approx(one.shape.value, rel=1e-3)


@given(seeds, shapes)
@settings(max_examples=25)
def test_a_part_may_be_written_in_two_stretches(seed, shape):
    # Watched to half its age and then on, as two rows: the same likelihood.
    hours, failed, _ = simulated(seed, shape, late=False)
    enough(failed)
    half = hours / 2
    two = weibull(
        np.append(half, hours),
        np.append(np.zeros(len(hours)), failed),
        np.append(np.zeros(len(hours)), half),
    )
    one = weibull(hours, failed)
    assert astuple(two.shape) == approx(astuple(one.shape), rel=1e-7)
    assert astuple(two.scale) == approx(astuple(one.scale), rel=1e-7)


def brute(hours, failed, entered, points=700):
    """Shapes and scales in the likelihood region on a fine grid, by the definition."""
    # Ours only say where to look: over a wider region than is asked for.
    at = weibull(hours, failed, entered, confidence=0.97)
    shape = np.geomspace(max(at.shape.low, 1e-3), at.shape.high, points)[:, np.newaxis]
    scale = np.geomspace(at.scale.low, min(at.scale.high, 1e9), points)
    log_likelihood = np.zeros((points, points))
    for t, d, e in zip(hours, failed, entered, strict=True):
        log_likelihood += d * (np.log(shape / scale) + (shape - 1) * np.log(t / scale))
        log_likelihood -= (t / scale) ** shape - (e / scale) ** shape
    inside = 2 * (log_likelihood.max() - log_likelihood) <= chi2.ppf(0.9, 1)
    rows, columns = np.nonzero(inside)
    return shape[rows, 0], scale[columns], log_likelihood.max()


@pytest.mark.parametrize(
    ("seed", "late", "watch"), [(1, False, 0.6), (2, True, 0.8), (3, True, 0.5)]
)
def test_ends_against_a_brute_search(seed, late, watch):
    hours, failed, entered = simulated(seed, 1.7, watch, parts=25, late=late)
    found = weibull(hours, failed, entered)
    shape, scale, top = brute(hours, failed, entered)
    assert found.log_likelihood == approx(top, abs=1e-4)
    near = {"rel": 6e-3}  # the grid's own step
    assert (shape.min(), shape.max()) == approx((found.shape.low, found.shape.high), **near)
    assert (scale.min(), scale.max()) == approx((found.scale.low, found.scale.high), **near)
    mean = scale * gamma(1 + 1 / shape)
    assert (mean.min(), mean.max()) == approx((found.mean.low, found.mean.high), **near)
    chance = np.exp((500 / scale) ** shape - (700 / scale) ** shape)
    lasting = weibull_lasting(found, 200, age=500)
    assert (chance.min(), chance.max()) == approx((lasting.low, lasting.high), **near)
    needed = ((300 / scale) ** shape - np.log(0.95)) ** (1 / shape) * scale - 300
    told = weibull_hours(found, 0.05, age=300)
    assert (needed.min(), needed.max()) == approx((told.low, told.high), **near)


@given(seeds, st.floats(0.01, 0.99), st.floats(0, 2000))
@settings(max_examples=25)
def test_hours_and_chance_are_each_others_way_back(seed, share, age):
    hours, failed, entered = simulated(seed)
    enough(failed, 5)
    life = weibull(hours, failed, entered)
    needed = weibull_hours(life, share, age=age)
    back = weibull_lasting(life, [needed.value, needed.low, needed.high], age=age)
    assert back.chance[0] == approx(1 - share, rel=1e-9)
    # The chance at an end of the hours has its own end at the same share.
    assert back.low[1] == approx(1 - share, abs=1e-5)
    assert back.high[2] == approx(1 - share, abs=1e-5)


@given(seeds, shapes)
@settings(max_examples=25)
def test_older_parts_of_a_wearing_kind_last_less_and_none_lasts_longer_for_more_hours(seed, shape):
    hours, failed, entered = simulated(seed, shape)
    enough(failed)
    life = weibull(hours, failed, entered)
    assume(np.isfinite(life.shape.value))
    ages = np.array([0, 200, 400, 800, 1600])
    by_age = weibull_lasting(life, 100, age=ages).chance
    wears = life.shape.value > 1
    assert (np.diff(by_age) <= 1e-12).all() if wears else (np.diff(by_age) >= -1e-12).all()
    longer = weibull_lasting(life, ages, age=300)
    for values in (longer.chance, longer.low, longer.high):
        assert (np.diff(values) <= 1e-9).all()


def test_recovers_what_it_was_simulated_from():
    hours, failed, entered = simulated(7, 2.5, 0.9, parts=20_000)
    found = weibull(hours, failed, entered, confidence=0.999)
    assert found.shape.low < 2.5 < found.shape.high
    assert found.scale.low < 1000 < found.scale.high
    assert found.shape.value == approx(2.5, rel=0.03)
    # Who takes late entry for new gets it wrong.
    wrong = weibull(hours, failed, confidence=0.999)
    assert wrong.scale.low > 1000


def test_intervals_hold_about_what_they_ask_for():
    # 300 sets of 20 parts, some 10 failures each: 90 % with 1.7 % of one standard deviation, and
    # small sets hold somewhat less.
    held = []
    for seed in range(300):
        hours, failed, entered = simulated(seed, 2.0, 1.2, parts=20)
        life = weibull(hours, failed, entered)
        lasting = weibull_lasting(life, 300, age=500)
        held.append(
            [
                life.shape.low <= 2.0 <= life.shape.high,
                life.scale.low <= 1000.0 <= life.scale.high,
                lasting.low <= np.exp(0.25 - 0.64) <= lasting.high,
            ]
        )
    share = np.mean(held, axis=0)
    assert (share > 0.84).all()
    assert (share < 0.95).all()


@given(seeds, watches)
@settings(max_examples=40)
def test_exponential_is_hours_over_failures(seed, watch):
    hours, failed, entered = simulated(seed, 1.0, watch)
    enough(failed, 1)
    found = weibull(hours, failed, entered, shape=1.0)
    assert found.mean.value == approx((hours - entered).sum() / failed.sum(), rel=1e-12)
    assert found.mean.low < found.mean.value < found.mean.high


# No form assumed
