"""What has been worked out once, kept in this process."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Any, TypeVar

__all__ = ["Kept", "forget"]

T = TypeVar("T")


class Kept:
    """The last so many answers, by what they are answers to."""

    def __init__(self, size: int) -> None:
        _ALL.append(self)
        self._size = size
        self._held: OrderedDict[Hashable, Any] = OrderedDict()
        self._lock = threading.Lock()

    def get(self, key: Hashable, work_out: Callable[[], T]) -> T:
        with self._lock:
            if key in self._held:
                self._held.move_to_end(key)
                found: T = self._held[key]
                return found
        # Outside the lock: two may work out the same, and neither waits for the other.
        made = work_out()
        self.put(key, made)
        return made

    def held(self, key: Hashable) -> Any:
        """The answer where it is kept, else None."""
        with self._lock:
            return self._held.get(key)

    def put(self, key: Hashable, value: object) -> None:
        with self._lock:
            self._held[key] = value
            self._held.move_to_end(key)
            while len(self._held) > self._size:
                self._held.popitem(last=False)

    def clear(self) -> None:
        with self._lock:
            self._held.clear()


_ALL: list[Kept] = []


def forget() -> None:
    """Let go of all that is kept in this process; the next question reads the tables again."""
    for one in _ALL:
        one.clear()
