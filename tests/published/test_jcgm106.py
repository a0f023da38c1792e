"""Values printed in JCGM 106:2012, and shares of plain shapes worked by hand.

Clause numbers are as in ``data/checkvalues.csv``, else from memory.
"""

from __future__ import annotations

import numpy as np
import pytest
from pytest import approx

from rehang.calc.conformity import (
    p_inside_normal,
    p_inside_trapezoid,
    p_inside_uniform,
)
from tests.published.checkvalues import printed

INF = np.inf


# 7.4: two limits, normal distribution


def test_two_sided_conformance_probability():
    # PUB(inputs)+LIB: the inputs were read, the printed 0.66 is from memory.
    assert p_inside_normal(13.6, 1.8, 12.5, 16.3) == printed("a12", "PUB(inputs)+LIB")


def test_two_sided_conformance_probability_unrounded():
    # LIB: independent programs agree; nothing is printed to these digits.
    assert p_inside_normal(13.6, 1.8, 12.5, 16.3) == printed("a12x", "LIB")


# Shares worked by hand: 7.1 with a rectangle and a trapezoid

UNIFORM = [
    pytest.param(18, 19, 16, 19, 1.0, id="wholly inside, its end on the limit"),
    pytest.param(18, 20, 16, 19, 0.5, id="half inside"),
    pytest.param(19, 20, 16, 19, 0.0, id="wholly outside, its end on the limit"),
    pytest.param(14, 22, 16, 19, 0.375, id="limits inside the interval"),
    pytest.param(0, 4, -INF, 3, 0.75, id="one limit"),
    pytest.param(0, 4, 1, INF, 0.75, id="the other limit"),
]


@pytest.mark.parametrize(("low", "high", "lower", "upper", "share"), UNIFORM)
def test_share_of_an_interval(low, high, lower, upper, share):
    assert p_inside_uniform(low, high, lower, upper) == share


# Half width 3 and step 2: flat from -2 to 2 at height 1/6, ramps out to -4 and 4, 1/6 each.
TRAPEZOID = [
    pytest.param(-INF, 0, 1 / 2, id="the middle"),
    pytest.param(-INF, -4, 0.0, id="the low end"),
    pytest.param(-INF, -3, 1 / 24, id="half way up the low ramp: a quarter of its sixth"),
    pytest.param(-INF, -2, 1 / 6, id="the low corner"),
    pytest.param(-INF, 2, 5 / 6, id="the high corner"),
    pytest.param(-INF, 3, 23 / 24, id="half way down the high ramp"),
    pytest.param(-INF, 4, 1.0, id="the high end"),
    pytest.param(2, 3, 1 / 8, id="the inner half of a ramp: three quarters of its sixth"),
    pytest.param(-3, 1, 1 / 8 + 3 / 6, id="a ramp's half and some of the top"),
    pytest.param(1, 1, 0.0, id="no room between the limits"),
    pytest.param(3, INF, 1 / 24, id="a lower limit"),
]


@pytest.mark.parametrize(("lower", "upper", "share"), TRAPEZOID)
@pytest.mark.parametrize(("half_width", "resolution"), [(3, 2), (1, 6)])
def test_share_of_a_trapezoid(half_width, resolution, lower, upper, share):
    # Half width 1 and step 6 make the same trapezoid: the two rectangles change places.
    assert p_inside_trapezoid(100, half_width, resolution, lower + 100, upper + 100) == approx(
        share, rel=1e-14, abs=1e-15
    )


# What is refused
