"""What a strike strikes. One that may not stays in the book and strikes nothing (DESIGN 4b, 14)."""

from __future__ import annotations

from collections.abc import Container, Iterable, Sequence

from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.kinds.decisions import Struck
from rehang.trade.terms.kinds.extra import DECLINED, OwnerAnswered, WorkFound
from rehang.trade.terms.kinds.papers import Filed, RecordSigned

__all__ = ["ever_declined", "refusal", "strikes_in"]


def ever_declined(entries: Iterable[Entry]) -> set[str]:
    """The work found that an owner ever declined, by a line that was struck since too."""
    return {one for entry in entries if (one := _declined(entry))}


def _declined(entry: Entry) -> str:
    if is_a(entry, OwnerAnswered) and entry.fields.answer == DECLINED:
        return str(entry.fields.extra)
    return ""


def refusal(
    wanted: str, target: Entry | None, void: Container[str], declined: Container[str]
) -> str:
    """Why a strike of ``target`` strikes nothing; empty where it stands.

    ``target`` is the entry of the id ``wanted`` that stands before the strike, ``void`` the ids of
    strikes that strike nothing: those alone are struck themselves, so that a book gets rid of them.
    ``declined`` is the work found that an owner ever declined.
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
        case WorkFound(what=what, airworthiness=True) if target.id in declined:
            # 14 CFR 43.11(b): the owner is given a list of what is unairworthy.
            return (
                f"{what}: the owner declined it, so it stays on the list of discrepancies. Whoever has "
                "papers closes it with a reason."
            )
    return ""


def strikes_in(order: Sequence[Entry]) -> tuple[dict[str, Entry[Struck]], set[str]]:
    """The entries of a book that are struck, by id, each with its strike; and the void strikes."""
    before: dict[str, Entry] = {}
    struck: dict[str, Entry[Struck]] = {}
    void: set[str] = set()
    declined: set[str] = set()
    for entry in order:
        if is_a(entry, Struck):
            wanted = entry.fields.entry
            if refusal(wanted, before.get(wanted), void, declined):
                void.add(entry.id)
            else:
                # The first stands; a second one finds nothing left to strike.
                struck.setdefault(wanted, entry)
        before[entry.id] = entry
        if one := _declined(entry):
            declined.add(one)
    return struck, void
