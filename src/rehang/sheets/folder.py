"""A job folder: read whole or not at all, written so that it reads back the same."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from types import MappingProxyType

from rehang.sheets import pencil
from rehang.sheets.book_text import BOOK, book_text, parse_book, seal_all
from rehang.sheets.contents import (
    CONTENTS,
    PHOTOS,
    contents_notices,
    contents_problems,
    contents_text,
)
from rehang.sheets.job_files import (
    FACT_FILES,
    PEOPLE,
    check_facts,
    is_whole,
    parse_files,
    texts_at,
)
from rehang.sheets.own_sheets import read_layout, read_task_sheet, shipped_task_text
from rehang.sheets.plain import texts_in
from rehang.trade.doors.rules import judged_aside
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.known.photos import files_in, is_kept_name
from rehang.trade.terms.ends import end_of
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.kinds.papers import Filed

__all__ = [
    "BOOK",
    "CONTENTS",
    "FACT_FILES",
    "PENCIL",
    "PEOPLE",
    "PHOTOS",
    "JobFolder",
    "PhotoFiles",
    "book_text",
    "check_facts",
    "contents_problems",
    "contents_text",
    "facts_at",
    "is_whole",
    "parse_book",
    "parse_files",
    "photo_problems",
    "put_pencil_by",
    "read_folder",
    "read_layout",
    "read_task_sheet",
    "seal_all",
    "shipped_task_text",
    "texts_at",
    "write_folder",
]

PENCIL = "tray.txt"
# The pencil sheet once its lines are entries; kept for whoever wants to see the hand of it.
SEALED_PENCIL = "tray.sealed.txt"


@dataclass(frozen=True, slots=True)
class JobFolder:
    """A job as its folder holds it. ``files`` are the texts as they stand, the book left out.

    ``photos`` are the photos that are there, by the names of their files.
    """

    name: str
    files: Mapping[str, str]
    entries: tuple[Entry, ...]
    facts: JobFacts
    where: Mapping[str, str]
    notices: tuple[str, ...]
    photos: Mapping[str, bytes] = field(default_factory=dict)


class PhotoFiles(Mapping[str, bytes]):
    """The photos of a book that lie in a folder, by name; each is read when it is asked for."""

    def __init__(self, folder: Path, book: Iterable[Entry]) -> None:
        names = dict.fromkeys(one.name for one in files_in(book))
        self._paths = {
            name: folder / name
            for name in names
            if is_kept_name(name) and (folder / name).is_file()
        }

    def __getitem__(self, name: str) -> bytes:
        return self._paths[name].read_bytes()

    def __iter__(self) -> Iterator[str]:
        return iter(self._paths)

    def __len__(self) -> int:
        return len(self._paths)

    def __contains__(self, name: object) -> bool:
        return name in self._paths


def read_folder(path: Path) -> JobFolder:
    """A job folder, whole or not at all.

    Raises
    ------
    BadInput
        With file and line, for the first thing that cannot be read.
    """
    if not path.is_dir():
        raise BadInput(f"{path} is not a folder. Give the folder of a job.")
    files = texts_in(path, (*FACT_FILES, BOOK, PENCIL, CONTENTS))
    notices = contents_notices(path, files)
    book = files.pop(BOOK, None)
    if book is None:
        raise BadInput(
            f"The folder has no {BOOK}. If it was half copied, copy it again; "
            "for a new job make an empty one.",
            path.name,
        )
    contents = {name: files[name] for name in FACT_FILES if name in files}
    facts = parse_files(contents, path.name)
    entries, where = parse_book(book, facts.people)
    filed = {e.fields.file: e.fields.sha256 for e in entries if is_a(e, Filed)}
    changed = [name for name in contents if filed.get(name) != _sha(contents[name])]
    check_facts(facts, changed)
    facts = replace(facts, as_filed=not changed)
    if not changed:
        kept = [one for one in entries if one.is_sealed]
        # What is typed is refused with its line instead.
        with suppress(BadInput):
            entries[: len(kept)] = judged_aside(facts, kept, None)[0]
    notices += _filed_notices(contents, entries, facts)
    photos = PhotoFiles(path / PHOTOS, entries)
    notices += photo_problems(entries, photos, where=where)
    if PENCIL in files:
        penciled, places = pencil.entries_from(files[PENCIL], facts, entries)
        known = {e.id for e in entries}
        entries += [e for e in penciled if e.id not in known]
        where |= places
    return JobFolder(
        name=facts.job,
        files=MappingProxyType(contents),
        entries=tuple(entries),
        facts=facts,
        where=MappingProxyType(where),
        notices=tuple(notices),
        photos=photos,
    )


def facts_at(folder: JobFolder, moment: datetime | None) -> JobFacts:
    """The facts as they were filed at a moment; as they stand where nothing was filed."""
    if moment is None:
        return folder.facts
    files = texts_at(folder.entries, moment, folder.files)
    if files == dict(folder.files):
        return folder.facts
    return replace(parse_files(files, folder.name), as_filed=folder.facts.as_filed)


def _filed_notices(
    files: Mapping[str, str], entries: Sequence[Entry], facts: JobFacts
) -> list[str]:
    last: dict[str, Entry[Filed]] = {e.fields.file: e for e in entries if is_a(e, Filed)}
    gone = [
        f"{name} is filed in the book and is not in the folder."
        for name in last
        if name in FACT_FILES and name not in files
    ]
    return gone + [
        f"{name} has been changed since {facts.person(entry.by)} filed it on "
        f"{entry.at.date().isoformat()}. Load the folder to file it again."
        for name, entry in last.items()
        if name in files and _sha(files[name]) != entry.fields.sha256
    ]


def photo_problems(
    entries: Iterable[Entry],
    photos: Mapping[str, bytes],
    *,
    where: Mapping[str, str] | None = None,
) -> list[str]:
    """Photos that a book speaks of and that are missing or changed, a sentence each."""
    problems = []
    for kept in files_in(entries):
        name, entry = kept.name, kept.entry
        place = (where or {}).get(entry.id, "") or (f"entry {entry.seq}" if entry.seq else entry.id)
        said = f"{place}: The {kept.what}, {PHOTOS}/{name},"
        if name not in photos:
            problems.append(f"{said} is missing. Copy it from where the book came from.")
        elif hashlib.sha256(photos[name]).hexdigest() != kept.sha256:
            problems.append(f"{said} has been changed since it was kept. Go back to a good copy.")
    return problems


def _sha(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def put_pencil_by(path: Path) -> None:
    """Lay a copy of the pencil sheet by, before its lines are sealed."""
    if (path / PENCIL).exists():
        _replace(path / SEALED_PENCIL, (path / PENCIL).read_bytes())


def write_folder(
    path: Path,
    files: Mapping[str, str],
    entries: Sequence[Entry],
    photos: Mapping[str, bytes] | None = None,
) -> None:
    """Write a job folder; each file lands whole or not at all, the list of contents last.

    ``photos`` are written as far as the book speaks of them, before the book does. Those that
    lie in the folder already are left there.
    """
    path.mkdir(parents=True, exist_ok=True)
    there = PhotoFiles(path / PHOTOS, entries)
    held: dict[str, bytes] = {}
    for name in dict.fromkeys(one.name for one in files_in(entries)):
        if not is_kept_name(name):
            raise BadInput(f'"{name}" is not the name of a photo. Add the photo again.')
        if photos is not None and name in photos:
            data = photos[name]
            (path / PHOTOS).mkdir(exist_ok=True)
            if name not in there or there[name] != data:
                _replace(path / PHOTOS / name, data)
        elif name in there:
            data = there[name]
        else:
            continue
        held[f"{PHOTOS}/{name}"] = data
    texts = {name: text.encode() for name, text in {**files, BOOK: book_text(entries)}.items()}
    for name, data in texts.items():
        _replace(path / name, data)
    if (path / SEALED_PENCIL).is_file():
        held[SEALED_PENCIL] = (path / SEALED_PENCIL).read_bytes()
    _replace(path / CONTENTS, contents_text(texts | held, end_of(entries)).encode())


def _replace(path: Path, data: bytes) -> None:
    beside = path.with_name(f".{path.name}.new")
    with beside.open("wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    beside.replace(path)
