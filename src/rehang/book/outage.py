"""What is said when the disk or the database fails: what it is, what was kept, and what to do."""

from __future__ import annotations

import errno
import sys

__all__ = ["outage"]

_KEPT = "Nothing of this was kept; what stood in the book before still stands."
_FULL = f"The disk is full. {_KEPT} Make room on it, then do it again."
_READ_ONLY = "{what} can be read and not written to. {kept} Look at the disk and at whose it is, then do it again."
_BUSY = f"Somebody else has been writing to the book for long. {_KEPT} Do it again in a moment."
_GONE = (
    f"The database does not answer: it is starting, stopped or out of reach. {_KEPT} Do it again in "
    "a minute; if it stays so, look at the machine that holds the books."
)
_BROKEN = f"The database cannot do this ({{said}}). {_KEPT} Run: rehang verify"


def outage(problem: BaseException | None) -> str:
    """The sentences for a failure of the disk or the database; empty for any other."""
    if isinstance(problem, OSError):
        return _of_disk(problem)
    # Where Django was not loaded, no database was asked.
    django = sys.modules.get("django.db.utils")
    if django is not None and isinstance(problem, (django.DatabaseError, django.InterfaceError)):
        return _of_database(str(problem).strip())
    return ""


def _of_disk(problem: OSError) -> str:
    if problem.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
        return _FULL
    what = str(problem.filename or "The disk")
    if problem.errno in (errno.EROFS, errno.EACCES, errno.EPERM):
        return _READ_ONLY.format(what=what, kept=_KEPT)
    if problem.filename is None:
        return ""
    return (
        f"{what}: {problem.strerror}. {_KEPT} Look at the name and at the disk, then do it again."
    )


def _of_database(said: str) -> str:
    """By what SQLite and PostgreSQL say: neither gives Django a number for it."""
    words = said.casefold()
    if "disk is full" in words or "no space left" in words:
        return _FULL
    if "readonly" in words or "read-only" in words:
        return _READ_ONLY.format(what="The database", kept=_KEPT)
    if "disk i/o" in words:
        return f"The disk is full, or fails ({said}). {_KEPT} Make room on it, then do it again."
    if "locked" in words or "deadlock" in words or "lock timeout" in words:
        return _BUSY
    if any(
        one in words
        for one in (
            "connection",
            "connect",
            "server closed",
            "shutting down",
            "starting up",
            "unable to open",
        )
    ):
        return _GONE
    return _BROKEN.format(said=said.splitlines()[0] if said else "it says nothing")
