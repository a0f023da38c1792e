"""What holds for all inputs of `rehang.calc.oil`."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from rehang.calc.oil import (
    TopUp,
    below_detection,
    carried_over,
    cycled_concentration,
    even_topup_rate,
    falling_concentration,
    follow_oil,
    makeup_concentration,
    makeup_rate,
    topup_rate,
    undiluted_upper_bound,
    wear_rate,
)

ppm = st.floats(0.1, 500)
fills = st.floats(4, 20)
times = st.floats(5, 200)
rates = st.floats(0.01, 100)
quarts = st.integers(1, 12)
units = st.sampled_from([1e-6, 1e-3, 0.946353, 1e3])


@st.composite
def fillings(draw):
    """A fill of oil, how fast it goes, and top-ups that keep it from running out."""
    volume, hours = draw(fills), draw(times)
    use = draw(st.floats(0, 0.9)) * volume / hours
    when = sorted(draw(st.lists(st.floats(0, 1), max_size=6)))
    topups = [TopUp(share * hours, draw(st.floats(0, 3))) for share in when]
    return use, volume, hours, topups


@given(fillings(), rates, st.floats(0, 50))
def test_the_balance_closes(filling, rate, start):
    use, volume, hours, topups = filling
    story = follow_oil(rate, use, volume, hours, topups, start)
    held = story.concentration * story.volume - start * volume
    assert held + story.lost == approx(story.generated, rel=1e-9, abs=1e-9 * (1 + start * volume))
    assert story.volume == approx(
        volume - use * hours + sum(step.volume for step in topups), rel=1e-9
    )
    assert len(story.points) == len(topups) + 1


@given(fillings(), rates, st.floats(0, 50))
def test_rate_and_concentration_are_each_others_way_back(filling, rate, start):
    use, volume, hours, topups = filling
    found = follow_oil(rate, use, volume, hours, topups, start).concentration
    back = topup_rate(found, use, volume, hours, topups, start)
    # What residual oil adds is taken off again, with its rounding.
    assert back == approx(rate, rel=1e-9, abs=1e-9 * start * volume / hours)


@given(rates, st.floats(0, 0.5), fills, times, st.floats(0, 50))
def test_steady_makeup_is_its_way_back(rate, makeup, volume, hours, start):
    found = makeup_concentration(rate, makeup, volume, hours, start)
    back = makeup_rate(found, makeup, volume, hours, start)
    size = start * volume / hours * (1 + makeup * hours / volume)
    assert back == approx(rate, rel=1e-9, abs=1e-9 * size)


@given(ppm, quarts, fills, times)
def test_quarts_are_the_list_of_quarts(found, added, volume, hours):
    size = 0.3
    rate = even_topup_rate(found, added * size, volume, hours, size)
    steps = [TopUp(hours * (n + 1) / added, size) for n in range(added)]
    # The last is at the drain whatever rounding makes of it.
    steps[-1] = TopUp(hours, size)
    story = follow_oil(rate, added * size / hours, volume, hours, steps)
    assert story.concentration == approx(found, rel=1e-9)
    assert story.volume == approx(volume, rel=1e-9)


@given(ppm, quarts, st.floats(8, 20), times)
def test_makeup_then_quarts_then_the_upper_bound(found, added, volume, hours):
    steady = makeup_rate(found, added / hours, volume, hours) / volume
    stepped = even_topup_rate(found, added, volume, hours) / volume
    bound = undiluted_upper_bound(found, added, volume, hours, basis=1.0)
    raw = found / hours
    assert raw < steady < stepped <= bound * (1 + 1e-12)


@given(ppm, st.floats(0.5, 8), fills, times)
def test_smaller_top_ups_come_to_the_steady_flow(found, added, volume, hours):
    # Limiting case: the oil added in 20,000 drops.
    steady = makeup_rate(found, added / hours, volume, hours)
    assert even_topup_rate(found, added, volume, hours, added / 20_000) == approx(steady, rel=1e-3)


@given(rates, st.floats(0.001, 0.5), fills, times)
def test_concentration_stays_between_the_start_and_the_equilibrium(rate, makeup, volume, hours):
    found = makeup_concentration(rate, makeup, volume, hours)
    assert 0 <= found <= rate / makeup * (1 + 1e-12)
    assert found <= rate * hours / volume * (1 + 1e-12)


@given(rates, fills, times)
def test_without_oil_used_the_metal_gathers(rate, volume, hours):
    gathered = approx(rate * hours / volume, rel=1e-12)
    assert makeup_concentration(rate, 0.0, volume, hours) == gathered
    assert follow_oil(rate, 0.0, volume, hours).concentration == gathered
    # And nearly so when next to nothing is used.
    nearly = approx(rate * hours / volume, rel=1e-6)
    assert makeup_concentration(rate, 1e-9 * volume / hours, volume, hours) == nearly
    assert follow_oil(rate, 1e-9 * volume / hours, volume, hours).concentration == nearly


@given(fillings(), rates, units)
def test_rate_does_not_change_with_the_unit_of_volume(filling, rate, unit):
    use, volume, hours, topups = filling
    other = [TopUp(step.hours, step.volume * unit) for step in topups]
    here = follow_oil(rate, use, volume, hours, topups).concentration
    there = follow_oil(rate * unit, use * unit, volume * unit, hours, other).concentration
    assert there == approx(here, rel=1e-9)


@given(st.floats(0, 50), rates, st.floats(0.01, 0.2), st.floats(5, 20), st.floats(0.1, 1))
def test_a_fall_in_two_steps_is_the_fall_in_one(start, rate, use, high, share):
    low = high * share
    middle = (high + low) / 2
    half = falling_concentration(start, rate, use, high, middle)
    assert falling_concentration(half, rate, use, middle, low) == approx(
        falling_concentration(start, rate, use, high, low), rel=1e-12
    )


def test_all_elements_of_a_sample_at_once():
    found = np.array([55.0, 17.0, 8.0])
    start = carried_over(found, 0.1)
    topups = [TopUp(20.0, 1.0), TopUp(51.0, 2.0)]
    rates_found = topup_rate(found, 3 / 51, 8, 51, topups, start)
    for one, first, rate in zip(found, start, rates_found, strict=True):
        assert topup_rate(one, 3 / 51, 8, 51, topups, first) == approx(rate, rel=1e-14)
    story = follow_oil(rates_found, 3 / 51, 8, 51, topups, start)
    assert story.concentration == approx(found, rel=1e-12)


@given(ppm, times, st.floats(0, 12), fills, st.floats(0, 0.9))
def test_slopes_against_differences(found, hours, added, volume, share):
    start = share * found
    got = wear_rate(
        found,
        hours,
        added,
        volume,
        u_concentration=1.0,
        u_added=1.0,
        u_volume=1.0,
        start=start,
        u_start=1.0,
    )

    def rise(c=found, a=added, v=volume, c0=start):
        return makeup_rate(c, a / hours, v, hours, c0) / v

    step = 1e-4
    slopes = {
        "laboratory": 0.0,
        "figure": (rise(c=found + step) - rise(c=found - step)) / (2 * step),
        "oil added": (rise(a=added + 1 + step) - rise(a=added + 1 - step)) / (2 * step),
        "fill": (rise(v=volume + step) - rise(v=volume - step)) / (2 * step),
        "residual oil": (rise(c0=start + step) - rise(c0=max(start - step, 0)))
        / (step + min(step, start)),
    }
    # The oil added is moved from one more, so that a difference never asks for less than none.
    more = wear_rate(found, hours, added + 1, volume, u_added=1.0, start=start)
    parts = {part.source: part.standard_uncertainty for part in got.components}
    parts["oil added"] = more.u_rise
    expected = {name: abs(value) for name, value in slopes.items()}
    assert parts == approx(expected, rel=1e-5, abs=1e-6 * found / hours)
    assert got.u_rise == approx(
        np.linalg.norm([part.standard_uncertainty for part in got.components]), rel=1e-12
    )
    assert got.rate == approx(got.rise * volume, rel=1e-14)


@given(ppm, times, st.floats(0, 12), fills, st.floats(0.01, 0.5))
def test_uncertainty_of_the_rate_counts_the_fill_in_both_places(found, hours, added, volume, u):
    got = wear_rate(found, hours, added, volume, u_volume=u)
    step = 1e-5 * volume
    high = makeup_rate(found, added / hours, volume + step, hours)
    low = makeup_rate(found, added / hours, volume - step, hours)
    assert got.standard_uncertainty == approx(abs(high - low) / (2 * step) * u, rel=1e-5)


def test_uncertainty_against_drawing_the_inputs():
    rng = np.random.default_rng(55)
    n = 400_000
    found = 55 * (1 + rng.uniform(-0.15, 0.15, n))
    added = 7 + 0.3 * rng.standard_normal(n)
    volume = 8 + 0.2 * rng.standard_normal(n)
    start = 4 + 1.0 * rng.standard_normal(n).clip(-4, 4)
    drawn = makeup_rate(found, added / 51, volume, 51, start)
    got = wear_rate(
        55,
        51,
        7,
        8,
        lab_fraction=0.15,
        u_added=0.3,
        u_volume=0.2,
        start=4,
        u_start=1.0,
    )
    assert np.std(drawn) == approx(got.standard_uncertainty, rel=0.01)
    assert np.std(drawn / volume) == approx(got.u_rise, rel=0.01)


@given(st.floats(0, 10), st.floats(0.01, 0.9), st.integers(0, 50), st.floats(0, 100))
def test_equal_rounds_are_the_recursion(gain, share, rounds, start):
    c = start
    for _ in range(rounds):
        c = (c + gain) * (1 - share)
    assert cycled_concentration(gain, share, rounds, start) == approx(c, rel=1e-9, abs=1e-12)


@given(st.floats(0, 100))
def test_below_detection_against_drawing(limit):
    value, u = below_detection(limit)
    drawn = np.linspace(0, limit, 10_001)
    assert value == approx(drawn.mean(), rel=1e-12)
    assert u == approx(drawn.std(), rel=1e-3)
