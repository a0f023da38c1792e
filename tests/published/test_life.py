"""Lives with censoring: rows of area g in ``data/checkvalues.csv``, from these documents.

NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.1.3 (ten of twenty failed). Nelson 1982,
generator fans, in ``data/genfan.csv``, not compared with the book itself. mileage: Modarres, Kaminskiy and Krivtsov, Reliability
Engineering and Risk Analysis, 3rd edition, example 2.31, in ``data/mileage.csv`` from the list
in the package reliability; its row is marked LIB, so it catches a slip in the code and not a
wrong model. What is worked by hand says so beside it.
"""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

import numpy as np
from pytest import approx

from rehang.calc.life import (
    Interval,
    weibull,
    weibull_hours,
    weibull_lasting,
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


def test_nist_8_4_1_3():
    found = weibull(NIST_HOURS, NIST_FAILED)
    assert found.shape.value == printed("g01", "PUB+LIB")
    assert found.scale.value == printed("g02", "PUB+LIB")
    assert found.log_likelihood == printed("g03", "PUB+LIB")
    assert found.mean.value == printed("g04", "PUB+LIB")
    assert found.sd == printed("g05", "PUB+LIB")
    assert (found.parts, found.failures, found.total_hours) == (20, 10, 7771)
    assert found.notes == ()


def test_nelson_generator_fans():
    found = weibull(*fans())
    assert found.shape.value == printed("g09", "MEM+LIB")
    assert found.scale.value == printed("g10", "MEM+LIB")


def test_nelson_generator_fans_by_the_exponential():
    found = weibull(*fans(), shape=1.0)
    assert found.mean.value == printed("g11", "MEM+LIB")
    assert found.scale == found.mean
    assert found.sd == approx(found.mean.value, rel=1e-12)
    # By hand with the chi-squares of NIST e-Handbook 1.3.6.7.4 (from memory): 38.885 is the
    # upper 5 % point for 2 x 12 + 2, 13.848 the lower for 2 x 12; three decimals are printed.
    assert found.mean.low == approx(2 * 344440 / 38.885, rel=2e-5)
    assert found.mean.high == approx(2 * 344440 / 13.848, rel=5e-5)
    # Worked by hand: -r (log(T/r) + 1).
    assert found.log_likelihood == approx(-12 * (np.log(344440 / 12) + 1), rel=1e-12)


def test_mileage_none_censored():
    miles = column("mileage.csv", "miles")
    assert weibull(miles, [1] * 100).shape.value == printed("g23", "LIB")


# Late entry, by hand


def test_late_entry_leaves_out_the_hours_before():
    # 1,200 hours in all, 700 of them before the record began: 500 watched, two failures.
    found = weibull([300, 500, 400], [1, 1, 0], [200, 300, 200], shape=1.0)
    assert found.total_hours == 500
    assert found.mean.value == approx(250, rel=1e-14)


def test_late_entry_with_a_stated_shape():
    # scale^2 = (300^2 - 100^2 + 400^2 - 300^2) / 1 = 150,000.
    found = weibull([300, 400], [1, 0], [100, 300], shape=2)
    assert found.scale.value == approx(np.sqrt(150_000), rel=1e-14)
    assert found.shape == Interval(2, 2, 2)


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
    life = weibull([1000, 1200], [1, 0], shape=1.0)
    assert weibull_lasting(life, 100, age=900).chance == approx(np.exp(-100 / 2200), rel=1e-12)


def test_hours_in_which_a_share_fails():
    life = weibull([1000, 1200], [1, 0], shape=1.0)
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
    found = weibull([500, 700, 0], [0, 0, 0], shape=1.0)
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
    assert weibull([500, 700], [1, 0], shape=1.0).mean.value == approx(1200, rel=1e-14)


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
