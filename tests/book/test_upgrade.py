"""A newer Rehang opens an older data folder after a proved backup, and may be killed on the way."""

from __future__ import annotations

import random
import shutil
import sqlite3
import sys
import tarfile
import time
import zipfile
from contextlib import closing
from pathlib import Path

import pytest

from rehang import __version__
from rehang.sheets.backup_list import DATABASE
from tests.started import COMMAND, Program, environment, in_store, rehang

DATA = Path(__file__).resolve().parents[1] / "data"


@pytest.fixture(scope="module")
def older(tmp_path_factory) -> Path:
    """A data folder that the version of November 2026 wrote."""
    place = tmp_path_factory.mktemp("older")
    with tarfile.open(DATA / "kept-2026-11.tar.xz") as packed:
        packed.extractall(place, filter="data")
    return place / "data"


def entries(database: Path) -> list[tuple[object, ...]]:
    with closing(sqlite3.connect(database)) as held:
        return held.execute(
            "SELECT job_id, seq, body, kept_at, prev, hash FROM book_entry ORDER BY id"
        ).fetchall()


def applied(database: Path) -> set[str]:
    with closing(sqlite3.connect(database)) as held:
        return {
            one for (one,) in held.execute("SELECT name FROM django_migrations WHERE app = 'book'")
        }


def test_it_says_what_changes_backs_up_first_and_leaves_every_entry(older, tmp_path):
    data = Path(shutil.copytree(older, tmp_path / "data"))
    before, had = entries(data / DATABASE), applied(data / DATABASE)
    done = rehang("verify", data=data)
    assert done.returncode == 0, done.stdout + done.stderr
    new = sorted(applied(data / DATABASE) - had)
    assert new
    said = done.stderr.splitlines()
    assert said[0].startswith(f"These books are of an older Rehang. {len(new)} ")
    assert all(one in said[0] for one in new)
    (kept,) = (data / "backups").iterdir()
    assert said[1] == f"The books as they were, proved whole: {kept}"
    assert entries(data / DATABASE) == before
    assert (data / "rehang-version").read_text() == f"{__version__}\n"
    # What was kept is as it was: the older Rehang opens it.
    with zipfile.ZipFile(kept) as held:
        held.extract(DATABASE, tmp_path)
    assert applied(tmp_path / DATABASE) == had
    again = rehang("verify", data=data)
    assert (again.returncode, again.stderr) == (0, "")
    assert rehang("restore", kept, data=tmp_path / "new").returncode == 0


@pytest.mark.slow
def test_killed_at_any_moment_it_is_older_or_newer_and_goes_on(older, tmp_path):
    """Most of the time goes into starting and into the backup, so the kills fall on those too."""
    drawn = random.Random(16)  # noqa: S311 - the same moments each time
    began = time.monotonic()
    rehang("verify", data=Path(shutil.copytree(older, tmp_path / "whole")))
    takes = time.monotonic() - began
    had, wanted = applied(older / DATABASE), applied(tmp_path / "whole" / DATABASE)
    book = entries(older / DATABASE)
    data = tmp_path / "data"
    found = set()
    for number in range(4):
        shutil.rmtree(data, ignore_errors=True)
        shutil.copytree(older, data)
        made = Program(COMMAND, "verify", env=environment(data))
        time.sleep(takes * (0.2 + 0.7 * drawn.random()))
        made.kill()
        now = applied(data / DATABASE)
        # All of it or none of it.
        assert now in (had, wanted), number
        found.add(now == wanted)
        done = rehang("verify", data=data)
        assert done.returncode == 0, done.stdout + done.stderr
        assert applied(data / DATABASE) == wanted
        assert entries(data / DATABASE) == book
    assert False in found


# Killed inside the change itself, after so many statements of it: one process for each, of one that
# has the program loaded. It gives how many statements there were.
KILL = """
import os, pathlib, shutil, signal, sys
from rehang.book.opening import set_up
set_up()
from django.db import connection
from rehang.book import tables

older, data = sys.argv[1:]

def child(left):
    def count(execute, sql, params, many, context):
        nonlocal left
        if not sql.lstrip().upper().startswith(("SELECT", "PRAGMA")):
            left -= 1
            if left < 0:
                os.kill(os.getpid(), signal.SIGKILL)
        return execute(sql, params, many, context)
    with connection.execute_wrapper(count):
        tables.bring_up_to_date(put_by=False)
    os._exit(0)

for after in range(10_000):
    here = f"{data}/{after}"
    shutil.copytree(older, here)
    pid = os.fork()
    if pid == 0:
        from django.conf import settings
        settings.REHANG_DATA = pathlib.Path(here)
        connection.settings_dict["NAME"] = settings.REHANG_DATA / "rehang.sqlite3"
        child(after)
    if os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]) == 0:
        print(after)
        break
"""


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no fork.")
def test_killed_after_each_statement_of_the_change_none_of_it_has_happened(older, tmp_path):
    older = Path(shutil.copytree(older, tmp_path / "older"))
    in_store(
        older,
        "from django.core.management import call_command as c\nc('migrate', 'book', '0003', verbosity=0)",
    )
    # Going back took the access log away, and its end beside the database tells of it.
    (older / "ends" / "access_log").unlink()
    done = rehang(older, tmp_path, data=tmp_path / "none", code=KILL)
    assert done.returncode == 0, done.stderr
    statements = int(done.stdout)
    # More than one change, so that it could stop between two.
    assert statements > 10
    had, book = applied(older / DATABASE), entries(older / DATABASE)
    for after in range(statements):
        assert applied(tmp_path / str(after) / DATABASE) == had, after
        assert entries(tmp_path / str(after) / DATABASE) == book
    assert applied(tmp_path / str(statements) / DATABASE) > had
    last = rehang("verify", data=tmp_path / str(statements - 1))
    # Where its new access log ends, nothing beside the database tells until the next line of it.
    assert "Changed:" not in last.stdout and last.returncode in (0, 3), last.stdout + last.stderr


def test_an_older_rehang_does_not_open_a_newer_folder_nor_a_newer_backup(older, tmp_path):
    data = Path(shutil.copytree(older, tmp_path / "data"))
    (data / "rehang-version").write_text("9.4.0\n")
    was = (data / DATABASE).read_bytes()
    done = rehang("backup", tmp_path, data=data)
    assert (done.returncode, done.stderr) == (
        1,
        f"The data folder {data} was written by Rehang 9.4.0, and this is Rehang {__version__}: open it "
        "with that one or a newer.\n",
    )
    assert (data / DATABASE).read_bytes() == was
    with tarfile.open(DATA / "kept-2026-12.tar.xz") as packed:
        packed.extract("backup.zip", tmp_path, filter="data")
    newer = tmp_path / "newer.zip"
    with zipfile.ZipFile(tmp_path / "backup.zip") as held, zipfile.ZipFile(newer, "w") as made:
        for name in held.namelist():
            told = held.read(name)
            made.writestr(name, told.replace(b'"rehang": "0.1.0"', b'"rehang": "9.4.0"'))
    done = rehang("restore", newer, data=tmp_path / "new")
    assert (done.returncode, done.stderr) == (
        1,
        f"The backup {newer} was written by Rehang 9.4.0, and this is Rehang {__version__}: open it with that "
        "one or a newer.\n",
    )


def test_books_that_are_being_served_are_not_changed(older, tmp_path):
    from rehang.book.holding import SERVED, holding

    data = Path(shutil.copytree(older, tmp_path / "data"))
    had = applied(data / DATABASE)
    with holding(data / SERVED):
        done = rehang("demo", data=data)
    assert (done.returncode, done.stderr) == (
        1,
        "These books are being served by an older Rehang. Stop it, then start this one.\n",
    )
    assert applied(data / DATABASE) == had


def test_books_that_are_not_whole_are_not_changed(older, tmp_path):
    data = Path(shutil.copytree(older, tmp_path / "data"))
    with closing(sqlite3.connect(data / DATABASE)) as held:
        held.execute("DROP TRIGGER book_entry_is_never_changed")
        held.execute("UPDATE book_entry SET body = replace(body, 'kohm', 'Mohm') WHERE seq > 30")
        held.commit()
    had = applied(data / DATABASE)
    done = rehang("demo", data=data)
    assert done.returncode == 1
    assert done.stderr.splitlines()[-1].startswith(
        "The books are not changed, because they cannot be backed up first. The backup is not whole"
    )
    assert applied(data / DATABASE) == had
