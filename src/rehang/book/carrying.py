"""The rows of a store carried to another database: out of PostgreSQL into a backup, and back in."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.contrib.auth import get_user_model
from django.core.management.color import no_style
from django.db import DEFAULT_DB_ALIAS, connections, transaction
from django.db.models import Model

from rehang.book import models
from rehang.book.aside import run_aside
from rehang.book.verifying import as_it_stands

__all__ = ["carried_in", "carried_out"]

_COPY = "copy"
_AT_ONCE = 2_000
_EMPTY_STORE = """
from rehang.book.aside import asked
asked()
from rehang.book.opening import open_store
open_store()
"""


def _tables() -> tuple[type[Model], ...]:
    """Each before those that point to it. Visits stay where they are."""
    return (
        get_user_model(),
        models.Member,
        models.Job,
        models.Job.people.through,
        models.JobFile,
        models.Entry,
        models.Reading,
        models.ChainEnd,
        models.AccessLine,
    )


def _empty_store(folder: Path) -> Path:
    """A SQLite file of this version with nothing in it."""
    run_aside(["-c", _EMPTY_STORE], data=folder).check_returncode()
    return folder / "rehang.sqlite3"


def carried_out(onto: Path) -> None:
    """Write all that the database holds, of one moment, into a new SQLite file."""
    folder = onto.with_name(f"{onto.name}.empty")
    shutil.move(_empty_store(folder), onto)
    shutil.rmtree(folder)
    with _second(onto), as_it_stands():
        _carry(DEFAULT_DB_ALIAS, _COPY)


def carried_in(file: Path) -> None:
    """Put all that a SQLite file holds into the database, whole or not at all."""
    with _second(file):
        _carry(_COPY, DEFAULT_DB_ALIAS)


@contextmanager
def _second(file: Path) -> Iterator[None]:
    """A SQLite file as a database beside the one of the books."""
    plain = {"ENGINE": "django.db.backends.sqlite3", "NAME": file}
    connections.settings[_COPY] = connections.configure_settings({DEFAULT_DB_ALIAS: plain})[
        DEFAULT_DB_ALIAS
    ]
    try:
        yield
    finally:
        connections[_COPY].close()
        del connections[_COPY]
        del connections.settings[_COPY]


def _carry(source: str, target: str) -> None:
    with transaction.atomic(using=target):
        # The one row that a new store begins with.
        models.ChainEnd.objects.using(target).all().delete()
        for table in _tables():
            rows = table._default_manager.using(source).order_by("pk").iterator(chunk_size=_AT_ONCE)
            held: list[Model] = []
            for row in rows:
                held.append(row)
                if len(held) == _AT_ONCE:
                    table._default_manager.using(target).bulk_create(held)
                    held = []
            table._default_manager.using(target).bulk_create(held)
        # The numbers came along, so that the next one has to be told.
        with connections[target].cursor() as cursor:
            for statement in connections[target].ops.sequence_reset_sql(no_style(), _tables()):
                cursor.execute(statement)
