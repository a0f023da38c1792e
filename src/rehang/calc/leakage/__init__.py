"""Air through two orifices in series: a tester's restrictor, then whatever the cylinder leaks by.

Pressures at a tester are as its gauges show them, above ambient; ambient itself, and the
pressures of a single orifice, are absolute. An effective area has the discharge coefficient in
it: it is the area of a perfect nozzle that passes the same air.

supply: regulated pressure before the restrictor.
reading: pressure in the cylinder.
master_reading: pressure with the master orifice in place of the cylinder.
ambient: pressure of the room.
restrictor_area, master_area: effective.
temperature_ratio: absolute temperature of the air in the cylinder over that at the restrictor.
gamma: ratio of specific heats.
coverage_factor: how many standard uncertainties ``low`` and ``high`` lie from the reading.
"""

from rehang.calc._air import AIR_GAMMA, AIR_GAS_CONSTANT
from rehang.calc.leakage.area import LeakArea, leak_area, leak_area_by_master
from rehang.calc.leakage.master import Floor, Restrictor, calibrate_restrictor, master_floor
from rehang.calc.leakage.orifice import effective_area, equivalent_diameter
from rehang.calc.leakage.ratio import equivalent_reading, leak_area_ratio, reading_from_area_ratio

__all__ = [
    "AIR_GAMMA",
    "AIR_GAS_CONSTANT",
    "Floor",
    "LeakArea",
    "Restrictor",
    "calibrate_restrictor",
    "effective_area",
    "equivalent_diameter",
    "equivalent_reading",
    "leak_area",
    "leak_area_by_master",
    "leak_area_ratio",
    "master_floor",
    "reading_from_area_ratio",
]
