"""Meters, worked by hand. Source: the arithmetic beside each case; no document prints them.

The meters are a digital one of 0.8 % and 2 counts of 10 ohm, and an analog ohmmeter of 3 % of
arc with ranges of mid-scale 20, 200, 2,000 and 20,000 ohm.
"""

from __future__ import annotations

import numpy as np
import pytest
from pytest import approx

from rehang.calc.conformity import p_inside_arc
from rehang.calc.errors import OutOfRange
from rehang.calc.uncertainty import (
    arc_band,
    arc_fraction,
    arc_limits,
    digital_half_width,
    full_scale_half_width,
    go_no_go_interval,
    resistance_at_arc,
)

INF = np.inf


def test_digital_meter_adds_its_two_parts_straight():
    # 0.008 x 4,800 = 38.4, and 2 x 10 = 20.
    assert digital_half_width(4800, 0.008, 2, 10) == approx(58.4, rel=1e-14)
    assert digital_half_width(-4800, 0.008, 2, 10) == approx(58.4, rel=1e-14)


def test_dial_has_the_same_half_width_all_along():
    # 0.03 x 160 = 4.8.
    assert full_scale_half_width(160, 0.03) == approx(4.8, rel=1e-14)


def test_go_and_no_go_wires():
    assert go_no_go_interval(0.018, 0.019) == (0.018, 0.019)


def test_needle_stands_half_way_at_mid_scale():
    assert arc_fraction([20, 200, 2000], [20, 200, 2000]) == approx([0.5, 0.5, 0.5], rel=0)
    assert arc_fraction(0, 200) == 1.0
    assert arc_fraction(INF, 200) == 0.0


def test_resistance_at_arc_is_the_way_back():
    resistance = np.array([0.0, 1.0, 200.0, 4800.0, INF])
    assert resistance_at_arc(arc_fraction(resistance, 200), 200) == approx(resistance, rel=1e-12)


@pytest.mark.parametrize(
    ("mid_scale", "low", "high"),
    [
        # f = 1/25: 200 (1/0.07 - 1) = 2,657.1 and 200 (1/0.01 - 1) = 19,800.
        pytest.param(200, 2657.1, 19800.0, id="x10"),
        # f = 1/3.4: 2,000 (1/0.324118 - 1) = 4,170.6 and 2,000 (1/0.264118 - 1) = 5,572.4.
        pytest.param(2000, 4170.6, 5572.4, id="x100"),
        # f = 1/1.24: 20,000 (1/0.836452 - 1) = 3,910.5, 20,000 (1/0.776452 - 1) = 5,758.2.
        pytest.param(20000, 3910.5, 5758.2, id="x1k"),
    ],
)
def test_band_of_4800_ohm_on_each_range(mid_scale, low, high):
    assert arc_band(4800, mid_scale, 0.03) == (approx(low, abs=0.05), approx(high, abs=0.05))


def test_lowest_range_cannot_tell_4800_ohm_from_an_open_circuit():
    # f = 1/241 is less than the 0.03 of arc; 20 (1/(1/241 + 0.03) - 1) = 565.66.
    low, high = arc_band(4800, 20, 0.03)
    assert low == approx(565.66, abs=0.005)
    assert high == INF


def test_band_of_a_short_starts_at_zero():
    assert arc_band(0, 200, 0.03) == (0.0, approx(200 * (1 / 0.97 - 1), rel=1e-12))


def test_band_on_the_arc_stops_at_the_ends_of_the_scale():
    least, most, _ = arc_limits([0, INF], 200, 0.03)
    assert least == approx([0.97, 0.0])
    assert most == approx([1.0, 0.03])


def test_chance_that_4800_ohm_on_x10_is_within_5000():
    # 5,000 ohm stands at 1/26 of arc; the band is 0.01 to 0.07: (0.07 - 1/26) / 0.06.
    assert p_inside_arc(4800, 200, 0.03, -INF, 5000) == approx((0.07 - 1 / 26) / 0.06, rel=1e-12)
    assert p_inside_arc(4800, 200, 0.03, -INF, 5000) == approx(0.53, abs=0.005)


def test_chance_on_an_arc_of_limits_at_and_beyond_the_scale():
    assert p_inside_arc(4800, 200, 0.03, -INF, INF) == 1.0
    assert p_inside_arc(4800, 200, 0.03, 0, INF) == 1.0
    assert p_inside_arc(4800, 200, 0.03, -INF, -1) == 0.0
    # At rest on x1k: 0 to 0.03 of arc is left; 5,000 ohm stands at 0.8.
    assert p_inside_arc(INF, 20000, 0.03, -INF, 5000) == 0.0
    assert p_inside_arc(INF, 20000, 0.03, 5000, INF) == 1.0


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        pytest.param(
            lambda: arc_band(-1, 200, 0.03),
            r"The resistance must be at least 0, or inf for an open circuit: got -1\.",
            id="resistance below zero",
        ),
        pytest.param(
            lambda: arc_band(4800, 200, 3),
            r"must be below 1 \(3 % of arc is 0\.03\): got 3\.",
            id="per cent for a fraction",
        ),
        pytest.param(
            lambda: arc_band(4800, 200, 0),
            r"The accuracy as a fraction of arc must be above 0: got 0\.",
            id="exact needle",
        ),
        pytest.param(
            lambda: arc_fraction(4800, 0),
            r"The mid-scale resistance must be above 0: got 0\.",
            id="no mid-scale",
        ),
        pytest.param(
            lambda: resistance_at_arc(1.5, 200),
            r"The fraction of arc must be from 0 to 1: got 1\.5\.",
            id="beyond the scale",
        ),
        pytest.param(
            lambda: go_no_go_interval(19, 18),
            r"must be above the size that goes: got 19 goes and 18 does not\.",
            id="wires swapped",
        ),
        pytest.param(
            lambda: digital_half_width(4800, -0.008, 2, 10),
            r"The fraction of reading must be at least 0: got -0\.008\.",
            id="accuracy below zero",
        ),
        pytest.param(
            lambda: full_scale_half_width([1, 2, 3, 4, 5, -6], 0.03),
            r"The full scale must be above 0: got \[1, 2, 3, 4, 5, \.\.\.\] \(6 numbers\)\.",
            id="many numbers",
        ),
    ],
)
def test_what_cannot_be_answered_is_refused(call, sentence):
    with pytest.raises(OutOfRange, match=sentence):
        call()
