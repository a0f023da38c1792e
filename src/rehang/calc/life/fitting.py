"""The Weibull life that the data carry."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from rehang.calc import _inputs as check
from rehang.calc._inputs import FloatArray
from rehang.calc.life._edge import Edge, Interval, peak
from rehang.calc.life._watched import (
    Lives,
    lives_of,
    log_areas_of,
    profile_of,
    share_given,
    watched,
)
from rehang.calc.units import Count, Marks, Ratio, RunningHour, RunningHours

# Points on the edge of the likelihood region; a parabola through the three highest makes of
# them six digits and more.
EDGE = 161
# Taken for a shape of 0: no age on record makes a difference with it.
LOG_NO_SHAPE = -20.0
# Below this many failures a likelihood interval holds less than it says; how much is measured
# by `make bench`.
FEW = 10


@dataclass(frozen=True, slots=True)
class Weibull:
    """A Weibull life: what the data say of it, and how far."""

    shape: Interval  # [-]
    scale: Interval  # age that 36.8 % outlive [h]
    mean: Interval  # [h]
    sd: RunningHour  # of life from part to part
    log_likelihood: Ratio  # of hours; nan where nothing was estimated
    failures: Count
    parts: Count
    total_hours: RunningHour  # under watch, all parts together
    longest: RunningHour  # age of the oldest part
    edge: Edge | None = field(repr=False)
    notes: tuple[str, ...]


NO_FAILURE = (
    "No failure is on record: the hours have no upper end of life in them, only a lower one, and "
    "that for a stated shape."
)
ONE_FAILURE = (
    "One failure carries one number and a Weibull life has two: state a shape, 1 if nothing is "
    "known of it, and the scale follows."
)
TWO_FAILURES = (
    "Two failures hardly carry a shape (how it comes out on average has no finite value): read "
    "its ends, not its value."
)


def weibull(
    hours: RunningHours,
    failed: Marks,
    entered: RunningHours | None = None,
    *,
    shape: Ratio | None = None,
    confidence: Ratio = 0.90,
) -> Weibull:
    r"""Weibull life of parts of which some failed, some go on and some entered late.

    .. math:: \frac{\int M(u)\,u^{\beta-1}\ln u\,du}{\int M(u)\,u^{\beta-1}\,du}
              = \frac{1}{r}\sum_{i=1}^{r}\ln t_i,\qquad
              \eta^\beta = \frac{1}{r}\sum_j \left(t_j^\beta - e_j^\beta\right)

    hours: age of each part when it failed or was last seen sound; in any one unit of time.
    failed: whether it failed then.
    entered: age at which it came under watch; None for new.
    shape: known from elsewhere; None to estimate it.
    confidence: what the intervals ask for.

    What the data do not carry is nan, with a note. Estimated shape: intervals are those of the
    likelihood ratio, each over the whole region of the other parameter. Below ten failures they
    hold less than they say, and a note says so. None failed: no estimate. One failed: none without
    a stated shape; a single time fits one number. Two: the value is given, but the chance of a
    value above b falls no faster than 1/b, as for two times that happen to lie close, so that it
    has no mean. All failures at the longest age on record: every larger shape fits better, and none
    is given.

    Stated shape: the sum of t^shape under watch, over scale^shape, counts as exponential time.
    The ends are those of a chi-square with 2r degrees of freedom for the upper and 2r + 2 for
    the lower, which holds at least what it says when the watch ends at set hours. With no
    failure there is one end, and all of the confidence is on that side.

    Refused: hours that run backwards; a failure with no time under watch.

    Source: NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.1.3 (maximum likelihood) and
    8.4.5.1 (bounds with and without failures); Nelson 1985, Journal of Quality Technology 17,
    140-146 (stated shape); Lawless 2003, Statistical Models and Methods for Lifetime Data, 2nd
    edition, 2.4 and 5.2 (late entry, profile equation); the last two from memory.
    Checked in ``tests/published/test_life.py``: NIST 8.4.1.3 and Nelson's generator fans.

    >>> found = weibull([110, 250, 300, 420, 500, 500], [1, 1, 1, 1, 0, 0])
    >>> round(found.shape.value, 2), round(found.scale.value)
    (1.83, 462)
    """
    lives = lives_of(hours, failed, entered)
    confidence = share_given("The confidence", confidence)
    if shape is not None:
        return _stated(lives, float(check.above_zero("The shape", shape)), confidence)
    notes: list[str] = []
    if lives.failures == 0:
        notes.append(NO_FAILURE)
    elif lives.failures == 1:
        notes.append(ONE_FAILURE)
    elif lives.mean_log_failure == 0:
        notes.append(
            f"All failures came at {lives.longest:g}, the longest age on record: every larger "
            "shape fits better than the last, so none is given; state one."
        )
    if notes:
        return _unknown(lives, tuple(notes), Interval(np.nan, 0.0, np.inf))
    return _estimated(lives, confidence)


def _unknown(lives: Lives, notes: tuple[str, ...], shape: Interval) -> Weibull:
    nothing = Interval(np.nan, 0.0, np.inf)
    return Weibull(
        shape=shape,
        scale=nothing,
        mean=nothing,
        sd=np.nan,
        log_likelihood=np.nan,
        failures=lives.failures,
        parts=lives.parts,
        total_hours=lives.total_hours,
        longest=lives.longest,
        edge=None,
        notes=notes,
    )


def _stated(lives: Lives, shape: float, confidence: float) -> Weibull:
    from scipy.special import chdtri

    r = lives.failures
    notes: list[str] = []
    if not lives.log_exit.size:
        return _unknown(
            lives,
            ("No part has spent time under watch: nothing is known of its life.",),
            Interval(shape, shape, shape),
        )
    log_area = float(log_areas_of(lives, np.array([shape]))[0])
    if r:
        most = float(chdtri(2 * r + 2, (1 - confidence) / 2)) / 2
        least = float(chdtri(2 * r, (1 + confidence) / 2)) / 2
        best = np.log(r) - log_area
    else:
        most, least, best = -np.log1p(-confidence), 0.0, np.nan
        notes.append(
            f"No failure in {lives.total_hours:g} hours under watch: there is a lower end "
            f"of life, all {100 * confidence:g} % of the confidence on that side, and no more."
        )
    with np.errstate(divide="ignore"):
        edge = Edge(
            shapes=np.array([shape]),
            log_k_low=np.log(np.array([least])) - log_area,
            log_k_high=np.array([np.log(most) - log_area]),
        )
    likelihood = (
        r * (np.log(r) - 1 - log_area)
        + (shape - 1) * float(lives.log_exit[lives.failed].sum())
        - r * np.log(lives.longest)
        if r
        else np.nan
    )
    return _described(
        lives,
        Interval(shape, shape, shape),
        best,
        edge,
        float(likelihood),
        notes=tuple(notes),
    )


def _estimated(lives: Lives, confidence: float) -> Weibull:
    from scipy.optimize import brentq
    from scipy.special import chdtri

    r = lives.failures
    half_cut = float(chdtri(1, 1 - confidence)) / 2
    target = lives.mean_log_failure
    notes: list[str] = []

    def short_of(log_shape: float) -> float:
        areas = watched(lives, float(np.exp(log_shape)), 1).sum(axis=1)
        return float(areas[1] / areas[0]) - target

    def below(log_shape: float) -> float:
        """How far the likelihood is above its cut."""
        return profile_of(lives, float(np.exp(log_shape))) - top + half_cut

    all_late = bool(np.isfinite(lives.depth).all())
    if all_late and short_of(LOG_NO_SHAPE) >= 0:
        top = profile_of(lives, float(np.exp(LOG_NO_SHAPE)))
        high = float(np.exp(brentq(below, *_bracket(below, LOG_NO_SHAPE, upward=True), xtol=1e-11)))
        return _unknown(
            lives,
            (
                "Every part was already in service when its record began, and failures thin out "
                "with age faster than any Weibull life does: only an upper end of the shape is "
                "given.",
            ),
            Interval(np.nan, 0.0, high),
        )
    best = brentq(short_of, *_two_sided(short_of), xtol=1e-14, rtol=1e-14)
    shape = float(np.exp(best))
    top = profile_of(lives, shape)
    if all_late and below(LOG_NO_SHAPE) >= 0:
        low = 0.0
        notes.append(
            "Every part was already in service when its record began: the shape has no lower end "
            "above 0."
        )
    else:
        low = float(np.exp(brentq(below, *_bracket(below, best, upward=False), xtol=1e-11)))
    high = float(np.exp(brentq(below, *_bracket(below, best, upward=True), xtol=1e-11)))

    edge = _edge_of(lives, shape, (low, high), top, half_cut)
    if r == 2:
        notes.append(TWO_FAILURES)
    elif r < FEW:
        notes.append(
            f"Only {r} failures: the intervals hold somewhat less than the "
            f"{100 * confidence:g} % they ask for."
        )
    return _described(
        lives,
        Interval(shape, low, high),
        float(np.log(r) - log_areas_of(lives, np.array([shape]))[0]),
        edge,
        top - r * float(np.log(lives.longest)),
        notes=tuple(notes),
    )


def _edge_of(
    lives: Lives, shape: float, ends: tuple[float, float], top: float, half_cut: float
) -> Edge:
    """Where the log likelihood is so much below its top, from the lowest shape to the highest."""
    from scipy.special import lambertw

    low, high = ends
    r = lives.failures
    # Spaced by the cosine, in which what is read off the edge is smooth up to its ends.
    angles = np.linspace(0.0, np.pi, EDGE)
    floor = np.log(max(low, 1e-9 * shape)) if low else None
    if floor is not None:
        middle, half = (floor + np.log(high)) / 2, (np.log(high) - floor) / 2
        shapes = np.exp(middle - half * np.cos(angles))
    else:
        shapes = np.maximum(high / 2 * (1 - np.cos(angles)), 1e-9 * shape)
    log_areas = log_areas_of(lives, shapes)
    profile = (shapes - 1) * r * lives.mean_log_failure + r * (np.log(r) - 1 - log_areas)
    # At a shape, log L = profile + r (ln q + 1 - q) with q = k over its best value, and equals
    # the cut where q - 1 - ln q = room: two values, one on each branch of Lambert's function.
    room = np.maximum(profile - top + half_cut, 0.0) / r
    at = -np.exp(-1 - room)
    q_low = -np.real(lambertw(at, 0))
    q_high = -np.real(lambertw(at, -1))
    # At the very ends both are 1, where the branches meet and rounding may leave nan.
    q_low, q_high = (np.where(np.isfinite(q), q, 1.0) for q in (q_low, q_high))
    return Edge(
        shapes=shapes,
        log_k_low=np.log(r * q_low) - log_areas,
        log_k_high=np.log(r * q_high) - log_areas,
    )


def _bracket(
    function: Callable[[float], float], inside: float, *, upward: bool
) -> tuple[float, float]:
    """Two ends with a change of sign between them, in one direction from a point above 0."""
    step = 0.25 if upward else -0.25
    near, far = inside, inside + step
    while function(far) > 0:
        step *= 2
        near, far = far, far + step
    return (near, far) if upward else (far, near)


def _two_sided(function: Callable[[float], float]) -> tuple[float, float]:
    """Two ends about the root of an increasing function that is known to have one."""
    low, high, step = -0.5, 1.0, 1.0
    while function(high) < 0:
        low, high, step = high, high + step, 2 * step
    step = 1.0
    while function(low) > 0:
        low, high, step = low - step, low, 2 * step
    return low, high


def _described(
    lives: Lives,
    shape: Interval,
    log_k: float,
    edge: Edge,
    log_likelihood: float,
    notes: tuple[str, ...],
) -> Weibull:
    from scipy.special import gammaln

    log_longest = float(np.log(lives.longest))

    def log_scale(beta: FloatArray, log_rate: FloatArray) -> FloatArray:
        return np.asarray((np.log(beta) - log_rate) / beta + log_longest)

    def log_mean(beta: FloatArray, log_rate: FloatArray) -> FloatArray:
        return np.asarray(log_scale(beta, log_rate) + gammaln(1 + 1 / beta))

    def interval(function: Callable[[FloatArray, FloatArray], FloatArray]) -> Interval:
        value = function(np.array(shape.value), np.array(log_k))
        low = -peak(-function(edge.shapes, edge.log_k_high))
        high = peak(function(edge.shapes, edge.log_k_low))
        with np.errstate(over="ignore"):
            return Interval(*(float(np.exp(v)) for v in (value, low, high)))

    mean = interval(log_mean)
    # Coefficient of variation by logarithms, since both gammas overflow for a small shape.
    with np.errstate(over="ignore"):
        squares = np.expm1(gammaln(1 + 2 / shape.value) - 2 * gammaln(1 + 1 / shape.value))
    return Weibull(
        shape=shape,
        scale=interval(log_scale),
        mean=mean,
        sd=mean.value * float(np.sqrt(squares)),
        log_likelihood=log_likelihood,
        failures=lives.failures,
        parts=lives.parts,
        total_hours=lives.total_hours,
        longest=lives.longest,
        edge=edge,
        notes=notes,
    )
