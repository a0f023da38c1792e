"""Parts: needed, ordered, come, used, counted."""

from __future__ import annotations

from typing import Annotated, ClassVar

from rehang.trade.terms.days import last_day
from rehang.trade.terms.kinds.fields import (
    DatedText,
    Fields,
    Holds,
    HowMany,
    ItemId,
    Names,
    Papered,
    PartName,
    PlaceName,
    Price,
    Remark,
    TaskName,
    because,
    entry_kind,
    name_of,
    noted,
    topic,
)
from rehang.trade.terms.wording import on_day, stopped

__all__ = [
    "AboutStock",
    "Arrived",
    "Needed",
    "NotNeeded",
    "Ordered",
    "StockCounted",
    "Used",
]


@topic
class AboutStock(Fields):
    """So many of one part."""

    part: PartName
    number: HowMany

    def thing(self, names: Names) -> str:
        """So many of what, as the stock list calls it."""
        return f"{self.number} {names.part(self.part)}"


@entry_kind("needed")
class Needed(AboutStock):
    """More are needed than the work says."""

    is_quiet: ClassVar[bool] = True

    reason: Annotated[str, Holds(empty="Write why {part} is needed.")]
    item: ItemId = ""

    def said(self, names: Names) -> str:
        return stopped(f"{self.thing(names)} needed{because(self.reason)}")


@entry_kind("not_needed")
class NotNeeded(AboutStock):
    """Fewer are needed than the work says."""

    is_quiet: ClassVar[bool] = True

    reason: Annotated[str, Holds(empty="Write why {part} is not needed.")]
    item: ItemId = ""

    def said(self, names: Names) -> str:
        return stopped(f"{self.thing(names)} not needed{because(self.reason)}")


@entry_kind("ordered")
class Ordered(AboutStock):
    """They are ordered, to be there on the day ``due``."""

    is_quiet: ClassVar[bool] = True

    supplier: str = ""
    price: Price | None = None
    due: DatedText = ""
    order: str = ""
    note: Remark = ""

    def said(self, names: Names) -> str:
        supplier = f" from {self.supplier}" if self.supplier else ""
        due = ""
        if self.due:
            day = last_day(self.due)
            due = f", due {day:%a} {on_day(day)}"
        return f"{stopped(f'{self.thing(names)} ordered{supplier}{due}')}{noted(self.note)}"


@entry_kind("arrived")
class Arrived(AboutStock, Papered):
    """They are there, with the release document they came with."""

    is_quiet: ClassVar[bool] = True

    order: str = ""
    price: Price | None = None
    release: str = ""
    form: str = ""
    reference: str = ""
    note: Remark = ""

    def said(self, names: Names) -> str:
        told = self.papers or self.release
        release = f", release {told}" if told else ""
        return f"{stopped(f'{self.thing(names)} arrived{release}')}{noted(self.note)}"


@entry_kind("used")
class Used(AboutStock):
    """They went into the work."""

    item: ItemId = ""
    task: TaskName = ""
    place: PlaceName = ""
    # The work found that they went into, by the id of its entry.
    extra: Annotated[str, Holds(longest=120)] = ""
    note: Remark = ""

    def said(self, names: Names) -> str:
        where = f" at {self.place}" if self.place else ""
        task = f" for {self.task}" if self.task else ""
        became = f", as {name_of(self.item)}" if self.item else ""
        return f"{stopped(f'{self.thing(names)} used{task}{where}{became}')}{noted(self.note)}"


@entry_kind("stock_counted")
class StockCounted(AboutStock):
    """So many are on the shelf."""

    is_quiet: ClassVar[bool] = True

    note: Remark = ""

    def said(self, names: Names) -> str:
        return f"{self.thing(names)} on the shelf, counted.{noted(self.note)}"
