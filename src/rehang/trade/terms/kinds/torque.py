"""What was tightened."""

from __future__ import annotations

from typing import Annotated

from rehang.trade.terms.kinds.fields import (
    DatedText,
    Fields,
    Holds,
    ItemId,
    ListField,
    MeterId,
    PlaceName,
    Remark,
    TableField,
    TaskName,
    What,
    Written,
    entry_kind,
)

__all__ = [
    "Torqued",
]


@entry_kind("torqued")
class Torqued(Fields):
    """Fasteners were tightened, of so many, with that wrench."""

    item: ItemId
    what: What
    meter: MeterId
    of: Annotated[int, Holds(least=-10_000, most=10_000)]
    # Which fasteners, by the turn they are tightened at; "done" is the older way to write it: the
    # first so many.
    fasteners: ListField | None = None
    done: Annotated[int, Holds(least=-10_000, most=10_000)] | None = None
    group: str = ""
    written: Written = ""
    note: Remark = ""
    task: TaskName = ""
    place: PlaceName = ""
    wanted: DatedText = ""
    set_to: DatedText = ""
    drag: DatedText = ""
    passes: Annotated[int, Holds(least=1, most=20)] | None = None
    adapter: TableField | None = None
