"""A table of holes and serials: which plug came out of which hole, and nothing else of the table."""

from __future__ import annotations

from collections.abc import Sequence

from rehang.decode.tables import Cell, Table
from rehang.sheets.table_columns import guess
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.terms.errors import BadInput

__all__ = ["plugs_in"]


def plugs_in(table: Table, facts: JobFacts) -> dict[str, str]:
    """The serial of each hole that a table names, by the hole as the layout spells it.

    Its columns are told by their headings, as in a table of readings; two columns without headings
    are hole and serial, in either order. A hole without a serial is left out.

    Raises
    ------
    BadInput
        No columns of holes and serials; a hole that the layout has not, or that stands twice.
    """
    spelled = {hole.casefold() for hole in facts.layout.walk}
    lines: list[tuple[int, Sequence[Cell]]] = [(row.line, row.cells) for row in table.rows]
    hole_at: int | None
    serial_at: int | None
    bare = [n for n, one in enumerate(table.headings) if one.strip().casefold() in spelled]
    if bare:
        hole_at = bare[0]
        serial_at = 1 - hole_at if len(table.headings) == 2 else None
        lines.insert(0, (table.heading_line, table.headings))
    else:
        fields = [column.target.field for column in guess(table, facts)]
        hole_at = fields.index("place") if "place" in fields else None
        serial_at = fields.index("item") if "item" in fields else None
    if hole_at is None or serial_at is None:
        raise BadInput(
            "No columns of holes and serials are in it. Head one Hole and one Serial.", table.name
        )
    found: dict[str, str] = {}
    places: dict[str, str] = {}
    for line, cells in lines:
        place = table.place(line)
        written, serial = _text(cells[hole_at], place), _text(cells[serial_at], place)
        if not written and not serial:
            continue
        hole = facts.layout.check_hole(written, place)
        if hole in places:
            raise BadInput(
                f"{hole} stands in {places[hole]} and in {place}. Keep the row that is meant, and "
                "send the table again.",
                table.name,
            )
        places[hole] = place
        if serial:
            found[hole] = serial.removeprefix("plug:")
    if not found:
        raise BadInput("No row of it has a serial.", table.name)
    return found


def _text(cell: Cell, place: str) -> str:
    if not isinstance(cell, str):
        raise BadInput("A date stands where a hole or a serial belongs. Write it as text.", place)
    return cell.strip()
