"""Maintenance entry, inspection entry, list of discrepancies and next due, set in type.

What was signed is set as PDF/A-2b (ISO 19005-2), which carries its fonts and needs nothing else
to be read in many years; it is tagged as the drafts are.
"""

from __future__ import annotations

from dataclasses import asdict
from datetime import datetime
from zoneinfo import ZoneInfo

from rehang.paper.sheets import set_in_type
from rehang.trade.job.judging import JudgedJob
from rehang.trade.papers.signing import Signed
from rehang.trade.telling.entry_sheet import EntrySheet, draft_sheet, due_sheet, signed_sheet
from rehang.trade.telling.entry_text import draft_of
from rehang.trade.terms.errors import BadInput

__all__ = ["STICKER", "due_pdf", "record_pdf", "signed_pdf"]


# A size of its own: to be stuck on a logbook page.
STICKER = "sticker"


def record_pdf(judged: JudgedJob, what: str, *, size: str, printed_at: datetime) -> bytes:
    """The draft of a record as it stands, not signed; a ``sticker`` is its short form."""
    zone = ZoneInfo(judged.facts.timezone_name)
    sheet = draft_sheet(judged, draft_of(judged, what), zone=zone, printed_at=printed_at)
    return _set(sheet, size, printed_at.astimezone(zone), keep=False)


def signed_pdf(judged: JudgedJob, signed: Signed, *, size: str, printed_at: datetime) -> bytes:
    """A signed record as it was signed, for keeping; a ``sticker`` is its short form."""
    zone = ZoneInfo(judged.facts.timezone_name)
    sheet = signed_sheet(judged, signed, zone=zone, printed_at=printed_at)
    return _set(sheet, size, printed_at.astimezone(zone), keep=True)


def _set(sheet: EntrySheet, size: str, at: datetime, *, keep: bool) -> bytes:
    if size != STICKER:
        return set_in_type("entry.typ", asdict(sheet), size=size, at=at, keep=keep, foot=sheet.foot)
    if not sheet.pieces:
        raise BadInput(f"{sheet.title} has no short form. Print it whole, on letter or A4.")
    # The template has its own measure; the size named here is only that of a sheet.
    return set_in_type(
        "sticker.typ", asdict(sheet), size="letter", at=at, keep=keep, foot=sheet.foot
    )


def due_pdf(judged: JudgedJob, *, size: str, printed_at: datetime, keep: bool = False) -> bytes:
    """Everything that recurs, by hours and by date; ``keep`` makes it PDF/A-2b."""
    zone = ZoneInfo(judged.facts.timezone_name)
    sheet = due_sheet(judged, zone=zone, printed_at=printed_at)
    return set_in_type(
        "due.typ",
        asdict(sheet),
        size=size,
        at=printed_at.astimezone(zone),
        foot=sheet.foot,
        keep=keep,
    )
