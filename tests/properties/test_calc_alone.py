"""One reading judged alone gives what it gives among others: numbers and arrays go two ways."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from scipy.special import ndtr

from rehang.calc.conformity import p_inside_normal, p_inside_trapezoid, p_inside_uniform
from rehang.calc.errors import OutOfRange
from rehang.calc.spread import p_inside_arc_spread, p_inside_spread
from rehang.calc.uncertainty import arc_fraction, digital_half_width

EPSILON = np.finfo(float).eps
places = st.floats(-1e4, 1e4)
widths = st.just(0.0) | st.floats(1e-3, 1e4)
some = st.floats(1e-3, 1e4)


@st.composite
def limits(draw, lowest=-1e4):
    ends = sorted([draw(st.floats(lowest, 1e4)), draw(st.floats(lowest, 1e4))])
    kind = draw(st.sampled_from(["both", "lower", "upper", "none"]))
    lower = ends[0] if kind in {"both", "lower"} else -math.inf
    return lower, ends[1] if kind in {"both", "upper"} else math.inf


def both_ways(function, *numbers):
    alone = function(*numbers)
    assert type(alone) is float
    return alone, function(*(np.array([number]) for number in numbers))[0]


@given(places, some, limits())
@example(0.0, 1.0, (30.0, math.inf))
@example(0.0, 1.0, (-math.inf, -30.0))
def test_normal(y, u, ends):
    alone, among = both_ways(p_inside_normal, y, u, *ends)
    # A difference of two tails carries the rounding of the greater one.
    lower, upper = ((end - y) / u for end in ends)
    greater = ndtr(-lower) if lower > 0 else ndtr(upper)
    assert abs(alone - among) <= 1e-12 * among + 4 * EPSILON * greater


@given(places, some, limits())
def test_interval(low, width, ends):
    alone, among = both_ways(p_inside_uniform, low, low + width, *ends)
    assert alone == among


@given(places, widths, widths, limits())
def test_trapezoid(y, a, d, ends):
    if a + d > 0:
        alone, among = both_ways(p_inside_trapezoid, y, a, d, *ends)
        assert alone == pytest.approx(among, rel=1e-12, abs=0)


@given(places, widths, widths, widths, limits())
@example(10.0, 5.0, 1.0, 0.0, (-math.inf, 12.0))
@example(10.0, 0.0, 0.0, 2.0, (-math.inf, 12.0))
@example(10.0, 5.0, 1.0, 2.0, (-math.inf, 12.0))
def test_spread(y, a, d, u, ends):
    if a + d + u > 0:
        alone, among = both_ways(p_inside_spread, y, a, d, u, *ends)
        # Far out beside a wide rectangle, the place of a limit in it is rounded to that much.
        assert abs(alone - among) <= 1e-12 * among + 1e-18 + 4 * EPSILON * (a + d == 0)


@given(st.floats(-30, 30), st.floats(0.1, 10), st.floats(0.1, 10), st.booleans())
@example(-30.0, 1.0, 1.0, True)
def test_far_out_a_spread_keeps_its_digits(y, a, d, is_rectangle):
    ends = (-math.inf, -12.0)
    alone, among = both_ways(p_inside_spread, y, a, d * (not is_rectangle), 1.0, *ends)
    assert alone == pytest.approx(among, rel=1e-12, abs=0)


@given(st.floats(0, 1e4), some, st.floats(0.001, 0.2), widths, widths, limits(lowest=-100))
def test_arc(resistance, mid, a, d, u, ends):
    alone, among = both_ways(p_inside_arc_spread, resistance, mid, a, d, u, *ends)
    assert alone == pytest.approx(among, rel=1e-12, abs=1e-18)


@given(places, st.floats(0, 1), st.integers(0, 50), some)
def test_half_width(reading, fraction, counts, count):
    alone, among = both_ways(digital_half_width, reading, fraction, counts, count)
    assert alone == among


@given(st.floats(0, 1e6) | st.just(math.inf), some)
def test_place_on_the_arc(resistance, mid):
    alone, among = both_ways(arc_fraction, resistance, mid)
    assert alone == among


REFUSED = [
    pytest.param(p_inside_normal, (math.nan, 1.0, 0.0, 1.0), "must be a finite", id="estimate"),
    pytest.param(p_inside_normal, (0.0, 0.0, 0.0, 1.0), "must be above 0: got 0", id="no spread"),
    pytest.param(
        p_inside_normal, (0.0, 1.0, 1.0, 0.0), "must not be above the upper", id="swapped"
    ),
    pytest.param(p_inside_uniform, (1.0, 1.0, 0.0, 1.0), "above the low end", id="no interval"),
    pytest.param(p_inside_trapezoid, (0.0, 0.0, 0.0, 0.0, 1.0), "not both be 0", id="no width"),
    pytest.param(p_inside_trapezoid, (0.0, 1.0, 0.0, math.inf, math.inf), "below inf", id="limit"),
    pytest.param(p_inside_spread, (0.0, 0.0, 0.0, 0.0, 0.0, 1.0), "not all be 0", id="exact"),
    pytest.param(
        p_inside_spread, (0.0, 1.0, 0.0, -1.0, 0.0, 1.0), "at least 0: got -1", id="below"
    ),
    pytest.param(digital_half_width, (1.0, -0.1, 1, 1.0), "at least 0: got -0.1", id="fraction"),
    pytest.param(arc_fraction, (math.nan, 200.0), "The resistance must be", id="resistance"),
]


@pytest.mark.parametrize(("function", "numbers", "sentence"), REFUSED)
def test_refused_alone_as_among_others(function, numbers, sentence):
    with pytest.raises(OutOfRange, match=sentence):
        function(*numbers)
