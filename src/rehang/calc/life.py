"""How long parts last: lives that ended, lives that go on, parts met when they were already old.

A part that still serves, or was taken off sound, is censored: it lasted at least so long. A part
that was in service when its record began entered late: it could not have been seen to fail
before. Both are counted for what they are, and neither may be left out.

The likelihood is that of a process whose rate is log-linear in the logarithm of age,

    rate(u) = k u^(shape - 1),  k = shape / scale^shape,

so that with M(u) parts under watch at age u and failures at t_1 ... t_r

    log L = r log k + (shape - 1) sum log t_i - k A(shape),  A = integral of M(u) u^(shape - 1) du.

k is known given the shape, k = r/A, and what is left is concave in the shape, with late entry
and without, because log A is a cumulant function. So there is one root at most, a bracket always
holds it, and whether there is one can be told beforehand. The region of likelihood about it has
an edge in closed form, and every interval here is read off that edge.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from rehang.calc import _inputs as check
from rehang.calc._inputs import BoolArray, FloatArray, FloatOrArray
from rehang.calc._said import said
from rehang.calc.errors import OutOfRange

# Points on the edge of the likelihood region; a parabola through the three highest makes of
# them six digits and more.
EDGE = 161

# Elements worked on at once, so that a large fleet needs megabytes and not gigabytes.
AT_ONCE = 1_000_000

# Taken for a shape of 0: no age on record makes a difference with it.
LOG_NO_SHAPE = -20.0

# Below this many failures a likelihood interval holds less than it says; how much is measured
# by `make bench`.
FEW = 10


# What goes in


@dataclass(frozen=True, slots=True)
class _Lives:
    """Parts with time under watch, in logarithms of age over the longest age."""

    log_exit: FloatArray  # (N,), at most 0
    depth: FloatArray  # (N,) log of exit over entry; inf where the part was met new
    failed: BoolArray  # (N,)
    kept: BoolArray  # which of the parts given have time under watch
    longest: float  # [h]
    parts: int
    failures: int
    total_hours: float
    late: bool
    mean_log_failure: float  # nan where none failed


def _columns(
    hours: ArrayLike, failed: ArrayLike, entered: ArrayLike | None
) -> tuple[FloatArray, BoolArray, FloatArray]:
    exits = check.at_least_zero("The hours", hours)
    marks = np.asarray(failed)
    entries = np.zeros(exits.shape) if entered is None else check.at_least_zero("Entry", entered)
    if exits.ndim != 1 or marks.shape != exits.shape or entries.shape != exits.shape:
        raise OutOfRange(
            "Give the hours of each part, whether a failure ended them and, where parts entered "
            f"late, at what age: got shapes {exits.shape}, {marks.shape} and {entries.shape}."
        )
    if not exits.size:
        raise OutOfRange("Give the hours of at least one part: got none.")
    if marks.dtype != np.bool_:
        if marks.dtype.kind not in "iuf" or not np.isin(marks, (0, 1)).all():
            raise OutOfRange(
                "Mark each part with 1 or True where a failure ended its hours, "
                "else with 0 or False."
            )
        marks = marks == 1
    if (backwards := entries > exits).any():
        k = int(np.argmax(backwards))
        raise OutOfRange(
            "A part's hours run forward: "
            f"got one that entered at {entries[k]:g} and was last seen at {exits[k]:g}."
        )
    if (unseen := marks & (entries == exits)).any():
        k = int(np.argmax(unseen))
        raise OutOfRange(
            "A failure needs time under watch before it: "
            f"got one at {exits[k]:g}, the age at which the part entered."
        )
    return exits, np.asarray(marks, dtype=np.bool_), entries


def _lives(hours: ArrayLike, failed: ArrayLike, entered: ArrayLike | None) -> _Lives:
    exits, marks, entries = _columns(hours, failed, entered)
    # No time under watch, nothing said.
    kept = exits > entries
    t, e, marked = exits[kept], entries[kept], marks[kept]
    longest = float(t.max()) if t.size else 0.0
    log_exit = np.log(t / longest)
    # Of the ratio and not of the two logarithms, so that a short watch keeps its digits.
    with np.errstate(divide="ignore"):
        depth = np.where(e > 0, np.log1p((t - e) / np.where(e > 0, e, 1.0)), np.inf)
    return _Lives(
        log_exit=log_exit,
        depth=depth,
        failed=marked,
        kept=kept,
        longest=longest,
        parts=int(exits.size),
        failures=int(marked.sum()),
        total_hours=float((t - e).sum()),
        late=bool((e > 0).any()),
        mean_log_failure=float(log_exit[marked].mean()) if marked.any() else np.nan,
    )


def _share(name: str, value: float) -> float:
    if not 0 < value < 1:
        raise OutOfRange(f"{name} must be above 0 and below 1: got {value:g}.")
    return float(value)


# Integrals of u^(shape - 1) over the ages watched, u in units of the longest age


def _watched(lives: _Lives, shape: float, orders: int) -> FloatArray:
    """(orders + 1, N) integrals of u^(shape - 1) times powers 0, 1, 2 of log u, part by part.

    All terms have one sign, so nothing cancels, however short the watch or small the shape.
    """
    from scipy.special import gammainc

    x = lives.log_exit
    grown = np.exp(shape * x)
    z = shape * lives.depth
    zero = grown * (-np.expm1(-z) if lives.late else 1.0) / shape
    result = [zero]
    if orders:
        below = gammainc(2, z) if lives.late else 1.0
        first = grown * below / shape**2
        result.append(x * zero - first)
        if orders > 1:
            below = gammainc(3, z) if lives.late else 1.0
            result.append(x**2 * zero - 2 * x * first + 2 * grown * below / shape**3)
    return np.array(result)


def _log_areas(lives: _Lives, shapes: FloatArray) -> FloatArray:
    """log A at many shapes."""
    result = np.empty(len(shapes))
    step = max(1, AT_ONCE // max(len(lives.log_exit), 1))
    for start in range(0, len(shapes), step):
        part = shapes[start : start + step, np.newaxis]
        grown = np.exp(part * lives.log_exit)
        if lives.late:
            grown = grown * -np.expm1(-part * lives.depth)
        result[start : start + step] = np.log(grown.sum(axis=1)) - np.log(part[:, 0])
    return result


def _profile(lives: _Lives, shape: float) -> float:
    """Log likelihood at the best k of a shape, times in units of the longest."""
    r = lives.failures
    log_area = np.log(_watched(lives, shape, 0).sum())
    return float((shape - 1) * r * lives.mean_log_failure + r * (np.log(r) - 1 - log_area))


# Weibull lives


@dataclass(frozen=True, slots=True)
class Interval:
    """A value with its ends; nan for a value that the data do not carry."""

    value: float  # [unit of the value]
    low: float  # [the same]
    high: float  # [the same]


@dataclass(frozen=True, slots=True)
class Edge:
    """Edge of the likelihood region: at each shape the lowest and the highest rate."""

    shapes: FloatArray  # [-]
    log_k_low: FloatArray  # log of k, hours in units of the longest age [-]
    log_k_high: FloatArray  # [the same]


@dataclass(frozen=True, slots=True)
class Weibull:
    """A Weibull life: what the data say of it, and how far."""

    shape: Interval  # [-]
    scale: Interval  # age that 36.8 % outlive [h]
    mean: Interval  # [h]
    sd: float  # of life from part to part [h]
    log_likelihood: float  # of hours [-]; nan where nothing was estimated
    failures: int
    parts: int
    total_hours: float  # under watch, all parts together [h]
    longest: float  # age of the oldest part [h]
    confidence: float  # that an interval asks for [-]
    shape_stated: bool
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
    hours: ArrayLike,
    failed: ArrayLike,
    entered: ArrayLike | None = None,
    *,
    shape: float | None = None,
    confidence: float = 0.90,
) -> Weibull:
    r"""Weibull life of parts of which some failed, some go on and some entered late.

    .. math:: \frac{\int M(u)\,u^{\beta-1}\ln u\,du}{\int M(u)\,u^{\beta-1}\,du}
              = \frac{1}{r}\sum_{i=1}^{r}\ln t_i,\qquad
              \eta^\beta = \frac{1}{r}\sum_j \left(t_j^\beta - e_j^\beta\right)

    Parameters
    ----------
    hours : (N,) array_like
        Age of each part when it failed or was last seen sound [h, or any one unit of time].
    failed : (N,) array_like
        Whether it failed then [1 or 0].
    entered : (N,) array_like or None
        Age at which it came under watch [h]; None for new.
    shape : float or None
        Shape known from elsewhere [-]; None to estimate it.
    confidence : float
        What the intervals ask for [-].

    Returns
    -------
    Weibull
        Shape [-], scale and mean [h] with intervals; what the data do not carry is nan, with a
        note.

    Raises
    ------
    OutOfRange
        Lengths differ; hours are negative or run backwards; a failure has no time under watch;
        the stated shape is not above 0; the confidence is not inside 0 to 1.

    Notes
    -----
    Estimated shape: intervals are those of the likelihood ratio, each over the whole region of
    the other parameter. Below ten failures they hold less than they say, and a note says so.
    None failed: no estimate. One failed: none without a stated shape; a single time fits one
    number. Two: the value is given, but the chance of a value above b falls no faster than 1/b,
    as for two times that happen to lie close, so that it has no mean. All failures at the
    longest age on record: every larger shape fits better, and none is given.

    Stated shape: the sum of t^shape under watch, over scale^shape, counts as exponential time.
    The ends are those of a chi-square with 2r degrees of freedom for the upper and 2r + 2 for
    the lower, which holds at least what it says when the watch ends at set hours. With no
    failure there is one end, and all of the confidence is on that side.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.1.3 (maximum likelihood) and 8.4.5.1
    (bounds with and without failures); Nelson 1985, Journal of Quality Technology 17, 140-146
    (stated shape); Lawless 2003, Statistical Models and Methods for Lifetime Data, 2nd edition,
    2.4 and 5.2 (late entry, profile equation); the last two from memory.
    Checked in ``tests/published/test_life.py``: NIST 8.4.1.3 and Nelson's generator fans.

    Examples
    --------
    >>> found = weibull([110, 250, 300, 420, 500, 500], [1, 1, 1, 1, 0, 0])
    >>> round(found.shape.value, 2), round(found.scale.value)
    (1.83, 462)
    """
    lives = _lives(hours, failed, entered)
    confidence = _share("The confidence", confidence)
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
        return _unknown(lives, confidence, tuple(notes), Interval(np.nan, 0.0, np.inf))
    return _estimated(lives, confidence)


def _unknown(lives: _Lives, confidence: float, notes: tuple[str, ...], shape: Interval) -> Weibull:
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
        confidence=confidence,
        shape_stated=False,
        edge=None,
        notes=notes,
    )


def _stated(lives: _Lives, shape: float, confidence: float) -> Weibull:
    from scipy.special import chdtri

    r = lives.failures
    notes: list[str] = []
    if not lives.log_exit.size:
        return _unknown(
            lives,
            confidence,
            ("No part has spent time under watch: nothing is known of its life.",),
            Interval(shape, shape, shape),
        )
    log_area = float(_log_areas(lives, np.array([shape]))[0])
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
        confidence,
        stated=True,
        notes=tuple(notes),
    )


def _estimated(lives: _Lives, confidence: float) -> Weibull:
    from scipy.optimize import brentq
    from scipy.special import chdtri, lambertw

    r = lives.failures
    half_cut = float(chdtri(1, 1 - confidence)) / 2
    target = lives.mean_log_failure
    notes: list[str] = []

    def short_of(log_shape: float) -> float:
        areas = _watched(lives, float(np.exp(log_shape)), 1).sum(axis=1)
        return float(areas[1] / areas[0]) - target

    def below(log_shape: float) -> float:
        """How far the likelihood is above its cut."""
        return _profile(lives, float(np.exp(log_shape))) - top + half_cut

    all_late = bool(np.isfinite(lives.depth).all())
    if all_late and short_of(LOG_NO_SHAPE) >= 0:
        top = _profile(lives, float(np.exp(LOG_NO_SHAPE)))
        high = float(np.exp(brentq(below, *_bracket(below, LOG_NO_SHAPE, upward=True), xtol=1e-11)))
        return _unknown(
            lives,
            confidence,
            (
                "Every part was already in service when its record began, and failures thin out "
                "with age faster than any Weibull life does: only an upper end of the shape is "
                "given.",
            ),
            Interval(np.nan, 0.0, high),
        )
    best = brentq(short_of, *_two_sided(short_of), xtol=1e-14, rtol=1e-14)
    shape = float(np.exp(best))
    top = _profile(lives, shape)
    if all_late and below(LOG_NO_SHAPE) >= 0:
        low = 0.0
        notes.append(
            "Every part was already in service when its record began: the shape has no lower end "
            "above 0."
        )
    else:
        low = float(np.exp(brentq(below, *_bracket(below, best, upward=False), xtol=1e-11)))
    high = float(np.exp(brentq(below, *_bracket(below, best, upward=True), xtol=1e-11)))

    # Spaced by the cosine, in which what is read off the edge is smooth up to its ends.
    angles = np.linspace(0.0, np.pi, EDGE)
    floor = np.log(max(low, 1e-9 * shape)) if low else None
    if floor is not None:
        middle, half = (floor + np.log(high)) / 2, (np.log(high) - floor) / 2
        shapes = np.exp(middle - half * np.cos(angles))
    else:
        shapes = np.maximum(high / 2 * (1 - np.cos(angles)), 1e-9 * shape)
    log_areas = _log_areas(lives, shapes)
    profile = (shapes - 1) * r * target + r * (np.log(r) - 1 - log_areas)
    # At a shape, log L = profile + r (ln q + 1 - q) with q = k over its best value, and equals
    # the cut where q - 1 - ln q = room: two values, one on each branch of Lambert's function.
    room = np.maximum(profile - top + half_cut, 0.0) / r
    at = -np.exp(-1 - room)
    q_low = -np.real(lambertw(at, 0))
    q_high = -np.real(lambertw(at, -1))
    # At the very ends both are 1, where the branches meet and rounding may leave nan.
    q_low, q_high = (np.where(np.isfinite(q), q, 1.0) for q in (q_low, q_high))
    edge = Edge(
        shapes=shapes,
        log_k_low=np.log(r * q_low) - log_areas,
        log_k_high=np.log(r * q_high) - log_areas,
    )
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
        float(np.log(r) - _log_areas(lives, np.array([shape]))[0]),
        edge,
        top - r * float(np.log(lives.longest)),
        confidence,
        stated=False,
        notes=tuple(notes),
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
    lives: _Lives,
    shape: Interval,
    log_k: float,
    edge: Edge,
    log_likelihood: float,
    confidence: float,
    *,
    stated: bool,
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
        low = -_peak(-function(edge.shapes, edge.log_k_high))
        high = _peak(function(edge.shapes, edge.log_k_low))
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
        confidence=confidence,
        shape_stated=stated,
        edge=edge,
        notes=notes,
    )


def _peak(values: FloatArray) -> FloatArray:
    """Highest value along the last axis, by a parabola through the three about it."""
    at = np.argmax(values, axis=-1)[..., np.newaxis]
    top = np.take_along_axis(values, at, axis=-1)[..., 0]
    last = values.shape[-1] - 1
    if last < 2:
        return np.asarray(top)
    inside = (at[..., 0] > 0) & (at[..., 0] < last)
    before = np.take_along_axis(values, np.maximum(at - 1, 0), axis=-1)[..., 0]
    after = np.take_along_axis(values, np.minimum(at + 1, last), axis=-1)[..., 0]
    with np.errstate(invalid="ignore", divide="ignore"):
        bend = 2 * top - before - after
        raised = top + (after - before) ** 2 / (8 * bend)
    fits = inside & np.isfinite(raised) & (bend > 0)
    return np.asarray(np.where(fits, raised, top))


@dataclass(frozen=True, slots=True)
class Lasting:
    """Chance of lasting so many hours more, with its ends; nan where the data carry none."""

    chance: FloatOrArray  # [-]
    low: FloatOrArray  # [-]
    high: FloatOrArray  # [-]
    notes: tuple[str, ...]


def weibull_lasting(life: Weibull, hours: ArrayLike, *, age: ArrayLike = 0.0) -> Lasting:
    r"""Chance that a part of some age lasts so many hours more.

    .. math:: R(h \mid a) = \exp\left[\left(\frac{a}{\eta}\right)^\beta
              - \left(\frac{a+h}{\eta}\right)^\beta\right]

    Parameters
    ----------
    life : Weibull
        From `weibull` [h].
    hours : array_like
        Hours asked for [h].
    age : array_like
        Age that the part has reached [h]; 0 for a new one.

    Returns
    -------
    Lasting
        Chance with the ends of its likelihood interval [-].

    Raises
    ------
    OutOfRange
        Hours or age are negative or not finite.

    Notes
    -----
    Beyond the oldest part on record the answer rests on the Weibull form alone, and a note says
    so.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 8.1.6.2 (Weibull reliability); Meeker and
    Escobar 1998, Statistical Methods for Reliability Data, chapter 8 (likelihood intervals of
    functions; from memory).
    No printed value: at the scale a new part's chance is exp(-1), in
    ``tests/published/test_life.py``; intervals against a brute search of the likelihood in
    ``tests/properties/test_calc_life.py``.

    Examples
    --------
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
        low = np.exp(-np.exp(_peak(log_spent(edge.shapes, edge.log_k_high))))
        high = np.exp(-np.exp(-_peak(-log_spent(edge.shapes, edge.log_k_low))))
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


def weibull_hours(life: Weibull, share: float, *, age: float = 0.0) -> Interval:
    r"""Hours in which a share of the parts of some age will have failed.

    .. math:: h = \left[a^\beta - \eta^\beta \ln(1-p)\right]^{1/\beta} - a

    Parameters
    ----------
    life : Weibull
        From `weibull` [h].
    share : float
        Share that will have failed [-]; 0.05 for the 5 % life, 0.5 for the median.
    age : float
        Age that the parts have reached [h]; 0 for new ones.

    Returns
    -------
    Interval
        Hours from now with the ends of their likelihood interval [h].

    Raises
    ------
    OutOfRange
        The share is not inside 0 to 1; the age is negative or not finite.

    Notes
    -----
    The inverse of `weibull_lasting`.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 8.1.6.2; Meeker and Escobar 1998,
    Statistical Methods for Reliability Data, chapter 8 (from memory).
    No printed value: for a shape of 1 it is -mean ln(1 - share), in
    ``tests/published/test_life.py``; `weibull_lasting` gives it back in
    ``tests/properties/test_calc_life.py``.

    Examples
    --------
    >>> life = weibull([400, 650, 950], [1, 0, 1], shape=1.0)
    >>> round(weibull_hours(life, 0.5).value, 1)
    693.1
    """
    p = _share("The share", share)
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
        low = float(np.exp(-_peak(-log_hours(edge.shapes, edge.log_k_high))))
        high = float(np.exp(_peak(log_hours(edge.shapes, edge.log_k_low))))
    return Interval(value, low, high)
