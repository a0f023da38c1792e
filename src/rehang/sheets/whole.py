"""What holding something against what was kept of it comes to: whole, changed, or cannot tell.

A folder is held against its own lists, its book against its chain (SHA-256, FIPS 180-4), its
sheets against the texts that the book filed, its photos against their sums in the book.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from pathlib import Path

from rehang.sheets.folder import (
    BOOK,
    CONTENTS,
    FACT_FILES,
    PHOTOS,
    PhotoFiles,
    contents_problems,
    photo_problems,
)
from rehang.sheets.sums import SUMS, sums_problems
from rehang.trade.known.photos import files_in
from rehang.trade.terms.chain import chain_problems
from rehang.trade.terms.ends import End, end_of, end_problem, end_words
from rehang.trade.terms.entries import Entry, is_a, parse_line
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.kinds.papers import Filed
from rehang.trade.terms.wording import listed

__all__ = ["CANNOT_TELL", "CHANGED", "WHOLE", "Checked", "folder_checked"]

WHOLE, CHANGED, CANNOT_TELL = "whole", "changed", "cannot tell"


@dataclass(slots=True)
class Checked:
    """What was looked at and against what, what is changed and where, and what nothing tells.

    ``end`` is where the book ends that was looked at, where it was one.
    """

    looked: list[str] = field(default_factory=list)
    changed: list[str] = field(default_factory=list)
    untold: list[str] = field(default_factory=list)
    end: End | None = None

    @property
    def outcome(self) -> str:
        """Whole only when something was looked at, all of it told, and nothing changed."""
        if self.changed:
            return CHANGED
        return WHOLE if self.looked and not self.untold else CANNOT_TELL

    def add(self, other: Checked) -> None:
        self.looked += other.looked
        self.changed += other.changed
        self.untold += other.untold


def folder_checked(path: Path, against: End | None = None, said_by: str = "") -> Checked:
    """A job folder, or what was written of it to keep, held against all that vouches for it.

    ``against`` is an end of the book that was kept elsewhere, ``said_by`` where.
    """
    found = Checked()
    names = {
        one.relative_to(path).as_posix() for one in sorted(path.rglob("*")) if one.is_file()
    } - {SUMS, CONTENTS}
    vouched: set[str] = set()
    lists = []
    for listing, problems_of in ((SUMS, sums_problems), (CONTENTS, contents_problems)):
        if not (path / listing).is_file():
            continue
        lists.append(listing)
        problems, held = problems_of(path)
        found.changed += [one for one in problems if one not in found.changed]
        found.looked.append(f"{_many(len(held), 'file')} against {listing}")
        vouched |= held
    if not (path / BOOK).is_file():
        found.untold.append(f"There is no {BOOK} here, so this is no job folder, or a part of one.")
        return found
    entries = _book_checked(path, found)
    _against_the_book(path, entries, found, vouched)
    loose = sorted(names - vouched - {BOOK})
    if loose and lists:
        found.changed.append(f"{listed(loose)}: in no list; not there when the folder was written.")
    elif loose:
        found.untold.append(
            f"{listed(loose)}: nothing here to hold {'it' if len(loose) == 1 else 'them'} against. "
            "The list of the folder is missing."
        )
    _end_checked(entries, found, BOOK in vouched, against, said_by)
    return found


def _book_checked(path: Path, found: Checked) -> list[Entry]:
    """The entries of the folder's book, held against their chain."""
    entries: list[Entry] = []
    lines = (path / BOOK).read_bytes().split(b"\n")
    if lines.pop() != b"":
        found.changed.append(f"{BOOK}: The last line has no end.")
    for number, raw in enumerate(lines, start=1):
        place = f"{BOOK}, line {number}"
        try:
            line = raw.decode("utf-8")
            entry = parse_line(line, place)
        except UnicodeDecodeError:
            found.changed.append(f"{place}: There is a byte here that is not UTF-8 text.")
            continue
        except BadInput as problem:
            found.changed.append(str(problem))
            continue
        if entry.line() != line:
            found.changed.append(f"{place}: The line is not written as it was kept.")
        entries.append(entry)
    sealed = [entry for entry in entries if entry.is_sealed]
    loose = len(entries) - len(sealed)
    found.changed += chain_problems(sealed)
    if any(entry.is_sealed for entry in entries[len(sealed) :]):
        found.changed.append(f"{BOOK}: An entry without a seal stands before a sealed one.")
    found.looked.append(f"{_many(len(sealed), 'entry')} of {BOOK} against their chain")
    if loose:
        found.untold.append(
            f"{_many(loose, 'entry')} at the end of {BOOK} with no seal to hold them against. "
            f"Seal them: rehang seal {path}"
        )
    return entries


def _against_the_book(path: Path, entries: list[Entry], found: Checked, vouched: set[str]) -> None:
    """Sheets held against the texts that the book filed last, photos against their sums."""
    filed = {e.fields.file: e for e in entries if is_a(e, Filed)}
    for name, entry in filed.items():
        if name not in FACT_FILES:
            continue
        vouched.add(name)
        if not (path / name).is_file():
            found.changed.append(f"{name} is filed in the book and is not in the folder.")
        elif _sum(path / name) != entry.fields.sha256:
            found.changed.append(
                f"{name} is not the text that entry {entry.seq} of the book filed."
            )
    if filed:
        found.looked.append(f"{_many(len(filed), 'sheet')} against the texts filed in the book")
    pictures = {f"{PHOTOS}/{one.name}" for one in files_in(entries)}
    found.changed += [
        f"{name} is listed, and the book speaks of no such photo."
        for name in sorted(vouched - pictures)
        if name.startswith(f"{PHOTOS}/")
    ]
    vouched |= pictures
    if pictures:
        found.changed += photo_problems(entries, PhotoFiles(path / PHOTOS, entries))
        pdfs = sum(name.endswith(".pdf") for name in pictures)
        tables = sum(name.endswith(".csv") for name in pictures)
        kinds = [(len(pictures) - pdfs - tables, "photo"), (pdfs, "PDF"), (tables, "table")]
        many = listed([_many(number, kind) for number, kind in kinds if number])
        found.looked.append(f"{many} against their sums in the book")


def _end_checked(
    entries: list[Entry], found: Checked, by_list: bool, against: End | None, said_by: str
) -> None:
    last = found.end = end_of(entries)
    if against is not None:
        problem = end_problem([e for e in entries if e.is_sealed], against, said_by)
        if problem:
            found.changed.append(problem)
        found.looked.append(f"the book up to entry {against.seq} against {said_by}")
    if by_list:
        return
    if last is None:
        found.untold.append(f"{BOOK} holds no sealed entry.")
    elif against is None or against.seq < last.seq:
        found.untold.append(
            f"Whether entries were cut off after {end_words(last.seq, last.hash)}: no list here names "
            "the last one. Compare with a print, a backup or the book: --against."
        )


def _many(number: int, what: str) -> str:
    plural = f"{what[:-1]}ies" if what.endswith("y") else f"{what}s"
    return f"{number:,} {what if number == 1 else plural}"


def _sum(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()
