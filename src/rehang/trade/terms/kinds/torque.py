"""What was tightened."""

from __future__ import annotations

from dataclasses import field
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
from rehang.trade.terms.wording import listed

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
    adapter: TableField = field(default_factory=dict)

    @property
    def first(self) -> int:
        """How many are done from the first on, where it does not name them."""
        return self.done or 0

    @property
    def reach(self) -> frozenset[int]:
        """The fasteners that it vouches for: those it names, or all up to its count."""
        if self.fasteners is not None:
            return frozenset(self.fasteners)
        return frozenset(range(1, self.first + 1))

    @property
    def which(self) -> str:
        """Which fasteners, in words: "2 of 6", "no. 3 of 6"."""
        if self.fasteners is None:
            return f"{self.done} of {self.of}"
        if len(self.fasteners) == self.of:
            return f"{self.of} of {self.of}"
        return f"no. {listed([str(one) for one in sorted(self.fasteners)])} of {self.of}"
