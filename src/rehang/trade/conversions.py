"""Factors from the shop's units to SI, and the air of a standard day."""

from __future__ import annotations

__all__ = ["FT_LB", "INCH", "IN_HG", "IN_LB", "PSI", "STANDARD_AIR"]

PSI = 6894.757  # Pa, NIST SP 811, B.8
IN_HG = 3386.389  # Pa, NIST SP 811, B.8
INCH = 0.0254  # m, NIST SP 811, B.8
IN_LB = 0.1129848  # N m, NIST SP 811, B.8
FT_LB = 1.355818  # N m, NIST SP 811, B.8
STANDARD_AIR = 101_325.0  # Pa, ISO 2533
