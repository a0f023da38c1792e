"""What a strike strikes. One that may not stays in the book and strikes nothing (DESIGN 4b, 14)."""

from __future__ import annotations

from collections.abc import Container, Sequence

from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.kinds.decisions import Struck
from rehang.trade.terms.kinds.papers import Filed, RecordSigned

__all__ = ["refusal", "strikes_in"]


def refusal(wanted: str, target: Entry | None, void: Container[str]) -> str:
    """Why a strike of ``target`` strikes nothing; empty where it stands.

    ``target`` is the entry of the id ``wanted`` that stands before the strike, ``void`` the ids of
    strikes that strike nothing: those alone are struck themselves, so that a book gets rid of them.
    """
    if target is None:
        return f'There is no entry "{wanted}" before this one, so it strikes nothing.'
    match target.fields:
        case Filed():
            return "A filed sheet is not struck. File the sheet again with the right text."
        case RecordSigned():
            return "A signature is not struck out. Write what changed, then sign the record again."
        case Struck() if target.id not in void:
            return "A strike is not struck. Write the thing again instead."
    return ""


def strikes_in(order: Sequence[Entry]) -> tuple[dict[str, Entry[Struck]], set[str]]:
    """The entries of a book that are struck, by id, each with its strike; and the void strikes."""
    before: dict[str, Entry] = {}
    struck: dict[str, Entry[Struck]] = {}
    void: set[str] = set()
    for entry in order:
        if is_a(entry, Struck):
            wanted = entry.fields.entry
            if refusal(wanted, before.get(wanted), void):
                void.add(entry.id)
            else:
                # The first stands; a second one finds nothing left to strike.
                struck.setdefault(wanted, entry)
        before[entry.id] = entry
    return struck, void
