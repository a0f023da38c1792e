"""Stored jobs for the tests of the book.

The book is imported inside the fixtures: this file may be read before Django is set up.
"""

import pytest

from rehang.sheets import demo_path
from rehang.sheets.folder import JobFolder, read_folder


@pytest.fixture(autouse=True)
def _nothing_remembered():
    """Each test reads its own tables, not what an earlier one left in the process."""
    from rehang.book import queries

    queries.forget()


@pytest.fixture
def job(db):
    """The small shop's job, with one plug out of 1T."""
    from rehang.book import services
    from tests.book import shop

    return services.load_folder(
        folder=shop.folder(entries=[shop.removed()]), by="ada", at=shop.KEPT
    )


@pytest.fixture(scope="session")
def demo_folder() -> JobFolder:
    return read_folder(demo_path())


@pytest.fixture
def demo(db, demo_folder):
    from rehang.book import services
    from tests.book import shop

    return services.load_folder(folder=demo_folder, by="marta", at=shop.KEPT)


@pytest.fixture
def append(job):
    """Append to the stored job as whoever wrote the first entry, unless told otherwise."""
    from rehang.book import services
    from tests.book import shop

    def add(*entries, at=shop.KEPT, by=""):
        who = by or (entries[0].by if entries else "ada")
        return services.append(job=job, entries=entries, by=who, at=at)

    return add
