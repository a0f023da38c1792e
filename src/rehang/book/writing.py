"""The one place where a transaction that writes begins."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext

from django.db import connection, transaction

from rehang.book import ends

__all__ = ["writing"]

# SQLite lets one writer in at a time and makes the others sleep and try again, which can
# starve one of them for seconds. Inside one process they queue here instead. (One thread may
# come in twice, so that Django can say that a durable transaction stands inside another.)
_LOCK = threading.RLock()


@contextmanager
def writing() -> Iterator[None]:
    """A transaction that is on the disk when it ends, or has not happened at all."""
    with _LOCK if connection.vendor == "sqlite" else nullcontext():
        committed = False
        try:
            with transaction.atomic(durable=True):
                yield
            # Behind the block: a commit that goes wrong raises before it.
            committed = True
        finally:
            ends.keep_new(committed=committed)
