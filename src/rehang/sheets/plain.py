"""A plain text file, read as it was typed by hand: what is no file, and slips of an editor."""

from __future__ import annotations

import codecs
import re
import stat
from collections.abc import Iterable
from pathlib import Path

from rehang.trade.terms.entries import curly_quote
from rehang.trade.terms.errors import BadInput

__all__ = ["file_text", "slip_in", "texts_in"]

# Byte order marks of what Windows programs call Unicode. UTF-32 begins as UTF-16 does.
_WIDE = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)


def file_text(file: Path) -> str:
    """The text of a file in UTF-8.

    Raises
    ------
    BadInput
        It is a folder, a pipe or a device, cannot be read, or is not UTF-8; with file and line.
    """
    name = file.name
    try:
        mode = file.stat().st_mode
        if stat.S_ISDIR(mode):
            raise BadInput(
                "This is a folder, and a file has that name here. Give the folder another name.",
                name,
            )
        if not stat.S_ISREG(mode):
            # Reading it might never end.
            raise BadInput("This is a pipe or a device. Put the file itself here.", name)
        data = file.read_bytes()
    except OSError as problem:
        raise BadInput(
            f"The file cannot be read: {problem.strerror}. Put it right, or copy it again.", name
        ) from None
    if data.startswith(codecs.BOM_UTF8):
        raise BadInput(
            "The file begins with a byte order mark, which an editor put there unseen. Save it as "
            "UTF-8 without one (without BOM).",
            f"{name}, line 1",
        )
    if data.startswith(_WIDE):
        raise BadInput("The file is saved as UTF-16. Save it as UTF-8.", f"{name}, line 1")
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as problem:
        line = data[: problem.start].count(b"\n") + 1
        raise BadInput(
            "There is a byte here that is not UTF-8 text. Save the file as UTF-8.",
            f"{name}, line {line}",
        ) from None


def texts_in(folder: Path, names: Iterable[str]) -> dict[str, str]:
    """The texts of those files that are there.

    A link that leads nowhere is there too: what it stood for is missing.
    """
    return {
        name: file_text(folder / name)
        for name in names
        if (folder / name).exists() or (folder / name).is_symlink()
    }


def slip_in(line: str) -> str:
    """What a hand or an editor often does to a line that cannot be read; empty where it is none of it."""
    if curly := curly_quote(line):
        return curly
    day = re.search(r"=\s*(\d{1,2}[/.]\d{1,2}[/.]\d{4})\b", line)
    if day:
        return f"{day[1]} is not a date here. Write year, month and day, as in 2026-11-01."
    value = re.match(
        r"\s*[A-Za-z0-9_-]+\s*=\s*([^\"'#]*\"|\"[^\"]*|[A-Za-z][^\"'#\[\]{}]*)\s*(#.*)?$", line
    )
    if value and value[1].strip() not in ("true", "false"):
        return 'A quote is missing here. Text stands between two quotes, as in name = "Ada Quist".'
    return ""
