"""What holds for all inputs of `rehang.calc.torque`."""

from __future__ import annotations

from math import cos, pi

import numpy as np
from hypothesis import assume, given
from hypothesis import strategies as st
from pytest import approx

from rehang.calc.torque import (
    LEAST_LEVER,
    applied_torque,
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
small = st.floats(0, 0.02)


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


@given(torques, arms, shares, angles, small, small, st.floats(0, 2))
def test_uncertainty_is_that_of_the_slopes(torque, arm, share, angle, a, u_len, u_drag):
    extra = share * arm
    found = applied_torque(
        torque,
        arm,
        extra,
        angle,
        accuracy=a,
        u_arm=u_len * arm,
        u_adapter=u_len * arm,
        u_drag=u_drag,
    )

    def slope(index, step):
        up, down = [torque, arm, extra, angle], [torque, arm, extra, angle]
        up[index] += step
        down[index] -= step
        return (torque_applied(*up) - torque_applied(*down)) / (2 * step)

    by_hand = [
        slope(0, 1e-4 * torque) * a * torque / np.sqrt(3),
        slope(1, 1e-4 * arm) * u_len * arm,
        slope(2, 1e-4 * arm) * u_len * arm,
        u_drag,
    ]
    assert found.standard_uncertainty == approx(np.sqrt(np.sum(np.square(by_hand))), rel=1e-5)
    both = found.standard_uncertainty * found.coverage_factor
    assert (found.low, found.high) == (
        approx(found.torque - both, abs=1e-9),
        approx(found.torque + both, abs=1e-9),
    )


def test_uncertainty_is_that_of_drawn_inputs():
    # 200,000 draws: the scatter of their standard deviation is 0.2 %.
    draw = np.random.default_rng(7)
    n = 200_000
    for angle in (0.0, 0.5, pi / 2):
        found = applied_torque(
            325, 10, 2, angle, accuracy=0.04, u_arm=0.1, u_adapter=0.05, u_angle=0.15, u_drag=2
        )
        torque = torque_applied(
            325 * draw.uniform(0.96, 1.04, n),
            draw.normal(10, 0.1, n),
            draw.normal(2, 0.05, n),
            draw.normal(angle, 0.15, n),
        ) - draw.normal(0, 2, n)
        assert np.std(torque) == approx(found.standard_uncertainty, rel=0.01)
    # The angle alone, where the cosine is flat and where it is steepest.
    for angle in (0.0, pi / 2):
        found = applied_torque(325, 10, 2, angle, accuracy=0.0, u_angle=0.15)
        torque = torque_applied(325, 10, 2, draw.normal(angle, 0.15, n))
        assert np.std(torque) == approx(found.standard_uncertainty, rel=0.01)


@given(
    torques,
    st.floats(0.01, 0.5),
    arms,
    shares,
    drags,
    st.floats(0, 0.1),
    st.floats(0, 0.05),
    st.floats(0, 1),
)
def test_sure_settings_just_keep_the_limits(torque, tol, arm, share, drag, a, step, u_drag):
    limits = (torque * (1 - tol), torque * (1 + tol))
    doubt = {
        "accuracy": a,
        "resolution": step * torque,
        "u_arm": 0.01 * arm,
        "u_adapter": 0.01 * arm,
        "u_drag": u_drag,
    }
    at = (arm, share * arm, 0.3, drag)
    found = setting_range(*limits, *at, **doubt)
    assert found.low <= found.high
    if np.isnan(found.sure_low):
        # Wherever the wrench is set, one end is outside.
        for setting in np.linspace(found.low, found.high, 7):
            held = applied_torque(setting, *at, **doubt)
            assert held.low < limits[0] * (1 + 1e-9) or held.high > limits[1] * (1 - 1e-9)
        return
    assert found.low <= found.sure_low * (1 + 1e-12) <= found.sure_high * (1 + 2e-12)
    assert found.sure_high <= found.high * (1 + 1e-12)
    assert applied_torque(found.sure_low, *at, **doubt).low == approx(limits[0], rel=1e-9)
    assert applied_torque(found.sure_high, *at, **doubt).high == approx(limits[1], rel=1e-9)


@given(torques, arms, shares)
def test_an_exact_wrench_leaves_the_settings_as_they_are(torque, arm, share):
    assume(abs(share) < 0.6)
    found = setting_range(0.95 * torque, 1.05 * torque, arm, share * arm)
    assert (found.sure_low, found.sure_high) == (
        approx(found.low, rel=1e-12),
        approx(found.high, rel=1e-12),
    )


def test_many_at_once_is_each_alone():
    setting = np.linspace(10, 50, 12).reshape(3, 4)
    together = applied_torque(setting, 0.25, 0.05, 0.4, accuracy=0.04, u_arm=0.005)
    assert np.shape(together.torque) == (3, 4)
    alone = [
        applied_torque(float(one), 0.25, 0.05, 0.4, accuracy=0.04, u_arm=0.005)
        for one in setting.ravel()
    ]
    assert np.ravel(together.torque) == approx([one.torque for one in alone], rel=1e-15)
    assert np.ravel(together.standard_uncertainty) == approx(
        [one.standard_uncertainty for one in alone], rel=1e-15
    )
