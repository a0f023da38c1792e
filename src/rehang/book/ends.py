"""Where each chain of the store ends, kept beside the database: one small file for each.

It is written after the commit, so it may lag behind the database and never runs ahead of it. A
database that is behind it had its tail cut off, or is an older copy put back.
"""

from __future__ import annotations

import logging
import os
import threading
from pathlib import Path

from django.conf import settings

from rehang.book import models
from rehang.trade.terms.ends import End, end_from
from rehang.trade.terms.errors import BadInput

__all__ = ["ACCESS", "begin", "folder", "keep_new", "kept", "names", "note", "put"]

log = logging.getLogger("rehang.book")

# The access log, here and in the table of ends: no job's name has this character.
ACCESS = "access_log"
# Of each thread its own: several transactions may be under way.
_NEW = threading.local()


def folder() -> Path:
    """Where the files lie."""
    data: Path = settings.REHANG_DATA
    return data / "ends"


def note(name: str, end: End) -> None:
    """Remember the new end of a chain until its transaction is on the disk."""
    _NEW.__dict__[name] = end


def keep_new(*, committed: bool) -> None:
    """Write the ends that were noted, or let go of them where nothing was committed."""
    ends = dict(_NEW.__dict__)
    _NEW.__dict__.clear()
    for name, end in ends.items() if committed else ():
        try:
            put(name, end)
        except OSError as problem:
            # What it tells of is kept: the next one writes the file again.
            log.warning("the end of %s is not kept beside the database: %s", name, problem)


def put(name: str, end: End) -> None:
    """Write the file of one end."""
    folder().mkdir(parents=True, exist_ok=True, mode=0o700)
    path = folder() / name
    beside = path.with_name(f".{name}.{os.getpid()}.{threading.get_ident()}")
    try:
        beside.write_text(f"{end.seq} {end.hash}\n", "ascii")
        beside.chmod(0o600)
        # Put in its place in one move, so that nobody reads half a file.
        beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)


def begin() -> None:
    """Keep the ends of a store that has none beside it yet."""
    if names():
        return
    for job in models.Job.objects.filter(head_seq__gt=0):
        note(job.slug, End(job.head_seq, job.head_hash))
    for log_end in models.ChainEnd.objects.filter(name=ACCESS, seq__gt=0):
        note(ACCESS, End(log_end.seq, log_end.hash))
    keep_new(committed=True)


def kept(name: str) -> End | None:
    """The end kept of a chain; None where none is, or where it cannot be read."""
    try:
        return end_from((folder() / name).read_text("ascii"))
    except (OSError, ValueError, BadInput):
        return None


def names() -> list[str]:
    """The chains of which an end is kept."""
    found = sorted(folder().iterdir()) if folder().is_dir() else []
    return [one.name for one in found if not one.name.startswith(".")]
