"""Tables that wait for a person to say what their columns are: files of a day, of no book yet."""

from __future__ import annotations

import hashlib
import os
import re
import time
from pathlib import Path

from django.conf import settings

from rehang.trade.terms.errors import BadInput

__all__ = ["let_go", "put_by", "waiting"]

# As many wait at the same time, and as long; the oldest is let go for a new one.
_MOST, _LONGEST_S = 6, 24 * 3600
_MARK = re.compile(r"[0-9a-f]{64}\Z")


def _folder() -> Path:
    data: Path = settings.REHANG_DATA
    return data / "waiting"


def put_by(job: str, data: bytes) -> str:
    """Lay a table by for its job; returns the mark it is found by."""
    folder = _folder()
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    held = sorted(folder.iterdir(), key=lambda one: one.stat().st_mtime)
    for number, one in enumerate(held):
        if len(held) - number >= _MOST or time.time() - one.stat().st_mtime > _LONGEST_S:
            one.unlink(missing_ok=True)
    mark = hashlib.sha256(data).hexdigest()
    beside = folder / f".{mark}.{os.getpid()}"
    handle = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    with os.fdopen(handle, "wb") as file:
        file.write(data)
    beside.replace(folder / f"{job}-{mark}")
    return mark


def waiting(job: str, mark: str) -> bytes:
    """The table of that mark.

    Raises
    ------
    BadInput
        It waits no more.
    """
    if _MARK.match(mark):
        try:
            return (_folder() / f"{job}-{mark}").read_bytes()
        except FileNotFoundError:
            pass
    raise BadInput("This table does not wait any more. Choose the file again.")


def let_go(job: str, mark: str) -> None:
    """It was read, or is not wanted."""
    if _MARK.match(mark):
        (_folder() / f"{job}-{mark}").unlink(missing_ok=True)
