"""``rehang save`` and ``rehang verify``: folders to keep, and whether what was kept is whole."""

from __future__ import annotations

import importlib
import sys
from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path
from typing import Annotated, Any

from cyclopts import App, Parameter

from rehang.book.opening import open_store, set_up
from rehang.cli.asked import Store
from rehang.cli.backup import passphrase_for
from rehang.sheets.aside import write_files, written_aside
from rehang.sheets.folder import BOOK, photo_problems, read_folder, write_folder
from rehang.sheets.saved import JOBS, ends_kept, is_shop_saved, jobs_text, saved_checked
from rehang.sheets.whole import CANNOT_TELL, CHANGED, WHOLE, Checked, folder_checked
from rehang.trade.terms.chain import GENESIS
from rehang.trade.terms.ends import End, end_of, end_words
from rehang.trade.terms.errors import BadInput, Refused

__all__ = ["register"]

# What a shell sees. 2 is wrong usage, of every command.
EXITS = {WHOLE: 0, CHANGED: 1, CANNOT_TELL: 3}


def register(app: App, *, store: Store, now: Callable[[], datetime]) -> None:
    """Add the commands to the program. ``store`` opens the book."""

    @app.command(name="save")
    def _save(
        job: str = "",
        folder: Path | None = None,
        /,
        *,
        all: Annotated[Path | None, Parameter(name="--all")] = None,  # noqa: A002 - the option is called --all
    ) -> int:
        """Save a job as a folder that opens without Rehang, or every job of the shop.

        Example: rehang save tv4-2207-2026 saved-job

        Parameters
        ----------
        job
            Name of a job in the book.
        folder
            Where to; made when it is not there.
        all
            A folder that is not there yet: every job is saved in it, under one list with sums and
            the last entry of each.
        """
        if (all is None) == (folder is None):
            raise BadInput("Give a job and a folder, or --all and a folder.")
        _, queries = store()
        if all is not None:
            return _save_all(all, queries, now())
        assert folder is not None
        return _save_one(job, folder, queries)

    @app.command(name="verify")
    def _verify(
        what: str = "", /, *, against: Annotated[str, Parameter(name="--against")] = ""
    ) -> int:
        """Say whether what was kept is whole. Exit 0 whole, 1 changed, 3 cannot tell.

        It says what it looked at, how many and against what, then what is changed and where.

        Example: rehang verify tv4-2207-2026 --against "213 3f9a 22c1 8d04 77be"

        Parameters
        ----------
        what
            A folder of a job, an archive, a saved shop, a backup, or the name of a job in the
            book; the whole book when left out.
        against
            An end of the book kept elsewhere: number and hash from the foot of a print, a saved
            folder, an archive, a saved shop or a backup.
        """
        found = Checked()
        try:
            found = _checked(what, against)
        except (Refused, OSError) as problem:
            found.untold.append(str(problem))
        for lead, lines in (
            ("Looked at", found.looked),
            ("Changed", found.changed),
            ("Cannot tell", found.untold),
        ):
            for line in lines:
                # A file's name may hold bytes that are no text.
                print(f"{lead}: {line}".encode(errors="backslashreplace").decode())
        print(f"{what or 'The book'}: {found.outcome}.")
        return EXITS[found.outcome]


def _checked(what: str, against: str) -> Checked:
    path = Path(what)
    ends = ends_kept(against) if against else {}
    said_by = (against if Path(against).exists() else "the end given") if against else ""
    if what and path.is_dir():
        if is_shop_saved(path):
            if against:
                raise BadInput("A saved shop has its ends in its own list. Compare one job of it.")
            return saved_checked(path)
        if len(ends) > 1:
            raise BadInput(f"{against} holds {len(ends)} jobs. Name the folder of one of them.")
        return folder_checked(path, next(iter(ends.values()), None), said_by)
    if what and path.is_file():
        if against:
            raise BadInput(
                "A backup has its ends in its own list. Compare the books with it: --against."
            )
        return _backup_checked(path)
    if what and not _may_be_job(what):
        raise BadInput(f"There is no folder {what}.")
    if "" in ends:
        if not what:
            raise BadInput("Name the job that the end is of.")
        ends = {what: ends[""]}
    open_store(reading=True)
    verifying = importlib.import_module("rehang.book.verifying")
    if what and ends and what not in ends:
        raise BadInput(f"{against} is not of {what}, but of {', '.join(ends)}.")
    found: Checked = verifying.store_checked(what, against=ends, said_by=said_by)
    return found


def _backup_checked(file: Path) -> Checked:
    set_up()
    backup = importlib.import_module("rehang.book.backup")
    with backup.work_folder() as work:
        found: Checked = backup.checked(file, passphrase=passphrase_for(file), work=work)
    return found


def _may_be_job(what: str) -> bool:
    return not any(mark in what for mark in "/\\")


def _save_one(name: str, folder: Path, queries: Any) -> int:
    job = queries.book(name)
    files, entries = queries.as_folder(job)
    photos = queries.photos(job)
    for problem in photo_problems(entries, photos):
        print(problem, file=sys.stderr)
    try:
        if not folder.exists():
            with written_aside(folder) as beside:
                write_folder(beside, files, entries, photos)
        else:
            if (folder / BOOK).exists():
                _refuse_to_lose(folder, entries)
            write_folder(folder, files, entries, photos)
    except OSError as problem:
        raise BadInput(
            f"{folder} has not been saved to the end ({problem.strerror or problem}). Each file in it "
            "is whole, old or new. Make room and save again."
        ) from problem
    print(f"{len(entries)} entries are saved in {folder}.")
    return 0


def _save_all(folder: Path, queries: Any, at: datetime) -> int:
    accesslog = importlib.import_module("rehang.book.accesslog")
    jobs = queries.books()
    if not jobs:
        raise BadInput("There is no job in the book to save.")
    ends: dict[str, End] = {}
    with written_aside(folder) as beside:
        # Read before the jobs: a line written meanwhile is behind it, and none is missing.
        access = accesslog.end() or End(0, GENESIS)
        for job in jobs:
            files, entries = queries.as_folder(job)
            photos = queries.photos(job)
            for problem in photo_problems(entries, photos):
                print(f"{job.slug}: {problem}", file=sys.stderr)
            write_folder(beside / job.slug, files, entries, photos)
            last = end_of(entries)
            if last is not None:
                ends[job.slug] = last
        listing = jobs_text(ends, beside, access=access, at=at)
        write_files(beside, {JOBS: listing.encode()})
    for name, end in ends.items():
        print(f"{name}: {end_words(end.seq, end.hash)}")
    print(f"{len(ends)} jobs are saved in {folder}. Check them with: rehang verify {folder}")
    return 0


def _refuse_to_lose(folder: Path, entries: Sequence[Any]) -> None:
    """A folder that holds entries the book lacks is not written over."""
    there = read_folder(folder)
    known = {entry.id for entry in entries}
    more = [entry for entry in there.entries if entry.id not in known]
    if more:
        raise BadInput(
            f"{folder} holds {len(more)} entries that are not in the book. "
            "Load it first, or save to another folder."
        )
