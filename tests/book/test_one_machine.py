"""Two servers on one folder, a network drive, a clock behind the book: said at the start, in one sentence."""

from __future__ import annotations

import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from bench.live import environment, free_port
from rehang.book import checks, queries
from rehang.book.backup import _let_go
from rehang.book.checks import network_kind
from rehang.book.holding import SERVED, hold, holding, is_held, let_go, say
from rehang.book.tables import make_folder
from rehang.trade.terms.errors import Refused
from tests.started import COMMAND

MOUNTS = """\
/dev/sda1 / ext4 rw 0 0
tmpfs /run tmpfs rw 0 0
server:/export /srv nfs4 rw 0 0
/dev/sdb1 /srv/own ext4 rw 0 0
//box/share /media/the\\040shop cifs rw 0 0
/dev/sdc1 /media/stick vfat rw 0 0
short
"""


def test_a_folder_that_is_served_is_not_served_a_second_time(tmp_path):
    first = hold(tmp_path / SERVED)
    assert first is not None
    say(first, "http://127.0.0.1:8000/")
    done = subprocess.run(
        [sys.executable, "-c", COMMAND, "serve", "--port", str(free_port())],
        env=environment(tmp_path), capture_output=True, text=True,
    )  # fmt: skip
    assert (done.returncode, done.stdout) == (1, "")
    assert done.stderr == (
        "These books are served already, at http://127.0.0.1:8000/. Stop that one, or give this "
        "one a folder of its own with REHANG_DATA.\n"
    )
    let_go(first)


def test_what_a_killed_process_held_is_free(tmp_path):
    code = (
        "import sys, time, pathlib\nfrom rehang.book.holding import hold\n"
        "hold(pathlib.Path(sys.argv[1]))\nprint('held', flush=True)\ntime.sleep(60)"
    )
    other = subprocess.Popen(
        [sys.executable, "-c", code, str(tmp_path / "x")],
        env=environment(tmp_path),
        stdout=subprocess.PIPE,
    )
    assert other.stdout is not None
    other.stdout.readline()
    assert is_held(tmp_path / "x")
    with holding(tmp_path / "x") as mine:
        assert not mine
    other.kill()
    other.wait()
    other.stdout.close()
    assert not is_held(tmp_path / "x")


@pytest.mark.parametrize(
    ("folder", "kind"),
    [
        ("/home/ada/rehang", ""),
        ("/srv/rehang", "nfs4"),
        ("/srv/own/rehang", ""),
        ("/media/the shop/rehang", "cifs"),
        ("/media/stick", ""),
    ],
)
def test_a_network_drive_is_told_by_the_mount_that_a_folder_lies_on(folder, kind):
    assert network_kind(Path(folder), MOUNTS) == kind


def test_books_on_a_network_drive_are_not_opened(settings, tmp_path, monkeypatch):
    settings.REHANG_DATA = tmp_path / "books"
    monkeypatch.setattr(checks, "_mounts", lambda: f"server:/x {tmp_path} nfs rw 0 0\n")
    with pytest.raises(
        Refused,
        match=r"is on a network drive \(nfs\), where two machines could write at once and entries be lost\. "
        r"Copy it to a disk of this machine",
    ):
        make_folder()


@pytest.mark.django_db
def test_a_clock_behind_the_last_line_of_any_book_is_said(job):
    last = queries.entries(job)[-1].kept
    assert queries.clock_behind(last) == ""
    said = queries.clock_behind(last - timedelta(minutes=3))
    assert said.startswith("case: The clock here says ")
    assert "Set the clock of the machine that keeps the book right" in said


def test_a_backup_made_under_a_wrong_clock_does_not_push_the_new_one_out(tmp_path):
    for name in (
        "rehang-20990101T000000Z.zip",
        "rehang-20250101T000000Z.zip",
        "rehang-20250102T000000Z.zip",
    ):
        (tmp_path / name).write_bytes(b"x")
    new = tmp_path / f"rehang-{datetime(2026, 1, 1, tzinfo=UTC):%Y%m%dT%H%M%SZ}.zip"
    new.write_bytes(b"x")
    _let_go(new, 2)
    assert {one.name for one in tmp_path.iterdir()} == {new.name, "rehang-20990101T000000Z.zip"}


def test_rehang_alone_opens_the_bench_and_a_second_time_the_same_one(tmp_path):
    opened = tmp_path / "opened"
    # What stands for the browser notes the address that it is given.
    browser = tmp_path / "browser"
    browser.write_text(f'#!/bin/sh\necho "$1" >> {opened}\n')
    browser.chmod(0o755)
    env = environment(tmp_path / "data") | {"BROWSER": f"{browser} %s"}
    command = [
        sys.executable,
        "-c",
        f"import sys; sys.argv = ['rehang']; {COMMAND}",
    ]
    first = subprocess.Popen(
        command, env=env, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    try:
        assert first.stdout is not None
        said = first.stdout.readline()
        assert said.startswith("The bench is at http://127.0.0.1:"), said
        address = said.split()[4]
        second = subprocess.run(command, env=env, capture_output=True, text=True, timeout=120)
        assert (second.returncode, second.stdout) == (
            0,
            f"The bench is served already, at {address}\n",
        )
    finally:
        first.terminate()
        first.communicate()
    assert opened.read_text().split() == [address, address]
