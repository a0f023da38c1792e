"""Assignments with a printed or a known total: area i of ``data/checkvalues.csv``.

The small tables are those of scipy's own documentation and tests, from memory; i09 is Parisi's
formula for chance costs, from memory. Row i07 is in `test_checkvalues_are_used` with the
reason why it is not here.
"""

from __future__ import annotations

import ast

import numpy as np
import pytest
from pytest import approx

from rehang.calc.assignment import cheapest_assignment
from rehang.calc.errors import OutOfRange
from tests.published.checkvalues import printed, rows

INF = float("inf")


def total(row):
    """Least total of the table that the row prints as its input."""
    return cheapest_assignment(ast.literal_eval(rows()[row].inputs)).total


def test_square_and_wide_tables():
    assert total("i01") == printed("i01", "MEM+LIB")
    assert total("i02") == printed("i02", "MEM+LIB")
    assert total("i03") == printed("i03", "MEM+LIB")
    assert total("i04") == printed("i04", "MEM+LIB")
    assert total("i05") == printed("i05", "MEM+LIB")


def test_pairs_of_the_first_table():
    # Printed beside i01: columns 1, 0, 2.
    assert cheapest_assignment([[4, 1, 3], [2, 0, 5], [3, 2, 2]]).pairs == ((0, 1), (1, 0), (2, 2))


def test_a_tall_table_is_the_wide_one_on_its_side():
    tall = np.transpose(ast.literal_eval(rows()["i03"].inputs))
    found = cheapest_assignment(tall)
    assert found.total == printed("i03", "MEM+LIB")
    assert len(found.pairs) == 3


def test_mean_of_chance_costs():
    # Parisi: the mean of the least total of n x n costs, each exponential with mean 1, is the
    # sum of 1/k^2 up to n. First the formula against the printed value, then our totals.
    assert sum(1 / k**2 for k in range(1, 11)) == printed("i09", "MEM+LIB")
    rng = np.random.default_rng(20261021)
    totals = [cheapest_assignment(rng.exponential(size=(10, 10))).total for _ in range(4000)]
    error = np.std(totals) / np.sqrt(len(totals))
    # Four standard errors: by chance alone one seed in 16,000 is further off.
    assert np.mean(totals) == approx(rows()["i09"].expected, abs=4 * error)
    assert error < 0.01


def test_those_in_each_others_way_are_named():
    # Worked by hand: rows 0, 2 and 3 have columns 1 and 2 between them; row 1 is well off.
    found = cheapest_assignment(
        [[INF, 1, 1, INF], [1, 1, 1, 1], [INF, 1, INF, INF], [INF, INF, 1, INF]]
    )
    assert not found.possible
    assert (found.pairs, found.total) == ((), INF)
    assert (found.crowded_rows, found.their_columns) == ((0, 2, 3), (1, 2))
    # On its side, with a column more than there are rows for.
    found = cheapest_assignment([[1, INF, 1]] * 4)
    assert (found.crowded_columns, found.their_rows) == ((1,), ())


def test_tables_that_are_none_are_refused():
    with pytest.raises(OutOfRange, match=r"at least one row and one column: got shape \(0,\)"):
        cheapest_assignment([])
    with pytest.raises(OutOfRange, match=r"must be a number, or inf for a pair"):
        cheapest_assignment([[1.0, float("nan")]])
    with pytest.raises(OutOfRange, match=r"must be a number, or inf for a pair"):
        cheapest_assignment([[1.0, -INF]])
