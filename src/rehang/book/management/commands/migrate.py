"""``migrate``, which puts a copy of the books by before it changes their tables."""

from __future__ import annotations

from typing import Any

from django.core.management.commands.migrate import Command as DjangoMigrate

from rehang.book.tables import copy_put_by, make_folder, unapplied


class Command(DjangoMigrate):
    """Django's own, after the copy."""

    def handle(self, *args: Any, **options: Any) -> Any:
        changes = not (options.get("plan") or options.get("check_unapplied"))
        make_folder()
        if changes and unapplied() and (copy := copy_put_by()):
            self.stderr.write(f"The books as they were: {copy}")
        return super().handle(*args, **options)
