"""Opening the store, for whatever is not a web request: commands, the server, benches.

This module may be imported before Django is set up; it sets Django up.
"""

from __future__ import annotations

import os

__all__ = ["open_store", "set_up"]


def set_up() -> None:
    """Set Django up, and touch no store."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "rehang.site.settings")
    import django

    django.setup()


def open_store(*, reading: bool = False) -> None:
    """Set Django up and bring the tables of the store up to this version of Rehang.

    ``reading`` makes no store where there is none, and writes nothing to one of this version.

    Raises
    ------
    Refused
        The data folder cannot be written to, the store is of a newer Rehang, or there is none.
    """
    set_up()
    from rehang.book import tables

    tables.bring_up_to_date(reading=reading)
