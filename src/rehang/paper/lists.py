"""Sheets that are lists: the handover, what to take to the bench, the owner's page, the plan."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from datetime import UTC, datetime
from types import MappingProxyType

import typst

from rehang.paper.sheets import FONTS, SIZES, cleaned, photo_root
from rehang.trade.errors import BadInput

__all__ = ["ListRow", "ListSection", "ListSheet", "ListTable", "list_pdf"]

_NO_PHOTOS: Mapping[str, bytes] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class ListRow:
    """A line: what, in bold; the words about it; what stands at the right, as a day or a price."""

    head: str
    text: str = ""
    right: str = ""
    photos: Sequence[str] = ()


@dataclass(frozen=True, slots=True)
class ListSection:
    """A list under its title; ``boxes`` draws an empty box to tick before each line."""

    title: str
    rows: Sequence[ListRow] = ()
    count: str = ""
    none: str = ""
    boxes: bool = False


@dataclass(frozen=True, slots=True)
class ListTable:
    """A table: heads, and rows of cells, each cell a list of lines; a heavy line is in bold."""

    heads: Sequence[str]
    rows: Sequence[Sequence[Sequence[tuple[str, bool]]]]
    widths: Sequence[str]


@dataclass(frozen=True, slots=True)
class ListSheet:
    """A whole sheet. ``signs`` are ruled lines at its end, each with its label."""

    title: str
    sheet_id: str
    engine: str
    foot: str
    intro: Sequence[str] = ()
    sections: Sequence[ListSection] = ()
    table: ListTable | None = None
    notes: Sequence[str] = ()
    signs: Sequence[str] = field(default=())


def list_pdf(
    sheet: ListSheet,
    *,
    size: str,
    printed_at: datetime,
    photos: Mapping[str, bytes] = _NO_PHOTOS,
) -> bytes:
    """The sheet as a tagged PDF. ``printed_at`` is in the job's own time zone."""
    if size not in SIZES:
        raise BadInput(f'There is no paper size "{size}" here. Use {" or ".join(SIZES)}.')
    wanted = {name for section in sheet.sections for row in section.rows for name in row.photos}
    here = {name: photos[name] for name in sorted(wanted & set(photos))}
    data = {
        "paper": SIZES[size],
        "foot": sheet.foot,
        "made": {
            name: getattr(printed_at, name)
            for name in ("year", "month", "day", "hour", "minute", "second")
        },
        "sheet": cleaned(asdict(sheet)),
        "here": list(here),
    }
    with photo_root(here) as root:
        made = typst.compile(
            root / "list.typ",
            root=root,
            font_paths=[FONTS],
            ignore_system_fonts=True,
            sys_inputs={"data": json.dumps(data, ensure_ascii=False)},
            format="pdf",
            pdf_standards=["ua-1"],
            timestamp=printed_at.astimezone(UTC).replace(microsecond=0),
        )
    assert isinstance(made, bytes)
    return made
