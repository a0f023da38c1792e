"""Which one of a few values, if any, does not belong with its fellows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite, sqrt
from statistics import fmean, stdev

from scipy.special import stdtrit

from rehang.calc.errors import OutOfRange
from rehang.calc.units import Count, Index, Ratio, SameUnit

__all__ = ["Grubbs", "critical_value", "grubbs"]

# Of two every value is as far from the mean as the other.
LEAST = 3


@dataclass(frozen=True, slots=True)
class Grubbs:
    """Grubbs' test of some values: the one farthest from their mean, and how far that is.

    ``index`` is its place among them, ``g`` its distance in standard deviations of all, ``critical``
    what ``g`` is held against; ``is_odd`` whether it is beyond.
    """

    index: Index
    mean: SameUnit
    g: Ratio
    critical: Ratio

    @property
    def is_odd(self) -> bool:
        return self.g > self.critical


def critical_value(n: Count, alpha: Ratio = 0.05, sides: Count = 2) -> Ratio:
    r"""What Grubbs' G is held against, of ``n`` values at the level ``alpha``.

    .. math:: \frac{n-1}{\sqrt n} \sqrt{\frac{t^2}{n-2+t^2}},\quad t = t_{1-\alpha/(s n),\, n-2}

    n: how many values, three or more. alpha: chance of naming one where none is odd. sides: 2 where
    the odd one may lie high or low, 1 where only one of these is asked about.

    Refused: fewer than three values; a level that is not between 0 and 1; other sides than 1 and 2.

    Source: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17.1, Grubbs' test for outliers.
    Its example, in ``tests/published/test_grubbs.py``: 8 values, one side, 0.05: 2.032 (from memory).

    >>> round(critical_value(8, 0.05, sides=1), 4)
    2.0317
    """
    if n < LEAST:
        raise OutOfRange(f"Grubbs' test takes {LEAST} values or more: got {n}.")
    if not 0 < alpha < 1:
        raise OutOfRange(f"A level lies between 0 and 1: got {alpha:g}.")
    if sides not in (1, 2):
        raise OutOfRange(f"A test has 1 side or 2: got {sides}.")
    t = float(stdtrit(n - 2, alpha / (sides * n)))
    return (n - 1) / sqrt(n) * sqrt(t * t / (n - 2 + t * t))


def grubbs(values: Sequence[SameUnit], alpha: Ratio = 0.05, sides: Count = 2) -> Grubbs:
    r"""Grubbs' test for one odd value among a few.

    .. math:: G = \max_i \frac{|y_i - \bar y|}{s}

    values: three or more of one kind. alpha, sides: see :func:`critical_value`; with one side the
    largest is asked about. Values that are all alike have none: G is 0.

    It names one and is not to be gone on with without that one: of six or fewer it would name most
    of them in the end (the same source).

    Refused: fewer than three values, or one that is not finite.

    Source: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17.1. Its example, in
    ``tests/published/test_grubbs.py``: the values below give G = 2.4687 (from memory).

    >>> found = grubbs([199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57], sides=1)
    >>> found.index, round(found.g, 3), found.is_odd
    (7, 2.469, True)
    """
    if not all(isfinite(one) for one in values):
        raise OutOfRange("Grubbs' test takes finite values.")
    critical = critical_value(len(values), alpha, sides)
    mean, spread = fmean(values), stdev(values)
    away = [abs(one - mean) if sides == 2 else one - mean for one in values]
    index = max(range(len(values)), key=away.__getitem__)
    return Grubbs(index, mean, away[index] / spread if spread else 0.0, critical)
