"""Every row of an area that is programmed has a test.

Source: ``data/checkvalues.csv``, in which each row names its own document (JCGM 100:2008,
JCGM 106:2012, ISO 14253-1 and so on) or says that it has none.
"""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

from tests.published.checkvalues import rows

# Grows as areas are programmed.
AREAS_PROGRAMMED = ["a", "b", "c", "d", "e", "f", "g", "i", "j"]

# Rows that cannot be worked out again, and why.
UNAVAILABLE = {
    "i07": "The 100 x 100 table of OR-Library (assign100.txt) is not among the data kept here.",
}


def ids_used() -> set[str]:
    """First argument of every call of ``printed(...)`` in the tests beside this one."""
    used = set()
    for path in Path(__file__).parent.glob("test_*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if (
                isinstance(node, ast.Call)
                and isinstance(node.func, ast.Name)
                and node.func.id == "printed"
                and isinstance(node.args[0], ast.Constant)
            ):
                used.add(node.args[0].value)
    return used


@pytest.mark.parametrize("area", AREAS_PROGRAMMED)
def test_every_row_of_the_area_has_a_test(area):
    wanted = {row.id for row in rows().values() if row.area == area}
    assert wanted, f"The file has no row of area {area}."
    assert wanted - ids_used() - set(UNAVAILABLE) == set()


def test_a_row_is_called_unavailable_only_while_it_has_no_test():
    assert set(UNAVAILABLE) <= set(rows())
    assert set(UNAVAILABLE) & ids_used() == set()


def test_no_test_names_a_row_that_is_not_in_the_file():
    assert ids_used() - set(rows()) == set()


@pytest.mark.parametrize(
    ("area", "count"),
    [
        ("a", 36),
        ("b", 31),
        ("c", 20),
        ("d", 23),
        ("e", 5),
        ("f", 17),
        ("g", 17),
        ("i", 7),
        ("j", 7),
    ],
)
def test_each_area_has_the_rows_it_was_handed_over_with(area, count):
    assert sum(row.area == area for row in rows().values()) == count
