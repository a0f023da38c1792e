"""What is worked out of a monitor's channels: spread, who went its own way, magneto checks, oil.

Plain numbers in °F, psi, rpm and seconds go in and plain values come out, which an entry keeps.
Figures below that name no source are common practice, no source; they raise a question and judge
nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rehang.calc.channels import (
    apart,
    binned,
    modified_z,
    reduced,
    spreads,
    steps,
    stretches,
)
from rehang.trade.facts.monitor_columns import (
    EXHAUST,
    HEAD,
    OIL_PRESSURE,
    OIL_TEMPERATURE,
    RPM,
    cylinder_of,
    kind_of,
)

__all__ = ["BUCKETS", "METHOD", "ODD_F", "RISE_F", "found_in", "series_of"]

# Goes up whenever the same file would give other values.
METHOD = 1
# Spans of time that a channel is reduced to: what a chart shows of it.
BUCKETS = 120
# Below this the engine is not running, or idles too unevenly to compare cylinders.
RUNNING_RPM = 600
# NIST/SEMATECH e-Handbook, 1.3.5.17: a modified z-score beyond this is a possible outlier.
OUTLIER = 3.5
_ROBUST = 0.6745
# How far from its own usual a cylinder has to go against the others, and how long.
ODD_F: Mapping[str, float] = {EXHAUST: 50.0, HEAD: 30.0}
ODD_S = 30.0
# How far it has to stand apart throughout; where the probe sits tells in it too.
APART_F: Mapping[str, float] = {EXHAUST: 100.0, HEAD: 50.0}
# A magneto check: the speed falls by so much and comes back, and exhaust rises where both plugs fired.
DROP_RPM = (15.0, 400.0)
CHECK_S = (4.0, 90.0)
RISE_F = 10.0
WINDOW_S, GAP_S = 5.0, 4.0
# Rows further apart than this miss a magneto check of a few seconds.
CLOSE_S = 3.0
MOST_CHECKS = 12
RPM_SPAN, LEAST_IN_SPAN = 200.0, 10

Array = NDArray[np.float64]


def found_in(times: Array, channels: Mapping[str, Array]) -> dict[str, Any]:
    """Everything that the channels of one flight or run say, by times from its first row."""
    rpm = channels.get(RPM)
    running = np.ones(times.shape, dtype=bool) if rpm is None else rpm >= RUNNING_RPM
    found: dict[str, Any] = {
        "span_s": round(float(times[-1]), 1),
        "running_s": round(_seconds(times, running), 1),
        "every_s": round(float(np.median(np.diff(times))), 2),
        "missing": {
            name: int(np.isnan(held).sum())
            for name, held in channels.items()
            if np.isnan(held).any()
        },
    }
    for kind in (EXHAUST, HEAD):
        names = [name for name in channels if kind_of(name) == kind]
        if names:
            found[kind] = _of_kind(kind, names, times, channels, running)
    if rpm is not None:
        found["checks"] = _magneto_checks(times, rpm, channels, found["every_s"])
        found["oil"] = _oil(rpm, channels, running)
    return found


def series_of(times: Array, channels: Mapping[str, Array]) -> dict[str, str]:
    """Each channel reduced: the lowest and highest of each span of time, as text."""
    found = {}
    for name, held in channels.items():
        digits = 1 if name == OIL_PRESSURE else 0
        found[name] = " ".join(
            "-" if np.isnan(low) else f"{low:.{digits}f}/{high:.{digits}f}"
            for low, high in np.asarray(reduced(held, times, BUCKETS))
        )
    return found


def _seconds(times: Array, marks: NDArray[np.bool_]) -> float:
    return float(np.diff(times)[marks[1:]].sum())


def _of_kind(
    kind: str,
    names: list[str],
    times: Array,
    channels: Mapping[str, Array],
    running: NDArray[np.bool_],
) -> dict[str, Any]:
    """Of the exhausts or of the heads: what each was, their spread, and who went its own way."""
    rows = np.column_stack([channels[name] for name in names])
    rows[~running] = np.nan
    each = {}
    for n, name in enumerate(names):
        held = rows[:, n][~np.isnan(rows[:, n])]
        if held.size:
            each[cylinder_of(name)] = {
                "usual": _whole(np.median(held)),
                "most": _whole(held.max()),
                "least": _whole(held.min()),
            }
    told: dict[str, Any] = {"cylinders": each}
    if len(names) < 2:
        return told
    wide = np.asarray(spreads(rows))
    if not np.isnan(wide).all():
        at = int(np.nanargmax(wide))
        told["spread"] = {
            "usual": _whole(np.nanmedian(wide)),
            "most": _whole(wide[at]),
            "at_s": _second(times[at]),
        }
    # With two nobody can say which of them went.
    if len(names) >= 3:
        off = np.asarray(apart(rows))
        told["odd"] = _odd(kind, names, times, off)
        told["apart"] = _standing_apart(kind, names, off)
    return told


def _odd(kind: str, names: list[str], times: Array, off: Array) -> list[dict[str, Any]]:
    """The farthest that each cylinder went from its own usual against the others, and when."""
    found = []
    for n, name in enumerate(names):
        held = off[:, n]
        there = ~np.isnan(held)
        if not there.any():
            continue
        usual = float(np.median(held[there]))
        gone = held - usual
        mad = float(np.median(np.abs(gone[there])))
        bound = max(ODD_F[kind], OUTLIER * mad / _ROBUST)
        # Up and down apart: a swing from one to the other is two.
        runs = [
            (float(np.nanmax(np.abs(gone[first : last + 1]))) * sign, first, last)
            for sign in (1, -1)
            for first, last in stretches(np.nan_to_num(gone) * sign >= bound, times, ODD_S)
        ]
        if runs:
            most, first, last = max(runs, key=lambda one: abs(one[0]))
            found.append(
                {
                    "cylinder": cylinder_of(name),
                    "by": _whole(most),
                    "from_s": _second(times[first]),
                    "for_s": _second(times[last] - times[first]),
                    "times": len(runs),
                }
            )
    return found


def _standing_apart(kind: str, names: list[str], off: Array) -> list[dict[str, Any]]:
    """Who stands apart from the others throughout, as a possible outlier among them."""
    there = [n for n in range(len(names)) if not np.isnan(off[:, n]).all()]
    if len(there) < 3:
        return []
    usual = np.array([float(np.nanmedian(off[:, n])) for n in there])
    scores = np.asarray(modified_z(usual))
    return [
        {"cylinder": cylinder_of(names[n]), "by": _whole(by)}
        for n, by, score in zip(there, usual, scores, strict=True)
        if abs(score) > OUTLIER and abs(by) >= APART_F[kind]
    ]


def _magneto_checks(
    times: Array, rpm: Array, channels: Mapping[str, Array], every: float
) -> list[dict[str, Any]]:
    """Where the speed fell and came back and exhaust rose meanwhile: one magneto was off."""
    exhaust = {cylinder_of(name): x for name, x in channels.items() if kind_of(name) == EXHAUST}
    if not exhaust or every > CLOSE_S:
        return []
    step = np.nan_to_num(np.asarray(steps(rpm, times, WINDOW_S, 0.0)))
    least, most = DROP_RPM
    downs = _turns(-step, least, most, times)
    ups = _turns(step, least, most, times)
    found: list[dict[str, Any]] = []
    free = -np.inf
    for down in downs:
        if times[down] <= free or len(found) == MOST_CHECKS:
            continue
        up = next(
            (one for one in ups if CHECK_S[0] <= times[one] - times[down] <= CHECK_S[1]), None
        )
        # It comes back to about what it was: a throttle that is moved does not.
        if up is None or not 0.5 <= step[up] / -step[down] <= 1.6:
            continue
        rises = {}
        for cylinder, held in exhaust.items():
            before = _mean(held, times, times[down] - WINDOW_S, times[down])
            during = _mean(held, times, min(times[down] + GAP_S, times[up] - 1), times[up])
            if before is not None and during is not None:
                rises[cylinder] = _whole(during - before)
        # Where most fall it is a throttle, not a magneto.
        if rises and 2 * sum(one >= RISE_F for one in rises.values()) >= len(rises):
            found.append(
                {
                    "from_s": _second(times[down]),
                    "for_s": _second(times[up] - times[down]),
                    "rpm": _whole(step[down]),
                    "rises": rises,
                }
            )
            free = times[up]
    return found


def _turns(step: Array, least: float, most: float, times: Array) -> list[int]:
    """Where a step is steepest, in each run of moments at which it is at least so much."""
    found = []
    for first, last in stretches(step >= least, times, 0.0):
        at = first + int(np.argmax(step[first : last + 1]))
        if step[at] <= most:
            found.append(at)
    return found


def _mean(held: Array, times: Array, start: float, stop: float) -> float | None:
    first, last = np.searchsorted(times, [start, stop])
    part = held[first:last]
    part = part[~np.isnan(part)]
    return float(part.mean()) if part.size else None


def _oil(
    rpm: Array, channels: Mapping[str, Array], running: NDArray[np.bool_]
) -> dict[str, list[list[float]]]:
    """Oil pressure and temperature by speed: the middle of each span of it, the median, how many."""
    found = {}
    for name in (OIL_PRESSURE, OIL_TEMPERATURE):
        if name in channels:
            spans = binned(channels[name][running], rpm[running], RPM_SPAN, LEAST_IN_SPAN)
            found[name] = [[middle, round(value, 1), count] for middle, value, count in spans]
    return found


def _whole(value: float) -> int:
    return round(float(value))


def _second(value: float) -> float:
    return round(float(value), 1)
