"""A folder as it is typed by hand: whatever is wrong in it is one sentence with file and line."""

import os
import re
import shutil

import pytest

from bench.typed import all_typed
from rehang.cli import main as cli
from rehang.sheets import demo_path
from rehang.sheets.folder import read_folder
from rehang.trade.terms.errors import BadInput

CURLY = (
    "There is a curly quote (\u201c) here. Write straight ones: turn smart quotes off in the editor, "
    'or type ".'
)
QUOTE = 'A quote is missing here. Text stands between two quotes, as in name = "Ada Quist".'
MARK = (
    "The file begins with a byte order mark, which an editor put there unseen. Save it as UTF-8 "
    "without one (without BOM)."
)
BEYOND = "A number or brackets here are beyond all reading. Write it again."
LINE = '{"id":"typed-1","kind":"note","at":"2026-11-01T00:00:00+00:00","by":"marta","text":%s}\n'
CHECKS = (demo_path().parent / "checks" / "plug.toml").read_text("utf-8")


@pytest.fixture
def folder(tmp_path):
    there = tmp_path / "job"
    shutil.copytree(demo_path(), there)
    (there / "contents.toml").unlink()
    return there


def sentence(folder) -> str:
    """Why a folder is refused, its line left open."""
    with pytest.raises(BadInput, match=r"^[a-z]+\.(toml|jsonl|txt)(, line \d+)?: ") as refused:
        read_folder(folder)
    return re.sub(r", line \d+: ", ", line N: ", str(refused.value))


SWAPS = [
    ("engine.toml", '"', "\u201c", f"engine.toml, line N: {CURLY}"),
    ("people.toml", r'name = "([^"]*)"', r'name = "\1', f"people.toml, line N: {QUOTE}"),
    ("people.toml", r'name = "([^"]*)"', r"name = \1", f"people.toml, line N: {QUOTE}"),
    ("people.toml", r'name = "([^"]*)"', r'name = \1"', f"people.toml, line N: {QUOTE}"),
    (
        "engine.toml", r"removed_on = .*", "removed_on = 11/01/2026",
        "engine.toml, line N: 11/01/2026 is not a date here. Write year, month and day, as in "
        "2026-11-01.",
    ),
    ("engine.toml", r"\A", "\ufeff", f"engine.toml, line N: {MARK}"),
    ("book.jsonl", r"\A", "\ufeff", f"book.jsonl, line N: {MARK}"),
    ("limits.toml", r"\Z", f"\nx = {'9' * 5_000}", f"limits.toml, line N: {BEYOND}"),
    ("limits.toml", r"\Z", f"\nx = {'[' * 100_000}", f"limits.toml, line N: {BEYOND}"),
    ("engine.toml", r"title = .*", "title = 3", 'engine.toml, line N: "title" is 3; it must be text.'),
    (
        "engine.toml", r"timezone = .*", 'timezone = "America"',
        'engine.toml, line N: "America" is not a time zone. Write one as in America/Chicago or UTC.',
    ),
    ("book.jsonl", r"\Z", LINE % "\u201ca\u201d", f"book.jsonl, line N: {CURLY}"),
    (
        "book.jsonl", r"\Z", LINE % r'"\\ud800"',
        "book.jsonl, line N: The entry has half a character in it. Type the text again.",
    ),
    (
        "book.jsonl", r"\Z", LINE % '"a","seq":"x"',
        'book.jsonl, line N: The seal of this entry is not one: "seq" is a number, "prev" and "hash" '
        "are text. Copy the book again.",
    ),
    (
        "tray.txt", r"\Z", "on 2026-11-02\nby marta\npsi \u00b2\n",
        'tray.txt, line N: "\u00b2" is not a pressure. Write whole psi, as in psi 100.',
    ),
    (
        "tray.txt", r"\Z", "on 9999-12-31\nby marta\nplugs A1 - - - - - - -\n",
        'tray.txt, line N: "on" is in the year 9999. Look at the digits again.',
    ),
    (
        "tray.txt", r"\Z", f"on 2026-11-02\nby marta\nhours {'9' * 500}\n",
        f'tray.txt, line N: "{"9" * 60}" is not a number of hours. Write it as in hours 412.5.',
    ),
    (
        "contents.toml", r"\Z", "file = 3\n",
        "contents.toml: The list of contents is no list. Copy it again.",
    ),
    (
        "contents.toml", r"\Z", f'[[file]]\nname = "{"a" * 5_000}"\nbytes = 1\n',
        "contents.toml, line N: This is not a line of the list of contents. Copy it again.",
    ),
    (
        "engine.toml", r'from = "08:00"', 'from = "08:00+02:00"',
        'engine.toml, line N: "08:00+02:00" has an offset, and the shop goes by its own clock. '
        'Write "08:00".',
    ),
    (
        "checks.toml", r"\Z",
        f'{CHECKS}\n[[check.choice]]\nletter = "a"\nword = "b"\na = 3\n',
        'checks.toml, line N: A choice has no "a". It has high, letter, low, word.',
    ),
    (
        "checks.toml", r"\Z", f'{CHECKS}\n[[word]]\nname = "zzz"\nseverity = 1\n',
        'checks.toml, line N: This word needs "label". Write it below.',
    ),
    (
        "checks.toml", r"\Z",
        f'{CHECKS}\n[[word]]\nname = "zzz"\nlabel = "Z"\nseverity = []\n',
        'checks.toml, line N: This word needs "severity". Write it below.',
    ),
    (
        "checks.toml", r"\Z",
        f'{CHECKS}\n[[check]]\nname = "zzz"\nlabel = "Z"\nletter = "zz"\nkind = "measure"\n',
        'checks.toml, line N: This check needs "quantity". Write it below.',
    ),
    (
        "checks.toml", r"\Z",
        f'{CHECKS}\n[[word]]\nname = "z"\nlabel = "Z"\nseverity = 1\nopens_closed_by = ["x"]\n',
        'checks.toml, line N: "opens_closed_by" is "x". Write one of look, found.',
    ),
]  # fmt: skip


@pytest.mark.parametrize(("name", "old", "new", "said"), SWAPS)
def test_a_slip_of_the_hand_has_its_own_sentence(folder, name, old, new, said):
    file = folder / name
    text = file.read_text("utf-8") if file.exists() else ""
    file.write_text(re.sub(old, new, text, count=1) if old[0] != "\\" else
                    (new + text if old == r"\A" else text + new.replace(r"\\u", r"\u")), "utf-8")  # fmt: skip
    assert sentence(folder) == said


def _fifo(path):
    os.mkfifo(path)


def _device(path):
    path.symlink_to("/dev/null")


def _nowhere(path):
    path.symlink_to("/nowhere/at/all")


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda path: path.mkdir(), "This is a folder, and a file has that name here. Give the folder another name."),
        (_fifo, "This is a pipe or a device. Put the file itself here."),
        (_device, "This is a pipe or a device. Put the file itself here."),
        (_nowhere, "The file cannot be read: No such file or directory. Put it right, or copy it again."),
    ],
)  # fmt: skip
@pytest.mark.parametrize("command", ["check", "seal", "load"])
def test_what_is_no_file_is_said_by_every_command(folder, make, said, command, monkeypatch):
    monkeypatch.setattr(cli, "_book", lambda: pytest.fail("the folder is read first"))
    make(folder / "tasks.toml")
    with pytest.raises(BadInput, match=f"^tasks\\.toml: {re.escape(said)}$"):
        cli.app([command, str(folder)], result_action="return_value")


def test_a_sample_of_all_values_at_all_keys_is_taken_or_refused_with_its_place():
    """All of them: ``python -m bench.typed``."""
    tried = list(all_typed(each=False, every=151, first=7))
    assert [str(one) for one in tried if one.crash] == []
    assert {one.taken for one in tried} == {True, False}
