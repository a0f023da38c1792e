"""The doors that take files: workbooks, photos, photos of labels.

At the page each is read in a process of its own. That process takes half a second to begin, so
most tries here are read in one that is split off from this one, under the same bounds; some
begin a new one, as at the page.
"""

from __future__ import annotations

import gzip
import io
import json
import os
import struct
import traceback
import warnings
import zipfile
import zlib
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, time, timedelta
from functools import partial
from random import Random
from typing import Any

import zxingcpp
from openpyxl import Workbook
from openpyxl.utils.exceptions import IllegalCharacterError
from PIL import Image, ImageDraw

from bench.doors.odd import changed_bytes, changed_text, odd_text
from bench.doors.plain import Books, odd_table, planned
from rehang.decode import apart, child
from rehang.decode import flights as decode_flights
from rehang.decode.answers import table_from
from rehang.decode.tables import write_xlsx
from rehang.sheets import layouts
from rehang.trade.drawn.chart_values import Sheet
from rehang.trade.drawn.charts import chart_svg
from rehang.trade.drawn.monitor_charts import cylinder_chart, oil_chart
from rehang.trade.facts.monitor_columns import (
    EXHAUST,
    HEAD,
    OIL_PRESSURE,
    OIL_TEMPERATURE,
    Mapped,
    check_mapped,
)
from rehang.trade.run.monitor_told import told_of
from rehang.trade.terms.entries import new_entry
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.kinds.monitor import MonitorRead
from rehang.trade.terms.labels import label_text
from tests.flights import MAPPED, Flight

__all__ = ["flights", "odd_photo", "odd_workbook", "photos", "photos_of_labels", "workbooks"]

Try = tuple[object, Callable[[], bool]]
NEW_PROCESS = 0.01


def workbooks(dice: Random) -> Iterator[Try]:
    """XLSX files through the reader, and what it read through the planner."""
    books = [Books.of(demo) for demo in ("four", "six", "radial")]
    while True:
        book = dice.choice(books)
        for _ in range(100):
            data = odd_workbook(dice, book)
            yield data, partial(_workbook_in, data, book, dice.random() < NEW_PROCESS)


def photos(dice: Random) -> Iterator[Try]:
    """Pictures as a phone sends them, whole and spoilt."""
    while True:
        data = odd_photo(dice)
        what = dice.choice(("made_fit", "made_fit", "check_kept"))
        yield (what, data), partial(_read, what, data, dice.random() < NEW_PROCESS)


def photos_of_labels(dice: Random) -> Iterator[Try]:
    """Pictures that the page of labels looks for a code in."""
    while True:
        data = _odd_code(dice) if dice.random() < 0.5 else odd_photo(dice)
        yield data, partial(_read, "read_codes", data, dice.random() < NEW_PROCESS)


def flights(dice: Random) -> Iterator[Try]:
    """Tables of an engine monitor, whole and spoilt, by columns that are right or are not.

    In this process: a table of so few rows takes nothing that a bound would stop.
    """
    lines = Flight(every=9).text
    while True:
        text = changed_text(dice, lines) if dice.random() < 0.7 else lines
        data = text.encode(errors="replace")
        if dice.random() < 0.3:
            data = changed_bytes(dice, data)
        if dice.random() < 0.2:
            data = (
                changed_bytes(dice, gzip.compress(data))
                if dice.random() < 0.5
                else gzip.compress(data)
            )
        said = _odd_columns(dice)
        yield (data, said), partial(_flight_in, data, said)


def _odd_columns(dice: Random) -> dict[str, Any]:
    """The columns that are right, or some of them changed about."""
    columns: dict[str, int] = dict(MAPPED["columns"])
    units: dict[str, str] = dict(MAPPED["units"])
    if dice.random() < 0.5:
        for name in dice.sample(sorted(columns), 2):
            columns[name] = dice.randrange(13)
        units["time"] = dice.choice(("s", "min", "h", "hh:mm:ss", "date and time"))
    return {"columns": columns, "units": units, "decimal": dice.choice((".", ".", ","))}


def _flight_in(data: bytes, said: dict[str, Any]) -> bool:
    head = decode_flights.look("the file", data)
    check_mapped(Mapped(said["columns"], said["units"]), head.headings, layouts()["opposed-4"])
    made = decode_flights.read_flight("the file", data, said)
    entry = new_entry(
        MonitorRead,
        at=datetime(2026, 12, 1, tzinfo=UTC),
        by="ada",
        of="a try",
        file="f",
        **made,
        **said,
    )
    # What is read is drawn and told: a line that pages cannot show is a crash here.
    told = entry.fields
    assert told_of(told)
    for kind in (EXHAUST, HEAD):
        chart = cylinder_chart(told, kind, "3")
        assert chart is None or chart_svg(chart, Sheet(284, 176, 18, "page"))
    for name in (OIL_PRESSURE, OIL_TEMPERATURE):
        oil = oil_chart(told, name)
        assert oil is None or chart_svg(oil, Sheet(284, 176, 18, "page"))
    return True


def _workbook_in(data: bytes, book: Books, in_new: bool) -> bool:
    return planned(table_from(_answer("read_table", data, in_new)), book, {})


def _read(what: str, data: bytes, in_new: bool) -> bool:
    _answer(what, data, in_new)
    return True


def _answer(what: str, data: bytes, in_new: bool) -> Any:
    if in_new:
        return apart._apart(what, data, bounds=_bounds(what))
    return _split_off(what, data)


def _bounds(what: str) -> tuple[int, int, int]:
    if what == "read_table":
        return apart.TABLE
    return apart.PROCESSOR_S, apart.CLOCK_S, apart.MOST_MEMORY


def _split_off(what: str, data: bytes) -> Any:
    """As ``rehang.decode.apart`` reads a file; what is no sentence of the reader's is a crash here."""
    reading, writing = os.pipe()
    number = os.fork()
    if number == 0:
        try:
            os.close(reading)
            warnings.simplefilter("ignore")
            seconds, _, most_memory = _bounds(what)
            child._bounded(most_memory, seconds)
            said: dict[str, Any]
            try:
                said = {"answer": child._read(what, data, "the file")}
            except BadInput as refusal:
                said = {"refused": refusal.sentence}
            except MemoryError:
                said = {"refused": "too much"}
            except Exception as problem:  # noqa: BLE001 - told to whoever counts
                last = traceback.extract_tb(problem.__traceback__)[-1]
                said = {
                    "crash": f"{last.filename}:{last.lineno} {type(problem).__name__}: {problem}"
                }
            with os.fdopen(writing, "w") as out:
                json.dump(said, out)
        finally:
            os._exit(0)
    os.close(writing)
    with os.fdopen(reading) as answer:
        text = answer.read()
    os.waitpid(number, 0)
    if not text:
        # Put an end to, by its bounds or by its own fault: the door says so in a sentence.
        raise BadInput(apart._TOO_MUCH)
    said = json.loads(text)
    if "crash" in said:
        raise RuntimeError(said["crash"])
    if "refused" in said:
        raise BadInput(said["refused"])
    return said["answer"]


# ---------------------------------------------------------------- workbooks


def odd_workbook(dice: Random, book: Books) -> bytes:
    """A workbook that holds odd things, or one whose inside was changed, or torn."""
    made = _drawn(dice, book) if dice.random() < 0.5 else _own(dice, book)
    kind = dice.random()
    if kind < 0.35:
        return made
    if kind < 0.5:
        return changed_bytes(dice, made)
    return _changed_inside(dice, made)


def _own(dice: Random, book: Books) -> bytes:
    headings, rows = odd_table(dice, book)
    try:
        return write_xlsx(headings, rows, "readings")
    except (BadInput, UnicodeEncodeError):
        return _drawn(dice, book)


def _drawn(dice: Random, book: Books) -> bytes:
    whole = Workbook()
    sheet = whole.active
    headings, rows = odd_table(dice, book)
    for down, row in enumerate((headings, *rows), start=1):
        for across, text in enumerate(row, start=1):
            value = text if dice.random() < 0.7 else dice.choice(_VALUES)
            try:
                cell = sheet.cell(down, across, value)
            except (ValueError, IllegalCharacterError):
                continue
            if dice.random() < 0.2:
                cell.number_format = dice.choice(
                    ("0%", "@", "yyyy-mm-dd", "[h]:mm", "0.0E+00", "x")
                )
    for _ in range(dice.randrange(3)):
        match dice.randrange(5):
            case 0:
                sheet.merge_cells("A1:B2")
            case 1:
                sheet.cell(dice.choice((1, 60, 1_048_576)), dice.choice((1, 90, 16_384)), "far")
            case 2:
                other = whole.create_sheet(dice.choice(("x", "hidden")))
                other.sheet_state = dice.choice(("visible", "hidden", "veryHidden"))
                other.cell(1, 1, "a")
            case 3:
                sheet.row_dimensions[2].hidden = True
            case _:
                sheet.column_dimensions["B"].hidden = True
    out = io.BytesIO()
    try:
        whole.save(out)
    except (ValueError, TypeError, AttributeError, UnicodeEncodeError, OverflowError):
        return b"PK\x03\x04"
    return out.getvalue()


_VALUES: list[Any] = [
    True, 0, -1, 10**15, 10**300, 1e308, 5e-324, 0.72, datetime(2026, 11, 12, 9, 30),  # noqa: DTZ001 - a cell has no zone
    date(2026, 11, 12), date(1900, 1, 1), time(9, 30), timedelta(hours=30), "=1+1", "'=1", "#REF!",
    "_x0000_", "_x0041_",
]  # fmt: skip
_XML = (
    b"<v>1e999</v>", b"<v>9" + b"9" * 400 + b"</v>", b"<v>-1</v>", b"<v></v>", b"<v>nan</v>",
    b'<c r="ZZZZZ9999999" t="n"><v>1</v></c>', b'<c r="" t="s"><v>99999</v></c>',
    b'<c r="A1" t="d"><v>2026-99-99</v></c>', b'<c r="A1" t="b"><v>7</v></c>', b'<c t="inlineStr"/>',
    b'<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa">]>', b"&a;&a;", b"<row r='0'>", b"</row>", b"\xff\xfe",
    b'<row r="99999999"/>', b'<mergeCell ref="A1:XFD1048576"/>', b'<mergeCell ref="x"/>',
    b'<col min="1" max="16384" hidden="1"/>', b'<f>1</f>', b'<c r="B2" s="9999"><v>2</v></c>',
)  # fmt: skip


def _changed_inside(dice: Random, made: bytes) -> bytes:
    """A workbook zipped again, with parts of it changed, gone, or grown."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(made)) as old:
        parts = {name: old.read(name) for name in old.namelist()}
    name = dice.choice(list(parts))
    if dice.random() < 0.6:
        name = next((one for one in parts if "sheet1" in one), name)
    inside = parts[name]
    at = inside.find(b">", dice.randrange(len(inside) or 1)) + 1
    match dice.randrange(8):
        case 0:
            del parts[name]
        case 1:
            parts[name] = b""
        case 2:
            parts[name] = changed_bytes(dice, inside)
        case 3:
            parts[dice.choice(("xl/x.xml", "../x", "/x", "xl/worksheets/sheet9.xml"))] = inside
        case 4:
            grown = dice.choice(_XML) * dice.choice((1, 2, 200, 20_000))
            parts[name] = inside[:at] + grown + inside[at:]
        case 5:
            text = inside.decode("utf-8", "replace")
            parts[name] = changed_text(dice, text).encode("utf-8", "replace")
        case _:
            parts[name] = inside[:at] + dice.choice(_XML) + inside[at:]
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for one, data in parts.items():
            new.writestr(one, data)
    return out.getvalue()


# ---------------------------------------------------------------- pictures

_KINDS = ("JPEG", "PNG", "WEBP", "AVIF", "GIF", "BMP", "TIFF", "PPM")
_MODES = ("RGB", "L", "RGBA", "P", "1", "CMYK", "LA", "I;16")
_WHOLE: dict[tuple[Any, ...], bytes] = {}


def odd_photo(dice: Random) -> bytes:
    """A small picture of some kind, now and then a large one; mostly spoilt somewhere."""
    if dice.random() < 0.03:
        return dice.choice((b"", odd_text(dice).encode("utf-8", "replace"), dice.randbytes(300)))
    size = dice.choice(((1, 1), (64, 48), (64, 48), (300, 200), (1, 900), (1_700, 30)))
    if dice.random() < 0.002:
        size = dice.choice(((7_000, 5_600), (40_000, 1_000), (20_000, 20_000), (6_000, 6_000)))
        return _large(size)
    kind = dice.choice(_KINDS if dice.random() < 0.3 else _KINDS[:4])
    data = _picture(size, kind, dice.choice(_MODES), dice.random() < 0.3)
    how = dice.random()
    if how < 0.1:
        return data
    if how < 0.4:
        # Where the header, the sizes and the tables stand.
        head = dice.choice((32, 200, 700))
        return changed_bytes(dice, data[:head]) + data[head:]
    return changed_bytes(dice, data)


def _picture(size: tuple[int, int], kind: str, mode: str, special: bool) -> bytes:
    key = (size, kind, mode, special)
    if key not in _WHOLE:
        image = Image.new("L", size, 255)
        draw = ImageDraw.Draw(image)
        for at, colour in enumerate((0, 90, 180)):
            draw.rectangle(
                (at * size[0] // 4, 0, at * size[0] // 4 + size[0] // 8, size[1]), colour
            )
        exif = Image.Exif()
        exif[0x0112] = 6
        # As a camera may write it: in passes, in parts, with notes beside it.
        more: dict[str, Any] = (
            {"exif": exif.tobytes(), "icc_profile": b"x" * 200} if special else {}
        )
        if special and kind == "JPEG":
            more |= {"progressive": True}
        out = io.BytesIO()
        try:
            image.convert(mode).save(out, kind, **more)
        except (OSError, ValueError, KeyError):
            out = io.BytesIO()
            image.save(out, "PNG")
        _WHOLE[key] = out.getvalue()
    return _WHOLE[key]


def _large(size: tuple[int, int]) -> bytes:
    """A PNG of one grey, written row by row: small as a file, and here never unpacked."""
    key = (size, "PNG", "L", False)
    if key not in _WHOLE:
        packer = zlib.compressobj()
        row = bytes(size[0] + 1)
        rows = b"".join([*(packer.compress(row) for _ in range(size[1])), packer.flush()])
        head = struct.pack(">IIBBBBB", *size, 8, 0, 0, 0, 0)
        parts = [(b"IHDR", head), (b"IDAT", rows), (b"IEND", b"")]
        _WHOLE[key] = b"\x89PNG\r\n\x1a\n" + b"".join(
            struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))
            for name, data in parts
        )
    return _WHOLE[key]


def _odd_code(dice: Random) -> bytes:
    """A code with a label's text or an odd one, turned, grown, and mostly spoilt."""
    text = (
        label_text("tv4-2207-2026", "plug:K0411") if dice.random() < 0.5 else odd_text(dice)[:300]
    )
    kind = dice.choice((zxingcpp.BarcodeFormat.DataMatrix, zxingcpp.BarcodeFormat.QRCode))
    try:
        code = zxingcpp.create_barcode(text.encode("utf-8", "replace").decode(), kind)
        image = Image.fromarray(code.to_image(scale=dice.choice((1, 3, 8))))
    except (ValueError, RuntimeError):
        return odd_photo(dice)
    turned = image.convert("L").rotate(dice.randrange(360), expand=True, fillcolor=255)
    out = io.BytesIO()
    turned.save(out, dice.choice(("PNG", "JPEG")))
    return out.getvalue() if dice.random() < 0.4 else changed_bytes(dice, out.getvalue())
