"""A normal spread over a meter's rectangles, by three routes of its own."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.special import ndtr

from rehang.calc.conformity import p_inside_normal, p_inside_trapezoid
from rehang.calc.errors import OutOfRange
from rehang.calc.spread import p_inside_arc_spread, p_inside_spread

INF = math.inf


def second_antiderivative(z):
    """Of the standard normal distribution: differentiated twice it is Phi."""
    density = math.exp(-0.5 * z * z) / math.sqrt(2 * math.pi)
    return ((z * z + 1) * ndtr(z) + z * density) / 2


def closed_form(y, a, d, u, upper):
    """P(true <= upper) by the four corners of two rectangles, each of them integrated once."""
    x, h = upper - y, d / 2
    corners = (
        second_antiderivative((x + a + h) / u)
        - second_antiderivative((x + a - h) / u)
        - second_antiderivative((x - a + h) / u)
        + second_antiderivative((x - a - h) / u)
    )
    return u * u * corners / (4 * a * h)


CASES = [
    (100.0, 1.0, 1.0, 0.5, 100.8),
    (100.0, 3.0, 1.0, 0.2, 97.4),
    (80.0, 1.0, 1.0, 1.0, 82.5),
    (5.0, 0.1, 0.4, 0.3, 4.6),
    (5000.0, 58.4, 10.0, 20.0, 5040.0),
]


@pytest.mark.parametrize(("y", "a", "d", "u", "upper"), CASES)
def test_spread_agrees_with_the_closed_form_of_its_corners(y, a, d, u, upper):
    # The corners cancel: eight digits are left of them where u is near the widths.
    assert p_inside_spread(y, a, d, u, -INF, upper) == pytest.approx(
        closed_form(y, a, d, u, upper), abs=1e-9
    )


@pytest.mark.parametrize(("y", "a", "d", "u", "upper"), CASES)
def test_spread_agrees_with_adaptive_quadrature(y, a, d, u, upper):
    def at(x):
        return p_inside_trapezoid(y + x, a, d, -INF, upper) * math.exp(-0.5 * (x / u) ** 2)

    bends = sorted(upper - y + s for s in (-a - d / 2, -abs(a - d / 2), abs(a - d / 2), a + d / 2))
    bends = [one for one in bends if abs(one) < 12 * u]
    area, _ = quad(at, -12 * u, 12 * u, points=bends, limit=400, epsabs=1e-13)
    assert p_inside_spread(y, a, d, u, -INF, upper) == pytest.approx(
        area / (u * math.sqrt(2 * math.pi)), abs=1e-10
    )


widths = st.floats(0.01, 10)


@given(y=st.floats(-50, 50), a=widths, d=widths, lower=st.floats(-20, 0), span=st.floats(0, 30))
def test_a_vanishing_spread_leaves_the_trapezoid(y, a, d, lower, span):
    upper = lower + span
    exact = p_inside_trapezoid(y, a, d, lower, upper)
    assert p_inside_spread(y, a, d, 0.0, lower, upper) == exact
    assert p_inside_spread(y, a, d, 1e-9, lower, upper) == pytest.approx(exact, abs=1e-6)


@given(y=st.floats(-50, 50), u=widths, lower=st.floats(-20, 0), span=st.floats(0, 30))
def test_vanishing_rectangles_leave_the_normal(y, u, lower, span):
    upper = lower + span
    exact = p_inside_normal(y, u, lower, upper)
    assert p_inside_spread(y, 0.0, 0.0, u, lower, upper) == exact
    assert p_inside_spread(y, 1e-7, 1e-7, u, lower, upper) == pytest.approx(exact, abs=1e-8)


@given(
    y=st.floats(-5, 5), a=widths, d=st.floats(0, 10), u=st.floats(0, 10), upper=st.floats(-20, 20)
)
def test_above_and_below_a_limit_make_one(y, a, d, u, upper):
    below = p_inside_spread(y, a, d, u, -INF, upper)
    assert below + p_inside_spread(y, a, d, u, upper, INF) == pytest.approx(1.0, abs=1e-12)
    mirrored = p_inside_spread(-y, a, d, u, -upper, INF)
    assert mirrored == pytest.approx(below, abs=1e-12)


def test_spread_takes_arrays_and_refuses_no_uncertainty_at_all():
    both = p_inside_spread([0.9, 2.0], 0.5, 0.1, [0.0, 0.3], -INF, 1.5)
    assert both == pytest.approx([1.0, p_inside_spread(2.0, 0.5, 0.1, 0.3, -INF, 1.5)], abs=1e-15)
    with pytest.raises(OutOfRange, match="must not all be 0, for no meter is exact"):
        p_inside_spread(1.0, 0.0, 0.0, 0.0, -INF, 2.0)
    with pytest.raises(OutOfRange, match="The standard uncertainty must be at least 0"):
        p_inside_spread(1.0, 1.0, 0.0, -0.1, -INF, 2.0)


def test_arc_spread_agrees_with_monte_carlo():
    chance = np.random.default_rng(20260101)
    n, r, mid, a, d, u, upper = 1_000_000, 4800.0, 2000.0, 0.03, 400.0, 300.0, 5000.0
    f = 1 / (1 + r / mid)
    slope = f**2 / mid
    place = (
        f
        + chance.uniform(-a, a, n)
        + slope * (chance.uniform(-d / 2, d / 2, n) + chance.normal(0, u, n))
    )
    place = place[(place >= 0) & (place <= 1)]
    share = float(np.mean(place >= 1 / (1 + upper / mid)))
    # Four standard errors of the share.
    assert p_inside_arc_spread(r, mid, a, d, u, -INF, upper) == pytest.approx(
        share, abs=4 * math.sqrt(share * (1 - share) / place.size)
    )
