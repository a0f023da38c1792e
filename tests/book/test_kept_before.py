"""What earlier versions kept opens with this one: saved shops, archives, data folders, each job."""

from __future__ import annotations

import tarfile
from pathlib import Path
from subprocess import CompletedProcess

import pytest

from rehang.sheets.folder import read_folder
from rehang.trade.job.judging import judge
from tests import started

DATA = Path(__file__).resolve().parents[1] / "data"
KEPT = sorted(DATA.glob("kept-*.tar.xz"))
JOBS = ("r9-0037-2026", "sx6-0118-2026", "tv4-2207-2026", "tv4-2207-finished")


@pytest.fixture(scope="module", params=KEPT, ids=[one.stem for one in KEPT])
def kept(request, tmp_path_factory):
    place = tmp_path_factory.mktemp("kept")
    with tarfile.open(request.param) as packed:
        packed.extractall(place, filter="data")
    return place


def rehang(kept: Path, *words: str) -> CompletedProcess[str]:
    """The command in a process of its own, with the data folder that was kept."""
    return started.rehang(*words, data=kept / "data")


def test_a_backup_is_whole_and_comes_back(kept):
    file = kept / "backup.zip"
    if not file.is_file():
        pytest.skip("That version made no backups.")
    done = rehang(kept, "restore", str(file), "--dry-run")
    assert done.returncode == 0, done.stderr
    assert "2 books" in done.stdout and "1 photos" in done.stdout


def test_something_was_kept():
    assert KEPT


@pytest.mark.parametrize("what", ["shop", "archive"])
def test_what_was_saved_is_whole(kept, what):
    done = rehang(kept, "verify", str(kept / what))
    assert (done.returncode, done.stderr) == (0, ""), done.stdout


@pytest.mark.parametrize("job", JOBS)
def test_each_job_is_read_and_judged(kept, job):
    folder = read_folder(kept / "shop" / job)
    assert folder.entries
    assert judge(folder.facts, folder.entries).items


def test_a_data_folder_opens_and_its_books_are_whole(kept):
    done = rehang(kept, "verify")
    assert done.returncode == 0, done.stdout + done.stderr
    due = rehang(kept, "due", "tv4-2207-finished")
    assert due.returncode == 0, due.stderr
    assert "annual" in due.stdout.lower()
