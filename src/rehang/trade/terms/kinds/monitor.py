"""What an engine monitor recorded of one flight or run."""

from __future__ import annotations

from typing import Annotated, ClassVar

from rehang.trade.terms.kinds.fields import (
    Fields,
    Holds,
    HowMany,
    ListField,
    Names,
    Pieces,
    Remark,
    TableField,
    entry_kind,
    noted,
)
from rehang.trade.terms.wording import stopped

__all__ = ["MonitorRead"]


@entry_kind("monitor_read")
class MonitorRead(Fields):
    """A monitor's table: its sum, what its columns were said to be, and what was worked out of it.

    ``sha256`` and ``size`` are of the table as text, unpacked. ``headings`` are those of the table,
    ``columns`` the number of the column for each channel, from 0, ``units`` the unit of each.
    ``found`` and ``series`` are worked out from these alone, ``by_method`` says how. ``table`` is the
    name of the file where it is kept beside the photos; it may be too large to be.
    """

    # A line at fault shows nothing and asks nobody.
    settles: ClassVar[bool] = True
    longest_text: ClassVar[int] = 20_000

    of: Annotated[str, Holds(longest=200, empty="Write which flight or run it is of.")]
    file: Annotated[str, Holds(longest=200)]
    sha256: Annotated[str, Holds(longest=64)]
    size: int
    rows: Pieces
    headings: ListField
    columns: TableField
    units: TableField
    found: TableField
    series: TableField
    by_method: HowMany
    decimal: str = "."
    table: Annotated[str, Holds(longest=80)] = ""
    note: Remark = ""

    def said(self, names: Names) -> str:
        told = f"Engine monitor read, {self.of}: {self.rows:,} rows of {self.file}"
        return f"{stopped(told)}{noted(self.note)}"
