"""Factors from the shop's units to SI, and the air of a standard day."""

from __future__ import annotations

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
