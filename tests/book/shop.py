"""The trade tests' small shop as a stored job: folders and entries to write in it."""

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

from rehang.sheets.folder import JobFolder, parse_files
from rehang.trade.terms.entries import Entry, new_entry
from tests.trade import cast

# When the book keeps what is written in these tests: the bench day is 2 November 2026.
KEPT = datetime(2026, 11, 2, 20, 0, tzinfo=UTC)


def folder(name: str = "case", entries: Sequence[Entry] = (), **files: str) -> JobFolder:
    """A job folder as it would be read; ``limits=...`` changes the text of a file."""
    texts = dict(cast.FILES) | {f"{key}.toml": text for key, text in files.items()}
    texts["engine.toml"] = texts["engine.toml"].replace('job = "case"', f'job = "{name}"')
    return JobFolder(
        name=name,
        files=texts,
        entries=tuple(entries),
        facts=parse_files(texts, name),
        where={entry.id: f"book.jsonl, line {n}" for n, entry in enumerate(entries, start=1)},
        notices=(),
    )


def entry(kind: str, entry_id: str = "", *, by: str = "ada", minute: int = 0, **data) -> Entry:
    return new_entry(kind, at=cast.START + timedelta(minutes=minute), by=by, id=entry_id, **data)


def removed(serial: str = "P1", place: str = "1T", entry_id: str = "") -> Entry:
    return entry(
        "removed", entry_id or f"removed-{serial}", item=f"plug:{serial}", place=place, hours=400.3
    )


def ohms(entry_id: str, written: str = "1.2 kohm", *, minute: int = 0, **data) -> Entry:
    fields = {
        "item": "plug:P1",
        "place": "1T",
        "check": "resistance",
        "meter": "DM",
        "range": "20k",
    }
    return entry("reading", entry_id, minute=minute, **(fields | {"written": written} | data))


def note(entry_id: str, text: str = "Washed the tray.", **data) -> Entry:
    return entry("note", entry_id, text=text, **data)
