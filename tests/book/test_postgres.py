"""The same tests of the book, on PostgreSQL."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.mark.postgres
@pytest.mark.slow
def test_the_tests_of_the_book_hold_on_postgresql(postgres_url):
    done = subprocess.run(
        [
            sys.executable, "-m", "pytest", "tests/book", "-q", "-p", "no:cacheprovider",
            "-m", "not slow and not postgres", "--deselect", "tests/book/test_site.py",
        ],
        cwd=ROOT,
        env=os.environ | {"REHANG_DATABASE_URL": postgres_url},
        capture_output=True,
        text=True,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout[-4000:] + done.stderr[-2000:]
    assert " passed" in done.stdout
