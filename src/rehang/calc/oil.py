"""Wear metal in oil that is used up and topped up: from what the laboratory found to a rate.

Volumes are in any one unit, the same throughout; times are in running hours; a concentration is
in any one unit, parts per million as a rule. A rate is metal made in an hour, as concentration
times volume; divided by the fill it is the rise an hour that undiluted oil would show.
Oil that is used takes its metal with it; oil that is added has none, and mixes at once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from rehang.calc import _inputs as check
from rehang.calc._components import Component, components, root_sum_square
from rehang.calc._inputs import FloatArray, FloatOrArray
from rehang.calc.errors import OutOfRange
from rehang.calc.uncertainty import (
    rectangular_standard_uncertainty,
    resolution_standard_uncertainty,
)

# A count of top-ups typed as a quotient may miss the whole number by rounding.
WHOLE_SLACK = 1e-9


@dataclass(frozen=True, slots=True)
class TopUp:
    """Clean oil added."""

    hours: float  # running hours since the fill [h]
    volume: float  # [unit of volume]


@dataclass(frozen=True, slots=True)
class OilPoint:
    """The oil at a top-up, or at the end."""

    hours: float  # [h]
    volume: float  # after the top-up [unit of volume]
    before: FloatOrArray  # concentration [unit of concentration]
    after: FloatOrArray  # [unit of concentration]


@dataclass(frozen=True, slots=True)
class OilStory:
    """What a wear rate makes of a fill of oil, top-up by top-up."""

    points: tuple[OilPoint, ...]  # one for each top-up, and the end
    concentration: FloatOrArray  # at the end [unit of concentration]
    volume: float  # at the end [unit of volume]
    generated: FloatOrArray  # metal made [concentration times volume]
    lost: FloatOrArray  # metal gone with the oil used [concentration times volume]


@dataclass(frozen=True, slots=True)
class WearRate:
    """A wear rate and what it is worth."""

    rate: FloatOrArray  # metal made an hour [concentration times volume per hour]
    standard_uncertainty: FloatOrArray  # of the rate [concentration times volume per hour]
    rise: FloatOrArray  # rate over the fill [unit of concentration per hour]
    u_rise: FloatOrArray  # [unit of concentration per hour]
    components: tuple[Component, ...]  # of u_rise [unit of concentration per hour]
    notes: tuple[str, ...]


# Level kept: clean oil added as fast as oil is used


def makeup_concentration(
    rate: ArrayLike,
    makeup: ArrayLike,
    volume: ArrayLike,
    hours: ArrayLike,
    start: ArrayLike = 0.0,
) -> FloatOrArray:
    r"""Concentration after a time, the level kept by a steady flow of clean oil.

    .. math:: V \frac{dC}{dt} = G - Q C, \qquad
              C = \frac{G}{Q} \left( 1 - e^{-Qt/V} \right) + C_0 e^{-Qt/V}

    Parameters
    ----------
    rate : array_like
        Metal made [concentration times volume per hour].
    makeup : array_like
        Clean oil added, and oil used [volume per hour].
    volume : array_like
        Oil in the engine [unit of volume].
    hours : array_like
        Running time since the fill [h].
    start : array_like
        Concentration at the fill, of residual oil [unit of concentration].

    Returns
    -------
    float or ndarray
        Concentration [unit of concentration].

    Raises
    ------
    OutOfRange
        The volume is not above 0; another input is negative.

    Notes
    -----
    With a make-up of 0 the metal simply gathers: C0 + G t / V.

    References
    ----------
    Mass balance as in D. P. Anderson and R. D. Driver, Equilibrium particle concentration in
    engine oil, Wear 56 (1979); the equation from memory, not read in the paper itself.
    No printed value: two programs agree, see ``tests/published/test_oil.py``.

    Examples
    --------
    >>> round(makeup_concentration(2.5e-3, 0.25, 10, 50), 6)
    0.007135
    """
    g = check.at_least_zero("The wear rate", rate)
    start_c = check.at_least_zero("The concentration at the start", start)
    v, t, x = _flushed(makeup, volume, hours)
    return check.plain(np.asarray(g * t / v / _stretch(x) + start_c * np.exp(-x)))


def makeup_rate(
    concentration: ArrayLike,
    makeup: ArrayLike,
    volume: ArrayLike,
    hours: ArrayLike,
    start: ArrayLike = 0.0,
) -> FloatOrArray:
    r"""Wear rate from a concentration, the level kept by a steady flow of clean oil.

    .. math:: G = Q\, \frac{C - C_0 e^{-Qt/V}}{1 - e^{-Qt/V}}

    Parameters
    ----------
    concentration : array_like
        What the laboratory found [unit of concentration].
    makeup : array_like
        Clean oil added, and oil used [volume per hour].
    volume : array_like
        Oil in the engine [unit of volume].
    hours : array_like
        Running time since the fill [h].
    start : array_like
        Concentration at the fill, of residual oil [unit of concentration].

    Returns
    -------
    float or ndarray
        Metal made [concentration times volume per hour]; below 0 when residual oil alone
        would show more than was found.

    Raises
    ------
    OutOfRange
        The volume or the time is not above 0; another input is negative.

    Notes
    -----
    Reads a few per cent below the same oil added a quart at a time, because then the oil
    sampled has just been diluted: see `even_topup_rate`.

    References
    ----------
    As `makeup_concentration`, solved for the rate.
    No printed value: checked as its inverse, and against five drains worked by hand, in
    ``tests/published/test_oil.py``.

    Examples
    --------
    >>> round(makeup_rate(32, 4 / 48, 8, 48) * 50 / 8, 1)
    42.4
    """
    c = check.at_least_zero("The concentration", concentration)
    start_c = check.at_least_zero("The concentration at the start", start)
    v, t, x = _flushed(makeup, volume, check.above_zero("The running time", hours))
    return check.plain(np.asarray((c - start_c * np.exp(-x)) * _stretch(x) * v / t))


def equilibrium_concentration(rate: ArrayLike, makeup: ArrayLike) -> FloatOrArray:
    r"""Concentration that a steady wear rate and a steady make-up come to.

    .. math:: C_\infty = \frac{G}{Q}

    Parameters
    ----------
    rate : array_like
        Metal made [concentration times volume per hour].
    makeup : array_like
        Clean oil added, and oil used [volume per hour].

    Returns
    -------
    float or ndarray
        Concentration [unit of concentration].

    Raises
    ------
    OutOfRange
        The rate is negative; the make-up is not above 0.

    Notes
    -----
    Far off in an engine that is drained every 50 hours: see `hours_to_share`.

    References
    ----------
    As `makeup_concentration`, for a long time.
    No printed value: the quotient, see ``tests/published/test_oil.py``.

    Examples
    --------
    >>> equilibrium_concentration(1, 0.1)
    10.0
    """
    g = check.at_least_zero("The wear rate", rate)
    return check.plain(np.asarray(g / check.above_zero("The make-up", makeup)))


def hours_to_share(share: ArrayLike, makeup: ArrayLike, volume: ArrayLike) -> FloatOrArray:
    r"""Running time in which clean oil comes to a share of the equilibrium concentration.

    .. math:: t = -\frac{V}{Q} \ln(1 - s)

    Parameters
    ----------
    share : array_like
        Share of the equilibrium, at least 0 and below 1 [-].
    makeup : array_like
        Clean oil added, and oil used [volume per hour].
    volume : array_like
        Oil in the engine [unit of volume].

    Returns
    -------
    float or ndarray
        Running time [h].

    Raises
    ------
    OutOfRange
        The share is not at least 0 and below 1; another input is not above 0.

    Notes
    -----
    From clean oil; with residual oil it is sooner.

    References
    ----------
    As `makeup_concentration`, solved for the time.
    No printed value: worked by hand, see ``tests/published/test_oil.py``.

    Examples
    --------
    >>> round(hours_to_share(0.95, 0.25, 10), 2)
    119.83
    """
    s = check.at_least_zero("The share of the equilibrium", share)
    if not (s < 1).all():
        raise OutOfRange(f"The share of the equilibrium must be below 1: got {check.shown(s)}.")
    q = check.above_zero("The make-up", makeup)
    v = check.above_zero("The volume", volume)
    return check.plain(np.asarray(-v / q * np.log1p(-s)))


# Level falling between top-ups


def falling_concentration(
    start: ArrayLike,
    rate: ArrayLike,
    use: ArrayLike,
    volume_from: ArrayLike,
    volume_to: ArrayLike,
) -> FloatOrArray:
    r"""Concentration once the level has fallen, nothing added.

    .. math:: \frac{dC}{dt} = \frac{g}{V}, \qquad
              C_2 = C_1 + \frac{g}{q} \ln \frac{V_1}{V_2}

    Parameters
    ----------
    start : array_like
        Concentration at the higher level [unit of concentration].
    rate : array_like
        Metal made [concentration times volume per hour].
    use : array_like
        Oil used [volume per hour].
    volume_from, volume_to : array_like
        The higher and the lower level [unit of volume].

    Returns
    -------
    float or ndarray
        Concentration at the lower level [unit of concentration].

    Raises
    ------
    OutOfRange
        The use or a level is not above 0; the second level is above the first; another input
        is negative.

    Notes
    -----
    Oil that is used leaves at the concentration of the rest, so using it does not thicken the
    metal; the same metal in less oil does.

    References
    ----------
    Mass balance; no source of its own.
    No printed value: two programs agree, and a solver of the differential equation, see
    ``tests/published/test_oil.py``.

    Examples
    --------
    >>> round(falling_concentration(0, 1, 0.1, 8, 7), 4)
    1.3353
    """
    c = check.at_least_zero("The concentration at the start", start)
    g = check.at_least_zero("The wear rate", rate)
    q = check.above_zero("The oil use", use)
    high = check.above_zero("The level at the start", volume_from)
    low = check.above_zero("The level at the end", volume_to)
    if not (low <= high).all():
        raise OutOfRange(
            "The level must fall between top-ups: "
            f"got {check.shown(high)} at the start and {check.shown(low)} at the end."
        )
    return check.plain(np.asarray(c + g / q * np.log(high / low)))


def diluted(concentration: ArrayLike, volume: ArrayLike, added: ArrayLike) -> FloatOrArray:
    r"""Concentration after clean oil has been added and mixed.

    .. math:: C' = C\, \frac{V}{V + a}

    Parameters
    ----------
    concentration : array_like
        Concentration before [unit of concentration].
    volume : array_like
        Oil in the engine before [unit of volume].
    added : array_like
        Clean oil added [unit of volume].

    Returns
    -------
    float or ndarray
        Concentration after [unit of concentration].

    Raises
    ------
    OutOfRange
        The volume is not above 0; another input is negative.

    Notes
    -----
    Mixes at once; a sample taken before the engine has run again does not show it.

    References
    ----------
    Mass balance; no source of its own.
    No printed value: worked by hand, see ``tests/published/test_oil.py``.

    Examples
    --------
    >>> diluted(16, 7, 1)
    14.0
    """
    c = check.at_least_zero("The concentration", concentration)
    v = check.above_zero("The volume", volume)
    a = check.at_least_zero("The oil added", added)
    return check.plain(np.asarray(c * v / (v + a)))


def cycled_concentration(
    gain: ArrayLike, share: ArrayLike, cycles: ArrayLike, start: ArrayLike = 0.0
) -> FloatOrArray:
    r"""Concentration after a number of equal rounds: wear, then a top-up.

    .. math:: C \leftarrow (C + d)(1 - f), \qquad
              C_n = d\, (1 - f)\, \frac{1 - (1 - f)^n}{f} + C_0 (1 - f)^n

    Parameters
    ----------
    gain : array_like
        Rise of concentration in a round, before its top-up [unit of concentration].
    share : array_like
        Share of the full engine that a top-up is, above 0 and below 1 [-].
    cycles : array_like
        Rounds; the last ends with its top-up [-].
    start : array_like
        Concentration at the fill [unit of concentration].

    Returns
    -------
    float or ndarray
        Concentration after the last top-up [unit of concentration].

    Raises
    ------
    OutOfRange
        The share is not above 0 and below 1; another input is negative.

    Notes
    -----
    As many rounds as wanted, each like the others; for uneven ones see `follow_oil`.

    References
    ----------
    Geometric series.
    No printed value: the series added up term by term, see ``tests/published/test_oil.py``.

    Examples
    --------
    >>> round(cycled_concentration(1, 1 / 8, 10), 4)
    5.1585
    """
    d = check.at_least_zero("The gain of a round", gain)
    f = _share(share)
    n = check.at_least_zero("The number of rounds", cycles)
    start_c = check.at_least_zero("The concentration at the start", start)
    kept = np.exp(n * np.log1p(-f))
    return check.plain(np.asarray(d * (1.0 - f) * (1.0 - kept) / f + start_c * kept))


def even_topup_rate(
    concentration: ArrayLike,
    added: ArrayLike,
    volume: ArrayLike,
    hours: ArrayLike,
    size: ArrayLike = 1.0,
    start: ArrayLike = 0.0,
) -> FloatOrArray:
    r"""Wear rate when oil was added a size at a time, each when so much was missing.

    .. math:: g = q\, \frac{C - C_0 (1 - f)^n}{\ln \frac{1}{1 - f} \sum_{k=1}^{n} (1 - f)^k},
              \qquad q = \frac{A}{T},\ f = \frac{a}{V},\ n = \frac{A}{a}

    Parameters
    ----------
    concentration : array_like
        What the laboratory found, the last top-up mixed in [unit of concentration].
    added : array_like
        All the oil added since the fill, the last top-up at the drain included [unit of volume].
    volume : array_like
        Oil in the engine when full, as it is at the fill and at the drain [unit of volume].
    hours : array_like
        Running time since the fill [h].
    size : array_like
        Oil in one top-up, one quart as a rule [unit of volume].
    start : array_like
        Concentration at the fill, of residual oil [unit of concentration].

    Returns
    -------
    float or ndarray
        Metal made [concentration times volume per hour]; below 0 when residual oil alone
        would show more than was found.

    Raises
    ------
    OutOfRange
        The oil added is not a whole number of top-ups, or none; a top-up is not less than the
        fill; another input is out of place.

    Notes
    -----
    Steady use and steady wear, top-ups evenly in time. Oil added in a last top-up that was
    not run with is not in the sample: leave it out of ``added`` and use `topup_rate`.

    References
    ----------
    `falling_concentration` and `cycled_concentration`, solved for the rate.
    No printed value: checked against five drains worked by hand, and as the inverse of
    `follow_oil`, in ``tests/published/test_oil.py``.

    Examples
    --------
    >>> round(even_topup_rate(32, 4, 8, 48) * 50 / 8, 1)
    43.1
    """
    c = check.at_least_zero("The concentration", concentration)
    all_added = check.above_zero("The oil added", added)
    v = check.above_zero("The volume", volume)
    t = check.above_zero("The running time", hours)
    a = check.above_zero("The size of a top-up", size)
    n = np.asarray(np.round(all_added / a))
    if not (np.abs(all_added / a - n) <= WHOLE_SLACK * n).all():
        raise OutOfRange(
            "The oil added must be a whole number of top-ups; list uneven ones one by one: "
            f"got {check.shown(all_added)} in top-ups of {check.shown(a)}."
        )
    f = _share(a / v)
    made = np.asarray(cycled_concentration(-np.log1p(-f), f, n))
    left = np.asarray(cycled_concentration(0.0, f, n, start))
    return check.plain(np.asarray(all_added / t * (c - left) / made))


def follow_oil(
    rate: ArrayLike,
    use: float,
    volume: float,
    hours: float,
    topups: Sequence[TopUp] = (),
    start: ArrayLike = 0.0,
) -> OilStory:
    r"""Concentration from the fill to the drain, through each top-up as it happened.

    Between top-ups `falling_concentration`, at each `diluted`. The balance that closes it:

    .. math:: G\,T = C_\mathrm{end} V_\mathrm{end} - C_0 V_0 + \int q\, C\, dt

    Parameters
    ----------
    rate : array_like
        Metal made, one for each element [concentration times volume per hour].
    use : float
        Oil used [volume per hour].
    volume : float
        Oil at the fill [unit of volume].
    hours : float
        Running time from the fill to the sample [h].
    topups : sequence of TopUp
        Clean oil added: when [h] and how much [unit of volume]; in order.
    start : array_like
        Concentration at the fill, of residual oil [unit of concentration].

    Returns
    -------
    OilStory
        Concentration at each top-up and at the end [unit of concentration], volume, metal made
        and metal lost [concentration times volume].

    Raises
    ------
    OutOfRange
        A top-up is out of order, before the fill or after the sample; the oil would be used up;
        an input is negative.

    Notes
    -----
    A top-up at the hour of the sample is mixed in before it. The metal lost is added up by its
    own integral, so that the balance is a check and not a definition.

    References
    ----------
    Mass balance; no source of its own.
    No printed value: two programs agree, and a solver of the differential equation, see
    ``tests/published/test_oil.py``.

    Examples
    --------
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
    concentration: ArrayLike,
    use: float,
    volume: float,
    hours: float,
    topups: Sequence[TopUp] = (),
    start: ArrayLike = 0.0,
) -> FloatOrArray:
    r"""Wear rate from a concentration, through each top-up as it happened.

    .. math:: g = \frac{C - C(g = 0)}{C(g = 1) - C(g = 0)}

    Parameters
    ----------
    concentration : array_like
        What the laboratory found, one for each element [unit of concentration].
    use : float
        Oil used [volume per hour].
    volume : float
        Oil at the fill [unit of volume].
    hours : float
        Running time from the fill to the sample [h].
    topups : sequence of TopUp
        Clean oil added: when [h] and how much [unit of volume]; in order.
    start : array_like
        Concentration at the fill, of residual oil [unit of concentration].

    Returns
    -------
    float or ndarray
        Metal made [concentration times volume per hour]; below 0 when residual oil alone
        would show more than was found.

    Raises
    ------
    OutOfRange
        As `follow_oil`; the running time is not above 0.

    Notes
    -----
    The concentration is a straight line in the rate, whatever the top-ups were.

    References
    ----------
    `follow_oil`, solved for the rate.
    No printed value: checked as its inverse in ``tests/published/test_oil.py``.

    Examples
    --------
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


def wear_rate(
    concentration: ArrayLike,
    hours: ArrayLike,
    added: ArrayLike,
    volume: ArrayLike,
    *,
    lab_fraction: ArrayLike = 0.0,
    u_concentration: ArrayLike = 0.0,
    u_added: ArrayLike = 0.0,
    u_volume: ArrayLike = 0.0,
    start: ArrayLike = 0.0,
    u_start: ArrayLike = 0.0,
) -> WearRate:
    r"""Wear rate with its uncertainty, the level kept by a steady flow of clean oil.

    .. math:: \frac{G}{V} = \frac{C - C_0 e^{-x}}{T}\, \frac{x}{1 - e^{-x}},
              \qquad x = \frac{A}{V}

    Parameters
    ----------
    concentration : array_like
        What the laboratory found [unit of concentration].
    hours : array_like
        Running time since the fill [h].
    added : array_like
        All the oil added since the fill [unit of volume].
    volume : array_like
        Oil in the engine when full [unit of volume].
    lab_fraction : array_like
        Stated accuracy of the laboratory as a fraction of its figure, a hard limit [-];
        0.15 for 15 %.
    u_concentration : array_like
        Standard uncertainty of the figure besides, of its last digit or from `below_detection`
        [unit of concentration].
    u_added : array_like
        Standard uncertainty of the oil added [unit of volume].
    u_volume : array_like
        Standard uncertainty of the fill [unit of volume].
    start : array_like
        Concentration at the fill, of residual oil [unit of concentration].
    u_start : array_like
        Its standard uncertainty [unit of concentration].

    Returns
    -------
    WearRate
        Rate [concentration times volume per hour], rise [concentration per hour], their
        standard uncertainties and components.

    Raises
    ------
    OutOfRange
        The running time or the volume is not above 0; another input is negative.

    Notes
    -----
    First order, inputs that do not depend on each other. Two samples of one laboratory share
    part of its deviation, so that a change between them is known better than either. Not in
    it: how far a sample is from being like the oil, and the few per cent between steady
    make-up and quarts (`even_topup_rate`).

    References
    ----------
    JCGM 100:2008, 4.3.7, equation (7), and 5.1.2, equation (10); `makeup_rate`.
    No printed value: worked by hand in ``tests/published/test_oil.py``; the derivatives against
    differences in ``tests/properties/test_calc_oil.py``.

    Examples
    --------
    >>> found = wear_rate(55, 51, 7, 8, lab_fraction=0.15)
    >>> round(found.rise * 50, 1), round(found.u_rise * 50, 1)
    (80.9, 7.0)
    """
    c = check.at_least_zero("The concentration", concentration)
    t = check.above_zero("The running time", hours)
    a = check.at_least_zero("The oil added", added)
    v = check.above_zero("The volume", volume)
    start_c = check.at_least_zero("The concentration at the start", start)
    fraction = check.at_least_zero("The accuracy of the laboratory", lab_fraction)
    x = a / v
    h, kept = _stretch(x), np.exp(-x)
    clean = c - start_c * kept
    rise = clean * h / t
    # Slope of the rise with x, of h and of what is left of the residual oil.
    by_x = (clean * _stretch_slope(x) + start_c * kept * h) / t
    u_added_ = check.at_least_zero("The uncertainty of the oil added", u_added)
    u_volume_ = check.at_least_zero("The uncertainty of the volume", u_volume)
    parts = {
        "laboratory": h / t * np.asarray(rectangular_standard_uncertainty(fraction * c)),
        "figure": h
        / t
        * check.at_least_zero("The uncertainty of the concentration", u_concentration),
        "oil added": by_x / v * u_added_,
        "fill": by_x * x / v * u_volume_,
        "residual oil": kept
        * h
        / t
        * check.at_least_zero("The uncertainty of the residual oil", u_start),
    }
    u_rise = root_sum_square(parts)
    # The fill enters a rate twice, as V and in x, and so is not simply V times u_rise.
    fill_in_rate = (rise - by_x * x) * u_volume_
    u_rate = root_sum_square(
        {**{name: part * v for name, part in parts.items() if name != "fill"}, "fill": fill_in_rate}
    )
    notes = []
    if (clean < 0).any():
        notes.append("Residual oil alone would show more than was found: no rate can be given.")
    return WearRate(
        rate=check.plain(np.asarray(rise * v)),
        standard_uncertainty=check.plain(u_rate),
        rise=check.plain(np.asarray(rise)),
        u_rise=check.plain(u_rise),
        components=components(parts),
        notes=tuple(notes),
    )


def below_detection(limit: ArrayLike) -> tuple[FloatOrArray, FloatOrArray]:
    r"""Value and standard uncertainty to use for a figure given as less than a limit.

    .. math:: y = \frac{a}{2}, \qquad u = \frac{a}{\sqrt{12}}

    Parameters
    ----------
    limit : array_like
        What it is less than; 2 for "<2" [unit of concentration].

    Returns
    -------
    value : float or ndarray
        Middle of what is possible [unit of concentration].
    standard_uncertainty : float or ndarray
        Its standard uncertainty [unit of concentration].

    Raises
    ------
    OutOfRange
        The limit is negative or not finite.

    Notes
    -----
    All that is known is that it is from 0 to the limit. Keep the "<" beside what is shown.

    References
    ----------
    JCGM 100:2008, 4.3.7, equations (6) and (7): only bounds known.
    No printed value: worked by hand in ``tests/published/test_oil.py``.

    Examples
    --------
    >>> value, u = below_detection(2)
    >>> value, round(u, 3)
    (1.0, 0.577)
    """
    a = check.at_least_zero("The limit of detection", limit)
    return check.plain(np.asarray(a / 2.0)), resolution_standard_uncertainty(a)


def carried_over(concentration: ArrayLike, residual_share: ArrayLike) -> FloatOrArray:
    r"""Concentration of a new fill from the old oil that did not drain.

    .. math:: C_0 = s\, C_\mathrm{old}

    Parameters
    ----------
    concentration : array_like
        Concentration of the oil drained [unit of concentration].
    residual_share : array_like
        Old oil as a share of the new fill, from 0 to 1 [-].

    Returns
    -------
    float or ndarray
        Concentration at the new fill [unit of concentration].

    Raises
    ------
    OutOfRange
        The concentration is negative; the share is not from 0 to 1.

    Notes
    -----
    Oil in the cooler, the galleries and the filter; the share is a property of the engine and
    of how long it was left to drain.

    References
    ----------
    "Factoring Residual Oil Into Wear Rate", a practice article on oil analysis.
    Checked in ``tests/published/test_oil.py``: 15 % of 80 ppm.

    Examples
    --------
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
    concentration: ArrayLike,
    added: ArrayLike,
    volume: ArrayLike,
    hours: ArrayLike,
    basis: ArrayLike = 50.0,
) -> FloatOrArray:
    r"""Simple correction for top-ups: as if all the metal were in the fill and the oil added.

    .. math:: C_\mathrm{max} = C\, \frac{V + A}{V}\, \frac{T_\mathrm{basis}}{T}

    Parameters
    ----------
    concentration : array_like
        What the laboratory found [unit of concentration].
    added : array_like
        All the oil added since the fill [unit of volume].
    volume : array_like
        Oil in the engine when full [unit of volume].
    hours : array_like
        Running time since the fill [h].
    basis : array_like
        Running time to bring it to [h].

    Returns
    -------
    float or ndarray
        Concentration for the basis [unit of concentration].

    Raises
    ------
    OutOfRange
        The volume or a time is not above 0; another input is negative.

    Notes
    -----
    An upper bound: it takes the oil used to have left with as much metal as the sample has,
    where most of it left with less. Shown beside the mass balance, not instead of it.

    References
    ----------
    Common practice, no source.
    No printed value: worked by hand in ``tests/published/test_oil.py``.

    Examples
    --------
    >>> undiluted_upper_bound(32, 4, 8, 48)
    50.0
    """
    c = check.at_least_zero("The concentration", concentration)
    a = check.at_least_zero("The oil added", added)
    v = check.above_zero("The volume", volume)
    t = check.above_zero("The running time", hours)
    to = check.above_zero("The basis", basis)
    return check.plain(np.asarray(c * (v + a) / v * to / t))


def hours_per_volume(hours: ArrayLike, added: ArrayLike, fall: ArrayLike = 0.0) -> FloatOrArray:
    r"""Running hours that a unit of oil lasts.

    .. math:: \frac{T}{A + (V_0 - V_\mathrm{end})}

    Parameters
    ----------
    hours : array_like
        Running time [h].
    added : array_like
        Oil added in it [unit of volume].
    fall : array_like
        How much lower the level is at the end than at the start [unit of volume]; below 0
        when it is higher.

    Returns
    -------
    float or ndarray
        Hours for each unit of volume [hours per volume]; ``inf`` when none was used.

    Raises
    ------
    OutOfRange
        The running time is not above 0; the oil added is negative; more oil is there at the
        end than was there and was added.

    Notes
    -----
    Falling is worse. A level read to half a quart makes it uncertain over a few hours.

    References
    ----------
    Common practice, no source.
    No printed value: worked by hand in ``tests/published/test_oil.py``.

    Examples
    --------
    >>> hours_per_volume(48, 4)
    12.0
    """
    t = check.above_zero("The running time", hours)
    used = check.at_least_zero("The oil added", added) + check.finite("The fall of the level", fall)
    if not (used >= 0).all():
        raise OutOfRange(
            "The level cannot have risen by more oil than was added: "
            f"got {check.shown(np.asarray(used))} used."
        )
    with np.errstate(divide="ignore"):
        return check.plain(np.asarray(t / used))


def _flushed(
    makeup: ArrayLike, volume: ArrayLike, hours: ArrayLike
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Volume, time, and how many times over the make-up would have filled the engine."""
    q = check.at_least_zero("The make-up", makeup)
    v = check.above_zero("The volume", volume)
    t = check.at_least_zero("The running time", hours)
    return v, t, np.asarray(q * t / v)


def _share(value: ArrayLike) -> FloatArray:
    f = check.above_zero("The share of a top-up", value)
    if not (f < 1).all():
        raise OutOfRange(
            f"A top-up must be less than all the oil in the engine: got a share of {check.shown(f)}."
        )
    return f


def _stretch(x: FloatArray) -> FloatArray:
    """x / (1 - e^-x), which is 1 at 0."""
    safe = np.where(x > 0, x, 1.0)
    return np.asarray(np.where(x > 0, safe / -np.expm1(-safe), 1.0))


def _stretch_slope(x: FloatArray) -> FloatArray:
    """Slope of `_stretch`; by its series near 0, where the terms cancel."""
    near = x < 1e-3
    safe = np.where(near, 1.0, x)
    h = safe / -np.expm1(-safe)
    return np.asarray(np.where(near, 0.5 + x / 6.0, h * (1.0 + 1.0 / safe) - h * h / safe))


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
