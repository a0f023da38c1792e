"""The table of an engine monitor: one flight or run as text, a row a moment, any columns.

No maker's format is known here: what each column is, a person says. What cannot be read for certain
is refused with its line.
"""

from __future__ import annotations

import csv
import hashlib
import io
import re
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from rehang.trade.facts.monitor_columns import (
    EXHAUST,
    HEAD,
    TIME,
    channel_words,
    cylinder_of,
    in_base,
    kind_of,
    unit_in,
)
from rehang.trade.terms.errors import BadInput

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = [
    "MOST_ROWS",
    "MOST_SENT",
    "MOST_UNPACKED",
    "FlightHead",
    "look",
    "plain_table",
    "read_flight",
]

MOST_ROWS = 1_000_000
# What the shop's door lets in, and what may come out of it unpacked.
MOST_SENT = 30_000_000
MOST_UNPACKED = 250_000_000
MOST_COLUMNS = 200
# Enough for the headings, a row of units and some rows to show.
_LOOKED_AT = 65_536
_SHOWN = 3
_SEPARATORS = (",", ";", "\t")
_GZIP = b"\x1f\x8b"
# What instruments write where there is no reading.
_NO_READING = ("", "-", "--", "---", "NaN", "nan", "NA", "N/A", "null")
_WITH_COMMA = re.compile(r"[+-]?\d+,\d+$")
_CLOCK = re.compile(r"\d{1,3}:\d{2}(:\d{2}(\.\d+)?)?$")
_TOO_MANY = re.compile(r"Expected \d+ fields in line (\d+), saw \d+")
_DATED = re.compile(r"\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}")


@dataclass(frozen=True, slots=True)
class FlightHead:
    """What the first lines of a table say: headings with the row of units, if any, behind them.

    ``clock`` says how its times are written where no unit can: of each column, ``hh:mm:ss``,
    ``date and time`` or nothing. ``commas`` says that cells have a comma between digits.
    """

    separator: str
    headings: tuple[str, ...]
    units: tuple[str, ...]
    samples: tuple[tuple[str, ...], ...]
    head_lines: int
    width: int
    clocks: tuple[str, ...]
    commas: bool


def look(name: str, data: bytes) -> FlightHead:
    """The head of a table, by its first lines alone.

    Raises
    ------
    BadInput
        It is not a table of text with headings and rows below them.
    """
    text = _text(name, _unpacked(name, data, _LOOKED_AT), whole=False)
    lines = text.splitlines()
    # The last line may be cut off.
    lines = lines[:-1] if len(text) >= _LOOKED_AT - 8 and len(lines) > 1 else lines
    separator = max(_SEPARATORS, key=lambda one: (lines or [""])[0].count(one))
    rows = list(csv.reader(io.StringIO("\n".join(lines)), delimiter=separator))
    rows = [[cell.strip() for cell in row] for row in rows]
    if len(rows) < 2 or len(rows[0]) < 2:
        raise BadInput(
            "This is no table with a row of headings, two columns or more, and rows below. Save the "
            "flight as CSV with its headings.",
            name,
        )
    headings = rows[0]
    if len(headings) > MOST_COLUMNS:
        raise BadInput(
            f"The table has {len(headings):,} columns; it may have {MOST_COLUMNS}.", name
        )
    if any(_is_number(cell) for cell in headings):
        raise BadInput(
            "The first row holds numbers and no headings. Put a row of headings on top of it.",
            f"{name}, line 1",
        )
    units = [""] * len(headings)
    head_lines = 1
    second = rows[1]
    if len(second) == len(headings) and not any(_is_number(c) for c in second):
        found = [unit_in(f", {cell}") for cell in second]
        if any(found):
            units, head_lines = found, 2
    for number, row in enumerate(rows, start=1):
        if any(row[len(headings) :]):
            raise _too_long(f"{name}, line {number}", len(headings))
    held = [row for row in rows[head_lines:] if any(row)]
    if not held:
        raise BadInput("There is no row below the headings.", name)
    return FlightHead(
        separator=separator,
        headings=tuple(headings),
        units=tuple(unit_in(one) or below for one, below in zip(headings, units, strict=True)),
        samples=tuple(tuple(row) for row in held[:_SHOWN]),
        head_lines=head_lines,
        # Rows may end in a separator too many, with nothing behind it.
        width=max(len(row) for row in rows),
        clocks=tuple(
            _clock([row[n] for row in held if n < len(row)]) for n in range(len(headings))
        ),
        commas=separator != "," and any(_WITH_COMMA.match(c) for row in held for c in row),
    )


def read_flight(name: str, data: bytes, said: Mapping[str, Any]) -> dict[str, Any]:
    """The whole table by what was said of its columns, and what is worked out of it.

    ``said`` has columns, units, decimal (``.`` or ``,``), as an entry keeps them.

    Raises
    ------
    BadInput
        With the line, or the column, that cannot be read.
    """
    from rehang.trade.run.monitor_found import METHOD, found_in, series_of

    head = look(name, data)
    plain = _unpacked(name, data, MOST_UNPACKED)
    times, channels = _columns(name, plain, head, said)
    _check_hotter(head, said["columns"], channels)
    return {
        "sha256": hashlib.sha256(plain).hexdigest(),
        "size": len(plain),
        "rows": int(times.size),
        "headings": list(head.headings),
        "found": found_in(times, channels),
        "series": series_of(times, channels),
        "by_method": METHOD,
    }


def plain_table(name: str, data: bytes, most: int) -> bytes:
    """The text of a table that was read before, so that its size is known to be no more than ``most``."""
    return _unpacked(name, data, most + 1)


def _unpacked(name: str, data: bytes, most: int) -> bytes:
    """The text of the table: as it came, or out of gzip, up to so many bytes."""
    if len(data) > MOST_UNPACKED:
        raise BadInput(
            f"The file has {len(data):,} bytes; it may have {MOST_UNPACKED:,}. Cut it into flights.",
            name,
        )
    if not data.startswith(_GZIP):
        return data[:most]
    unpacking = zlib.decompressobj(zlib.MAX_WBITS | 16)
    try:
        found = unpacking.decompress(data, most)
    except zlib.error:
        raise BadInput("The packed file is not whole. Pack and send it again.", name) from None
    if most < MOST_UNPACKED:
        return found
    if not unpacking.eof:
        raise BadInput(
            f"The file unpacks to more than {MOST_UNPACKED:,} bytes, or breaks off. Cut it into "
            "flights, or pack it again.",
            name,
        )
    return found


def _text(name: str, data: bytes, *, whole: bool) -> str:
    try:
        # Where the head ends in half a character the rest of it is further on.
        text = data.decode("utf-8-sig", errors="strict" if whole else "ignore")
    except UnicodeDecodeError as problem:
        line = data[: problem.start].count(b"\n") + 1
        raise BadInput(
            "There is a byte here that is not UTF-8 text. Save the table as CSV UTF-8.",
            f"{name}, line {line}",
        ) from None
    if "\0" in text:
        raise BadInput("This is not a table of text. Save the flight as CSV.", name)
    return text


def _is_number(cell: str) -> bool:
    try:
        float(cell.replace(",", ".", 1))
    except ValueError:
        return bool(_CLOCK.match(cell) or _DATED.match(cell))
    return True


def _clock(cells: Sequence[str]) -> str:
    held = [cell for cell in cells if cell]
    if held and all(_CLOCK.match(cell) for cell in held):
        return "hh:mm:ss"
    return "date and time" if held and all(_DATED.match(cell) for cell in held) else ""


# The columns


def _columns(
    name: str, plain: bytes, head: FlightHead, said: Mapping[str, Any]
) -> tuple[NDArray[np.float64], dict[str, NDArray[np.float64]]]:
    """The times from the first row in seconds, and each channel in the unit that is worked in."""
    columns: Mapping[str, int] = said["columns"]
    table = _read(name, plain, head, columns, said["decimal"])
    if len(table) > MOST_ROWS:
        raise BadInput(f"The table has more than {MOST_ROWS:,} rows. Cut it into flights.", name)
    times = _times(name, table, head, columns[TIME], said["units"][TIME])
    channels = {}
    for channel, column in columns.items():
        if channel == TIME:
            continue
        held = _numbers(name, table[column], head, column)
        factor, offset = in_base(channel, said["units"][channel])
        channels[channel] = held * factor + offset
    return times, channels


def _read(
    name: str, plain: bytes, head: FlightHead, columns: Mapping[str, int], decimal: str
) -> Any:
    # Half a second to load: only who reads a flight pays for it.
    import pandas as pd

    _text(name, plain[:_LOOKED_AT], whole=False)
    try:
        table = pd.read_csv(
            io.BytesIO(plain),
            sep=head.separator,
            header=None,
            # All of them, for with some alone the reader passes over a row that is too long.
            names=range(head.width),
            skiprows=head.head_lines,
            na_values=list(_NO_READING),
            keep_default_na=False,
            decimal=decimal,
            nrows=MOST_ROWS + 1,
            skipinitialspace=True,
            skip_blank_lines=False,
            low_memory=False,
            encoding="utf-8-sig",
            on_bad_lines="error",
        )
    except UnicodeDecodeError:
        _text(name, plain, whole=True)
        raise
    except pd.errors.ParserError as problem:
        found = _TOO_MANY.search(str(problem))
        if found is None:
            raise BadInput(
                "The quotes of the table do not close, or a row breaks off. Save it as CSV again.",
                name,
            ) from None
        raise _too_long(f"{name}, line {found[1]}", len(head.headings)) from None
    except pd.errors.EmptyDataError:
        raise BadInput("There is no row below the headings.", name) from None
    # Its rows keep their numbers, which places in sentences are told by.
    for column in range(len(head.headings), head.width):
        long = table[column].notna()
        if long.any():
            where = _line(name, table, int(long.to_numpy().argmax()), head)
            raise _too_long(where, len(head.headings))
    return table[sorted(columns.values())].dropna(how="all")


def _too_long(where: str, headings: int) -> BadInput:
    return BadInput(
        f"This row has more cells than the {headings} headings. Where decimals are written with a comma, "
        "save the table with semicolons between its columns.",
        where,
    )


def _line(name: str, table: Any, row: int, head: FlightHead) -> str:
    """Where a row stands: its line in the file."""
    return f"{name}, line {int(table.index[row]) + head.head_lines + 1}"


def _numbers(name: str, held: Any, head: FlightHead, column: int) -> NDArray[np.float64]:
    import pandas as pd

    values = pd.to_numeric(held, errors="coerce")
    wrong = values.isna() & held.notna()
    heading = head.headings[column]
    if wrong.any():
        row = int(wrong.to_numpy().argmax())
        cell = str(held.iloc[row])
        hint = (
            " Say that decimals are written with a comma."
            if _WITH_COMMA.match(cell)
            else " Put right what is there, or leave the cell empty."
        )
        raise BadInput(
            f'"{cell[:40]}" in the column "{heading}" is not a number.{hint}',
            _line(name, held, row, head),
        )
    found: NDArray[np.float64] = values.to_numpy(dtype="float64")
    if values.isna().all():
        raise BadInput(
            f'The column "{heading}" holds no number. Pick another, or leave that channel out.',
            name,
        )
    if not (abs(values.dropna()) < 1e9).all():
        raise BadInput(f'The column "{heading}" holds numbers beyond all reading.', name)
    return found


def _times(name: str, table: Any, head: FlightHead, column: int, unit: str) -> NDArray[np.float64]:
    """Seconds from the first row; every row has its time, and none runs back."""
    import numpy as np
    import pandas as pd

    held = table[column]
    heading = head.headings[column]
    if held.isna().any():
        row = int(held.isna().to_numpy().argmax())
        raise BadInput(
            f'There is no time in the column "{heading}". Every row needs one.',
            _line(name, held, row, head),
        )
    if unit == "hh:mm:ss":
        text = held.astype(str)
        # Minutes and seconds alone are read as minutes and seconds.
        text = text.where(text.str.count(":") == 2, "0:" + text)
        moments = pd.to_timedelta(text, errors="coerce").dt.total_seconds()
    elif unit == "date and time":
        stamps = pd.to_datetime(held.astype(str), errors="coerce", format="ISO8601", utc=True)
        moments = (stamps - stamps.iloc[0]).dt.total_seconds()
    else:
        factor, _ = in_base(TIME, unit)
        moments = pd.Series(_numbers(name, held, head, column) * factor)
    found: NDArray[np.float64] = moments.to_numpy(dtype="float64")
    if np.isnan(found).any():
        row = int(np.isnan(found).argmax())
        raise BadInput(
            f'"{str(held.iloc[row])[:40]}" in the column "{heading}" is no time written as {unit}.',
            _line(name, held, row, head),
        )
    back = np.flatnonzero(np.diff(found) < 0)
    if back.size:
        row = int(back[0]) + 1
        raise BadInput(
            f"The time runs back here, from {held.iloc[row - 1]} to {held.iloc[row]}. Sort the rows, "
            "cut the table into flights, or pick the column of the time.",
            _line(name, held, row, head),
        )
    if found.size < 2 or found[-1] <= found[0]:
        raise BadInput("The table spans no time. Pick the column of the time.", name)
    from_first: NDArray[np.float64] = found - found[0]
    return from_first


def _check_hotter(
    head: FlightHead,
    columns: Mapping[str, int],
    channels: Mapping[str, NDArray[np.float64]],
) -> None:
    """Exhaust is hotter than its own cylinder head; where it is not, the two were swapped."""
    import numpy as np

    for channel, held in channels.items():
        other = channels.get(f"{HEAD}:{cylinder_of(channel)}")
        if kind_of(channel) != EXHAUST or other is None:
            continue
        if np.nanmedian(other) > np.nanmedian(held):
            names = [head.headings[columns[c]] for c in (channel, f"{HEAD}:{cylinder_of(channel)}")]
            raise BadInput(
                f'"{names[1]}" is hotter than "{names[0]}", and no head is hotter than its exhaust. '
                f"The two are swapped, or one is not what was picked: look at {channel_words(channel)}.",
            )
