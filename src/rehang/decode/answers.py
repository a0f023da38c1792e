"""A table as plain values that pass from one process to another, and back."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime, time
from typing import Any

from rehang.decode.tables import Cell, Row, Table

__all__ = ["table_as_plain", "table_from"]

# datetime first: it is a date too.
_KINDS: Mapping[str, type[datetime] | type[date] | type[time]] = {
    "datetime": datetime,
    "date": date,
    "time": time,
}


def table_as_plain(table: Table) -> dict[str, Any]:
    """A table with each cell as a text, or as the kind of its time and its ISO spelling."""
    return {
        "name": table.name,
        "format": table.format,
        "headings": table.headings,
        "heading_line": table.heading_line,
        "rows": [
            [row.line, [_as_plain(cell) for cell in row.cells], row.beyond] for row in table.rows
        ],
        "notices": table.notices,
    }


def table_from(plain: Mapping[str, Any]) -> Table:
    return Table(
        name=plain["name"],
        format=plain["format"],
        headings=tuple(plain["headings"]),
        heading_line=plain["heading_line"],
        rows=tuple(
            Row(line, tuple(_cell_from(cell) for cell in cells), beyond)
            for line, cells, beyond in plain["rows"]
        ),
        notices=tuple(plain["notices"]),
    )


def _as_plain(cell: Cell) -> str | list[str]:
    if isinstance(cell, str):
        return cell
    kind = next(name for name, of in _KINDS.items() if isinstance(cell, of))
    return [kind, cell.isoformat()]


def _cell_from(plain: Any) -> Cell:
    if isinstance(plain, str):
        return plain
    kind, text = plain
    return _KINDS[kind].fromisoformat(text)
