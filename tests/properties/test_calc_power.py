"""What holds for all inputs of `rehang.calc.power`."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from rehang.calc.power import (
    expected_static_speed,
    power_from_speed,
    shortfall,
    two_headings,
)

sigmas = st.floats(0.5, 1.4)
speeds = st.floats(500, 4000)
shares = st.floats(0.8, 1.1)
doubts = st.floats(0, 50)


@given(speeds, sigmas, st.floats(0.1, 10))
def test_the_unit_of_speed_does_not_count(speed, sigma, times):
    one = shortfall(speed, 2300, sigma, u_speed=5.0, u_sigma=0.003, u_reference=4.0)
    other = shortfall(
        speed * times,
        2300 * times,
        sigma,
        u_speed=5.0 * times,
        u_sigma=0.003,
        u_reference=4.0 * times,
    )
    assert other.left == approx(one.left * times, abs=1e-8)
    assert other.u_left == approx(one.u_left * times, rel=1e-12)
    assert other.power_missing == approx(one.power_missing, abs=1e-12)


@given(shares, sigmas, doubts, doubts, st.floats(0, 0.02))
def test_what_the_air_explains_and_what_is_left_make_the_whole(share, sigma, u, u_ref, u_sigma):
    speed = share * 2300
    found = shortfall(speed, 2300, sigma, u_speed=u, u_reference=u_ref, u_sigma=u_sigma)
    assert found.by_air + found.left == approx(found.short, abs=1e-9)
    expected = expected_static_speed(2300, sigma, u_reference=u_ref, u_sigma=u_sigma)
    assert found.left == approx(expected.speed - speed, abs=1e-9)
    assert found.u_left == approx(np.hypot(u, expected.standard_uncertainty), rel=1e-12)
    assert (found.low + found.high) / 2 == approx(found.left, abs=1e-9)
    assert 1 - found.power_missing == approx(power_from_speed(speed, expected.speed), rel=1e-12)


@given(sigmas.filter(lambda s: 0.51 < s < 1.39), shares)
def test_uncertainty_of_a_shortfall_is_that_of_the_slopes(sigma, share):
    at = {"speed": share * 2300, "reference": 2300.0, "sigma": sigma}
    u = {"speed": 6.0, "reference": 9.0, "sigma": 0.004}
    found = shortfall(
        **at,
        u_speed=u["speed"],
        u_reference=u["reference"],
        u_sigma=u["sigma"],
        u_model=0.0,
    )
    squares = {"left": 0.0, "by_air": 0.0, "power_missing": 0.0}
    for name, step in {"speed": 0.1, "reference": 0.1, "sigma": 1e-5}.items():
        up = shortfall(**{**at, name: at[name] + step}, u_speed=1.0)
        down = shortfall(**{**at, name: at[name] - step}, u_speed=1.0)
        for result in squares:
            slope = (getattr(up, result) - getattr(down, result)) / (2 * step)
            squares[result] += (slope * u[name]) ** 2
    assert found.u_left == approx(np.sqrt(squares["left"]), rel=1e-6)
    assert found.u_by_air == approx(np.sqrt(squares["by_air"]), rel=1e-5)
    assert found.u_power_missing == approx(np.sqrt(squares["power_missing"]), rel=1e-5)


@given(speeds, st.floats(0.9, 1.1), doubts, st.floats(0, 20), doubts)
def test_headings_change_places_without_changing_the_mean(speed, share, accuracy, step, u_run):
    other = speed * share
    one = two_headings(speed, other, accuracy=accuracy, resolution=step, u_run=u_run)
    turned = two_headings(other, speed, accuracy=accuracy, resolution=step, u_run=u_run)
    assert turned.speed == approx(one.speed, rel=1e-12)
    assert turned.wind == approx(-one.wind, rel=1e-12)
    assert one.speed + one.wind == approx(speed, rel=1e-12)
    # A second run never makes the tachometer better than it is.
    assert one.standard_uncertainty >= accuracy / np.sqrt(3) * (1 - 1e-12)


def test_many_at_once_is_each_alone():
    sigma = np.linspace(0.7, 1.1, 12).reshape(3, 4)
    together = shortfall(2210, 2300, sigma, u_speed=5.0, u_sigma=0.002)
    alone = [shortfall(2210, 2300, float(one), u_speed=5.0, u_sigma=0.002) for one in sigma.ravel()]
    assert np.shape(together.left) == (3, 4)
    assert np.ravel(together.left) == approx([one.left for one in alone], rel=1e-13)
    assert np.ravel(together.u_power_missing) == approx(
        [one.u_power_missing for one in alone], rel=1e-13
    )
