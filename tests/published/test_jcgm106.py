"""Values printed in JCGM 106:2012, and shares of plain shapes worked by hand.

Clause numbers are as in ``data/checkvalues.csv``, else from memory.
"""

from __future__ import annotations

import numpy as np
import pytest
from pytest import approx

from rehang.calc.conformity import (
    acceptance_limits,
    global_risks,
    guard_multiplier,
    p_inside_normal,
    p_inside_trapezoid,
    p_inside_uniform,
)
from rehang.calc.errors import OutOfRange
from tests.published.checkvalues import printed

INF = np.inf


# 7.4: two limits, normal distribution


def test_two_sided_conformance_probability():
    # PUB(inputs)+LIB: the inputs were read, the printed 0.66 is from memory.
    assert p_inside_normal(13.6, 1.8, 12.5, 16.3) == printed("a12", "PUB(inputs)+LIB")


def test_two_sided_conformance_probability_unrounded():
    # LIB: independent programs agree; nothing is printed to these digits.
    assert p_inside_normal(13.6, 1.8, 12.5, 16.3) == printed("a12x", "LIB")


# 8.3.2


def test_guard_multiplier_for_97_5_percent():
    # LIB.
    assert guard_multiplier(0.975) == printed("a18j", "LIB")


# 9.5: resistors of nominally 1,500 ohm, guarded acceptance, then simple acceptance

RESISTORS = {"prior_mean": 1500.0, "prior_sd": 0.12, "u_m": 0.04, "lower": 1499.8, "upper": 1500.2}


def test_resistors_with_a_guard_band():
    # PUB(inputs)+LIB, both. w = 0.02 ohm, a quarter of U = 2 u_m.
    accept = acceptance_limits(1499.8, 1500.2, guard_factor=0.25, expanded_uncertainty=0.08)
    assert accept == (approx(1499.82, rel=1e-12), approx(1500.18, rel=1e-12))
    risks = global_risks(**RESISTORS, accept_lower=accept[0], accept_upper=accept[1])
    assert risks.consumer == printed("a15", "PUB(inputs)+LIB")
    assert risks.producer == printed("a16", "PUB(inputs)+LIB")


def test_resistors_with_simple_acceptance():
    # LIB, both: independent programs agree; nothing is printed to these digits.
    risks = global_risks(**RESISTORS, accept_lower=1499.8, accept_upper=1500.2)
    assert risks.consumer == printed("a17", "LIB")
    assert risks.producer == printed("a17p", "LIB")


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


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        pytest.param(
            lambda: p_inside_normal(1.0, 0.0, 0.0, 2.0),
            r"The standard uncertainty must be above 0: got 0\.",
            id="no uncertainty",
        ),
        pytest.param(
            lambda: p_inside_normal(np.nan, 1.0, 0.0, 2.0),
            r"The estimate must be a finite number: got nan\.",
            id="not a number",
        ),
        pytest.param(
            lambda: p_inside_trapezoid(1.0, 0.0, 0.0, 0.0, 2.0),
            r"A half width and a resolution must not both be 0, for no meter is exact: "
            r"got 0 and 0\.",
            id="an exact meter",
        ),
        pytest.param(
            lambda: p_inside_trapezoid(1.0, 0.1, 0.0, 2.0, 0.0),
            r"The lower limit must not be above the upper limit: got 2 and 0\.",
            id="limits swapped",
        ),
        pytest.param(
            lambda: p_inside_trapezoid(1.0, 0.1, 0.0, np.nan, 0.0),
            r"write -inf or inf where there is no bound",
            id="limit not a number",
        ),
        pytest.param(
            lambda: p_inside_trapezoid(1.0, 0.1, 0.0, INF, INF),
            r"A lower limit must be below inf",
            id="lower limit at infinity",
        ),
        pytest.param(
            lambda: p_inside_uniform(19, 19, 16, 19),
            r"The high end must be above the low end: got 19 to 19\.",
            id="interval without width",
        ),
        pytest.param(
            lambda: acceptance_limits(10.0, 12.0, 1, 2.0),
            r"Guard bands must leave something between them; use a meter with a smaller "
            r"uncertainty: got 12 to 10\.",
            id="nothing left",
        ),
        pytest.param(
            lambda: guard_multiplier(1.0),
            r"The conformance probability must be between 0 and 1: got 1\.",
            id="certainty",
        ),
        pytest.param(
            lambda: global_risks(0, 0, 1, -1, 1, -1, 1),
            r"The prior standard deviation must be above 0: got 0\.",
            id="prior without width",
        ),
    ],
)
def test_what_cannot_be_answered_is_refused(call, sentence):
    with pytest.raises(OutOfRange, match=sentence):
        call()
