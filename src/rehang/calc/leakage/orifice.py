"""One orifice."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from rehang.calc import _inputs as check
from rehang.calc._inputs import FloatOrArray
from rehang.calc.errors import OutOfRange


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
