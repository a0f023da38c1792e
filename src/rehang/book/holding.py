"""A file held by one process at a time; the system lets go of it when the process ends, however."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

__all__ = ["SERVED", "hold", "holding", "is_held", "let_go", "say"]

# Held by whoever serves the books, in their folder.
SERVED = "server.lock"


def _lock(handle: int) -> None:
    if sys.platform == "win32":
        import msvcrt

        # Far behind whatever is written in it, so that others may read that.
        os.lseek(handle, 1 << 20, os.SEEK_SET)
        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
    else:
        import fcntl

        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)


def hold(path: Path) -> int | None:
    """Take hold of a file, made where it is not there; None where another process has it.

    The number that this gives is for :func:`say` and :func:`let_go`.
    """
    handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        _lock(handle)
    except OSError:
        os.close(handle)
        return None
    return handle


def say(handle: int, text: str) -> None:
    """Have a file that is held say something to the others."""
    os.lseek(handle, 0, os.SEEK_SET)
    os.ftruncate(handle, 0)
    os.write(handle, text.encode())


def let_go(handle: int) -> None:
    """Let go of a file that was held."""
    os.close(handle)


@contextmanager
def holding(path: Path) -> Iterator[bool]:
    """Hold a file inside; it gives whether it could."""
    handle = hold(path)
    try:
        yield handle is not None
    finally:
        if handle is not None:
            let_go(handle)


def is_held(path: Path) -> bool:
    """Whether a process holds it now."""
    if not path.exists():
        return False
    with holding(path) as mine:
        return not mine
