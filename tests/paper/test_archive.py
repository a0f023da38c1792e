"""A job kept for the inspector in ten years: it opens without this program and shows a changed byte."""

from __future__ import annotations

import io
import random
import re
import subprocess
import zipfile
from datetime import UTC, datetime
from pathlib import Path

import pytest

from rehang.paper.archive import PAGE, archive_files, as_zip, write_archive
from rehang.sheets import demo_path
from rehang.sheets.folder import read_folder, seal_all
from rehang.sheets.sums import SUMS, sums_problems
from rehang.sheets.whole import folder_checked
from rehang.trade.job.judging import judge
from rehang.trade.terms.entries import new_entry
from rehang.trade.terms.errors import BadInput

AT = datetime(2026, 11, 13, 15, 0, tzinfo=UTC)
PDF = {"tray-record.pdf": b"%PDF-1.7 stand-in\n"}


def files() -> dict[str, bytes]:
    folder = read_folder(demo_path())
    return archive_files(
        judge(folder.facts, folder.entries),
        files=folder.files,
        book=folder.entries,
        photos={},
        prints=PDF,
        written_at=AT,
    )


@pytest.fixture(scope="module")
def made() -> dict[str, bytes]:
    return files()


@pytest.fixture
def kept(tmp_path: Path, made: dict[str, bytes]) -> Path:
    write_archive(tmp_path / "kept", made)
    return tmp_path / "kept"


def test_folder_loads_back_exactly_and_both_checks_find_it_whole(kept):
    before, after = read_folder(demo_path()), read_folder(kept)
    assert after.entries == before.entries
    assert dict(after.files) == dict(before.files)
    assert folder_checked(kept).changed == []
    assert sums_problems(kept)[0] == []


def test_sums_are_those_that_the_usual_program_reads(kept):
    done = subprocess.run(
        ["sha256sum", "-c", SUMS], cwd=kept, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0
    assert "records/tray-record.pdf: OK" in done.stdout


def test_a_hundred_single_byte_changes_are_all_found(kept, made):
    dice = random.Random(20261113)  # noqa: S311 - a seed, so that a red run is red again
    names = sorted(name for name in made if name != SUMS)
    for _ in range(100):
        path = kept / dice.choice(names)
        whole = path.read_bytes()
        place = dice.randrange(len(whole))
        changed = bytes([whole[place] ^ (1 << dice.randrange(8))])
        path.write_bytes(whole[:place] + changed + whole[place + 1 :])
        assert sums_problems(kept)[0] != [], (path.name, place)
        path.write_bytes(whole)
    assert sums_problems(kept)[0] == []


def test_a_file_taken_away_or_put_there_is_said(kept):
    (kept / "stray.txt").write_text("x")
    (kept / "records" / "tray-record.pdf").unlink()
    assert sums_problems(kept)[0] == [
        "records/tray-record.pdf is listed and is not in the folder.",
        "stray.txt was not there when the folder was written.",
    ]


def test_list_that_points_outside_or_says_nothing_is_said(kept):
    (kept / SUMS).write_text(f"{'0' * 64}  ../outside\nnonsense\n")
    told = sums_problems(kept)[0]
    assert f"{SUMS}, line 1: ../outside lies outside the folder." in told
    assert f"{SUMS}, line 2: This is not a sum and a name." in told


def test_page_needs_no_script_and_nothing_from_anywhere(made):
    page = made[PAGE].decode()
    assert "<script" not in page
    assert re.findall(r"""(?:href|src)=["'](?!records/|photos/)""", page) == []
    assert "http" not in page
    # On a phone it is as wide as the phone, with words broken where they must be.
    assert 'name="viewport"' in page
    assert "overflow-wrap: anywhere" in page
    for words in ("K0412", "REJECT", "Marta Oduya", "UNSIGNED", "Invented job"):
        assert words in page


def test_what_a_person_wrote_is_shown_as_written():
    folder = read_folder(demo_path())
    words = "<b>5 & 6</b>"
    mine = new_entry("note", at=folder.entries[-1].at, by="marta", text=words)
    whole = seal_all([*folder.entries, mine])
    made = archive_files(
        judge(folder.facts, whole), files=folder.files, book=whole, photos={}, prints={}, written_at=AT
    )  # fmt: skip
    assert b"&lt;b&gt;5 &amp; 6&lt;/b&gt;" in made[PAGE]
    assert b"<b>5" not in made[PAGE]


def test_written_twice_it_is_the_same_to_the_byte_and_so_is_the_one_file(made):
    again = files()
    assert again == made
    one, two = as_zip(made, "kept"), as_zip(again, "kept")
    assert one == two
    with zipfile.ZipFile(io.BytesIO(one)) as archive:
        assert archive.testzip() is None
        assert sorted(archive.namelist()) == sorted(f"kept/{name}" for name in made)


def test_it_is_not_written_over_what_is_there(kept, made):
    with pytest.raises(BadInput, match=r"is not empty"):
        write_archive(kept, made)


def test_book_with_an_unsealed_entry_is_refused():
    folder = read_folder(demo_path())
    loose = new_entry("note", at=folder.entries[-1].at, by="marta", text="loose")
    with pytest.raises(BadInput, match=r"has no seal"):
        archive_files(
            judge(folder.facts, folder.entries),
            files=folder.files,
            book=[*folder.entries, loose],
            photos={},
            prints={},
            written_at=AT,
        )
