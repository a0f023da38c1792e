"""Torque with an adapter: the rows of area e in ``data/checkvalues.csv``, and two printed examples.

US Army TM 1-1500-204-23-9, figure 8-16, and TM 9-254, figures 4-5 and 4-6, were read in public
reprints; AC 43.13-1B, figure 7-2, is from memory. Torques are in inch-pounds and lengths in
inches where the document has them so: only ratios count. What is worked by hand says so.
"""

from __future__ import annotations

from math import cos, pi, radians, sqrt

import numpy as np
import pytest
from pytest import approx
from scipy.constants import g, inch, pound

from rehang.calc.errors import OutOfRange
from rehang.calc.torque import (
    applied_torque,
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


def test_uncertainty_of_what_the_fastener_gets():
    # Worked by hand: 325 on the scale, 10 and 2 in straight on, factor 1.2.
    found = applied_torque(
        325, 10, 2, accuracy=0.04, resolution=5, u_arm=0.25, u_adapter=0.0625, u_drag=3
    )
    parts = {part.source: part.standard_uncertainty for part in found.components}
    # The wrench: 4 % of 325 is 13; 13/sqrt(3) and 5/sqrt(12), times 1.2.
    assert parts["wrench"] == approx(1.2 * sqrt(13**2 / 3 + 25 / 12), rel=1e-12)
    # The arm: 325 x 2/100 x 0.25 = 1.625; the adapter: 325/10 x 0.0625 = 2.03125.
    assert parts["arm"] == approx(1.625, rel=1e-12)
    assert parts["adapter"] == approx(2.03125, rel=1e-12)
    assert parts["angle"] == 0.0
    assert parts["drag"] == 3.0
    # 1.44 x (169/3 + 25/12) + 2.640625 + 4.125977 + 9 = 99.8866.
    assert found.standard_uncertainty == approx(9.99433, abs=1e-5)
    assert found.low == approx(390 - 2 * 9.99433, abs=2e-5)
    assert found.high == approx(390 + 2 * 9.99433, abs=2e-5)
    assert found.notes == (
        "Holds with the hand in the middle of the grip and the pull at right angles to the handle.",
    )


def test_angle_matters_least_straight_on_and_most_at_right_angles():
    # Worked by hand: at right angles E/L times the angle itself, 0.2 x 0.05 of 325; straight
    # on the cosine falls by half the square: 0.2 x 0.05**2/sqrt(2) of 325.
    def by_angle(angle):
        found = applied_torque(325, 10, 2, angle, accuracy=0.0, u_angle=0.05)
        return found.standard_uncertainty

    assert by_angle(pi / 2) == approx(3.25, rel=3e-3)
    assert by_angle(0.0) == approx(325 * 0.2 * 0.05**2 / sqrt(2), rel=3e-3)


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


def test_short_lever_and_drag_that_takes_all_are_said():
    found = applied_torque(100, 10, -6, drag=50, accuracy=0.04)
    assert found.torque == approx(-10.0, abs=1e-12)
    assert found.notes[1:] == (
        "The adapter takes away more than half of the lever: small slips of its length or angle "
        "weigh heavily, so use another adapter or set it at right angles.",
        "The drag takes all of the torque: nothing is left to tighten the fastener.",
    )


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (
            lambda: torque_setting(100, 10, -10),
            "The adapter must not reach back as far as the hand: got one that leaves 0 of the "
            r"arm\.",
        ),
        (
            # Arm 10, adapter 20 at 119 degrees: 0.03 of the lever, a setting of 33 times the torque.
            lambda: torque_setting(100, 10, 20, np.radians(119)),
            r"The adapter must leave at least 0\.25 of the arm: got 0\.0303808\.",
        ),
        (
            lambda: torque_setting(100, 10, 2, 90),
            "The angle of the adapter must be from minus to plus half a turn, in radians: "
            r"got 90\.",
        ),
        (lambda: torque_setting(0, 10), r"The wanted torque must be above 0: got 0\."),
        (lambda: torque_applied(-5, 10), r"The setting must be above 0: got -5\."),
        (lambda: torque_factor(0, 2), r"The arm of the wrench must be above 0: got 0\."),
        (
            lambda: torque_factor(10, float("nan")),
            r"The length of the adapter must be a finite number: got nan\.",
        ),
        (
            lambda: torque_setting(100, 10, drag=-1),
            r"The friction drag must be at least 0: got -1\.",
        ),
        (
            lambda: applied_torque(100, 10, accuracy=4),
            r"The accuracy of the wrench must be below 1 \(4 % is 0\.04\): got 4\.",
        ),
        (
            lambda: setting_range(410, 370, 10),
            r"The lower limit must not be above the upper limit: got 410 and 370\.",
        ),
        (
            lambda: setting_range(370, 410, 10, coverage_factor=0),
            r"The coverage factor must be above 0: got 0\.",
        ),
    ],
)
def test_what_cannot_be_answered_is_refused(call, sentence):
    with pytest.raises(OutOfRange, match=f"^{sentence}$"):
        call()


def test_cosine_by_another_route():
    # The law of cosines: the fastener seen from the hand, projected on the handle.
    for degrees in range(0, 180, 15):
        a = radians(degrees)
        hand_to_fastener_squared = 10**2 + 2**2 + 2 * 10 * 2 * cos(a)
        along = (hand_to_fastener_squared + 10**2 - 2**2) / (2 * 10)
        assert torque_factor(10, 2, a) == approx(along / 10, rel=1e-12)
