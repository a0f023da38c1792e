"""Maintenance entry, inspection entry, list of discrepancies and next due, set in type.

What was signed is set as PDF/A-2b (ISO 19005-2), which carries its fonts and needs nothing else
to be read in many years; it is tagged as the drafts are.
"""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import typst

from rehang.paper.sheets import FONTS, SIZES, TEMPLATES, cleaned
from rehang.trade.entry_sheet import DueSheet, EntrySheet, draft_sheet, due_sheet, signed_sheet
from rehang.trade.entry_text import draft_of
from rehang.trade.errors import BadInput
from rehang.trade.judging import JudgedJob
from rehang.trade.signing import Signed

__all__ = ["due_pdf", "record_pdf", "signed_pdf"]


def record_pdf(judged: JudgedJob, what: str, *, size: str, printed_at: datetime) -> bytes:
    """The draft of a record as it stands, not signed."""
    zone = ZoneInfo(judged.facts.timezone_name)
    sheet = draft_sheet(judged, draft_of(judged, what), zone=zone, printed_at=printed_at)
    return _set("entry.typ", sheet, size, printed_at.astimezone(zone))


def signed_pdf(judged: JudgedJob, signed: Signed, *, size: str, printed_at: datetime) -> bytes:
    """A signed record as it was signed, for keeping."""
    zone = ZoneInfo(judged.facts.timezone_name)
    sheet = signed_sheet(judged, signed, zone=zone, printed_at=printed_at)
    return _set("entry.typ", sheet, size, printed_at.astimezone(zone), keep=True)


def due_pdf(judged: JudgedJob, *, size: str, printed_at: datetime) -> bytes:
    """Everything that recurs, by hours and by date."""
    zone = ZoneInfo(judged.facts.timezone_name)
    sheet = due_sheet(judged, zone=zone, printed_at=printed_at)
    return _set("due.typ", sheet, size, printed_at.astimezone(zone))


def _set(
    template: str, sheet: EntrySheet | DueSheet, size: str, at: datetime, *, keep: bool = False
) -> bytes:
    if size not in SIZES:
        raise BadInput(f'There is no paper size "{size}" here. Use {" or ".join(SIZES)}.')
    data = {
        "paper": SIZES[size],
        "foot": sheet.foot,
        "made": {
            name: getattr(at, name) for name in ("year", "month", "day", "hour", "minute", "second")
        },
        "sheet": cleaned(asdict(sheet)),
    }
    made = typst.compile(
        TEMPLATES / template,
        root=TEMPLATES,
        font_paths=[FONTS],
        ignore_system_fonts=True,
        sys_inputs={"data": json.dumps(data, ensure_ascii=False)},
        format="pdf",
        pdf_standards=["ua-1", "a-2b"] if keep else ["ua-1"],
        timestamp=at.astimezone(UTC).replace(microsecond=0),
    )
    assert isinstance(made, bytes)
    return made
