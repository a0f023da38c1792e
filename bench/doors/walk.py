"""One door at a time, in a process of its own: tries, crashes, the slowest, the peak of memory."""

from __future__ import annotations

import json
import os
import resource
import signal
import sys
import time
import traceback
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import asdict, dataclass, field
from functools import partial
from itertools import islice
from random import Random

from rehang.trade.terms.errors import Refused

__all__ = ["SLOW_S", "Door", "Tally", "walk"]

SLOW_S = 2.0
# A slow try is made again, for a machine may be busy with something else: its best time counts,
# and what the processor worked for it is said beside it.
AGAIN = 3
SHOWN = 600

# What is sent, as a report shows it; and the sending of it: True where it was taken.
Try = tuple[object, Callable[[], bool]]


@dataclass(frozen=True, slots=True)
class Door:
    """One way in. ``share`` is how many of a million tries are made at it."""

    name: str
    what: str
    share: int
    tries: Callable[[Random], Iterator[Try]]


@dataclass(slots=True)
class Tally:
    """What came of the tries at one door."""

    door: str
    tries: int = 0
    taken: int = 0
    refused: int = 0
    slowest_s: float = 0.0
    worked_s: float = 0.0
    slowest: str = ""
    peak_mb: float = 0.0
    seconds: float = 0.0
    # The place in our code and the sentence -> how often, and what was sent the first time.
    crashes: dict[str, tuple[int, str]] = field(default_factory=dict)

    def as_json(self) -> str:
        return json.dumps(asdict(self))


def walk(door: Door, seed: int, tries: int, *, progress: bool = False) -> Tally:
    """Make so many tries at a door; the same seed makes the same tries."""
    tally = Tally(door.name)
    began = time.monotonic()
    asked_to_end: list[int] = []
    if progress:
        # Whoever ends it early gets what was counted so far.
        signal.signal(signal.SIGTERM, lambda number, _: asked_to_end.append(number))
    for shown, act in islice(door.tries(Random(f"{seed} {door.name}")), tries):
        took = _timed(partial(_one, tally, shown, act))
        if took[0] > SLOW_S:
            took = min(took, *(_timed(act) for _ in range(AGAIN)))
        if took[0] > tally.slowest_s:
            (tally.slowest_s, tally.worked_s), tally.slowest = took, _short(shown)
        tally.tries += 1
        if asked_to_end:
            break
        if progress and tally.tries % 5_000 == 0:
            sys.stderr.write(
                f"{door.name}: {tally.tries:,}, {len(tally.crashes)} kinds of crash, "
                f"{time.monotonic() - began:.0f} s\n"
            )
    tally.seconds = time.monotonic() - began
    tally.peak_mb = max(
        resource.getrusage(who).ru_maxrss / 1024
        for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    )
    return tally


def _one(tally: Tally, shown: object, act: Callable[[], bool]) -> None:
    try:
        taken = act()
    except Refused as refusal:
        tally.refused += 1
        if not str(refusal).strip():
            _crashed(tally, "a refusal without a sentence", shown)
    except Exception as problem:  # noqa: BLE001 - whatever it is, it is what is looked for
        _crashed(tally, _place_of(problem), shown)
    else:
        tally.taken += taken
        tally.refused += not taken


def _timed(act: Callable[[], object]) -> tuple[float, float]:
    """Seconds by the clock, and those that processors worked in this process and below it."""
    began, worked = time.perf_counter(), sum(os.times()[:4])
    # What it says was counted the first time.
    with suppress(Exception):
        act()
    return time.perf_counter() - began, sum(os.times()[:4]) - worked


def _crashed(tally: Tally, place: str, shown: object) -> None:
    number, first = tally.crashes.get(place, (0, _short(shown)))
    tally.crashes[place] = (number + 1, first)


def _place_of(problem: Exception) -> str:
    """The last lines of ours that it went through, and what it says."""
    steps = [
        f"{step.filename.rpartition('/rehang/')[2]}:{step.lineno}"
        for step in traceback.extract_tb(problem.__traceback__)
        if "/rehang/" in step.filename
    ]
    said = str(problem)[:300]
    return f"{' > '.join(steps[-3:])}: {type(problem).__name__}: {said}"


def _short(shown: object) -> str:
    text = ascii(shown)
    return text if len(text) <= SHOWN else f"{text[:SHOWN]} ... ({len(text):,} characters)"
