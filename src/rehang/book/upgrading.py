"""Books of an older Rehang brought up to this one: backed up first, and the change tried on the copy."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from django.conf import settings
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder

from rehang import __version__
from rehang.book.backup import back_up
from rehang.book.holding import SERVED, is_held
from rehang.book.tables import unapplied
from rehang.trade.terms.errors import Refused

__all__ = ["BEFORE", "put_by"]

# Where the backups lie that are made before a change, in the data folder.
BEFORE = "backups"
# The one before the last stays, for whoever finds out late.
KEPT = 2


def put_by(say: Callable[[str], object]) -> None:
    """Say what will change, and back the books up, where there are any and something will.

    The backup is proved by opening it with this version, so that the change has been made once on a
    copy before it is made on the books.

    Raises
    ------
    Refused
        The backup cannot be made, or the change does not leave the copy whole; nothing is changed.
    """
    left = unapplied()
    if not left or "book" not in {
        app for app, _ in MigrationRecorder(connection).applied_migrations()
    }:
        return
    if is_held(settings.REHANG_DATA / SERVED):
        raise Refused(
            "These books are being served by an older Rehang. Stop it, then start this one."
        )
    say(
        f"These books are of an older Rehang. {len(left)} changes bring them to {__version__}: {', '.join(left)}."
    )
    if connection.vendor != "sqlite":
        say(
            "They are in PostgreSQL, so no backup is made here: it has its own, pg_dump. All changes or none are made."
        )
        return
    folder: Path = settings.REHANG_DATA / BEFORE
    folder.mkdir(mode=0o700, exist_ok=True)
    try:
        kept = back_up(folder, at=datetime.now(UTC), accounts=True, keep=KEPT, before=True)
    except Refused as reason:
        raise Refused(
            f"The books are not changed, because they cannot be backed up first. {reason}"
        ) from None
    say(f"The books as they were, proved whole: {kept.file}")
