"""A process that works aside says what it found, and ends with whoever asked for it."""

from __future__ import annotations

import os
import time
from collections.abc import Callable

from rehang.book.aside import run_aside
from rehang.book.holding import is_held
from tests.started import Program

ANSWERS = "import sys; from rehang.book.aside import asked; print(asked().decode()[::-1]); sys.exit({code})"
# It holds a file, then works for ever.
WORKS_ON = """
import sys
from pathlib import Path
from rehang.book.aside import asked
from rehang.book.holding import hold
asked()
held = hold(Path(sys.argv[1]))
while True:
    pass
"""
ASKS = """
import sys
from pathlib import Path
from rehang.book.aside import run_aside
run_aside(["-c", *sys.argv[1:]], data=Path.cwd())
"""


def test_it_is_told_and_answers(tmp_path):
    done = run_aside(["-c", ANSWERS.format(code=3)], data=tmp_path, said=b"tappet\n" * 20_000)
    assert done.stdout.decode() == "\n" + "\n".join(["teppat"] * 20_000) + "\n"
    assert done.returncode == 3


def test_one_that_falls_before_it_reads_says_why(tmp_path):
    done = run_aside(["-c", "raise SystemExit('no book')"], data=tmp_path, said=b"x" * 1_000_000)
    assert (done.returncode, done.stderr) == (1, b"no book\n")


def test_it_ends_with_the_one_that_asked(tmp_path):
    at_work = tmp_path / "at-work"
    asking = Program(ASKS, WORKS_ON, str(at_work), env=os.environ)
    assert _in_time(lambda: is_held(at_work))
    asking.kill()
    assert _in_time(lambda: not is_held(at_work))


def _in_time(holds: Callable[[], bool]) -> bool:
    end = time.monotonic() + 60
    while not (held := holds()) and time.monotonic() < end:
        time.sleep(0.02)
    return held
