"""What two readings come to together: drops, their difference, two headings, two timings."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import sqrt

from rehang.calc.power import two_headings
from rehang.trade.facts.items import Check
from rehang.trade.facts.limits import Limit
from rehang.trade.facts.meters import Band, Meter, band_of, change_band
from rehang.trade.facts.runsteps import Step
from rehang.trade.known.state import Taken

__all__ = ["Pair", "apart", "change_band", "difference", "headings", "opposite", "too_slow"]

# Two headings count as opposite when they differ from half a turn by no more than this.
# 30 degrees: a choice, no source.
OPPOSITE_WITHIN = 30
# A speed set by hand is the speed asked for when it is this near: of two drops that are compared, and
# of one below the speed that its limit speaks of. Common practice, no source.
SAME_SPEED = 100
# A wind that is none: by its word, or of no knots from anywhere.
_CALM = re.compile(r"calm|\d{1,3}\s*(?:°|at|/)\s*0+(?:\s*kt)?", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Pair:
    """What two readings come to together. ``value`` and ``band`` are in base steps.

    ``half`` says why it is only half of what is asked for; empty where it is whole. ``speeds`` are
    those that drops were taken from.
    """

    value: int
    band: Band
    last: Taken
    words: str
    half: str = ""
    speeds: tuple[int | None, ...] = ()


def difference(
    one: Sequence[Taken], other: Sequence[Taken], meters: Mapping[str, Meter]
) -> Pair | None:
    """The difference of two drops: each by its last reading that counts; None without both.

    Four least digits make it up, close to normal with the combined u (JCGM 100:2008, G.2.1).
    """
    pair = [_last(one), _last(other)]
    if pair[0] is None or pair[1] is None:
        return None
    first, second = pair[0], pair[1]
    half = ""
    speeds = (first.reading.supply, second.reading.supply)
    if None not in speeds and abs((speeds[0] or 0) - (speeds[1] or 0)) > SAME_SPEED:
        half = (
            f"One drop was taken from {speeds[0]:,} and one from {speeds[1]:,} rpm, so they do not "
            "compare. Take both from one speed."
        )
    values = (first.reading.value or 0, second.reading.value or 0)
    value = abs(values[0] - values[1])
    variance = 0.0
    for taken in (first, second):
        meter = meters[taken.reading.meter]
        band = change_band(meter, taken.reading.value or 0, taken.reading.range)
        variance += band.standard_uncertainty**2
    u = sqrt(variance)
    # Of two readings of one minute the one further down the book.
    later = max((first, second), key=lambda t: (t.entry.at, t.entry.seq))
    return Pair(
        value,
        Band("normal", value, value - 2 * u, value + 2 * u, u=u),
        later,
        f"{values[0]} and {values[1]} rpm",
        half,
        speeds,
    )


def too_slow(
    speeds: Sequence[int | None], check: Check, limit: Limit, steps: Sequence[Step]
) -> str:
    """Why drops do not answer their limit: the speeds they were taken from; empty where they do.

    The speed of the limit counts; where it names none, that of the run's step. A drop from a lower
    speed loads the plugs less, so a small one shows nothing (common practice, no source).
    """
    of_step = next((one.at_rpm for one in steps if check.name in one.checks), None)
    asked = limit.at_rpm or of_step
    if asked is None:
        return ""
    by = "the limit asks for it"
    if limit.at_rpm is None:
        by = "the limit names no speed and the run card asks for it"
    if None in speeds:
        return (
            f"The speed it was taken from is not written; {by} from {asked:,} rpm. Write the speed "
            f"before and the speed after, as in {asked}/{asked - 70}."
        )
    slowest = min(one for one in speeds if one is not None)
    if slowest >= asked - SAME_SPEED:
        return ""
    return f"Taken from {slowest:,} rpm; {by} from {asked:,} rpm, so this does not answer it."


def apart(
    each: Sequence[Sequence[Taken]],
    meters: Mapping[str, Meter],
    words: Callable[[float], str],
) -> Pair | None:
    """How far apart the same thing is on two parts or more; None until each is read.

    On one meter its own error is in both readings and cancels (JCGM 100:2008, 5.2.2 and F.1.2.3);
    on two it does not, and each brings its whole band, combined as standard uncertainties (G.2.1).
    """
    last = [_last(taken) for taken in each]
    read = [taken for taken in last if taken is not None]
    if len(read) < 2 or len(read) < len(last):
        return None
    low = min(read, key=lambda t: t.reading.value or 0)
    high = max(read, key=lambda t: t.reading.value or 0)
    if low is high:
        low, high = read[0], read[1]
    value = (high.reading.value or 0) - (low.reading.value or 0)
    told = " and ".join(words(float(taken.reading.value or 0)) for taken in read)
    used = {low.reading.meter, high.reading.meter}
    later = max(read, key=lambda t: (t.entry.at, t.entry.seq))
    if len(used) == 1:
        [meter] = used
        said = f"{told} on {meter}, whose own bias is in both and cancels"
        return Pair(value, change_band(meters[meter], value), later, said)
    variance = sum(
        # Half a width over root 3: JCGM 100:2008, 4.3.7.
        (band_of(meters[t.reading.meter], float(t.reading.value or 0)).width / 2) ** 2 / 3
        for t in (low, high)
    )
    u = sqrt(variance)
    said = f"{told} on {' and '.join(sorted(used))}, each with a bias of its own"
    return Pair(value, Band("normal", value, value - 2 * u, value + 2 * u, u=u), later, said)


def _last(taken: Sequence[Taken]) -> Taken | None:
    live = [t for t in taken if t.counts and t.reading.value is not None]
    return live[-1] if live else None


def headings(taken: Sequence[Taken], meters: Mapping[str, Meter], wind: str = "") -> Pair | None:
    """The mean of the last two readings on opposite headings; the last alone where there is none.

    The meter's error is shared by both readings, so the mean is no better than one reading of it.
    ``wind`` is that of the run: one heading is enough in a calm and only there, as a wind from
    ahead adds tens of turns (common practice, no source).
    """
    live = [t for t in taken if t.counts and t.reading.value is not None]
    if not live:
        return None
    last = live[-1]
    mate = next((t for t in reversed(live[:-1]) if opposite(_heading(t), _heading(last))), None)
    meter = meters[last.reading.meter]
    value = float(last.reading.value or 0)
    words = "one heading only"
    told = last.reading.conditions.get("wind", "") or wind
    half = ""
    if not _CALM.fullmatch(told.strip()):
        half = (
            f"One heading only, with the wind {told}: read it on the opposite heading too."
            if told
            else "One heading only, and no wind is on file: read it on the opposite heading too, or "
            "write the wind as calm."
        )
    if mate is not None and mate.reading.meter == last.reading.meter:
        pair = (mate.reading.value or 0, last.reading.value or 0)
        one = band_of(meter, value, last.reading.range)
        both = two_headings(*pair, accuracy=one.a, resolution=one.d, u_run=one.u)
        # Too far apart for a mean to free them of wind: then it is half of what is asked for.
        value, half = float(both.speed), " ".join(both.notes)
        words = f"mean of {pair[0]:,} on {_heading(mate)}° and {pair[1]:,} on {_heading(last)}°"
        worth = abs(float(both.wind))
        if worth > 2 * float(both.u_wind):
            words += f", the wind worth {worth:.0f} rpm"
    elif not last.reading.conditions.get("heading"):
        words = "heading not written down"
    return Pair(round(value), band_of(meter, value, last.reading.range), last, words, half)


def _heading(taken: Taken) -> str:
    return taken.reading.conditions.get("heading", "")


def opposite(one: str, other: str) -> bool:
    """Whether two headings in degrees are opposite, near enough.

    >>> opposite("240", "060"), opposite("240", "120")
    (True, False)
    """
    if not (one.isdigit() and other.isdigit()):
        return False
    apart = abs(int(one) - int(other)) % 360
    return abs(apart - 180) <= OPPOSITE_WITHIN
