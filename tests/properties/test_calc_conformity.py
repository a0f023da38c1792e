"""What holds for all inputs of `rehang.calc.conformity`, and its numbers by a second route."""

from __future__ import annotations

import itertools
import subprocess
import sys

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx
from scipy.integrate import quad
from scipy.special import log_ndtr
from scipy.stats import norm

from rehang.calc.conformity import (
    p_inside_normal,
    p_inside_trapezoid,
    p_inside_uniform,
)

INF = np.inf

readings = st.floats(-1e4, 1e4)
widths = st.floats(1e-3, 1e3)
units = st.sampled_from([1e-9, 1e-3, 25.4, 1e3, 1e9])


@st.composite
def limits(draw):
    low, high = sorted([draw(st.floats(-1e4, 1e4)), draw(st.floats(-1e4, 1e4))])
    one_sided = draw(st.sampled_from(["both", "upper", "lower"]))
    return (-INF if one_sided == "upper" else low), (INF if one_sided == "lower" else high)


def three_ways(y, width, lower, upper):
    return [
        p_inside_normal(y, width, lower, upper),
        p_inside_uniform(y - width, y + width, lower, upper),
        p_inside_trapezoid(y, width, width / 3, lower, upper),
    ]


@given(readings, widths, limits())
def test_a_probability_is_one(y, width, bounds):
    for p in three_ways(y, width, *bounds):
        assert 0.0 <= p <= 1.0


@given(readings, widths)
def test_without_limits_it_is_certain(y, width):
    assert three_ways(y, width, -INF, INF) == [1.0, 1.0, approx(1.0, abs=1e-15)]


@given(readings, widths, limits(), st.floats(0, 1e3), st.floats(0, 1e3))
def test_wider_limits_never_make_it_less_likely(y, width, bounds, more_low, more_high):
    lower, upper = bounds
    narrow = three_ways(y, width, lower, upper)
    wide = three_ways(y, width, lower - more_low, upper + more_high)
    for inside_narrow, inside_wide in zip(narrow, wide, strict=True):
        assert inside_narrow <= inside_wide + 1e-15


@given(readings, widths, st.floats(-1e4, 1e4), st.floats(0, 1e3))
def test_nearer_to_a_single_limit_is_never_likelier(y, width, upper, step):
    here = three_ways(y, width, -INF, upper)
    nearer = three_ways(y + step, width, -INF, upper)
    for p_here, p_nearer in zip(here, nearer, strict=True):
        # The ends of the interval round, by up to 2e-12 of readings of 1e4.
        assert p_nearer <= p_here + 1e-11 / width


@given(readings, widths, st.floats(-1e4, 1e4))
def test_below_and_above_a_limit_make_one(y, width, limit):
    below = three_ways(y, width, -INF, limit)
    above = three_ways(y, width, limit, INF)
    for p_below, p_above in zip(below, above, strict=True):
        assert p_below + p_above == approx(1.0, abs=1e-12)


@given(readings, widths, limits())
def test_mirrored_it_is_the_same(y, width, bounds):
    lower, upper = bounds
    assert three_ways(y, width, lower, upper) == approx(
        three_ways(-y, width, -upper, -lower), rel=1e-12, abs=1e-15
    )


@given(readings, widths, limits(), units)
def test_it_does_not_change_with_the_unit(y, width, bounds, unit):
    lower, upper = bounds
    # Rounding of readings of 1e4 is seen in distances from a limit, hence not relative.
    slack = 1e-11 / min(width, 1.0)
    assert three_ways(y * unit, width * unit, lower * unit, upper * unit) == approx(
        three_ways(y, width, lower, upper), rel=1e-9, abs=slack
    )


@given(readings, widths, limits())
def test_trapezoid_with_one_width_is_that_rectangle(y, width, bounds):
    lower, upper = bounds
    rectangle = approx(p_inside_uniform(y - width, y + width, lower, upper), abs=1e-11 / width)
    assert p_inside_trapezoid(y, width, 0, lower, upper) == rectangle
    assert p_inside_trapezoid(y, 0, 2 * width, lower, upper) == rectangle
    # And nearly so when the other is nearly nothing.
    nearly = approx(p_inside_uniform(y - width, y + width, lower, upper), abs=1e-6 + 1e-11 / width)
    assert p_inside_trapezoid(y, width, width * 1e-6, lower, upper) == nearly


@given(st.floats(-3, 3), st.floats(0.01, 2), st.floats(0.01, 4), st.floats(-4, 4), st.floats(0, 4))
def test_trapezoid_against_a_numerical_convolution(y, half_width, resolution, lower, room):
    # Second route: average the rectangle's share over the display's step.
    upper = lower + room
    corners = sorted(
        {
            min(max(edge, y - resolution / 2), y + resolution / 2)
            for limit in (lower, upper)
            for edge in (limit - half_width, limit + half_width)
        }
        | {y - resolution / 2, y + resolution / 2}
    )
    total = sum(
        quad(lambda c: p_inside_uniform(c - half_width, c + half_width, lower, upper), a, b)[0]
        for a, b in itertools.pairwise(corners)
    )
    assert p_inside_trapezoid(y, half_width, resolution, lower, upper) == approx(
        total / resolution, abs=1e-9
    )


def test_trapezoid_against_monte_carlo():
    rng = np.random.default_rng(20261013)
    n = 2_000_000
    drawn = 4990 + rng.uniform(-58.4, 58.4, n) + rng.uniform(-5, 5, n)
    # Five standard deviations of a share of 2 million.
    assert p_inside_trapezoid(4990, 58.4, 10, -INF, 5000) == approx(
        np.mean(drawn <= 5000), abs=5 * 0.5 / np.sqrt(n)
    )


def test_far_tail_of_the_normal_keeps_its_digits():
    for place in (5.0, 10.0, 20.0, 37.0):
        for p in (p_inside_normal(place, 1, -INF, 0), p_inside_normal(-place, 1, 0, INF)):
            assert np.log(p) == approx(log_ndtr(-place), rel=1e-12)
    # Both limits far out on one side.
    assert p_inside_normal(0, 1, 20, 21) == approx(norm.sf(20) - norm.sf(21), rel=1e-12)
    assert p_inside_normal(0, 1, 20, 21) == p_inside_normal(0, 1, -21, -20)


def test_far_tail_of_the_trapezoid_keeps_its_digits():
    # A millionth of the way up a ramp that holds 1/6 of all: 1e-12 of it.
    assert p_inside_trapezoid(0, 3, 2, 4 - 2e-6, INF) == approx(1e-12 / 6, rel=1e-9)


# Global risks


def test_arrays_give_what_single_numbers_give():
    y = np.array([[4800.0], [4950.0]])
    upper = np.array([4900.0, 5000.0, INF])
    p = p_inside_trapezoid(y, 0.008 * y + 20, 10, -INF, upper)
    assert p.shape == (2, 3)
    for i, j in np.ndindex(2, 3):
        one = float(y[i, 0])
        alone = p_inside_trapezoid(one, 0.008 * one + 20, 10, -INF, float(upper[j]))
        assert isinstance(alone, float)
        assert p[i, j] == alone


def test_scipy_is_loaded_only_when_it_is_needed():
    # Half a second at the start of every command would be felt.
    program = (
        "import sys, rehang.calc.conformity as c;"
        "c.p_inside_trapezoid(4800, 58.4, 10, 0, 5000);"
        "print([name for name in sys.modules if name.partition('.')[0] == 'scipy'])"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    assert done.stdout == "[]\n"
