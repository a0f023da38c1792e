"""Mixed models, paired meters, one apart: rows of area f in ``data/checkvalues.csv``.

sleepstudy (Belenky et al. 2003) and Orthodont (Potthoff and Roy 1964) as printed by lme4 in
Bates et al. 2015, Journal of Statistical Software 67(1), and in Pinheiro and Bates 2000; the
data in ``data/sleepstudy.csv`` and ``data/orthodont.csv``. Student
1908, Biometrika 6, as R prints it. Grubbs 1969, Technometrics 11.
"""

from __future__ import annotations

import csv
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from pytest import approx

from bench.mixed import mixed_model
from rehang.calc.errors import OutOfRange
from rehang.calc.wear import apart, fit, fleet, meter_difference
from rehang.calc.wear.growth import SetRates, Strays
from tests.published.checkvalues import printed

DATA = Path(__file__).with_name("data")


def table(name, group, x, y):
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    return (
        [row[group] for row in rows],
        [float(row[x]) for row in rows],
        [float(row[y]) for row in rows],
    )


@cache
def sleepstudy(method="REML"):
    return mixed_model(*table("sleepstudy.csv", "Subject", "Days", "Reaction"), method=method)


@cache
def orthodont():
    return mixed_model(*table("orthodont.csv", "Subject", "age", "distance"))


def test_lme4_sleepstudy_fixed_effects():
    found = sleepstudy()
    assert found.coefficients[0] == printed("f20", "PUB+LIB")
    assert found.coefficients[1] == printed("f21", "PUB+LIB")
    assert found.standard_deviations[0] == printed("f22", "PUB+LIB")
    assert found.standard_deviations[1] == printed("f23", "PUB+LIB")


def test_lme4_sleepstudy_random_effects():
    found = sleepstudy()
    assert found.group_sds[0] == printed("f24", "PUB+LIB")
    assert found.group_sds[1] == printed("f25", "PUB+LIB")
    assert found.correlation == printed("f26", "PUB+LIB")
    assert found.residual_sd == printed("f27", "PUB+LIB")
    assert not found.singular
    assert found.notes == ()


def test_lme4_sleepstudy_criteria():
    assert sleepstudy().criterion == printed("f28", "PUB+LIB")
    assert sleepstudy("ML").criterion == printed("f29", "PUB+LIB")


def test_pinheiro_bates_orthodont():
    found = orthodont()
    assert found.coefficients[0] == printed("f30", "MEM+LIB")
    assert found.coefficients[1] == printed("f31", "MEM+LIB")
    assert found.group_sds[0] == printed("f32", "MEM+LIB")
    assert found.group_sds[1] == printed("f33", "MEM+LIB")
    assert found.correlation == printed("f34", "MEM+LIB")
    assert found.residual_sd == printed("f35", "MEM+LIB")
    assert found.log_likelihood == printed("f36", "MEM+LIB")


def test_effects_are_each_groups_own():
    found = sleepstudy()
    assert len(found.groups) == 18
    # Differences from the whole: together nothing.
    assert found.effects.sum(axis=0) == approx([0, 0], abs=1e-9)


def test_known_variances_take_their_part_of_the_residual():
    # Worked by hand: 100 ms2 known of the 25.592^2 in all leaves the rest, and nothing else moves.
    groups, x, y = table("sleepstudy.csv", "Subject", "Days", "Reaction")
    found = mixed_model(groups, x, y, variances=np.full(len(y), 100.0))
    plain = sleepstudy()
    assert found.residual_sd**2 + 100 == approx(plain.residual_sd**2, rel=1e-6)
    assert found.coefficients == approx(plain.coefficients, rel=1e-7)
    assert found.between == approx(plain.between, rel=1e-5)
    assert found.criterion == approx(plain.criterion, abs=1e-7)


def test_known_variances_instead_of_the_residual():
    # Given the residual variance that is found, all else is as it was found.
    groups, x, y = table("sleepstudy.csv", "Subject", "Days", "Reaction")
    plain = sleepstudy()
    known = np.full(len(y), plain.residual_sd**2)
    found = mixed_model(groups, x, y, variances=known, residual=False)
    assert found.between == approx(plain.between, rel=1e-5)
    assert found.standard_deviations == approx(plain.standard_deviations, rel=1e-6)
    assert found.criterion == approx(plain.criterion, abs=1e-7)
    assert found.residual_sd == 0


def test_balanced_random_intercept_has_a_closed_form():
    # Worked by hand, for n readings each at the same x: the restricted estimates are those of the
    # analysis of variance; MSB and MSW of y less the common line.
    groups, x, y = table("orthodont.csv", "Subject", "age", "distance")
    values = np.array(y).reshape(27, 4)
    ages = np.array(x).reshape(27, 4)
    about = ages - ages.mean()
    slope = (about * values).sum() / (about**2).sum()
    rest = values - slope * about
    within = ((rest - rest.mean(axis=1, keepdims=True)) ** 2).sum() / (27 * 3 - 1)
    between = 4 * rest.mean(axis=1).var(ddof=1)
    found = mixed_model(groups, x, y, random="intercept")
    assert found.coefficients[1] == approx(slope, rel=1e-10)
    assert found.residual_sd**2 == approx(within, rel=1e-8)
    assert found.group_sds[0] ** 2 == approx((between - within) / 4, rel=1e-7)
    assert np.isnan(found.correlation)


def test_nothing_between_groups_is_said():
    y = [0.0, 1.2, 1.9, 0.1, 0.9, 2.1, -0.1, 1.1, 2.0, 0.05, 0.8, 2.1]
    found = mixed_model("aaabbbcccddd", [0, 1, 2] * 4, y)
    assert found.singular
    assert found.notes == (
        "The groups do not differ in all that the model lets them: a variance or a combination of "
        "them is zero.",
    )


def test_known_variances_that_are_all_there_is():
    y = [0.0, 1.2, 1.9, 0.1, 0.9, 2.1, 5.1, 6.1, 7.0, 9.05, 9.8, 11.1]
    found = mixed_model("aaabbbcccddd", [0, 1, 2] * 4, y, variances=[1.0] * 12)
    assert found.residual_sd == approx(0, abs=1e-3)
    assert found.notes[-1] == (
        "The known variances account for all of the scatter: none is left over."
    )


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        pytest.param({"groups": "aaaaaa"}, r"at least two of them: got 1\.", id="one group"),
        pytest.param({"x": [3] * 6}, r"two different x: all are 3\.", id="one x"),
        pytest.param({"y": [1, 2]}, r"Give one group, one x, one y", id="lengths"),
        pytest.param({"residual": False}, r"needs a known variance above 0\.", id="nothing left"),
        pytest.param({"y": [0, 1, 2, 0, 2, 4]}, r"lies on its own line exactly", id="exact"),
        pytest.param({"y": [7] * 6}, r"lies on its own line exactly", id="all equal"),
        pytest.param({"variances": [-1] * 6}, r"must be at least 0", id="negative"),
    ],
)
def test_refused(given, sentence):
    arguments = {"groups": "aaabbb", "x": [0, 1, 2] * 2, "y": [0, 1, 2, 1, 3, 4.5]} | given
    with pytest.raises(OutOfRange, match=sentence):
        mixed_model(arguments.pop("groups"), arguments.pop("x"), arguments.pop("y"), **arguments)


def test_student_1908_two_drugs():
    # R prints t = -4.0621, df = 9, p-value = 0.002833, mean of the differences -1.58.
    first = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0]
    second = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4]
    found = meter_difference([*range(10)] * 2, [True] * 10 + [False] * 10, first + second)
    assert found.difference == approx(-1.58, abs=0.005)
    assert found.difference / found.sd == approx(-4.0621, abs=5e-5)
    assert found.dof == 9
    assert found.probability == approx(0.002833, abs=5e-7)
    assert found.differs
    assert found.items == 10


def grubbs(n, g):
    """Values of which the last has this |x - mean| / s: worked by hand from n - 1 around 0."""
    others = np.resize([-1.0, 1.0], n - 1)
    others -= others.mean()
    square = float(others @ others)
    # (x (n-1)/n)^2 = g^2 (square + x^2 (n-1)/n) / (n-1)
    share = (n - 1) / n
    return [*others, np.sqrt(g**2 * square / (n - 1) / (share**2 - g**2 * share / (n - 1)))]


# Two-sided at 0.05, printed to three decimals. In terms of p that is 1e-3 of 0.05 for n = 10, and
# ten times that for n = 4, where the value runs into its bound of 1.5.
CRITICAL = [
    pytest.param(4, 1.481, 0.002, id="4"),
    pytest.param(5, 1.715, 0.001, id="5"),
    pytest.param(6, 1.887, 0.001, id="6"),
    pytest.param(8, 2.126, 0.001, id="8"),
    pytest.param(10, 2.290, 0.001, id="10"),
    pytest.param(12, 2.412, 0.001, id="12"),
]


@pytest.mark.parametrize(("n", "g", "tolerance"), CRITICAL)
def test_grubbs_1969_critical_values(n, g, tolerance):
    found = apart(grubbs(n, g))
    assert found.which == n - 1
    assert found.probability == approx(0.05, abs=tolerance)


def test_fleet_of_three_sets():
    # Worked by hand: means 1, 2, 3, each with variance 0.01, so w = 100, Q = 200 and
    # omega2 = (200 - 2)/(300 - 100) = 0.99; the mean is 2 with 1.00/3, a new set's 0.99 more.
    one = fit("aabb", [0, 100] * 2, [0, 1, 0, 2], [1e-4] * 4)
    sets = [
        replace(
            one,
            weights=np.ones(1),
            of_set=SetRates(np.array([[mean]]), np.array([[0.01]]), np.array([[part]])),
            strays=Strays(np.array([part / 2]), np.zeros(1), one.strays.interval),
        )
        for mean, part in [(1.0, 4.0), (2.0, 1.0), (3.0, 1.0)]
    ]
    found = fleet(sets)
    assert found.means == approx([2.0], rel=1e-12)
    assert found.variances == approx([0.99 + 1 / 3], rel=1e-12)
    # Typically (4 + 1 + 1)/3, and half of it; what each one's readings say is handed on whole.
    assert found.part_variances == approx([2.0], rel=1e-12)
    assert found.residual_variance == approx(1.0, rel=1e-12)
    assert all(told is one.told for told in found.told)
    assert len(found.told) == 3
    assert (found.sets, found.notes) == (3, ())
    # One set alone: its own variance and that of its parts.
    alone = fleet(sets[1:2])
    assert alone.variances == approx([0.01 + 1.0], rel=1e-12)
    assert alone.notes == (
        "One earlier set does not say how far sets differ: they are taken to differ as the parts "
        "of a set do.",
    )
