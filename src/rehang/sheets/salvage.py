"""Every entry whose hash holds, out of whatever is left of a database, a folder, an archive or a backup.

An entry carries the hash of the one before it and its own (SHA-256, FIPS 180-4), so that each is proved
by itself: a gap beside it takes nothing from it.
"""

from __future__ import annotations

import hashlib
import re
import tomllib
import zlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from rehang.sheets.aside import write_files
from rehang.sheets.book_text import BOOK, book_text
from rehang.sheets.contents import PHOTOS
from rehang.sheets.job_files import FACT_FILES, SHOP, texts_at
from rehang.sheets.sqlite_pages import rows_in
from rehang.trade.facts.shop_file import SHOP_BOOK
from rehang.trade.known.photos import files_in, is_kept_name, is_named_by
from rehang.trade.terms.aside import kept_entry, kept_line
from rehang.trade.terms.chain import GENESIS, seal_hash
from rehang.trade.terms.entries import Entry
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.wording import listed

__all__ = ["AFTER_GAP", "REPORT", "Salvaged", "salvage", "write_salvaged"]

REPORT = "salvage.txt"
# What holds behind the first gap of a book: its first part alone can be loaded.
AFTER_GAP = "after-the-gap.jsonl"
_NAME = re.compile(r"[a-z0-9_-]{1,60}")
# The key of an entry's row is its job's number and its place in one (the table of entries).
_SEQ_BITS = 24


@dataclass(slots=True)
class Salvaged:
    """The books by name, their photos by the names of the files, and what could not be read."""

    books: dict[str, dict[int, Entry]] = field(default_factory=dict)
    photos: dict[str, bytes] = field(default_factory=dict)
    # What lies beside a book where no entry may vouch for it: by folder and file, and whose it is.
    texts: dict[str, dict[str, bytes]] = field(default_factory=dict)
    places: dict[str, str] = field(default_factory=dict)
    unread: list[str] = field(default_factory=list)

    @property
    def is_all(self) -> bool:
        """Whether nothing is known to be missing."""
        books = [[book[seq] for seq in sorted(book)] for book in self.books.values() if book]
        return bool(books) and not self.unread and all(_unbroken(one) == one for one in books)

    def take(self, name: str, entries: Iterable[Entry]) -> None:
        """Take entries into a book; of two at one place the first stays, and that is told."""
        book = self.books.setdefault(name, {})
        for entry in entries:
            held = book.setdefault(entry.seq, entry)
            if held.hash != entry.hash:
                told = f"{name}: Two entries {entry.seq} hold, of two books. The first that was found is written out."
                self.unread += [told] if told not in self.unread else []


def salvage(what: Path) -> Salvaged:
    """Read whatever is left.

    Raises
    ------
    BadInput
        There is nothing of that name.
    """
    if not what.exists():
        raise BadInput(f"There is no {what}.")
    found = Salvaged()
    files = [what] if what.is_file() else sorted(p for p in what.rglob("*") if p.is_file())
    for file in files:
        try:
            data = file.read_bytes()
        except OSError as problem:
            found.unread.append(f"{file}: {problem.strerror or problem}.")
            continue
        log = file.with_name(f"{file.name}-wal")
        # With the name of the folder, which is that of its job.
        name = file.absolute().relative_to(what.absolute().parent).as_posix()
        _of_file(name, data, found, log.read_bytes() if log.is_file() else b"")
    return found


def _of_file(name: str, data: bytes, found: Salvaged, log: bytes = b"") -> None:
    last = name.rpartition("/")[2]
    if last == BOOK or last.endswith(".jsonl"):
        _of_text(name, data, found)
    elif last.endswith((".sqlite3", ".sqlite", ".db")) or data.startswith(b"SQLite format 3\0"):
        _of_database(data, log, found)
    elif data.startswith(b"PK\3\4") or last.endswith(".zip"):
        for inner, held, whole in _members(data):
            if not whole:
                found.unread.append(f"{name}, {inner}: It breaks off, or a part of it is damaged.")
            _of_file(inner, held, found)
    elif last in FACT_FILES:
        found.texts.setdefault(name.rpartition("/")[0], {})[last] = data
    elif PHOTOS in name.split("/")[:-1]:
        if is_named_by(last, hashlib.sha256(data).hexdigest()):
            found.photos[last] = data
        else:
            found.unread.append(f"{name}: It is not the photo that was kept.")


# ---------------------------------------------------------------- of each kind of file


def _of_text(name: str, data: bytes, found: Salvaged) -> None:
    held = []
    for number, raw in enumerate(data.split(b"\n"), start=1):
        if not raw.strip():
            continue
        entry = kept_line(raw.decode("utf-8", "replace"))
        if entry is None:
            found.unread.append(
                f"{name}, line {number}: It cannot be read, or its hash does not hold."
            )
        else:
            held.append(entry)
    folder = name.rpartition("/")[0]
    book = _name_of(held, folder.rpartition("/")[2])
    found.take(book, held)
    found.places[book] = folder


def _of_database(data: bytes, log: bytes, found: Salvaged) -> None:
    books: dict[int, dict[str, Entry]] = {}
    names: dict[int, str] = {}
    for number, values in rows_in(data, log):
        if (name := _job_in(values)) is not None:
            names[number] = name
        for key in (one for one in values if isinstance(one, int) and one >> _SEQ_BITS):
            entry = _entry_of(values, key & ((1 << _SEQ_BITS) - 1))
            if entry is not None:
                books.setdefault(key >> _SEQ_BITS, {})[entry.hash] = entry
    for number, held in sorted(books.items()):
        entries = sorted(held.values(), key=lambda one: one.seq)
        found.take(_name_of(entries, names.get(number, f"book-{number}")), entries)


def _entry_of(values: Sequence[object], seq: int) -> Entry | None:
    """The entry that a row is, by its hash; None of a row of anything else."""
    texts = [one for one in values if isinstance(one, bytes)]
    sums = [
        one.decode()
        for one in texts
        if len(one) == len(GENESIS) and one.isalnum() and one.isascii()
    ]
    bodies = [one for one in texts if one.startswith(b'{"')]
    if len(sums) != 2 or not bodies:
        return None
    body = bodies[-1].decode("utf-8", "replace")
    for kept in (one.decode() for one in texts if _is_moment(one)):
        for prev, own in (sums, sums[::-1]):
            entry = kept_entry(body, {"seq": seq, "kept": kept, "prev": prev, "hash": own})
            if entry.kept and seal_hash(entry, seq=seq, kept=entry.kept, prev=prev) == own:
                return entry
    return None


def _job_in(values: Sequence[object]) -> str | None:
    """The name in a row of the table of jobs; None of any other row."""
    texts = [one for one in values if isinstance(one, bytes)]
    is_job = len(texts) == 4 and sum(len(one) == len(GENESIS) for one in texts) == 1
    name = texts[0].decode("utf-8", "replace") if is_job else ""
    return name if _NAME.fullmatch(name) else None


def _is_moment(text: bytes) -> bool:
    return 20 <= len(text) <= 40 and text[:4].isdigit() and text[10:11] == b"T" and text.isascii()


def _members(data: bytes) -> Iterator[tuple[str, bytes, bool]]:
    """What a zip file holds, found by the head of each member (APPNOTE 4.3.7) and not by its list.

    Each with its name, what could be read of it, and whether that is all.
    """
    at = data.find(b"PK\3\4")
    while at >= 0:
        method, packed = (
            int.from_bytes(data[at + 8 : at + 10], "little"),
            int.from_bytes(data[at + 18 : at + 22], "little"),
        )
        sum_, names = int.from_bytes(data[at + 14 : at + 18], "little"), data[at + 26 : at + 30]
        begin = at + 30 + int.from_bytes(names[:2], "little")
        name = data[at + 30 : begin].decode("utf-8", "replace")
        begin += int.from_bytes(names[2:], "little")
        held = data[begin : begin + packed] if method == 0 else _inflated(data[begin:])
        yield name, held, zlib.crc32(held) == sum_
        at = data.find(b"PK\3\4", at + 4 if method else max(at + 4, begin + packed))


def _inflated(data: bytes) -> bytes:
    """As far as it can be unpacked."""
    machine, made = zlib.decompressobj(-zlib.MAX_WBITS), bytearray()
    for at in range(0, len(data), 4096):
        try:
            made += machine.decompress(data[at : at + 4096])
        except zlib.error:
            break
        if machine.eof:
            break
    return bytes(made)


def _name_of(entries: list[Entry], otherwise: str) -> str:
    """The job that a book says that it is of."""
    texts = texts_at(entries)
    if SHOP in texts:
        return SHOP_BOOK
    try:
        said = str(tomllib.loads(texts["engine.toml"])["job"])
    except (KeyError, ValueError):
        said = ""
    # It becomes the name of a folder.
    return next((one for one in (said, otherwise) if _NAME.fullmatch(one)), "book")


# ---------------------------------------------------------------- written out


def write_salvaged(found: Salvaged, into: Path) -> list[str]:
    """Write each book as a folder, and say what is in it and what is not; the same lines in a file."""
    said: list[str] = []
    for name, book in sorted(found.books.items()):
        entries = [book[seq] for seq in sorted(book)]
        if not entries:
            continue
        whole = _unbroken(entries)
        after = entries[len(whole) :]
        files: dict[str, bytes] = {BOOK: book_text(whole).encode()}
        files |= {
            one: text.encode() for one, text in texts_at(entries).items() if one in FACT_FILES
        }
        loose = {
            one: text
            for one, text in found.texts.get(found.places.get(name, ""), {}).items()
            if one not in files
        }
        files |= loose
        if after:
            files[AFTER_GAP] = book_text(after).encode()
        wanted = dict.fromkeys(one.name for one in files_in(entries))
        files |= {
            f"{PHOTOS}/{one}": found.photos[one]
            for one in wanted
            if one in found.photos and is_kept_name(one)
        }
        write_files(into / name, files)
        said.append(_said(name, book, len(whole)))
        if loose:
            said.append(
                f"{name}: {listed(sorted(loose))}: as they lie; no entry that is left vouches for them."
            )
        lost = [one for one in wanted if one not in found.photos]
        said += [f"{name}: {len(lost)} photos are not here: {listed(lost)}."] if lost else []
    said += found.unread
    if not found.books:
        said.append("No entry was found whose hash holds.")
    write_files(into, {REPORT: ("\n".join(said) + "\n").encode()})
    return said


def _unbroken(entries: list[Entry]) -> list[Entry]:
    """The book from its beginning to the first gap."""
    prev, held = GENESIS, []
    for seq, entry in enumerate(entries, start=1):
        if entry.seq != seq or entry.prev != prev:
            break
        held.append(entry)
        prev = entry.hash
    return held


def _said(name: str, book: Mapping[int, Entry], whole: int) -> str:
    last = max(book)
    missing = _runs([seq for seq in range(1, last + 1) if seq not in book])
    if not missing and whole == last:
        return f"{name}: all {last:,} entries up to the last that was found hold."
    lack = f"; missing or damaged: {listed(missing)}" if missing else ""
    return f"{name}: {len(book):,} entries hold of {last:,}{lack}. The book is unbroken to entry {whole:,}."


def _runs(numbers: list[int]) -> list[str]:
    """``4, 7 to 9``"""
    found: list[list[int]] = []
    for one in numbers:
        if found and one == found[-1][1] + 1:
            found[-1][1] = one
        else:
            found.append([one, one])
    return [f"{a}" if a == b else f"{a} to {b}" for a, b in found]
