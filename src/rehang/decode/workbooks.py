"""The sheets of an XLSX workbook, on bytes: what their cells hold, and what is merged or hidden.

Only cells are read. Links, drawings, tables and pivots of a sheet are left alone, and so is what
its unread sheets hold; a range of the whole sheet costs no more than a range of two cells.
"""

from __future__ import annotations

import io
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any
from xml.etree.ElementTree import ParseError
from zipfile import BadZipFile, ZipFile

from openpyxl.cell import Cell
from openpyxl.reader.excel import ExcelReader
from openpyxl.styles.stylesheet import apply_stylesheet
from openpyxl.utils.exceptions import InvalidFileException
from openpyxl.worksheet._reader import WorkSheetParser

from rehang.trade.terms.errors import BadInput

__all__ = ["Sheet", "Workbook", "read_workbook"]

# Pictures and other parts that nobody reads are counted with the whole alone.
MOST_UNPACKED = 200_000_000
MOST_XML = 40_000_000
# Filled or only formatted: each takes some forty microseconds of a processor.
MOST_CELLS = 50_000

NOT_A_WORKBOOK = (
    BadZipFile, InvalidFileException, ParseError, KeyError, IndexError, ValueError, TypeError,
    AttributeError, EOFError, OSError, NotImplementedError, zlib.error,
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Sheet:
    """What a sheet holds: its filled cells in order, ranges that are merged, and what is hidden.

    ``hidden_columns`` are ranges of columns, from the first to the last.
    """

    title: str
    cells: tuple[Cell, ...]
    merged: tuple[str, ...]
    hidden_rows: frozenset[int]
    hidden_columns: tuple[range, ...]

    def hides(self, column: int) -> bool:
        """Whether a column, from 1, is hidden."""
        return any(column in one for one in self.hidden_columns)


@dataclass(frozen=True, slots=True)
class Workbook:
    """The first sheet that is shown and has something in it, if there is one; the others by name."""

    sheet: Sheet | None
    others: tuple[str, ...]
    hidden: tuple[str, ...]


def read_workbook(name: str, data: bytes, most_rows: int) -> Workbook:
    """The sheet of a workbook that is read: no more than so many rows with something in them.

    Raises
    ------
    BadInput
        It is no workbook, or holds more than an answer can wait for.
    """
    try:
        _check_unpacked(name, data)
        return _read(name, data, most_rows)
    except NOT_A_WORKBOOK:
        raise BadInput(
            "This is not a whole XLSX workbook. If it was cut off while it was copied, copy it "
            "again; or save the table as CSV.",
            name,
        ) from None


def _check_unpacked(name: str, data: bytes) -> None:
    """Python reads no more of a part than the size it states."""
    with ZipFile(io.BytesIO(data)) as packed:
        sizes = [(one.filename.lower(), one.file_size) for one in packed.infolist()]
    text = sum(size for part, size in sizes if part.endswith((".xml", ".rels")))
    for most, unpacked, what in (
        (MOST_XML, text, "What the sheets of the workbook hold unpacks"),
        (MOST_UNPACKED, sum(size for _, size in sizes), "The workbook unpacks"),
    ):
        if unpacked > most:
            raise BadInput(
                f"{what} to {unpacked:,} bytes; it may have {most:,}. "
                "Save the one sheet with the table.",
                name,
            )


def _read(name: str, data: bytes, most_rows: int) -> Workbook:
    whole = ExcelReader(io.BytesIO(data), keep_links=False)
    whole.read_manifest()
    whole.read_strings()
    whole.read_workbook()
    apply_stylesheet(whole.archive, whole.wb)
    read: Sheet | None = None
    others, hidden = [], []
    with whole.archive:
        for listed, part in whole.parser.find_sheets():
            if part.target not in whole.valid_files or "chartsheet" in part.Type:
                continue
            if listed.state != "visible":
                hidden.append(str(listed.name))
                continue
            with whole.archive.open(part.target) as source:
                if read is None:
                    read = _sheet(name, str(listed.name), whole, source, most_rows)
                elif next(_filled(name, _parser(whole, source)), None) is not None:
                    others.append(str(listed.name))
    return Workbook(read, tuple(others), tuple(hidden))


def _sheet(name: str, title: str, whole: Any, source: Any, most_rows: int) -> Sheet | None:
    """A sheet with something in it."""
    parser = _parser(whole, source)
    on = whole.wb.create_sheet(title)
    cells: dict[tuple[int, int], Cell] = {}
    rows: set[int] = set()
    for found in _filled(name, parser):
        style = whole.wb._cell_styles[found["style_id"]]
        cell = Cell(on, row=found["row"], column=found["column"], style_array=style)
        # As it was read: set by its name, a text that begins with = becomes a formula.
        cell._value, cell.data_type = found["value"], found["data_type"]
        cells[found["row"], found["column"]] = cell
        rows.add(found["row"])
        if len(rows) > most_rows:
            raise BadInput(f"The table has more than {most_rows - 1:,} rows. Split it.", name)
    if not cells:
        return None
    merged = parser.merged_cells.mergeCell if parser.merged_cells else ()
    return Sheet(
        title,
        tuple(cell for _, cell in sorted(cells.items())),
        tuple(sorted(str(one.ref) for one in merged)),
        frozenset(int(row) for row, said in parser.row_dimensions.items() if _is_hidden(said)),
        tuple(
            range(int(said["min"]), int(said.get("max", said["min"])) + 1)
            for said in parser.column_dimensions.values()
            if _is_hidden(said)
        ),
    )


def _parser(whole: Any, source: Any) -> Any:
    book = whole.wb
    return WorkSheetParser(
        source,
        whole.shared_strings,
        epoch=book.epoch,
        date_formats=book._date_formats,
        timedelta_formats=book._timedelta_formats,
    )


def _filled(name: str, parser: Any) -> Iterator[dict[str, Any]]:
    """The cells with something in them, one after another."""
    seen = 0
    for _, cells in parser.parse():
        seen += len(cells)
        if seen > MOST_CELLS:
            raise BadInput(
                f"The sheet has more than {MOST_CELLS:,} cells, with the empty ones that have a "
                "format. Save the part with the table, or save it as CSV.",
                name,
            )
        for cell in cells:
            if cell["value"] is not None and cell["value"] != "":
                yield cell


def _is_hidden(said: dict[str, str]) -> bool:
    return said.get("hidden", "").lower() in ("1", "true", "on", "t")
