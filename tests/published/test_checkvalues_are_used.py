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

# Rows without a test, and why.
REASONS = {
    "The 100 x 100 table of OR-Library (assign100.txt) is not among the data kept here.": "i07",
    "Readings are judged one by one: no page combines them, correlated or along a line.": """
        a01 a02 a02x a03 a04 a05 a05u a06 a06u a07 a07u a08 a08b a08c a09 a09u a10 a10u a10r a10s a11 a11u""",
    "The bench gives the probability of one reading: no guard band, no risk of a population.": """
        a15 a16 a17 a17p a18 a18s a18i a18j a19_60 a19_80 a19_95 a19_99""",
    "The leak is a ratio of areas: no page gives a flow in mass, nor where it chokes.": """
        b01 b02 b03 b04_0.1 b04_0.5 b04_0.6 b04_0.9 b05 b06 b30 b31""",
    "Spark gaps at the pressure of a bench are far from the minimum.": "c30 c31",
    "The pressure of saturated vapour enters by the density of the air only.": "d07",
    "Lives are fitted by one Weibull law, with no covariates and no curve free of form.": """
        g13 g14 g15 g16 g17 g18 g19 g20""",
    "The bench asks what was made in an interval, not where it would end.": "j02 j03 j06 j08",
}
UNAVAILABLE = {row: reason for reason, ids in REASONS.items() for row in ids.split()}


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
def test_the_file_has_all_rows_of_each_area(area, count):
    assert sum(row.area == area for row in rows().values()) == count
