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
    # The inner run chooses its own settings and data folder.
    own = {k: v for k, v in os.environ.items() if k != "DJANGO_SETTINGS_MODULE"}
    done = subprocess.run(
        [
            sys.executable, "-m", "pytest", "tests/book", "-q", "-p", "no:cacheprovider",
            "-m", "django_db and not slow and not postgres", "--deselect", "tests/book/test_site.py",
        ],
        cwd=ROOT,
        env=own | {"REHANG_DATABASE_URL": postgres_url},
        capture_output=True,
        text=True,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout[-4000:] + done.stderr[-2000:]
    assert " passed" in done.stdout
