"""What an effective leak area is worth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rehang.calc import _inputs as check
from rehang.calc._air import AIR_GAMMA
from rehang.calc._components import Component, components, root_sum_square
from rehang.calc._inputs import FloatArray
from rehang.calc._said import said
from rehang.calc.errors import OutOfRange
from rehang.calc.leakage._flow import area_ratio_of, slopes_of
from rehang.calc.leakage._given import at_tester, coverage_given, master_given
from rehang.calc.leakage.orifice import equivalent_diameter
from rehang.calc.units import (
    GaugePascals,
    MetresOut,
    Pascals,
    PascalsOut,
    Ratio,
    Ratios,
    SquareMetres,
    SquareMetresOut,
)

# A first-order uncertainty says little of a curve once it is a fifth of the value: the next
# term of the series is then of the order of 4 %. Our choice, no source.
WEAK_FRACTION = 0.2


@dataclass(frozen=True, slots=True)
class LeakArea:
    """An effective leak area and what it is worth."""

    area: SquareMetresOut  # inf at a reading of 0
    standard_uncertainty: SquareMetresOut  # first order; inf at a reading of 0 or of the supply
    low: SquareMetresOut  # the reading moved up by k of its own standard uncertainties
    high: SquareMetresOut  # the reading moved down by as much; inf where 0 is reached
    coverage_factor: Ratio  # the k of low and high
    u_as_reading: PascalsOut  # all components together, as a change of the reading
    equivalent_diameter: MetresOut  # of a perfect round nozzle
    components: tuple[Component, ...]  # [m2]
    notes: tuple[str, ...]


def leak_area(
    supply: GaugePascals,
    reading: GaugePascals,
    ambient: Pascals,
    restrictor_area: SquareMetres,
    *,
    u_supply: Pascals = 0.0,
    u_reading: Pascals = 0.0,
    u_ambient: Pascals = 0.0,
    u_restrictor_area: SquareMetres = 0.0,
    temperature_ratio: Ratios = 1.0,
    u_temperature_ratio: Ratios = 0.0,
    gauge_correlation: Ratio = 0.0,
    coverage_factor: Ratio = 2.0,
    gamma: Ratios = AIR_GAMMA,
) -> LeakArea:
    r"""Effective leak area with its uncertainty, from a tester whose restrictor is known.

    .. math:: u^2(A) = \sum_i c_i^2 u_i^2 + 2\, c_s c_c\, u_s u_c\, r_{sc},
              \qquad c_i = \partial A / \partial x_i

    u_restrictor_area: of its coefficient above all.
    gauge_correlation: of the two gauges' deviations; above 0 when they were set to agree.

    First order. Next to the supply the area is a steep root of the pressure difference, so the
    standard uncertainty grows without bound there: use ``low`` and ``high``, which come from
    moving the reading and solving again. A note says where that is so.

    Source: JCGM 100:2008, 5.1.2, equation (10), and 5.2.2, equation (13).
    No printed value: the derivatives are checked against differences of `leak_area_ratio`, the
    whole against drawing the inputs, in ``tests/properties/test_calc_leakage.py``; worked by hand
    in ``tests/published/test_leakage.py``.

    >>> from rehang.calc.leakage import effective_area
    >>> psi = 6894.757
    >>> found = leak_area(80 * psi, 59 * psi, 14.696 * psi, effective_area(0.001016),
    ...                   u_supply=0.58 * psi, u_reading=0.58 * psi)
    >>> round(found.area * 1e6, 2), round(found.standard_uncertainty * 1e6, 3)
    (0.88, 0.019)
    """
    s, c, pa, t, g = at_tester(supply, reading, ambient, temperature_ratio, gamma)
    restrictor = check.above_zero("The area of the restrictor", restrictor_area)
    k = coverage_given(coverage_factor)
    correlation = float(check.finite("The correlation of the gauges", gauge_correlation))
    if not -1.0 <= correlation <= 1.0:
        raise OutOfRange(
            f"The correlation of the gauges must be from -1 to 1: got {correlation:g}."
        )
    q, by_supply, by_reading, by_ambient = slopes_of(s, c, pa, g)
    named = {
        "supply gauge": by_supply * check.at_least_zero("The uncertainty of the supply", u_supply),
        "reading gauge": by_reading
        * check.at_least_zero("The uncertainty of the reading", u_reading),
        "ambient pressure": by_ambient
        * check.at_least_zero("The uncertainty of the ambient pressure", u_ambient),
        "restrictor": (q / restrictor)
        * check.at_least_zero("The uncertainty of the restrictor's area", u_restrictor_area),
        "air temperature": (q / (2.0 * t))
        * check.at_least_zero("The uncertainty of the ratio of temperatures", u_temperature_ratio),
    }
    # JCGM 100:2008, eq. (13): the two gauges may share a deviation.
    shared = 2.0 * correlation * named["supply gauge"] * named["reading gauge"]
    return _leak_area(restrictor, (s, c, pa, t, g), q, by_reading, named, shared, k)


def leak_area_by_master(
    supply: GaugePascals,
    reading: GaugePascals,
    master_reading: GaugePascals,
    ambient: Pascals,
    master_area: SquareMetres,
    *,
    u_supply_shared: Pascals = 0.0,
    u_reading_shared: Pascals = 0.0,
    u_supply_each: Pascals = 0.0,
    u_reading_each: Pascals = 0.0,
    u_ambient: Pascals = 0.0,
    u_master_area: SquareMetres = 0.0,
    coverage_factor: Ratio = 2.0,
    gamma: Ratios = AIR_GAMMA,
) -> LeakArea:
    r"""Effective leak area from the master orifice's reading of the same day on the same tester.

    .. math:: A = A_m\, \frac{f(p_s, p_c, p_a)}{f(p_s, p_m, p_a)},
              \qquad f = A_\mathrm{leak} / A_\mathrm{restrictor}

    supply: at both readings.
    u_supply_shared, u_reading_shared: of the gauges' accuracy, the same deviation at both readings.
    u_supply_each, u_reading_each: of resolution and repeatability, met anew at each reading.

    The restrictor is not in it at all. What a gauge is off by counts with the difference of the
    two slopes: nothing when the readings are equal, and more the farther apart they are. That
    takes a gauge to be off by the same amount at both. The air in the cylinder is taken to be
    as warm as in the master. First order, as `leak_area`.

    Refused: a master's reading of 0 or of the supply.

    Source: JCGM 100:2008, 5.1.2, equation (10), on inputs that do not depend on each other; F.1.2.3
    on a deviation common to two readings.
    No printed value: checked against drawing the inputs in
    ``tests/properties/test_calc_leakage.py``; worked by hand in
    ``tests/published/test_leakage.py``.

    >>> psi = 6894.757
    >>> found = leak_area_by_master(80 * psi, 43 * psi, 43 * psi, 14.696 * psi, 1.2e-6,
    ...                             u_supply_shared=psi, u_reading_shared=psi)
    >>> round(found.area * 1e6, 3), found.standard_uncertainty
    (1.2, 0.0)
    """
    s, c, pa, t, g = at_tester(supply, reading, ambient, 1.0, gamma)
    m = master_given(master_reading, s)
    known = check.above_zero("The area of the master orifice", master_area)
    k = coverage_given(coverage_factor)
    q, by_supply, by_reading, by_ambient = slopes_of(s, c, pa, g)
    q_m, by_supply_m, by_reading_m, by_ambient_m = slopes_of(s, m, pa, g)
    # The master's slopes, brought to the scale of the reading's own.
    scale = q / q_m
    supply_u = check.at_least_zero("The shared uncertainty of the supply", u_supply_shared)
    reading_u = check.at_least_zero("The shared uncertainty of the reading", u_reading_shared)
    each_supply = check.at_least_zero("The uncertainty of each supply", u_supply_each)
    each_reading = check.at_least_zero("The uncertainty of each reading", u_reading_each)
    named = {
        "supply gauge": (by_supply - scale * by_supply_m) * supply_u,
        "reading gauge": (by_reading - scale * by_reading_m) * reading_u,
        "supply, set again": by_supply * each_supply,
        "supply at the master": scale * by_supply_m * each_supply,
        "reading, resolution and repeat": by_reading * each_reading,
        "reading of the master": scale * by_reading_m * each_reading,
        "ambient pressure": (by_ambient - scale * by_ambient_m)
        * check.at_least_zero("The uncertainty of the ambient pressure", u_ambient),
        "master orifice": (q / known)
        * check.at_least_zero("The uncertainty of the master's area", u_master_area),
    }
    restrictor = known / area_ratio_of(s, m, pa, t, g)
    return _leak_area(restrictor, (s, c, pa, t, g), q, by_reading, named, np.asarray(0.0), k)


def _leak_area(
    restrictor: FloatArray,
    at: tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray],
    q: FloatArray,
    by_reading: FloatArray,
    named: dict[str, FloatArray],
    shared: FloatArray,
    k: float,
) -> LeakArea:
    s, c, pa, t, g = at
    area = restrictor * area_ratio_of(s, c, pa, t, g)
    # A variance that is 0 but for rounding can come out a hair below 0.
    total = np.sqrt(np.maximum(root_sum_square(named) ** 2 + shared, 0.0))
    u_as_reading = np.asarray(total / np.abs(by_reading))
    low = restrictor * area_ratio_of(s, np.minimum(c + k * u_as_reading, s), pa, t, g)
    high = restrictor * area_ratio_of(s, np.maximum(c - k * u_as_reading, 0.0), pa, t, g)

    with np.errstate(divide="ignore", invalid="ignore"):
        each = np.where((q > 0) & np.isfinite(area), area / q, np.inf)

        def in_area(part: FloatArray) -> FloatArray:
            return np.asarray(np.where(part == 0.0, 0.0, part * each))

        u = in_area(total)
        in_areas = {name: in_area(part) for name, part in named.items()}
        weak = ~(u <= WEAK_FRACTION * area) & np.isfinite(area)
    return LeakArea(
        area=check.plain(np.asarray(area)),
        standard_uncertainty=check.plain(u),
        low=check.plain(np.asarray(low)),
        high=check.plain(np.asarray(high)),
        coverage_factor=k,
        u_as_reading=check.plain(u_as_reading),
        equivalent_diameter=equivalent_diameter(area),
        components=components(in_areas),
        notes=said(
            (
                weak & (u > 0),
                "The standard uncertainty is more than a fifth of the area: read the area from "
                "its low to its high end, not as a value and a plus or minus.",
            ),
            (
                np.isinf(area),
                "A reading of 0 says only that the leak is larger than the low end.",
            ),
        ),
    )
