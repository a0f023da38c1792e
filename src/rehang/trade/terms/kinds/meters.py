"""What a meter was found to be."""

from __future__ import annotations

from dataclasses import field

from rehang.trade.terms.kinds.fields import (
    DatedText,
    Fields,
    MeterId,
    Names,
    Reasoned,
    Remark,
    TableField,
    Written,
    entry_kind,
    noted,
)
from rehang.trade.terms.wording import with_stop, written_day

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

    def said(self, names: Names) -> str:
        return f"Master orifice on {self.meter}: {self.written}.{noted(self.note)}"


@entry_kind("proved")
class Proved(Reasoned):
    """An as-found check; with ``due`` it puts the meter right until that day."""

    meter: MeterId
    reason: str
    due: DatedText = ""

    def said(self, names: Names) -> str:
        due = f" Good to {written_day(self.due)}." if self.due else ""
        return f"As-found check of {self.meter}: {with_stop(self.reason)}{due}"


@entry_kind("found_out")
class MeterFoundOut(Reasoned):
    """It was found out of tolerance, so much ``off``, and was last known ``good`` on that day."""

    meter: MeterId
    reason: str
    off: str = ""
    setting: str = ""
    certificate: str = ""
    on: DatedText = ""
    good: DatedText = ""
