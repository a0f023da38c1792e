"""What holds for all inputs of `rehang.calc.conformity`, and its numbers by a second route."""

from __future__ import annotations

import itertools
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from pytest import approx
from scipy.integrate import quad
from scipy.special import log_ndtr, owens_t
from scipy.stats import norm

from rehang.calc.conformity import (
    acceptance_limits,
    global_risks,
    guard_multiplier,
    p_inside_arc,
    p_inside_normal,
    p_inside_trapezoid,
    p_inside_uniform,
    specific_risk_at_limit,
)
from rehang.calc.uncertainty import arc_band, trapezoid_standard_uncertainty

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


def test_many_rectangles_together_come_to_the_normal():
    # Limiting case: the sum of two equal rectangles (a triangle) is nearer to the normal of
    # its own standard uncertainty than one rectangle is; both within 6 %.
    limit = np.linspace(-3, 3, 601)
    rectangle = p_inside_trapezoid(0, np.sqrt(3), 0, -INF, limit)
    triangle = p_inside_trapezoid(0, np.sqrt(1.5), 2 * np.sqrt(1.5), -INF, limit)
    assert trapezoid_standard_uncertainty(np.sqrt(1.5), 2 * np.sqrt(1.5)) == approx(1.0)
    normal = p_inside_normal(0, 1, -INF, limit)
    off_rectangle = np.abs(rectangle - normal).max()
    off_triangle = np.abs(triangle - normal).max()
    assert off_triangle < off_rectangle / 3
    assert off_rectangle < 0.06


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


@given(st.floats(0, 1e5), st.sampled_from([20.0, 200.0, 2e3, 2e4]), st.floats(0.005, 0.1), limits())
def test_arc_is_certain_exactly_when_its_band_is_within(resistance, mid_scale, accuracy, bounds):
    lower, upper = bounds
    low, high = arc_band(resistance, mid_scale, accuracy)
    p = p_inside_arc(resistance, mid_scale, accuracy, lower, upper)
    assert 0.0 <= p <= 1.0
    slack = 1e-9 * mid_scale
    if lower < low - slack and high + slack < upper:
        assert p == approx(1.0, abs=1e-12)
    if high + slack < lower or upper < low - slack:
        assert p == approx(0.0, abs=1e-9)


@given(st.floats(10, 1e4), st.floats(0.005, 0.1))
def test_arc_against_drawing_the_needle(resistance, accuracy):
    rng = np.random.default_rng(4800)
    needle = 1 / (1 + resistance / 2000) + accuracy * rng.uniform(-1, 1, 20_000)
    needle = needle[(needle > 0) & (needle <= 1)]
    drawn = 2000 * (1 / needle - 1)
    p = p_inside_arc(resistance, 2000, accuracy, 500, 5000)
    assert p == approx(np.mean((drawn >= 500) & (drawn <= 5000)), abs=0.02)


@given(st.floats(0.001, 0.999))
def test_guard_band_and_its_risk_are_each_others_way_back(p):
    assert specific_risk_at_limit(guard_multiplier(p), 1.0) == approx(1 - p, rel=1e-9)


@given(readings, widths, widths, st.floats(-1, 0.4))
def test_what_reads_the_acceptance_limit_has_the_stated_risk(middle, half_room, u, g):
    # One limit, so that the other cannot matter.
    _, accept = acceptance_limits(-INF, middle + half_room, g, 2 * u)
    risk = 1 - p_inside_normal(accept, u, -INF, middle + half_room)
    assert risk == approx(specific_risk_at_limit(g, 2), rel=1e-6, abs=1e-11 / min(u, 1))


# Global risks


def below_both(h, k, rho):
    """Bivariate normal probability by Owen's T (Owen 1956, equation (2.1))."""
    root = np.sqrt((1 - rho) * (1 + rho))
    beta = 0.0 if h * k > 0 or (h * k == 0 and h + k >= 0) else 0.5
    return (
        (norm.cdf(h) + norm.cdf(k)) / 2
        - owens_t(h, (k - rho * h) / (h * root))
        - owens_t(k, (h - rho * k) / (k * root))
        - beta
    )


def risks_by_owens_t(ratio, t_low, t_high, a_low, a_high):
    """The same risks from the bivariate normal of thing and reading; prior N(0, 1)."""
    spread = np.hypot(1.0, ratio)
    rho = 1.0 / spread
    corner = {
        (t, a): below_both(t, a / spread, rho) for t in (t_low, t_high) for a in (a_low, a_high)
    }
    both = (
        corner[t_high, a_high]
        - corner[t_low, a_high]
        - corner[t_high, a_low]
        + corner[t_low, a_low]
    )
    accepted = norm.cdf(a_high / spread) - norm.cdf(a_low / spread)
    conforming = norm.cdf(t_high) - norm.cdf(t_low)
    return accepted - both, conforming - both


# Owen's formula divides by each limit, so limits at the very middle are left out.
off_middle = st.floats(0.05, 4)


@given(st.floats(1e-3, 1e3), off_middle, off_middle, off_middle, off_middle)
def test_global_risks_against_owens_t(ratio, t_low, t_high, a_low, a_high):
    risks = global_risks(0, 1, ratio, -t_low, t_high, -a_low, a_high)
    consumer, producer = risks_by_owens_t(ratio, -t_low, t_high, -a_low, a_high)
    assert risks.consumer == approx(consumer, abs=1e-12)
    assert risks.producer == approx(producer, abs=1e-12)


@pytest.mark.parametrize("ratio", [0.01, 0.1, 0.25, 1.0, 5.0])
def test_global_risks_against_adaptive_quadrature(ratio):
    t, a = 1.3, 1.1
    risks = global_risks(0, 1, ratio, -t, t, -a, a)

    def accepted(z):
        return norm.cdf((a - z) / ratio) - norm.cdf((-a - z) / ratio)

    outside = 2 * quad(lambda z: norm.pdf(z) * accepted(z), t, 12, epsabs=1e-13, limit=200)[0]
    inside = (
        2
        * quad(
            lambda z: norm.pdf(z) * (1 - accepted(z)), 0, t, points=[a], epsabs=1e-13, limit=200
        )[0]
    )
    assert risks.consumer == approx(outside, abs=1e-11)
    assert risks.producer == approx(inside, abs=1e-11)


def test_global_risks_against_monte_carlo():
    rng = np.random.default_rng(1500)
    n = 2_000_000
    thing = 1500 + 0.12 * rng.standard_normal(n)
    reading = thing + 0.04 * rng.standard_normal(n)
    conforms = (thing >= 1499.8) & (thing <= 1500.2)
    accepted = (reading >= 1499.82) & (reading <= 1500.18)
    risks = global_risks(1500, 0.12, 0.04, 1499.8, 1500.2, 1499.82, 1500.18)
    # Five standard deviations of each share of 2 million.
    for got, drawn in [
        (risks.consumer, np.mean(~conforms & accepted)),
        (risks.producer, np.mean(conforms & ~accepted)),
    ]:
        assert got == approx(drawn, abs=5 * np.sqrt(drawn / n))


@given(off_middle, off_middle, st.floats(0.001, 1.0), st.floats(0.0, 0.4))
def test_a_guard_band_moves_risk_from_consumer_to_producer(t_low, t_high, ratio, w):
    assume(2 * w < t_low + t_high)
    simple = global_risks(0, 1, ratio, -t_low, t_high, -t_low, t_high)
    guarded = global_risks(0, 1, ratio, -t_low, t_high, -t_low + w, t_high - w)
    assert guarded.consumer <= simple.consumer + 1e-14
    assert guarded.producer >= simple.producer - 1e-14


@given(off_middle, st.floats(0.001, 100.0))
def test_one_limit_is_half_of_two(t, ratio):
    both = global_risks(0, 1, ratio, -INF, t, -INF, t)
    mirrored = global_risks(0, 1, ratio, -t, INF, -t, INF)
    assert both.consumer == approx(mirrored.consumer, rel=1e-12, abs=1e-15)
    assert both.producer == approx(mirrored.producer, rel=1e-12, abs=1e-15)


def test_global_risks_of_many_rows_are_those_of_each():
    # More rows than are worked at once, and limits that broadcast.
    ratio = np.geomspace(0.01, 10, 1203)
    together = global_risks(0, 1, ratio, -1, 1, -0.9, 0.9)
    assert together.consumer.shape == (1203,)
    for i in (0, 600, 999, 1000, 1202):
        alone = global_risks(0, 1, ratio[i], -1, 1, -0.9, 0.9)
        assert isinstance(alone.consumer, float)
        assert together.consumer[i] == approx(alone.consumer, rel=1e-13)
        assert together.producer[i] == approx(alone.producer, rel=1e-13)


def test_no_acceptance_limit_accepts_all_that_does_not_conform():
    risks = global_risks(0, 1, 0.3, -1, 1, -INF, INF)
    assert risks.consumer == approx(2 * norm.sf(1), rel=1e-12)
    assert risks.producer == 0.0


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
