"""The list in a backup: what is in it, by whom it was written, and where each book ended."""

from __future__ import annotations

import zipfile
import zlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Literal

from pydantic import TypeAdapter, ValidationError

from rehang.trade.terms.chain import GENESIS
from rehang.trade.terms.ends import End
from rehang.trade.terms.errors import BadInput

__all__ = ["DATABASE", "LIST", "Listing", "list_in", "listing_from", "listing_text"]

LIST = "backup.json"
DATABASE = "rehang.sqlite3"


@dataclass(frozen=True, slots=True, kw_only=True)
class Listing:
    """``files`` are SHA-256 by name. ``accounts`` says whether passwords and PINs are in it, hashed.

    ``tables`` is the newest change of the tables, by which a newer Rehang knows what to bring up.
    """

    format: Literal[1] = 1
    rehang: str
    tables: str
    made: datetime
    accounts: bool
    access_log: End = field(default_factory=lambda: End(0, GENESIS))
    books: Mapping[str, End]
    files: Mapping[str, str]

    @property
    def entries(self) -> int:
        """How many entries its books hold."""
        return sum(end.seq for end in self.books.values())


_LISTING = TypeAdapter(Listing)


def listing_text(listing: Listing) -> bytes:
    """The list as it is written."""
    return _LISTING.dump_json(listing, indent=1) + b"\n"


def listing_from(data: bytes, where: str) -> Listing:
    """A list that was written.

    Raises
    ------
    BadInput
        It is none, or of a format that this version does not know.
    """
    try:
        return _LISTING.validate_json(data)
    except ValidationError:
        raise BadInput(
            f"Its list ({LIST}) cannot be read by this Rehang: it is damaged, or of a newer one.",
            where,
        ) from None


def list_in(file: Path) -> Listing:
    """The list in a backup that is not locked.

    Raises
    ------
    BadInput
        The file is no such backup.
    """
    try:
        with zipfile.ZipFile(file) as held:
            return listing_from(held.read(LIST), str(file))
    except (zipfile.BadZipFile, zlib.error, EOFError, KeyError, NotImplementedError):
        raise BadInput(
            "This is no backup whose list can be read: it is damaged, locked, or another file.",
            str(file),
        ) from None
