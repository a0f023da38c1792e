"""What a meter was found to be."""

from __future__ import annotations

from dataclasses import field
from typing import ClassVar

from rehang.trade.terms.kinds.fields import (
    DatedText,
    Fields,
    MeterId,
    Remark,
    TableField,
    Written,
    entry_kind,
)

__all__ = [
    "MasterRead",
    "MeterFoundOut",
    "Proved",
]


@entry_kind("master")
class MasterRead(Fields):
    """The day's reading of the master orifice on a tester."""

    meter: MeterId
    written: Written
    with_: TableField = field(default_factory=dict)
    note: Remark = ""


@entry_kind("proved")
class Proved(Fields):
    """An as-found check; with ``due`` it puts the meter right until that day."""

    by_reason: ClassVar[bool] = True

    meter: MeterId
    reason: str
    due: DatedText = ""


@entry_kind("found_out")
class MeterFoundOut(Fields):
    """It was found out of tolerance, so much ``off``, and was last known ``good`` on that day."""

    by_reason: ClassVar[bool] = True

    meter: MeterId
    reason: str
    off: str = ""
    setting: str = ""
    certificate: str = ""
    on: DatedText = ""
    good: DatedText = ""
