"""The small shop's job stored, with a data folder of each test's own."""

import pytest

from tests.book.conftest import _nothing_remembered, append, job

__all__ = ["_nothing_remembered", "append", "job"]


@pytest.fixture(autouse=True)
def photo_folder(settings, tmp_path):
    """Where the photos lie."""
    settings.REHANG_DATA = tmp_path / "data"
    return tmp_path / "data" / "photos"
