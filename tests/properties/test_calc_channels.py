"""Channels beside each other in time, against numpy's and scipy's own functions."""

from __future__ import annotations

import numpy as np
import pytest
from pytest import approx
from scipy import stats

from rehang.calc.channels import apart, binned, modified_z, reduced, spreads, steps, stretches
from rehang.calc.errors import OutOfRange

SEED = np.random.default_rng(20261201)
NAN = float("nan")


@pytest.mark.parametrize("count", [1, 2, 3, 5, 8, 100])
def test_a_modified_z_is_scipys_median_deviation(count):
    x = SEED.normal(1400, 60, count)
    mad = stats.median_abs_deviation(x)
    if mad:
        assert modified_z(x) == approx(0.6745 * (x - np.median(x)) / mad, rel=1e-12)
    else:
        assert modified_z(x).tolist() == [0.0] * count


def test_of_values_that_are_half_alike_the_others_are_without_end():
    assert modified_z([5, 5, 5, 4, 9]).tolist() == [0, 0, 0, -np.inf, np.inf]


@pytest.mark.parametrize("cylinders", [2, 3, 4, 5, 6, 9])
@pytest.mark.parametrize("gaps", [0.0, 0.3])
def test_apart_is_what_numpy_says_of_the_others(cylinders, gaps):
    rows = SEED.integers(0, 9, (60, cylinders)).astype(float)
    rows[SEED.random(rows.shape) < gaps] = np.nan
    for row, found in zip(rows, apart(rows), strict=True):
        for one in range(cylinders):
            others = np.delete(row, one)
            others = others[~np.isnan(others)]
            if np.isnan(row[one]) or not others.size:
                assert np.isnan(found[one])
            else:
                assert found[one] == row[one] - np.median(others)


def test_a_spread_is_the_highest_less_the_lowest():
    rows = SEED.normal(0, 1, (50, 6))
    rows[SEED.random(rows.shape) < 0.2] = np.nan
    assert spreads(rows) == approx(np.nanmax(rows, axis=1) - np.nanmin(rows, axis=1))
    assert np.isnan(spreads([[1, NAN, NAN]])).all()


@pytest.mark.parametrize("window", [2.0, 5.0])
@pytest.mark.parametrize("gap", [0.0, 3.0])
def test_a_step_is_the_difference_of_two_means(window, gap):
    t = np.cumsum(SEED.uniform(0.5, 1.5, 80))
    x = SEED.normal(0, 1, 80)
    x[10:14] = np.nan
    found = steps(x, t, window, gap)
    assert np.isnan(found[0]) and np.isnan(found[-1])
    for at, value in zip(t, found, strict=True):
        if np.isnan(value):
            continue
        before = x[(t >= at - window) & (t < at)]
        after = x[(t >= at + gap) & (t < at + gap + window)]
        assert value == approx(np.nanmean(after) - np.nanmean(before), abs=1e-9)
    assert np.isfinite(found).sum() > 40


@pytest.mark.parametrize(
    ("marks", "at_least", "found"),
    [
        ("", 0, ()),
        ("1", 0, ((0, 0),)),
        ("0110", 10, ((1, 2),)),
        ("0110", 11, ()),
        ("111011", 10, ((0, 2), (4, 5))),
        ("0000", 0, ()),
    ],
)
def test_stretches_counted_by_hand(marks, at_least, found):
    times = [10.0 * n for n in range(len(marks))]
    if not marks:
        with pytest.raises(OutOfRange, match="one at the least"):
            stretches([], times, at_least)
        return
    assert stretches([one == "1" for one in marks], times, at_least) == found


@pytest.mark.parametrize("buckets", [1, 7, 40])
def test_reduced_keeps_every_peak(buckets):
    t, x = np.arange(500.0), SEED.normal(0, 1, 500)
    x[SEED.random(500) < 0.1] = np.nan
    found = reduced(x, t, buckets)
    assert np.nanmin(found[:, 0]) == np.nanmin(x) and np.nanmax(found[:, 1]) == np.nanmax(x)
    where = np.minimum((t / t[-1] * buckets).astype(int), buckets - 1)
    for one in range(buckets):
        part = x[where == one]
        assert found[one] == approx([np.nanmin(part), np.nanmax(part)])


def test_a_span_without_a_reading_is_missing():
    assert np.isnan(reduced([1, NAN, NAN, 2], [0, 1, 2, 3], 4)[1:3]).all()


def test_binned_is_numpys_median_of_each_span():
    by, x = SEED.uniform(600, 2700, 400), SEED.normal(60, 5, 400)
    for middle, value, count in binned(x, by, 200, 10):
        part = x[(by >= middle - 100) & (by < middle + 100)]
        assert (value, count) == (approx(np.median(part)), part.size)
    assert binned([NAN], [1000], 200, 1) == ()
    assert len(binned(x, by, 200, 10)) >= 10


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: modified_z([]), "one at the least"),
        (lambda: modified_z([1, NAN]), "finite number"),
        (lambda: apart([[1], [2]]), "two channels at the least"),
        (lambda: steps([1, 2], [0, -1], 1, 0), "never run backwards"),
        (lambda: steps([1], [0, 1], 1, 0), "a value for each moment"),
        (lambda: steps([1, 2], [0, 1], 0, 0), "window is above 0"),
        (lambda: stretches([1], [0, 1], 0), "a mark for each moment"),
        (lambda: reduced([1], [0], 0), "0 spans"),
        (lambda: binned([1], [1], 0, 1), "spans of 0"),
    ],
)
def test_what_cannot_be_worked_out_is_refused(call, said):
    with pytest.raises(OutOfRange, match=said):
        call()
