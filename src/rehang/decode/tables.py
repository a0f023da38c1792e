"""Tables as CSV and XLSX, both ways, on bytes: headings, rows, and where each row stands.

Nothing here knows what a column means. What cannot be read for certain is refused with its
place: a formula, a merged cell, a byte that is not UTF-8, a quote that is never closed.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Any, Literal

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter

from rehang.decode.workbooks import Sheet, read_workbook
from rehang.trade.terms.errors import BadInput

__all__ = [
    "MOST_BYTES",
    "Cell",
    "Row",
    "Table",
    "beyond_words",
    "read_table",
    "write_csv",
    "write_table",
    "write_xlsx",
]

Cell = str | datetime | date | time
Format = Literal["csv", "xlsx"]

# An engine has some hundreds of readings; a table beyond these is another kind of file.
MOST_BYTES = 20_000_000
MOST_ROWS = 5_000
MOST_COLUMNS = 100
# What one cell of a workbook holds.
LONGEST_CELL = 32_767

_SEPARATORS = (",", ";", "\t")
_SEPARATOR_WORDS = {",": "comma", ";": "semicolon", "\t": "tab"}
# A spreadsheet runs a cell that begins so (the last four are their full-width twins). An
# apostrophe in front makes it text; those in front already are counted, so that it reads back.
_RUNS = re.compile("'*[=+\\-@\t\r＝＋－＠]")
# The workbook's own spelling of a character that XML cannot hold.
_ESCAPED = re.compile(r"_x([0-9A-Fa-f]{4})_")
_UNHOLDABLE = re.compile("[\x00-\x08\x0b-\x1f\ufffe\uffff]")
_CLOCK = re.compile(r"[hs]", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Row:
    """One row with something in it. ``line`` is its number in the file, from 1.

    ``beyond`` counts the cells past the last heading, which no column can take.
    """

    line: int
    cells: tuple[Cell, ...]
    beyond: int = 0


@dataclass(frozen=True, slots=True)
class Table:
    """A table as its file holds it. ``notices`` say what was passed over in reading it."""

    name: str
    format: Format
    headings: tuple[str, ...]
    heading_line: int
    rows: tuple[Row, ...]
    notices: tuple[str, ...] = ()

    def place(self, line: int, column: int | None = None) -> str:
        """``line 7`` of a CSV; ``row 7`` or ``C7`` of a workbook."""
        if self.format == "csv":
            return f"line {line}"
        return f"row {line}" if column is None else f"{get_column_letter(column + 1)}{line}"

    def column(self, number: int) -> str:
        """A column as people say it: its heading, or its letter where it has none."""
        return self.headings[number] or f"column {get_column_letter(number + 1)}"


def read_table(name: str, data: bytes) -> Table:
    """A table out of a CSV or XLSX file, by what is in it and not by its name.

    Raises
    ------
    BadInput
        With the file and the line or cell.
    """
    if not data:
        raise BadInput("The file is empty. Save the table again.", name)
    if len(data) > MOST_BYTES:
        raise BadInput(
            f"The file has {len(data):,} bytes; a table may have {MOST_BYTES:,}. "
            "Save the one sheet with the table.",
            name,
        )
    if data.startswith(b"PK\x03\x04"):
        return _read_xlsx(name, data)
    if data.startswith(b"\xd0\xcf\x11\xe0"):
        raise BadInput(
            "This workbook is of the old .xls kind or has a password. "
            "Save it as .xlsx without a password, or as CSV.",
            name,
        )
    return _read_csv(name, data)


# CSV


def _read_csv(name: str, data: bytes) -> Table:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        line = data[: problem.start].count(b"\n") + 1
        raise BadInput(
            "There is a byte here that is not UTF-8 text. Save the table as CSV UTF-8, or as XLSX.",
            f"{name}, line {line}",
        ) from None
    if "\0" in text:
        line = text[: text.index("\0")].count("\n") + 1
        raise BadInput(
            "There is a NUL character here, so this is not a table of text. "
            "Save it as CSV or XLSX.",
            f"{name}, line {line}",
        )
    # A first line "sep=;" is how some spreadsheets name their separator.
    named = re.match(r"sep=([,;\t])\r?\n", text, re.IGNORECASE)
    separator = named[1] if named else _separator(text)
    skip = 1 if named else 0
    lines = _csv_lines(name, text[named.end() :] if named else text, separator, skip)
    notices = []
    if separator != ",":
        notices.append(f"Cells are separated by {_SEPARATOR_WORDS[separator]}s.")
    return _table(name, "csv", [(n, [_plain(c) for c in cells]) for n, cells in lines], notices)


def _separator(text: str) -> str:
    """The separator that cuts the first lines into most cells; a comma where none does."""
    start = text[:20_000]

    def widest(separator: str) -> int:
        try:
            rows = [row for row, _ in zip(_reader(start, separator), range(20), strict=False)]
        except csv.Error:
            return 0
        return max((len(row) for row in rows[:1]), default=0)

    return max(_SEPARATORS, key=widest)


def _reader(text: str, separator: str, *, strict: bool = False) -> Any:
    return csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=strict)


def _csv_lines(name: str, text: str, separator: str, skip: int) -> list[tuple[int, list[str]]]:
    reader = _reader(text, separator, strict=True)
    found = []
    before = 0
    try:
        for cells in reader:
            found.append((before + 1 + skip, cells))
            before = reader.line_num
            _check_size(name, len(found), len(cells))
    except csv.Error as problem:
        raise BadInput(
            f"The quotes do not close, or a cell is too long ({problem}). "
            "Save the table as CSV again.",
            f"{name}, line {before + 1 + skip}",
        ) from None
    return found


def _check_size(name: str, rows: int, columns: int) -> None:
    if rows > MOST_ROWS + 1:
        raise BadInput(f"The table has more than {MOST_ROWS:,} rows. Split it.", name)
    if columns > MOST_COLUMNS:
        raise BadInput(
            f"The table has {columns:,} columns; it may have {MOST_COLUMNS}. "
            "Take out what is not needed.",
            name,
        )


def _plain(cell: str) -> str:
    """A cell without the apostrophe that keeps a spreadsheet from running it."""
    return cell[1:] if cell.startswith("'") and _RUNS.match(cell) else cell


def _kept_from_running(text: str) -> str:
    return f"'{text}" if _RUNS.match(text) else text


# XLSX


def _read_xlsx(name: str, data: bytes) -> Table:
    book = read_workbook(name, data, MOST_ROWS + 1)
    notices = [f'The hidden sheet "{title}" is not read.' for title in book.hidden]
    sheet = book.sheet
    if sheet is None:
        raise BadInput("The workbook has no sheet with anything in it.", name)
    notices += [f'Sheet "{sheet.title}" is read; sheet "{other}" is not.' for other in book.others]
    where = f"{name}, sheet {sheet.title}" if book.others else name
    if sheet.merged:
        more = f" (and {len(sheet.merged) - 1} more)" if len(sheet.merged) > 1 else ""
        raise BadInput(
            f"{sheet.merged[0]}{more} is merged into one cell. Unmerge it and write each cell out.",
            where,
        )
    by_row: dict[int, dict[int, Cell]] = {}
    for cell in sheet.cells:
        if cell.data_type == "f":
            raise BadInput(f"{cell.coordinate} holds a formula. Save values only.", where)
        by_row.setdefault(cell.row, {})[cell.column - 1] = _cell_of(cell, where)
    _check_size(where, len(by_row), max(max(cells) for cells in by_row.values()) + 1)
    notices += _hidden_notices(sheet, by_row)
    lines = [
        (row, [cells.get(n, "") for n in range(max(cells) + 1)])
        for row, cells in sorted(by_row.items())
    ]
    return _table(name, "xlsx", lines, notices)


def _cell_of(cell: Any, where: str) -> Cell:
    value = cell.value
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, (int, float)):
        return _number_text(value, str(cell.number_format))
    if isinstance(value, datetime):
        # A day alone is kept by a workbook as its midnight; only the format tells.
        whole_day = value.time() == time() and not _CLOCK.search(str(cell.number_format))
        # Days are floats there: 09:05 may come back some microseconds off.
        near = value + timedelta(microseconds=500_000)
        return value.date() if whole_day else near.replace(microsecond=0)
    if isinstance(value, (date, time)):
        return value
    if isinstance(value, timedelta):
        raise BadInput(
            f"{cell.coordinate} holds a length of time. Write it as text or a number.", where
        )
    return _ESCAPED.sub(lambda found: chr(int(found[1], 16)), str(value))


def _number_text(value: int | float, number_format: str) -> str:
    """A number as it is meant: 0.72 in a cell that shows per cent is ``72 %``."""
    number = Decimal(repr(value))
    percent = "%" in number_format
    if percent:
        number *= 100
    whole = number == number.to_integral_value() if number.is_finite() else False
    text = f"{number.to_integral_value() if whole else number.normalize():f}"
    return f"{text} %" if percent else text


def _hidden_notices(sheet: Sheet, by_row: dict[int, dict[int, Cell]]) -> list[str]:
    rows = [str(n) for n in sorted(by_row) if n in sheet.hidden_rows]
    used = {column for cells in by_row.values() for column in cells}
    columns = [get_column_letter(n + 1) for n in sorted(used) if sheet.hides(n + 1)]
    said = []
    if rows:
        said.append(f"Rows hidden in the sheet are read too: {', '.join(rows)}.")
    if columns:
        said.append(f"Columns hidden in the sheet are read too: {', '.join(columns)}.")
    return said


# Both


def _table(
    name: str, format_: Format, lines: Sequence[tuple[int, Sequence[Cell]]], notices: list[str]
) -> Table:
    """Headings from the first line with two cells or more; titles above them are left out."""
    filled = [(line, cells) for line, cells in lines if any(_has(cell) for cell in cells)]
    start = next(
        (n for n, (_, cells) in enumerate(filled) if sum(map(_has, cells)) >= 2), len(filled)
    )
    if start == len(filled):
        raise BadInput(
            "There is no line of headings. The first line with two cells or more names the columns.",
            name,
        )
    for line, _ in filled[:start]:
        notices.append(f"Line {line} stands above the headings and is left out.")
    heading_line, heading_cells = filled[start]
    headings = [_heading(cell) for cell in heading_cells]
    below = filled[start + 1 :]
    if format_ == "xlsx":
        width = max((len(cells) for _, cells in below), default=0)
        headings += [""] * (width - len(headings))
    while (
        headings
        and not headings[-1]
        and not any(
            _has(cell) for _, cells in below for cell in cells[len(headings) - 1 : len(headings)]
        )
    ):
        headings.pop()
    if not below:
        raise BadInput("There is no row below the headings.", name)
    rows = []
    for line, cells in below:
        inside = [*cells[: len(headings)]] + [""] * (len(headings) - len(cells))
        beyond = sum(1 for cell in cells[len(headings) :] if _has(cell))
        rows.append(Row(line, tuple(inside), beyond))
    return Table(name, format_, tuple(headings), heading_line, tuple(rows), tuple(notices))


def _has(cell: Cell) -> bool:
    return bool(cell.strip()) if isinstance(cell, str) else True


def _heading(cell: Cell) -> str:
    return " ".join(cell.split()) if isinstance(cell, str) else cell.isoformat()


def beyond_words(row: Row) -> str:
    """Why a row with cells past the last heading cannot be read."""
    many = "is 1 cell" if row.beyond == 1 else f"are {row.beyond} cells"
    return (
        f"There {many} more here than there are headings. A value with a comma in it needs quotes "
        "around it."
    )


# Writing


def write_table(
    format_: str, headings: Sequence[str], rows: Iterable[Sequence[str]], title: str
) -> bytes:
    """A table as a file of that kind, ``csv`` or ``xlsx``."""
    writers: dict[str, Callable[[], bytes]] = {
        "csv": lambda: write_csv(headings, rows),
        "xlsx": lambda: write_xlsx(headings, rows, title),
    }
    if format_ not in writers:
        raise BadInput(f'"{format_}" is not a kind of table. Use csv or xlsx.')
    return writers[format_]()


def write_csv(headings: Sequence[str], rows: Iterable[Sequence[str]]) -> bytes:
    """UTF-8 with a mark at the start, so that a spreadsheet takes it for UTF-8 too.

    A cell that a spreadsheet would run has an apostrophe in front; reading takes it off.
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, quoting=csv.QUOTE_ALL)
    for row in (headings, *rows):
        writer.writerow([_kept_from_running(text) for text in row])
    return out.getvalue().encode("utf-8-sig")


def write_xlsx(headings: Sequence[str], rows: Iterable[Sequence[str]], title: str) -> bytes:
    """One sheet, every cell text: nothing in it is run, and 1.20 keeps its last zero."""
    # Before the first row is written: a sheet that is left half-written holds its file open.
    lines = [
        [_holdable(text, f"{get_column_letter(n)}{line}") for n, text in enumerate(row, start=1)]
        for line, row in enumerate((headings, *rows), start=1)
    ]
    book = Workbook(write_only=True)
    sheet = book.create_sheet(title[:31])
    sheet.freeze_panes = "A2"
    for number, heading in enumerate(headings, start=1):
        sheet.column_dimensions[get_column_letter(number)].width = max(10, len(heading) + 2)
    for line, row in enumerate(lines, start=1):
        cells = []
        for text in row:
            cell = WriteOnlyCell(sheet)
            cell.value = text
            # Set after the value: a text that begins with = is taken for a formula otherwise.
            cell.data_type = "s"
            cell.number_format = "@"
            if line == 1:
                cell.font = Font(bold=True)
            cells.append(cell)
        sheet.append(cells)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _holdable(text: str, place: str) -> str:
    if len(text) > LONGEST_CELL:
        raise BadInput(
            f"{place} would have {len(text):,} characters; a workbook's cell holds "
            f"{LONGEST_CELL:,}. Save as CSV.",
        )
    if _ESCAPED.search(text) or "x005F_" in text:
        raise BadInput(
            f"{place} has a text that a workbook would read as a code for one character. "
            "Save as CSV.",
        )
    return _UNHOLDABLE.sub(lambda found: f"_x{ord(found[0]):04X}_", text)
