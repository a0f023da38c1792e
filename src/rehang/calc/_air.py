"""Constants of dry air."""

from __future__ import annotations

# Dry air. ISO 2533:1975, Standard Atmosphere, Table 1; the same in the U.S. one of 1976.
AIR_GAMMA = 1.4
AIR_GAS_CONSTANT = 287.05287
