"""What is left of damaged books: every entry whose hash holds is written out, and what is lost is named."""

from __future__ import annotations

import random
import shutil
import tarfile
import zipfile
from pathlib import Path

import pytest

from rehang.cli.main import app
from rehang.sheets.folder import BOOK, read_folder
from rehang.sheets.salvage import AFTER_GAP, REPORT, salvage, write_salvaged
from rehang.trade.terms.chain import seal_hash
from rehang.trade.terms.entries import parse_line

DATA = Path(__file__).resolve().parents[1] / "data"
JOB = "tv4-2207-finished"


@pytest.fixture(scope="module")
def kept(tmp_path_factory) -> Path:
    """``data``, ``shop`` and ``archive``, as the version of November 2026 wrote them."""
    place = tmp_path_factory.mktemp("kept")
    with tarfile.open(DATA / "kept-2026-11.tar.xz") as packed:
        packed.extractall(place, filter="data")
    return place


@pytest.fixture(scope="module")
def books(kept) -> dict[str, list[str]]:
    """The lines of each book as they were saved."""
    return {
        one.parent.name: one.read_text("utf-8").splitlines()
        for one in (kept / "shop").glob(f"*/{BOOK}")
    }


def lines_of(folder: Path) -> list[str]:
    return [
        line
        for name in (BOOK, AFTER_GAP)
        if (folder / name).is_file()
        for line in (folder / name).read_text("utf-8").splitlines()
    ]


def out(what: Path, into: Path) -> tuple[dict[str, list[str]], list[str], bool]:
    """The lines written out of each book, what was said, and whether it was told to be all."""
    found = salvage(what)
    said = write_salvaged(found, into)
    assert (into / REPORT).read_text("utf-8").splitlines() == said
    return {one.name: lines_of(one) for one in into.iterdir() if one.is_dir()}, said, found.is_all


@pytest.mark.parametrize("what", ["data", "shop"])
def test_whole_books_come_out_line_for_line(kept, books, tmp_path, what):
    found, said, is_all = out(kept / what, tmp_path / "out")
    assert is_all
    assert found == books
    assert len(said) == len(books)
    for name in books:
        assert read_folder(tmp_path / "out" / name).entries


def test_of_a_database_with_pages_overwritten_every_line_that_is_left_comes_out(
    kept, books, tmp_path
):
    drawn = random.Random(16)  # noqa: S311 - the same pages each time
    whole = (kept / "data" / "rehang.sqlite3").read_bytes()
    log = kept / "data" / "rehang.sqlite3-wal"
    assert not log.is_file() or not log.stat().st_size
    for number in range(4):
        data = bytearray(whole)
        for page in drawn.sample(range(len(whole) // 4096), 25):
            data[page * 4096 : page * 4096 + 4096] = drawn.randbytes(4096)
        (tmp_path / "rehang.sqlite3").write_bytes(data)
        found, said, is_all = out(tmp_path / "rehang.sqlite3", tmp_path / f"out{number}")
        assert not is_all
        every = {line for lines in books.values() for line in lines}
        got = [line for lines in found.values() for line in lines]
        # Nothing is made up, and nothing comes twice.
        assert set(got) <= every and len(got) == len(set(got))
        # A line lies on one page, or on a few; 25 of some 450 pages take no more than a part.
        assert len(got) > 0.75 * len(every)
        # Every line that is whole on the disk by its own words is among them.
        left = [line for line in every if _body(line) in bytes(data) and len(line) < 1_500]
        assert len(set(left) - set(got)) < 0.05 * len(left)
        lost = len(every) - len(got)
        assert lost > 0 and any("missing or damaged: " in one for one in said)


def _body(line: str) -> bytes:
    from rehang.trade.terms.entries import canonical

    return canonical(parse_line(line, "").content()).encode()


def test_without_its_head_and_half_cut_off_a_database_still_gives_its_lines(kept, books, tmp_path):
    whole = (kept / "data" / "rehang.sqlite3").read_bytes()
    (tmp_path / "rehang.sqlite3").write_bytes(b"\0" * 4096 + whole[4096 : len(whole) * 3 // 4])
    found, _, is_all = out(tmp_path / "rehang.sqlite3", tmp_path / "out")
    assert not is_all
    assert {line for lines in found.values() for line in lines} < {
        line for lines in books.values() for line in lines
    }
    assert sum(map(len, found.values())) > 100


@pytest.mark.parametrize("damage", ["byte", "line", "half"])
def test_of_a_damaged_folder_the_other_lines_come_out_and_the_lost_ones_are_named(
    kept, books, tmp_path, damage
):
    job = Path(shutil.copytree(kept / "shop" / JOB, tmp_path / JOB))
    lines = list(books[JOB])
    if damage == "byte":
        lines[40] = lines[40].replace("2026", "2025", 1)
    elif damage == "line":
        lines[40:43] = ["\0\0\0"]
    else:
        lines = [*lines[:300], lines[300][:50]]
    (job / BOOK).write_bytes("\n".join([*lines, ""]).encode())
    found, said, is_all = out(job, tmp_path / "out")
    assert not is_all
    lost = {"byte": range(40, 41), "line": range(40, 43), "half": range(300, len(books[JOB]))}[
        damage
    ]
    assert found[JOB] == [line for n, line in enumerate(books[JOB]) if n not in lost]
    told = {
        "byte": f"{len(books[JOB]) - 1} entries hold of {len(books[JOB])}; missing or damaged: 41.",
        "line": f"{len(books[JOB]) - 3} entries hold of {len(books[JOB])}; missing or damaged: 41 to 43.",
        "half": "all 300 entries up to the last that was found hold.",
    }[damage]
    assert any(told in one for one in said), said
    assert (
        f"{JOB}/{BOOK}, line {301 if damage == 'half' else 41}: It cannot be read, or its hash does not hold."
        in said
    )
    # What stands before the gap is a folder that loads.
    assert len(read_folder(tmp_path / "out" / JOB).entries) == (300 if damage == "half" else 40)


@pytest.mark.parametrize("cut", [0.4, 0.97])
def test_of_a_backup_that_breaks_off_what_came_before_comes_out(kept, books, tmp_path, cut):
    with zipfile.ZipFile(tmp_path / "whole.zip", "w", zipfile.ZIP_DEFLATED) as made:
        made.write(kept / "data" / "rehang.sqlite3", "rehang.sqlite3")
        made.writestr("backup.json", "{}")
    data = (tmp_path / "whole.zip").read_bytes()
    (tmp_path / "cut.zip").write_bytes(data[: int(len(data) * cut)])
    found, said, is_all = out(tmp_path / "cut.zip", tmp_path / "out")
    assert not is_all
    assert "cut.zip, rehang.sqlite3: It breaks off, or a part of it is damaged." in said
    got = {line for lines in found.values() for line in lines}
    every = {line for lines in books.values() for line in lines}
    assert got <= every and (cut > 0.9 or got != every)
    assert len(got) > 100


def test_a_line_made_up_with_a_hash_of_another_is_not_written_out(kept, books, tmp_path):
    job = Path(shutil.copytree(kept / "shop" / JOB, tmp_path / JOB))
    entry = parse_line(books[JOB][10], "")
    assert seal_hash(entry, seq=entry.seq, kept=entry.kept, prev=entry.prev) == entry.hash
    forged = books[JOB][10].replace(entry.by, "nobody", 1)
    (job / BOOK).write_text("\n".join([*books[JOB][:10], forged, ""]), "utf-8")
    found, _, is_all = out(job, tmp_path / "out")
    assert (found[JOB], is_all) == (books[JOB][:10], False)


def test_the_command_writes_a_folder_that_is_not_there_yet_or_nothing(kept, tmp_path, capsys):
    done = app(
        ["salvage", str(kept / "shop" / JOB), str(tmp_path / "out")], result_action="return_value"
    )
    assert done == 0
    assert f"{JOB}: all " in capsys.readouterr().out
    from rehang.trade.terms.errors import BadInput

    with pytest.raises(BadInput, match=r"out is not empty\."):
        app(
            ["salvage", str(kept / "shop" / JOB), str(tmp_path / "out")],
            result_action="return_value",
        )
    with pytest.raises(BadInput, match=r"^There is no .*gone\.$"):
        app(
            ["salvage", str(tmp_path / "gone"), str(tmp_path / "new")], result_action="return_value"
        )
    assert not (tmp_path / "new").exists()
