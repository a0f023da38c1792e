"""How passwords and PINs are hashed: one at a time, on a thread that gives way to the pages.

Few requests may wait for it, so that whoever guesses holds up nobody who works.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

from django.contrib.auth.hashers import Argon2PasswordHasher

from rehang.book.tries import TooManyTries

__all__ = ["Argon2", "check_room"]

T = TypeVar("T")
# One hash being worked out and one behind it; the server's other threads are for the pages.
IN_LINE = 2
# About how long a hash takes on a slow machine, seconds.
HASH_S = 2


def _step_back() -> None:
    """Have the pages go before: on Linux the priority of a thread is its own."""
    if hasattr(os, "setpriority") and os.uname().sysname == "Linux":
        os.setpriority(os.PRIO_PROCESS, threading.get_native_id(), 10)


_ROOM = threading.BoundedSemaphore(IN_LINE)
_HASHES = ThreadPoolExecutor(1, "hashes", initializer=_step_back)


def check_room() -> None:
    """Whether a hash could be worked out now; whoever has to wait is told before anything is asked."""
    if not _ROOM.acquire(blocking=False):
        raise TooManyTries(HASH_S)
    _ROOM.release()


def _in_line(work: Callable[..., T], *given: str) -> T:
    if not _ROOM.acquire(blocking=False):
        raise TooManyTries(HASH_S)
    try:
        return _HASHES.submit(work, *given).result()
    finally:
        _ROOM.release()


class Argon2(Argon2PasswordHasher):
    """Django's own, one hash at a time, which leaves a hash as it is until its owner sets another.

    Signing in would otherwise write it anew when a version of Django asks for more work, and the
    access log would not know of it.
    """

    def encode(self, password: str, salt: str) -> str:
        return str(_in_line(super().encode, password, salt))

    def verify(self, password: str, encoded: str) -> bool:
        return bool(_in_line(super().verify, password, encoded))

    def must_update(self, encoded: str) -> bool:
        return False
