"""What holds for all inputs of `rehang.calc.power`."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from rehang.calc.power import (
    expected_static_speed,
    mag_drops,
    power_from_speed,
    power_share,
    shortfall,
    static_range,
    static_speed_ratio,
    two_headings,
)

sigmas = st.floats(0.5, 1.4)
speeds = st.floats(500, 4000)
shares = st.floats(0.8, 1.1)
doubts = st.floats(0, 50)


def test_standard_air_at_sea_level_changes_nothing():
    assert power_share(1.0) == 1.0
    assert static_speed_ratio(1.0) == 1.0
    assert expected_static_speed(2300, 1.0).change == 0.0


@given(sigmas)
def test_the_propeller_takes_what_the_engine_gives(sigma):
    # Load: density times the cube of the speed, both over those of sea level.
    assert sigma * static_speed_ratio(sigma) ** 3 == approx(power_share(sigma), rel=1e-12)


@given(st.floats(0.5, 1.39), st.floats(1e-3, 0.01))
def test_denser_air_is_more_power_and_more_speed(sigma, more):
    assert power_share(sigma + more) > power_share(sigma)
    assert static_speed_ratio(sigma + more) > static_speed_ratio(sigma)


@given(sigmas)
def test_speed_moves_far_less_than_power(sigma):
    assert abs(static_speed_ratio(sigma) - 1) <= abs(power_share(sigma) - 1) / 3


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


@given(st.floats(2000, 2600), st.floats(0.6, 1.2), st.floats(0.5, 50))
def test_in_standard_air_is_the_inverse_of_expected(speed, sigma, u):
    found = static_range(speed, 2250, 2350, sigma, u_speed=u)
    assert expected_static_speed(found.in_standard_air, sigma).speed == approx(speed, rel=1e-12)
    assert found.in_standard_air + found.worth_of_air == approx(speed, rel=1e-12)
    assert 0 <= found.p_inside <= 1
    assert 0 <= found.p_inside_in_standard_air <= 1


@given(st.floats(2000, 2600), st.floats(0.5, 50))
def test_in_standard_air_and_without_doubt_of_the_law_both_are_one(speed, u):
    found = static_range(speed, 2250, 2350, 1.0, u_speed=u, u_model=0.0)
    assert found.p_inside_in_standard_air == approx(found.p_inside, abs=1e-12)


def test_uncertainty_of_drops_is_that_of_drawn_inputs():
    # 200,000 tachometers, each off by up to 25 and by up to 2 % and read to 10.
    draw = np.random.default_rng(11)
    n = 200_000
    off, slope = draw.uniform(-25, 25, n), draw.uniform(-0.02, 0.02, n)

    def shown(speed):
        settled = speed + draw.normal(0, 3, n)
        return np.round((settled * (1 + slope) + off) / 10) * 10

    drops = mag_drops(shown(1800), shown(1650), shown(1800), shown(1720), resolution=10)
    found = mag_drops(1800, 1650, 1800, 1720, resolution=10, proportional=0.02, u_settle=3)
    assert np.std(drops.left) == approx(found.u_left, rel=0.02)
    assert np.std(drops.right) == approx(found.u_right, rel=0.02)
    assert np.std(drops.difference) == approx(found.u_difference, rel=0.02)
    assert np.mean(drops.difference) == approx(found.difference, abs=0.1)


@given(speeds, st.floats(0.8, 1.0), st.floats(0.8, 1.0), st.floats(1, 50), st.floats(-400, 400))
def test_what_the_tachometer_is_off_by_leaves_drops_alone(both, left, right, step, off):
    here = mag_drops(both, both * left, both, both * right, resolution=step)
    up = both + 500 + off
    away = mag_drops(up, up - both * (1 - left), up, up - both * (1 - right), resolution=step)
    assert away.left == approx(here.left, abs=1e-8)
    assert away.difference == approx(here.difference, abs=1e-8)
    assert away.u_difference == approx(here.u_difference, rel=1e-12)
    assert here.left - here.right == approx(here.difference, abs=1e-9)


def test_many_at_once_is_each_alone():
    sigma = np.linspace(0.7, 1.1, 12).reshape(3, 4)
    together = shortfall(2210, 2300, sigma, u_speed=5.0, u_sigma=0.002)
    alone = [shortfall(2210, 2300, float(one), u_speed=5.0, u_sigma=0.002) for one in sigma.ravel()]
    assert np.shape(together.left) == (3, 4)
    assert np.ravel(together.left) == approx([one.left for one in alone], rel=1e-13)
    assert np.ravel(together.u_power_missing) == approx(
        [one.u_power_missing for one in alone], rel=1e-13
    )
