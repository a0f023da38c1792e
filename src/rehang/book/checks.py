"""System checks: what has to be right with this machine before the book is opened."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from django.apps import AppConfig
from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, register
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper

__all__ = [
    "GUARDED",
    "check_append_only",
    "check_data_folder",
    "check_durable",
    "network_kind",
    "trigger_problems",
]

# table -> what it holds, and the sentence with which the database refuses to change a row of it
GUARDED = {
    "book_entry": ("entries", "An entry is never changed. Strike it and write another."),
    "book_jobfile": ("filed texts", "A filed text is never changed. File another revision."),
    "book_accessline": ("lines of the access log", "A line of the access log is never changed."),
}


def _first_that_exists(folder: Path) -> Path:
    while not folder.exists() and folder != folder.parent:
        folder = folder.parent
    return folder


# File systems of other machines, as Linux names them. There the log beside a SQLite file, which all
# its users share in memory, cannot be shared (sqlite.org/wal.html, "Overview").
_NETWORK = frozenset(
    ("9p", "afs", "ceph", "cifs", "davfs", "fuse.davfs2", "fuse.glusterfs", "fuse.rclone", "fuse.sshfs",
     "ncpfs", "nfs", "nfs4", "smb3", "smbfs")
)  # fmt: skip


def _mounts() -> str:
    try:
        return Path("/proc/self/mounts").read_text("utf-8", "replace")
    except OSError:
        return ""


def network_kind(folder: Path, mounts: str) -> str:
    """The kind of network drive that a folder lies on; empty for a disk of this machine.

    ``mounts`` are lines as in Linux's ``/proc/mounts``. On macOS nothing tells.
    """
    if sys.platform == "win32":
        import ctypes

        # DRIVE_REMOTE of GetDriveTypeW, which wants the root with its backslash.
        remote = ctypes.windll.kernel32.GetDriveTypeW(f"{folder.anchor}") == 4
        return "a share of another machine" if remote else ""
    found, longest = "", -1
    for line in mounts.splitlines():
        fields = line.split(" ")
        # A space in a name is written \040 (proc(5), fstab(5)).
        at = Path(fields[1].replace("\\040", " ")) if len(fields) > 2 else None
        # Of two on one folder the later one covers the other.
        if at is not None and folder.is_relative_to(at) and len(at.parts) >= longest:
            found, longest = fields[2], len(at.parts)
    return found if found in _NETWORK else ""


@register()
def check_data_folder(app_configs: Sequence[AppConfig] | None, **kwargs: Any) -> list[CheckMessage]:
    """The folder of the books can be made and written to."""
    folder: Path = settings.REHANG_DATA
    there = _first_that_exists(folder)
    if kind := network_kind(there.resolve(), _mounts()):
        return [
            Error(
                f"The data folder {folder} is on a network drive ({kind}), where two machines could write at "
                "once and entries be lost.",
                hint="Copy it to a disk of this machine while nobody works, and set REHANG_DATA to it.",
                id="rehang.E004",
            )
        ]
    if there.is_dir() and os.access(there, os.W_OK | os.X_OK):
        return []
    return [
        Error(
            f"The data folder {folder} is not writable.",
            hint="Set REHANG_DATA to a folder that is.",
            id="rehang.E001",
        )
    ]


def durability_problem(journal: str, synchronous: int, keys: int) -> CheckMessage | None:
    """What is wrong with SQLite's settings, as its own PRAGMAs give them."""
    # A database in memory (tests) has a journal of its own kind and nothing to keep.
    # 2 is FULL: on the disk before it is answered for (DESIGN 7).
    if journal in ("wal", "memory") and synchronous >= 2 and keys == 1:
        return None
    return Error(
        f"SQLite is set to journal {journal}, synchronous {synchronous}, foreign keys "
        f"{keys}: an entry could be lost after it was answered for.",
        hint="Keep the data folder on a disk of this machine, not on a network share.",
        id="rehang.E002",
    )


@register(Tags.database)
def check_durable(
    app_configs: Sequence[AppConfig] | None,
    databases: Sequence[str] | None = None,
    **kwargs: Any,
) -> list[CheckMessage]:
    """SQLite writes through to the disk before it answers."""
    found: list[CheckMessage] = []
    for alias in databases or ():
        connection = connections[alias]
        if connection.vendor != "sqlite":
            continue
        with connection.cursor() as cursor:
            journal = cursor.execute("PRAGMA journal_mode").fetchone()[0]
            synchronous = cursor.execute("PRAGMA synchronous").fetchone()[0]
            keys = cursor.execute("PRAGMA foreign_keys").fetchone()[0]
        problem = durability_problem(journal, synchronous, keys)
        found += [problem] if problem else []
    return found


@register(Tags.database)
def check_append_only(
    app_configs: Sequence[AppConfig] | None,
    databases: Sequence[str] | None = None,
    **kwargs: Any,
) -> list[CheckMessage]:
    """The triggers that refuse to change an entry are in place once the tables are."""
    found: list[CheckMessage] = []
    for alias in databases or ():
        connection = connections[alias]
        with connection.cursor() as cursor:
            tables = set(connection.introspection.table_names(cursor))
        found += [
            Error(
                said,
                hint="Go back to a copy of the database, or run: rehang verify",
                id="rehang.E003",
            )
            for table in sorted(set(GUARDED) & tables)
            for said in trigger_problems(connection, table)
        ]
    return found


def trigger_problems(connection: BaseDatabaseWrapper, table: str) -> list[str]:
    """Which triggers of a table that only grows are gone, off, or not those that were made."""
    sqlite, (what, sentence) = connection.vendor == "sqlite", GUARDED[table]
    wanted = {f"{table}_is_never_changed": "UPDATE", f"{table}_is_never_taken_away": "DELETE"}
    with connection.cursor() as cursor:
        if sqlite:
            cursor.execute(
                "SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND tbl_name = %s",
                [table],
            )
        else:
            wanted[f"{table}_is_never_taken_away_at_once"] = "TRUNCATE"
            cursor.execute(
                "SELECT tgname, tgenabled::text || ' ' || pg_get_triggerdef(t.oid) || ' ' || prosrc "
                "FROM pg_trigger t JOIN pg_proc p ON p.oid = tgfoid WHERE tgrelid = %s::regclass",
                [table],
            )
        present = dict(cursor.fetchall())

    def is_whole(name: str, event: str) -> bool:
        made = present[name]
        if sqlite:
            return bool(
                made == f"CREATE TRIGGER {name} BEFORE {event} ON {table} "
                f"BEGIN SELECT RAISE(ABORT, '{sentence}'); END"
            )
        # As the server spells it; A is on for whoever writes, O for all but copies of a server.
        parts = (f" BEFORE {event} ON ", " EXECUTE FUNCTION ", sentence, "BEGIN RAISE EXCEPTION")
        return made[0] in "AO" and all(part in made for part in parts) and " WHEN " not in made

    return [
        f"The trigger {name} {'is not the one that was made' if name in present else 'is missing'}: "
        f"{what} could be changed unseen."
        for name, event in wanted.items()
        if name not in present or not is_whole(name, event)
    ]
