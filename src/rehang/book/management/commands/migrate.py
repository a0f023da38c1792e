"""``migrate``, which makes a proved backup of the books before it changes their tables."""

from __future__ import annotations

from typing import Any

from django.core.management.commands.migrate import Command as DjangoMigrate

from rehang.book.tables import make_folder
from rehang.book.upgrading import put_by


class Command(DjangoMigrate):
    """Django's own, after the backup."""

    def handle(self, *args: Any, **options: Any) -> Any:
        changes = not (options.get("plan") or options.get("check_unapplied"))
        make_folder()
        if changes:
            put_by(self.stderr.write)
        return super().handle(*args, **options)
