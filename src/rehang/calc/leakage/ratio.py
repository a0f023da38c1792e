"""Restrictor and leak in series."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from rehang.calc import _inputs as check
from rehang.calc._air import AIR_GAMMA
from rehang.calc._inputs import FloatOrArray
from rehang.calc.errors import OutOfRange
from rehang.calc.leakage._flow import area_ratio_of, reading_at
from rehang.calc.leakage._given import ambient_given, at_tester, gamma_given, supply_given


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
    s, c, pa, t, g = at_tester(supply, reading, ambient, temperature_ratio, gamma)
    return check.plain(np.asarray(area_ratio_of(s, c, pa, t, g)))


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
    s, pa, g = supply_given(supply), ambient_given(ambient), gamma_given(gamma)
    t = check.above_zero("The ratio of temperatures", temperature_ratio)
    return check.plain(reading_at(*np.broadcast_arrays(ratio / np.sqrt(t), s, pa, g)))


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
    >>> from rehang.calc.leakage import effective_area
    >>> psi, small, large = 6894.757, effective_area(0.001016), effective_area(0.001524)
    >>> here = (80 * psi, 60 * psi, 14.696 * psi, small)
    >>> round(equivalent_reading(*here, 80 * psi, 14.696 * psi, large) / psi, 1)
    75.3
    """
    s, c, pa, t, g = at_tester(supply, reading, ambient, 1.0, gamma)
    if not (c > 0).all():
        raise OutOfRange(
            "A reading of 0 says only that the leak is large; it has no equal on another tester: "
            f"got {check.shown(c)} Pa."
        )
    here = check.above_zero("The area of the restrictor", restrictor_area)
    there = check.above_zero("The area of the other restrictor", other_restrictor_area)
    ratio = area_ratio_of(s, c, pa, t, g) * here / there
    s2, pa2 = supply_given(other_supply), ambient_given(other_ambient)
    return check.plain(reading_at(*np.broadcast_arrays(ratio, s2, pa2, g)))
