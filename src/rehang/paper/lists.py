"""Sheets that are lists: the handover, what to take to the bench, the owner's page, the plan."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from datetime import datetime
from types import MappingProxyType

from rehang.paper.sheets import set_in_type

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
    wanted = {name for section in sheet.sections for row in section.rows for name in row.photos}
    here = {name: photos[name] for name in sorted(wanted & set(photos))}
    return set_in_type(
        "list.typ", asdict(sheet), size=size, at=printed_at, foot=sheet.foot, photos=here
    )
