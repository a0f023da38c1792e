"""Meters, worked by hand. Source: the arithmetic beside each case; no document prints them.

The meters are a digital one of 0.8 % and 2 counts of 10 ohm, and an analog ohmmeter of 3 % of
arc with ranges of mid-scale 20, 200, 2,000 and 20,000 ohm.
"""

from __future__ import annotations

import numpy as np
import pytest
from pytest import approx

from rehang.calc.uncertainty import (
    arc_band,
    arc_fraction,
    arc_limits,
    digital_half_width,
    resistance_at_arc,
)

INF = np.inf


def test_digital_meter_adds_its_two_parts_straight():
    # 0.008 x 4,800 = 38.4, and 2 x 10 = 20.
    assert digital_half_width(4800, 0.008, 2, 10) == approx(58.4, rel=1e-14)
    assert digital_half_width(-4800, 0.008, 2, 10) == approx(58.4, rel=1e-14)


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
