"""Air on a day at a field: the standard atmosphere, moist air, density altitude.

Heights are geopotential, as altimeters count them; pressures and temperatures are absolute. A
geometric height is the larger one, by 1 m at 2,500 m. The pressure is that at the field, and
not the altimeter setting.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from rehang.calc import _inputs as check
from rehang.calc._air import AIR_GAS_CONSTANT
from rehang.calc._components import Component, components, root_sum_square
from rehang.calc._inputs import FloatArray
from rehang.calc._said import said
from rehang.calc.errors import OutOfRange
from rehang.calc.units import (
    DensitiesOut,
    Kelvins,
    KelvinsOut,
    Metres,
    MetresOut,
    Pascals,
    PascalsOut,
    Ratios,
    RatiosOut,
)

# ISO 2533:1975, Standard Atmosphere, Table 1; the same in ICAO Doc 7488 and the U.S. one of 1976.
SEA_LEVEL_PRESSURE = 101_325.0
SEA_LEVEL_TEMPERATURE = 288.15
LAPSE = 0.0065
GRAVITY = 9.80665
SEA_LEVEL_DENSITY = SEA_LEVEL_PRESSURE / (AIR_GAS_CONSTANT * SEA_LEVEL_TEMPERATURE)
EXPONENT = GRAVITY / (AIR_GAS_CONSTANT * LAPSE)
# The tables begin at -5,000 m and the temperature stops falling at 11,000 m.
LEAST_ALTITUDE, MOST_ALTITUDE = -5_000.0, 11_000.0

VAPOUR_GAS_CONSTANT = 461.495

FREEZING = 273.15
# ASHRAE Handbook, Fundamentals, Psychrometrics, equation (5), over ice, -100 to 0 degrees C ...
OVER_ICE = (
    -5.6745359e3,
    6.3925247,
    -9.6778430e-3,
    6.2215701e-7,
    2.0747825e-9,
    -9.4840240e-13,
    4.1635019,
)
# ... and equation (6), over water, 0 to 200 degrees C.
OVER_WATER = (
    -5.8002206e3,
    1.3914993,
    -4.8640239e-2,
    4.1764768e-5,
    -1.4452093e-8,
    0.0,
    6.5459673,
)
COLDEST, HOTTEST = 173.15, 473.15

FROST_NOTE = (
    "Below freezing the vapour is taken over ice: a dew point must be a frost point and a relative "
    "humidity must be over ice."
)


@dataclass(frozen=True, slots=True)
class StandardAir:
    """The standard atmosphere at an altitude."""

    temperature: KelvinsOut
    pressure: PascalsOut
    density: DensitiesOut
    sigma: RatiosOut  # density over that of sea level


@dataclass(frozen=True, slots=True)
class StationPressure:
    """Pressure at a field, from its elevation and an altimeter setting."""

    pressure: PascalsOut  # absolute
    pressure_altitude: MetresOut  # geopotential
    standard_uncertainty: PascalsOut  # of the pressure
    components: tuple[Component, ...]  # [Pa]


@dataclass(frozen=True, slots=True)
class Air:
    """Air on a day, and what its density is worth."""

    density: DensitiesOut
    sigma: RatiosOut  # density over that of standard air at sea level
    u_sigma: RatiosOut  # standard uncertainty of sigma
    pressure_altitude: MetresOut  # geopotential
    density_altitude: MetresOut  # geopotential
    u_density_altitude: MetresOut  # standard uncertainty of the density altitude
    worth_of_humidity: MetresOut  # density altitude less that of the same air dry
    components: tuple[Component, ...]  # in sigma [-]
    notes: tuple[str, ...]


# The standard atmosphere


def standard_air(altitude: Metres) -> StandardAir:
    r"""Temperature, pressure and density of the standard atmosphere.

    .. math:: T = T_0 - \beta H, \qquad
              p = p_0 \left( \frac{T}{T_0} \right)^{g_0 / (R \beta)}, \qquad
              \rho = \frac{p}{R T}

    The lowest layer only, where the temperature falls by 6.5 K a kilometre. Dry air.

    Refused: an altitude outside -5,000 m to 11,000 m.

    Source: ISO 2533:1975, Standard Atmosphere; ICAO Doc 7488; U.S. Standard Atmosphere 1976.
    Checked in ``tests/published/test_atmosphere.py``: five altitudes of the ICAO table, and a table
    in feet.

    >>> air = standard_air(1000)
    >>> round(air.pressure, 2), round(air.density, 5)
    (89874.56, 1.11164)
    """
    h = check.finite("The altitude", altitude)
    if not ((h >= LEAST_ALTITUDE) & (h <= MOST_ALTITUDE)).all():
        raise OutOfRange(
            "The altitude must be from -5,000 m to 11,000 m, the lowest layer of the standard "
            f"atmosphere: got {check.shown(h)} m."
        )
    theta = 1.0 - LAPSE * h / SEA_LEVEL_TEMPERATURE
    sigma = theta ** (EXPONENT - 1.0)
    return StandardAir(
        temperature=check.plain(np.asarray(theta * SEA_LEVEL_TEMPERATURE)),
        pressure=check.plain(np.asarray(SEA_LEVEL_PRESSURE * theta**EXPONENT)),
        density=check.plain(np.asarray(SEA_LEVEL_DENSITY * sigma)),
        sigma=check.plain(np.asarray(sigma)),
    )


def pressure_altitude(pressure: Pascals) -> MetresOut:
    r"""Altitude at which the standard atmosphere has a pressure.

    .. math:: H_p = \frac{T_0}{\beta} \left[ 1 - \left( \frac{p}{p_0}
              \right)^{R \beta / g_0} \right]

    What an altimeter shows when it is set to 101,325 Pa.

    Refused: the pressure of no altitude from -5,000 m to 11,000 m.

    Source: ISO 2533:1975, as `standard_air`.
    Checked in ``tests/published/test_atmosphere.py``: 205 ft at 29.7 inHg.

    >>> round(pressure_altitude(89874.57))
    1000
    """
    p = check.above_zero("The pressure", pressure)
    return check.plain(
        _altitude(p / SEA_LEVEL_PRESSURE, EXPONENT, "pressure", f"{check.shown(p)} Pa")
    )


def density_altitude(sigma: Ratios) -> MetresOut:
    r"""Altitude at which the standard atmosphere has a density ratio.

    .. math:: H_\rho = \frac{T_0}{\beta} \left[ 1 - \sigma^{1 / (g_0/(R\beta) - 1)} \right]

    sigma: density over that of standard air at sea level.

    Moist air counts by its own density, so the answer is with humidity when ``sigma`` is.

    Refused: the density of no altitude from -5,000 m to 11,000 m.

    Source: ISO 2533:1975, as `standard_air`.
    Checked in ``tests/published/test_atmosphere.py``: two days with their dew points.

    >>> round(density_altitude(standard_air(1500).sigma))
    1500
    """
    ratio = check.above_zero("The density ratio", sigma)
    given = f"{check.shown(ratio)} of that at sea level"
    return check.plain(_altitude(ratio, EXPONENT - 1.0, "density", given))


def station_pressure(
    altimeter_setting: Pascals,
    elevation: Metres,
    *,
    u_setting: Pascals = 0.0,
    u_elevation: Metres = 0.0,
) -> StationPressure:
    r"""Pressure at a field whose elevation and altimeter setting are known.

    .. math:: p = p_0 \left( 1 - \frac{\beta (H_p(\mathrm{setting}) + z)}{T_0}
              \right)^{g_0/(R\beta)}

    altimeter_setting: pressure that makes an altimeter at the field show its elevation.
    u_setting: a setting given to 0.01 inHg is worth 10 Pa.

    Elevation is taken for geopotential, as the settings themselves are made.

    Source: ISO 2533:1975, by the altimeter's definition; JCGM 100:2008, 5.1.2, equation (10).
    Checked in ``tests/published/test_atmosphere.py``: 205 ft at 29.7 inHg at sea level.

    >>> found = station_pressure(101325, 1000)
    >>> round(found.pressure, 2), round(found.pressure_altitude)
    (89874.56, 1000)
    """
    setting = check.above_zero("The altimeter setting", altimeter_setting)
    z = check.finite("The elevation", elevation)
    altitude = np.asarray(pressure_altitude(setting)) + z
    air = standard_air(altitude)
    p = np.asarray(air.pressure)
    named = {
        # Both altitudes move together, so the slope is the ratio of the two layers' own.
        "altimeter setting": (p / setting) ** (1.0 - 1.0 / EXPONENT)
        * check.at_least_zero("The uncertainty of the altimeter setting", u_setting),
        "elevation": np.asarray(air.density)
        * GRAVITY
        * check.at_least_zero("The uncertainty of the elevation", u_elevation),
    }
    return StationPressure(
        pressure=check.plain(p),
        pressure_altitude=check.plain(altitude),
        standard_uncertainty=check.plain(root_sum_square(named)),
        components=components(named),
    )


# Moist air


def moist_density(
    pressure: Pascals, temperature: Kelvins, vapour_pressure: Pascals = 0.0
) -> DensitiesOut:
    r"""Density of moist air, an ideal mixture of two ideal gases.

    .. math:: \rho = \frac{p - e}{R_d T} + \frac{e}{R_v T}

    vapour_pressure: part of the pressure that is water vapour; 0 for dry air.

    Real air is denser by up to 0.05 % at fields' pressures, which is 5 m of density altitude.

    Refused: a vapour pressure above the pressure.

    Source: ideal-gas law with R_d = 287.05287 (ISO 2533:1975) and R_v = 461.495 J/(kg K).
    Checked in ``tests/published/test_atmosphere.py``: 1.1992 kg/m3 at 20 degrees C and half
    humidity, and against the CIPM-2007 equation.

    >>> round(moist_density(101325, 293.15, 0.5 * 2338.8), 4)
    1.1989
    """
    p = check.above_zero("The pressure", pressure)
    t = check.above_zero("The absolute temperature", temperature)
    e = check.at_least_zero("The vapour pressure", vapour_pressure)
    if not (e <= p).all():
        raise OutOfRange(
            "The vapour pressure must not be above the pressure of the air: "
            f"got {check.shown(e)} Pa in {check.shown(p)} Pa."
        )
    return check.plain(_density(p, t, e))


def air_by_dew_point(
    pressure: Pascals,
    temperature: Kelvins,
    dew_point: Kelvins,
    *,
    u_pressure: Pascals = 0.0,
    u_temperature: Kelvins = 0.0,
    u_dew_point: Kelvins = 0.0,
) -> Air:
    r"""Density, density altitude and their uncertainty, from a barometer and two temperatures.

    .. math:: u^2(\rho) = \left( \frac{u(p)}{R_d T} \right)^2
              + \left( \frac{\rho}{T} u(T) \right)^2
              + \left( \frac{1}{T} \left( \frac{1}{R_d} - \frac{1}{R_v} \right)
              \frac{de_s}{dT_d} u(T_d) \right)^2

    dew_point: or the frost point below 0 degrees C.

    First order; the three readings are taken as independent. A report to whole degrees is worth
    0.29 K of each of the two temperatures.

    Refused: a dew point above the temperature; a temperature outside -100 to 200 degrees C.

    Source: as `moist_density` and `density_altitude`, with the vapour pressure of saturation; JCGM
    100:2008, 5.1.2, equation (10).
    Checked in ``tests/published/test_atmosphere.py``: 2,651.8 and 7,973.8 ft.

    >>> air = air_by_dew_point(101324, 308.15, 297.15, u_pressure=10, u_temperature=0.29,
    ...                        u_dew_point=0.29)
    >>> round(air.density_altitude / 0.3048), round(air.u_density_altitude / 0.3048)
    (2652, 32)
    >>> round(air.worth_of_humidity / 0.3048)
    376
    """
    t = _within_saturation("The temperature", temperature)
    dew = _within_saturation("The dew point", dew_point)
    if not (dew <= t).all():
        raise OutOfRange(
            "The dew point must not be above the temperature of the air: "
            f"got {check.shown(dew)} K in air of {check.shown(t)} K."
        )
    e, slope = _saturation(dew)
    by_vapour = slope * check.at_least_zero("The uncertainty of the dew point", u_dew_point)
    return _air(
        pressure,
        t,
        e,
        u_pressure,
        u_temperature,
        ("dew point", by_vapour),
        np.asarray(0.0),
        dew < FREEZING,
    )


def air_by_humidity(
    pressure: Pascals,
    temperature: Kelvins,
    relative_humidity: Ratios,
    *,
    u_pressure: Pascals = 0.0,
    u_temperature: Kelvins = 0.0,
    u_humidity: Ratios = 0.0,
) -> Air:
    r"""Density, density altitude and their uncertainty, from a barometer and a hygrometer.

    .. math:: e = \varphi\, e_s(T), \qquad
              \frac{\partial\rho}{\partial T} = -\frac{\rho}{T} - \frac{1}{T}
              \left( \frac{1}{R_d} - \frac{1}{R_v} \right) \varphi \frac{de_s}{dT}

    relative_humidity: vapour pressure over that of saturation, from 0 to 1.

    The thermometer counts twice here, for the air and for what it can hold. With no hygrometer
    at all, 0.5 with an uncertainty of 0.29 says so: anything from dry to saturated.

    Source: as `air_by_dew_point`.
    Checked in ``tests/published/test_atmosphere.py``: 1.1992 kg/m3.

    >>> round(air_by_humidity(101325, 293.15, 0.5).density, 4)
    1.1989
    """
    t = _within_saturation("The temperature", temperature)
    share = check.at_least_zero("The relative humidity", relative_humidity)
    if not (share <= 1).all():
        raise OutOfRange(
            f"The relative humidity must be from 0 to 1 (50 % is 0.5): got {check.shown(share)}."
        )
    full, slope = _saturation(t)
    by_vapour = full * check.at_least_zero("The uncertainty of the humidity", u_humidity)
    return _air(
        pressure,
        t,
        np.asarray(share * full),
        u_pressure,
        u_temperature,
        ("humidity", by_vapour),
        np.asarray(share * slope),
        t < FREEZING,
    )


def _air(
    pressure: ArrayLike,
    t: FloatArray,
    e: FloatArray,
    u_pressure: ArrayLike,
    u_temperature: ArrayLike,
    vapour: tuple[str, FloatArray],
    vapour_by_temperature: FloatArray,
    over_ice: np.ndarray,
) -> Air:
    p = check.above_zero("The pressure", pressure)
    density = np.asarray(moist_density(p, t, e))
    sigma = density / SEA_LEVEL_DENSITY
    lighter = (1.0 / AIR_GAS_CONSTANT - 1.0 / VAPOUR_GAS_CONSTANT) / t
    name, by_vapour = vapour
    named = {
        "barometer": check.at_least_zero("The uncertainty of the pressure", u_pressure)
        / (AIR_GAS_CONSTANT * t)
        / SEA_LEVEL_DENSITY,
        "thermometer": (density / t + lighter * vapour_by_temperature)
        / SEA_LEVEL_DENSITY
        * check.at_least_zero("The uncertainty of the temperature", u_temperature),
        name: lighter * by_vapour / SEA_LEVEL_DENSITY,
    }
    u = root_sum_square(named)
    altitude = np.asarray(density_altitude(sigma))
    dry = np.asarray(density_altitude(_density(p, t, np.asarray(0.0)) / SEA_LEVEL_DENSITY))
    theta = 1.0 - LAPSE * altitude / SEA_LEVEL_TEMPERATURE
    metres = SEA_LEVEL_TEMPERATURE / LAPSE * theta / (EXPONENT - 1.0) / sigma
    return Air(
        density=check.plain(density),
        sigma=check.plain(np.asarray(sigma)),
        u_sigma=check.plain(u),
        pressure_altitude=pressure_altitude(p),
        density_altitude=check.plain(altitude),
        u_density_altitude=check.plain(np.asarray(metres * u)),
        worth_of_humidity=check.plain(np.asarray(altitude - dry)),
        components=components(named),
        notes=said((over_ice, FROST_NOTE)),
    )


def _density(p: FloatArray, t: FloatArray, e: FloatArray) -> FloatArray:
    return np.asarray((p - e) / (AIR_GAS_CONSTANT * t) + e / (VAPOUR_GAS_CONSTANT * t))


def _altitude(ratio: FloatArray, exponent: float, what: str, given: str) -> FloatArray:
    theta = ratio ** (1.0 / exponent)
    h = np.asarray(SEA_LEVEL_TEMPERATURE / LAPSE * (1.0 - theta))
    # Half a millimetre, so that what `standard_air` gives at an end is taken back.
    if not ((h >= LEAST_ALTITUDE - 5e-4) & (h <= MOST_ALTITUDE + 5e-4)).all():
        raise OutOfRange(
            f"The {what} must be that of an altitude from -5,000 m to 11,000 m: got {given}."
        )
    return h


def _within_saturation(name: str, value: ArrayLike) -> FloatArray:
    t = check.finite(name, value)
    if not ((t >= COLDEST) & (t <= HOTTEST)).all():
        raise OutOfRange(
            f"{name} must be from 173.15 K to 473.15 K (-100 to 200 °C): got {check.shown(t)} K."
        )
    return t


def _saturation(t: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Vapour pressure and its slope with temperature."""
    c = np.where(t[..., np.newaxis] < FREEZING, OVER_ICE, OVER_WATER)
    powers = c[..., 2] * t + c[..., 3] * t**2 + c[..., 4] * t**3 + c[..., 5] * t**4
    pressure = np.exp(c[..., 0] / t + c[..., 1] + powers + c[..., 6] * np.log(t))
    slope = pressure * (
        -c[..., 0] / t**2
        + c[..., 2]
        + 2.0 * c[..., 3] * t
        + 3.0 * c[..., 4] * t**2
        + 4.0 * c[..., 5] * t**3
        + c[..., 6] / t
    )
    return np.asarray(pressure), np.asarray(slope)
