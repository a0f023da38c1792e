"""The tutorial is followed to the letter: its files are made, its commands are run."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

PAGE = Path(__file__).parents[2] / "docs" / "tutorial" / "judge-your-own-tray.md"


def _folder(base: Path) -> Path:
    folder = base / "my-tray"
    folder.mkdir()
    text = PAGE.read_text("utf-8")
    files = dict(
        re.findall(r"[Ss]ave this as `([a-z.]+)`[^\n]*\n\n```\w+\n(.*?)```", text, flags=re.DOTALL)
    )
    assert set(files) == {"engine.toml", "people.toml", "limits.toml", "meters.toml", "tray.txt"}
    for name, body in files.items():
        (folder / name).write_text(body, "utf-8")
    (folder / "book.jsonl").write_text("")
    return folder


def _rehang(*arguments: str, inside: Path) -> subprocess.CompletedProcess[str]:
    code = "import sys; from rehang.cli.main import main; main(sys.argv[1:])"
    return subprocess.run(
        [sys.executable, "-c", code, *arguments],
        capture_output=True,
        text=True,
        check=False,
        cwd=inside,
    )


def test_tutorial_gives_the_verdicts_it_promises(tmp_path):
    _folder(tmp_path)
    said = _rehang("check", "my-tray", "--all", inside=tmp_path)
    assert said.returncode == 0, said.stderr
    verdicts = dict(re.findall(r"^\d[TB]\s+(P\d)\s+([A-Z ]+)$", said.stdout, flags=re.MULTILINE))
    assert verdicts == {
        "P1": "KEEP",
        "P2": "KEEP",
        "P3": "KEEP",
        "P4": "NOT YET",
        "P5": "KEEP",
        "P6": "REWORK",
        "P7": "REWORK",
        "P8": "NOT YET",
    }
    assert "clean contact" in said.stdout


def test_sealed_tutorial_folder_verifies_clean_and_a_changed_byte_is_found(tmp_path):
    folder = _folder(tmp_path)
    assert _rehang("seal", "my-tray", inside=tmp_path).returncode == 0
    before = _rehang("check", "my-tray", inside=tmp_path).stdout
    assert "P7" in before
    assert _rehang("verify", "my-tray", inside=tmp_path).returncode == 0
    book = folder / "book.jsonl"
    book.write_text(book.read_text("utf-8").replace("4.97", "4.57"), "utf-8")
    found = _rehang("verify", "my-tray", inside=tmp_path)
    assert found.returncode == 1
    assert "has been changed since it was kept" in found.stdout
