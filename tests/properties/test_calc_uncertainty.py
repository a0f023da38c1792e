"""What holds for all inputs of `rehang.calc.uncertainty`."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from rehang.calc.uncertainty import (
    arc_band,
    arc_fraction,
    digital_half_width,
    resistance_at_arc,
)

ohms = st.floats(0, 1e7)
mid_scales = st.sampled_from([20.0, 200.0, 2e3, 2e4, 2e5])
accuracies = st.floats(0.001, 0.2)
sizes = st.floats(1e-6, 1e6)
units = st.sampled_from([1e-9, 1e-3, 25.4, 1e3, 1e9])


@st.composite
def components(draw):
    n = draw(st.integers(1, 6))
    u = draw(st.lists(sizes, min_size=n, max_size=n))
    dof = draw(st.lists(st.integers(1, 200).map(float), min_size=n, max_size=n))
    return np.array(u), np.array(dof)


@given(ohms, mid_scales, accuracies)
def test_band_holds_the_value_shown_and_leans_to_the_high_side(resistance, mid_scale, accuracy):
    low, high = arc_band(resistance, mid_scale, accuracy)
    slack = 1e-9 * (resistance + mid_scale)
    assert 0 <= low <= resistance + slack
    assert high >= resistance - slack
    assert high - resistance >= resistance - low - slack


@given(ohms, mid_scales, accuracies, accuracies)
def test_band_of_a_better_needle_lies_inside(resistance, mid_scale, one, other):
    better, worse = sorted([one, other])
    low, high = arc_band(resistance, mid_scale, better)
    wide_low, wide_high = arc_band(resistance, mid_scale, worse)
    assert wide_low <= low
    assert high <= wide_high


@given(st.floats(0, 1e6), mid_scales)
def test_needle_and_back_is_the_same_resistance(resistance, mid_scale):
    back = resistance_at_arc(arc_fraction(resistance, mid_scale), mid_scale)
    # The arc is crowded at its high end: a digit of f is worth R (1 + R/mid) of it.
    digit = 4e-16 * (resistance + mid_scale) * (1 + resistance / mid_scale)
    assert back == approx(resistance, rel=1e-14, abs=digit)


@given(ohms, mid_scales, accuracies, units)
def test_band_does_not_change_with_the_unit(resistance, mid_scale, accuracy, unit):
    low, high = arc_band(resistance, mid_scale, accuracy)
    low_too, high_too = arc_band(resistance * unit, mid_scale * unit, accuracy)
    # Where f - a is a rounding away from 0, an open circuit fits or does not by that rounding.
    if abs(arc_fraction(resistance, mid_scale) - accuracy) > 1e-9:
        assert high_too == approx(high * unit, rel=1e-5)
    assert low_too == approx(low * unit, rel=1e-9, abs=1e-9 * mid_scale * unit)


@given(st.floats(-1e6, 1e6), st.floats(0, 0.1), st.integers(0, 50), sizes)
def test_half_width_is_the_same_either_side_of_zero_and_grows(reading, fraction, counts, count):
    half = digital_half_width(reading, fraction, counts, count)
    assert half == approx(digital_half_width(-reading, fraction, counts, count), rel=1e-12)
    assert half <= digital_half_width(reading * 2, fraction, counts + 1, count)
