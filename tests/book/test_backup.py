"""Backups: made while people work, proved, kept by generations, brought back, drilled, and refused."""

from __future__ import annotations

import json
import random
import shutil
import sqlite3
import sys
import threading
import zipfile
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from subprocess import CompletedProcess

import pytest

from rehang.sheets.backup_list import DATABASE, LIST
from tests.started import COMMAND, Program, environment, in_store, rehang

JOB = "tv4-2207-finished"
# The finished demo with a photo, signed; PINs for its people; the shop's own book.
SHOP = """
import sys
from datetime import UTC, datetime
from rehang.book import beginning, queries, services
from rehang.sheets import demo_path
from rehang.sheets.folder import read_folder
from rehang.trade.telling.entry_text import draft_of
from tests.photos.shots import shot
from tests.pins import give_pins
at = datetime.now(UTC)
job = services.load_folder(folder=read_folder(demo_path("finished")), by="marta", at=at)
give_pins("marta")
beginning.offer_shop(job=job, by="marta", at=at)
services.add_photo(job=job, data=shot(), by="marta", at=at)
draft = draft_of(queries.judged(job), "maintenance")
services.sign(job=job, what="maintenance", text=draft.text, head=queries.job(job.slug).head_hash,
              by="marta", at=datetime.now(UTC), confirmed="marta")
"""
# The signed record as it is printed, at one moment.
PRINT = """
import sys
from datetime import UTC, datetime
from rehang.book import queries
from rehang.paper.records import signed_pdf
judged = queries.judged(queries.job("tv4-2207-finished"))
made = signed_pdf(judged, judged.signed[-1], size="a4", printed_at=datetime(2026, 12, 1, tzinfo=UTC))
open(sys.argv[1], "wb").write(made)
"""
NOTES = """
import sys
from datetime import UTC, datetime
from rehang.book import queries, services
for number in range(int(sys.argv[1])):
    services.write(job=queries.job("tv4-2207-finished"), kind="note", data={"text": f"note {number}"},
                   by="marta", at=datetime.now(UTC))
"""


def backed_up(data: Path, to: Path, *more: str, typed: str = "") -> Path:
    to.mkdir(exist_ok=True)
    done = rehang("backup", to, *more, data=data, typed=typed)
    assert done.returncode == 0, done.stderr
    return Path(done.stdout.partition(".zip")[0].splitlines()[-1] + ".zip")


@pytest.fixture(scope="module")
def shop(tmp_path_factory) -> Path:
    data = tmp_path_factory.mktemp("shop") / "data"
    in_store(data, SHOP)
    return data


@pytest.fixture(scope="module")
def kept(shop) -> Path:
    """A backup of it."""
    return backed_up(shop, shop.parent / "stick")


@pytest.fixture
def own(shop, tmp_path) -> Path:
    """The shop as a copy that a test may change."""
    return Path(shutil.copytree(shop, tmp_path / "own"))


def ends_of(file: Path) -> dict[str, dict[str, object]]:
    with zipfile.ZipFile(file) as held:
        return json.loads(held.read(LIST))["books"]


def rewritten(file: Path, onto: Path, **changed: bytes) -> Path:
    """The same zip with the bytes of some members changed."""
    with zipfile.ZipFile(file) as held, zipfile.ZipFile(onto, "w") as made:
        for name in held.namelist():
            made.writestr(name, changed.get(name.replace(".", "_"), held.read(name)))
    return onto


# ---------------------------------------------------------------- made and proved


def test_a_backup_names_the_end_of_each_book_and_holds_photos_and_no_visit(shop, kept, tmp_path):
    with zipfile.ZipFile(kept) as held:
        names = held.namelist()
        held.extract(DATABASE, tmp_path)
    assert [one.partition("/")[0] for one in names] == [DATABASE, "photos", LIST]
    with closing(sqlite3.connect(shop / DATABASE)) as living:
        wanted = dict(living.execute("SELECT slug, head_hash FROM book_job"))
    assert {name: end["hash"] for name, end in ends_of(kept).items()} == wanted
    raw = (tmp_path / DATABASE).read_bytes()
    assert b"argon2" not in raw
    assert b"argon2" in (shop / DATABASE).read_bytes()
    with closing(sqlite3.connect(tmp_path / DATABASE)) as copy:
        assert copy.execute("SELECT count(*) FROM book_visit").fetchone() == (0,)
    assert kept.stat().st_mode & 0o777 == 0o600


def test_it_is_made_while_people_write_and_holds_a_whole_book(own, tmp_path):
    writer = threading.Thread(target=in_store, args=(own, NOTES, "25"))
    writer.start()
    found = []
    while writer.is_alive() or not found:
        found.append(backed_up(own, tmp_path / f"stick{len(found)}"))
    writer.join()
    ends = [ends_of(one)[JOB]["seq"] for one in found]
    assert ends == sorted(ends)
    assert rehang("verify", data=own).returncode == 0


def test_a_job_that_is_not_whole_is_not_backed_up_and_the_older_ones_stay(own, tmp_path):
    first = backed_up(own, tmp_path / "stick", "--keep", "2")
    with closing(sqlite3.connect(own / DATABASE)) as living:
        living.execute("DROP TRIGGER book_entry_is_never_changed")
        living.execute("UPDATE book_entry SET body = replace(body, '1.18', '1.19') WHERE seq > 40")
        living.commit()
    done = rehang("backup", tmp_path / "stick", "--keep", "1", data=own)
    assert done.returncode == 1
    assert done.stderr.startswith(
        "The backup is not whole, so none of it is kept and the older ones stay:"
    )
    assert list((tmp_path / "stick").iterdir()) == [first]
    assert json.loads((own / "backups.json").read_text())["why"] == done.stderr.strip()


def test_the_oldest_go_when_a_new_one_is_proved_and_nothing_else_does(own, tmp_path):
    stick = tmp_path / "stick"
    stick.mkdir()
    for name in ("rehang-20250101T000000Z.zip", "rehang-20250102T000000Z-locked.zip", "mine.zip",
                 "before-rehang-20250101T000000Z.zip"):  # fmt: skip
        (stick / name).write_bytes(b"x")
    made = backed_up(own, stick, "--keep", "2")
    assert {one.name for one in stick.iterdir()} == {
        made.name, "rehang-20250102T000000Z-locked.zip", "mine.zip", "before-rehang-20250101T000000Z.zip",
    }  # fmt: skip


def test_a_stick_that_is_not_there_is_said_in_one_sentence(own, tmp_path):
    done = rehang("backup", tmp_path / "gone", data=own)
    assert (done.returncode, done.stdout) == (1, "")
    assert done.stderr == (
        f"There is no folder {tmp_path / 'gone'}. Plug the stick in, or name a folder that is there.\n"
    )


def test_nothing_is_left_of_a_backup_that_was_killed(own, tmp_path):
    stick = tmp_path / "stick"
    stick.mkdir()
    drawn = random.Random(16)  # noqa: S311 - the same moments each time
    for _ in range(3):
        made = Program(COMMAND, "backup", str(stick), env=environment(own))
        threading.Event().wait(drawn.uniform(0.2, 1.5))
        made.kill()
    whole = [one for one in stick.iterdir() if not one.name.startswith(".")]
    for one in whole:
        assert rehang("restore", one, "--dry-run", data=tmp_path / "none").returncode == 0
    (stick / ".rehang-20260101T000000Z.zip.new").write_bytes(b"x")
    backed_up(own, stick)
    assert not [*own.glob(".backup-*"), *stick.glob(".*")]
    assert rehang("verify", data=own).returncode == 0


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such limit.")
def test_a_full_disk_is_said_and_leaves_no_half_backup(own, tmp_path):
    (tmp_path / "stick").mkdir()
    done = rehang("backup", tmp_path / "stick", data=own, full_at=300_000)
    assert done.returncode == 1
    assert done.stderr.count("\n") == 1, done.stderr
    assert done.stderr.startswith(f"The backup cannot be written to {tmp_path / 'stick'} (")
    assert not list((tmp_path / "stick").iterdir())
    assert rehang("verify", data=own).returncode == 0


@pytest.mark.django_db
def test_the_clock_goes_on_after_a_backup_that_came_to_nothing(monkeypatch):
    from rehang.book import backup_rules
    from rehang.trade.terms.errors import Refused

    stop, asked = threading.Event(), []

    def by_the_rules(*, at: datetime) -> None:
        asked.append(at)
        if len(asked) == 3:
            stop.set()
        raise [Refused("No stick."), OSError("odd"), ValueError("odd")][len(asked) - 1]

    due = backup_rules.Standing(None, None, is_late=True, is_due=True)
    monkeypatch.setattr(backup_rules, "LOOK_S", 0)
    monkeypatch.setattr(backup_rules, "standing", lambda now: due)
    monkeypatch.setattr(backup_rules, "by_the_rules", by_the_rules)
    monkeypatch.setattr(backup_rules.connection, "close", lambda: None)
    backup_rules.watch(stop)
    assert len(asked) == 3


# ---------------------------------------------------------------- brought back


def test_a_signed_record_is_printed_again_byte_for_byte_from_a_restored_shop(shop, kept, tmp_path):
    new = tmp_path / "new"
    dry = rehang("restore", kept, "--dry-run", data=new)
    assert (dry.returncode, "Nothing has been brought back." in dry.stdout) == (0, True), dry.stderr
    assert not new.exists()
    done = rehang("restore", kept, data=new)
    assert done.returncode == 0, done.stderr
    assert "2 books" in done.stdout and "1 photos" in done.stdout
    for place in (shop, new):
        in_store(place, PRINT, str(tmp_path / f"{place.name}.pdf"))
    assert (tmp_path / "new.pdf").read_bytes() == (tmp_path / f"{shop.name}.pdf").read_bytes()
    assert rehang("verify", data=new).returncode == 0
    assert rehang("verify", "--against", kept, data=new).returncode == 0
    # Work goes on in it.
    in_store(new, NOTES, "2")
    assert rehang("verify", "--against", kept, data=new).returncode == 0


def test_books_that_are_here_are_not_written_over(own, kept, tmp_path):
    refused = rehang("restore", kept, data=own)
    assert refused.returncode == 1
    assert refused.stderr.startswith(f"The data folder {own} is not empty: it holds ")
    done = rehang("restore", kept, "--yes", data=own)
    assert done.returncode == 0, done.stderr
    (aside,) = tmp_path.glob("own.before-*")
    assert rehang("verify", data=aside).stdout.endswith("The book: whole.\n")
    assert rehang("verify", data=own).stdout.endswith("The book: whole.\n")


def test_accounts_come_back_only_where_they_were_asked_for(own, tmp_path):
    asked = backed_up(own, tmp_path / "stick", "--accounts")
    assert rehang("restore", asked, data=tmp_path / "new").returncode == 0
    told = "from rehang.book import members; print(members.is_theirs(members.member('marta'), '480713'))"
    assert in_store(tmp_path / "new", told) == "True"
    assert rehang("verify", data=tmp_path / "new").returncode == 0


def test_a_locked_one_opens_with_its_passphrase_alone(own, tmp_path):
    pytest.importorskip("pyrage")
    typed = "steel rule and feeler\n"
    file = backed_up(own, tmp_path / "stick", "--locked", typed=typed * 2)
    assert b"marta" not in file.read_bytes()
    wrong = rehang("restore", file, data=tmp_path / "new", typed="steel rule and feelers\n")
    assert (wrong.returncode, wrong.stderr) == (
        1, f"That is not the passphrase of {file.name}. Type it again.\n",
    )  # fmt: skip
    assert rehang("restore", file, data=tmp_path / "new", typed=typed).returncode == 0
    assert rehang("verify", data=tmp_path / "new").returncode == 0


@pytest.mark.parametrize("part", ["head", "database", "photo", "list", "end"])
def test_one_changed_byte_is_found(kept, tmp_path, part):
    data = bytearray(kept.read_bytes())
    with zipfile.ZipFile(kept) as held:
        names = held.namelist()
        starts = {name: held.getinfo(name).header_offset for name in names}
    photo = next(name for name in names if name.startswith("photos/"))
    at = {"head": 31, "database": starts[DATABASE] + 5_000, "photo": starts[photo] + 900,
          "list": starts[LIST] + 120, "end": len(data) - 60}[part]  # fmt: skip
    data[at] ^= 1
    changed = tmp_path / "changed.zip"
    changed.write_bytes(data)
    done = rehang("restore", changed, data=tmp_path / "new")
    assert done.returncode == 1, (part, done.stdout)
    assert done.stderr.count("\n") == 1 and "Traceback" not in done.stderr
    assert not (tmp_path / "new" / DATABASE).exists()


def test_a_list_made_to_fit_another_book_is_found_by_the_chain(kept, tmp_path):
    with zipfile.ZipFile(kept) as held:
        listing = json.loads(held.read(LIST))
    listing["books"][JOB]["seq"] -= 1
    changed = rewritten(kept, tmp_path / "changed.zip", backup_json=json.dumps(listing).encode())
    done = rehang("restore", changed, data=tmp_path / "new")
    assert done.returncode == 1
    assert "is not whole, so nothing of it is brought back" in done.stderr


@pytest.mark.parametrize("name", ["../evil", "photos/../../evil", "photos/evil.jpg", "ends/x"])
def test_a_name_that_leads_elsewhere_is_refused(kept, tmp_path, name):
    odd = tmp_path / "odd.zip"
    with zipfile.ZipFile(kept) as held, zipfile.ZipFile(odd, "w") as made:
        listing = json.loads(held.read(LIST)) | {"files": {DATABASE: "0" * 64, name: "0" * 64}}
        for one, data in ((DATABASE, b""), (name, b"x"), (LIST, json.dumps(listing).encode())):
            made.writestr(one, data)
    done = rehang("restore", odd, data=tmp_path / "new")
    assert done.returncode == 1
    assert not list(tmp_path.rglob("evil*"))


# ---------------------------------------------------------------- drilled


def test_a_drill_compares_backup_copy_and_living_books_and_says_what_it_drew(own, tmp_path):
    file = backed_up(own, tmp_path / "stick")
    in_store(own, NOTES, "3")
    done = rehang("drill", file, "--sample", "40", "--seed", "7", data=own)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "Drawn with seed 7: 40 of " in done.stdout and "1 of 1 photos" in done.stdout
    assert "Since then: 3 lines more, 0 new jobs." in done.stdout
    assert json.loads((own / "backups.json").read_text())["kept"][0]["drilled"]


def test_a_drill_finds_a_living_book_that_was_changed_since(own, tmp_path):
    file = backed_up(own, tmp_path / "stick")
    with closing(sqlite3.connect(own / DATABASE)) as living:
        living.execute("DROP TRIGGER book_entry_is_never_changed")
        living.execute("UPDATE book_entry SET body = replace(body, '\"by\"', '\"By\"')")
        living.commit()
    next((own / "photos").iterdir()).write_bytes(b"x")
    done = rehang("drill", file, "--sample", "30", data=own)
    assert done.returncode == 1
    assert "the living book and the restored copy have another body." in done.stdout
    assert "is missing or changed on this machine." in done.stdout


# ---------------------------------------------------------------- by the rules of the shop


@pytest.mark.django_db
def test_when_one_is_due_and_when_the_board_asks(job, settings, tmp_path, monkeypatch):
    from rehang.book import backup_log, backup_rules
    from rehang.trade.facts.backups import Backups

    settings.REHANG_DATA = tmp_path
    assert backup_rules.standing(datetime.now(UTC)) is None
    rule = Backups(to=str(tmp_path), every_days=2, ask_after_days=3)
    monkeypatch.setattr(backup_rules, "rules", lambda shop=None: rule)
    monkeypatch.setattr(backup_rules.queries, "shop", lambda: job)
    made = datetime(2026, 11, 2, 22, 0, tzinfo=UTC)
    one = backup_log.Kept(at=made, file="x", bytes=1, sum="", books=1, entries=1)
    backup_log.write(backup_log.Log(kept=(one,), tried=made))
    # Half past twelve in Chicago, six hours behind, on the second day after.
    due = datetime(2026, 11, 4, 18, 30, tzinfo=UTC)
    for at, is_due, is_late in (
        (due - timedelta(minutes=1), False, False),
        (due, True, False),
        (datetime(2026, 11, 6, 5, 59, tzinfo=UTC), True, False),
        (datetime(2026, 11, 6, 6, 1, tzinfo=UTC), True, True),
    ):
        found = backup_rules.standing(at)
        assert (found.is_due, found.is_late) == (is_due, is_late), at
    # A stick that was not there is looked for again in an hour, not every minute.
    backup_log.write(backup_log.Log(kept=(one,), tried=due, why="There is no folder."))
    assert not backup_rules.standing(due + timedelta(minutes=59)).is_due
    assert backup_rules.standing(due + timedelta(minutes=61)).is_due


@pytest.mark.parametrize(
    ("written", "sentence"),
    [
        ("keep = 1", r'"keep" is 1; it is 2 or more'),
        ('at = "noon"', r'"noon" is not a time\. Write "08:00"\.'),
        ("every_days = 0.5", r'"every_days" '),
        ("often = 3", r'"often"'),
    ],
)
def test_a_rule_that_cannot_be_is_refused(written, sentence):
    from rehang.sheets.toml_text import read_toml, where_in
    from rehang.trade.facts.shop_file import shop_from
    from rehang.trade.terms.errors import BadInput

    text = f'format = 1\nshop = "Shed"\ntimezone = "UTC"\n[backup]\n{written}\n'
    with pytest.raises(BadInput, match=sentence):
        shop_from(read_toml("shop.toml", text), where_in("shop.toml", text))


# ---------------------------------------------------------------- PostgreSQL


@pytest.mark.postgres
@pytest.mark.slow
def test_a_shop_moves_from_sqlite_to_postgresql_and_back_with_its_chains_whole(
    shop, kept, postgres_url, tmp_path
):
    import psycopg

    with psycopg.connect(postgres_url, autocommit=True) as held:
        held.execute("CREATE DATABASE moved")
    there = {"REHANG_DATABASE_URL": f"{postgres_url.rpartition('/')[0]}/moved"}

    def in_postgres(*words: object) -> CompletedProcess[str]:
        return rehang(*words, data=tmp_path / "pg", env=there)

    moved = in_postgres("restore", kept)
    assert moved.returncode == 0, moved.stderr
    whole = in_postgres("verify", "--against", kept)
    assert whole.stdout.endswith("The book: whole.\n"), whole.stdout
    assert in_postgres("restore", kept).stderr.startswith("The ")
    # Work goes on: numbers that the rows brought along are not given again.
    again = in_postgres("demo")
    assert again.returncode == 0, again.stderr
    (tmp_path / "stick").mkdir()
    made = in_postgres("backup", tmp_path / "stick")
    assert made.returncode == 0, made.stderr
    (file,) = (tmp_path / "stick").iterdir()
    drilled = in_postgres("drill", file, "--sample", "50")
    assert drilled.returncode == 0, drilled.stdout
    assert rehang("restore", file, data=tmp_path / "back").returncode == 0
    assert rehang("verify", "--against", kept, data=tmp_path / "back").stdout.endswith("whole.\n")
