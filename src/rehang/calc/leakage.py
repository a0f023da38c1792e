"""Air through two orifices in series: a tester's restrictor, then whatever the cylinder leaks by.

Pressures at a tester are as its gauges show them, above ambient; ambient itself, and the
pressures of a single orifice, are absolute. An effective area has the discharge coefficient in
it: it is the area of a perfect nozzle that passes the same air. Arrays of any shapes that
broadcast are taken, and an array comes back; single numbers give a single number.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from rehang.calc import _inputs as check
from rehang.calc._components import Component, components, root_sum_square
from rehang.calc._inputs import FloatArray, FloatOrArray
from rehang.calc._said import said
from rehang.calc.errors import OutOfRange

# Dry air. ISO 2533:1975, Standard Atmosphere, Table 1; the same in the U.S. one of 1976.
AIR_GAMMA = 1.4
AIR_GAS_CONSTANT = 287.05287

# A first-order uncertainty says little of a curve once it is a fifth of the value: the next
# term of the series is then of the order of 4 %. Our choice, no source.
WEAK_FRACTION = 0.2
# A real restrictor passes less than a perfect nozzle of its own bore, and a sharp-edged one
# passes about 0.6 of it. From memory.
DISCHARGE_LEAST, DISCHARGE_MOST = 0.6, 1.0
# A reading this far above ambient, as a fraction of it, stands for 0 in a slope.
NEXT_TO_NOTHING = 1e-9


@dataclass(frozen=True, slots=True)
class LeakArea:
    """An effective leak area and what it is worth."""

    area: FloatOrArray  # [m2]; inf at a reading of 0
    standard_uncertainty: FloatOrArray  # [m2], first order; inf at a reading of 0 or of the supply
    low: FloatOrArray  # [m2], the reading moved up by k of its own standard uncertainties
    high: FloatOrArray  # [m2], the reading moved down by as much; inf where 0 is reached
    coverage_factor: float  # the k of low and high [-]
    u_as_reading: FloatOrArray  # all components together, as a change of the reading [Pa]
    equivalent_diameter: FloatOrArray  # [m], of a perfect round nozzle
    components: tuple[Component, ...]  # [m2]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Restrictor:
    """A tester's own restrictor as a master orifice shows it to be."""

    area: FloatOrArray  # effective [m2]
    standard_uncertainty: FloatOrArray  # [m2]
    discharge: FloatOrArray  # effective area over the area of its bore [-]
    components: tuple[Component, ...]  # [m2]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Floor:
    """What a tester shows with its master orifice in place of a cylinder."""

    reading: FloatOrArray  # [Pa above ambient]
    standard_uncertainty: FloatOrArray  # [Pa]
    components: tuple[Component, ...]  # [Pa]


# One orifice


def effective_area(diameter: ArrayLike, discharge: ArrayLike = 1.0) -> FloatOrArray:
    r"""Effective area of a round orifice.

    .. math:: A = C_d\, \frac{\pi d^2}{4}

    Parameters
    ----------
    diameter : array_like
        Bore [m].
    discharge : array_like
        Discharge coefficient: what it passes over what a perfect nozzle would [-].

    Returns
    -------
    float or ndarray
        Effective area [m2].

    Raises
    ------
    OutOfRange
        The diameter is negative; the coefficient is not above 0.

    Notes
    -----
    A tester's restrictor is 4 to 6 bores long and its coefficient is not known: calibrate it
    with a master orifice (`calibrate_restrictor`), or compare areas of one tester only.

    References
    ----------
    Geometry; the coefficient by its definition. Common practice, no source.
    No printed value: with coefficient 1 it is a circle; used for the areas in
    ``tests/published/test_leakage.py``.

    Examples
    --------
    >>> round(effective_area(0.040 * 0.0254) * 1e6, 4)
    0.8107
    """
    d = check.at_least_zero("The diameter", diameter)
    c = check.above_zero("The discharge coefficient", discharge)
    return check.plain(np.asarray(c * np.pi * d**2 / 4.0))


def equivalent_diameter(area: ArrayLike, discharge: ArrayLike = 1.0) -> FloatOrArray:
    r"""Bore of the round orifice that has an effective area.

    .. math:: d = \sqrt{ \frac{4 A}{\pi C_d} }

    Parameters
    ----------
    area : array_like
        Effective area; ``inf`` stays ``inf`` [m2].
    discharge : array_like
        Discharge coefficient of that orifice [-].

    Returns
    -------
    float or ndarray
        Bore [m].

    Raises
    ------
    OutOfRange
        The area is negative or not a number; the coefficient is not above 0.

    Notes
    -----
    A leak past a valve or a ring is a slit and not round: a size to picture, not to measure.

    References
    ----------
    Geometry; the inverse of `effective_area`. Common practice, no source.
    No printed value: checked as the inverse in ``tests/published/test_leakage.py``.

    Examples
    --------
    >>> round(equivalent_diameter(effective_area(0.001016)), 9)
    0.001016
    """
    a = np.asarray(area, dtype=np.float64)
    if not (a >= 0).all():
        raise OutOfRange(f"The area must be at least 0: got {check.shown(a)}.")
    c = check.above_zero("The discharge coefficient", discharge)
    return check.plain(np.asarray(np.sqrt(4.0 * a / (np.pi * c))))


# Restrictor and leak in series


def leak_area_ratio(
    supply: ArrayLike,
    reading: ArrayLike,
    ambient: ArrayLike,
    temperature_ratio: ArrayLike = 1.0,
    gamma: ArrayLike = AIR_GAMMA,
) -> FloatOrArray:
    r"""Effective leak area over the restrictor's, from what the two gauges show.

    .. math:: \frac{A_\mathrm{leak}}{A_\mathrm{restrictor}} = \frac{p_s}{p_c}\,
              \frac{\psi(p_c / p_s)}{\psi(p_a / p_c)} \sqrt{\frac{T_c}{T_s}}

    Parameters
    ----------
    supply : array_like
        Regulated pressure before the restrictor, by gauge [Pa above ambient].
    reading : array_like
        Pressure in the cylinder, by gauge [Pa above ambient].
    ambient : array_like
        Absolute pressure of the room [Pa].
    temperature_ratio : array_like
        Absolute temperature of the air in the cylinder over that at the restrictor [-].
    gamma : array_like
        Ratio of specific heats [-].

    Returns
    -------
    float or ndarray
        Ratio of effective areas [-]: 0 at a reading of the supply, ``inf`` at a reading of 0.

    Raises
    ------
    OutOfRange
        The reading is below 0 or above the supply; another input is not above 0.

    Notes
    -----
    Steady flow, and the air at rest in the cylinder. A hot cylinder warms the air that passes
    through, by how much is not known: with a ratio of 1 the area is low by half of what the
    absolute temperature gains. Ideal gas: 0.3 % at 80 psi.

    References
    ----------
    NACA Report 1135, one-dimensional isentropic flow, for two orifices that pass the same air.
    Checked in ``tests/published/test_leakage.py``: restrictors of 0.040 and 0.060 in.

    Examples
    --------
    >>> psi = 6894.757
    >>> round(leak_area_ratio(80 * psi, 61.767074 * psi, 14.696 * psi), 5)
    1.0
    """
    s, c, pa, t, g = _at_tester(supply, reading, ambient, temperature_ratio, gamma)
    return check.plain(np.asarray(_area_ratio(s, c, pa, t, g)))


def reading_from_area_ratio(
    area_ratio: ArrayLike,
    supply: ArrayLike,
    ambient: ArrayLike,
    temperature_ratio: ArrayLike = 1.0,
    gamma: ArrayLike = AIR_GAMMA,
) -> FloatOrArray:
    r"""What the cylinder gauge shows for a ratio of leak to restrictor.

    With :math:`a = (A_\mathrm{leak}/A_\mathrm{restrictor}) \sqrt{T_s/T_c}`,
    :math:`w = r^{-(\gamma-1)/\gamma}` and :math:`K = 2\gamma/(\gamma-1)`, whenever one of the
    two chokes:

    .. math:: \left( \frac{\psi(r)}{r} \right)^2 = K (w^2 - w) =
              \begin{cases} (a\, \psi^*)^2 & r = p_c/p_s \text{, leak choked} \\
              (\psi^* p_s / (a\, p_a))^2 & r = p_a/p_c \text{, restrictor choked} \end{cases}

    Parameters
    ----------
    area_ratio : array_like
        Effective leak area over the restrictor's [-].
    supply : array_like
        Regulated pressure before the restrictor, by gauge [Pa above ambient].
    ambient : array_like
        Absolute pressure of the room [Pa].
    temperature_ratio : array_like
        Absolute temperature of the air in the cylinder over that at the restrictor [-].
    gamma : array_like
        Ratio of specific heats [-].

    Returns
    -------
    float or ndarray
        Reading [Pa above ambient].

    Raises
    ------
    OutOfRange
        The ratio of areas is negative or not finite; another input is not above 0.

    Notes
    -----
    Where neither chokes, which needs a supply below `ChokingReadings.always_one`, the two flows
    are set equal by a bracketed root search. Otherwise as `leak_area_ratio`.

    References
    ----------
    NACA Report 1135, one-dimensional isentropic flow; the quadratic follows by arithmetic.
    Checked in ``tests/published/test_leakage.py``: six ratios at 80 psi.

    Examples
    --------
    >>> psi = 6894.757
    >>> round(reading_from_area_ratio(1, 80 * psi, 14.696 * psi) / psi, 3)
    61.767
    """
    ratio = check.at_least_zero("The ratio of areas", area_ratio)
    s, pa, g = _supply(supply), _ambient(ambient), _gamma(gamma)
    t = check.above_zero("The ratio of temperatures", temperature_ratio)
    return check.plain(_reading(*np.broadcast_arrays(ratio / np.sqrt(t), s, pa, g)))


def equivalent_reading(
    supply: ArrayLike,
    reading: ArrayLike,
    ambient: ArrayLike,
    restrictor_area: ArrayLike,
    other_supply: ArrayLike,
    other_ambient: ArrayLike,
    other_restrictor_area: ArrayLike,
    gamma: ArrayLike = AIR_GAMMA,
) -> FloatOrArray:
    r"""What the same leak reads on another tester, at another supply, in another air.

    .. math:: p_c' = f^{-1}\!\left( f(p_s, p_c, p_a)\, A / A';\; p_s', p_a' \right),
              \qquad f = A_\mathrm{leak} / A_\mathrm{restrictor}

    Parameters
    ----------
    supply : array_like
        Regulated pressure it was read at, by gauge [Pa above ambient].
    reading : array_like
        What was read, by gauge [Pa above ambient].
    ambient : array_like
        Absolute pressure of the room then [Pa].
    restrictor_area : array_like
        Effective area of that tester's restrictor [m2].
    other_supply : array_like
        Regulated pressure to compare at, by gauge [Pa above ambient].
    other_ambient : array_like
        Absolute pressure of the room to compare in [Pa].
    other_restrictor_area : array_like
        Effective area of the restrictor to compare on [m2].
    gamma : array_like
        Ratio of specific heats [-].

    Returns
    -------
    float or ndarray
        Reading to expect [Pa above ambient].

    Raises
    ------
    OutOfRange
        As `leak_area_ratio`; the reading is 0; an area is not above 0.

    Notes
    -----
    The leak is taken to keep its area at another pressure; a ring or a valve that is pressed
    home by it does not quite. Never a reading to judge by: a limit is for what was read.

    References
    ----------
    `leak_area_ratio`, then `reading_from_area_ratio`; no source of its own.
    No printed value: put together from the two printed for one leak on the 0.040 and 0.060 in
    restrictors in ``tests/published/test_leakage.py``.

    Examples
    --------
    >>> psi, small, large = 6894.757, effective_area(0.001016), effective_area(0.001524)
    >>> here = (80 * psi, 60 * psi, 14.696 * psi, small)
    >>> round(equivalent_reading(*here, 80 * psi, 14.696 * psi, large) / psi, 1)
    75.3
    """
    s, c, pa, t, g = _at_tester(supply, reading, ambient, 1.0, gamma)
    if not (c > 0).all():
        raise OutOfRange(
            "A reading of 0 says only that the leak is large; it has no equal on another tester: "
            f"got {check.shown(c)} Pa."
        )
    here = check.above_zero("The area of the restrictor", restrictor_area)
    there = check.above_zero("The area of the other restrictor", other_restrictor_area)
    ratio = _area_ratio(s, c, pa, t, g) * here / there
    s2, pa2 = _supply(other_supply), _ambient(other_ambient)
    return check.plain(_reading(*np.broadcast_arrays(ratio, s2, pa2, g)))


# What an area is worth


def leak_area(
    supply: ArrayLike,
    reading: ArrayLike,
    ambient: ArrayLike,
    restrictor_area: ArrayLike,
    *,
    u_supply: ArrayLike = 0.0,
    u_reading: ArrayLike = 0.0,
    u_ambient: ArrayLike = 0.0,
    u_restrictor_area: ArrayLike = 0.0,
    temperature_ratio: ArrayLike = 1.0,
    u_temperature_ratio: ArrayLike = 0.0,
    gauge_correlation: float = 0.0,
    coverage_factor: float = 2.0,
    gamma: ArrayLike = AIR_GAMMA,
) -> LeakArea:
    r"""Effective leak area with its uncertainty, from a tester whose restrictor is known.

    .. math:: u^2(A) = \sum_i c_i^2 u_i^2 + 2\, c_s c_c\, u_s u_c\, r_{sc},
              \qquad c_i = \partial A / \partial x_i

    Parameters
    ----------
    supply : array_like
        Regulated pressure before the restrictor, by gauge [Pa above ambient].
    reading : array_like
        Pressure in the cylinder, by gauge [Pa above ambient].
    ambient : array_like
        Absolute pressure of the room [Pa].
    restrictor_area : array_like
        Effective area of the restrictor [m2].
    u_supply, u_reading : array_like
        Standard uncertainties of the two gauges as read [Pa].
    u_ambient : array_like
        Standard uncertainty of the ambient pressure [Pa].
    u_restrictor_area : array_like
        Standard uncertainty of the restrictor's area, of its coefficient above all [m2].
    temperature_ratio : array_like
        Absolute temperature of the air in the cylinder over that at the restrictor [-].
    u_temperature_ratio : array_like
        Its standard uncertainty [-].
    gauge_correlation : float
        Correlation of the two gauges' deviations [-]; above 0 when they were set to agree.
    coverage_factor : float
        How many standard uncertainties ``low`` and ``high`` lie from the reading [-].
    gamma : array_like
        Ratio of specific heats [-].

    Returns
    -------
    LeakArea
        Area, standard uncertainty, ends and components [m2].

    Raises
    ------
    OutOfRange
        As `leak_area_ratio`; an uncertainty is negative; the correlation is not from -1 to 1.

    Notes
    -----
    First order. Next to the supply the area is a steep root of the pressure difference, so the
    standard uncertainty grows without bound there: use ``low`` and ``high``, which come from
    moving the reading and solving again. A note says where that is so.

    References
    ----------
    JCGM 100:2008, 5.1.2, equation (10), and 5.2.2, equation (13).
    No printed value: the derivatives are checked against differences of `leak_area_ratio`, the
    whole against drawing the inputs, in ``tests/properties/test_calc_leakage.py``; worked by
    hand in ``tests/published/test_leakage.py``.

    Examples
    --------
    >>> psi = 6894.757
    >>> found = leak_area(80 * psi, 59 * psi, 14.696 * psi, effective_area(0.001016),
    ...                   u_supply=0.58 * psi, u_reading=0.58 * psi)
    >>> round(found.area * 1e6, 2), round(found.standard_uncertainty * 1e6, 3)
    (0.88, 0.019)
    """
    s, c, pa, t, g = _at_tester(supply, reading, ambient, temperature_ratio, gamma)
    restrictor = check.above_zero("The area of the restrictor", restrictor_area)
    k = _coverage(coverage_factor)
    correlation = float(check.finite("The correlation of the gauges", gauge_correlation))
    if not -1.0 <= correlation <= 1.0:
        raise OutOfRange(
            f"The correlation of the gauges must be from -1 to 1: got {correlation:g}."
        )
    q, by_supply, by_reading, by_ambient = _slopes(s, c, pa, g)
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
    supply: ArrayLike,
    reading: ArrayLike,
    master_reading: ArrayLike,
    ambient: ArrayLike,
    master_area: ArrayLike,
    *,
    u_supply_shared: ArrayLike = 0.0,
    u_reading_shared: ArrayLike = 0.0,
    u_supply_each: ArrayLike = 0.0,
    u_reading_each: ArrayLike = 0.0,
    u_ambient: ArrayLike = 0.0,
    u_master_area: ArrayLike = 0.0,
    coverage_factor: float = 2.0,
    gamma: ArrayLike = AIR_GAMMA,
) -> LeakArea:
    r"""Effective leak area from the master orifice's reading of the same day on the same tester.

    .. math:: A = A_m\, \frac{f(p_s, p_c, p_a)}{f(p_s, p_m, p_a)},
              \qquad f = A_\mathrm{leak} / A_\mathrm{restrictor}

    Parameters
    ----------
    supply : array_like
        Regulated pressure at both readings, by gauge [Pa above ambient].
    reading : array_like
        Pressure in the cylinder, by gauge [Pa above ambient].
    master_reading : array_like
        Pressure with the master orifice in place of the cylinder, by gauge [Pa above ambient].
    ambient : array_like
        Absolute pressure of the room [Pa].
    master_area : array_like
        Effective area of the master orifice [m2].
    u_supply_shared, u_reading_shared : array_like
        Standard uncertainties of the two gauges' accuracy, the same deviation at both readings
        [Pa].
    u_supply_each, u_reading_each : array_like
        Standard uncertainties of resolution and repeatability, met anew at each reading [Pa].
    u_ambient : array_like
        Standard uncertainty of the ambient pressure [Pa].
    u_master_area : array_like
        Standard uncertainty of the master orifice's area [m2].
    coverage_factor : float
        How many standard uncertainties ``low`` and ``high`` lie from the reading [-].
    gamma : array_like
        Ratio of specific heats [-].

    Returns
    -------
    LeakArea
        Area, standard uncertainty, ends and components [m2].

    Raises
    ------
    OutOfRange
        As `leak_area_ratio`, for both readings; the master's reading is 0 or that of the
        supply; an uncertainty is negative.

    Notes
    -----
    The restrictor is not in it at all. What a gauge is off by counts with the difference of the
    two slopes: nothing when the readings are equal, and more the farther apart they are. That
    takes a gauge to be off by the same amount at both. The air in the cylinder is taken to be
    as warm as in the master. First order, as `leak_area`.

    References
    ----------
    JCGM 100:2008, 5.1.2, equation (10), on inputs that do not depend on each other; F.1.2.3 on
    a deviation common to two readings.
    No printed value: checked against drawing the inputs in
    ``tests/properties/test_calc_leakage.py``; worked by hand in
    ``tests/published/test_leakage.py``.

    Examples
    --------
    >>> psi = 6894.757
    >>> found = leak_area_by_master(80 * psi, 43 * psi, 43 * psi, 14.696 * psi, 1.2e-6,
    ...                             u_supply_shared=psi, u_reading_shared=psi)
    >>> round(found.area * 1e6, 3), found.standard_uncertainty
    (1.2, 0.0)
    """
    s, c, pa, t, g = _at_tester(supply, reading, ambient, 1.0, gamma)
    m = _master(master_reading, s)
    known = check.above_zero("The area of the master orifice", master_area)
    k = _coverage(coverage_factor)
    q, by_supply, by_reading, by_ambient = _slopes(s, c, pa, g)
    q_m, by_supply_m, by_reading_m, by_ambient_m = _slopes(s, m, pa, g)
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
    restrictor = known / _area_ratio(s, m, pa, t, g)
    return _leak_area(restrictor, (s, c, pa, t, g), q, by_reading, named, np.asarray(0.0), k)


def calibrate_restrictor(
    supply: ArrayLike,
    master_reading: ArrayLike,
    ambient: ArrayLike,
    master_area: ArrayLike,
    restrictor_diameter: ArrayLike,
    *,
    u_supply: ArrayLike = 0.0,
    u_reading: ArrayLike = 0.0,
    u_ambient: ArrayLike = 0.0,
    u_master_area: ArrayLike = 0.0,
    gamma: ArrayLike = AIR_GAMMA,
) -> Restrictor:
    r"""True effective area of a tester's restrictor, from a master orifice of known area.

    .. math:: A_\mathrm{restrictor} = A_m / f(p_s, p_m, p_a)

    Parameters
    ----------
    supply : array_like
        Regulated pressure, by gauge [Pa above ambient].
    master_reading : array_like
        Pressure with the master orifice in place of the cylinder, by gauge [Pa above ambient].
    ambient : array_like
        Absolute pressure of the room [Pa].
    master_area : array_like
        Effective area of the master orifice [m2].
    restrictor_diameter : array_like
        Nominal bore of the restrictor [m].
    u_supply, u_reading : array_like
        Standard uncertainties of the two gauges as read [Pa].
    u_ambient : array_like
        Standard uncertainty of the ambient pressure [Pa].
    u_master_area : array_like
        Standard uncertainty of the master orifice's area [m2].
    gamma : array_like
        Ratio of specific heats [-].

    Returns
    -------
    Restrictor
        Effective area, standard uncertainty, components [m2] and discharge coefficient [-].

    Raises
    ------
    OutOfRange
        As `leak_area_ratio`; the master's reading is 0 or that of the supply; an area, the
        diameter is not above 0; an uncertainty is negative.

    Notes
    -----
    A coefficient outside 0.6 to 1 is answered with a note: then the master, the bore or a gauge
    is not what it is taken for.

    References
    ----------
    NACA Report 1135, as `leak_area_ratio`; JCGM 100:2008, 5.1.2, equation (10).
    No printed value: put together from the readings printed for known areas in
    ``tests/published/test_leakage.py``.

    Examples
    --------
    >>> psi = 6894.757
    >>> found = calibrate_restrictor(80 * psi, 61.767074 * psi, 14.696 * psi, 0.68e-6, 0.001016)
    >>> round(found.area * 1e6, 3), round(found.discharge, 3)
    (0.68, 0.839)
    """
    s, pa, g = _supply(supply), _ambient(ambient), _gamma(gamma)
    m = _master(master_reading, s)
    known = check.above_zero("The area of the master orifice", master_area)
    bore = check.above_zero("The diameter of the restrictor", restrictor_diameter)
    q, by_supply, by_reading, by_ambient = _slopes(s, m, pa, g)
    area = known / _area_ratio(s, m, pa, np.asarray(1.0), g)
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
    restrictor_area: ArrayLike,
    master_area: ArrayLike,
    supply: ArrayLike,
    ambient: ArrayLike,
    *,
    u_restrictor_area: ArrayLike = 0.0,
    u_master_area: ArrayLike = 0.0,
    u_supply: ArrayLike = 0.0,
    u_ambient: ArrayLike = 0.0,
    gamma: ArrayLike = AIR_GAMMA,
) -> Floor:
    r"""Reading to expect of the master orifice on a day: the floor that a tester would give.

    .. math:: p_m = f^{-1}\!\left( A_m / A_\mathrm{restrictor};\; p_s, p_a \right)

    Parameters
    ----------
    restrictor_area : array_like
        Effective area of the tester's restrictor [m2].
    master_area : array_like
        Effective area of the master orifice [m2].
    supply : array_like
        Regulated pressure, by gauge [Pa above ambient].
    ambient : array_like
        Absolute pressure of the room that day [Pa].
    u_restrictor_area, u_master_area : array_like
        Standard uncertainties of the two areas [m2].
    u_supply : array_like
        Standard uncertainty of the supply [Pa].
    u_ambient : array_like
        Standard uncertainty of the ambient pressure [Pa].
    gamma : array_like
        Ratio of specific heats [-].

    Returns
    -------
    Floor
        Reading, standard uncertainty and components [Pa].

    Raises
    ------
    OutOfRange
        An area or a pressure is not above 0; an uncertainty is negative.

    Notes
    -----
    To compare with the master reading that was taken: a difference beyond the two uncertainties
    says that the tester has changed. It does not replace that reading as a limit.

    References
    ----------
    As `reading_from_area_ratio`; JCGM 100:2008, 5.1.2, equation (10).
    No printed value: the reading is `reading_from_area_ratio`'s, checked at six ratios in
    ``tests/published/test_leakage.py``.

    Examples
    --------
    >>> psi, area = 6894.757, effective_area(0.001016)
    >>> floor = master_floor(area, area, 80 * psi, 14.696 * psi, u_supply=0.5 * psi)
    >>> round(floor.reading / psi, 2), round(floor.standard_uncertainty / psi, 2)
    (61.77, 0.4)
    """
    s, pa, g = _supply(supply), _ambient(ambient), _gamma(gamma)
    restrictor = check.above_zero("The area of the restrictor", restrictor_area)
    known = check.above_zero("The area of the master orifice", master_area)
    reading = _reading(*np.broadcast_arrays(known / restrictor, s, pa, g))
    q, by_supply, by_reading, by_ambient = _slopes(s, reading, pa, g)
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


# The flow function, by the logarithm of the pressure ratio: near a ratio of 1 the difference
# of powers keeps its digits that way.


def _log_critical(g: FloatArray) -> FloatArray:
    return np.asarray(g / (g - 1.0) * np.log(2.0 / (g + 1.0)))


def _psi(log_r: FloatArray, g: FloatArray) -> FloatArray:
    log_r = np.maximum(log_r, _log_critical(g))
    # 0.0 is added because a square root hands on the sign of -0.
    square = 2.0 * g / (g - 1.0) * -np.expm1((g - 1.0) / g * log_r) + 0.0
    return np.asarray(np.exp(log_r / g) * np.sqrt(square))


def _area_ratio(
    s: FloatArray, c: FloatArray, pa: FloatArray, t: FloatArray, g: FloatArray
) -> FloatArray:
    ps, pc = s + pa, c + pa
    through_restrictor = _psi(np.log1p((c - s) / ps), g)
    through_leak = _psi(-np.log1p(c / pa), g)
    with np.errstate(divide="ignore"):
        # A reading of 0 has a leak without end.
        return np.asarray(ps / pc * through_restrictor / through_leak * np.sqrt(t))


def _reading(a: FloatArray, s: FloatArray, pa: FloatArray, g: FloatArray) -> FloatArray:
    """Gauge reading; all four arguments of one shape."""
    ps = s + pa
    log_critical = _log_critical(g)
    psi_critical = _psi(log_critical, g)
    stretch = g / (g - 1.0)

    # The leak chokes: psi(r)/r = a psi*, r = pc/ps. Once the restrictor chokes too, r = 1/a.
    log_r = -stretch * np.log1p(_w_less_one((a * psi_critical) ** 2, g))
    with np.errstate(divide="ignore"):
        log_r = np.where(log_r >= log_critical, log_r, -np.log(a))
    # ps e^x - pa, without losing a reading next to the supply.
    leak_choked = s + ps * np.expm1(log_r)

    # The restrictor chokes and the leak does not: psi(r)/r = psi* ps / (a pa), r = pa/pc.
    with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
        rise = stretch * np.log1p(_w_less_one((psi_critical * ps / (a * pa)) ** 2, g))
        restrictor_choked = pa * np.expm1(rise)

    leak_is = leak_choked + pa >= pa * np.exp(-log_critical)
    restrictor_is = ~leak_is & (restrictor_choked + pa <= ps * np.exp(log_critical))
    neither = ~leak_is & ~restrictor_is
    reading = np.where(leak_is, leak_choked, restrictor_choked)
    if neither.any():
        reading[neither] = _reading_unchoked(a[neither], s[neither], pa[neither], g[neither])
    # Rounding may step outside by the last digit.
    return np.asarray(np.clip(reading, 0.0, s))


def _w_less_one(square: FloatArray, g: FloatArray) -> FloatArray:
    """Root above 1 of K (w**2 - w) = square, less 1."""
    x = square * (g - 1.0) / (2.0 * g)
    # Once 4 x is past the largest float the root is that of x alone.
    return np.asarray(np.where(x < 1e300, 2.0 * x / (1.0 + np.sqrt(1.0 + 4.0 * x)), np.sqrt(x)))


def _reading_unchoked(a: FloatArray, s: FloatArray, pa: FloatArray, g: FloatArray) -> FloatArray:
    from scipy.optimize.elementwise import find_root

    def excess(
        share: FloatArray, a: FloatArray, s: FloatArray, pa: FloatArray, g: FloatArray
    ) -> FloatArray:
        """Air let in less air let out, at a reading of this share of the supply."""
        ps, c = s + pa, share * s
        let_in = ps * _psi(np.log1p((c - s) / ps), g)
        let_out = a * (c + pa) * _psi(-np.log1p(c / pa), g)
        return np.asarray(let_in - let_out)

    found = find_root(excess, (np.zeros_like(a), np.ones_like(a)), args=(a, s, pa, g))
    if not np.asarray(found.success).all():
        raise OutOfRange(
            "No reading was found at which as much air leaks out as comes in: "
            f"got a ratio of areas of {check.shown(a)} and a supply of {check.shown(s)} Pa."
        )
    return np.asarray(found.x) * s


# Slopes and what they make of the inputs' uncertainties


def _slopes(
    s: FloatArray, c: FloatArray, pa: FloatArray, g: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """``q`` and ``q`` times the slopes of the logarithm of the area ratio.

    ``q = 1/(1 - d ln psi/d ln r)`` at the restrictor is 1 when it chokes and 0 at a reading of
    the supply, where the slopes themselves have no end and ``q`` times them has one.
    """
    c = np.maximum(c, NEXT_TO_NOTHING * pa)
    ps, pc = s + pa, c + pa
    q = _q(np.minimum(np.log1p((c - s) / ps), 0.0), g)
    # d ln psi / d ln r at the leak, at most 0.
    at_leak = 1.0 - 1.0 / _q(-np.log1p(c / pa), g)
    by_supply = 1.0 / ps
    by_reading = (q * at_leak - 1.0) / pc
    by_ambient = by_supply + by_reading - q * at_leak / pa
    return q, np.asarray(by_supply), np.asarray(by_reading), np.asarray(by_ambient)


def _q(log_r: FloatArray, g: FloatArray) -> FloatArray:
    inside = -np.expm1((g - 1.0) / g * np.maximum(log_r, _log_critical(g))) + 0.0
    # 1 - z over 1 - 1/g - z (g - 1)/(2 g), both with z = 1 - inside.
    return np.asarray(inside / ((g - 1.0) / (2.0 * g) * (1.0 + inside)))


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
    area = restrictor * _area_ratio(s, c, pa, t, g)
    # A variance that is 0 but for rounding can come out a hair below 0.
    total = np.sqrt(np.maximum(root_sum_square(named) ** 2 + shared, 0.0))
    u_as_reading = np.asarray(total / np.abs(by_reading))
    low = restrictor * _area_ratio(s, np.minimum(c + k * u_as_reading, s), pa, t, g)
    high = restrictor * _area_ratio(s, np.maximum(c - k * u_as_reading, 0.0), pa, t, g)

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


# Inputs


def _gamma(value: ArrayLike) -> FloatArray:
    g = check.finite("The ratio of specific heats", value)
    if not (g > 1).all():
        raise OutOfRange(f"The ratio of specific heats must be above 1: got {check.shown(g)}.")
    return g


def _supply(value: ArrayLike) -> FloatArray:
    return check.above_zero("The supply above ambient", value)


def _ambient(value: ArrayLike) -> FloatArray:
    return check.above_zero("The ambient pressure", value)


def _within_supply(reading: ArrayLike, supply: ArrayLike) -> FloatArray:
    c = check.at_least_zero("The reading above ambient", reading)
    s = np.asarray(supply, dtype=np.float64)
    if not (c <= s).all():
        raise OutOfRange(
            "The reading must not be above the supply: "
            f"got a reading of {check.shown(c)} and a supply of {check.shown(s)}."
        )
    return c


def _master(reading: ArrayLike, supply: FloatArray) -> FloatArray:
    m = _within_supply(reading, supply)
    if not ((m > 0) & (m < supply)).all():
        raise OutOfRange(
            "The master's reading must be above 0 and below the supply: "
            f"got a reading of {check.shown(m)} and a supply of {check.shown(supply)}."
        )
    return m


def _coverage(value: float) -> float:
    return float(check.above_zero("The coverage factor", value))


def _at_tester(
    supply: ArrayLike,
    reading: ArrayLike,
    ambient: ArrayLike,
    temperature_ratio: ArrayLike,
    gamma: ArrayLike,
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]:
    s = _supply(supply)
    return (
        s,
        _within_supply(reading, s),
        _ambient(ambient),
        check.above_zero("The ratio of temperatures", temperature_ratio),
        _gamma(gamma),
    )
