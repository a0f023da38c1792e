"""Warnings that mean something: each says how often it comes when nothing is the matter.

Rates were measured by simulation (``bench/forecasts.py``; a small one runs with the tests). A warning
decides nothing: a limit and a person do.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import exp, inf, isinf, log
from statistics import median

from rehang.calc import wear
from rehang.trade.life.fits import SetFit, as_read, foretold
from rehang.trade.life.story_values import HOURS_PER_QUART, OIL, SAME_HOURS, Point, Series
from rehang.trade.telling.sentences import item_as_said
from rehang.trade.terms.errors import CoreError
from rehang.trade.terms.series import rises_running

__all__ = ["RATES", "RISES", "Alarm", "alarms_of", "fellows_of", "gains_of"]

# How often each comes when nothing is the matter. A jump, a part apart and a meter are judged at
# these rates; three rises of four alike in every order come once in 4! = 24.
RATES: Mapping[str, float] = {"jump": 0.01, "apart": 0.05, "meter": 0.01, "rises": 1 / 24}
RISES = 3


@dataclass(frozen=True, slots=True)
class Alarm:
    """One warning.

    ``kind`` is ``jump`` (against its own history), ``rises`` (three running), ``apart`` (from its
    fellows), ``meter`` (reads differently from its peers) or ``limit`` (a failure in the making).
    ``false_alarm`` is how often it comes when nothing is the matter; of ``limit`` it is the share
    of those warned of that would have lasted. ``sentence`` says it.
    """

    kind: str
    item: str
    check: str
    sentence: str
    false_alarm: float
    entry: str = ""


def alarms_of(fit: SetFit) -> tuple[Alarm, ...]:
    """The warnings that one check gives over the parts of a set."""
    own = [a for series in fit.series.values() for a in (_jump(fit, series), _rises(series))]
    return tuple(a for a in (*own, _apart(fit), *_meters(fit)) if a is not None)


def gains_of(series: Series) -> tuple[float, ...]:
    """What should be alike from one opening to the next while nothing changes.

    Of what wears one way, what it gained in each interval, an hour; of anything else what was
    read, turned so that more is worse.
    """
    if series.way.direction == "either":
        turned = _turned(series)
        return tuple(turned * _on_scale(series, p) for p in series.found)
    return tuple(gain for gain, _ in _intervals(series))


def _intervals(series: Series) -> list[tuple[float, float]]:
    """Gain an hour in each interval and the variance that the meter gives it."""
    sign = -1.0 if series.way.direction == "down" else 1.0
    found: list[tuple[float, float]] = []
    for before, after in pairwise(series.trend):
        same = not after.restart and before.segment == after.segment
        if not same or before.hours is None or after.hours is None or after.hours <= before.hours:
            continue
        hours = after.hours - before.hours
        gain = _on_scale(series, after) - _on_scale(series, before)
        # One meter's accuracy is in both and cancels.
        alike = before.meter == after.meter
        variance = _variance(series, before, alike) + _variance(series, after, alike)
        found.append((round(sign * gain / hours, 12), variance / hours**2))
    return found


def _turned(series: Series) -> float:
    """Pressure held and hours to the quart fall when they get worse."""
    falls = series.check == HOURS_PER_QUART or (
        series.quantity is not None and series.quantity.name == "pressure"
    )
    return -1.0 if falls else 1.0


def _on_scale(series: Series, point: Point) -> float:
    assert point.centre is not None
    return log(point.centre) if series.way.scale == "log" and point.centre > 0 else point.centre


def _variance(series: Series, point: Point, alike: bool) -> float:
    assert point.centre is not None
    variance = point.scatter if alike else point.variance
    if series.way.scale == "log" and point.centre > 0:
        return variance / point.centre**2
    return variance


def _of(series: Series) -> str:
    return series.label if series.item == OIL else f"{series.label} of {item_as_said(series.item)}"


def _once_in(rate: float) -> str:
    """How often it comes when nothing is the matter, at most."""
    return f"once in {1 / rate:.0f}"


# A jump against its own history


def _jump(fit: SetFit, series: Series) -> Alarm | None:
    """The last reading against what the openings before it foretold."""
    read = fit.last.get(series.item)
    if read is None or fit.before is None or series.opened is not None:
        return None
    found = wear.jump(
        foretold(fit.before, series.item, read), read.value, false_alarm=RATES["jump"]
    )
    if not found.is_jump:
        return None
    # A leak that jumps up shows as a pressure that jumps down: the edge is turned with it.
    edge = found.high if found.deviate > 0 else found.low
    expected, at_edge = as_read(series, found.expected), as_read(series, edge)
    last = series.found[-1]
    way = "more" if at_edge > expected else "less"
    return Alarm(
        kind="jump",
        item=series.item,
        check=series.check,
        sentence=(
            f"{_of(series)} jumped: {last.text} where its history foretold about "
            f"{series.show(expected)}. Chance alone goes to {series.show(at_edge)} or {way}, or as far "
            f"the other way, {_once_in(RATES['jump'])}."
        ),
        false_alarm=RATES["jump"],
        entry=last.entry,
    )


# Three rises running


def _rises(series: Series) -> Alarm | None:
    """Each of the last intervals worse than the one before it."""
    rises = rises_running(gains_of(series))
    if series.way.direction != "either":
        # A growth that rises by the hour alone may be a shorter interval read in whole steps.
        turned = -1 if series.way.direction == "down" else 1
        rises = min(rises, rises_running([turned * gain for gain in series.growth()]))
    wears = series.way.direction == "either" and series.item != OIL
    if rises < RISES or (wears and not _loses_faster(series)):
        return None
    rate = f"Chance alone does this {_once_in(RATES['rises'])}."
    if series.way.direction == "either":
        shown = _together([_figure(series, p) for p in series.found[-rises - 1 :]])
        sentence = f"{_of(series)} is worse at each of the last {rises} openings ({shown})" + (
            f", and by more each time. {rate}" if wears else f". {rate}"
        )
    else:
        grown = _together([_grown(series, gain) for gain in series.growth()[-rises - 1 :]])
        sentence = (
            f"{_of(series)} has gone faster in each of the last {rises} intervals ({grown}). {rate}"
        )
    return Alarm(
        kind="rises",
        item=series.item,
        check=series.check,
        sentence=sentence,
        false_alarm=RATES["rises"],
        entry=series.found[-1].entry,
    )


def _loses_faster(series: Series) -> bool:
    """Whether each of the last losses an hour is above the one before, by more than the meter is.

    A cylinder that wears evenly is worse at each opening too; only one that goes faster stands out.
    """
    losses: list[tuple[float, float]] = []
    for before, after in pairwise(series.found[-RISES - 1 :]):
        if before.hours is None or after.hours is None or after.hours <= before.hours:
            return False
        hours = after.hours - before.hours
        loss = _turned(series) * (_on_scale(series, after) - _on_scale(series, before))
        spread = _variance(series, before, alike=False) + _variance(series, after, alike=False)
        losses.append((loss / hours, spread / hours**2))
    (first, first_spread), *_, (last, last_spread) = losses
    faster = all(before[0] < after[0] for before, after in pairwise(losses))
    # Two standard deviations: JCGM 100:2008, 6.2.1 and G.1.3, about 95 %.
    return faster and last - first > 2 * (first_spread + last_spread) ** 0.5


def _together(figures: Sequence[str]) -> str:
    """Figures with their unit behind the last one only."""
    unit = figures[-1].partition(" ")[2]
    if any(figure.partition(" ")[2] != unit for figure in figures):
        return ", ".join(figures)
    return f"{', '.join(figure.partition(' ')[0] for figure in figures)} {unit}"


def _figure(series: Series, point: Point) -> str:
    return series.show(point.centre or 0.0) if series.quantity is None else point.text


def _grown(series: Series, gain: float) -> str:
    sign = "+" if gain > 0 else "−" if gain < 0 else ""
    return f"{sign}{series.show(abs(gain))}"


# One apart from its fellows


def fellows_of(fit: SetFit) -> dict[str, tuple[float, float]]:
    """What is compared, by item: its last gain an hour, or last reading, and the meter's variance.

    Fellows are those read at the last opening.
    """
    read = {item: one for item, one in fit.series.items() if one.found}
    ages = [hours for one in read.values() if (hours := one.found[-1].engine_hours) is not None]
    values: dict[str, tuple[float, float]] = {}
    for item, series in read.items():
        hours = series.found[-1].engine_hours
        # One that left the set, or is still to be read, has no part in what this opening shows.
        if hours is not None and abs(hours - max(ages)) >= SAME_HOURS:
            continue
        if series.way.direction == "either":
            last = series.found[-1]
            values[item] = (_on_scale(series, last), _variance(series, last, alike=True))
        elif intervals := _intervals(series):
            values[item] = intervals[-1]
    return values


def _apart(fit: SetFit) -> Alarm | None:
    """The last interval, or the last reading, of one part against those of the others."""
    values = fellows_of(fit)
    # Of three, one apart would have to be absurdly far out to be told.
    if len(values) < 4:
        return None
    items = list(values)
    floor = sum(variance for _, variance in values.values()) / len(values)
    gains = [values[i][0] for i in items]
    found = wear.apart(gains, floor, false_alarm=RATES["apart"])
    if not found.is_apart or not _is_apart_by_share(fit, gains, floor, found):
        return None
    series = fit.series[items[found.which]]
    last = series.found[-1]
    if series.way.direction == "either":
        what = f"{_of(series)}, {last.text}, stands apart from its {len(items) - 1} fellows"
    else:
        gain = _grown(series, series.growth()[-1])
        what = (
            f"{_of(series)} went {gain} since it was last in here, apart from its "
            f"{len(items) - 1} fellows"
        )
    return Alarm(
        kind="apart",
        item=series.item,
        check=series.check,
        sentence=f"{what}. Chance alone does this {_once_in(RATES['apart'])}.",
        false_alarm=RATES["apart"],
        entry=last.entry,
    )


def _is_apart_by_share(
    fit: SetFit, gains: Sequence[float], floor: float, found: wear.Apart
) -> bool:
    """Of rates of wear, whether it is apart as a share of them too.

    Rates that are skewed, a few fast and many slow, are alike by their logarithms only.
    """
    if next(iter(fit.series.values())).way.direction == "either":
        return True
    usual = median(gains)
    if usual <= 0:
        return True
    least = max(floor**0.5, 0.05 * usual)
    shares = [log(max(gain, least)) for gain in gains]
    by_share = wear.apart(shares, floor / usual**2, false_alarm=RATES["apart"])
    return by_share.is_apart and by_share.which == found.which


# A meter that reads differently


def _meters(fit: SetFit) -> list[Alarm]:
    """Each meter against the others, over the parts that both have read."""
    rows: list[tuple[str, str, float, float]] = []
    good_to: dict[str, float] = {}
    for item, series in fit.series.items():
        stretch = 0
        for point in series.points:
            stretch += point.restart
            usable = point.centre is not None and not (point.void or point.struck or point.left)
            if usable and point.hours is not None and point.meter:
                rows.append(
                    (f"{item} {stretch}", point.meter, _on_scale(series, point), point.hours)
                )
                half = _half_band(series, point)
                good_to[point.meter] = max(half, good_to.get(point.meter, 0.0))
    meters = sorted({meter for _, meter, _, _ in rows})
    alarms = []
    # Two meters read differently from each other: the one with fewer readings is named.
    for meter in meters if len(meters) != 2 else [_rarer(rows)]:
        if len(meters) == 1:
            break
        allowed = good_to[meter] + max(good_to[one] for one in meters if one != meter)
        if allowed == inf:
            # An analog scale's open end: no reading there can show that the meter is not good to it.
            continue
        try:
            found = wear.meter_difference(
                [row[0] for row in rows],
                [row[1] == meter for row in rows],
                [row[2] for row in rows],
                [row[3] for row in rows],
                allowed=allowed,
                false_alarm=RATES["meter"],
            )
        except CoreError:
            # No part was read with both, or too few to tell: nothing can be said of this meter.
            continue
        if found.differs:
            alarms.append(_meter_alarm(fit, meter, found))
    return alarms


def _half_band(series: Series, point: Point) -> float:
    """What a meter is good to at a reading, on the scale that the check is followed on."""
    if point.low is None or point.high is None or isinf(point.high):
        return inf
    if series.way.scale == "log":
        return log(point.high / point.low) / 2 if point.low > 0 else inf
    return (point.high - point.low) / 2


def _rarer(rows: Sequence[tuple[str, str, float, float]]) -> str:
    counts = Counter(row[1] for row in rows)
    return min(counts, key=lambda meter: (counts[meter], meter))


def _meter_alarm(fit: SetFit, meter: str, found: wear.Difference) -> Alarm:
    series = next(iter(fit.series.values()))
    if series.way.scale == "log":
        by = f"{abs(exp(found.difference) - 1) * 100:.1f} %"
    else:
        by = series.show(abs(found.difference))
    way = "more" if found.difference > 0 else "less"
    parts = f"{found.items} {'part' if found.items == 1 else 'parts'}"
    return Alarm(
        kind="meter",
        item=f"meter:{meter}",
        check=fit.check,
        sentence=(
            f"{meter} reads {by} {way} than its peers in {series.label.lower()}, over {parts} that "
            "both have read: farther than their certificates and sheets allow. Chance alone does this "
            f"{_once_in(RATES['meter'])}."
        ),
        false_alarm=RATES["meter"],
    )
