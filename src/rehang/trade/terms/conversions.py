"""Factors from the shop's units to SI, and the air of a standard day."""

from __future__ import annotations

import re

from rehang.trade.terms.errors import BadInput

__all__ = [
    "FOOT",
    "FT_LB",
    "ICE_POINT",
    "INCH",
    "IN_HG",
    "IN_LB",
    "PSI",
    "STANDARD_AIR",
    "from_celsius",
    "from_fahrenheit",
    "inches_of",
    "station_pascals",
]

PSI = 6894.757  # Pa, NIST SP 811, B.8
IN_HG = 3386.389  # Pa, NIST SP 811, B.8
INCH = 0.0254  # m, NIST SP 811, B.8
FOOT = 0.3048  # m, NIST SP 811, B.8
IN_LB = 0.1129848  # N m, NIST SP 811, B.8
FT_LB = 1.355818  # N m, NIST SP 811, B.8
STANDARD_AIR = 101_325.0  # Pa, ISO 2533
ICE_POINT = 273.15  # K, NIST SP 811, B.8 (degrees Celsius to kelvins)


def from_celsius(degrees: float) -> float:
    """Kelvins of a temperature in degrees Celsius (NIST SP 811, B.8).

    >>> from_celsius(20)
    293.15
    """
    return degrees + ICE_POINT


def from_fahrenheit(degrees: float) -> float:
    """Kelvins of a temperature in degrees Fahrenheit (NIST SP 811, B.8).

    >>> round(from_fahrenheit(59), 2)
    288.15
    """
    return (degrees + 459.67) / 1.8


_BORE = re.compile(r"(\d*\.?\d+)\s*(in|inch|\"|mm)?\.?", re.ASCII)
_STATION = re.compile(r"(\d+(?:\.\d+)?)\s*(inhg|in hg|hpa|mb|mbar)", re.ASCII | re.IGNORECASE)
# From the highest fields there are to the highest pressure read at the sea: common practice.
_LEAST_STATION, _MOST_STATION = 45_000.0, 110_000.0


def inches_of(text: str, where: str = "") -> float:
    """The bore of a tester's restrictor in inches; a bare number is inches.

    >>> inches_of("0.040 in"), inches_of("1.016 mm")
    (0.04, 0.04)
    """
    match = _BORE.fullmatch(text.strip().lower())
    bore = float(match[1]) * (0.001 / INCH if match[2] == "mm" else 1.0) if match else 0.0
    # 0.040 and 0.060 in are in use (AC 43.13-1B Chg 1, 8-14): far from them it is another unit.
    if not 0.005 <= bore <= 0.25:
        raise BadInput(
            f'"{text}" is no restrictor of a compression tester. Write its bore in in or mm, as in '
            "0.040 in or 1.016 mm.",
            where,
        )
    # To a millionth of an inch, so that 1.016 mm is 0.04 in and no float beside it.
    return round(bore, 6)


def station_pascals(text: str, where: str = "") -> float:
    """The pressure of the air at the place, in pascals; not the altimeter setting.

    >>> station_pascals("1000 hPa")
    100000.0
    """
    match = _STATION.fullmatch(text.strip())
    factor = IN_HG if match and match[2].lower().startswith("in") else 100.0
    pressure = float(match[1]) * factor if match else 0.0
    if not _LEAST_STATION <= pressure <= _MOST_STATION:
        raise BadInput(
            f'"{text}" is no pressure of the air at the place. Write what a barometer shows there, '
            "with its unit, as in 28.6 inHg or 968 hPa.",
            where,
        )
    return pressure
