"""What a life says of the hours ahead."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rehang.calc import _inputs as check
from rehang.calc._inputs import FloatArray
from rehang.calc._said import said
from rehang.calc.life._edge import Interval, peak
from rehang.calc.life._watched import share_given
from rehang.calc.life.fitting import Weibull
from rehang.calc.units import Ratio, RatiosOut, RunningHour, RunningHours


@dataclass(frozen=True, slots=True)
class Lasting:
    """Chance of lasting so many hours more, with its ends; nan where the data carry none."""

    chance: RatiosOut
    low: RatiosOut
    high: RatiosOut
    notes: tuple[str, ...]


def weibull_lasting(life: Weibull, hours: RunningHours, *, age: RunningHours = 0.0) -> Lasting:
    r"""Chance that a part of some age lasts so many hours more.

    .. math:: R(h \mid a) = \exp\left[\left(\frac{a}{\eta}\right)^\beta
              - \left(\frac{a+h}{\eta}\right)^\beta\right]

    life: from `weibull`.
    age: that the part has reached; 0 for a new one.

    Beyond the oldest part on record the answer rests on the Weibull form alone, and a note says
    so.

    Source: NIST/SEMATECH e-Handbook of Statistical Methods, 8.1.6.2 (Weibull reliability); Meeker
    and Escobar 1998, Statistical Methods for Reliability Data, chapter 8 (likelihood intervals of
    functions; from memory).
    No printed value: at the scale a new part's chance is exp(-1), in
    ``tests/published/test_life.py``; intervals against a brute search of the likelihood in
    ``tests/properties/test_calc_life.py``.

    >>> from rehang.calc.life import weibull
    >>> life = weibull([400, 650, 950], [1, 0, 1], shape=1.0)
    >>> round(weibull_lasting(life, 100, age=900).chance, 4)
    0.9048
    """
    more = check.at_least_zero("The hours", hours)
    old = check.at_least_zero("The age", age)
    more, old = np.broadcast_arrays(more, old)
    edge = life.edge
    if edge is None:
        nothing = np.full(more.shape, np.nan)
        return Lasting(
            check.plain(nothing),
            check.plain(np.zeros(more.shape)),
            check.plain(np.ones(more.shape)),
            life.notes,
        )
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        log_from = np.log(old / life.longest)[..., np.newaxis]
        log_to = np.log((old + more) / life.longest)[..., np.newaxis]
        # What is used up: k times the integral of u^(shape - 1) over the hours asked for.
        ratio = np.log1p(more / old)[..., np.newaxis]

        def log_spent(beta: FloatArray, log_k: FloatArray) -> FloatArray:
            passed = np.where(np.isneginf(log_from), 0.0, np.log(-np.expm1(-beta * ratio)))
            return np.asarray(log_k - np.log(beta) + beta * log_to + passed)

        value = np.exp(-np.exp(log_spent(*_best(life))[..., 0]))
        low = np.exp(-np.exp(peak(log_spent(edge.shapes, edge.log_k_high))))
        high = np.exp(-np.exp(-peak(-log_spent(edge.shapes, edge.log_k_low))))
    still = more == 0
    value, low, high = (np.where(still, 1.0, v) for v in (value, low, high))
    beyond = said(
        (
            (old + more > life.longest) & ~still,
            f"No part on record is older than {life.longest:g} hours: beyond that the chance "
            "rests on the Weibull form alone.",
        )
    )
    return Lasting(check.plain(value), check.plain(low), check.plain(high), (*life.notes, *beyond))


def _best(life: Weibull) -> tuple[FloatArray, FloatArray]:
    """Shape and log k of the estimate; nan where there is none."""
    beta = life.shape.value
    log_k = np.log(beta) - beta * np.log(life.scale.value / life.longest)
    return np.array([beta]), np.array([log_k])


def weibull_hours(life: Weibull, share: Ratio, *, age: RunningHour = 0.0) -> Interval:
    r"""Hours in which a share of the parts of some age will have failed.

    .. math:: h = \left[a^\beta - \eta^\beta \ln(1-p)\right]^{1/\beta} - a

    life: from `weibull`.
    share: that will have failed; 0.05 for the 5 % life, 0.5 for the median.
    age: that the parts have reached; 0 for new ones.

    Hours from now, the inverse of `weibull_lasting`.

    Source: as `weibull_lasting`.
    No printed value: for a shape of 1 it is -mean ln(1 - share), in
    ``tests/published/test_life.py``; `weibull_lasting` gives it back in
    ``tests/properties/test_calc_life.py``.

    >>> from rehang.calc.life import weibull
    >>> life = weibull([400, 650, 950], [1, 0, 1], shape=1.0)
    >>> round(weibull_hours(life, 0.5).value, 1)
    693.1
    """
    p = share_given("The share", share)
    old = float(check.at_least_zero("The age", age))
    edge = life.edge
    if edge is None:
        return Interval(np.nan, 0.0, np.inf)
    log_needed = np.log(-np.log1p(-p))

    def log_hours(beta: FloatArray, log_k: FloatArray) -> FloatArray:
        used = log_needed + np.log(beta) - log_k
        if not old:
            return np.asarray(used / beta + np.log(life.longest))
        # (1 + used/a^shape)^(1/shape) - 1, times the age.
        grown = np.logaddexp(0.0, used - beta * (np.log(old) - np.log(life.longest))) / beta
        # log(e^x - 1), which neither overflows nor cancels.
        return np.asarray(grown + np.log(-np.expm1(-grown)) + np.log(old))

    with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
        value = float(np.exp(log_hours(*_best(life))[0]))
        low = float(np.exp(-peak(-log_hours(edge.shapes, edge.log_k_high))))
        high = float(np.exp(peak(log_hours(edge.shapes, edge.log_k_low))))
    return Interval(value, low, high)
