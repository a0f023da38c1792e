"""Everything that is printed of a job for keeping, by file name."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from rehang.paper.sheets import tray_record_pdf
from rehang.trade.judging import JudgedJob

__all__ = ["prints_of"]


def prints_of(
    judged: JudgedJob, printed_at: datetime, photos: Mapping[str, bytes], *, size: str = "letter"
) -> dict[str, bytes]:
    """The prints that go into an archive; a tray record only where plugs are on the tray."""
    made: dict[str, bytes] = {}
    if judged.state.holes:
        made["tray-record.pdf"] = tray_record_pdf(
            judged, size=size, printed_at=printed_at, photos=photos
        )
    return made
