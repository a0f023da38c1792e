"""Parts: needed, ordered, come, used, counted."""

from __future__ import annotations

from typing import Annotated

from rehang.trade.terms.kinds.fields import (
    DatedText,
    Fields,
    Holds,
    HowMany,
    ItemId,
    PartName,
    PlaceName,
    Price,
    Remark,
    TaskName,
    entry_kind,
    topic,
)

__all__ = [
    "Arrived",
    "Needed",
    "NotNeeded",
    "OfStock",
    "Ordered",
    "StockCounted",
    "Used",
]


@topic
class OfStock(Fields):
    """So many of one part."""

    part: PartName
    number: HowMany


@entry_kind("needed")
class Needed(OfStock):
    """More are needed than the work says."""

    reason: Annotated[str, Holds(empty="Write why {part} is needed.")]
    item: ItemId = ""


@entry_kind("not_needed")
class NotNeeded(OfStock):
    """Fewer are needed than the work says."""

    reason: Annotated[str, Holds(empty="Write why {part} is not needed.")]
    item: ItemId = ""


@entry_kind("ordered")
class Ordered(OfStock):
    """They are ordered, to be there on the day ``due``."""

    supplier: str = ""
    price: Price | None = None
    due: DatedText = ""
    order: str = ""
    note: Remark = ""


@entry_kind("arrived")
class Arrived(OfStock):
    """They are there, with the release document they came with."""

    order: str = ""
    price: Price | None = None
    release: str = ""
    form: str = ""
    reference: str = ""
    note: Remark = ""


@entry_kind("used")
class Used(OfStock):
    """They went into the work."""

    item: ItemId = ""
    task: TaskName = ""
    place: PlaceName = ""
    note: Remark = ""


@entry_kind("stock_counted")
class StockCounted(OfStock):
    """So many are on the shelf."""

    note: Remark = ""
