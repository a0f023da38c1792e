"""System checks: what has to be right with this machine before the book is opened."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from django.apps import AppConfig
from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, register
from django.db import connections

__all__ = ["check_append_only", "check_data_folder", "check_durable"]

TRIGGERS = {
    "book_entry": ("book_entry_is_never_changed", "book_entry_is_never_taken_away"),
    "book_jobfile": ("book_jobfile_is_never_changed", "book_jobfile_is_never_taken_away"),
    "book_accessline": ("book_accessline_is_never_changed", "book_accessline_is_never_taken_away"),
}


def _first_that_exists(folder: Path) -> Path:
    while not folder.exists() and folder != folder.parent:
        folder = folder.parent
    return folder


@register()
def check_data_folder(app_configs: Sequence[AppConfig] | None, **kwargs: Any) -> list[CheckMessage]:
    """The folder of the books can be made and written to."""
    folder: Path = settings.REHANG_DATA
    there = _first_that_exists(folder)
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
            if connection.vendor == "sqlite":
                cursor.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
            else:
                cursor.execute("SELECT tgname FROM pg_trigger")
            present = {row[0] for row in cursor.fetchall()}
        found += [
            Error(
                f"The trigger {name} is missing: entries could be changed unseen.",
                hint="Go back to a copy of the database, or run: rehang verify",
                id="rehang.E003",
            )
            for table, names in TRIGGERS.items()
            if table in tables
            for name in names
            if name not in present
        ]
    return found
