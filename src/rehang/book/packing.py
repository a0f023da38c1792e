"""A backup as one file: a zip of the books and their photos with the list of both, locked or not.

A locked one is a zip as well. It holds ``shop.zip.age`` (age-encryption.org/v1: ChaCha20-Poly1305 in
pieces, so that no byte can be changed or cut off unseen) and ``key.age``, the key to it, locked with
the passphrase (scrypt). Any program for age opens both: ``age -d -i key.age shop.zip.age``.
"""

from __future__ import annotations

import hashlib
import importlib
import shutil
import zipfile
import zlib
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any

from rehang.sheets.backup_list import DATABASE, LIST, Listing, listing_from, listing_text
from rehang.sheets.contents import PHOTOS
from rehang.trade.known.photos import is_kept_name
from rehang.trade.terms.errors import BadInput, Refused

__all__ = ["SHORTEST_PASSPHRASE", "check_passphrase", "is_locked", "pack", "unpack"]

KEY, LOCKED = "key.age", "shop.zip.age"
# Of letters alone some 56 bits; scrypt makes each guess dear besides.
SHORTEST_PASSPHRASE = 12
_PIECE = 1024 * 1024
_NO_BACKUP = (
    "This is no backup that can be read to its end: it is damaged, half copied, or another file."
)


def check_passphrase(text: str) -> None:
    """Refuse a passphrase that is guessed too soon, or that cannot be typed again."""
    if len(text) < SHORTEST_PASSPHRASE or not text.isprintable() or text != text.strip():
        raise BadInput(
            f"A passphrase has {SHORTEST_PASSPHRASE} characters or more, with none at its ends that "
            "cannot be seen.",
            "passphrase",
        )


def pack(
    target: Path, *, database: Path, photos: Path, work: Path, passphrase: str,
    listing: Callable[[Mapping[str, str]], Listing],
) -> Listing:  # fmt: skip
    """Write the file. ``listing`` makes its list of the sums of what lies in it; ``work`` is a folder
    of its own, where nothing that is to be locked lies open for anybody else."""
    bare = work / "shop.zip" if passphrase else target
    sums: dict[str, str] = {}
    with zipfile.ZipFile(bare, "x", zipfile.ZIP_DEFLATED, compresslevel=1) as made:
        sums[DATABASE] = _put(made, DATABASE, database, zipfile.ZIP_DEFLATED)
        for photo in sorted(photos.iterdir()) if photos.is_dir() else ():
            if is_kept_name(photo.name):
                name = f"{PHOTOS}/{photo.name}"
                sums[name] = _put(made, name, photo, zipfile.ZIP_STORED)
        said = listing(sums)
        made.writestr(LIST, listing_text(said))
    if passphrase:
        _lock(bare, target, passphrase, work)
        bare.unlink()
    return said


def _put(made: zipfile.ZipFile, name: str, file: Path, how: int) -> str:
    head = zipfile.ZipInfo.from_file(file, name, strict_timestamps=False)
    head.compress_type = how
    with file.open("rb") as source, made.open(head, "w") as onto:
        return _copied(source, onto)


def _copied(source: IO[bytes], onto: IO[bytes]) -> str:
    summed = hashlib.sha256()
    while piece := source.read(_PIECE):
        summed.update(piece)
        onto.write(piece)
    return summed.hexdigest()


def _age() -> Any:
    try:
        return importlib.import_module("pyrage")
    except ImportError:
        raise Refused(
            "A locked backup needs the package pyrage, which is not installed here. "
            "Install it, or leave the passphrase out."
        ) from None


def _lock(bare: Path, target: Path, passphrase: str, work: Path) -> None:
    age = _age()
    key = age.x25519.Identity.generate()
    locked = work / LOCKED
    age.encrypt_file(str(bare), str(locked), [key.to_public()])
    with zipfile.ZipFile(target, "x", zipfile.ZIP_STORED) as made:
        made.writestr(KEY, age.passphrase.encrypt(f"{key}\n".encode(), passphrase))
        made.write(locked, LOCKED)
    locked.unlink()


def _open(file: Path, passphrase: str, work: Path) -> Path:
    """The bare zip of a backup: the file itself, or what was locked in it."""
    with zipfile.ZipFile(file) as held:
        if KEY not in held.namelist():
            return file
        if not passphrase:
            raise BadInput(f"{file.name} is locked. Give its passphrase.")
        age = _age()
        try:
            key = age.passphrase.decrypt(held.read(KEY), passphrase).decode().strip()
        except age.DecryptError:
            raise BadInput(f"That is not the passphrase of {file.name}. Type it again.") from None
        bare, locked = work / "shop.zip", work / LOCKED
        with held.open(LOCKED) as source, locked.open("wb") as onto:
            shutil.copyfileobj(source, onto, _PIECE)
    try:
        age.decrypt_file(str(locked), str(bare), [age.x25519.Identity.from_str(key)])
    except age.DecryptError:
        raise BadInput(_NO_BACKUP, str(file)) from None
    locked.unlink()
    return bare


def is_locked(file: Path) -> bool:
    """Whether a passphrase opens it."""
    with _told(file), zipfile.ZipFile(file) as held:
        return KEY in held.namelist()


def unpack(file: Path, onto: Path, *, passphrase: str, work: Path) -> Listing:
    """Write what a backup holds into a folder, each file held against the list.

    Raises
    ------
    BadInput
        It is no backup, is locked with another passphrase, or holds what its list does not say.
    """
    with _told(file):
        bare = _open(file, passphrase, work)
        with zipfile.ZipFile(bare) as held:
            listing = listing_from(held.read(LIST), str(file))
            if set(held.namelist()) != {*listing.files, LIST} or DATABASE not in listing.files:
                raise BadInput("It does not hold what its list says.", str(file))
            for name, wanted in listing.files.items():
                folder, _, last = name.rpartition("/")
                if not (name == DATABASE or (folder == PHOTOS and is_kept_name(last))):
                    raise BadInput(
                        f'Its list names "{name[:60]}", which is in no backup.', str(file)
                    )
                path = onto / name
                path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
                with held.open(name) as source, path.open("xb") as target:
                    if _copied(source, target) != wanted:
                        raise BadInput(f"{name} is not the file that was put into it.", str(file))
                path.chmod(0o600)
        if bare != file:
            bare.unlink()
        return listing


@contextmanager
def _told(file: Path) -> Iterator[None]:
    """What cannot be read of a zip, as one sentence of ours."""
    if not file.is_file():
        raise BadInput(f"There is no backup {file}.")
    try:
        yield
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, KeyError):
        raise BadInput(_NO_BACKUP, str(file)) from None
