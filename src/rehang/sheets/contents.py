"""The list of contents of a job folder: what was in it when it was saved, and what is not so now."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from pathlib import Path

from rehang.sheets.book_text import BOOK
from rehang.sheets.toml_text import read_toml, where_in
from rehang.trade.known.photos import is_kept_name, is_named_by
from rehang.trade.terms.ends import End
from rehang.trade.terms.entries import parse_line
from rehang.trade.terms.errors import BadInput

__all__ = ["CONTENTS", "PHOTOS", "contents_notices", "contents_problems", "contents_text"]

CONTENTS = "contents.toml"
PHOTOS = "photos"


def contents_notices(path: Path, files: dict[str, str]) -> list[str]:
    """Hold the folder against its list of contents, when it has one."""
    text = files.pop(CONTENTS, None)
    if text is None:
        return []
    raw = read_toml(CONTENTS, text)
    notices = []
    listed_files = raw.get("file", [])
    if not isinstance(listed_files, list):
        raise BadInput("The list of contents is no list. Copy it again.", CONTENTS)
    for number, one in enumerate(listed_files):
        place = where_in(CONTENTS, text, "file", number)
        one = one if isinstance(one, dict) else {}
        name, size = one.get("name"), one.get("bytes")
        if (
            not isinstance(name, str)
            or not isinstance(size, int)
            or not re.fullmatch(rf"({PHOTOS}/)?[\w.-]{{1,100}}", name)
        ):
            raise BadInput("This is not a line of the list of contents. Copy it again.", place())
        file = path / name
        if _is_said_by_the_book(file, name):
            continue
        if not file.is_file():
            raise BadInput(
                f"{name} is listed and is not in the folder: it was half copied. Copy it again.",
                place("name"),
            )
        have = file.stat().st_size
        if name == BOOK and have < size:
            raise BadInput(
                f"{name} has {have:,} bytes and had {size:,} when the folder was saved: "
                "it was half copied. Copy it again.",
                place("bytes"),
            )
        if hashlib.sha256(file.read_bytes()).hexdigest() != one.get("sha256"):
            notices.append(f"{name} has been changed since the folder was saved.")
    return notices


def contents_problems(path: Path) -> tuple[list[str], set[str]]:
    """What of a folder is not as its list of contents says, a sentence each, and the names listed.

    No sentence when every file, the list among them, is as it was saved.
    """
    try:
        text = (path / CONTENTS).read_bytes().decode("utf-8")
        raw = read_toml(CONTENTS, text)
    except UnicodeDecodeError:
        return [f"{CONTENTS}: There is a byte here that is not UTF-8 text."], set()
    except BadInput as problem:
        return [str(problem)], set()
    problems: list[str] = []
    held: dict[str, bytes] = {}
    said_by_the_book: set[str] = set()
    listed_files = raw.get("file", [])
    for one in listed_files if isinstance(listed_files, list) else []:
        name = str(one.get("name", "")) if isinstance(one, dict) else ""
        file = path / name
        if not name or "/" in name.removeprefix(f"{PHOTOS}/") or name in (".", "..", "photos/.."):
            problems.append(f'{CONTENTS}: "{name}" is not the name of a file of this folder.')
        elif _is_said_by_the_book(file, name):
            said_by_the_book.add(name)
        elif not file.is_file():
            problems.append(f"{name} is listed and is not in the folder.")
        else:
            held[name] = file.read_bytes()
            if _sum(held[name]) != one.get("sha256"):
                problems.append(f"{name} has been changed since the folder was saved.")
    # Older lists do not say where the book ends.
    ends = (_end_in(held.get(BOOK, b"")), None)
    if not (problems or said_by_the_book) and text not in [
        contents_text(held, end) for end in ends
    ]:
        problems.append(f"{CONTENTS} is not written as it was when the folder was saved.")
    return problems, {*held, *said_by_the_book}


def _end_in(book: bytes) -> End | None:
    """The end of a book as its text has it, whether or not its chain holds."""
    for line in reversed(book.split(b"\n")):
        try:
            entry = parse_line(line.decode("utf-8"))
        except (UnicodeDecodeError, BadInput):
            continue
        if entry.is_sealed:
            return End(entry.seq, entry.hash)
    return None


def _is_said_by_the_book(file: Path, name: str) -> bool:
    """A missing or changed photo: the book names its sum, and says better what it was of.

    A job is judged without its photos, so the folder is not refused for want of one.
    """
    folder, _, photo = name.partition("/")
    if folder != PHOTOS or not is_kept_name(photo):
        return False
    return not file.is_file() or not is_named_by(photo, _sum(file.read_bytes()))


def _sum(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def contents_text(files: Mapping[str, bytes], end: End | None) -> str:
    """The list of contents of a job folder: each file's size and SHA-256, and where the book ends."""
    made = ["# What was in this folder when it was saved. Rehang holds the folder against it.\n"]
    if end is not None:
        made.append(f'\n[book]\nlast_entry = {end.seq}\nhash = "{end.hash}"\n')
    made += [
        f'\n[[file]]\nname = "{name}"\nbytes = {len(data)}\nsha256 = "{_sum(data)}"\n'
        for name, data in files.items()
    ]
    return "".join(made)
