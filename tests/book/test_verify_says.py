"""What ``rehang verify`` says of each thing done to what was kept, as the page of it has it.

Each case is done to a folder, an archive or a store that the program itself wrote, with nothing but
a text editor or a database program; the page's table says in what one word the command ends.
"""

import errno
import os
import re
import shutil
import sqlite3
import subprocess
import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest

from rehang.cli.main import main
from rehang.sheets.folder import BOOK, CONTENTS, read_folder
from rehang.sheets.sums import SUMS
from tests.started import rehang

ROOT = Path(__file__).resolve().parents[2]
PAGE = ROOT / "docs" / "reference" / "verify.md"
JOB = "tv4-2207-2026"
EXITS = {"whole": 0, "changed": 1, "cannot tell": 3}


@pytest.fixture(scope="module")
def kept(tmp_path_factory) -> Path:
    """A store with the demo in it, and what it saves: ``data``, ``saved``, ``archive``, ``shop``."""
    at = tmp_path_factory.mktemp("kept")
    for given in (
        ("demo",),
        ("save", JOB, at / "saved"),
        ("archive", JOB, at / "archive"),
        ("save", "--all", at / "shop"),
    ):
        done = rehang(*given, data=at / "data")
        assert done.returncode == 0, done.stderr
    return at


def edit(path: Path, change: Callable[[bytes], bytes]) -> None:
    before = path.read_bytes()
    path.write_bytes(change(before))
    assert path.read_bytes() != before


def cut_five(path: Path) -> None:
    edit(path, lambda held: b"".join(held.splitlines(keepends=True)[:-5]))


def keep_for_reject(at: Path) -> None:
    (at / SUMS).unlink()
    edit(at / "index.html", lambda held: held.replace(b"REJECT", b"KEEP"))


def half_written(at: Path) -> None:
    (at / SUMS).unlink()
    (at / "READ-ME.txt").unlink()
    edit(at / "index.html", lambda held: held[: len(held) // 2])


def ten_times_the_limit(at: Path) -> None:
    (at / CONTENTS).unlink()
    edit(at / "limits.toml", lambda held: held.replace(b"5000 ohm", b"50000 ohm"))


def no_list(at: Path) -> None:
    (at / CONTENTS).unlink()
    cut_five(at / BOOK)


def emptied(at: Path) -> None:
    shutil.rmtree(at)
    at.mkdir()


def without_book(at: Path) -> None:
    emptied(at)
    (at / "notes.txt").write_text("Bought three gaskets.")


def a_job_out(at: Path) -> None:
    shutil.rmtree(at / JOB)


FOLDERS = {
    "A saved folder": ("saved", lambda at: None, "files against contents.toml"),
    "An archive": ("archive", lambda at: None, "files against SHA256SUMS"),
    "A saved shop": ("shop", lambda at: None, "1 job folder(s) against jobs.toml"),
    "An empty folder": ("saved", emptied, "There is no book.jsonl here"),
    "A folder without a book": ("saved", without_book, "There is no book.jsonl here"),
    "The last five entries cut off a saved book": ("saved", lambda at: cut_five(at / BOOK), "book.jsonl has been changed"),
    "The same, and the list of contents taken out": ("saved", no_list, "Whether entries were cut off after"),
    "A limit of 5 kΩ made 50 kΩ, and the list taken out": ("saved", ten_times_the_limit, "limits.toml is not the text that entry"),
    "The list's own text": ("saved", lambda at: edit(at / CONTENTS, lambda held: held + b"# seen\n"), "contents.toml is not written as it was"),
    "A photo listed that the book does not speak of": ("saved", lambda at: edit(at / CONTENTS, lambda held: held + f'\n[[file]]\nname = "photos/{"0" * 64}.jpg"\nbytes = 1\nsha256 = ""\n'.encode()), "the book speaks of no such photo"),
    "The list of sums' own text": ("archive", lambda at: edit(at / SUMS, lambda held: held + b"\n"), "SHA256SUMS, line"),
    "A byte that is not UTF-8 in a saved book": ("saved", lambda at: edit(at / BOOK, lambda held: held.replace(b"plug", b"pl\xffg", 1)), "not UTF-8 text"),
    "A byte that is not UTF-8 in the list": ("saved", lambda at: edit(at / CONTENTS, lambda held: held + b"\xff"), "not UTF-8 text"),
    "A file put beside a saved folder's": ("saved", lambda at: (at / "more.txt").write_text("x"), "more.txt: in no list"),
    "An archive without its list of sums, its page KEEP for REJECT": ("archive", keep_for_reject, "index.html"),
    "An archive half written": ("archive", half_written, "index.html"),
    "A job taken out of a saved shop": ("shop", a_job_out, f"{JOB} is listed in jobs.toml"),
}  # fmt: skip


def sql(*statements: str, triggers: bool = True) -> Callable[[Path], None]:
    """Statements run by someone with the file in hand, who puts the triggers back, or not."""

    def do(data: Path) -> None:
        database = sqlite3.connect(data / "rehang.sqlite3")
        held = database.execute(
            "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"
        ).fetchall()
        for name, _ in held:
            database.execute(f"DROP TRIGGER {name}")
        changed = database.total_changes
        for statement in statements:
            database.execute(statement)
        assert database.total_changes > changed or not triggers
        for _, made in held if triggers else ():
            database.execute(made)
        database.commit()
        database.close()

    return do


def pages_of_chance(data: Path) -> None:
    path = data / "rehang.sqlite3"
    held = bytearray(path.read_bytes())
    page = len(held) // 4096 // 2 * 4096
    held[page : page + 40 * 4096] = b"\xa5" * 40 * 4096
    path.write_bytes(held)


def half_a_file(data: Path) -> None:
    edit(data / "rehang.sqlite3", lambda held: held[: len(held) // 2])


def no_ends(data: Path) -> None:
    shutil.rmtree(data / "ends")


def copied_while_written(data: Path) -> None:
    """One file copied while the last entries stand in the log beside it, and put back later."""
    database = data / "rehang.sqlite3"
    reader = sqlite3.connect(database, isolation_level=None)
    reader.execute("BEGIN")
    # An open reader holds the log open, as a running server does.
    reader.execute("SELECT COUNT(*) FROM book_entry").fetchone()
    folder = data.parent / f"{data.name}-more"
    assert rehang("save", JOB, folder, data=data).returncode == 0
    edit(folder / "limits.toml", lambda held: held + b"# seen\n")
    assert rehang("load", folder, data=data).returncode == 0
    copy = database.read_bytes()
    reader.close()
    for beside in ("rehang.sqlite3-wal", "rehang.sqlite3-shm"):
        (data / beside).unlink(missing_ok=True)
    database.write_bytes(copy)


STORES = {
    "The book of the shop": (lambda data: None, "accounts against the access log"),
    "No book at all": (shutil.rmtree, "There is no database"),
    "The triggers dropped": (sql(triggers=False), "The trigger book_entry_is_never_changed is missing"),
    "A trigger that lets through": (
        sql("CREATE TRIGGER book_entry_is_never_changed BEFORE UPDATE ON book_entry BEGIN SELECT 1; END", triggers=False), "is not the one that was made"),
    "An account closed": (sql("UPDATE auth_user SET is_active = 0 WHERE id = 1"), "whether the account is open"),
    "An account made staff": (sql("UPDATE auth_user SET is_staff = 1 WHERE id = 1"), "the mark of staff"),
    "A password put in": (sql("UPDATE auth_user SET password = 'x' WHERE id = 1"), "the password is not"),
    "A person given another's login": (
        sql("UPDATE book_member SET user_id = user_id + 1000 WHERE user_id IN (1, 2)",
            "UPDATE book_member SET user_id = 1003 - user_id WHERE user_id > 1000"), "the sign-in name"),
    "A job's title": (sql("UPDATE book_job SET title = 'x'"), "Columns of the job differ"),
    "The day a job came": (sql("UPDATE book_job SET created_at = '2020-01-01 00:00:00'"), "or the day it came"),
    "The last five entries cut off the book, and the job's row put to match": (
        sql("DELETE FROM book_reading WHERE entry_id IN (SELECT id FROM book_entry ORDER BY id DESC LIMIT 5)",
            "DELETE FROM book_entry WHERE id IN (SELECT id FROM book_entry ORDER BY id DESC LIMIT 5)",
            "UPDATE book_job SET head_seq = (SELECT MAX(seq) FROM book_entry), head_hash = "
            "(SELECT hash FROM book_entry ORDER BY id DESC LIMIT 1)"), "entries were cut off its end"),
    "A whole job taken out": (
        sql("DELETE FROM book_reading", "DELETE FROM book_entry", "DELETE FROM book_jobfile",
            "DELETE FROM book_job_people", "DELETE FROM book_job"), "tells of a job that is not here"),
    "The ends beside the database taken out": (no_ends, "Whether entries were cut off the end"),
    "One file copied while it was written to, and put back": (copied_while_written, "an older copy was put back"),
    "A title that is not UTF-8": (sql("UPDATE book_job SET title = CAST(x'ff41' AS TEXT)"), "cannot read it"),
    "An entry that is not UTF-8": (sql("UPDATE book_entry SET body = CAST(x'ff41' AS TEXT) WHERE seq = 3"), "no longer text"),
    "A login that is not UTF-8": (sql("UPDATE auth_user SET username = CAST(x'ff41' AS TEXT) WHERE id = 1"), "cannot read it"),
    "Forty pages of the database overwritten": (pages_of_chance, "malformed"),
    "Half of the database file": (half_a_file, "cannot be opened"),
    "Another file in its place": (
        lambda data: (data / "rehang.sqlite3").write_text("hello" * 999), "is not a database"),
}  # fmt: skip


def says_now() -> dict[str, str]:
    rows = re.findall(r"(?m)^\| (.+?) \| (.+?) \| (.+?) \|$", PAGE.read_text("utf-8"))
    return {what: now.strip("*") for what, _, now in rows if now.strip("*") in EXITS}


def test_the_page_and_the_cases_are_the_same_list():
    assert list(says_now()) == [*FOLDERS, *STORES]


@pytest.mark.parametrize("case", FOLDERS)
def test_of_a_folder(kept, tmp_path, capsys, case):
    which, do, said = FOLDERS[case]
    folder = tmp_path / which
    shutil.copytree(kept / which, folder)
    do(folder)
    with pytest.raises(SystemExit, match=r"\d") as ended:
        main(["verify", str(folder)])
    lines = capsys.readouterr().out.splitlines()
    outcome = says_now()[case]
    assert lines[-1] == f"{folder}: {outcome}."
    assert ended.value.code == EXITS[outcome]
    assert any(said in line for line in lines), lines


@pytest.mark.slow
@pytest.mark.parametrize("case", STORES)
def test_of_a_store(kept, tmp_path, case):
    do, said = STORES[case]
    data = tmp_path / "data"
    shutil.copytree(kept / "data", data)
    do(data)
    done = rehang("verify", data=data)
    outcome = says_now()[case]
    assert done.stdout.splitlines()[-1] == f"The book: {outcome}.", done.stdout + done.stderr
    assert (done.returncode, done.stderr) == (EXITS[outcome], "")
    assert said in done.stdout


@pytest.mark.slow
def test_a_store_on_a_read_only_disk_is_looked_at_and_nothing_is_laid_beside_it(kept, tmp_path):
    data = tmp_path / "data"
    shutil.copytree(kept / "data", data)
    before = sorted(path.name for path in data.rglob("*"))
    code = "import os; os.access = lambda *given, **more: False; from rehang.cli.main import main; main()"
    done = rehang("verify", data=data, code=code)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.endswith("The book: whole.\n")
    assert sorted(path.name for path in data.rglob("*")) == before


def test_an_end_kept_elsewhere_tells_of_a_cut_tail(kept, tmp_path, capsys):
    """A folder whose list went with its tail, beside the foot of a print and a saved folder."""
    folder = tmp_path / "cut"
    shutil.copytree(kept / "saved", folder)
    last = read_folder(folder).entries[-1]
    typed = f"{last.seq} {last.hash[:4]} {last.hash[4:8]} {last.hash[8:16]}"
    (folder / CONTENTS).unlink()

    def outcome(*against: str) -> str:
        with pytest.raises(SystemExit, match=r"\d"):
            main(["verify", str(folder), *against])
        return capsys.readouterr().out.splitlines()[-1].rpartition(": ")[2]

    assert outcome() == "cannot tell."
    assert outcome("--against", typed) == "whole."
    assert outcome("--against", str(kept / "saved")) == "whole."
    assert outcome("--against", f"{last.seq - 1} {last.prev}") == "cannot tell."
    cut_five(folder / BOOK)
    assert outcome("--against", typed) == "changed."
    assert outcome("--against", str(kept / "shop")) == "changed."
    assert outcome("--against", f"{last.seq - 1} {last.hash}") == "changed."
    assert outcome("--against", "213 3f9a") == "cannot tell."


@pytest.mark.slow
def test_the_store_is_held_against_a_print_and_a_saved_shop(kept, tmp_path):
    with (kept / "saved" / CONTENTS).open("rb") as file:
        end = tomllib.load(file)["book"]
    right = f"{end['last_entry']} {end['hash'][:16]}"
    wrong = f"{end['last_entry']} {'0' * 16}"
    for given, code in (
        ((JOB, "--against", right), 0),
        ((JOB, "--against", wrong), 1),
        ((JOB, "--against", f"{end['last_entry'] + 1} {end['hash']}"), 1),
        (("--against", kept / "shop"), 0),
        (("--against", right), 3),
        (("no-such-job",), 3),
    ):
        done = rehang("verify", *given, data=kept / "data")
        assert done.returncode == code, (given, done.stdout, done.stderr)


def test_the_list_of_a_folder_names_the_last_entry(kept):
    last = read_folder(kept / "saved").entries[-1]
    for where in ("saved", "archive", f"shop/{JOB}"):
        with (kept / where / CONTENTS).open("rb") as file:
            assert tomllib.load(file)["book"] == {"last_entry": last.seq, "hash": last.hash}
    with (kept / "shop" / "jobs.toml").open("rb") as file:
        jobs = tomllib.load(file)["job"]
    assert [(one["name"], one["last_entry"], one["hash"]) for one in jobs] == [
        (JOB, last.seq, last.hash)
    ]


def test_sums_of_an_archive_hold_for_the_usual_program_too(kept):
    done = subprocess.run(["sha256sum", "-c", SUMS], cwd=kept / "archive", capture_output=True)
    assert done.returncode == 0


@pytest.mark.parametrize("after", [0, 3, 6])
@pytest.mark.parametrize("act", ["archive", "save", "save --all"])
def test_a_full_disk_leaves_nothing_half_written(kept, tmp_path, monkeypatch, act, after):
    from rehang.cli import keep
    from rehang.paper.archive import write_archive
    from rehang.trade.terms.errors import BadInput

    read = read_folder(kept / "saved")
    written = iter(range(1_000))
    true_fsync = os.fsync

    def full(handle: int) -> None:
        if next(written) >= after:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        true_fsync(handle)

    class Queries:
        """The store's readers, for one job."""

        def book(self, name):
            return self

        slug = JOB

        def books(self):
            return [self]

        job = book

        def as_folder(self, job):
            return dict(read.files), read.entries

        def photos(self, job):
            return {}

    target = tmp_path / "there"
    monkeypatch.setattr(os, "fsync", full)
    monkeypatch.setattr("rehang.book.accesslog.end", lambda: None)
    acts = {
        "archive": lambda: write_archive(target, {f"{n}.txt": b"x" for n in range(20)}),
        "save": lambda: keep._save_one(JOB, target, Queries()),
        "save --all": lambda: keep._save_all(target, Queries(), read.entries[-1].at),
    }
    with pytest.raises(BadInput, match=r"has not been written \(No space left on device\)"):
        acts[act]()
    assert list(tmp_path.iterdir()) == []


def test_nothing_is_written_over(kept, tmp_path):
    (tmp_path / "there").mkdir()
    (tmp_path / "there" / "a.txt").write_text("x")
    done = rehang("save", "--all", tmp_path / "there", data=kept / "data")
    assert done.returncode == 1
    assert done.stderr == (
        f"{tmp_path / 'there'} is not empty. Name a folder that is not there yet.\n"
    )
    assert [p.name for p in tmp_path.rglob("*")] == ["there", "a.txt"]


def test_check_says_first_that_a_folder_is_not_what_was_filed(kept, tmp_path, capsys):
    folder = tmp_path / "saved"
    shutil.copytree(kept / "saved", folder)
    ten_times_the_limit(folder)
    with pytest.raises(SystemExit, match="0"):
        main(["check", str(folder)])
    lines = capsys.readouterr().out.splitlines()
    assert lines[1].startswith("Notice: limits.toml has been changed since ")
