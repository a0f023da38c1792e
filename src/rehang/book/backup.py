"""A backup of the whole shop: made while people work, and proved before it counts.

Proved means: read back from where it lies, unpacked as a restore would, opened by this program, and
every chain, file and photo held against the list that stands in it.
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import sqlite3
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing, contextmanager, suppress
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from tempfile import mkdtemp

from django.conf import settings
from django.db import connection

from rehang import __version__
from rehang.book import backup_log, ends
from rehang.book.carrying import carried_out
from rehang.book.holding import holding
from rehang.book.packing import pack, unpack
from rehang.book.settling import settle
from rehang.book.tables import check_not_newer, copied, newest_change
from rehang.sheets.backup_list import DATABASE, Listing
from rehang.sheets.contents import PHOTOS
from rehang.sheets.whole import WHOLE, Checked
from rehang.trade.terms.chain import GENESIS
from rehang.trade.terms.ends import End
from rehang.trade.terms.errors import NotAllowed, Refused

__all__ = ["AT_WORK", "back_up", "checked", "is_beside", "opened", "work_folder"]

AT_WORK = "backup.lock"
_OURS = re.compile(r"(before-)?rehang-\d{8}T\d{6}Z(-locked)?\.zip")
_WORK = ".backup-"
# What signs somebody in who holds it, and tries at passwords: of no use anywhere else.
_NEVER = (
    "book_visit",
    "django_session",
    "axes_accessattempt",
    "axes_accesslog",
    "axes_accessfailurelog",
)
_SECRETS: Mapping[str, Mapping[str, str | None]] = {
    "auth_user": {"password": "!"},
    "book_member": {"pin": "", "pin_shown": "", "code": "", "code_until": None},
}


@contextmanager
def work_folder() -> Iterator[Path]:
    """A folder of its own to work in, for its owner alone, gone afterwards."""
    data: Path = settings.REHANG_DATA
    near = data if data.is_dir() and os.access(data, os.W_OK) else None
    for stale in near.glob(f"{_WORK}*") if near else ():
        # Of a process that was killed: whoever works holds the file inside.
        with holding(stale / AT_WORK) as gone:
            pass
        if gone:
            shutil.rmtree(stale, ignore_errors=True)
    work = Path(mkdtemp(prefix=_WORK, dir=near))
    try:
        with holding(work / AT_WORK):
            yield work
    finally:
        shutil.rmtree(work, ignore_errors=True)


def back_up(
    to: Path, *, at: datetime, passphrase: str = "", accounts: bool = False, keep: int = 0,
    before: bool = False,
) -> backup_log.Kept:  # fmt: skip
    """Write one backup into a folder, prove it, and let the oldest beyond ``keep`` go.

    ``before`` marks one that is made before the tables change; those are kept apart.

    Raises
    ------
    Refused
        One is being made, the folder is not there, or what was written is not whole: then nothing
        of it is left and the older ones stay.
    """
    with _alone() as write:
        known = backup_log.log()
        try:
            kept = _made(to, at, passphrase, accounts, before)
        except (Refused, OSError, sqlite3.Error) as problem:
            said = str(problem) if isinstance(problem, Refused) else _of_disk(to, problem)
            write(replace(known, tried=at, why=said))
            raise Refused(said) from problem
        if not before:
            # One that lies beside the books is no backup of them.
            write(backup_log.Log(kept=(kept, *known.kept), tried=at))
    if keep:
        _let_go(Path(kept.file), keep)
    return kept


@contextmanager
def _alone() -> Iterator[Callable[[backup_log.Log], None]]:
    """Nobody else makes a backup meanwhile; it gives what writes down what came of it.

    On a disk that takes no writing neither can be: it may be failing, and its books are backed up.
    """
    if settings.REHANG_READ_ONLY:
        yield lambda log: None
        return
    with holding(settings.REHANG_DATA / AT_WORK) as mine:
        if not mine:
            raise NotAllowed("A backup is being made already. Wait until it is done.")
        yield backup_log.write


def _of_disk(to: Path, problem: OSError | sqlite3.Error) -> str:
    if isinstance(problem, sqlite3.Error) and not isinstance(problem, sqlite3.OperationalError):
        return (
            f"The books cannot be copied ({problem}), so there is no backup of them and the older ones stay. "
            "Run: rehang verify"
        )
    why = problem.strerror if isinstance(problem, OSError) else str(problem)
    return (
        f"The backup cannot be written to {to} ({why or problem}). Nothing of it is left, and the older ones "
        "stay. Look at the stick or the disk, then do it again."
    )


def _made(to: Path, at: datetime, passphrase: str, accounts: bool, before: bool) -> backup_log.Kept:
    if not to.is_dir():
        raise NotAllowed(
            f"There is no folder {to}. Plug the stick in, or name a folder that is there."
        )
    data: Path = settings.REHANG_DATA
    name = f"{'before-' if before else ''}rehang-{at.astimezone(UTC):%Y%m%dT%H%M%SZ}"
    target = to / f"{name}{'-locked' if passphrase else ''}.zip"
    if target.exists():
        raise NotAllowed(f"{target} is there already. Wait a second.")
    for stale in to.glob(".*rehang-*.zip.new"):
        # Of a process that was killed.
        stale.unlink()
    beside = target.with_name(f".{target.name}.new")
    try:
        with work_folder() as work:
            database = work / DATABASE
            if connection.vendor == "sqlite":
                copied(database)
            else:
                carried_out(database)
            books, access = _cleaned(database, accounts=accounts)

            def listing(sums: Mapping[str, str]) -> Listing:
                return Listing(
                    rehang=__version__,
                    tables=newest_change(database),
                    made=at,
                    accounts=accounts,
                    access_log=access,
                    books=books,
                    files=sums,
                )

            # The photos after the database: what an entry speaks of lies there before the entry.
            said = pack(beside, database=database, photos=data / PHOTOS, work=work,
                        passphrase=passphrase, listing=listing)  # fmt: skip
            beside.chmod(0o600)
            database.unlink()
            _on_the_disk(beside)
            found = checked(beside, passphrase=passphrase, work=work)
            if found.outcome != WHOLE:
                raise Refused(_not_whole((*found.changed, *found.untold)))
        beside.rename(target)
        _folder_on_the_disk(to)
    finally:
        beside.unlink(missing_ok=True)
    return backup_log.Kept(
        at=at,
        file=str(target.absolute()),
        bytes=target.stat().st_size,
        sum=_sum(target),
        books=len(said.books),
        entries=said.entries,
        locked=bool(passphrase),
    )


def _not_whole(said: tuple[str, ...]) -> str:
    if said == ("There is no job in the book.",):
        return "There is no job in the book to back up."
    more = f" and {len(said) - 1} more" if len(said) > 1 else ""
    return (
        f"The backup is not whole, so none of it is kept and the older ones stay: {said[0]}{more} "
        "Run: rehang verify"
    )


def checked(file: Path, *, passphrase: str = "", work: Path) -> Checked:
    """A backup opened as a restore would, and all of it held against its list."""
    with opened(file, passphrase=passphrase, work=work) as (folder, listing):
        return settle(folder, listing)


@contextmanager
def opened(file: Path, *, passphrase: str, work: Path) -> Iterator[tuple[Path, Listing]]:
    """A folder with what a backup holds, not settled yet, and its list.

    Raises
    ------
    Refused
        It cannot be read, is locked otherwise, or was written by a newer Rehang.
    """
    folder = work / "unpacked"
    folder.mkdir(mode=0o700)
    try:
        listing = unpack(file, folder, passphrase=passphrase, work=work)
        check_not_newer(listing.rehang, f"The backup {file}")
        yield folder, listing
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _cleaned(database: Path, *, accounts: bool) -> tuple[dict[str, End], End]:
    """Take out what is nobody's business elsewhere, and say where each chain ends."""
    with closing(sqlite3.connect(database)) as copy:
        columns = {
            table: {row[1] for row in copy.execute(f"PRAGMA table_info({table})")}
            for (table,) in copy.execute(
                "SELECT name FROM sqlite_master WHERE type = 'table'"
            ).fetchall()
            if re.fullmatch(r"\w+", table)
        }
        for table in columns.keys() & set(_NEVER):
            copy.execute(f"DELETE FROM {table}")  # noqa: S608 - one of ours, by name
        for table, blanks in () if accounts else _SECRETS.items():
            for column in blanks.keys() & columns.get(table, set()):
                copy.execute(f"UPDATE {table} SET {column} = ?", (blanks[column],))  # noqa: S608
        copy.commit()
        # Nothing that was taken out is left in a free page, and no log lies beside the file.
        copy.execute("VACUUM")
        copy.execute("PRAGMA journal_mode = DELETE")
        books = {
            slug: End(seq, own)
            for slug, seq, own in copy.execute(
                "SELECT slug, head_seq, head_hash FROM book_job ORDER BY id"
            )
            if seq
        }
        access = None
        if "book_chainend" in columns:
            access = copy.execute(
                "SELECT seq, hash FROM book_chainend WHERE name = ?", (ends.ACCESS,)
            ).fetchone()
    return books, End(*access) if access else End(0, GENESIS)


def _on_the_disk(file: Path) -> None:
    """Have it on the disk, and what is read of it next come from there and not from memory."""
    with file.open("rb+") as held:
        os.fsync(held.fileno())
        if sys.platform == "linux":
            os.posix_fadvise(held.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)


def _folder_on_the_disk(folder: Path) -> None:
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    # Some sticks cannot be asked for it.
    with suppress(OSError):
        os.fsync(handle)
    os.close(handle)


def is_beside(to: Path) -> bool:
    """Whether a folder is on the same disk as the books: a lost disk then loses both."""
    data: Path = settings.REHANG_DATA
    return to.exists() and to.stat().st_dev == data.stat().st_dev


def _let_go(new: Path, keep: int) -> None:
    """The oldest of a kind beyond those that are kept; never the new one, whatever the clock said."""
    lead = new.name.startswith("before-")
    others = [
        one
        for one in new.parent.iterdir()
        if _OURS.fullmatch(one.name)
        and one.name.startswith("before-") == lead
        and one.name != new.name
    ]
    for old in sorted(others, key=lambda one: one.name, reverse=True)[keep - 1 :]:
        old.unlink(missing_ok=True)


def _sum(path: Path) -> str:
    with path.open("rb") as held:
        return hashlib.file_digest(held, "sha256").hexdigest()
