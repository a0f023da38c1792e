"""Reads the file of printed values, ``data/checkvalues.csv``, kept word for word.

A status says how each number came to be there:

PUB
    the printed number was read in a public text; ``PUB(inputs)`` and ``PUB(form)``: the
    inputs or the formula were read there, and the printed result is from memory;
MEM
    the printed number is from memory;
LIB
    an independent package gives it. ``LIB`` alone: there is no printed number, and several
    independent programs agree. That catches a slip in the code, not a wrong model.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest

FILE = Path(__file__).with_name("data") / "checkvalues.csv"


@dataclass(frozen=True, slots=True)
class Row:
    area: str
    id: str
    quantity: str
    inputs: str
    expected: float
    tolerance: float
    unit: str
    source: str
    status: str


@cache
def rows() -> dict[str, Row]:
    with FILE.open(encoding="utf-8", newline="") as file:
        return {
            line["id"]: Row(
                **{
                    **line,
                    "expected": float(line["expected"]),
                    "tolerance": float(line["tolerance"]),
                }
            )
            for line in csv.DictReader(file)
        }


def printed(id_: str, status: str):
    """Expected value of a row with its own tolerance, to compare with ``==``.

    The status is given again where the value is used, so that whoever reads the test sees
    what the number rests on; it must be the file's.
    """
    row = rows()[id_]
    assert row.status == status, f"{id_} is marked {row.status} in the file, not {status}."
    return pytest.approx(row.expected, rel=0, abs=row.tolerance)
