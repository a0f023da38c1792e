"""The text of a book, ``book.jsonl``: its entries in a chain, each with its place."""

from __future__ import annotations

from collections.abc import Container, Iterable, Sequence

from rehang.trade.terms.aside import kept_line, set_aside
from rehang.trade.terms.bounds import check_sizes
from rehang.trade.terms.chain import GENESIS, chain_problems, seal
from rehang.trade.terms.entries import Entry, parse_line
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.kinds.shop import Unread

__all__ = ["BOOK", "book_text", "parse_book", "seal_all"]

BOOK = "book.jsonl"


def parse_book(text: str, people: Container[str]) -> tuple[list[Entry], dict[str, str]]:
    """The entries of ``book.jsonl`` and the place of each id in it."""
    entries: list[Entry] = []
    where: dict[str, str] = {}
    seen: dict[str, Entry] = {}
    if text and not text.endswith("\n"):
        last = len(text.splitlines())
        _torn(text.splitlines()[-1], f"{BOOK}, line {last}")
    for number, line in enumerate(text.split("\n"), start=1):
        if not line.strip():
            continue
        place = f"{BOOK}, line {number}"
        entry = _kept_or_typed(line, place)
        if entry.by not in people and not isinstance(entry.fields, Unread):
            raise BadInput(f'"{entry.by}" is not in the list of people.', place)
        if entry.id in seen:
            if seen[entry.id].content() != entry.content():
                raise BadInput(
                    f"The id {entry.id} already stands at {where[entry.id]} with other content. "
                    "Give this entry an id of its own.",
                    place,
                )
            continue
        seen[entry.id] = entry
        entries.append(entry)
        where[entry.id] = place
    sealed = [e for e in entries if e.is_sealed]
    if sealed:
        if entries[: len(sealed)] != sealed:
            raise BadInput(
                "An entry without a seal stands before a sealed one. "
                "Put what was typed by hand at the end.",
                where[next(e.id for e in entries if not e.is_sealed)],
            )
        problems = chain_problems(sealed)
        if problems:
            raise BadInput(
                problems[0].partition(": ")[2] + " The book's chain does not match from here on.",
                problems[0].partition(": ")[0],
            )
    return entries, where


def _kept_or_typed(line: str, place: str) -> Entry:
    """A line of a book; one that was kept as it is and cannot be shown is set aside, not refused."""
    try:
        entry = parse_line(line, place)
    except BadInput:
        kept = kept_line(line)
        if kept is None:
            raise
        return kept
    if entry.is_sealed:
        try:
            check_sizes(entry)
        except BadInput as refusal:
            return set_aside(entry, refusal.sentence)
    return entry


def _torn(line: str, place: str) -> None:
    """A last line without its line end is taken when it is whole, refused when it is torn."""
    try:
        parse_line(line, place)
    except BadInput:
        raise BadInput(
            "The last line is torn: it was cut off while it was written or copied. Nothing has "
            "been loaded. Copy the book again, or take the torn line off the end.",
            place,
        ) from None


def seal_all(entries: Sequence[Entry]) -> list[Entry]:
    """Every entry sealed into one chain, in order; sealed ones are kept as they are."""
    prev, seq = GENESIS, 0
    done = []
    for entry in entries:
        if not entry.is_sealed:
            entry = seal(entry, seq=seq + 1, kept=entry.at, prev=prev)
        prev, seq = entry.hash, entry.seq
        done.append(entry)
    return done


def book_text(entries: Iterable[Entry]) -> str:
    """The text of ``book.jsonl``."""
    return "".join(f"{entry.line()}\n" for entry in entries)
