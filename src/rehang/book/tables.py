"""Bringing the tables up to this version, with a copy of the file put by first."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from django.core.management import call_command
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.recorder import MigrationRecorder

from rehang.book import ends
from rehang.book.checks import check_data_folder
from rehang.trade.errors import Refused

__all__ = ["bring_up_to_date", "copy_put_by", "make_folder", "unapplied"]


def bring_up_to_date(*, reading: bool = False) -> None:
    """Apply what is unapplied; nothing is touched when nothing is.

    ``reading`` asks for a store that is there.
    """
    name = connection.settings_dict["NAME"]
    if not reading:
        make_folder()
    elif connection.vendor == "sqlite" and not Path(str(name)).is_file():
        raise Refused(f"There is no database {name}. REHANG_DATA names the folder of the books.")
    elif connection.vendor == "sqlite":
        _open_where_nothing_can_be_written(Path(str(name)))
    try:
        left = unapplied()
    except DatabaseError as problem:
        raise Refused(
            f"The database {name} cannot be opened: {str(problem).splitlines()[0]}."
        ) from problem
    if left:
        call_command("migrate", verbosity=0, interactive=False)
        # A store from before ends were kept beside it; where one is kept it is never written over.
        ends.begin()


def _open_where_nothing_can_be_written(path: Path) -> None:
    """Read a database on a read-only disk, where SQLite cannot lay its log beside it.

    Only where no log is there: what it held would be passed over.
    """
    log = path.with_name(f"{path.name}-wal")
    if os.access(path.parent, os.W_OK) or (log.exists() and log.stat().st_size):
        return
    connection.settings_dict["NAME"] = f"{path.absolute().as_uri()}?mode=ro&immutable=1"
    # Nothing is journalled and nothing waits for the disk.
    connection.settings_dict["OPTIONS"] = {}


def make_folder() -> None:
    """The data folder, for its owner alone."""
    from django.conf import settings

    folder: Path = settings.REHANG_DATA
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    except OSError:
        raise Refused(
            f"The data folder {folder} cannot be made. Set REHANG_DATA to a folder that can."
        ) from None
    for problem in check_data_folder(None):
        raise Refused(f"{problem.msg} {problem.hint}")


def unapplied() -> list[str]:
    """Migrations that this version has and the database does not; a newer database is refused."""
    executor = MigrationExecutor(connection)
    known = set(executor.loader.disk_migrations)
    ours = {app for app, _ in known}
    newer = sorted(
        f"{app} {name}"
        for app, name in MigrationRecorder(connection).applied_migrations()
        if app in ours and (app, name) not in known and name not in _replaced(executor, app)
    )
    if newer:
        raise Refused(
            f"The database was written by a newer Rehang (it has {', '.join(newer)}). "
            "Open it with that one, or go back to a copy put by before."
        )
    plan = executor.migration_plan(executor.loader.graph.leaf_nodes())
    return [f"{migration.app_label} {migration.name}" for migration, _ in plan]


def _replaced(executor: MigrationExecutor, app: str) -> set[str]:
    """Names of migrations that a squashed one stands for."""
    return {
        name
        for migration in executor.loader.disk_migrations.values()
        for label, name in migration.replaces
        if label == app
    }


def copy_put_by() -> Path | None:
    """A copy of the SQLite file beside it, before its tables change; None where there is none."""
    name = Path(str(connection.settings_dict["NAME"]))
    if connection.vendor != "sqlite" or not name.is_file():
        return None
    if not MigrationRecorder(connection).applied_migrations():
        return None
    when = datetime.now(UTC).strftime("%Y%m%dT%H%M%S")
    copy = name.with_name(f"{name.stem}.before-{when}{name.suffix}")
    # Not a plain copy of the file: what was committed last may still stand in the log beside it.
    with closing(sqlite3.connect(name)) as source, closing(sqlite3.connect(copy)) as target:
        source.backup(target)
    copy.chmod(0o600)
    return copy
