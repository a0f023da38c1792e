"""The icon that opens the bench, whatever stands in the paths of the machine."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path, PureWindowsPath

import pytest

from rehang.cli import shortcut
from rehang.cli.main import main

ODD = [
    "plain",
    "two words",
    "it's",
    'a "word"',
    "$HOME and `date`",
    "50 %",
    "back\\slash",
    "für Älteste",
]


@pytest.mark.parametrize("odd", ODD)
def test_linux_runs_the_words_that_were_meant(odd, tmp_path):
    """The rules for quoting are those of a shell's double quotes: a shell reads them back."""
    text = shortcut.desktop_text(f"/opt/{odd}/python", Path("/data", odd), tmp_path / "icon.png")
    line = re.search(r"^Exec=(.+)$", text, re.MULTILINE)[1]
    # As a string of the file is read, and then its codes: %% is one percent sign.
    words = line.replace("\\\\", "\\").replace("%%", "%")
    told = subprocess.run(
        ["sh", "-c", f"printf '%s\\n' {words}"], capture_output=True, text=True, check=True
    )
    assert told.stdout.splitlines() == [
        "env", f"REHANG_DATA=/data/{odd}", f"/opt/{odd}/python", "-m", "rehang", "bench",
    ]  # fmt: skip


@pytest.mark.parametrize("odd", ODD)
def test_macos_runs_the_words_that_were_meant(odd, tmp_path):
    python = tmp_path / odd / "python"
    python.parent.mkdir()
    python.write_text('#!/bin/sh\necho "$REHANG_DATA|$*"\n')
    python.chmod(0o755)
    made = tmp_path / "Rehang.command"
    made.write_text(shortcut.command_text(str(python), tmp_path / odd))
    told = subprocess.run(["sh", made], capture_output=True, text=True, check=True)
    assert told.stdout == f"{tmp_path / odd}|-m rehang bench\n"


def test_windows_opens_a_file_of_lines_that_windows_reads():
    text = shortcut.cmd_text(r"C:\50 %\python.exe", PureWindowsPath(r"D:\shop's %TEMP% books"))
    assert text.split("\r\n") == [
        "@echo off",
        "chcp 65001 >nul",
        "title Rehang",
        """set "REHANG_DATA=D:\\shop's %%TEMP%% books\"""",
        r'"C:\50 %%\python.exe" -m rehang bench',
        "if errorlevel 1 pause",
        "",
    ]


@pytest.mark.skipif(sys.platform != "linux", reason="Where Linux lists its programs.")
def test_it_stands_among_the_programs_and_on_the_desktop(tmp_path, monkeypatch, capsys):
    for name, folder in {
        "HOME": "",
        "XDG_DATA_HOME": "share",
        "REHANG_DATA": "books",
        "PATH": "none",
    }.items():
        monkeypatch.setenv(name, str(tmp_path / folder))
    (tmp_path / "Desktop").mkdir()
    with pytest.raises(SystemExit, match=r"^0$"):
        main(["shortcut"])
    made = [tmp_path / "share/applications/rehang.desktop", tmp_path / "Desktop/rehang.desktop"]
    assert capsys.readouterr().out.splitlines() == [
        *(f"Made {one}" for one in made),
        f"It opens the books in {tmp_path / 'books'}",
    ]
    assert made[0].read_text() == made[1].read_text()
    assert (tmp_path / "books/rehang.png").read_bytes().startswith(b"\x89PNG")


def test_a_folder_that_is_not_there_is_said(tmp_path, capsys):
    with pytest.raises(SystemExit, match=r"^1$"):
        main(["shortcut", "--to", str(tmp_path / "gone")])
    assert capsys.readouterr().err == (
        f"There is no folder {tmp_path / 'gone'}. Make it first, or leave --to away.\n"
    )
