"""``rehang backup``, ``restore``, ``drill`` and ``salvage``: the whole shop as one file, and back."""

from __future__ import annotations

import getpass
import importlib
import sys
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

from cyclopts import App

from rehang.book.opening import set_up
from rehang.cli.asked import Flag, Store
from rehang.sheets.aside import written_aside
from rehang.trade.terms.ends import end_words
from rehang.trade.terms.errors import BadInput

__all__ = ["passphrase_for", "register"]


def register(app: App, *, store: Store, now: Callable[[], datetime]) -> None:
    """Add the commands to the program. ``store`` opens the book."""

    @app.command(name="backup")
    def _backup(
        to: Path | None = None,
        /,
        *,
        keep: int = 0,
        accounts: Flag = False,
        locked: Flag = False,
        rules: Flag = False,
    ) -> int:
        """Back the whole shop up as one file, and prove it. People may go on working.

        It is read back from where it lies, opened, and every chain and photo held against its list,
        before it says done.

        Example: rehang backup /media/stick --keep 14

        Parameters
        ----------
        to
            A folder that is there, on a stick or another disk.
        keep
            How many to keep in that folder; the oldest go once the new one is proved. All when 0.
        accounts
            Passwords and PINs too, as the hashes that are kept of them.
        locked
            Locked with a passphrase, typed twice, or two lines of the input.
        rules
            By the rules of the shop, as its page Backup has them, and to the folder named there.
        """
        if (to is None) != rules:
            raise BadInput("Give a folder or --rules.")
        store()
        backup = importlib.import_module("rehang.book.backup")
        if rules:
            kept = importlib.import_module("rehang.book.backup_rules").by_the_rules(at=now())
        else:
            kept = backup.back_up(
                to,
                at=now(),
                keep=keep,
                accounts=accounts,
                passphrase=_new_passphrase() if locked else "",
            )
        print(f"{kept.file} ({kept.bytes:,} bytes)")
        if backup.is_beside(Path(kept.file)):
            print("It is on the same disk as the books: a lost disk loses both.", file=sys.stderr)
        print(f"Proved: {kept.books} books with {kept.entries:,} entries, every chain held.")
        return 0

    _bringing_back(app, store=store, now=now)


def _bringing_back(app: App, *, store: Store, now: Callable[[], datetime]) -> None:
    @app.command(name="restore")
    def _restore(file: Path, /, *, dry_run: Flag = False, yes: Flag = False) -> int:
        """Bring a backup back into an empty data folder, after proving it.

        Example: rehang restore /media/stick/rehang-20261130T123000Z.zip

        Parameters
        ----------
        file
            A backup.
        dry_run
            Prove it and say what it holds, and bring nothing back.
        yes
            Books that are here already go into a folder of their own beside this one.
        """
        set_up()
        restoring = importlib.import_module("rehang.book.restoring")
        told = restoring.restore(
            file, passphrase=passphrase_for(file), at=now(), dry_run=dry_run, aside=yes
        )
        print(
            f"{file}: made {told.listing.made:%Y-%m-%d %H:%M} UTC by Rehang {told.listing.rehang}, whole."
        )
        for name, end in told.listing.books.items():
            print(f"{name}: {end_words(end.seq, end.hash)}")
        photos = len(told.listing.files) - 1
        print(
            f"{len(told.listing.books)} books, {told.listing.entries:,} entries, {photos:,} photos."
        )
        if not told.listing.accounts:
            print("Passwords and PINs are not in it. People set theirs again: rehang pin PERSON")
        if told.aside:
            print(f"The books that were here are in {told.aside}")
        print("Nothing has been brought back." if dry_run else f"The books are in {told.folder}")
        return 0

    @app.command(name="drill")
    def _drill(file: Path, /, *, sample: int = 200, seed: int | None = None) -> int:
        """Try a restore: hold some of a backup against the living books and a restored copy.

        Exit 1 when anything differs.

        Example: rehang drill /media/stick/rehang-20261130T123000Z.zip

        Parameters
        ----------
        file
            A backup.
        sample
            How many entries, and at most how many photos, to draw.
        seed
            The same seed draws the same ones; it is said.
        """
        store()
        restoring = importlib.import_module("rehang.book.restoring")
        found = restoring.drill(
            file, passphrase=passphrase_for(file), at=now(), sample=sample, seed=seed
        )
        for line in found.lines:
            print(line)
        for line in found.differing:
            print(f"Differs: {line}")
        return 1 if found.differing else 0

    @app.command(name="salvage")
    def _salvage(what: Path, into: Path, /) -> int:
        """Write out every entry whose hash holds, of whatever is left, and name what cannot be read.

        Each book becomes a folder; what stands before its first gap can be loaded. Exit 1 where
        anything could not be read.

        Example: rehang salvage broken/rehang.sqlite3 salvaged

        Parameters
        ----------
        what
            A damaged database, data folder, job folder, saved shop, archive or backup.
        into
            A folder that is not there yet.
        """
        salvaging = importlib.import_module("rehang.sheets.salvage")
        found = salvaging.salvage(what)
        with written_aside(into) as beside:
            lines = salvaging.write_salvaged(found, beside)
        for line in lines:
            print(line)
        print(f"Written to {into}")
        return 0 if found.is_all else 1


def _new_passphrase() -> str:
    packing: Any = importlib.import_module("rehang.book.packing")
    new = _ask("Passphrase of the backup: ")
    packing.check_passphrase(new)
    if _ask("The same again: ") != new:
        raise BadInput("The two are not the same. Type the passphrase twice.")
    return new


def passphrase_for(file: Path) -> str:
    """Ask for the passphrase of a backup, where it has one."""
    packing: Any = importlib.import_module("rehang.book.packing")
    return _ask(f"Passphrase of {file.name}: ") if packing.is_locked(file) else ""


def _ask(prompt: str) -> str:
    if sys.stdin.isatty():
        return getpass.getpass(prompt)
    return sys.stdin.readline().rstrip("\n")
