"""The photos of all books and their monitors' tables: files in the data folder, each named by its SHA-256.

They stand beside the database and not in it, so that the database stays small enough to copy.
The chain of a book names each of them, and so every byte of them.
"""

from __future__ import annotations

import hashlib
import os
import secrets
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path

from django.conf import settings

from rehang.sheets.folder import PHOTOS, PhotoFiles, photo_problems
from rehang.trade.known.photos import is_kept_name, is_named_by, photo_word
from rehang.trade.terms.entries import Entry
from rehang.trade.terms.errors import BadInput

__all__ = ["folder", "is_kept", "kept_of", "laid_ready", "problems", "read"]


def folder() -> Path:
    """Where the photos lie."""
    data: Path = settings.REHANG_DATA
    return data / PHOTOS


def read(name: str) -> bytes:
    """The photo of that name, as it was kept.

    Raises
    ------
    BadInput
        It is missing, or not the bytes that were kept.
    """
    data = _bytes_of(name)
    if data is None:
        raise BadInput(
            f"This {photo_word(name)} is missing on this machine. Go back to a good copy of it."
        )
    if not _is_whole(name, data):
        raise BadInput(
            f"This {photo_word(name)} has been changed since it was kept. Go back to a good copy of it."
        )
    return data


def is_kept(name: str) -> bool:
    """Whether the photo of that name lies here, every byte of it."""
    data = _bytes_of(name)
    return data is not None and _is_whole(name, data)


def kept_of(book: Sequence[Entry]) -> Mapping[str, bytes]:
    """The photos of one book that lie here, read as they are asked for."""
    return PhotoFiles(folder(), book)


def problems(book: Sequence[Entry], place: str) -> list[str]:
    """Photos of a book that are missing or changed, a sentence each."""
    where = {entry.id: f"{place}, entry {entry.seq}" for entry in book}
    return photo_problems(book, kept_of(book), where=where)


@contextmanager
def laid_ready(photos: Mapping[str, bytes]) -> Iterator[Callable[[], None]]:
    """Lay photos on the disk beside their places; calling what this gives puts them there.

    An entry is committed after that call, so no entry stands without its file. Where the call
    never comes, nothing is left. One that is here already is left as it is.
    """
    beside: dict[Path, Path] = {}
    try:
        for name, data in photos.items():
            if not is_kept_name(name) or not _is_whole(name, data):
                raise BadInput(f'The photo "{name}" is not the one its name says. Send it again.')
            if not is_kept(name):
                beside[folder() / name] = _written_beside(name, data)

        def put_in_place() -> None:
            for path, ready in beside.items():
                # In one move: it is there whole or not at all.
                ready.replace(path)
            if beside:
                _settle_folder(folder())

        yield put_in_place
    finally:
        for ready in beside.values():
            ready.unlink(missing_ok=True)


def _bytes_of(name: str) -> bytes | None:
    if not is_kept_name(name):
        raise BadInput(f'"{name}" is not the name of a photo.')
    try:
        return (folder() / name).read_bytes()
    except FileNotFoundError:
        return None


def _is_whole(name: str, data: bytes) -> bool:
    return is_named_by(name, hashlib.sha256(data).hexdigest())


def _written_beside(name: str, data: bytes) -> Path:
    """A file of its own for each writer, for its owner alone, on the disk when this returns."""
    folder().mkdir(parents=True, exist_ok=True, mode=0o700)
    path = folder() / f".{name}.{os.getpid()}.{secrets.token_hex(4)}"
    # O_EXCL: never through a name that somebody has laid there.
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o600)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
    except OSError:
        path.unlink(missing_ok=True)
        raise
    return path


def _settle_folder(path: Path) -> None:
    """The new names are on the disk too. (Windows cannot open a folder, and needs no such call.)"""
    if os.name == "nt":
        return
    for one in (path, path.parent):
        handle = os.open(one, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
