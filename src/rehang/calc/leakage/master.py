"""A tester held against a master orifice."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rehang.calc import _inputs as check
from rehang.calc._air import AIR_GAMMA
from rehang.calc._components import Component, components, root_sum_square
from rehang.calc._said import said
from rehang.calc.leakage._flow import area_ratio_of, reading_at, slopes_of
from rehang.calc.leakage._given import ambient_given, gamma_given, master_given, supply_given
from rehang.calc.units import (
    GaugePascals,
    GaugePascalsOut,
    Metres,
    Pascals,
    PascalsOut,
    Ratios,
    RatiosOut,
    SquareMetres,
    SquareMetresOut,
)

# A real restrictor passes less than a perfect nozzle of its own bore, and a sharp-edged one
# passes about 0.6 of it. From memory.
DISCHARGE_LEAST, DISCHARGE_MOST = 0.6, 1.0


@dataclass(frozen=True, slots=True)
class Restrictor:
    """A tester's own restrictor as a master orifice shows it to be."""

    area: SquareMetresOut  # effective
    standard_uncertainty: SquareMetresOut
    discharge: RatiosOut  # effective area over the area of its bore
    components: tuple[Component, ...]  # [m2]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Floor:
    """What a tester shows with its master orifice in place of a cylinder."""

    reading: GaugePascalsOut
    standard_uncertainty: PascalsOut
    components: tuple[Component, ...]  # [Pa]


def calibrate_restrictor(
    supply: GaugePascals,
    master_reading: GaugePascals,
    ambient: Pascals,
    master_area: SquareMetres,
    restrictor_diameter: Metres,
    *,
    u_supply: Pascals = 0.0,
    u_reading: Pascals = 0.0,
    u_ambient: Pascals = 0.0,
    u_master_area: SquareMetres = 0.0,
    gamma: Ratios = AIR_GAMMA,
) -> Restrictor:
    r"""True effective area of a tester's restrictor, from a master orifice of known area.

    .. math:: A_\mathrm{restrictor} = A_m / f(p_s, p_m, p_a)

    restrictor_diameter: nominal bore.

    A coefficient outside 0.6 to 1 is answered with a note: then the master, the bore or a gauge
    is not what it is taken for.

    Refused: a master's reading of 0 or of the supply.

    Source: NACA Report 1135, as `leak_area_ratio`; JCGM 100:2008, 5.1.2, equation (10).
    No printed value: put together from the readings printed for known areas in
    ``tests/published/test_leakage.py``.

    >>> psi = 6894.757
    >>> found = calibrate_restrictor(80 * psi, 61.767074 * psi, 14.696 * psi, 0.68e-6, 0.001016)
    >>> round(found.area * 1e6, 3), round(found.discharge, 3)
    (0.68, 0.839)
    """
    s, pa, g = supply_given(supply), ambient_given(ambient), gamma_given(gamma)
    m = master_given(master_reading, s)
    known = check.above_zero("The area of the master orifice", master_area)
    bore = check.above_zero("The diameter of the restrictor", restrictor_diameter)
    q, by_supply, by_reading, by_ambient = slopes_of(s, m, pa, g)
    area = known / area_ratio_of(s, m, pa, np.asarray(1.0), g)
    each = area / q
    named = {
        "supply gauge": each
        * by_supply
        * check.at_least_zero("The uncertainty of the supply", u_supply),
        "reading gauge": each
        * by_reading
        * check.at_least_zero("The uncertainty of the reading", u_reading),
        "ambient pressure": each
        * by_ambient
        * check.at_least_zero("The uncertainty of the ambient pressure", u_ambient),
        "master orifice": area
        / known
        * check.at_least_zero("The uncertainty of the master's area", u_master_area),
    }
    discharge = area / (np.pi * bore**2 / 4.0)
    odd = (discharge < DISCHARGE_LEAST) | (discharge > DISCHARGE_MOST)
    return Restrictor(
        area=check.plain(np.asarray(area)),
        standard_uncertainty=check.plain(np.asarray(root_sum_square(named))),
        discharge=check.plain(np.asarray(discharge)),
        components=components(named),
        notes=said(
            (
                odd,
                "A discharge coefficient outside 0.6 to 1 is not that of a sound orifice: look at "
                "the master, the nominal bore and the two gauges.",
            )
        ),
    )


def master_floor(
    restrictor_area: SquareMetres,
    master_area: SquareMetres,
    supply: GaugePascals,
    ambient: Pascals,
    *,
    u_restrictor_area: SquareMetres = 0.0,
    u_master_area: SquareMetres = 0.0,
    u_supply: Pascals = 0.0,
    u_ambient: Pascals = 0.0,
    gamma: Ratios = AIR_GAMMA,
) -> Floor:
    r"""Reading to expect of the master orifice on a day: the floor that a tester would give.

    .. math:: p_m = f^{-1}\!\left( A_m / A_\mathrm{restrictor};\; p_s, p_a \right)

    To compare with the master reading that was taken: a difference beyond the two uncertainties
    says that the tester has changed. It does not replace that reading as a limit.

    Source: as `reading_from_area_ratio`; JCGM 100:2008, 5.1.2, equation (10).
    No printed value: the reading is `reading_from_area_ratio`'s, checked at six ratios in
    ``tests/published/test_leakage.py``.

    >>> from rehang.calc.leakage import effective_area
    >>> psi, area = 6894.757, effective_area(0.001016)
    >>> floor = master_floor(area, area, 80 * psi, 14.696 * psi, u_supply=0.5 * psi)
    >>> round(floor.reading / psi, 2), round(floor.standard_uncertainty / psi, 2)
    (61.77, 0.4)
    """
    s, pa, g = supply_given(supply), ambient_given(ambient), gamma_given(gamma)
    restrictor = check.above_zero("The area of the restrictor", restrictor_area)
    known = check.above_zero("The area of the master orifice", master_area)
    reading = reading_at(*np.broadcast_arrays(known / restrictor, s, pa, g))
    q, by_supply, by_reading, by_ambient = slopes_of(s, reading, pa, g)
    named = {
        "restrictor": q
        / restrictor
        / by_reading
        * check.at_least_zero("The uncertainty of the restrictor's area", u_restrictor_area),
        "master orifice": q
        / known
        / by_reading
        * check.at_least_zero("The uncertainty of the master's area", u_master_area),
        "supply gauge": by_supply
        / by_reading
        * check.at_least_zero("The uncertainty of the supply", u_supply),
        "ambient pressure": by_ambient
        / by_reading
        * check.at_least_zero("The uncertainty of the ambient pressure", u_ambient),
    }
    return Floor(
        reading=check.plain(np.asarray(reading)),
        standard_uncertainty=check.plain(np.asarray(root_sum_square(named))),
        components=components(named),
    )
