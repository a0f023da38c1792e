"""Gauss-Legendre nodes, and where to join their pieces under a normal density."""

from __future__ import annotations

from functools import cache

import numpy as np

from rehang.calc._inputs import FloatArray

# Beyond 38 standard deviations a normal density is 0 in double precision.
FARTHEST = 38.5

# Where the pieces of the risk integrals are joined, in standard deviations either side of a
# place where the integrand turns. No piece near the turn is over 2 wide, and 16 Gauss-Legendre
# nodes give a normal density over such a piece to the last digits of a double.
JOINTS = (0.0, 1.0, 2.0, 3.0, 4.5, 6.0, 8.0, 10.5, 14.0, 19.0, 27.0, FARTHEST)
NODES = 16


@cache
def joints_both_ways() -> FloatArray:
    """`JOINTS` to either side, in order."""
    joints = np.array(JOINTS)
    return np.concatenate([-joints[:0:-1], joints])


@cache
def gauss_legendre() -> tuple[FloatArray, FloatArray]:
    """Nodes and weights on -1 to 1."""
    nodes, weights = np.polynomial.legendre.leggauss(NODES)
    return nodes, weights
