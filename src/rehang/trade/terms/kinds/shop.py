"""The job as a whole."""

from __future__ import annotations

from rehang.trade.terms.kinds.fields import (
    Fields,
    ItemId,
    PlaceName,
    entry_kind,
)

__all__ = [
    "BroughtBack",
    "Noted",
    "PutAway",
    "Unread",
]


@entry_kind("note")
class Noted(Fields):
    """A remark, on an item or on the job."""

    text: str
    item: ItemId = ""
    place: PlaceName = ""


@entry_kind("put_away")
class PutAway(Fields):
    """The job is taken off the board."""

    reason: str


@entry_kind("brought_back")
class BroughtBack(Fields):
    """It is on the board again."""

    reason: str


@entry_kind("unread")
class Unread(Fields):
    """What stands in the place of a line that cannot be shown; nobody writes it."""

    why: str
