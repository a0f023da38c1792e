"""What holds for all tables handed to `rehang.calc.assignment`, and its totals by trying all."""

from __future__ import annotations

from itertools import permutations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from rehang.calc.assignment import cheapest_assignment

INF = float("inf")

costs = st.one_of(st.integers(-20, 20).map(float), st.just(INF))
tables = st.tuples(st.integers(1, 5), st.integers(1, 5)).flatmap(
    lambda shape: st.lists(
        st.lists(costs, min_size=shape[1], max_size=shape[1]), min_size=shape[0], max_size=shape[0]
    )
)


def least_total(table):
    """By trying every way to give the shorter side its partners."""
    wide = table if table.shape[0] <= table.shape[1] else table.T
    ways = permutations(range(wide.shape[1]), wide.shape[0])
    return min(sum(wide[row, column] for row, column in enumerate(way)) for way in ways)


@given(tables)
def test_total_is_the_least_of_all_ways(rows):
    table = np.array(rows)
    found = cheapest_assignment(table)
    assert found.total == least_total(table)
    assert found.possible == np.isfinite(found.total)
    if found.possible:
        assert len(found.pairs) == min(table.shape)
        assert len({row for row, _ in found.pairs}) == len(found.pairs)
        assert len({column for _, column in found.pairs}) == len(found.pairs)
        assert sum(table[pair] for pair in found.pairs) == found.total


@given(tables)
def test_the_crowded_have_too_few_and_none_of_them_is_named_for_nothing(rows):
    table = np.array(rows)
    found = cheapest_assignment(table)
    wide = table if table.shape[0] <= table.shape[1] else table.T
    crowded = list(found.crowded_rows or found.crowded_columns)
    theirs = found.their_columns or found.their_rows
    assert bool(crowded) != found.possible
    assert tuple(np.flatnonzero(np.isfinite(wide[crowded]).any(axis=0))) == theirs
    if crowded:
        assert len(theirs) < len(crowded)
        for one in crowded:
            rest = [other for other in crowded if other != one]
            assert not rest or np.isfinite(least_total(wide[rest]))


@given(tables, st.integers(-50, 50))
def test_same_pairs_cost_the_same_when_all_of_a_row_cost_more(rows, more):
    table = np.array(rows)
    dearer = table.copy()
    dearer[0] += more
    if table.shape[0] <= table.shape[1]:
        assert cheapest_assignment(dearer).total == cheapest_assignment(table).total + more
    else:
        one, other = cheapest_assignment(dearer).total, cheapest_assignment(table).total
        assert one == other == INF or abs(one - other) <= abs(more)
