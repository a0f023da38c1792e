"""Who goes where: the cheapest way to give each row a column of its own, where some pairs are
not allowed, and which rows are in each other's way when there is none.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rehang.calc.errors import OutOfRange
from rehang.calc.units import Index, SameUnit, Values


@dataclass(frozen=True, slots=True)
class Assignment:
    """Pairs of row and column, or why there are none.

    With fewer rows than columns every row gets a column, with more every column gets a row.
    When that cannot be, `pairs` is empty and `total` is inf: then either `crowded_rows` have
    only `their_columns`, which are fewer, or `crowded_columns` only `their_rows`. Take any one
    of the crowded away and the others of them find a place.
    """

    pairs: tuple[tuple[Index, Index], ...]
    total: SameUnit
    crowded_rows: tuple[Index, ...] = ()
    their_columns: tuple[Index, ...] = ()
    crowded_columns: tuple[Index, ...] = ()
    their_rows: tuple[Index, ...] = ()

    @property
    def possible(self) -> bool:
        return bool(self.pairs)


def cheapest_assignment(cost: Values) -> Assignment:
    r"""Pairs of rows and columns, each used once, with the least total cost.

    .. math:: \min_\pi \sum_i c_{i\,\pi(i)}, \qquad \pi\ \text{one to one}

    cost: of each pair; ``inf`` is a pair that is not allowed.

    The pairs in order of row and their total; or, when the allowed pairs are too few, those that
    are in each other's way. Where several assignments cost the same, one of them is given, the same
    each time.

    Source: H. Kuhn, Naval Research Logistics Quarterly 2, 1955, 83-97; the method is that of D.
    Crouse, IEEE Transactions on Aerospace and Electronic Systems 52(4), 2016, 1679-1696, in scipy.
    When there is none: P. Hall, Journal of the London Mathematical Society 10, 1935, 26-30. From
    memory.
    Checked in ``tests/published/test_assignment.py``: rows i01 to i05 and i09 of the printed
    values.

    >>> cheapest_assignment([[4, 1, 3], [2, 0, 5], [3, 2, 2]])
    Assignment(pairs=((0, 1), (1, 0), (2, 2)), total=5.0, crowded_rows=(), their_columns=(),
    crowded_columns=(), their_rows=())
    """
    table = np.asarray(cost, dtype=np.float64)
    if table.ndim != 2 or not table.size:
        raise OutOfRange(
            "Give the cost as a table with at least one row and one column: "
            f"got shape {table.shape}."
        )
    if np.isnan(table).any() or (table == -np.inf).any():
        raise OutOfRange("A cost must be a number, or inf for a pair that is not allowed.")
    allowed = np.isfinite(table)
    crowded, theirs = _crowd(allowed if table.shape[0] <= table.shape[1] else allowed.T)
    if crowded:
        if table.shape[0] <= table.shape[1]:
            return Assignment((), float("inf"), crowded_rows=crowded, their_columns=theirs)
        return Assignment((), float("inf"), crowded_columns=crowded, their_rows=theirs)

    from scipy.optimize import linear_sum_assignment

    rows, columns = linear_sum_assignment(table)
    pairs = tuple((int(r), int(c)) for r, c in zip(rows, columns, strict=True))
    return Assignment(pairs, float(table[rows, columns].sum()))


def _crowd(
    allowed: np.ndarray[tuple[int, ...], np.dtype[np.bool_]],
) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Fewest rows that together may take fewer columns than they are; empty when none are.

    Hall's condition: all rows find a column unless some of them have too few between them.
    """
    from scipy.sparse import csr_array
    from scipy.sparse.csgraph import maximum_bipartite_matching

    column_of = maximum_bipartite_matching(csr_array(allowed), perm_type="column")
    alone = np.flatnonzero(column_of < 0)
    if not alone.size:
        return (), ()
    row_of = {int(c): r for r, c in enumerate(column_of) if c >= 0}
    # From one row without a column: what it may take, who has that, what those may take, ...
    # Every column met is taken, so that they are one fewer than the rows met; and leave out any
    # row met, and those before it on the way each take the column after them.
    rows = [int(alone[0])]
    met: set[int] = set()
    for row in rows:
        for column in map(int, np.flatnonzero(allowed[row])):
            if column not in met:
                met.add(column)
                rows.append(row_of[column])
    columns = np.flatnonzero(allowed[rows].any(axis=0))
    return tuple(sorted(rows)), tuple(int(c) for c in columns)
