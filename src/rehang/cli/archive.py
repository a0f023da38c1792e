"""``rehang archive``: a job as one folder that opens without this program."""

from __future__ import annotations

import importlib
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rehang.sheets.folder import read_folder
from rehang.trade.job.judging import judge

if TYPE_CHECKING:
    from rehang.trade.job.judging import JudgedJob

__all__ = ["archive_job"]


def archive_job(what: str, folder: Path, *, at: datetime, store: Any) -> int:
    """Write the archive of a job folder, or of a job in the book, and say what it holds.

    ``store`` opens the book; it is called only where ``what`` is not a folder.
    """
    archive = importlib.import_module("rehang.paper.archive")
    if Path(what).is_dir():
        read = read_folder(Path(what))
        judged = judge(read.facts, read.entries, where=read.where)
        files, book, photos = read.files, read.entries, read.photos
    else:
        _, queries = store()
        job = queries.job(what)
        judged = queries.judged(job)
        files, book = queries.as_folder(job)
        photos = queries.photos(job)
    made = archive.archive_files(
        judged,
        files=files,
        book=book,
        photos=photos,
        prints=prints_of(judged, at=at, photos=photos),
        written_at=at,
    )
    archive.write_archive(folder, made)
    print(f"{folder} holds {len(made)} files. Check it with: rehang verify {folder}")
    return 0


def prints_of(judged: JudgedJob, *, at: datetime, photos: Any) -> dict[str, bytes]:
    """What is printed of a job, by file name."""
    return dict(importlib.import_module("rehang.paper.prints").prints_of(judged, at, photos))
