"""What holds for all inputs of `rehang.calc.uncertainty`."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from rehang.calc.uncertainty import (
    arc_band,
    arc_fraction,
    combined_standard_uncertainty,
    correlations_from,
    coverage_factor,
    digital_half_width,
    effective_dof,
    fit_line,
    line_at,
    means_of,
    propagate_covariance,
    rectangular_standard_uncertainty,
    resistance_at_arc,
    resolution_standard_uncertainty,
    second_order_standard_uncertainty,
    trapezoid_standard_uncertainty,
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


@given(st.floats(0, 1e6), st.floats(0, 1e6))
def test_trapezoid_is_its_two_rectangles_together(half_width, resolution):
    together = trapezoid_standard_uncertainty(half_width, resolution)
    one = rectangular_standard_uncertainty(half_width)
    other = resolution_standard_uncertainty(resolution)
    assert together == approx(combined_standard_uncertainty([1, 1], [one, other]), rel=1e-12)
    assert max(one, other) <= together * (1 + 1e-15)


@given(components())
def test_combined_lies_between_the_greatest_part_and_the_sum(parts):
    u, _ = parts
    ones = np.ones_like(u)
    combined = combined_standard_uncertainty(ones, u)
    assert u.max() <= combined * (1 + 1e-12)
    assert combined <= u.sum() * (1 + 1e-12)
    # All perfectly correlated: they add straight.
    together = combined_standard_uncertainty(ones, u, np.ones((u.size, u.size)))
    assert together == approx(u.sum(), rel=1e-12)


def test_a_difference_of_perfectly_correlated_inputs_has_no_uncertainty():
    assert combined_standard_uncertainty([1, -1], [0.3, 0.3], np.ones((2, 2))) == 0.0
    assert combined_standard_uncertainty([0, 0], [0.3, 0.3]) == 0.0


@given(components(), units)
def test_effective_dof_lies_between_the_least_and_the_sum_and_has_no_unit(parts, unit):
    u, dof = parts
    nu = effective_dof(u, dof)
    assert dof.min() * (1 - 1e-12) <= nu <= dof.sum() * (1 + 1e-12)
    assert effective_dof(u * unit, dof) == approx(nu, rel=1e-9)


def test_effective_dof_does_not_underflow():
    assert effective_dof([1e-200, 1e-200], [4, 4]) == approx(8.0, rel=1e-12)


@given(st.floats(0.5, 0.9999), st.floats(1, 500))
def test_coverage_factor_comes_down_to_the_normal_one(coverage, dof):
    normal = coverage_factor(coverage)
    assert coverage_factor(coverage, dof) >= normal * (1 - 1e-9)
    assert coverage_factor(coverage, dof) >= coverage_factor(coverage, dof + 1) * (1 - 1e-9)
    assert coverage_factor(coverage, 1e9) == approx(normal, rel=1e-6)


@given(st.integers(0, 2**32 - 1))
def test_covariance_of_one_result_is_the_square_of_its_combined_uncertainty(seed):
    rng = np.random.default_rng(seed)
    means = means_of(rng.normal(size=(3, 8)))
    c = rng.normal(size=3)
    u = combined_standard_uncertainty(
        c, np.sqrt(np.diag(means.covariance)), correlations_from(means.covariance)
    )
    assert u**2 == approx(propagate_covariance([c], means.covariance)[0, 0], rel=1e-9, abs=1e-12)


@pytest.mark.parametrize("power", [2, 3])
def test_second_order_against_a_normal_input_drawn_many_times(power):
    # x**2 about 1 has variance 4 u2 + 2 u4 exactly; x**3 is checked to its next order.
    u, rng = 0.05, np.random.default_rng(20261021)
    drawn = np.std((1 + u * rng.standard_normal(4_000_000)) ** power)
    c, h, t = power, power * (power - 1), power * (power - 1) * (power - 2)
    got = second_order_standard_uncertainty([c], [[h]], [u], [[t]])
    # 4 million draws: the standard deviation is good to about 0.04 %.
    assert got == approx(drawn, rel=0.0015)
    if power == 2:
        assert got == approx(np.sqrt(4 * u**2 + 2 * u**4), rel=1e-12)
    first_order = combined_standard_uncertainty([c], [u])
    assert got > first_order


@given(st.integers(0, 2**32 - 1), st.floats(-1e3, 1e3))
def test_line_does_not_depend_on_where_its_intercept_is_taken(seed, reference):
    rng = np.random.default_rng(seed)
    x = np.linspace(10, 40, 9)
    y = 3.0 - 0.2 * x + rng.normal(size=9)
    here, there = fit_line(x, y), fit_line(x, y, x_reference=reference)
    assert there.slope == approx(here.slope, rel=1e-12)
    for where in (-5.0, 25.0, 100.0):
        assert line_at(there, where) == approx(line_at(here, where), rel=1e-9, abs=1e-9)
    assert (there.intercept, there.u_intercept) == approx(
        line_at(here, reference), rel=1e-9, abs=1e-9
    )
    assert -1 <= there.correlation <= 1


@given(st.integers(0, 2**32 - 1))
def test_line_by_another_route_numpy_least_squares(seed):
    rng = np.random.default_rng(seed)
    x, y = rng.uniform(0, 10, 12), rng.normal(size=12)
    line = fit_line(x, y)
    design = np.column_stack([np.ones(12), x])
    (intercept, slope), squares, *_ = np.linalg.lstsq(design, y)
    covariance = squares[0] / 10 * np.linalg.inv(design.T @ design)
    assert (line.intercept, line.slope) == approx((intercept, slope), rel=1e-9, abs=1e-9)
    assert line.u_intercept == approx(np.sqrt(covariance[0, 0]), rel=1e-9)
    assert line.u_slope == approx(np.sqrt(covariance[1, 1]), rel=1e-9)
    r = covariance[0, 1] / np.sqrt(covariance[0, 0] * covariance[1, 1])
    assert line.correlation == approx(r, rel=1e-9)
