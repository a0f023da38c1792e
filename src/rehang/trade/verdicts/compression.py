"""Differential compression: which readings answer, the better of two, the floor of the day.

Sources: AC 43.13-1B Chg 1, 8-14 (orifice by bore; loss of a quarter of the input is suspect;
60/80 only where the maker gives no instructions). Two reads, one odd cylinder out: common
practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from statistics import median

from rehang.trade.facts.job_facts import Thresholds
from rehang.trade.facts.limits import Limit
from rehang.trade.facts.meters import Meter, band_of, change_band
from rehang.trade.facts.readings import UNPROVED
from rehang.trade.known.state import JobState, Taken
from rehang.trade.terms.conversions import inches_of
from rehang.trade.terms.wording import (
    NOT_JUDGED_FOR_NO_LIMIT,
    NOT_JUDGED_FOR_NO_SOURCE,
    accuracy_not_known,
    on_day,
)

__all__ = [
    "ODD_ONE_PSI",
    "SAME_BORE_IN",
    "SUSPECT_LOSS",
    "CompressionAnswer",
    "Hot",
    "alone",
    "answer",
    "loss_percent",
    "odd_ones",
    "orifice_for_bore",
    "wrong_orifice",
]

# One cylinder more than this below the median of the others is looked into, even when legal:
# common practice, no source.
ODD_ONE_PSI = 10
# Two reads of one session further apart than this are not of one state of a valve or a ring: common
# practice, no source.
AGREE_PSI = 10
# AC 43.13-1B Chg 1, 8-14: bores under 5.00 in take the 0.040 in orifice, others 0.060 in.
_BORE_STEP_IN = 5.0
SAME_BORE_IN = 0.0005
# A master orifice on a sound tester at 80 psi reads in the forties; far below that it sets no floor.
# Common practice, no source.
LEAST_MASTER = 25
# AC 43.13-1B, 8-14: a loss of more than 25 % of the input is suspect.
SUSPECT_LOSS = 25.0


@dataclass(frozen=True, slots=True)
class CompressionAnswer:
    """What a cylinder's readings come to against its limit.

    ``better`` and ``worse`` are the two reads of the session that answers; ``sentences`` why.
    """

    call: str
    p_within: float | None
    better: Taken | None
    worse: Taken | None
    sentence: str
    floor: int | None


# What a reading's state is called while the engine is hot, and where its minutes are written.
HOT, MINUTES = "hot", "minutes"


@dataclass(frozen=True, slots=True)
class Hot:
    """How long after shut-down a reading is a hot one, and when the engine was shut down.

    ``minutes`` is the shop's own figure (common practice, no source; DESIGN 4b.13); 0 asks nothing.
    ``cold`` are the shut-downs of runs that did not reach full temperature.
    """

    minutes: int = 0
    stopped: tuple[datetime, ...] = ()
    cold: frozenset[datetime] = frozenset()

    def why_not(self, taken: Taken) -> str:
        """Why a reading called hot is not one; empty where it is, or is not called hot."""
        if not self.minutes or taken.reading.conditions.get("state") != HOT:
            return ""
        # A shut-down in the book goes before the minutes that were typed.
        before = [at for at in self.stopped if at <= taken.entry.at]
        if before:
            spent = (taken.entry.at - max(before)).total_seconds() / 60
            if max(before) in self.cold:
                return "hot after a run that did not reach full temperature"
        else:
            written = taken.reading.conditions.get(MINUTES, "").strip()
            try:
                spent = float(written)
            except ValueError:
                return "hot with no minutes since shut-down written down"
        # Not a number of minutes at all is as good as none.
        if 0 <= spent <= self.minutes:
            return ""
        return f"{spent:,.0f} minutes after shut-down, and hot is {self.minutes} or less here"


def orifice_for_bore(bore_in: float) -> str:
    """The tester's orifice that the bore asks for."""
    return "0.040" if bore_in < _BORE_STEP_IN else "0.060"


def wrong_orifice(taken: Taken, meters: Mapping[str, Meter], bore_in: float | None) -> str:
    """Why a reading is void for its orifice; empty when it is not."""
    if bore_in is None:
        return ""
    meter = meters.get(taken.reading.meter)
    used = taken.reading.conditions.get("orifice", "") or (meter.orifice if meter else "")
    wanted = orifice_for_bore(bore_in)
    # A tester's bore is stated to the nearest thousandth of an inch at best.
    if not used or abs(inches_of(used) - float(wanted)) < SAME_BORE_IN:
        return ""
    return (
        f"taken through a {used.removesuffix(' in')}{'' if used.endswith('mm') else ' in'} orifice; a bore of {bore_in:g} in asks for "
        f"{wanted} in (AC 43.13-1B Chg 1, 8-14)"
    )


def loss_percent(held: int, supply: int) -> float:
    """Share of the input that was lost, in per cent."""
    return (supply - held) / supply * 100


def answer(
    readings: Sequence[Taken],
    limit: Limit | None,
    meters: Mapping[str, Meter],
    state: JobState,
    rule: Thresholds,
    hot: Hot = Hot(),
) -> CompressionAnswer:
    """The call on a cylinder, from readings that are not void.

    An OUT stands until it is struck or the cylinder is worked on. Readings under other
    conditions than the limit wants stay on file and clear nothing.
    """
    with_values = [t for t in readings if t.reading.value is not None]
    unproved = [t for t in readings if t.reading.state == UNPROVED]
    if unproved and not with_values and limit is not None and limit.has_source:
        said = accuracy_not_known(unproved[-1].reading.meter)
        return CompressionAnswer("NOT READ", None, None, None, said, None)
    if not with_values:
        return CompressionAnswer("NOT READ", None, None, None, "Not read.", None)
    if limit is None or not limit.has_source:
        said = NOT_JUDGED_FOR_NO_LIMIT if limit is None else NOT_JUDGED_FOR_NO_SOURCE
        last = _better_of_last(with_values)
        return CompressionAnswer("NOT JUDGED", None, last, None, said, None)
    fitting = [t for t in with_values if not _differs(t, limit, hot)]
    if not fitting:
        # One that is hot by its word says more than one that is cold by it.
        last = _better_of_last(
            [t for t in with_values if not _differs(t, limit, Hot())] or with_values
        )
        return CompressionAnswer(
            "NOT READ",
            None,
            last,
            None,
            f"Taken {_differs(last, limit, hot)}; the limit wants {_wanted(limit)}, so it is for "
            "reference only.",
            None,
        )
    # One day on one tester, which is what a floor of the day is for (DESIGN 4a, 12).
    sessions: dict[tuple[str, str], list[Taken]] = {}
    for taken in fitting:
        sessions.setdefault((taken.entry.at.date().isoformat(), taken.reading.meter), []).append(
            taken
        )
    answers = [_session(reads, limit, meters, state, rule) for reads in sessions.values()]
    outs = [one for one in answers if one.call == "OUT"]
    # DESIGN 4a, 4: an OUT stands until it is struck or the cylinder is worked on.
    if outs:
        return outs[-1]
    if _apart(list(sessions.values())[-1]):
        return answers[-1]
    judged = [one for one in answers if one.call not in ("NOT READ",)]
    found = (judged or answers)[-1]
    latest = fitting[-1].entry
    after = [t for t in with_values if (t.entry.at, t.entry.seq) > (latest.at, latest.seq)]
    if not after or found.better is None:
        return found
    return _contradicted(found, found.better, after[-1], _differs(after[-1], limit, hot))


def _contradicted(
    found: CompressionAnswer, better: Taken, low: Taken, how: str
) -> CompressionAnswer:
    """What an answer is worth beside a later read for reference, taken as ``how`` says."""
    if not _lost(low) > SUSPECT_LOSS >= _lost(better):
        return found
    return CompressionAnswer(
        "NOT READ", None, better, found.worse,
        f"{low.reading.written} on {on_day(low.entry.at)}, {how}, came after the {better.reading.written} that "
        f"answers and has lost more than {SUSPECT_LOSS:g} %: find out why, and read it as the limit wants it.",
        None,
    )  # fmt: skip


def _lost(taken: Taken) -> float:
    return loss_percent(taken.reading.value or 0, taken.reading.supply or 80)


def _apart(reads: Sequence[Taken]) -> int:
    """Psi between the last two reads of a session where they are of two states; 0 where they agree."""
    if len(reads) < 2:
        return 0
    before, last = (taken.reading.value or 0 for taken in reads[-2:])
    return abs(last - before) if abs(last - before) > AGREE_PSI else 0


def _better_of_last(reads: Sequence[Taken]) -> Taken:
    """The better of the reads of the last day and tester: that one counts, judged or not."""
    day, meter = reads[-1].entry.at.date(), reads[-1].reading.meter
    same = [t for t in reads if t.entry.at.date() == day and t.reading.meter == meter]
    return max(same, key=lambda t: t.reading.value or 0)


def _differs(taken: Taken, limit: Limit, hot: Hot) -> str:
    """How the conditions of a reading differ from those the limit wants; empty when they fit."""
    differs = ", ".join(
        taken.reading.conditions.get(name, "") or f"with no {name} written down"
        for name, wanted in limit.wants.items()
        if taken.reading.conditions.get(name) != wanted
    )
    return differs or (hot.why_not(taken) if limit.wants.get("state") == HOT else "")


def _wanted(limit: Limit) -> str:
    return ", ".join(limit.wants.values())


def _session(
    reads: list[Taken],
    limit: Limit,
    meters: Mapping[str, Meter],
    state: JobState,
    rule: Thresholds,
) -> CompressionAnswer:
    # DESIGN 4a, 4: at least two reads, the better one counts, both stay.
    ordered = sorted(reads, key=lambda t: t.reading.value or 0)
    better, worse = ordered[-1], ordered[0] if len(ordered) > 1 else None
    # 80 psi is what testers are regulated to (AC 43.13-1B Chg 1, 8-14).
    value, supply = better.reading.value or 0, better.reading.supply or 80
    meter = meters[better.reading.meter]
    how = f"{loss_percent(value, supply):g} % of {supply} lost"
    if worse is None:
        return CompressionAnswer(
            "NOT READ", None, better, None, f"{how}. One read only; two are asked for.", None
        )
    if psi := _apart(reads):
        before, last = (taken.reading.value or 0 for taken in reads[-2:])
        return CompressionAnswer(
            "NOT READ", None, better, worse,
            f"{how}. The last two reads, {before} and {last}, are {psi} psi apart: find out "
            f"why, and read it until two in a row agree within {AGREE_PSI} psi (common practice, no source).",
            None,
        )  # fmt: skip
    found = _against(better, limit, meter, state, rule)
    if found.p is None:
        return CompressionAnswer(found.call, None, better, worse, f"{how}. {found.against}", None)
    return CompressionAnswer(
        found.call,
        found.p,
        better,
        worse,
        f"{how}; {found.against}. Better of {value} and {worse.reading.value}.",
        found.floor,
    )


def alone(
    taken: Taken, limit: Limit, meter: Meter, state: JobState, rule: Thresholds, hot: Hot
) -> tuple[str, float | None, str]:
    """The call on one read by itself, its probability and why: it may stand beside the better."""
    differs = _differs(taken, limit, hot)
    if differs:
        return "NOT READ", None, f"Taken {differs}: for reference only."
    found = _against(taken, limit, meter, state, rule)
    return found.call, found.p, f"{found.against[0].upper()}{found.against[1:].rstrip('.')}."


@dataclass(frozen=True, slots=True)
class _Against:
    """One read against the floor that its limit sets; ``p`` is None where there is no floor."""

    call: str
    p: float | None
    against: str
    floor: int | None


def _against(
    taken: Taken, limit: Limit, meter: Meter, state: JobState, rule: Thresholds
) -> _Against:
    value, day = taken.reading.value or 0, taken.entry.at.date()
    if limit.floor == "master":
        master = state.master(meter.id, day)
        if master is None:
            return _Against(
                "NOT JUDGED",
                None,
                f"No master reading of {meter.id} on {on_day(day)}, so there is no floor to "
                "judge by.",
                None,
            )
        floor = master[1]
        if floor < LEAST_MASTER:
            return _Against(
                "NOT JUDGED",
                None,
                f"The master of {meter.id} read {floor} psi on {on_day(day)}, and a sound tester "
                f"shows {LEAST_MASTER} or more (common practice, no source). Read it again.",
                None,
            )
        # The gauges' accuracy is in both readings and cancels (DESIGN 4a, 12).
        p = change_band(meter, value - floor, taken.reading.range).p_inside(0, None)
        return _Against(rule.call(p), p, f"the master read {floor} that day", floor)
    assert limit.lower is not None
    p = band_of(meter, value, taken.reading.range).p_inside(limit.lower, None)
    return _Against(rule.call(p), p, f"the limit is {limit.lower} or more", limit.lower)


def odd_ones(values: Mapping[str, int]) -> dict[str, tuple[int, float]]:
    """Cylinders more than 10 psi below the median of the others: their gap and that median."""
    found = {}
    for item, value in values.items():
        others = [v for name, v in values.items() if name != item]
        # DESIGN 4a, 11. Of two cylinders nobody can say which is the odd one.
        if len(others) >= 2 and median(others) - value > ODD_ONE_PSI:
            found[item] = (round(median(others) - value), float(median(others)))
    return found
