"""Torque with an adapter: the rows of area e in ``data/checkvalues.csv``, and two printed examples.

US Army TM 1-1500-204-23-9, figure 8-16, and TM 9-254, figures 4-5 and 4-6, were read in public
reprints; AC 43.13-1B, figure 7-2, is from memory. Torques are in inch-pounds and lengths in
inches where the document has them so: only ratios count. What is worked by hand says so.
"""

from __future__ import annotations

from math import cos, pi, radians

import numpy as np
from pytest import approx
from scipy.constants import g, inch, pound

from rehang.calc.torque import (
    setting_range,
    torque_applied,
    torque_factor,
    torque_setting,
)
from tests.published.checkvalues import printed

INCH_POUND = inch * pound * g


def test_setting_when_the_adapter_shortens_the_lever():
    assert torque_setting(135, arm=10, adapter=-1.5) == printed("e02", "MEM+LIB")
    # The same adapter, written as a length turned back by half a turn.
    assert torque_setting(135, arm=10, adapter=1.5, angle=pi) == printed("e02", "MEM+LIB")


def test_setting_when_the_adapter_lengthens_the_lever():
    assert torque_setting(100, arm=12, adapter=6) == printed("e04", "PUB+LIB")
    # TM 1-1500-204-23-9, figure 8-16: 300 in-lb, 10 in, 4 in, printed 214.
    assert torque_setting(300, arm=10, adapter=4) == approx(214, abs=0.5)
    # AC 43.13-1B, figure 7-2: 135 in-lb, 10 in, 1.5 in, printed 117.39.
    assert torque_setting(135, arm=10, adapter=1.5) == approx(117.39, abs=0.005)


def test_spark_plug_torque_with_a_two_inch_adapter():
    # Worked by hand: 390 x 10 / 12.
    assert torque_setting(390, arm=10, adapter=2) == 325.0
    # And in SI, as it comes from the edge.
    found = torque_setting(390 * INCH_POUND, arm=10 * inch, adapter=2 * inch)
    assert found / INCH_POUND == approx(325.0, rel=1e-14)


def test_torque_that_a_setting_gives():
    assert torque_applied(60, arm=12, adapter=2) == printed("e05", "PUB+LIB")


def test_right_angles_change_nothing():
    assert torque_setting(135, arm=10, adapter=1.5, angle=radians(90)) == printed("e06", "PUB+LIB")


def test_factor_when_the_adapter_points_back():
    assert torque_factor(8, -2) == printed("e07", "LIB")


def test_tm_9_254_figure_4_6_adapter_at_an_angle():
    # The formula printed there, with the sum it shows in the figure; worked by hand at 60
    # degrees, where the cosine is 1/2: 60 (12 + 2/2)/12 = 65.
    assert torque_applied(60, arm=12, adapter=2, angle=radians(60)) == approx(65.0, rel=1e-14)
    assert torque_applied(60, 12, 2, radians(-60)) == approx(65.0, rel=1e-14)


def test_ac_43_13_1b_7_40_friction_drag_is_added():
    # Worked by hand: 100 and 15 of drag at the nut; on 10 and 1.5 in, 115/1.15 is 100.
    assert torque_setting(100, arm=10, drag=15) == 115.0
    assert torque_setting(100, arm=10, adapter=1.5, drag=15) == approx(100.0, rel=1e-14)
    assert torque_applied(100, arm=10, adapter=1.5, drag=15) == approx(100.0, rel=1e-14)


def test_settings_that_keep_the_limits():
    # Worked by hand: 390 +/- 20 through a factor of 1.2 is 308.33 to 341.67. A wrench of 4 %
    # has u = 0.04/sqrt(3) = 2.3094 % of what it gives, so 2 u is 4.6188 %:
    # 370/(1 - 0.046188) = 387.917 and 410/(1 + 0.046188) = 391.899 at the fastener.
    found = setting_range(370, 410, 10, 2, accuracy=0.04)
    assert (found.low, found.high) == (approx(308.333, abs=1e-3), approx(341.667, abs=1e-3))
    assert found.sure_low == approx(387.917 / 1.2, abs=1e-3)
    assert found.sure_high == approx(391.899 / 1.2, abs=1e-3)


def test_a_wrench_too_coarse_for_the_limits_has_no_sure_setting():
    found = setting_range(370, 410, 10, 2, accuracy=[0.04, 0.06])
    assert np.isfinite(found.sure_low).tolist() == [True, False]
    assert np.isfinite(found.sure_high).tolist() == [True, False]
    assert (
        "1 of 2: No setting keeps the fastener within its limits with this wrench: "
        "use a better one." in found.notes
    )


def test_cosine_by_another_route():
    # The law of cosines: the fastener seen from the hand, projected on the handle.
    for degrees in range(0, 180, 15):
        a = radians(degrees)
        hand_to_fastener_squared = 10**2 + 2**2 + 2 * 10 * 2 * cos(a)
        along = (hand_to_fastener_squared + 10**2 - 2**2) / (2 * 10)
        assert torque_factor(10, 2, a) == approx(along / 10, rel=1e-12)
