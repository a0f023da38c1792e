"""What becomes of a thing of the engine: out, moved, worked on, spoilt, put by, in again."""

from __future__ import annotations

from dataclasses import field

from rehang.trade.terms.kinds.fields import (
    EngineHours,
    Fields,
    ItemId,
    ListField,
    PartName,
    PlaceName,
    Remark,
    Serial,
    entry_kind,
    topic,
)

__all__ = [
    "Assigned",
    "Disposed",
    "Dropped",
    "EarlierService",
    "Ended",
    "Fitted",
    "Moved",
    "Overheated",
    "Removed",
    "Replaced",
    "Reworked",
    "UnknownHistory",
]


@entry_kind("removed")
class Removed(Fields):
    """It came out of a hole, or of where it was fitted, at those hours of its own."""

    item: ItemId
    place: PlaceName
    hours: EngineHours | None = None
    serial: Serial = ""
    batch: str = ""
    note: Remark = ""


@entry_kind("moved")
class Moved(Fields):
    """It belongs to another hole now."""

    item: ItemId
    place: PlaceName
    note: Remark = ""


@entry_kind("reworked")
class Reworked(Fields):
    """Something that its sheet names was done to it."""

    item: ItemId
    act: str
    place: PlaceName = ""
    note: Remark = ""


@topic
class Ended(Fields):
    """Something after which nothing that was read of an item counts."""

    item: ItemId
    place: PlaceName = ""
    note: Remark = ""


@entry_kind("dropped")
class Dropped(Ended):
    """It was let fall, by that person where it is known."""

    person: str = ""


@entry_kind("overheated")
class Overheated(Ended):
    """It was hotter than it may be."""


@entry_kind("unknown_history")
class UnknownHistory(Ended):
    """Nobody knows what it has been through."""


@entry_kind("disposed")
class Disposed(Fields):
    """What became of a reject."""

    item: ItemId
    how: str
    note: Remark = ""


@entry_kind("replaced")
class Replaced(Fields):
    """Another goes in for a reject: ``for_`` is the name of the one that it stands in for."""

    item: ItemId
    place: PlaceName
    for_: Serial
    made: str = ""
    type: str = ""
    note: Remark = ""


@entry_kind("assigned")
class Assigned(Fields):
    """It is to go into that place when the engine is put together."""

    item: ItemId
    place: PlaceName
    new: bool = False
    reason: str = ""


@entry_kind("fitted")
class Fitted(Fields):
    """It went in."""

    item: ItemId
    place: PlaceName
    part: PartName = ""
    serial: Serial = ""
    batch: str = ""
    made: str = ""
    gasket: str = ""
    release: str = ""
    form: str = ""
    reference: str = ""
    note: Remark = ""


@entry_kind("earlier")
class EarlierService(Fields):
    """One service before this job, copied in from older records."""

    item: ItemId
    service: str
    place: PlaceName = ""
    engine_hours: EngineHours | None = None
    item_hours: EngineHours | None = None
    readings: ListField = field(default_factory=list)
    note: Remark = ""
