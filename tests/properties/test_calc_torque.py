"""What holds for all inputs of `rehang.calc.torque`."""

from __future__ import annotations

from math import cos, pi

from hypothesis import assume, given
from hypothesis import strategies as st
from pytest import approx

from rehang.calc.torque import (
    LEAST_LEVER,
    setting_range,
    torque_applied,
    torque_factor,
    torque_setting,
)

torques = st.floats(1, 200)
arms = st.floats(0.1, 1.0)
shares = st.floats(-0.6, 1.5)  # of the arm
angles = st.floats(-pi / 2, pi / 2)
drags = st.floats(0, 20)


@given(torques, arms, shares, angles, drags)
def test_setting_and_torque_are_each_others_inverse(torque, arm, share, angle, drag):
    setting = torque_setting(torque, arm, share * arm, angle, drag)
    assert torque_applied(setting, arm, share * arm, angle, drag) == approx(torque, rel=1e-9)


@given(torques, arms, st.floats(-5, 5), st.sampled_from([pi / 2, -pi / 2]))
def test_right_angles_change_nothing(torque, arm, share, angle):
    assert torque_setting(torque, arm, share * arm, angle) == approx(torque, rel=1e-12)


@given(torques, arms, shares, angles, st.floats(0.01, 100))
def test_only_the_ratio_of_the_lengths_counts(torque, arm, share, angle, times):
    one = torque_setting(torque, arm, share * arm, angle)
    other = torque_setting(torque, arm * times, share * arm * times, angle)
    assert other == approx(one, rel=1e-12)


@given(arms, st.floats(0, 0.9), st.floats(0, pi))
def test_pointing_back_is_half_a_turn_or_a_length_below_zero(arm, share, angle):
    # Further back than this leaves too little of the lever, and is refused.
    assume(1 + share * cos(angle) >= LEAST_LEVER)
    turned = torque_factor(arm, share * arm, angle)
    assert torque_factor(arm, -share * arm, pi - angle) == approx(turned, abs=1e-12)
    assert torque_factor(arm, share * arm, -angle) == approx(turned, rel=1e-12)


# Less than a quarter of the arm left is refused, so the adapter is no longer than three quarters.
@given(arms, st.floats(0.01, 0.74), st.floats(0, pi - 0.02), st.floats(0.01, 1))
def test_the_more_it_turns_back_the_less_the_fastener_gets(arm, share, angle, more):
    further = min(angle + more, pi)
    assert torque_factor(arm, share * arm, further) < torque_factor(arm, share * arm, angle)


@given(torques, arms, shares)
def test_an_exact_wrench_leaves_the_settings_as_they_are(torque, arm, share):
    assume(abs(share) < 0.6)
    found = setting_range(0.95 * torque, 1.05 * torque, arm, share * arm)
    assert (found.sure_low, found.sure_high) == (
        approx(found.low, rel=1e-12),
        approx(found.high, rel=1e-12),
    )
