"""Bringing the tables up to this version, with a copy of the file put by first."""

from __future__ import annotations

import errno
import os
import re
import sqlite3
import stat
from contextlib import closing
from pathlib import Path

from django.conf import settings
from django.core.management import call_command
from django.core.management.commands.migrate import Command as DjangoMigrate
from django.db import DatabaseError, connection, transaction
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.recorder import MigrationRecorder

from rehang import __version__
from rehang.book import ends
from rehang.book.checks import check_data_folder
from rehang.book.outage import outage
from rehang.sheets.folder import PHOTOS
from rehang.trade.terms.errors import Refused

__all__ = [
    "bring_up_to_date",
    "check_not_newer",
    "copied",
    "make_folder",
    "newest_change",
    "unapplied",
]

# Which version keeps a data folder: a file in it.
VERSION = "rehang-version"


def bring_up_to_date(*, reading: bool = False, put_by: bool = True) -> None:
    """Apply what is unapplied, after a proved backup; nothing is touched when nothing is.

    ``reading`` asks for a store that is there. ``put_by`` is no where the store is itself a copy.
    """
    name = connection.settings_dict["NAME"]
    _check_folder()
    if settings.REHANG_READ_ONLY:
        pass  # it is there, and nothing can be made beside it
    elif not reading:
        make_folder()
    elif connection.vendor == "sqlite" and not Path(str(name)).is_file():
        raise Refused(f"There is no database {name}. REHANG_DATA names the folder of the books.")
    try:
        left = unapplied()
    except DatabaseError as problem:
        why = outage(problem) if "disk" in str(problem) else f"{str(problem).splitlines()[0]}."
        raise Refused(f"The database {name} cannot be opened: {why}") from problem
    if left and settings.REHANG_READ_ONLY:
        raise Refused(
            f"The data folder {settings.REHANG_DATA} cannot be written to, and its books are of an "
            "older Rehang. Make it writable once, or open it with the Rehang that wrote it."
        )
    if left:
        _migrate("migrate" if put_by else DjangoMigrate())
        # A store from before ends were kept beside it; where one is kept it is never written over.
        ends.begin()
    if not settings.REHANG_READ_ONLY:
        _sign_folder()
    _for_its_owner_alone(Path(settings.REHANG_DATA))


def _migrate(command: str | DjangoMigrate) -> None:
    """All that is unapplied, in one transaction: stopped at any moment, none of it has happened.

    One by one they could be stopped between a change and the note that it was made.
    """
    # SQLite makes a table anew to change it, which it does not do while it watches the keys; Django
    # looks at them itself before each change is through.
    connection.disable_constraint_checking()
    try:
        with transaction.atomic():
            # Of two programs that start at once, the second finds nothing left to do.
            if unapplied():
                call_command(command, verbosity=0, interactive=False)
    finally:
        connection.enable_constraint_checking()


def _number(version: str) -> tuple[int, ...]:
    return tuple(int(one) for one in re.findall(r"\d+", version))


def check_not_newer(version: str, what: str) -> None:
    """Refuse what a newer Rehang wrote."""
    if _number(version) > _number(__version__):
        raise Refused(
            f"{what} was written by Rehang {version[:20]}, and this is Rehang {__version__}: open it with "
            "that one or a newer."
        )


def _check_folder() -> None:
    file: Path = settings.REHANG_DATA / VERSION
    if file.is_file():
        check_not_newer(
            file.read_text("utf-8", "replace").strip(), f"The data folder {file.parent}"
        )


def _sign_folder() -> None:
    """Write which version keeps the folder, once its tables are of that version."""
    file: Path = settings.REHANG_DATA / VERSION
    if not file.is_file() or file.read_text("utf-8", "replace").strip() != __version__:
        beside = file.with_name(f".{VERSION}.{os.getpid()}")
        beside.write_text(f"{__version__}\n", "utf-8")
        beside.replace(file)


def make_folder() -> None:
    """The data folder, for its owner alone."""
    folder: Path = settings.REHANG_DATA
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    except OSError:
        raise Refused(
            f"The data folder {folder} cannot be made. Set REHANG_DATA to a folder that can."
        ) from None
    if folder.stat().st_mode & stat.S_ISVTX:
        # As /tmp is: to close it would shut everybody out of theirs.
        raise Refused(
            f"The data folder {folder} is one that everyone shares. Set REHANG_DATA to a folder of "
            "its own inside it."
        )
    for problem in check_data_folder(None):
        raise Refused(f"{problem.msg} {problem.hint}")


# What Rehang itself keeps in the data folder; whatever else lies there is left as it is.
_OURS = ("rehang.sqlite3*", "rehang.before-*", "secret-key", "server.log", "backup*", VERSION)


def _for_its_owner_alone(folder: Path) -> None:
    """Take from everybody else what a folder that was there before let them read."""
    if os.name == "nt":
        return
    held = [
        *(one for pattern in _OURS for one in folder.glob(pattern)),
        *(folder / PHOTOS).glob("*"),
    ]
    for path in (folder, folder / PHOTOS, *held):
        try:
            if path.is_symlink() or not path.exists():
                continue
            mode = stat.S_IMODE(path.stat().st_mode)
            if mode & 0o077:
                path.chmod(mode & 0o700)
        except OSError as problem:
            if problem.errno == errno.EROFS:
                # A disk that is only read: it is looked at as it is.
                return
            raise Refused(
                f"Others may read {path}, and it is not yours to close. Its owner runs: "
                f"chmod go-rwx {path}"
            ) from None


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


def copied(onto: Path) -> None:
    """A copy of the database as it stands, while others go on writing."""
    # Not a plain copy of the file: what was committed last may still stand in the log beside it.
    name = str(connection.settings_dict["NAME"])
    with (
        closing(sqlite3.connect(onto)) as target,
        closing(sqlite3.connect(name, uri=name.startswith("file:"))) as source,
    ):
        source.backup(target)


def newest_change(database: Path) -> str:
    """The newest change of our own tables that a database has had."""
    with closing(sqlite3.connect(database)) as held:
        found = held.execute(
            "SELECT max(name) FROM django_migrations WHERE app = 'book'"
        ).fetchone()
    return str(found[0] or "")
