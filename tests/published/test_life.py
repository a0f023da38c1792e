"""Lives with censoring: rows of area g in ``data/checkvalues.csv``, from these documents.

NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.1.3 (ten of twenty failed). Nelson 1982,
generator fans, in ``data/genfan.csv``, not compared with the book itself. gehan: Freireich and others
1963 in Gehan 1965, Biometrika 52, in ``data/gehan.csv`` from a public copy of the table that R
prints, fitted in Venables and Ripley, MASS (printed numbers from memory). rossi: Rossi, Berk and
Lenihan 1980, in ``data/rossi.csv`` as lifelines ships it, with its licence beside it; the
numbers are those of its documentation. mileage: Modarres, Kaminskiy and Krivtsov, Reliability
Engineering and Risk Analysis, 3rd edition, example 2.31, in ``data/mileage.csv`` from the list
in the package reliability; its row is marked LIB, so it catches a slip in the code and not a
wrong model. What is worked by hand says so beside it.
"""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from pytest import approx

from rehang.calc.errors import OutOfRange
from rehang.calc.life import (
    Interval,
    exponential,
    kaplan_meier,
    kaplan_meier_lasting,
    weibull,
    weibull_hours,
    weibull_lasting,
    weibull_log_likelihood,
    weibull_regression,
)
from tests.published.checkvalues import printed

DATA = Path(__file__).with_name("data")

NIST_HOURS = [54, 187, 216, 240, 244, 335, 361, 373, 375, 386, *[500] * 10]
NIST_FAILED = [1] * 10 + [0] * 10


@cache
def table(name):
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def column(name, key):
    return [float(row[key]) for row in table(name)]


def fans():
    return column("genfan.csv", "hours"), column("genfan.csv", "status")


def six_mp():
    arm = [row for row in table("gehan.csv") if row["treat"] == "6-MP"]
    return [float(row["time"]) for row in arm], [int(row["cens"]) for row in arm]


def test_nist_8_4_1_3():
    found = weibull(NIST_HOURS, NIST_FAILED)
    assert found.shape.value == printed("g01", "PUB+LIB")
    assert found.scale.value == printed("g02", "PUB+LIB")
    assert found.log_likelihood == printed("g03", "PUB+LIB")
    assert found.mean.value == printed("g04", "PUB+LIB")
    assert found.sd == printed("g05", "PUB+LIB")
    assert (found.parts, found.failures, found.total_hours) == (20, 10, 7771)
    assert found.notes == ()


def test_nist_8_4_1_3_log_likelihood_at_its_printed_estimates():
    found = weibull_log_likelihood(NIST_HOURS, NIST_FAILED, shape=1.7208, scale=606.528)
    assert found == printed("g03", "PUB+LIB")


def test_nelson_generator_fans():
    found = weibull(*fans())
    assert found.shape.value == printed("g09", "MEM+LIB")
    assert found.scale.value == printed("g10", "MEM+LIB")


def test_nelson_generator_fans_by_the_exponential():
    found = exponential(*fans())
    assert found.mean.value == printed("g11", "MEM+LIB")
    assert found.scale == found.mean
    assert found.sd == approx(found.mean.value, rel=1e-12)
    # By hand with the chi-squares of NIST e-Handbook 1.3.6.7.4 (from memory): 38.885 is the
    # upper 5 % point for 2 x 12 + 2, 13.848 the lower for 2 x 12; three decimals are printed.
    assert found.mean.low == approx(2 * 344440 / 38.885, rel=2e-5)
    assert found.mean.high == approx(2 * 344440 / 13.848, rel=5e-5)
    # Worked by hand: -r (log(T/r) + 1).
    assert found.log_likelihood == approx(-12 * (np.log(344440 / 12) + 1), rel=1e-12)


def test_gehan_by_venables_and_ripley():
    control = [float(row["treat"] == "control") for row in table("gehan.csv")]
    found = weibull_regression(column("gehan.csv", "time"), column("gehan.csv", "cens"), control)
    assert found.coefficients[0] == printed("g13", "MEM+LIB")
    assert found.coefficients[1] == printed("g14", "MEM+LIB")
    assert found.spread == printed("g15", "MEM+LIB")
    assert found.log_likelihood == printed("g16", "MEM+LIB")
    # The same by hand from the coefficients: scale of log life 3.516, and 1.267 less.
    assert found.scale_at([[0], [1]]) == approx(np.exp([3.516, 2.249]), rel=1e-3)
    assert found.shape == approx(1 / 0.732, rel=1e-3)


def test_rossi_by_the_documentation_of_lifelines():
    names = ["fin", "age", "race", "wexp", "mar", "paro", "prio"]
    covariates = np.transpose([column("rossi.csv", name) for name in names])
    week, arrest = column("rossi.csv", "week"), column("rossi.csv", "arrest")
    found = weibull_regression(week, arrest, covariates)
    assert found.coefficients[0] == printed("g17", "PUB+LIB")
    assert np.log(found.shape) == printed("g18", "PUB+LIB")
    assert found.log_likelihood == printed("g19", "PUB+LIB")
    # Standard deviations that lifelines 0.30.3 gives for the same data, to its six digits: an
    # independent program, no printed value.
    assert found.standard_deviations == approx(
        [0.419099, 0.137963, 0.016004, 0.220161, 0.151542, 0.273302, 0.139639, 0.020941], abs=1e-5
    )
    assert found.log_spread_sd == approx(0.089027, abs=1e-5)


def test_kaplan_meier_of_the_6_mp_arm():
    curve = kaplan_meier(*six_mp())
    at = int(np.flatnonzero(curve.ages == 10)[0])
    assert curve.survival[at] == printed("g20", "MEM+LIB")
    # By hand: 18/21 at week 6, 16/17 at 7, 14/15 at 10; Greenwood 3/(21 18) + 1/(17 16) +
    # 1/(15 14).
    assert curve.at_risk[: at + 1].tolist() == [21, 17, 15]
    greenwood = 3 / (21 * 18) + 1 / (17 * 16) + 1 / (15 * 14)
    survival = 18 / 21 * 16 / 17 * 14 / 15
    assert curve.standard_deviations[at] == approx(survival * np.sqrt(greenwood), rel=1e-12)
    # log(-log S) plus and minus 1.644854 standard deviations, 95 % point of the normal.
    reach = 1.644854 * np.sqrt(greenwood) / -np.log(survival)
    assert curve.low[at] == approx(survival ** np.exp(reach), rel=1e-6)
    assert curve.high[at] == approx(survival ** np.exp(-reach), rel=1e-6)
    assert curve.notes == ()


def test_lasting_in_the_6_mp_arm_is_the_quotient_of_two_survivals():
    curve = kaplan_meier(*six_mp())
    found = kaplan_meier_lasting(curve, [10, 4], age=[0, 6])
    assert found.chance[0] == printed("g20", "MEM+LIB")
    # By hand: 16/17 x 14/15.
    assert found.chance[1] == approx(16 / 17 * 14 / 15, rel=1e-14)


def test_mileage_none_censored():
    miles = column("mileage.csv", "miles")
    assert weibull(miles, [1] * 100).shape.value == printed("g23", "LIB")


# Late entry, by hand


def test_late_entry_leaves_out_the_hours_before():
    # 1,200 hours in all, 700 of them before the record began: 500 watched, two failures.
    found = exponential([300, 500, 400], [1, 1, 0], [200, 300, 200])
    assert found.total_hours == 500
    assert found.mean.value == approx(250, rel=1e-14)


def test_late_entry_with_a_stated_shape():
    # scale^2 = (300^2 - 100^2 + 400^2 - 300^2) / 1 = 150,000.
    found = weibull([300, 400], [1, 0], [100, 300], shape=2)
    assert found.scale.value == approx(np.sqrt(150_000), rel=1e-14)
    assert found.shape == Interval(2, 2, 2)


def test_kaplan_meier_with_late_entry():
    # At 100: A and B watched, C not yet. At 300: B and C.
    curve = kaplan_meier([100, 300, 400], [1, 1, 0], [0, 0, 150])
    assert curve.at_risk.tolist() == [2, 2]
    assert curve.survival.tolist() == [0.5, 0.25]
    # A part that enters at the age of a failure did not stand that age's risk.
    curve = kaplan_meier([100, 300, 400], [1, 1, 0], [0, 0, 100])
    assert curve.at_risk.tolist() == [2, 2]


def test_curve_that_falls_to_nothing_early_is_told():
    curve = kaplan_meier([100, 300, 400], [1, 1, 0], [0, 150, 150])
    assert curve.survival.tolist() == [0.0, 0.0]
    assert curve.notes == (
        "At 100 hours none of the parts under watch was left, and others were watched later: take "
        "the chance of lasting from a later age.",
    )
    later = kaplan_meier_lasting(curve, 200, age=200)
    assert later.chance == 0.5


def test_curve_of_parts_that_all_entered_late_says_from_when():
    curve = kaplan_meier([300, 400], [1, 0], [100, 200])
    assert curve.notes == (
        "No part was watched before 100 hours: the curve is for parts that reach that age.",
    )
    unknown = kaplan_meier_lasting(curve, 250)
    assert np.isnan(unknown.chance)
    assert (unknown.low, unknown.high) == (0.0, 1.0)
    assert unknown.notes == (
        "No part was watched through all of these ages: there is no chance to be told, only an "
        "upper end of it.",
    )


def test_none_failed_while_some_were_watched():
    # By hand: S^4 >= 0.1 of four watched throughout, all of 90 % on one side.
    curve = kaplan_meier([500] * 4 + [600], [0] * 4 + [1])
    found = kaplan_meier_lasting(curve, 300, age=150)
    assert found.chance == 1.0
    assert found.low == approx(0.1 ** (1 / 5), rel=1e-12)
    assert found.high == 1.0
    assert found.notes == ("No failure at these ages: all of the confidence is on the lower end.",)
    # One is left after 500; 1 - 0.1^1 when it fails.
    found = kaplan_meier_lasting(curve, 100, age=500)
    assert (found.chance, found.low) == (0.0, 0.0)
    assert found.high == approx(0.9, rel=1e-12)


def test_curve_without_a_failure():
    curve = kaplan_meier([100, 200], [0, 0])
    assert curve.ages.size == 0
    assert curve.notes == ("No failure is on record: survival is 1 as far as it was watched.",)


# Chances and hours


def test_at_the_scale_a_new_part_has_a_chance_of_one_in_e():
    life = weibull(NIST_HOURS, NIST_FAILED)
    found = weibull_lasting(life, life.scale.value)
    assert found.chance == approx(np.exp(-1), rel=1e-12)
    # The chance at the scale's own lower end is what its interval was made of.
    assert weibull_lasting(life, life.scale.low).low == approx(np.exp(-1), rel=1e-6)
    assert weibull_lasting(life, life.scale.high).high == approx(np.exp(-1), rel=1e-6)
    assert found.notes == (
        "No part on record is older than 500 hours: beyond that the chance rests on the Weibull "
        "form alone.",
    )


def test_age_counts_for_wear_and_not_for_chance():
    # By hand at shape 2 and scale 1,000: exp(0.5^2 - 0.6^2) = exp(-0.11).
    life = weibull([1000, 1200], [1, 0], shape=2)
    eta2 = 1000**2 + 1200**2
    found = weibull_lasting(life, [100, 100, 0], age=[0, 500, 500])
    assert found.chance == approx(
        np.exp([-(100**2) / eta2, -(600**2 - 500**2) / eta2, 0]), rel=1e-12
    )
    assert (found.low[2], found.high[2]) == (1.0, 1.0)
    life = exponential([1000, 1200], [1, 0])
    assert weibull_lasting(life, 100, age=900).chance == approx(np.exp(-100 / 2200), rel=1e-12)


def test_hours_in_which_a_share_fails():
    life = exponential([1000, 1200], [1, 0])
    found = weibull_hours(life, 0.05)
    assert found.value == approx(-2200 * np.log(0.95), rel=1e-12)
    # No memory: from 5,000 hours on it is the same.
    assert weibull_hours(life, 0.05, age=5000).value == approx(found.value, rel=1e-9)
    # By hand at shape 2: (500^2 - eta^2 ln 0.5)^(1/2) - 500.
    life = weibull([1000, 1200], [1, 0], shape=2)
    eta2 = 1000**2 + 1200**2
    expected = np.sqrt(500**2 + eta2 * np.log(2)) - 500
    assert weibull_hours(life, 0.5, age=500).value == approx(expected, rel=1e-12)


# Few failures


def test_no_failure_and_no_shape():
    found = weibull([500, 700], [0, 0])
    assert np.isnan(found.shape.value)
    assert (found.scale.low, found.scale.high) == (0.0, np.inf)
    assert found.notes == (
        "No failure is on record: the hours have no upper end of life in them, only a lower one, "
        "and that for a stated shape.",
    )
    lasting = weibull_lasting(found, 100)
    assert np.isnan(lasting.chance)
    assert (lasting.low, lasting.high, lasting.notes) == (0.0, 1.0, found.notes)
    assert np.isnan(weibull_hours(found, 0.5).value)


def test_no_failure_with_a_stated_shape():
    # By hand: exp(-T/theta) = 0.1 at theta = T/2.302585.
    found = exponential([500, 700, 0], [0, 0, 0])
    assert np.isnan(found.mean.value)
    assert found.mean.low == approx(1200 / 2.302585, rel=1e-6)
    assert found.mean.high == np.inf
    assert found.notes == (
        "No failure in 1200 hours under watch: there is a lower end of life, all 90 % of "
        "the confidence on that side, and no more.",
    )
    # Nelson 1985: scale >= (sum t^shape / -ln 0.1)^(1/shape).
    found = weibull([500, 700], [0, 0], shape=2)
    assert found.scale.low == approx(np.sqrt((500**2 + 700**2) / 2.302585), rel=1e-6)
    lasting = weibull_lasting(found, 500)
    assert lasting.low == approx(0.1 ** (25 / 74), rel=1e-6)
    assert lasting.high == 1.0
    assert np.isnan(lasting.chance)
    hours = weibull_hours(found, 0.5)
    assert hours.low == approx(found.scale.low * np.sqrt(np.log(2)), rel=1e-9)
    assert hours.high == np.inf


def test_one_failure():
    found = weibull([500, 700], [1, 0])
    assert np.isnan(found.shape.value)
    assert found.notes == (
        "One failure carries one number and a Weibull life has two: state a shape, 1 if nothing "
        "is known of it, and the scale follows.",
    )
    assert exponential([500, 700], [1, 0]).mean.value == approx(1200, rel=1e-14)


def test_two_failures():
    found = weibull([500, 700, 800], [1, 1, 0])
    assert 0 < found.shape.low < found.shape.value < found.shape.high < np.inf
    assert found.notes == (
        "Two failures hardly carry a shape (how it comes out on average has no finite value): "
        "read its ends, not its value.",
    )
    assert weibull([500, 600, 700, 800], [1, 1, 1, 0]).notes == (
        "Only 3 failures: the intervals hold somewhat less than the 90 % they ask for.",
    )


def test_all_failed_at_the_longest_age():
    found = weibull([800, 800, 800, 300], [1, 1, 1, 0])
    assert np.isnan(found.shape.value)
    assert found.notes == (
        "All failures came at 800, the longest age on record: every larger shape fits better than "
        "the last, so none is given; state one.",
    )


def test_failures_that_thin_out_among_parts_that_were_old_already():
    # Failures soon after entry, then long sound service: no shape above 0 fits best.
    entered = [100] * 12
    hours = [101, 102, 103, 104, *[3000] * 8]
    found = weibull(hours, [1] * 4 + [0] * 8, entered)
    assert np.isnan(found.shape.value)
    assert found.shape.low == 0.0
    assert 0 < found.shape.high < 1
    assert found.notes == (
        "Every part was already in service when its record began, and failures thin out with age "
        "faster than any Weibull life does: only an upper end of the shape is given.",
    )


def test_parts_that_were_all_old_may_leave_the_shape_without_a_lower_end():
    entered = [500] * 6
    found = weibull([600, 900, 1300, 1500, 1500, 1500], [1, 1, 1, 0, 0, 0], entered)
    assert found.shape.low == 0.0
    assert found.shape.value > 0
    assert found.notes[0] == (
        "Every part was already in service when its record began: the shape has no lower end "
        "above 0."
    )


def test_no_time_under_watch():
    found = exponential([500], [0], [500])
    assert np.isnan(found.mean.value)
    assert found.notes == ("No part has spent time under watch: nothing is known of its life.",)
    assert weibull_log_likelihood([500], [0], [500], shape=1, scale=10) == 0.0


def test_few_failures_for_a_regression_are_told():
    found = weibull_regression(
        [100, 210, 290, 390, 240, 420], [1, 1, 1, 0, 1, 1], [0, 0, 0, 1, 1, 1]
    )
    assert found.notes == ("Only 5 failures for 3 numbers: they are known loosely.",)


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        pytest.param(
            lambda: weibull([], []), r"Give the hours of at least one part: got none\.", id="none"
        ),
        pytest.param(
            lambda: weibull([100, 200], [1]),
            r"Give the hours of each part, whether a failure ended them and, where parts entered "
            r"late, at what age: got shapes \(2,\), \(1,\) and \(2,\)\.",
            id="lengths",
        ),
        pytest.param(
            lambda: weibull([100, -1], [1, 0]),
            r"The hours must be at least 0: got \[100, -1\]\.",
            id="negative",
        ),
        pytest.param(
            lambda: weibull([100, 200], [1, 2]),
            r"Mark each part with 1 or True where a failure ended its hours, "
            r"else with 0 or False\.",
            id="mark",
        ),
        pytest.param(
            lambda: weibull([100, 200], [1, 0], [0, 300]),
            r"A part's hours run forward: got one that entered at 300 and was last seen at 200\.",
            id="backwards",
        ),
        pytest.param(
            lambda: kaplan_meier([0, 200], [1, 0]),
            r"A failure needs time under watch before it: got one at 0, the age at which the "
            r"part entered\.",
            id="at once",
        ),
        pytest.param(
            lambda: weibull([100], [1], shape=0), r"The shape must be above 0: got 0\.", id="shape"
        ),
        pytest.param(
            lambda: exponential([100], [1], confidence=90),
            r"The confidence must be above 0 and below 1: got 90\.",
            id="confidence",
        ),
        pytest.param(
            lambda: weibull_hours(exponential([100], [1]), 1),
            r"The share must be above 0 and below 1: got 1\.",
            id="share",
        ),
        pytest.param(
            lambda: weibull_regression([100, 200], [1, 1], [0, 1]),
            r"A fit of 2 coefficients needs at least 3 failures: got 2\.",
            id="too few",
        ),
        pytest.param(
            lambda: weibull_regression([100, 200, 300], [1, 1, 1], [0, 1]),
            r"Give one row of covariates for each part: got 3 parts and covariates of shape "
            r"\(2,\)\.",
            id="rows",
        ),
        pytest.param(
            lambda: weibull_regression([100, 200, 300], [1, 1, 1], [1, 1, 1]),
            r"A covariate is the same for all parts: leave it out\.",
            id="constant",
        ),
        pytest.param(
            lambda: weibull_regression(
                [100, 200, 300, 400], [1] * 4, [[0, 0], [1, 2], [2, 4], [1, 2]]
            ),
            r"A covariate follows from the others: leave one of them out\.",
            id="dependent",
        ),
        pytest.param(
            lambda: weibull_regression([100, 200, 300, 400, 500], [1, 1, 1, 0, 0], [0, 0, 0, 1, 1]),
            r"The likelihood has no highest point: parts of some kind have no failure, or all "
            r"failures are at the longest ages of their kind\. Leave a covariate out or "
            r"join kinds\.",
            id="a kind without failure",
        ),
        pytest.param(
            lambda: weibull_regression([800, 800, 800, 300], [1, 1, 1, 0], [0, 1, 2, 0]),
            r"The likelihood has no highest point: parts of some kind have no failure, or all "
            r"failures are at the longest ages of their kind\. Leave a covariate out or "
            r"join kinds\.",
            id="all at the longest age",
        ),
        pytest.param(
            lambda: weibull_regression(
                [101, 102, 103, 104, *[3000] * 8],
                [1] * 4 + [0] * 8,
                [0, 1, 0, 1] * 3,
                [100] * 12,
            ),
            r"Failures thin out with age faster than any Weibull life does: bring in parts whose "
            r"record began when they were new\.",
            id="thins out",
        ),
        pytest.param(
            lambda: weibull_regression([100, 200, 300], [1, 1, 1], [0, 1, 1]).scale_at([0, 1]),
            r"Covariates of each part must be as many as in the fit, 1: got 2\.",
            id="scale at",
        ),
    ],
)
def test_what_cannot_be_answered_is_one_sentence(call, sentence):
    with pytest.raises(OutOfRange, match=f"^{sentence}$"):
        call()
