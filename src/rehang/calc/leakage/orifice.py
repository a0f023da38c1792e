"""One orifice."""

from __future__ import annotations

import numpy as np

from rehang.calc import _inputs as check
from rehang.calc.errors import OutOfRange
from rehang.calc.units import Metres, MetresOut, Ratios, SquareMetres, SquareMetresOut


def effective_area(diameter: Metres, discharge: Ratios = 1.0) -> SquareMetresOut:
    r"""Effective area of a round orifice.

    .. math:: A = C_d\, \frac{\pi d^2}{4}

    discharge: what it passes over what a perfect nozzle would.

    A tester's restrictor is 4 to 6 bores long and its coefficient is not known: calibrate it
    with a master orifice (`calibrate_restrictor`), or compare areas of one tester only.

    Source: geometry; the coefficient by its definition. Common practice, no source.
    No printed value: with coefficient 1 it is a circle; used for the areas in
    ``tests/published/test_leakage.py``.

    >>> round(effective_area(0.040 * 0.0254) * 1e6, 4)
    0.8107
    """
    d = check.at_least_zero("The diameter", diameter)
    c = check.above_zero("The discharge coefficient", discharge)
    return check.plain(np.asarray(c * np.pi * d**2 / 4.0))


def equivalent_diameter(area: SquareMetres, discharge: Ratios = 1.0) -> MetresOut:
    r"""Bore of the round orifice that has an effective area.

    .. math:: d = \sqrt{ \frac{4 A}{\pi C_d} }

    area: ``inf`` stays ``inf``.

    A leak past a valve or a ring is a slit and not round: a size to picture, not to measure.

    Source: geometry; the inverse of `effective_area`. Common practice, no source.
    No printed value: checked as the inverse in ``tests/published/test_leakage.py``.

    >>> round(equivalent_diameter(effective_area(0.001016)), 9)
    0.001016
    """
    a = np.asarray(area, dtype=np.float64)
    if not (a >= 0).all():
        raise OutOfRange(f"The area must be at least 0: got {check.shown(a)}.")
    c = check.above_zero("The discharge coefficient", discharge)
    return check.plain(np.asarray(np.sqrt(4.0 * a / (np.pi * c))))
