"""Who is at which hole just now: in memory alone, for as long as a page goes on saying so."""

from __future__ import annotations

import re
import threading
from collections.abc import Callable
from dataclasses import dataclass
from time import monotonic

__all__ = ["STANDS_S", "Presence"]

# A page asks every second and a half; one that has not asked four times over is gone.
STANDS_S = 6.0
# The name of a hole, and nothing that a page could not show.
_PLACE = re.compile(r"[0-9A-Za-z]{1,8}\Z")


@dataclass(frozen=True, slots=True)
class _Here:
    name: str
    at: str
    when: float


class Presence:
    """Where people are, by job. Nothing of it is kept, and nothing hangs on it."""

    def __init__(self, clock: Callable[[], float] = monotonic) -> None:
        self._clock = clock
        self._jobs: dict[int, dict[str, _Here]] = {}
        self._lock = threading.Lock()

    def others(self, job: int, person: str, name: str, at: str) -> list[dict[str, str]]:
        """Write down where one person is, and give where the others of the job are: name and hole.

        ``at`` that is no hole's name means nowhere in particular.
        """
        now = self._clock()
        with self._lock:
            here = self._jobs.setdefault(job, {})
            for key in [key for key, one in here.items() if now - one.when > STANDS_S]:
                del here[key]
            if _PLACE.match(at):
                here[person] = _Here(name, at, now)
            else:
                here.pop(person, None)
            return [{"name": one.name, "at": one.at} for key, one in here.items() if key != person]
