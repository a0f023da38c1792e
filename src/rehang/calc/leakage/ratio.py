"""Restrictor and leak in series."""

from __future__ import annotations

import numpy as np

from rehang.calc import _inputs as check
from rehang.calc._air import AIR_GAMMA
from rehang.calc.errors import OutOfRange
from rehang.calc.leakage._flow import area_ratio_of, reading_at
from rehang.calc.leakage._given import ambient_given, at_tester, gamma_given, supply_given
from rehang.calc.units import (
    GaugePascals,
    GaugePascalsOut,
    Pascals,
    Ratios,
    RatiosOut,
    SquareMetres,
)


def leak_area_ratio(
    supply: GaugePascals,
    reading: GaugePascals,
    ambient: Pascals,
    temperature_ratio: Ratios = 1.0,
    gamma: Ratios = AIR_GAMMA,
) -> RatiosOut:
    r"""Effective leak area over the restrictor's, from what the two gauges show.

    .. math:: \frac{A_\mathrm{leak}}{A_\mathrm{restrictor}} = \frac{p_s}{p_c}\,
              \frac{\psi(p_c / p_s)}{\psi(p_a / p_c)} \sqrt{\frac{T_c}{T_s}}

    It is 0 at a reading of the supply and ``inf`` at a reading of 0. Steady flow, and the air at
    rest in the cylinder. A hot cylinder warms the air that passes through, by how much is not
    known; with a ratio of 1 the area is low by half of what the absolute temperature gains. An
    ideal gas, which at 80 psi is right to 0.3 %.

    Refused: a reading above the supply.

    Source: NACA Report 1135, one-dimensional isentropic flow, for two orifices that pass the same
    air.
    Checked in ``tests/published/test_leakage.py``: restrictors of 0.040 and 0.060 in.

    >>> psi = 6894.757
    >>> round(leak_area_ratio(80 * psi, 61.767074 * psi, 14.696 * psi), 5)
    1.0
    """
    s, c, pa, t, g = at_tester(supply, reading, ambient, temperature_ratio, gamma)
    return check.plain(np.asarray(area_ratio_of(s, c, pa, t, g)))


def reading_from_area_ratio(
    area_ratio: Ratios,
    supply: GaugePascals,
    ambient: Pascals,
    temperature_ratio: Ratios = 1.0,
    gamma: Ratios = AIR_GAMMA,
) -> GaugePascalsOut:
    r"""What the cylinder gauge shows for a ratio of leak to restrictor.

    With :math:`a = (A_\mathrm{leak}/A_\mathrm{restrictor}) \sqrt{T_s/T_c}`,
    :math:`w = r^{-(\gamma-1)/\gamma}` and :math:`K = 2\gamma/(\gamma-1)`, whenever one of the
    two chokes:

    .. math:: \left( \frac{\psi(r)}{r} \right)^2 = K (w^2 - w) =
              \begin{cases} (a\, \psi^*)^2 & r = p_c/p_s \text{, leak choked} \\
              (\psi^* p_s / (a\, p_a))^2 & r = p_a/p_c \text{, restrictor choked} \end{cases}

    area_ratio: effective leak area over the restrictor's.

    Where neither chokes, which takes a low supply, the two flows are set equal by a bracketed root
    search. Otherwise as `leak_area_ratio`.

    Source: NACA Report 1135, one-dimensional isentropic flow; the quadratic follows by arithmetic.
    Checked in ``tests/published/test_leakage.py``: six ratios at 80 psi.

    >>> psi = 6894.757
    >>> round(reading_from_area_ratio(1, 80 * psi, 14.696 * psi) / psi, 3)
    61.767
    """
    ratio = check.at_least_zero("The ratio of areas", area_ratio)
    s, pa, g = supply_given(supply), ambient_given(ambient), gamma_given(gamma)
    t = check.above_zero("The ratio of temperatures", temperature_ratio)
    return check.plain(reading_at(*np.broadcast_arrays(ratio / np.sqrt(t), s, pa, g)))


def equivalent_reading(
    supply: GaugePascals,
    reading: GaugePascals,
    ambient: Pascals,
    restrictor_area: SquareMetres,
    other_supply: GaugePascals,
    other_ambient: Pascals,
    other_restrictor_area: SquareMetres,
    gamma: Ratios = AIR_GAMMA,
) -> GaugePascalsOut:
    r"""What the same leak reads on another tester, at another supply, in another air.

    .. math:: p_c' = f^{-1}\!\left( f(p_s, p_c, p_a)\, A / A';\; p_s', p_a' \right),
              \qquad f = A_\mathrm{leak} / A_\mathrm{restrictor}

    supply, reading, ambient, restrictor_area: of the tester and the room it was read on; with
        ``other_``, of those to compare on.

    The leak is taken to keep its area at another pressure; a ring or a valve that is pressed
    home by it does not quite. Never a reading to judge by: a limit is for what was read.

    Refused: a reading of 0, which says only that the leak is large.

    Source: `leak_area_ratio`, then `reading_from_area_ratio`; no source of its own.
    No printed value: put together from the two printed for one leak on the 0.040 and 0.060 in
    restrictors in ``tests/published/test_leakage.py``.

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
