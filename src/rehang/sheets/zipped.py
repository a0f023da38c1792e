"""A job folder that comes as one zip file, as an archive is kept or a folder is sent."""

from __future__ import annotations

import io
import zipfile
import zlib
from pathlib import Path, PurePosixPath

from rehang.sheets.folder import BOOK, CONTENTS, FACT_FILES, PENCIL, PHOTOS
from rehang.trade.known.photos import is_kept_name
from rehang.trade.terms.errors import BadInput

__all__ = ["MOST_BYTES", "MOST_MEMBERS", "unzipped"]

# A job of many hundred photos; what is far beyond that is no job (our choice, no source).
MOST_MEMBERS = 2_000
MOST_BYTES = 256 * 1024 * 1024
_TEXTS = (*FACT_FILES, BOOK, CONTENTS, PENCIL)


def unzipped(data: bytes, onto: Path) -> Path:
    """Write the files of a job that a zip file holds into a folder, and give that folder.

    Whatever else is in it (prints, a page to read) stays there. The files may lie in one folder
    inside it.

    Raises
    ------
    BadInput
        It is no zip file, is damaged or locked, holds no book of a job or more than one, or unpacks
        to more than any job is.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            return _unpacked(archive, onto)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, ValueError):
        raise BadInput(
            "This file is no zip file that can be read to its end. Send it again, or save the folder anew."
        ) from None
    except RuntimeError:
        raise BadInput("This zip file is locked with a password. Save it without one.") from None


def _unpacked(archive: zipfile.ZipFile, onto: Path) -> Path:
    members = [one for one in archive.infolist() if not one.is_dir()]
    if len(members) > MOST_MEMBERS:
        raise BadInput(
            f"The zip file holds {len(members):,} files; a job has at most {MOST_MEMBERS:,}."
        )
    books = [PurePosixPath(one.filename).parent for one in members if _name(one) == BOOK]
    if len(books) != 1:
        found = f"{len(books)} of them" if books else "none"
        raise BadInput(
            f"A zip file of a job holds one book ({BOOK}); this one holds {found}. Send the zip of one "
            "job's folder or archive."
        )
    left = MOST_BYTES
    for one in members:
        path = PurePosixPath(one.filename)
        is_photo = path.parent == books[0] / PHOTOS and is_kept_name(path.name)
        if not (is_photo or (path.parent == books[0] and path.name in _TEXTS)):
            continue
        with archive.open(one) as file:
            # By what comes out, not by what the list in it says.
            held = file.read(left + 1)
        left -= len(held)
        if left < 0:
            raise BadInput(
                f"The zip file unpacks to more than {MOST_BYTES // 1024 // 1024} MB, which no job is."
            )
        place = onto / PHOTOS / path.name if is_photo else onto / path.name
        place.parent.mkdir(exist_ok=True)
        place.write_bytes(held)
    return onto


def _name(member: zipfile.ZipInfo) -> str:
    return PurePosixPath(member.filename).name
