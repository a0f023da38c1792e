"""Everything that is printed of a job for keeping, by file name."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from rehang.paper.records import due_pdf, signed_pdf
from rehang.paper.sheets import tray_record_pdf
from rehang.trade.job.judging import JudgedJob

__all__ = ["prints_of"]


def prints_of(
    judged: JudgedJob, printed_at: datetime, photos: Mapping[str, bytes], *, size: str = "letter"
) -> dict[str, bytes]:
    """The prints that go into an archive, as tagged PDF/A-2b (ISO 19005-2).

    The tray record where plugs are on the tray, every signed record as it was signed, and what comes
    due next where anything recurs.
    """
    made: dict[str, bytes] = {}
    if judged.state.holes:
        made["tray-record.pdf"] = tray_record_pdf(
            judged, size=size, printed_at=printed_at, photos=photos, keep=True
        )
    count: dict[str, int] = {}
    for one in judged.signed:
        if one.fault:
            continue
        count[one.what] = count.get(one.what, 0) + 1
        number = f"-{count[one.what]}" if count[one.what] > 1 else ""
        made[f"{one.what}-signed{number}.pdf"] = signed_pdf(
            judged, one, size=size, printed_at=printed_at
        )
    if judged.due:
        made["next-due.pdf"] = due_pdf(judged, size=size, printed_at=printed_at, keep=True)
    return made
