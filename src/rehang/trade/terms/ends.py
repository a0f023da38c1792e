"""Where a book ends: number and hash of its last entry, kept outside it so that a cut tail shows."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from rehang.trade.terms.entries import Entry
from rehang.trade.terms.errors import BadInput

__all__ = ["SHORTEST", "End", "end_from", "end_of", "end_problem", "end_words"]

# Digits of the hash that a foot prints: 64 bits. Whoever wants other entries to end alike has to
# try about 2**64 of them (NIST SP 800-107 Rev. 1, 5.1, from memory: a shortened hash resists by its length).
SHORTEST = 16


@dataclass(frozen=True, slots=True)
class End:
    """The last entry that a book had: its number, and its hash or the first digits of it."""

    seq: int
    hash: str


def end_words(seq: int, hash_: str) -> str:
    """As it is printed and typed: ``213 3f9a 22c1 8d04 77be``."""
    return " ".join([str(seq), *(hash_[n : n + 4] for n in range(0, SHORTEST, 4))])


def end_from(text: str) -> End:
    """An end out of what was typed from the foot of a print, or the whole hash.

    Raises
    ------
    BadInput
        It is no number with at least 16 digits of a hash behind it.
    """
    found = re.fullmatch(
        r"(?:\D*\s)?(\d{1,9})\s+([0-9a-f](?:[0-9a-f\s]*[0-9a-f])?)", text.strip().lower()
    )
    digits = "".join(found[2].split()) if found else ""
    if found is None or not SHORTEST <= len(digits) <= 64:
        raise BadInput(
            f'"{text}" is no folder and no end of a book. Write number and hash as the foot of a '
            'print has them, as in "213 3f9a 22c1 8d04 77be".'
        )
    return End(int(found[1]), digits)


def end_of(book: Sequence[Entry]) -> End | None:
    """The end of a book; None where it has no sealed entry."""
    sealed = [entry for entry in book if entry.is_sealed]
    return End(sealed[-1].seq, sealed[-1].hash) if sealed else None


def end_problem(book: Sequence[Entry], end: End, said_by: str) -> str:
    """How a book is not the one that ended there, or its continuation; empty when it is."""
    if not 1 <= end.seq <= len(book):
        return (
            f"The book ends at entry {len(book)}, and {said_by} says that it had {end.seq}: entries "
            "were cut off its end, or an older copy was put back."
        )
    # A foot prints the first digits alone.
    if not book[end.seq - 1].hash.startswith(end.hash):
        return f"Entry {end.seq} is not the one that {said_by} says stood there."
    return ""
