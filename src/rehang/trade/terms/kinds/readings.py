"""What was read off, seen or pictured."""

from __future__ import annotations

from dataclasses import field
from typing import Annotated, ClassVar

from rehang.trade.terms.kinds.fields import (
    CheckName,
    Fields,
    Holds,
    ItemId,
    MeterId,
    PlaceName,
    RangeName,
    Remark,
    SheetWord,
    TableField,
    Written,
    entry_kind,
)

__all__ = [
    "Pictured",
    "ReadingTaken",
    "Seen",
]


@entry_kind("reading")
class ReadingTaken(Fields):
    """A reading of one check. ``with_`` has what it was taken under, ``set`` the looks of one time."""

    item: ItemId
    check: CheckName
    written: Written
    # The index of readings holds no longer name of a place.
    place: Annotated[str, Holds(longest=20, names=True, digits=True)] = ""
    meter: MeterId = ""
    range: RangeName = ""
    at_psi: Annotated[int, Holds(least=0, most=1_000)] | None = None
    kept_as_keyed: bool = False
    hidden_first: bool = False
    set: Remark = ""
    note: Remark = ""
    photo: str = ""
    with_: TableField = field(default_factory=dict)


@entry_kind("seen")
class Seen(Fields):
    """A word of the check sheet for what was seen, at a look or at any time."""

    item: ItemId
    word: SheetWord
    place: PlaceName = ""
    check: CheckName = ""
    severity: int | None = None
    set: Remark = ""
    note: Remark = ""
    photo: str = ""


@entry_kind("pictured")
class Pictured(Fields):
    """A photo, named by the sum of its bytes; of an item, or of what another entry says.

    A meter's certificate and a limit's page may be a PDF, which has ``pages`` and its ``size``,
    the number of its bytes.
    """

    is_quiet: ClassVar[bool] = True

    photo: str
    sha256: str
    item: ItemId = ""
    entry: str = ""
    scale_note: str = ""
    width: int | None = None
    height: int | None = None
    pages: Annotated[int, Holds(least=1, most=10_000)] | None = None
    size: Annotated[int, Holds(least=1, most=1_000_000_000)] | None = None
    note: Remark = ""
