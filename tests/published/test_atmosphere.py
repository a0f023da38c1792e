"""Air on a day: the rows of area d in ``data/checkvalues.csv``, CIPM-2007 and IAPWS-IF97.

Rows marked LIB have no printed number: independent programs agree on them. The constants of
CIPM-2007 are those of Picard and others, Metrologia 45 (2008) 149, as public programs carry
them; values of IAPWS-IF97 and of FAA-H-8083-25, figure 10-3, other than the file's, are from
memory. What is worked by hand says so.
"""

from __future__ import annotations

import numpy as np
from pytest import approx
from scipy.constants import foot

from rehang.calc.atmosphere import (
    air_by_dew_point,
    air_by_humidity,
    moist_density,
    pressure_altitude,
    standard_air,
    station_pressure,
)
from tests.published.checkvalues import printed

IN_HG = 3386.389  # NIST SP 811, B.8
ICE_POINT = 273.15


def test_standard_pressure_at_round_metres():
    assert standard_air(0).pressure == printed("d01_0p", "MEM+LIB")
    assert standard_air(1000).pressure == printed("d01_1000p", "MEM+LIB")
    assert standard_air(2000).pressure == printed("d01_2000p", "MEM+LIB")
    assert standard_air(5000).pressure == printed("d01_5000p", "MEM+LIB")
    assert standard_air(11000).pressure == printed("d01_11000p", "MEM+LIB")


def test_standard_density_at_round_metres():
    assert standard_air(0).density == printed("d01_0r", "MEM+LIB")
    assert standard_air(1000).density == printed("d01_1000r", "MEM+LIB")
    assert standard_air(2000).density == printed("d01_2000r", "MEM+LIB")
    assert standard_air(5000).density == printed("d01_5000r", "MEM+LIB")
    assert standard_air(11000).density == printed("d01_11000r", "MEM+LIB")


def test_standard_temperature_by_its_definition():
    # ISO 2533: 288.15 K less 6.5 K a kilometre; 216.65 K at 11 km.
    assert standard_air([0, 1000, 11000]).temperature == approx([288.15, 281.65, 216.65], abs=1e-9)


def inches_of_mercury(feet):
    return standard_air(feet * foot).pressure / IN_HG


def test_standard_pressure_at_round_feet():
    assert inches_of_mercury(2000) == printed("d02_2000", "PUB+LIB")
    assert inches_of_mercury(6000) == printed("d02_6000", "PUB+LIB")
    assert inches_of_mercury(8000) == printed("d02_8000", "PUB+LIB")
    assert inches_of_mercury(10000) == printed("d02_10000", "PUB+LIB")


def test_standard_density_ratio_at_round_feet():
    assert standard_air(2000 * foot).sigma == printed("d03_2000", "PUB+LIB")
    assert standard_air(4000 * foot).sigma == printed("d03_4000", "PUB+LIB")
    assert standard_air(6000 * foot).sigma == printed("d03_6000", "PUB+LIB")
    assert standard_air(10000 * foot).sigma == printed("d03_10000", "PUB+LIB")


def test_pressure_altitude_of_an_altimeter_setting():
    at_sea_level = station_pressure(29.7 * IN_HG, 0)
    assert at_sea_level.pressure_altitude / foot == printed("d04", "PUB+LIB")
    # FAA-H-8083-25, figure 10-3, in whole feet; 29.92 is 29.9213 there, and a foot is 0.001 inHg.
    for setting, feet in [(28.0, 1824), (29.0, 863), (29.92, 0), (30.5, -531), (31.0, -983)]:
        found = pressure_altitude(setting * IN_HG) / foot
        assert found == approx(feet, abs=1.5)


def test_altimeter_setting_and_elevation_add_as_altitudes():
    # Worked by hand, the figure's own use: 29.7 at a field of 1,500 ft is 1,500 + 205 ft.
    found = station_pressure(29.7 * IN_HG, 1500 * foot)
    assert found.pressure_altitude / foot == approx(1705, abs=0.5)
    # 10 Pa of the setting there, by the slope (p/setting)**0.80974, and 1 m of air 1.19 kg/m3
    # over 0.95 of sea level's.
    doubt = station_pressure(29.7 * IN_HG, 1500 * foot, u_setting=10.0, u_elevation=1.0)
    by_setting, by_elevation = (part.standard_uncertainty for part in doubt.components)
    ratio = found.pressure / (29.7 * IN_HG)
    assert by_setting == approx(10 * ratio**0.80974, rel=1e-5)
    assert by_elevation == approx(9.80665 * standard_air(1705 * foot).density, rel=1e-4)
    assert doubt.standard_uncertainty == approx(np.hypot(by_setting, by_elevation), rel=1e-12)


def day(inches, celsius, dew_celsius):
    return air_by_dew_point(inches * IN_HG, celsius + ICE_POINT, dew_celsius + ICE_POINT)


def test_density_altitude_of_a_humid_day():
    assert day(29.921, 35, 24).density_altitude / foot == printed("d05_2", "LIB")
    assert day(24.9, 30, 10).density_altitude / foot == printed("d05_4", "LIB")
    # No printed source, to the nearest 10 ft: humidity is worth 180 to 380 ft.
    assert day(24.9, 30, 10).worth_of_humidity / foot == approx(180, abs=5)
    assert day(29.921, 35, 24).worth_of_humidity / foot == approx(380, abs=5)


def test_moist_density_of_a_laboratory():
    # Half of 2,339.2 Pa, which IAPWS gives at 20 degrees (from memory).
    assert moist_density(101325, 293.15, 1169.6) == printed("d06", "MEM+LIB")
    assert air_by_humidity(101325, 293.15, 0.5).density == printed("d06", "MEM+LIB")


def cipm_2007(p, t, h):
    """Picard, Davis, Gläser and Fujii, Metrologia 45 (2008) 149: 0.04 % carbon dioxide."""
    c = t - ICE_POINT
    saturated = np.exp(1.2378847e-5 * t**2 - 1.9121316e-2 * t + 33.93711047 - 6.3431645e3 / t)
    enhancement = 1.00062 + 3.14e-8 * p + 5.6e-7 * c**2
    x = h * enhancement * saturated / p
    z = (
        1
        - p
        / t
        * (
            1.58123e-6
            - 2.9331e-8 * c
            + 1.1043e-10 * c**2
            + (5.707e-6 - 2.051e-8 * c) * x
            + (1.9898e-4 - 2.376e-6 * c) * x**2
        )
        + (p / t) ** 2 * (1.83e-11 - 0.765e-8 * x**2)
    )
    return 3.483740e-3 * p / (z * t) * (1 - 0.3780 * x)


def test_cipm_2007_agrees_with_the_ideal_mixture():
    # Its stated range is 600 to 1,100 hPa and 15 to 27 degrees C. The ideal mixture leaves out
    # the compressibility (0.04 %) and the enhancement (0.4 % of at most 1.3 %).
    for p in (70e3, 85e3, 101325):
        for t in (288.15, 293.15, 300.15):
            for h in (0.0, 0.5, 1.0):
                assert air_by_humidity(p, t, h).density == approx(cipm_2007(p, t, h), rel=6e-4)


def test_uncertainty_of_a_day():
    # Worked by hand for dry-bulb 15 degrees C, dew point at -100: all but dry air, sigma 1.
    # 100 Pa of 101,325 and 0.5 K of 288.15, as shares of the density.
    found = air_by_dew_point(101325, 288.15, 173.15, u_pressure=100, u_temperature=0.5)
    parts = {part.source: part.standard_uncertainty for part in found.components}
    assert parts["barometer"] == approx(100 / 101325, rel=1e-6)
    assert parts["thermometer"] == approx(0.5 / 288.15, rel=1e-6)
    assert parts["dew point"] == 0.0
    # 44,330.77 m / 4.255876 = 10,416.4 m for a whole of the density.
    share = np.hypot(100 / 101325, 0.5 / 288.15)
    assert found.u_density_altitude == approx(10416.4 * share, rel=1e-5)
    assert found.u_sigma == approx(share, rel=1e-6)


def test_frost_point_is_said():
    assert day(29.92, 10, -5).notes == (
        "Below freezing the vapour is taken over ice: a dew point must be a frost point and a "
        "relative humidity must be over ice.",
    )
    assert day(29.92, 10, 5).notes == ()
    assert air_by_humidity(101325, [260.0, 290.0], 0.5).notes[0].startswith("1 of 2: Below freez")
