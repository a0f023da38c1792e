"""What there is to do in a checkout: by make, and without it."""

from __future__ import annotations

import os
import re

import pytest
import tasks


def test_make_knows_each_task_and_no_other():
    makefile = (tasks.ROOT / "Makefile").read_text("utf-8")
    named = re.search(r"^TASKS +:= (.+)$", makefile, re.MULTILINE)
    assert named is not None
    assert set(named[1].split()) == {"help", *tasks._TASKS}


@pytest.mark.parametrize(
    ("words", "end"), [([], "^0$"), (["--help"], "^0$"), (["tset"], "There is no tset to do.")]
)
def test_what_there_is_is_said(words, end, capsys):
    with pytest.raises(SystemExit, match=end):
        tasks.main(words)
    assert capsys.readouterr().out.count("\n") == 1 + len(tasks._TASKS)


def test_words_behind_a_task_go_on_to_its_program(monkeypatch):
    called = []
    monkeypatch.setattr(tasks, "call", lambda *words, **_: called.append(words))
    monkeypatch.setattr(tasks, "setup", lambda rest: None)
    monkeypatch.setenv("ARGS", "--lf -m 'not browser'")
    monkeypatch.setenv("CORES", "3")
    tasks.main(["quick", "-k", "torque"])
    assert called == [
        ("-m", "pytest", "-n", "3", "-q", "-m", "not browser and not postgres and not slow",
         "-k", "torque", "--lf", "-m", "not browser"),
    ]  # fmt: skip


def test_what_is_installed_is_installed_again_when_a_lock_is_newer(monkeypatch, tmp_path):
    called = []
    monkeypatch.setattr(tasks, "call", lambda *words, **_: called.append(words))
    monkeypatch.setattr(tasks, "ROOT", tmp_path)
    monkeypatch.setattr(tasks, "VENV", tmp_path)
    lock = tmp_path / "base.lock"
    lock.write_text("")

    def times() -> int:
        tasks.install("base.lock", name=".stamp", of=["base.lock"])
        return len(called)

    assert [times(), times()] == [2, 2]
    later = lock.stat().st_mtime + 10
    os.utime(lock, (later, later))
    assert times() == 4
    assert called[0][-4:] == ("--only-binary", ":all:", "-r", "base.lock")
