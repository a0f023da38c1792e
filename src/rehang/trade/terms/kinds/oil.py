"""Oil and the metal in it."""

from __future__ import annotations

from dataclasses import field
from typing import Annotated

from rehang.trade.terms.kinds.fields import (
    DatedText,
    EngineHours,
    Fields,
    Fluid,
    Holds,
    ItemId,
    Names,
    Pieces,
    Remark,
    TableField,
    entry_kind,
    noted,
    ppm_words,
    who,
)

__all__ = [
    "Analysed",
    "PiecesCounted",
    "Sampled",
]


@entry_kind("counted")
class PiecesCounted(Fields):
    """Pieces of metal out of a filter or a screen, and how many a magnet takes."""

    item: ItemId
    pieces: Pieces
    magnetic: Pieces
    largest_mm: Annotated[float, Holds(least=0, most=1_000)] | None = None
    on: DatedText = ""
    engine_hours: EngineHours | None = None
    note: Remark = ""
    photo: str = ""

    def figure(self, check: str) -> float | None:
        """One figure of the count, by the check of the sheet that asks for it."""
        return {"pieces": self.pieces, "magnetic": self.magnetic, "largest": self.largest_mm}[check]

    def said(self, names: Names) -> str:
        size = f", the largest {self.largest_mm:g} mm" if self.largest_mm else ""
        counted = f"{self.pieces} pieces counted, {self.magnetic} magnetic{size}"
        return f"{who(self.item, '')}: {counted}.{noted(self.note)}"


@entry_kind("sampled")
class Sampled(Fields):
    """Oil was drained for the laboratory, whose figures may come later in an entry of their own."""

    item: ItemId
    on: DatedText
    engine_hours: EngineHours
    oil_hours: Annotated[float, Holds(least=0, most=10_000)]
    added_qt: Fluid
    ppm: TableField = field(default_factory=dict)
    bottle: str = ""
    fill_qt: Fluid | None = None
    # Running hours since the oil was changed -> quarts; and the share of old oil left.
    topups: TableField = field(default_factory=dict)
    left_share: Annotated[float, Holds(least=0, most=1)] | None = None
    lab: str = ""
    oil: str = ""
    flag: str = ""
    note: Remark = ""


@entry_kind("analysed")
class Analysed(Fields):
    """What the laboratory found in a sample that was taken before."""

    sample: str
    ppm: TableField
    lab: str = ""
    flag: str = ""
    note: Remark = ""

    def said(self, names: Names) -> str:
        return f"The laboratory found, parts per million: {ppm_words(self.ppm)}.{noted(self.note)}"
