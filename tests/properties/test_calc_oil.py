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
    follow_oil,
    makeup_concentration,
    makeup_rate,
    topup_rate,
)

fills = st.floats(4, 20)
times = st.floats(5, 200)
rates = st.floats(0.01, 100)
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


def test_all_elements_of_a_sample_at_once():
    found = np.array([55.0, 17.0, 8.0])
    start = carried_over(found, 0.1)
    topups = [TopUp(20.0, 1.0), TopUp(51.0, 2.0)]
    rates_found = topup_rate(found, 3 / 51, 8, 51, topups, start)
    for one, first, rate in zip(found, start, rates_found, strict=True):
        assert topup_rate(one, 3 / 51, 8, 51, topups, first) == approx(rate, rel=1e-14)
    story = follow_oil(rates_found, 3 / 51, 8, 51, topups, start)
    assert story.concentration == approx(found, rel=1e-12)


@given(st.floats(0, 100))
def test_below_detection_against_drawing(limit):
    value, u = below_detection(limit)
    drawn = np.linspace(0, limit, 10_001)
    assert value == approx(drawn.mean(), rel=1e-12)
    assert u == approx(drawn.std(), rel=1e-3)
