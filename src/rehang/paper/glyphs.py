"""Which characters the sheets' font can print.

A record has to print whatever was written in it. A character the font does not have is set as
its Unicode number, ``[U+2603]``, so that nothing is lost and nothing is left out silently.
"""

from __future__ import annotations

import struct
from functools import cache
from pathlib import Path

from rehang.trade.terms.errors import BadInput

__all__ = ["printable"]

_FONTS = Path(__file__).parent / "fonts"


def printable(text: str) -> str:
    """The text with every character that cannot be printed written as its number."""
    covered = _covered()
    return "".join(
        char if ord(char) in covered else " " if char in "\n\r\t" else f"[U+{ord(char):04X}]"
        for char in text
    )


@cache
def _covered() -> frozenset[int]:
    """The characters that both weights have."""
    files = sorted(_FONTS.glob("*.ttf"))
    if not files:
        raise BadInput("The fonts of the printed sheets are missing. Install Rehang again.")
    sets = [_characters(path.read_bytes()) for path in files]
    return frozenset(set.intersection(*sets))


def _characters(font: bytes) -> set[int]:
    """The characters of a TrueType file: OpenType specification, table ``cmap``, format 4."""
    (tables,) = struct.unpack_from(">H", font, 4)
    for number in range(tables):
        tag, _, offset, _ = struct.unpack_from(">4sLLL", font, 12 + 16 * number)
        if tag == b"cmap":
            return _cmap(font, offset)
    raise BadInput("A font of the printed sheets has no character map. Install Rehang again.")


def _cmap(font: bytes, start: int) -> set[int]:
    (count,) = struct.unpack_from(">H", font, start + 2)
    found: set[int] = set()
    for number in range(count):
        _, _, offset = struct.unpack_from(">HHL", font, start + 4 + 8 * number)
        (kind,) = struct.unpack_from(">H", font, start + offset)
        if kind == 4:
            found |= _format_4(font, start + offset)
    return found


def _format_4(font: bytes, start: int) -> set[int]:
    (twice,) = struct.unpack_from(">H", font, start + 6)
    segments = twice // 2
    ends_at = start + 14
    starts_at = ends_at + twice + 2
    deltas_at, offsets_at = starts_at + twice, starts_at + 2 * twice
    found: set[int] = set()
    for segment in range(segments):
        (end,) = struct.unpack_from(">H", font, ends_at + 2 * segment)
        (begin,) = struct.unpack_from(">H", font, starts_at + 2 * segment)
        (delta,) = struct.unpack_from(">H", font, deltas_at + 2 * segment)
        here = offsets_at + 2 * segment
        (offset,) = struct.unpack_from(">H", font, here)
        for code in range(begin, end + 1):
            if offset == 0:
                glyph = (code + delta) & 0xFFFF
            else:
                (glyph,) = struct.unpack_from(">H", font, here + offset + 2 * (code - begin))
                glyph = (glyph + delta) & 0xFFFF if glyph else 0
            if glyph:
                found.add(code)
    return found
