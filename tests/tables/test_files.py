"""CSV and XLSX on bytes: what is read, what is refused, and what a spreadsheet must not run."""

import csv
import io
import zipfile
from datetime import date, datetime, time

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import Workbook, load_workbook
from openpyxl.styles import Font

from rehang.decode import workbooks
from rehang.decode.tables import MOST_ROWS, read_table, write_csv, write_table, write_xlsx
from rehang.trade.terms.errors import BadInput


def read_csv(text: str):
    return read_table("t.csv", text.encode())


def workbook(*rows, **sheets) -> Workbook:
    book = Workbook()
    book.active.title = "Readings"
    for row in rows:
        book.active.append(row)
    for name, more in sheets.items():
        sheet = book.create_sheet(name)
        for row in more:
            sheet.append(row)
    return book


def saved(book: Workbook) -> bytes:
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def read_xlsx(book: Workbook):
    return read_table("t.xlsx", saved(book))


def sentence_of(read) -> str:
    with pytest.raises(BadInput, match=r"[.,]") as refused:
        read()
    return str(refused.value)


# CSV


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_separator_is_told_by_the_headings_and_a_mark_at_the_start_is_passed_over(separator, mark):
    table = read_csv(f"{mark}item{separator}gap\r\nP1{separator}18\r\n")
    assert table.headings == ("item", "gap")
    assert [(row.line, row.cells) for row in table.rows] == [(2, ("P1", "18"))]


def test_first_line_that_names_the_separator_is_followed():
    table = read_csv("sep=;\nitem;gap\nP1;1,8\n")
    assert table.headings == ("item", "gap")
    assert [(row.line, row.cells) for row in table.rows] == [(3, ("P1", "1,8"))]


def test_lines_are_counted_as_an_editor_counts_them():
    table = read_csv('item,note\nP1,"two\nlines"\n\nP2,one\n')
    assert [(row.line, row.cells) for row in table.rows] == [
        (2, ("P1", "two\nlines")),
        (5, ("P2", "one")),
    ]


def test_a_title_above_the_headings_is_left_out_and_said():
    table = read_csv("Tray of October\n\nitem,gap\nP1,18\n")
    assert table.headings == ("item", "gap")
    assert table.heading_line == 3
    assert table.notices == ("Line 1 stands above the headings and is left out.",)


def test_a_short_line_is_filled_and_a_long_one_is_counted():
    table = read_csv("item,gap,note\nP1,18\nP2,1,24,note\n")
    assert [(row.cells, row.beyond) for row in table.rows] == [
        (("P1", "18", ""), 0),
        (("P2", "1", "24"), 1),
    ]


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"", "t.csv: The file is empty. Save the table again."),
        (
            b"item,gap\nP1,\xff\n",
            "t.csv, line 2: There is a byte here that is not UTF-8 text. "
            "Save the table as CSV UTF-8, or as XLSX.",
        ),
        (
            b"item,gap\nP1,\0\n",
            "t.csv, line 2: There is a NUL character here, so this is not a table of text. "
            "Save it as CSV or XLSX.",
        ),
        (
            b'item,gap\nP1,"18\n',
            "t.csv, line 2: The quotes do not close, or a cell is too long (unexpected end of "
            "data). Save the table as CSV again.",
        ),
        (
            b"nothing\nhere\n",
            "t.csv: There is no line of headings. The first line with two cells or more names "
            "the columns.",
        ),
        (b"item,gap\n", "t.csv: There is no row below the headings."),
        (
            b"\xd0\xcf\x11\xe0 old",
            "t.csv: This workbook is of the old .xls kind or has a password. "
            "Save it as .xlsx without a password, or as CSV.",
        ),
        (
            b"PK\x03\x04 torn",
            "t.csv: This is not a whole XLSX workbook. If it was cut off while it was copied, "
            "copy it again; or save the table as CSV.",
        ),
    ],
    ids=["empty", "bytes", "nul", "quotes", "no headings", "no rows", "xls", "torn"],
)
def test_what_is_no_table_is_refused(data, sentence):
    assert sentence_of(lambda: read_table("t.csv", data)) == sentence


def test_too_many_rows_and_columns_are_refused():
    rows = "item,gap\n" + "P1,18\n" * (MOST_ROWS + 1)
    assert (
        sentence_of(lambda: read_csv(rows))
        == "t.csv: The table has more than 5,000 rows. Split it."
    )
    columns = ",".join(f"c{n}" for n in range(101)) + "\n"
    assert sentence_of(lambda: read_csv(columns)) == (
        "t.csv: The table has 101 columns; it may have 100. Take out what is not needed."
    )


# XLSX


# A workbook's moments have no zone.
MOMENT = datetime(2026, 10, 12, 9, 5)  # noqa: DTZ001


def test_cells_are_read_as_they_are_meant():
    book = workbook(
        ["text", "whole", "number", "share", "day", "moment", "clock", "yes"],
        [
            "1.20", 18, 1.18, 0.72, date(2026, 10, 12), MOMENT, time(9, 5),
            True,
        ],
    )  # fmt: skip
    book.active["D2"].number_format = "0%"
    book.active["E2"].number_format = "yyyy-mm-dd"
    table = read_xlsx(book)
    assert table.rows[0].cells == (
        "1.20", "18", "1.18", "72 %", date(2026, 10, 12), MOMENT,
        time(9, 5), "TRUE",
    )  # fmt: skip
    assert table.place(2, 2) == "C2"


def test_a_formula_is_refused_with_its_cell():
    book = workbook(["item", "gap", "ohms"], ["P1", 18, 1180])
    book.active["C7"] = "=C2*2"
    assert sentence_of(lambda: read_xlsx(book)) == ("t.xlsx: C7 holds a formula. Save values only.")


def test_merged_cells_are_refused_with_their_range():
    book = workbook(["item", "gap"], ["P1", 18], ["P2", 18], ["P3", 18])
    book.active.merge_cells("B2:B4")
    assert sentence_of(lambda: read_xlsx(book)) == (
        "t.xlsx: B2:B4 is merged into one cell. Unmerge it and write each cell out."
    )
    book.active.merge_cells("A2:A3")
    assert sentence_of(lambda: read_xlsx(book)).startswith(
        "t.xlsx: A2:A3 (and 1 more) is merged into one cell."
    )


def test_hidden_sheets_are_not_read_and_what_is_hidden_in_a_sheet_is_said():
    book = workbook(
        ["item", "gap", "note"], ["P1", 18, "x"], ["P2", 18, "y"], Old=[["item"]], More=[["a"]]
    )
    book["Old"].sheet_state = "hidden"
    book.active.row_dimensions[3].hidden = True
    book.active.column_dimensions["C"].hidden = True
    table = read_xlsx(book)
    assert table.notices == (
        'The hidden sheet "Old" is not read.',
        'Sheet "Readings" is read; sheet "More" is not.',
        "Rows hidden in the sheet are read too: 3.",
        "Columns hidden in the sheet are read too: C.",
    )
    assert len(table.rows) == 2


def test_formulas_and_merged_cells_of_a_sheet_that_is_not_read_do_not_matter():
    book = workbook(["item", "gap"], ["P1", 18], Sums=[["=1+1", "x"]])
    book["Sums"].merge_cells("A1:B1")
    book["Sums"].sheet_state = "veryHidden"
    assert read_xlsx(book).rows[0].cells == ("P1", "18")


def test_an_empty_cell_far_away_costs_nothing():
    book = workbook(["item", "gap"], ["P1", 18])
    book.active["XFD1048576"].font = Font(bold=True)
    assert len(read_xlsx(book).rows) == 1


@pytest.mark.parametrize(
    ("after_the_cells", "sentence"),
    [
        (
            '<mergeCells><mergeCell ref="A1:XFD1048576"/></mergeCells>',
            "t.xlsx: A1:XFD1048576 is merged into one cell. Unmerge it and write each cell out.",
        ),
        ('<hyperlinks><hyperlink ref="A1:XFD1048576" display="x"/></hyperlinks>', ""),
    ],
)
def test_a_range_of_the_whole_sheet_costs_no_more_than_one_of_two_cells(after_the_cells, sentence):
    """Thousands of millions of cells, were they made: neither a machine nor a bench has the time."""
    data = changed(
        write_xlsx(["item", "gap"], [["P1", "18"]], "t"),
        lambda text: text.replace("</sheetData>", f"</sheetData>{after_the_cells}"),
    )
    if sentence:
        assert sentence_of(lambda: read_table("t.xlsx", data)) == sentence
    else:
        assert read_table("t.xlsx", data).rows[0].cells == ("P1", "18")


def test_a_sheet_of_too_many_cells_is_refused_before_they_are_kept(monkeypatch):
    monkeypatch.setattr(workbooks, "MOST_CELLS", 5)
    book = workbook(["item", "gap"], ["P1", 18])
    assert len(read_xlsx(book).rows) == 1
    book.active["B3"].font = Font(bold=True)
    book.active["C3"].font = Font(bold=True)
    assert sentence_of(lambda: read_xlsx(book)) == (
        "t.xlsx: The sheet has more than 5 cells, with the empty ones that have a format. "
        "Save the part with the table, or save it as CSV."
    )


def test_rows_of_a_workbook_are_counted_while_they_are_read():
    data = changed(
        write_xlsx(["item", "gap"], [["P1", "18"]], "t"),
        lambda text: text.replace("</sheetData>", "<row><c><v>1</v></c></row>" * 5_001 + "<x"),
    )
    assert sentence_of(lambda: read_table("t.xlsx", data)) == (
        "t.xlsx: The table has more than 5,000 rows. Split it."
    )


def changed(book: bytes, change) -> bytes:
    """A workbook with another text in its one sheet."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(book)) as old, zipfile.ZipFile(out, "w") as new:
        for one in old.namelist():
            text = old.read(one).decode()
            new.writestr(one, change(text) if one == "xl/worksheets/sheet1.xml" else text)
    return out.getvalue()


@pytest.mark.parametrize(
    ("part", "sentence"),
    [
        (
            "xl/media/image1.png",
            "t.xlsx: The workbook unpacks to 210,000,000 bytes; it may have 200,000,000. "
            "Save the one sheet with the table.",
        ),
        (
            "xl/worksheets/sheet1.xml",
            "t.xlsx: What the sheets of the workbook hold unpacks to 210,000,000 bytes; it may have "
            "40,000,000. Save the one sheet with the table.",
        ),
    ],
)
def test_a_workbook_that_unpacks_to_too_much_is_refused(part, sentence):
    out = io.BytesIO()
    with (
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed,
        packed.open(part, "w") as member,
    ):
        for _ in range(210):
            member.write(b" " * 1_000_000)
    assert sentence_of(lambda: read_table("t.xlsx", out.getvalue())) == sentence


def test_a_zip_that_is_no_workbook_is_refused():
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        packed.writestr("readme.txt", "x")
    assert "This is not a whole XLSX workbook." in sentence_of(
        lambda: read_table("t.xlsx", out.getvalue())
    )


# Out


RUNS = ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "'=1", "''-x", "＝1"]


@pytest.mark.parametrize("text", RUNS)
def test_no_cell_of_a_csv_begins_as_a_spreadsheet_runs_it(text):
    data = write_csv(["item", "note"], [["P1", text]])
    cells = list(csv.reader(io.StringIO(data.decode("utf-8-sig"), newline="")))[1]
    assert cells == ["P1", f"'{text}"]
    assert read_table("t.csv", data).rows[0].cells == ("P1", text)


@pytest.mark.parametrize("text", RUNS)
def test_every_cell_of_a_workbook_is_text(text):
    data = write_xlsx(["item", "note"], [["P1", text]], "readings")
    cells = [cell for row in load_workbook(io.BytesIO(data)).active.iter_rows() for cell in row]
    assert {cell.data_type for cell in cells} == {"s"}
    assert read_table("t.xlsx", data).rows[0].cells == ("P1", text)


CELL = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=30)


@given(st.lists(st.tuples(CELL, CELL), min_size=1, max_size=5), st.sampled_from(["csv", "xlsx"]))
def test_what_is_written_reads_back_the_same(rows, format_):
    # A cell that anchors the row: rows with nothing in them are passed over.
    full = [["x", *row] for row in rows]
    try:
        data = write_table(format_, ["a", "b", "c"], full, "readings")
    except BadInput as refused:
        assert "Save as CSV." in str(refused)  # noqa: PT017 - only some texts are refused
        return
    table = read_table(f"t.{format_}", data)
    assert [list(row.cells) for row in table.rows] == full


def test_a_text_that_a_workbook_cannot_hold_is_refused_with_its_cell():
    assert sentence_of(lambda: write_xlsx(["a", "b"], [["x", "y" * 32_768]], "t")) == (
        "B2 would have 32,768 characters; a workbook's cell holds 32,767. Save as CSV."
    )
    assert sentence_of(lambda: write_xlsx(["a", "b"], [["x", "_x000D_"]], "t")) == (
        "B2 has a text that a workbook would read as a code for one character. Save as CSV."
    )
    assert sentence_of(lambda: write_table("ods", ["a"], [], "t")) == (
        '"ods" is not a kind of table. Use csv or xlsx.'
    )
