"""Which backups were proved, when and where, and what came of the last try: one file in the data folder.

It stands in no book, so that keeping the books safe writes nothing into them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from django.conf import settings
from pydantic import TypeAdapter, ValidationError

__all__ = ["Kept", "Log", "log", "write"]

# Of more nobody asks.
MOST = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """One proved backup. ``sum`` is the SHA-256 of its file, ``drilled`` when it was last drilled."""

    at: datetime
    file: str
    bytes: int
    sum: str
    books: int
    entries: int
    locked: bool = False
    drilled: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Log:
    """The proved ones, the newest first, and why the last try came to nothing, if it did."""

    kept: tuple[Kept, ...] = ()
    tried: datetime | None = None
    why: str = ""


_LOG = TypeAdapter(Log)


def _file() -> Path:
    data: Path = settings.REHANG_DATA
    return data / "backups.json"


def log() -> Log:
    """What is known of the backups; nothing where the file cannot be read."""
    try:
        return _LOG.validate_json(_file().read_bytes())
    except (OSError, ValidationError):
        return Log()


def write(found: Log) -> None:
    """Keep what is known of them."""
    beside = _file().with_suffix(".new")
    beside.write_bytes(_LOG.dump_json(replace(found, kept=found.kept[:MOST]), indent=1))
    beside.chmod(0o600)
    beside.replace(_file())
