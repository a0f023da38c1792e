"""The job as a whole."""

from __future__ import annotations

from typing import ClassVar

from rehang.trade.terms.kinds.fields import (
    Fields,
    ItemId,
    Names,
    PlaceName,
    entry_kind,
)
from rehang.trade.terms.wording import with_stop

__all__ = [
    "BroughtBack",
    "Noted",
    "PutAway",
    "Unread",
]


@entry_kind("note")
class Noted(Fields):
    """A remark, on an item or on the job."""

    is_quiet: ClassVar[bool] = True

    text: str
    item: ItemId = ""
    place: PlaceName = ""

    def said(self, names: Names) -> str:
        return with_stop(self.text)


@entry_kind("put_away")
class PutAway(Fields):
    """The job is taken off the board."""

    is_quiet: ClassVar[bool] = True

    reason: str

    def said(self, names: Names) -> str:
        return f"Taken off the board: {with_stop(self.reason)}"


@entry_kind("brought_back")
class BroughtBack(Fields):
    """It is on the board again."""

    is_quiet: ClassVar[bool] = True

    reason: str

    def said(self, names: Names) -> str:
        return f"Brought back to the board: {with_stop(self.reason)}"


@entry_kind("unread")
class Unread(Fields):
    """What stands in the place of a line that cannot be shown; nobody writes it."""

    why: str

    def said(self, names: Names) -> str:
        return f"Cannot be shown: strike it. {self.why}"
