"""What stands out: a reading, a meter, one of several fellows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from rehang.calc import _inputs as check
from rehang.calc._inputs import BoolArray, FloatArray, IntArray
from rehang.calc.errors import OutOfRange
from rehang.calc.units import (
    Count,
    Index,
    Marks,
    Ratio,
    RunningHours,
    SameUnit,
    Values,
    Variance,
    Variances,
)
from rehang.calc.wear._likelihood import TINY, labelled
from rehang.calc.wear.forecast import Forecast


@dataclass(frozen=True, slots=True)
class Jump:
    """A reading against what had been forecast for it."""

    expected: float  # median of the forecast [value]
    low: float  # no jump down to here [value]; -inf or 0 where only a rise counts
    high: float  # no jump up to here [value]; inf where only a fall counts
    deviate: Ratio  # the reading as a standard normal deviate of the forecast
    probability: Ratio  # chance of a reading as far out, if nothing has happened
    false_alarm: Ratio  # the rate it was judged at
    is_jump: bool


def jump(
    found: Forecast,
    value: SameUnit,
    *,
    side: Literal["both", "above", "below"] = "both",
    false_alarm: Ratio = 0.01,
) -> Jump:
    r"""Whether a reading is a jump against the history before it.

    .. math:: p = 2 \min\bigl(F(y), 1 - F(y)\bigr),\qquad z = \Phi^{-1}\bigl(F(y)\bigr)

    found: what the readings before this one foretold of it, its meter counted.
    side: what counts: any jump, a rise, or a fall.
    false_alarm: how often a reading after which nothing has happened is called a jump.

    The reading must not be in the fit itself. The rate of false alarms holds as far as the
    intervals of the fit hold.

    Source: probability integral transform: Dawid 1984, Journal of the Royal Statistical Society A
    147, 278-292 (from memory).
    No printed value: the rate is counted in simulated shops, in
    ``tests/properties/test_calc_wear.py`` and ``bench/wear.py``.

    >>> from rehang.calc.wear import fit
    >>> before = fit(["K1"] * 4, [0, 100, 200, 300], [16, 17.1, 17.9, 19], [0.01] * 4)
    >>> [jump(before.at("K1", 100, meter_variance=0.01), value).is_jump for value in (20, 24)]
    [False, True]
    """
    from scipy.special import ndtri

    rate = check.between("The rate of false alarms", false_alarm)
    reading = float(check.finite("The reading", value))
    below = found.chance_below(reading)
    tail = {"both": 2 * min(below, 1 - below), "above": 1 - below, "below": below}[side]
    tail = min(max(tail, 0.0), 1.0)
    least = 0.0 if found.scale == "log" else -np.inf
    share = rate / 2 if side == "both" else rate
    return Jump(
        expected=found.median,
        low=least if side == "above" else found.quantile(share),
        high=np.inf if side == "below" else found.quantile(1 - share),
        # As far out as a float can tell: 1 - 1e-16.
        deviate=float(ndtri(min(max(below, 1e-300), 1 - 1e-16))),
        probability=tail,
        false_alarm=rate,
        is_jump=tail < rate,
    )


@dataclass(frozen=True, slots=True)
class Difference:
    """How one meter reads against its peers."""

    difference: float  # this meter less the others [value]
    sd: float  # of the difference [value]
    dof: Ratio  # inf where the variances are known
    items: Count  # that both had read
    probability: Ratio  # chance of a difference as large, if there is none
    false_alarm: Ratio  # the rate it was judged at
    differs: bool


def meter_difference(
    items: Sequence[object],
    is_this_meter: Marks,
    values: Values,
    hours: RunningHours | None = None,
    variances: Variances | None = None,
    *,
    allowed: SameUnit = 0.0,
    false_alarm: Ratio = 0.01,
) -> Difference:
    r"""How one meter reads against its peers on the same items.

    .. math:: y_{ij} = \alpha_i + r_i t_{ij} + \delta\,m_{ij} + e_{ij}

    is_this_meter: whether the reading was taken with the meter in question.
    values: readings; their logarithms where meters differ by a factor.
    hours: where items wear between readings; None where what one item reads has not changed.
    variances: of each reading's repeatability; None where it is to be learned from the readings.
    allowed: how far apart the meters may read by what both are good to.
    false_alarm: how often meters that read no farther apart are called different, at most.

    Each item has its own level, and its own line where hours are given; an item that only one
    of them has read says nothing of the difference. With equal weights and one reading by each
    it is the paired t test. With `allowed` it is what is beyond that that is tested, so meters that
    both keep what is said of them are called different no more often than stated.

    Refused: no item that was read by both; no readings to spare and no variances.

    Source: Student 1908, Biometrika 6, 1-25; analysis of covariance with items as blocks: common
    practice, no source.
    Checked in ``tests/published/test_mixed_models.py``: Student's sleep data, printed by R as
    t = -4.0621 at 9 degrees of freedom, p = 0.002833.

    >>> found = meter_difference("aabbcc", [False, True] * 3, [10, 11.1, 12, 13, 9, 9.9])
    >>> round(found.difference, 2), round(found.sd, 3), found.items
    (1.0, 0.058, 3)
    """
    from scipy.special import ndtr, stdtr

    rate = check.between("The rate of false alarms", false_alarm)
    least = float(check.at_least_zero("What is allowed", allowed))
    labels, item = labelled(items)
    y = check.finite("A reading", values)
    mine = np.asarray(is_this_meter, dtype=bool)
    t = np.zeros(len(item)) if hours is None else check.finite("The hours", hours)
    v = np.ones(len(item)) if variances is None else check.above_zero("A variance", variances)
    if any(a.shape != (len(item),) for a in (y, mine, t, v)):
        raise OutOfRange("Give one item, one meter, one value and one variance for each reading.")
    if not len(item):
        raise OutOfRange("There is no reading to compare.")
    w, m, rest, told, both, slopes = _within_items(item, t, mine, y, v)
    information = float(told[both].sum())
    if not both.any():
        raise OutOfRange(
            "No item was read both with this meter and with another, so they cannot be compared."
        )
    difference = float((w * m) @ rest) / information
    if variances is None:
        dof: float = len(item) - len(labels) - slopes - 1
        if dof < 1:
            raise OutOfRange(
                "There are no readings to spare to learn the spread from: read another item with "
                "both meters, or give the variances."
            )
        left = rest - difference * m
        scatter = float((w * left) @ left) / dof
    else:
        dof, scatter = np.inf, 1.0
    sd = float(np.sqrt(scatter / information))
    beyond = max(abs(difference) - least, 0.0)
    if sd > 0:
        chance = 2 * float(ndtr(-beyond / sd) if np.isinf(dof) else stdtr(dof, -beyond / sd))
    else:
        chance = 1.0 if beyond == 0 else 0.0
    return Difference(
        difference=difference,
        sd=sd,
        dof=dof,
        items=int(both.sum()),
        probability=chance,
        false_alarm=rate,
        differs=chance < rate,
    )


def _within_items(
    item: IntArray, t: FloatArray, mine: BoolArray, y: FloatArray, v: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, BoolArray, int]:
    """Each item's own level and line taken out of the mark of the meter and of the values.

    Weights, what is left of mark and value, how much each item tells, whether it was read by
    both, and how many slopes were taken.
    """
    order = np.argsort(item, kind="stable")
    starts = np.searchsorted(item[order], np.arange(item.max() + 1))
    w = 1 / v[order]
    columns = np.array([t, mine * 1.0, y])[:, order]
    sizes = np.diff(np.append(starts, len(item)))
    by = np.add.reduceat(w, starts)
    columns = columns - np.repeat(np.add.reduceat(w * columns, starts, axis=1) / by, sizes, axis=1)
    run = np.add.reduceat(w * columns[0] ** 2, starts)
    sloped = run > 1e-12 * max(float(run.max()), TINY)
    slope = np.add.reduceat(w * columns[0] * columns[1:], starts, axis=1) / np.where(
        sloped, run, 1.0
    )
    m, rest = columns[1:] - np.repeat(np.where(sloped, slope, 0.0), sizes, axis=1) * columns[0]
    told = np.add.reduceat(w * m * m, starts)
    both = told > 1e-9 * by
    return w, m, rest, told, both, int(sloped.sum())


@dataclass(frozen=True, slots=True)
class Apart:
    """The one of several fellows that is farthest from the others."""

    which: Index
    others_mean: float  # [value]
    difference: float  # from the others' mean [value]
    deviate: Ratio  # Student's t of the difference
    probability: Ratio  # chance of any one as far out, if all are alike
    false_alarm: Ratio  # the rate it was judged at
    is_apart: bool


def apart(values: Values, meter_variance: Variance = 0.0, *, false_alarm: Ratio = 0.05) -> Apart:
    r"""Whether one of several fellows is apart from the others.

    .. math:: t_i = \frac{y_i - \bar y_{(i)}}{s_{(i)} \sqrt{n/(n-1)}},\qquad
              p = \min\bigl(1, n\,P(|T_{n-2}| > \max_i |t_i|)\bigr)

    values: one of each, three or more.
    meter_variance: that the meter alone gives a value, its resolution included; the others are not
        taken to be closer together than that.
    false_alarm: how often one of fellows that are alike is called apart.

    The mean and the standard deviation are those of the others, without the one in question.
    With few fellows only a large difference is found: of four, one must be more than ten
    standard deviations of the others away at a rate of 0.05.

    Source: Grubbs 1969, Technometrics 11, 1-21, in the form with one left out (from memory).
    Checked in ``tests/published/test_mixed_models.py``: Grubbs's two-sided critical values.

    >>> found = apart([76, 75, 59, 74], meter_variance=1.0)
    >>> found.which, found.others_mean, found.is_apart
    (2, 75.0, True)
    """
    from scipy.special import stdtr

    rate = check.between("The rate of false alarms", false_alarm)
    y = check.finite("A value", values)
    floor = float(check.at_least_zero("The meter's variance", meter_variance))
    n = y.size
    if y.ndim != 1 or n < 3:
        raise OutOfRange(f"To find one apart takes three values or more: got {n}.")
    others = (y.sum() - y) / (n - 1)
    about = y[np.newaxis, :] - others[:, np.newaxis]
    np.fill_diagonal(about, 0.0)
    variance = np.maximum((about**2).sum(axis=1) / (n - 2), floor)
    gap = y - others
    # Rounding of a mean of equal values is not a difference.
    gap = np.where(np.abs(gap) <= 1e-12 * np.abs(y).max(), 0.0, gap)
    width = np.sqrt(variance * n / (n - 1))
    t = np.where(
        gap == 0, 0.0, np.divide(gap, width, out=np.copysign(np.inf, gap), where=width > 0)
    )
    which = int(np.argmax(np.abs(t)))
    chance = min(1.0, 2 * n * float(stdtr(n - 2, -abs(float(t[which])))))
    return Apart(
        which=which,
        others_mean=float(others[which]),
        difference=float(gap[which]),
        deviate=float(t[which]),
        probability=chance,
        false_alarm=rate,
        is_apart=chance < rate,
    )
