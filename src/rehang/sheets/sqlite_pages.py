"""The rows that lie in the pages of a SQLite file, whatever has become of the file around them.

Nothing here follows the tree of a table: each page that is a leaf is read by itself, in the file and
in the log beside it, so that a lost page loses what lay on it and no more. What comes out may be of
any table, and may be an older copy; whoever asks knows a true row by its hash.

The format is that of sqlite.org/fileformat2.html: 1.6 pages, 1.5 cells and overflow, 2.1 records, 4.1 log.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

__all__ = ["Row", "rows_in"]

# The number of a row and the values of its columns.
Row = tuple[int, list[int | float | bytes | None]]

_LEAF = 0x0D
_USUAL_SIZE = 4096
_WHOLE_NUMBERS = {1: 1, 2: 2, 3: 3, 4: 4, 5: 6, 6: 8}


def rows_in(file: bytes, log: bytes = b"") -> Iterator[Row]:
    """Every row of every leaf that can be read, of the file and of the log beside it."""
    size = (
        int.from_bytes(file[16:18], "big") if file.startswith(b"SQLite format 3\0") else _USUAL_SIZE
    )
    size = {1: 65_536, 0: _USUAL_SIZE}.get(size, size)
    if size < 512 or size & (size - 1):
        size = _USUAL_SIZE
    pages = {number: file[at : at + size] for number, at in enumerate(range(0, len(file), size), 1)}
    newer: dict[int, bytes] = {}
    frames: list[tuple[int, bytes]] = []
    for at in range(32, len(log) - 24, size + 24):
        number = int.from_bytes(log[at : at + 4], "big")
        frames.append((number, log[at + 24 : at + 24 + size]))
    newer.update(frames)
    for number, page in (*pages.items(), *frames):
        for overlaid in (pages, pages | newer) if newer else (pages,):
            yield from _of_leaf(page, 100 if number == 1 else 0, size, overlaid)


def _of_leaf(page: bytes, start: int, size: int, pages: Mapping[int, bytes]) -> Iterator[Row]:
    if len(page) < start + 8 or page[start] != _LEAF:
        return
    cells = int.from_bytes(page[start + 3 : start + 5], "big")
    for place in range(start + 8, min(start + 8 + 2 * cells, len(page) - 1), 2):
        try:
            yield _row(page, int.from_bytes(page[place : place + 2], "big"), size, pages)
        except (IndexError, ValueError):
            # No cell, or one that is damaged: the next has a place of its own.
            continue


def _row(page: bytes, at: int, size: int, pages: Mapping[int, bytes]) -> Row:
    length, at = _varint(page, at)
    number, at = _varint(page, at)
    most = size - 35
    if length <= most:
        return number, _record(page[at : at + length])
    if length > size * len(pages):
        raise ValueError
    least = (size - 12) * 32 // 255 - 23
    here = least + (length - least) % (size - 4)
    here = here if here <= most else least
    payload = bytearray(page[at : at + here])
    following = int.from_bytes(page[at + here : at + here + 4], "big")
    while len(payload) < length and following in pages:
        more = pages[following]
        payload += more[4:]
        following = int.from_bytes(more[:4], "big")
    return number, _record(bytes(payload[:length]))


def _record(payload: bytes) -> list[int | float | bytes | None]:
    head, at = _varint(payload, 0)
    kinds = []
    while at < head:
        kind, at = _varint(payload, at)
        kinds.append(kind)
    values: list[int | float | bytes | None] = []
    at = head
    for kind in kinds:
        if kind in (0, 8, 9):
            values.append({0: None, 8: 0, 9: 1}[kind])
            continue
        length = 8 if kind == 7 else _WHOLE_NUMBERS.get(kind) or (kind - 12) // 2
        piece = payload[at : at + length]
        if kind in (10, 11) or len(piece) != length:
            raise ValueError
        values.append(
            piece if kind >= 12 or kind == 7 else int.from_bytes(piece, "big", signed=True)
        )
        at += length
    return values


def _varint(data: bytes, at: int) -> tuple[int, int]:
    found = 0
    for number in range(9):
        one = data[at + number]
        if number == 8:
            return found << 8 | one, at + 9
        found = found << 7 | one & 0x7F
        if not one & 0x80:
            return found, at + number + 1
    raise ValueError
