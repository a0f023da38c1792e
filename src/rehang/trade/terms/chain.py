"""The book's chain: each entry sealed onto the one before it."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from datetime import datetime

from rehang.trade.terms.entries import Entry, canonical

__all__ = ["GENESIS", "chain_problems", "seal", "seal_hash"]

# Before the first entry stands none: as many zeros as SHA-256 has digits.
GENESIS = "0" * 64


def seal_hash(entry: Entry, *, seq: int, kept: datetime, prev: str) -> str:
    """SHA-256 over the link before, a line feed and the canonical entry with seq and kept."""
    # seq and kept are hashed too: else an entry could be dated or numbered anew.
    body = canonical(entry.content() | {"seq": seq, "kept": kept.isoformat()})
    return hashlib.sha256(f"{prev}\n{body}".encode()).hexdigest()


def seal(entry: Entry, *, seq: int, kept: datetime, prev: str) -> Entry:
    """The entry with its place in the chain."""
    return Entry(
        id=entry.id,
        kind=entry.kind,
        at=entry.at,
        by=entry.by,
        data=entry.data,
        seq=seq,
        kept=kept,
        prev=prev,
        hash=seal_hash(entry, seq=seq, kept=kept, prev=prev),
    )


def chain_problems(entries: Iterable[Entry], *, where: str = "book.jsonl, line ") -> list[str]:
    """What is wrong with a chain, a sentence each; empty when it holds."""
    problems: list[str] = []
    prev, seq = GENESIS, 0
    for number, entry in enumerate(entries, start=1):
        place = f"{where}{number}"
        if not entry.is_sealed:
            problems.append(f"{place}: The entry is not sealed.")
            continue
        assert entry.kept is not None
        seq += 1
        if entry.seq != seq:
            problems.append(
                f"{place}: The entry says it is number {entry.seq}; it stands at {seq}."
            )
        if entry.prev != prev:
            problems.append(f"{place}: The entry does not follow the one before it.")
        if entry.hash != seal_hash(entry, seq=entry.seq, kept=entry.kept, prev=entry.prev):
            problems.append(f"{place}: The entry has been changed since it was kept.")
        # By what the entry says, so that one wrong link is told once and not for all behind it.
        prev, seq = entry.hash, entry.seq
    return problems
