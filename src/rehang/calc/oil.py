"""Wear metal in oil that is used up and topped up: from what the laboratory found to a rate.

Volumes are in any one unit, the same throughout; times are in running hours; a concentration is
in any one unit, parts per million as a rule. A rate is metal made in an hour, as concentration
times volume; divided by the fill it is the rise an hour that undiluted oil would show.
Oil that is used takes its metal with it; oil that is added has none, and mixes at once.

concentration: what the laboratory found.
makeup: clean oil added in an hour, and oil used.
use: oil used in an hour.
topups: clean oil added: when and how much; in order.
volume: oil in the engine; where it falls, at the fill.
hours: from the fill to the sample.
start: concentration at the fill, of residual oil.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from rehang.calc import _inputs as check
from rehang.calc._inputs import FloatArray
from rehang.calc.errors import OutOfRange
from rehang.calc.uncertainty import resolution_standard_uncertainty
from rehang.calc.units import (
    Concentrations,
    ConcentrationsOut,
    MetalOut,
    MetalPerHour,
    MetalPerHourOut,
    Ratios,
    RunningHour,
    RunningHours,
    Volume,
    VolumePerHour,
    Volumes,
    VolumesPerHour,
)


@dataclass(frozen=True, slots=True)
class TopUp:
    """Clean oil added."""

    hours: RunningHour  # running hours since the fill
    volume: Volume


@dataclass(frozen=True, slots=True)
class OilPoint:
    """The oil at a top-up, or at the end."""

    hours: RunningHour
    volume: Volume  # after the top-up
    before: ConcentrationsOut  # concentration
    after: ConcentrationsOut


@dataclass(frozen=True, slots=True)
class OilStory:
    """What a wear rate makes of a fill of oil, top-up by top-up."""

    points: tuple[OilPoint, ...]  # one for each top-up, and the end
    concentration: ConcentrationsOut  # at the end
    volume: Volume  # at the end
    generated: MetalOut  # metal made
    lost: MetalOut  # metal gone with the oil used


# Level kept: clean oil added as fast as oil is used


def makeup_concentration(
    rate: MetalPerHour,
    makeup: VolumesPerHour,
    volume: Volumes,
    hours: RunningHours,
    start: Concentrations = 0.0,
) -> ConcentrationsOut:
    r"""Concentration after a time, the level kept by a steady flow of clean oil.

    .. math:: V \frac{dC}{dt} = G - Q C, \qquad
              C = \frac{G}{Q} \left( 1 - e^{-Qt/V} \right) + C_0 e^{-Qt/V}

    rate: metal made.

    With a make-up of 0 the metal simply gathers: C0 + G t / V.

    Source: mass balance as in D. P. Anderson and R. D. Driver, Equilibrium particle concentration
    in engine oil, Wear 56 (1979); the equation from memory, not read in the paper itself.
    No printed value: two programs agree, see ``tests/published/test_oil.py``.

    >>> round(makeup_concentration(2.5e-3, 0.25, 10, 50), 6)
    0.007135
    """
    g = check.at_least_zero("The wear rate", rate)
    start_c = check.at_least_zero("The concentration at the start", start)
    v, t, x = _flushed(makeup, volume, hours)
    return check.plain(np.asarray(g * t / v / _stretch(x) + start_c * np.exp(-x)))


def makeup_rate(
    concentration: Concentrations,
    makeup: VolumesPerHour,
    volume: Volumes,
    hours: RunningHours,
    start: Concentrations = 0.0,
) -> MetalPerHourOut:
    r"""Wear rate from a concentration, the level kept by a steady flow of clean oil.

    .. math:: G = Q\, \frac{C - C_0 e^{-Qt/V}}{1 - e^{-Qt/V}}

    Below 0 when residual oil alone would show more than was found. Reads a few per cent below the
    same oil added a quart at a time, because then the oil sampled has just been diluted.

    Source: as `makeup_concentration`, solved for the rate.
    No printed value: checked as its inverse, and against five drains worked by hand, in
    ``tests/published/test_oil.py``.

    >>> round(makeup_rate(32, 4 / 48, 8, 48) * 50 / 8, 1)
    42.4
    """
    c = check.at_least_zero("The concentration", concentration)
    start_c = check.at_least_zero("The concentration at the start", start)
    v, t, x = _flushed(makeup, volume, check.above_zero("The running time", hours))
    return check.plain(np.asarray((c - start_c * np.exp(-x)) * _stretch(x) * v / t))


# Level falling between top-ups


def follow_oil(
    rate: MetalPerHour,
    use: VolumePerHour,
    volume: Volume,
    hours: RunningHour,
    topups: Sequence[TopUp] = (),
    start: Concentrations = 0.0,
) -> OilStory:
    r"""Concentration from the fill to the drain, through each top-up as it happened.

    Between top-ups the level falls as oil is used; each top-up mixes in at once. The balance that
    closes it:

    .. math:: C(t) = C_0 + \frac{G}{q} \ln \frac{V}{V - q t}, \qquad
              G\,T = C_\mathrm{end} V_\mathrm{end} - C_0 V_0 + \int q\, C\, dt

    rate: metal made, one for each element.

    A top-up at the hour of the sample is mixed in before it. The metal lost is added up by its
    own integral, so that the balance is a check and not a definition.

    Refused: a top-up out of order, before the fill or after the sample; oil used up.

    Source: mass balance; no source of its own.
    No printed value: two programs agree, and a solver of the differential equation, see
    ``tests/published/test_oil.py``.

    >>> quarts = [TopUp(hours, 1.0) for hours in (10, 20, 30, 40)]
    >>> round(follow_oil(1, 0.1, 8, 50, quarts).concentration, 4)
    5.2034
    """
    g = check.at_least_zero("The wear rate", rate)
    first = check.at_least_zero("The concentration at the start", start)
    q = float(check.at_least_zero("The oil use", use))
    v = float(check.above_zero("The volume", volume))
    end = float(check.at_least_zero("The running time", hours))
    c = np.asarray(first + 0.0 * g)
    lost = np.zeros_like(c)
    now = 0.0
    points = []
    for step in (*_in_order(topups, end), TopUp(end, 0.0)):
        span = step.hours - now
        # Share of the oil that is used until then.
        x = q * span / v
        if not x < 1:
            raise OutOfRange(
                f"At this use the engine would be out of oil by {now + v / q:g} h: "
                f"got {q:g} an hour and {v:g} in it at {now:g} h."
            )
        lower = v * (1.0 - x)
        # ln(v / lower) over x, which is 1 where nothing is used.
        log_over_x = -np.log1p(-x) / x if x > 0 else 1.0
        risen = g * span / v * log_over_x
        # The integral of C dV from the lower level up to the higher one.
        lost = lost + c * (v - lower) + g * span * (1.0 - (1.0 - x) * log_over_x)
        before = c + risen
        c = np.asarray(before * (lower / (lower + step.volume)))
        v, now = lower + step.volume, step.hours
        points.append(OilPoint(now, v, check.plain(np.asarray(before)), check.plain(c)))
    return OilStory(
        points=tuple(points),
        concentration=check.plain(c),
        volume=v,
        generated=check.plain(np.asarray(g * end + 0.0 * c)),
        lost=check.plain(np.asarray(lost)),
    )


def topup_rate(
    concentration: Concentrations,
    use: VolumePerHour,
    volume: Volume,
    hours: RunningHour,
    topups: Sequence[TopUp] = (),
    start: Concentrations = 0.0,
) -> MetalPerHourOut:
    r"""Wear rate from a concentration, through each top-up as it happened.

    .. math:: g = \frac{C - C(g = 0)}{C(g = 1) - C(g = 0)}

    concentration: what the laboratory found, one for each element.

    Below 0 when residual oil alone would show more than was found. The concentration is a straight
    line in the rate, whatever the top-ups were.

    Source: `follow_oil`, solved for the rate.
    No printed value: checked as its inverse in ``tests/published/test_oil.py``.

    >>> quarts = [TopUp(hours, 1.0) for hours in (10, 20, 30, 40)]
    >>> round(topup_rate(5.2033558537, 0.1, 8, 50, quarts), 6)
    1.0
    """
    c = check.at_least_zero("The concentration", concentration)
    t = float(check.above_zero("The running time", hours))
    each = np.asarray(follow_oil(1.0, use, volume, t, topups).concentration)
    left = np.asarray(follow_oil(0.0, use, volume, t, topups, start).concentration)
    return check.plain(np.asarray((c - left) / each))


# What a rate is worth, and what is told beside it


def below_detection(limit: Concentrations) -> tuple[ConcentrationsOut, ConcentrationsOut]:
    r"""Value and standard uncertainty to use for a figure given as less than a limit.

    .. math:: y = \frac{a}{2}, \qquad u = \frac{a}{\sqrt{12}}

    limit: what it is less than; 2 for "<2".

    All that is known is that it is from 0 to the limit: the middle of that, and its standard
    uncertainty. Keep the "<" beside what is shown.

    Source: JCGM 100:2008, 4.3.7, equations (6) and (7): only bounds known.
    No printed value: worked by hand in ``tests/published/test_oil.py``.

    >>> value, u = below_detection(2)
    >>> value, round(u, 3)
    (1.0, 0.577)
    """
    a = check.at_least_zero("The limit of detection", limit)
    return check.plain(np.asarray(a / 2.0)), resolution_standard_uncertainty(a)


def carried_over(concentration: Concentrations, residual_share: Ratios) -> ConcentrationsOut:
    r"""Concentration of a new fill from the old oil that did not drain.

    .. math:: C_0 = s\, C_\mathrm{old}

    concentration: of the oil drained.
    residual_share: old oil as a share of the new fill, from 0 to 1.

    Oil in the cooler, the galleries and the filter; the share is a property of the engine and
    of how long it was left to drain.

    Source: "Factoring Residual Oil Into Wear Rate", a practice article on oil analysis.
    Checked in ``tests/published/test_oil.py``: 15 % of 80 ppm.

    >>> carried_over(80, 0.15)
    12.0
    """
    c = check.at_least_zero("The concentration", concentration)
    s = check.at_least_zero("The share of old oil", residual_share)
    if not (s <= 1).all():
        raise OutOfRange(
            f"The share of old oil must be from 0 to 1 (15 % is 0.15): got {check.shown(s)}."
        )
    return check.plain(np.asarray(s * c))


def undiluted_upper_bound(
    concentration: Concentrations,
    added: Volumes,
    volume: Volumes,
    hours: RunningHours,
    basis: RunningHours = 50.0,
) -> ConcentrationsOut:
    r"""Simple correction for top-ups: as if all the metal were in the fill and the oil added.

    .. math:: C_\mathrm{max} = C\, \frac{V + A}{V}\, \frac{T_\mathrm{basis}}{T}

    added: all the oil added since the fill.
    volume: oil in the engine when full.
    basis: running time to bring it to.

    An upper bound: it takes the oil used to have left with as much metal as the sample has,
    where most of it left with less. Shown beside the mass balance, not instead of it.

    Source: common practice, no source.
    No printed value: worked by hand in ``tests/published/test_oil.py``.

    >>> undiluted_upper_bound(32, 4, 8, 48)
    50.0
    """
    c = check.at_least_zero("The concentration", concentration)
    a = check.at_least_zero("The oil added", added)
    v = check.above_zero("The volume", volume)
    t = check.above_zero("The running time", hours)
    to = check.above_zero("The basis", basis)
    return check.plain(np.asarray(c * (v + a) / v * to / t))


def _flushed(
    makeup: ArrayLike, volume: ArrayLike, hours: ArrayLike
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Volume, time, and how many times over the make-up would have filled the engine."""
    q = check.at_least_zero("The make-up", makeup)
    v = check.above_zero("The volume", volume)
    t = check.at_least_zero("The running time", hours)
    return v, t, np.asarray(q * t / v)


def _stretch(x: FloatArray) -> FloatArray:
    """x / (1 - e^-x), which is 1 at 0."""
    safe = np.where(x > 0, x, 1.0)
    return np.asarray(np.where(x > 0, safe / -np.expm1(-safe), 1.0))


def _in_order(topups: Sequence[TopUp], end: float) -> list[TopUp]:
    last = 0.0
    for step in topups:
        hours = float(check.at_least_zero("The hour of a top-up", step.hours))
        check.at_least_zero("The oil added", step.volume)
        if hours < last:
            raise OutOfRange(
                f"Top-ups must be in the order they were made: got {hours:g} h after {last:g} h."
            )
        if hours > end:
            raise OutOfRange(
                f"A top-up must not be after the sample: got {hours:g} h, the sample at {end:g} h."
            )
        last = hours
    return list(topups)
