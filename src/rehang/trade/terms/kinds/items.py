"""What becomes of a thing of the engine: out, moved, worked on, spoilt, put by, in again."""

from __future__ import annotations

from dataclasses import field
from typing import ClassVar

from rehang.trade.terms.days import last_day
from rehang.trade.terms.kinds.fields import (
    EngineHours,
    Fields,
    ItemId,
    ListField,
    Names,
    Papered,
    PartName,
    PlaceName,
    Remark,
    Serial,
    because,
    entry_kind,
    name_of,
    noted,
    topic,
    who,
)
from rehang.trade.terms.wording import on_day, stopped, written_day

__all__ = [
    "Assigned",
    "Disposed",
    "Dropped",
    "EarlierService",
    "Fitted",
    "Moved",
    "Overheated",
    "Removed",
    "Replaced",
    "Reworked",
    "Spoilt",
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

    def said(self, names: Names) -> str:
        hours = f" at {self.hours:,} h" if self.hours else ""
        serial = f" s/n {self.serial}" if self.serial else ""
        name = name_of(self.item)
        if name == self.place:
            return f"{who(self.item, '')}{serial} came off{hours}.{noted(self.note)}"
        return f"{name}{serial} came out of {self.place}{hours}.{noted(self.note)}"


@entry_kind("moved")
class Moved(Fields):
    """It belongs to another hole now."""

    item: ItemId
    place: PlaceName
    note: Remark = ""

    def said(self, names: Names) -> str:
        return f"{name_of(self.item)} moved to {self.place}.{noted(self.note)}"


@entry_kind("reworked")
class Reworked(Fields):
    """Something that its sheet names was done to it."""

    item: ItemId
    act: str
    place: PlaceName = ""
    note: Remark = ""


@topic
class Spoilt(Fields):
    """Something after which nothing that was read of an item counts.

    "It was" ``became``; ``in_short`` is the same in a word or two.
    """

    became: ClassVar[str] = ""
    in_short: ClassVar[str] = ""

    item: ItemId
    place: PlaceName = ""
    note: Remark = ""


@entry_kind("dropped")
class Dropped(Spoilt):
    """It was let fall, by that person where it is known."""

    became: ClassVar[str] = "dropped"
    in_short: ClassVar[str] = "dropped"

    person: str = ""

    def said(self, names: Names) -> str:
        by = f" by {names.person(self.person)}" if self.person else ""
        return f"{who(self.item, self.place)} was dropped{by}.{noted(self.note)}"


@entry_kind("overheated")
class Overheated(Spoilt):
    """It was hotter than it may be."""

    became: ClassVar[str] = "overheated"
    in_short: ClassVar[str] = "overheated"

    def said(self, names: Names) -> str:
        return f"{who(self.item, self.place)} was overheated.{noted(self.note)}"


@entry_kind("unknown_history")
class UnknownHistory(Spoilt):
    """Nobody knows what it has been through."""

    became: ClassVar[str] = "found to have no known history"
    in_short: ClassVar[str] = "no known history"

    def said(self, names: Names) -> str:
        return f"{who(self.item, self.place)} has no known history.{noted(self.note)}"


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

    def said(self, names: Names) -> str:
        made = f", made {written_day(self.made)}" if self.made else ""
        return (
            f"{name_of(self.item)} goes in for {self.for_} at {self.place}{made}.{noted(self.note)}"
        )


@entry_kind("assigned")
class Assigned(Fields):
    """It is to go into that place when the engine is put together."""

    item: ItemId
    place: PlaceName
    new: bool = False
    reason: str = ""

    def said(self, names: Names) -> str:
        kind, _, name = self.item.partition(":")
        if self.new:
            name = f"The new {kind} for {name}"
        return stopped(f"{name} is to go to {self.place}{because(self.reason)}")


@entry_kind("fitted")
class Fitted(Papered):
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

    def said(self, names: Names) -> str:
        serial = f" s/n {self.serial}" if self.serial else ""
        batch = f", batch {self.batch}" if self.batch else ""
        made = f", made {written_day(self.made)}" if self.made else ""
        gasket = f", gasket {self.gasket}" if self.gasket else ""
        told = self.papers or self.release
        papers = f", papers {told}" if told else ""
        return (
            f"{who(self.item, '')}{serial} fitted at {self.place}{batch}{made}{gasket}{papers}."
            f"{noted(self.note)}"
        )


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

    def said(self, names: Names) -> str:
        on = on_day(last_day(self.service))
        return f"{name_of(self.item)}: service of {on}, copied in from older records.{noted(self.note)}"
