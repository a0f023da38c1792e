"""Differential compression: which readings answer, the better of two, the floor of the day.

Sources: AC 43.13-1B Chg 1, 8-14 (orifice by bore; loss of a quarter of the input is suspect;
60/80 only where the maker gives no instructions). Two reads, one odd cylinder out: common
practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import median

from rehang.calc import conformity
from rehang.trade.facts import Thresholds
from rehang.trade.limits import Limit
from rehang.trade.meters import Meter
from rehang.trade.state import JobState, Taken
from rehang.trade.wording import on_day

__all__ = [
    "ODD_ONE_PSI",
    "Answer",
    "answer",
    "loss_percent",
    "odd_ones",
    "orifice_for_bore",
    "wrong_orifice",
]

# One cylinder more than this below the median of the others is looked into, even when legal:
# common practice, no source.
ODD_ONE_PSI = 10
# AC 43.13-1B Chg 1, 8-14: bores under 5.00 in take the 0.040 in orifice, others 0.060 in.
_BORE_STEP_IN = 5.0
# AC 43.13-1B, 8-14: a loss of more than 25 % of the input is suspect.
SUSPECT_LOSS = 25.0


@dataclass(frozen=True, slots=True)
class Answer:
    """What a cylinder's readings come to against its limit.

    ``better`` and ``worse`` are the two reads of the session that answers; ``sentences`` why.
    """

    call: str
    p_within: float | None
    better: Taken | None
    worse: Taken | None
    sentence: str
    floor: int | None


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
    if not used or used.split()[0] == wanted:
        return ""
    return (
        f"taken through a {used.split()[0]} in orifice; a bore of {bore_in:g} in asks for "
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
    *,
    rule: Thresholds,
) -> Answer:
    """The call on a cylinder, from readings that are not void.

    An OUT stands until it is struck or the cylinder is worked on. Readings under other
    conditions than the limit wants stay on file and clear nothing.
    """
    with_values = [t for t in readings if t.reading.value is not None]
    if not with_values:
        return Answer("NOT READ", None, None, None, "Not read.", None)
    if limit is None:
        last = with_values[-1]
        return Answer(
            "NOT JUDGED", None, last, None,
            "No limit on file, so it is measured and not judged.", None,
        )  # fmt: skip
    if not limit.has_source:
        last = with_values[-1]
        return Answer(
            "NOT JUDGED", None, last, None,
            "The limit on file names no document, revision and person, so it judges nothing.",
            None,
        )  # fmt: skip
    fitting = [t for t in with_values if not _differs(t, limit)]
    if not fitting:
        last = with_values[-1]
        return Answer(
            "NOT READ",
            None,
            last,
            None,
            f"Taken {_differs(last, limit)}; the limit wants {_wanted(limit)}, so it is for "
            "reference only.",
            None,
        )
    sessions: dict[tuple[str, str], list[Taken]] = {}
    for taken in fitting:
        sessions.setdefault((taken.entry.at.date().isoformat(), taken.reading.meter), []).append(
            taken
        )
    answers = [_session(reads, limit, meters, state, rule) for reads in sessions.values()]
    outs = [one for one in answers if one.call == "OUT"]
    if outs:
        return outs[-1]
    judged = [one for one in answers if one.call not in ("NOT READ",)]
    return (judged or answers)[-1]


def _differs(taken: Taken, limit: Limit) -> str:
    """How the conditions of a reading differ from those the limit wants; empty when they fit."""
    return ", ".join(
        taken.reading.conditions.get(name, "") or f"with no {name} written down"
        for name, wanted in limit.wants.items()
        if taken.reading.conditions.get(name) != wanted
    )


def _wanted(limit: Limit) -> str:
    return ", ".join(limit.wants.values())


def _session(
    reads: list[Taken],
    limit: Limit,
    meters: Mapping[str, Meter],
    state: JobState,
    rule: Thresholds,
) -> Answer:
    ordered = sorted(reads, key=lambda t: t.reading.value or 0)
    better, worse = ordered[-1], ordered[0] if len(ordered) > 1 else None
    value, supply = better.reading.value or 0, better.reading.supply or 80
    meter = meters[better.reading.meter]
    how = f"{loss_percent(value, supply):g} % of {supply} lost"
    if worse is None:
        return Answer(
            "NOT READ", None, better, None, f"{how}. One read only; two are asked for.", None
        )
    day = better.entry.at.date()
    floor = limit.lower
    if limit.floor == "master":
        master = state.master(meter.id, day)
        if master is None:
            return Answer(
                "NOT JUDGED",
                None,
                better,
                worse,
                f"{how}. No master reading of {meter.id} on {on_day(day)}, so there is no "
                "floor to judge by.",
                None,
            )
        floor = master[1]
        # The gauges' accuracy is in both readings and cancels; each has its
        # last digit, so the difference is two rectangles of that width.
        d = meter.resolution or 1.0
        p = float(conformity.p_inside_trapezoid(value - floor, d / 2, d, 0.0, float("inf")))
        against = f"the master read {floor} that day"
    else:
        assert floor is not None
        p = float(
            conformity.p_inside_trapezoid(
                value, meter.accuracy, meter.resolution, float(floor), float("inf")
            )
        )
        against = f"the limit is {floor} or more"
    p = round(p, 12)
    return Answer(
        rule.call(p),
        p,
        better,
        worse,
        f"{how}; {against}. Better of {value} and {worse.reading.value}.",
        floor,
    )


def odd_ones(values: Mapping[str, int]) -> dict[str, tuple[int, float]]:
    """Cylinders more than 10 psi below the median of the others: their gap and that median."""
    found = {}
    for item, value in values.items():
        others = [v for name, v in values.items() if name != item]
        if len(others) >= 2 and median(others) - value > ODD_ONE_PSI:
            found[item] = (round(median(others) - value), float(median(others)))
    return found
