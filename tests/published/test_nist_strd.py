"""NIST StRD linear regression: certified values of Norris, Pontius, NoInt1, Longley, Wampler1.

NIST SRD 140, Statistical Reference Datasets, linear regression (1999). The data and the
certified values are kept word for word in ``data/nist``; the tests read both there.
Tolerance: 10 significant digits; normal equations reach 6 or 7 of them on Pontius and Longley.
"""

from __future__ import annotations

import csv
import json
from pathlib import Path

import numpy as np
import pytest
from pytest import approx

from rehang.calc.errors import OutOfRange
from rehang.calc.wear import least_squares

DATA = Path(__file__).with_name("data") / "nist"
CERTIFIED = json.loads((DATA / "certified.json").read_text(encoding="utf-8"))


def columns(name):
    with (DATA / f"{name}.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = [[float(cell) for cell in row] for row in list(csv.reader(file))[1:]]
    table = np.array(rows)
    return table[:, 1:], table[:, 0]


def fitted(name):
    x, y = columns(name)
    if name == "pontius":
        x = np.hstack([x, x**2])
    if name == "wampler1":
        x = np.hstack([x**power for power in range(1, 6)])
    return least_squares(x, y, intercept=name != "noint1")


@pytest.mark.parametrize("name", ["norris", "pontius", "noint1", "longley"])
def test_certified_values(name):
    found, certified = fitted(name), CERTIFIED[name]
    assert found.coefficients == approx(certified["beta"], rel=1e-10)
    assert found.standard_deviations == approx(certified["se"], rel=1e-10)
    assert found.residual_sd == approx(certified["resid_sd"], rel=1e-10)
    assert found.r_squared == approx(certified["r2"], rel=1e-10)


def test_wampler1_is_exact():
    # Certified: all coefficients 1 and no residual; y runs to 3,368,421.
    found = fitted("wampler1")
    assert found.coefficients == approx(CERTIFIED["wampler1"]["beta"], abs=1e-9)
    assert found.standard_deviations == approx(CERTIFIED["wampler1"]["se"], abs=1e-9)
    assert found.residual_sd == approx(CERTIFIED["wampler1"]["resid_sd"], abs=1e-8)
    assert found.r_squared == approx(1, abs=1e-15)


def test_covariance_has_the_standard_deviations():
    found = fitted("longley")
    assert np.sqrt(np.diag(found.covariance)) == approx(found.standard_deviations, rel=1e-12)
    assert found.dof == 9


@pytest.mark.parametrize(
    ("x", "y", "sentence"),
    [
        pytest.param([1, 2], [1, 2, 3], r"Give one row of x for each y", id="lengths"),
        pytest.param([1, 2], [1, 2], r"needs at least 3 rows: got 2\.", id="too few"),
        pytest.param([[1, 2], [2, 4], [3, 6], [4, 8]], [1, 2, 3, 5], r"follows from", id="twice"),
        pytest.param([0, 0, 0, 0], [1, 2, 3, 5], r"zero throughout: leave it out", id="nothing"),
        pytest.param([0, 1, 2], [1, np.nan, 3], r"y must be a finite number", id="nan"),
    ],
)
def test_refused(x, y, sentence):
    with pytest.raises(OutOfRange, match=sentence):
        least_squares(x, y)
