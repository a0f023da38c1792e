"""Grubbs' test: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17.1 (its figures from memory).

The critical values are those of the table that goes with Grubbs (1950), one side, as a reprint has
them, to two decimals.
"""

from __future__ import annotations

import pytest

from rehang.calc.errors import OutOfRange
from rehang.calc.outlier import critical_value, grubbs

# Mass spectrometer readings of a uranium isotope (Tietjen and Moore, 1972), as the handbook has them.
URANIUM = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57]


def test_the_handbooks_example_names_the_largest():
    found = grubbs(URANIUM, 0.05, sides=1)
    # The handbook cuts its last digit off.
    assert found.g == pytest.approx(2.4687, abs=1e-4)
    assert found.critical == pytest.approx(2.032, abs=5e-4)
    assert URANIUM[found.index] == 245.57
    assert found.is_odd


@pytest.mark.parametrize(
    ("n", "at_5", "at_2_5", "at_1"),
    [(4, 1.46, 1.48, 1.49), (5, 1.67, 1.71, 1.75), (6, 1.82, 1.89, 1.94), (8, 2.03, 2.13, 2.22)],
)
def test_critical_values_are_those_of_the_table(n, at_5, at_2_5, at_1):
    found = [critical_value(n, alpha, sides=1) for alpha in (0.05, 0.025, 0.01)]
    assert found == pytest.approx([at_5, at_2_5, at_1], abs=0.0051)
    # With two sides the level is shared between them.
    assert critical_value(n, 0.05) == pytest.approx(at_2_5, abs=0.0051)


def test_a_low_one_is_odd_too_and_alike_ones_are_not():
    low = grubbs([100.0, 101.0, 100.0, 99.5, 100.5, 80.0])
    assert (low.index, low.is_odd) == (5, True)
    assert not grubbs([100.0] * 6).is_odd


@pytest.mark.parametrize(
    ("values", "alpha", "sides", "said"),
    [
        ([1.0, 2.0], 0.05, 2, "3 values or more: got 2"),
        ([1.0, 2.0, float("nan")], 0.05, 2, "finite"),
        ([1.0, 2.0, 3.0], 1.0, 2, "between 0 and 1: got 1"),
        ([1.0, 2.0, 3.0], 0.05, 3, "1 side or 2: got 3"),
    ],
)
def test_what_cannot_be_tested_is_refused(values, alpha, sides, said):
    with pytest.raises(OutOfRange, match=said):
        grubbs(values, alpha, sides)
