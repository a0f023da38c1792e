"""What holds for all inputs of `rehang.calc.atmosphere`."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from rehang.calc.atmosphere import (
    LEAST_ALTITUDE,
    MOST_ALTITUDE,
    air_by_dew_point,
    air_by_humidity,
    density_altitude,
    moist_density,
    pressure_altitude,
    standard_air,
    station_pressure,
)

altitudes = st.floats(LEAST_ALTITUDE, MOST_ALTITUDE)
settings = st.floats(95_000, 105_000)
elevations = st.floats(-400, 4_000)
pressures = st.floats(60_000, 105_000)
temperatures = st.floats(250, 320)
spreads = st.floats(0.5, 40)


@given(altitudes)
def test_altitude_comes_back_from_pressure_and_from_density(altitude):
    air = standard_air(altitude)
    assert pressure_altitude(air.pressure) == approx(altitude, abs=1e-6)
    assert density_altitude(air.sigma) == approx(altitude, abs=1e-6)
    assert air.density == approx(air.pressure / (287.05287 * air.temperature), rel=1e-13)


def test_sea_level_is_one():
    assert standard_air(0).sigma == 1.0
    assert pressure_altitude(101325) == density_altitude(1.0) == 0.0
    assert moist_density(101325, 288.15) == approx(1.225, abs=1e-6)


@given(altitudes, st.floats(1, 1000))
def test_higher_is_colder_and_thinner(altitude, more):
    low, high = standard_air(altitude), standard_air(min(altitude + more, MOST_ALTITUDE))
    assert high.temperature <= low.temperature
    assert high.pressure <= low.pressure
    assert high.sigma <= low.sigma


@given(altitudes)
def test_pressure_falls_by_the_weight_of_the_air(altitude):
    # dp = -rho g dh, by a difference over 2 m.
    middle = min(max(altitude, LEAST_ALTITUDE + 1), MOST_ALTITUDE - 1)
    fall = standard_air(middle - 1).pressure - standard_air(middle + 1).pressure
    assert fall / 2 == approx(9.80665 * standard_air(middle).density, rel=1e-6)


@given(settings, elevations)
def test_station_pressure_has_the_slopes_it_says(setting, elevation):
    found = station_pressure(setting, elevation, u_setting=7.0, u_elevation=3.0)
    by_setting, by_elevation = (part.standard_uncertainty for part in found.components)
    up = station_pressure(setting + 10, elevation).pressure
    down = station_pressure(setting - 10, elevation).pressure
    assert by_setting == approx(7.0 * (up - down) / 20, rel=1e-5)
    up = station_pressure(setting, elevation + 1).pressure
    down = station_pressure(setting, elevation - 1).pressure
    assert by_elevation == approx(3.0 * (down - up) / 2, rel=1e-5)
    assert pressure_altitude(found.pressure) == approx(found.pressure_altitude, abs=1e-6)


@given(settings)
def test_at_sea_level_the_setting_is_the_pressure(setting):
    assert station_pressure(setting, 0).pressure == approx(setting, rel=1e-12)


@given(pressures, temperatures, spreads, st.floats(0.1, 5))
def test_hotter_moister_or_lower_pressure_is_thinner(pressure, temperature, spread, more):
    dew = max(temperature - spread, 240.0)
    here = air_by_dew_point(pressure, temperature, dew)
    assert air_by_dew_point(pressure, temperature + more, dew).sigma < here.sigma
    assert air_by_dew_point(pressure * 0.99, temperature, dew).sigma < here.sigma
    damper = air_by_dew_point(pressure, temperature, dew + 0.5 * (temperature - dew))
    assert damper.sigma < here.sigma
    assert damper.density_altitude > here.density_altitude
    assert damper.worth_of_humidity > here.worth_of_humidity > 0


@given(altitudes)
def test_dry_standard_air_has_its_own_altitude(altitude):
    air = standard_air(altitude)
    found = air_by_humidity(air.pressure, air.temperature, 0.0)
    assert found.density_altitude == approx(altitude, abs=1e-6)
    assert found.pressure_altitude == approx(altitude, abs=1e-6)
    assert found.worth_of_humidity == 0.0


# Where the two formulas meet the slope has a small step.
away_from_freezing = temperatures.filter(lambda t: abs(t - 273.15) > 0.1)


def differences(way, at, steps):
    """Slopes of sigma and of the density altitude with each of three inputs."""
    slopes = []
    for index, step in enumerate(steps):
        up, down = list(at), list(at)
        up[index] += step
        down[index] -= step
        one, other = way(*up), way(*down)
        slopes.append(
            (
                (one.sigma - other.sigma) / (2 * step),
                (one.density_altitude - other.density_altitude) / (2 * step),
            )
        )
    return np.abs(np.array(slopes))


@given(pressures, away_from_freezing, st.floats(0.05, 0.95))
def test_uncertainty_by_humidity_is_that_of_the_slopes(pressure, temperature, share):
    u = np.array([50.0, 0.3, 0.05])
    found = air_by_humidity(
        pressure, temperature, share, u_pressure=50.0, u_temperature=0.3, u_humidity=0.05
    )
    parts = differences(air_by_humidity, (pressure, temperature, share), (10, 0.01, 0.01))
    named = [part.standard_uncertainty for part in found.components]
    assert named == approx(parts[:, 0] * u, rel=1e-5)
    assert found.u_sigma == approx(np.sqrt(np.sum((parts[:, 0] * u) ** 2)), rel=1e-5)
    assert found.u_density_altitude == approx(np.sqrt(np.sum((parts[:, 1] * u) ** 2)), rel=1e-5)


@given(pressures, temperatures, st.floats(0.5, 20))
def test_uncertainty_by_dew_point_is_that_of_the_slopes(pressure, temperature, spread):
    dew = temperature - spread
    if abs(dew - 273.15) < 0.1:
        dew += 0.2
    u = np.array([50.0, 0.3, 0.4])
    found = air_by_dew_point(
        pressure, temperature, dew, u_pressure=50.0, u_temperature=0.3, u_dew_point=0.4
    )
    parts = differences(air_by_dew_point, (pressure, temperature, dew), (10, 0.01, 0.01))
    assert found.u_sigma == approx(np.sqrt(np.sum((parts[:, 0] * u) ** 2)), rel=1e-5)
    assert found.u_density_altitude == approx(np.sqrt(np.sum((parts[:, 1] * u) ** 2)), rel=1e-5)


def test_many_at_once_is_each_alone():
    t = np.linspace(260, 310, 12).reshape(3, 4)
    together = air_by_humidity(95000, t, 0.4, u_temperature=0.3)
    alone = [air_by_humidity(95000, float(one), 0.4, u_temperature=0.3) for one in t.ravel()]
    assert np.shape(together.sigma) == (3, 4)
    assert np.ravel(together.density_altitude) == approx(
        [one.density_altitude for one in alone], rel=1e-12
    )
    assert np.ravel(together.u_sigma) == approx([one.u_sigma for one in alone], rel=1e-14)
