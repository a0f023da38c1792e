"""A stored job to write in: the trade tests' small shop, with one plug out of 1T."""

from datetime import UTC, datetime, timedelta

import pytest

from rehang.book import queries, services
from rehang.sheets import demo_path
from rehang.sheets.folder import JobFolder, read_folder
from rehang.trade.entries import Entry, new_entry
from tests.trade import cast

# When the book keeps what is written in these tests: the bench day is 2 November 2026.
KEPT = datetime(2026, 11, 2, 20, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def _nothing_remembered():
    """Each test reads its own tables, not what an earlier one left in the process."""
    queries.forget()


@pytest.fixture(autouse=True)
def _quick_passwords(settings):
    # Argon2 takes a fifth of a second, which is its purpose and not the matter of a test.
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


def folder(name: str = "case", entries: tuple[Entry, ...] | list[Entry] = (), **files: str):
    """A job folder as it would be read, of the small shop."""
    texts = dict(cast.FILES) | {f"{key}.toml": text for key, text in files.items()}
    texts["engine.toml"] = texts["engine.toml"].replace('job = "case"', f'job = "{name}"')
    from rehang.sheets.folder import parse_files

    return JobFolder(
        name=name,
        files=texts,
        entries=tuple(entries),
        facts=parse_files(texts, name),
        where={entry.id: f"book.jsonl, line {n}" for n, entry in enumerate(entries, start=1)},
        notices=(),
    )


def entry(kind: str, id: str = "", *, by: str = "ada", minute: int = 0, **data) -> Entry:
    return new_entry(kind, at=cast.START + timedelta(minutes=minute), by=by, id=id, **data)


def ohms(id: str, written: str = "1.2 kohm", **data) -> Entry:
    fields = {"item": "plug:P1", "place": "1T", "check": "resistance", "meter": "DM", "range": "20k"}
    return entry("reading", id, **(fields | {"written": written} | data))


def note(id: str, text: str = "Washed the tray.", **data) -> Entry:
    return entry("note", id, text=text, **data)


@pytest.fixture
def job(db):
    removed = entry("removed", "case-removed", item="plug:P1", place="1T", hours=400.3)
    return services.load_folder(folder=folder(entries=[removed]), by="ada", at=KEPT)


@pytest.fixture(scope="session")
def demo_folder() -> JobFolder:
    return read_folder(demo_path())


@pytest.fixture
def demo(db, demo_folder):
    return services.load_folder(folder=demo_folder, by="marta", at=KEPT)


@pytest.fixture
def append(job):
    """Append to the stored job, as Ada unless the entries say otherwise."""

    def add(*entries: Entry, at: datetime = KEPT, by: str = ""):
        return services.append(
            job=job, entries=entries, by=by or (entries[0].by if entries else "ada"), at=at
        )

    return add
