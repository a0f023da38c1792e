"""Which characters the sheets' font can print.

A record has to print whatever was written in it. A character the font does not have is set as
its Unicode number, ``[U+2603]``, so that nothing is lost and nothing is left out silently.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

from fontTools.ttLib import TTFont, TTLibError

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
    """The characters that both weights have, by the character maps of the two files."""
    files = sorted(_FONTS.glob("*.ttf"))
    if not files:
        raise BadInput("The fonts of the printed sheets are missing. Install Rehang again.")
    maps = []
    for path in files:
        try:
            with TTFont(path, lazy=True) as font:
                maps.append(set(font.getBestCmap() or ()))
        except TTLibError as problem:
            raise BadInput(
                f"The font {path.name} of the printed sheets cannot be read. Install Rehang again."
            ) from problem
    return frozenset(set.intersection(*maps))
