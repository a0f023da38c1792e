"""Open time: windows on a clock, how much of it lies before a moment, and what fits into it.

Whole numbers in one time unit. `None` in place of `Hours` is time that is always open.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable
from dataclasses import dataclass

from rehang.calc.units import Moment

Window = tuple[Moment, Moment]
Run = tuple[Moment, Moment]


@dataclass(frozen=True, slots=True)
class Hours:
    """Windows in order of time, of which no two touch."""

    starts: tuple[int, ...]
    ends: tuple[int, ...]
    # Open time before each window, and at the end the total.
    before: tuple[int, ...]

    @property
    def total(self) -> int:
        return self.before[-1]


def hours(windows: Iterable[Window]) -> Hours:
    """Windows in any order, put in order; those that touch or overlap become one."""
    starts: list[int] = []
    ends: list[int] = []
    for start, end in sorted(windows):
        if end <= start:
            continue
        if ends and start <= ends[-1]:
            ends[-1] = max(ends[-1], end)
        else:
            starts.append(start)
            ends.append(end)
    before = [0]
    for start, end in zip(starts, ends, strict=True):
        before.append(before[-1] + end - start)
    return Hours(tuple(starts), tuple(ends), tuple(before))


def windows_of(opened: Hours) -> list[Window]:
    return list(zip(opened.starts, opened.ends, strict=True))


def both(one: Hours | None, other: Hours | None) -> Hours | None:
    """Time that is open in both."""
    if one is None:
        return other
    if other is None:
        return one
    shared = []
    i = k = 0
    while i < len(one.starts) and k < len(other.starts):
        start = max(one.starts[i], other.starts[k])
        end = min(one.ends[i], other.ends[k])
        if start < end:
            shared.append((start, end))
        if one.ends[i] < other.ends[k]:
            i += 1
        else:
            k += 1
    return hours(shared)


def open_before(opened: Hours, moment: int) -> int:
    """Open time before a moment."""
    k = bisect_right(opened.starts, moment) - 1
    if k < 0:
        return 0
    return opened.before[k] + min(moment, opened.ends[k]) - opened.starts[k]


def moment_of_start(opened: Hours, spent: int) -> int:
    """Moment at which work begins that has so much open time before it: at an opening, not
    at the closing before it."""
    k = min(bisect_right(opened.before, spent) - 1, len(opened.starts) - 1)
    return opened.starts[k] + spent - opened.before[k]


def moment_of_end(opened: Hours, spent: int) -> int:
    """Moment at which work ends that has so much open time before its end: at a closing, not
    at the opening after it. Nothing spent is moment 0."""
    if spent <= 0:
        return 0
    k = bisect_left(opened.before, spent) - 1
    return opened.starts[k] + spent - opened.before[k]


def first_run(opened: Hours | None, ready: int, duration: int, split: bool) -> Run | None:
    """Earliest start and end from a moment on; None when it does not fit any more."""
    if opened is None or duration == 0:
        return ready, ready + duration
    k = bisect_right(opened.ends, ready)
    if k == len(opened.ends):
        return None
    if split:
        start = max(ready, opened.starts[k])
        spent = opened.before[k] + start - opened.starts[k] + duration
        return None if spent > opened.total else (start, moment_of_end(opened, spent))
    while k < len(opened.ends):
        start = max(ready, opened.starts[k])
        if start + duration <= opened.ends[k]:
            return start, start + duration
        k += 1
    return None


def last_run(opened: Hours | None, by: int, duration: int, split: bool) -> Run | None:
    """Latest start and end that are over by a moment; None when it does not fit before it."""
    if opened is None or duration == 0:
        return by - duration, by
    if split:
        spent = open_before(opened, by)
        if spent < duration:
            return None
        return moment_of_start(opened, spent - duration), moment_of_end(opened, spent)
    k = bisect_left(opened.starts, by) - 1
    while k >= 0:
        end = min(by, opened.ends[k])
        if end - duration >= opened.starts[k]:
            return end - duration, end
        k -= 1
    return None


def lengths_by_start(
    opened: Hours, duration: int, low: int, high: int
) -> dict[int, list[tuple[int, int]]]:
    """Time from start to end of split work, and the starts (from low to high) that give it.

    Starts are in one window; the end is in the same or a later one, and the closed time
    between adds to the length.
    """
    found: dict[int, list[tuple[int, int]]] = {}
    starts, ends, before = opened.starts, opened.ends, opened.before
    first = bisect_right(ends, low)
    for k in range(first, len(starts)):
        if starts[k] > high:
            break
        for m in range(k, len(starts)):
            # Those of window k that end in window m: more than all before m, no more than with m.
            least = ends[k] + before[m] - before[k + 1] - duration + 1 if m > k else starts[k]
            most = ends[k] + before[m + 1] - before[k + 1] - duration
            a = max(starts[k], least, low)
            b = min(ends[k] - 1, most, high)
            closed = starts[m] - starts[k] - (before[m] - before[k])
            if a <= b:
                found.setdefault(duration + closed, []).append((a, b))
            if most >= ends[k] - 1:
                break
    return found
