"""Factors from the shop's units to SI, and the air of a standard day."""

from __future__ import annotations

__all__ = ["INCH", "IN_HG", "PSI", "STANDARD_AIR"]

PSI = 6894.757  # Pa, NIST SP 811, B.8
IN_HG = 3386.389  # Pa, NIST SP 811, B.8
INCH = 0.0254  # m, NIST SP 811, B.8
STANDARD_AIR = 101_325.0  # Pa, ISO 2533
