"""Sheets set in type. The texts come ready from :mod:`rehang.trade.telling.record`."""

from __future__ import annotations

import hashlib
import json
import re
import shutil
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from types import MappingProxyType
from typing import Any
from zoneinfo import ZoneInfo

import typst

from rehang.decode.pictures import smaller
from rehang.paper.glyphs import printable
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.photos import is_pdf_name
from rehang.trade.known.state import JobState
from rehang.trade.telling.blank_sheet import blank_sheet
from rehang.trade.telling.record import tray_record
from rehang.trade.terms.errors import BadInput

__all__ = [
    "FONTS",
    "SIZES",
    "TEMPLATES",
    "blank_sheet_pdf",
    "cleaned",
    "photo_root",
    "tray_record_pdf",
]

SIZES: Mapping[str, str] = {"letter": "us-letter", "a4": "a4"}
_FOLDER = Path(__file__).parent
TEMPLATES = _FOLDER / "templates"
FONTS = _FOLDER / "fonts"


# A number and its unit stay on one line.
_UNIT = re.compile(r"(?<=\d) (?=(?:kΩ|Ω|in|psi|thou|h|%)(?!\w))")


# Half the width of a page at 300 dots to the inch.
_PHOTO_SIDE = 1100
_NO_PHOTOS: Mapping[str, bytes] = MappingProxyType({})
_NO_INPUTS: Mapping[str, str] = MappingProxyType({})


def tray_record_pdf(
    judged: JudgedJob,
    *,
    size: str,
    printed_at: datetime,
    photos: Mapping[str, bytes] = _NO_PHOTOS,
    keep: bool = False,
) -> bytes:
    """The tray record of a judged job: a draft to be read, signed by hand, or thrown away.

    ``size`` is ``letter`` or ``a4``. Times are in the job's time zone. ``keep`` makes it PDF/A-2b.
    ``photos`` are the files of the photos that the book speaks of, by name; where one is missing or is not the one that
    was kept, the sheet says so in its place.
    """
    zone = ZoneInfo(judged.facts.timezone_name)
    at = _aware(printed_at).astimezone(zone)
    record = tray_record(judged, zone=zone, printed_at=at)
    whole = {
        one.name: photos[one.name]
        for one in record.photos
        if one.name in photos and hashlib.sha256(photos[one.name]).hexdigest() == one.sha256
    }
    return set_in_type(
        "record.typ", asdict(record), size=size, at=at, foot=record.draft, photos=whole, keep=keep
    )


def blank_sheet_pdf(facts: JobFacts, state: JobState, *, size: str, printed_at: datetime) -> bytes:
    """The tray with empty boxes to pencil in, in the order in which it is keyed."""
    zone = ZoneInfo(facts.timezone_name)
    at = _aware(printed_at).astimezone(zone)
    sheet = blank_sheet(facts, state, zone=zone, printed_at=at)
    return set_in_type("blank.typ", asdict(sheet), size=size, at=at, foot=sheet.title)


def _aware(printed_at: datetime) -> datetime:
    if printed_at.tzinfo is None:
        raise BadInput(
            f"The time of printing is {printed_at.isoformat()}, with no offset. "
            "Give a time with its offset."
        )
    return printed_at


def set_in_type(
    template: str,
    sheet: Mapping[str, Any],
    *,
    size: str,
    at: datetime,
    foot: str = "",
    photos: Mapping[str, bytes] = _NO_PHOTOS,
    inputs: Mapping[str, str] = _NO_INPUTS,
    keep: bool = False,
    **more: Any,
) -> bytes:
    """A template of this package as a tagged PDF, its texts those of ``sheet``.

    ``at`` is in the job's own time zone and carries its offset. ``photos`` are files the template
    may place, ``inputs`` further texts for it, ``more`` further fields beside the sheet. ``keep``
    holds it to PDF/A-2b as well.

    Raises
    ------
    BadInput
        There is no such paper size.
    """
    if size not in SIZES:
        raise BadInput(f'There is no paper size "{size}" here. Use {" or ".join(SIZES)}.')
    data = {
        "paper": SIZES[size],
        "foot": foot,
        "made": {
            name: getattr(at, name) for name in ("year", "month", "day", "hour", "minute", "second")
        },
        "sheet": cleaned(sheet),
        "here": list(photos),
        **more,
    }
    with photo_root(photos) as root:
        made = typst.compile(
            root / template,
            root=root,
            font_paths=[FONTS],
            ignore_system_fonts=True,
            # As JSON, so that typesetting marks in what a person wrote are printed as they stand.
            sys_inputs={"data": json.dumps(data, ensure_ascii=False), **inputs},
            format="pdf",
            # PDF/UA-1: tagged, titled, in a language; a character no font has stops the run.
            pdf_standards=["ua-1", "a-2b"] if keep else ["ua-1"],
            timestamp=at.astimezone(UTC).replace(microsecond=0),
        )
    assert isinstance(made, bytes)
    return made


@contextmanager
def photo_root(photos: Mapping[str, bytes]) -> Iterator[Path]:
    """The folder that a sheet is set from: the templates, and the photos where there are any."""
    if not photos:
        yield TEMPLATES
        return
    # The typesetter takes pictures as files only, and only from below its root.
    with TemporaryDirectory(prefix="rehang-paper-") as name:
        root = Path(name)
        for template in TEMPLATES.glob("*.typ"):
            shutil.copyfile(template, root / template.name)
        for photo, data in photos.items():
            # A PDF is named on the sheet and not set in it.
            if is_pdf_name(photo):
                continue
            (root / photo).write_bytes(smaller(data, _PHOTO_SIDE))
        yield root


def cleaned(value: Any) -> Any:
    """Every text with the characters that the fonts cannot print written as their numbers."""
    if isinstance(value, str):
        return _UNIT.sub("\u00a0", printable(value))
    if isinstance(value, dict):
        return {name: cleaned(inner) for name, inner in value.items()}
    if isinstance(value, (list, tuple)):
        return [cleaned(inner) for inner in value]
    return value
