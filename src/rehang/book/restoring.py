"""A backup brought back, and the drill that tries it: some of it held against the living books."""

from __future__ import annotations

import random
import secrets
import sqlite3
from contextlib import closing
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import connection

from rehang.book import backup_log, models, photos, queries
from rehang.book.backup import AT_WORK, opened, work_folder
from rehang.book.carrying import carried_in
from rehang.book.holding import SERVED, is_held
from rehang.book.settling import settle
from rehang.book.tables import VERSION, bring_up_to_date
from rehang.sheets.backup_list import DATABASE, Listing
from rehang.sheets.contents import PHOTOS
from rehang.sheets.whole import WHOLE
from rehang.trade.terms.ends import end_problem
from rehang.trade.terms.errors import BadInput, NotAllowed, Refused

__all__ = ["Drilled", "Restored", "drill", "restore"]

# What lies in a data folder in which nobody has kept anything yet.
_NOTHING = ("secret-key", AT_WORK, SERVED, "server.log", VERSION)
# The columns that are an entry, as they lie in the table.
_ENTRY = ("seq", "entry_id", "kind", "at", "kept_at", "by", "body", "prev", "hash")


@dataclass(frozen=True, slots=True)
class Restored:
    """What a backup holds, the folder it was brought into, and where what was there before lies now."""

    listing: Listing
    folder: Path
    aside: Path | None


def restore(
    file: Path, *, passphrase: str, at: datetime, dry_run: bool = False, aside: bool = False
) -> Restored:
    """Prove a backup and make the data folder of it.

    ``aside`` has what is there already set aside whole, under a name of its own beside the folder.

    Raises
    ------
    Refused
        It is not whole, or there are books here; nothing is changed then.
    """
    data: Path = settings.REHANG_DATA
    if not dry_run:
        _check_may(data, aside=aside)
        # On the same disk as what is unpacked, which is then there in one move.
        data.mkdir(parents=True, exist_ok=True, mode=0o700)
    with work_folder() as work, opened(file, passphrase=passphrase, work=work) as (folder, listing):
        found = settle(folder, listing)
        if found.outcome != WHOLE:
            said = (*found.changed, *found.untold)
            raise Refused(
                f"{file} is not whole, so nothing of it is brought back: {said[0]} "
                "What can be read of it is written out by: rehang salvage"
            )
        if dry_run:
            return Restored(listing, data, None)
        before = _set_aside(data, at) if _held_in(data) else None
        if connection.vendor != "sqlite":
            carried_in(folder / DATABASE)
            (folder / DATABASE).unlink()
        # The database last: until it is there nothing has been brought back.
        for one in sorted(folder.iterdir(), key=lambda one: one.name == DATABASE):
            one.replace(data / one.name)
    return Restored(listing, data, before)


def _held_in(data: Path) -> list[str]:
    names = [one.name for one in data.iterdir()] if data.is_dir() else []
    return sorted(one for one in names if one not in _NOTHING and not one.startswith(".backup-"))


def _check_may(data: Path, *, aside: bool) -> None:
    """Whether something may be brought back here."""
    if is_held(data / SERVED):
        raise NotAllowed("The books here are being served. Stop the server first, then restore.")
    held = _held_in(data)
    if held and not aside:
        raise NotAllowed(
            f"The data folder {data} is not empty: it holds {', '.join(held[:3])}. Name an empty one "
            "with REHANG_DATA, or add --yes to have it set aside whole first."
        )
    if connection.vendor != "sqlite":
        bring_up_to_date()
        if models.Job.objects.exists():
            raise NotAllowed(
                "The database that REHANG_DATABASE_URL names holds books already. Name an empty one."
            )


def _set_aside(data: Path, at: datetime) -> Path:
    before = data.with_name(f"{data.name}.before-{at.astimezone(UTC):%Y%m%dT%H%M%S}")
    before.mkdir(mode=0o700)
    for one in data.iterdir():
        # What this is working in stays.
        if not one.name.startswith(".backup-"):
            one.rename(before / one.name)
    return before


@dataclass(slots=True)
class Drilled:
    """What a drill drew and held against what, and what differs; ``lines`` are for reading."""

    lines: list[str] = field(default_factory=list)
    differing: list[str] = field(default_factory=list)


def drill(
    file: Path, *, passphrase: str, at: datetime, sample: int, seed: int | None = None
) -> Drilled:
    """Restore a backup aside, and hold a random sample against the copy and the living books."""
    if sample < 1:
        raise BadInput(f"Draw one entry or more: got {sample}.")
    seed = secrets.randbelow(1_000_000) if seed is None else seed
    drawn = random.Random(seed)  # noqa: S311 - a sample that can be drawn again
    done = Drilled()
    with work_folder() as work, opened(file, passphrase=passphrase, work=work) as (folder, listing):
        found = settle(folder, listing)
        done.differing += [*found.changed, *found.untold]
        done.lines.append(
            f"Restored aside: {len(listing.books)} books, {listing.entries:,} lines, {found.outcome}."
        )
        places = [
            (name, seq) for name, end in listing.books.items() for seq in range(1, end.seq + 1)
        ]
        chosen = sorted(drawn.sample(places, min(sample, len(places))))
        with closing(sqlite3.connect(folder / DATABASE)) as copy:
            _entries_alike(copy, chosen, done)
        names = sorted(name for name in listing.files if name.startswith(f"{PHOTOS}/"))
        pictures = drawn.sample(names, min(sample, len(names)))
        for name in pictures:
            # Each was held against its sum as it was unpacked; here it is the living one's turn.
            if not photos.is_kept(name.removeprefix(f"{PHOTOS}/")):
                done.differing.append(f"{name} is missing or changed on this machine.")
    done.lines.append(
        f"Drawn with seed {seed}: {len(chosen):,} of {len(places):,} lines and {len(pictures):,} of "
        f"{len(names):,} photos, against the restored copy and the living books."
    )
    _ends_alike(listing, done)
    if not done.differing:
        _note(file, at)
        done.lines.append("All alike.")
    return done


def _entries_alike(copy: sqlite3.Connection, chosen: list[tuple[str, int]], done: Drilled) -> None:
    columns = ", ".join(f'e."{name}"' for name in _ENTRY)
    for slug, seq in chosen:
        there = copy.execute(
            f"SELECT {columns} FROM book_entry e JOIN book_job j ON j.id = e.job_id "  # noqa: S608
            "WHERE j.slug = ? AND e.seq = ?",
            (slug, seq),
        ).fetchone()
        here = queries.entry_columns(slug, seq, _ENTRY)
        if here != there:
            done.differing.append(f"{slug}, line {seq}: {_how(here, there)}")


def _how(here: tuple[Any, ...] | None, there: tuple[Any, ...] | None) -> str:
    if here is None or there is None:
        return "it is missing in the " + ("living book." if here is None else "restored copy.")
    odd = [name for name, a, b in zip(_ENTRY, here, there, strict=True) if a != b]
    return f"the living book and the restored copy have another {', '.join(odd)}."


def _ends_alike(listing: Listing, done: Drilled) -> None:
    """The living books go on from where those of the backup end, and how far they have got."""
    living = {job.slug: job for job in queries.books()}
    more = 0
    for slug, end in listing.books.items():
        if slug not in living:
            done.differing.append(f"{slug}: there is no such job here any more.")
            continue
        book = queries.entries(living[slug])
        problem = end_problem(book, end, "the backup")
        done.differing += [f"{slug}: {problem}"] if problem else []
        more += max(0, len(book) - end.seq)
    new = len(set(living) - set(listing.books))
    done.lines.append(f"Since then: {more:,} lines more, {new:,} new jobs.")


def _note(file: Path, at: datetime) -> None:
    known, name = backup_log.log(), str(file.absolute())
    backup_log.write(
        replace(
            known,
            kept=tuple(replace(o, drilled=at) if o.file == name else o for o in known.kept),
        )
    )
