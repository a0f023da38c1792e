"""Signatures in the book: who may sign what, what was signed, and what has changed since.

Rehang signs nothing. A named person does, with the number and kind of their certificate; the text
they signed stands in the entry and never changes. What happens later are new entries, and the
signed record then says that it has been changed since.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.known.drafts import APPROVES, WHATS, Draft
from rehang.trade.known.state import JobState
from rehang.trade.terms.chain import GENESIS
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.errors import BadInput, NotAllowed
from rehang.trade.terms.kinds.decisions import Struck
from rehang.trade.terms.kinds.papers import CONFIRMED_WITH, Filed, RecordSigned
from rehang.trade.terms.wording import on_day, plural
from rehang.trade.verdicts.item_blockers import Blocker

__all__ = [
    "Signed",
    "check_can_sign",
    "head_of",
    "sha256_of",
    "signed_of",
    "standing",
]

_NOT_THE_TEXT = "The text that was signed is not the one its sum was made of."

# Files that say nothing of the engine or of how it is judged.
_QUIET_FILES = ("people.toml", "stock.toml")


@dataclass(frozen=True, slots=True)
class Signed:
    """One signed record.

    ``after`` are the entries since that change what it told; ``fault`` says why the text that is
    kept is not the one that was signed, or nothing.
    """

    entry: Entry[RecordSigned]
    what: str
    title: str
    name: str
    certificate: str
    kind: str
    text: str
    after: tuple[Entry, ...]
    fault: str = ""

    @property
    def stands(self) -> bool:
        """Whether nothing has changed since it was signed."""
        return not self.after and not self.fault


def sha256_of(text: str) -> str:
    """The sum that a signed text is held to."""
    return hashlib.sha256(text.encode()).hexdigest()


def head_of(book: Sequence[Entry]) -> str:
    """The head of a book's chain: what a person read before they signed."""
    return book[-1].hash if book else GENESIS


def signed_of(state: JobState) -> tuple[Signed, ...]:
    """Every signed record of a job, the oldest first."""
    live = state.live()
    found = []
    for number, entry in enumerate(live):
        if not is_a(entry, RecordSigned):
            continue
        what = entry.fields.what
        after = tuple(e for e in live[number + 1 :] if not _is_quiet(e, state))
        found.append(
            Signed(
                entry=entry,
                what=what,
                title=WHATS.get(what, what),
                name=entry.fields.name,
                certificate=entry.fields.certificate,
                kind=entry.fields.certificate_kind,
                text=entry.fields.text,
                after=after,
                fault="" if sha256_of(entry.fields.text) == entry.fields.sha256 else _NOT_THE_TEXT,
            )
        )
    return tuple(found)


def standing(state: JobState, what: str) -> Signed | None:
    """The last signed record of that kind, when nothing has changed since."""
    found = [one for one in signed_of(state) if one.what == what]
    return found[-1] if found and found[-1].stands else None


def _is_quiet(entry: Entry, state: JobState) -> bool:
    if is_a(entry, Struck):
        # What struck a note says as little of the engine as the note did.
        target = state.entries.get(entry.fields.entry)
        return target is not None and not is_a(target, Struck) and _is_quiet(target, state)
    if is_a(entry, Filed):
        return entry.fields.file in _QUIET_FILES
    return entry.fields.is_quiet


def _check(entry: Entry[RecordSigned]) -> None:
    if sha256_of(entry.fields.text) != entry.fields.sha256:
        raise BadInput(f"{_NOT_THE_TEXT} Read the record again and sign that.")
    if entry.fields.typed not in ("", *CONFIRMED_WITH):
        raise BadInput(
            f'"{entry.fields.typed}" confirms nothing. It is one of {", ".join(CONFIRMED_WITH)}.'
        )


def check_can_sign(
    entry: Entry[RecordSigned],
    *,
    facts: JobFacts,
    book: Sequence[Entry],
    blockers: Sequence[Blocker],
    draft: Draft,
    signed: Sequence[Signed],
) -> None:
    """Whether a record may be signed now.

    Raises
    ------
    NotAllowed
        The book moved on since it was read; something blocks an approval; the text is not the
        draft as it stands; a field or the list is empty; the record stands signed, unchanged.
    BadInput
        The entry itself cannot be (see :func:`signed_of`).
    """
    _check(entry)
    head = head_of(book)
    # What is signed is what was read: any entry in between may have changed it.
    if entry.fields.head and entry.fields.head != head:
        since = _since(entry.fields.head, book)
        who = ", ".join(dict.fromkeys(facts.person(e.by) for e in since)) or "someone"
        raise NotAllowed(
            f"The book moved on while you read: {len(since)} "
            f"{plural('line', len(since))} by {who}. Read the record again and sign "
            "that."
        )
    what = entry.fields.what
    same = [one for one in signed if one.what == what and one.stands]
    # Signed twice over one book it would be two records of one thing.
    if same:
        last = same[-1]
        raise NotAllowed(
            f"{last.title} was signed by {last.name} on {on_day(last.entry.at)} and "
            "nothing has changed since."
        )
    # A list of discrepancies approves nothing, so nothing on it holds it up (14 CFR 43.11(b)).
    if what in APPROVES and blockers and not _is_unairworthy(entry, what):
        raise NotAllowed(
            f"{len(blockers)} thing{'s' if len(blockers) != 1 else ''} still "
            f"block{'s' if len(blockers) == 1 else ''} the return to service, the first: "
            f"{blockers[0].sentence}"
        )
    if what == "discrepancies" and not draft.lines:
        raise NotAllowed("The list of discrepancies is empty: there is nothing to sign.")
    # 14 CFR 43.9(a), 43.11(a): what each has to hold.
    if draft.blank:
        raise NotAllowed(
            f"{draft.title}: {', '.join(one.label.lower() for one in draft.blank)} "
            f"{'is' if len(draft.blank) == 1 else 'are'} empty. {draft.blank[0].rule} asks for it."
        )
    # The text comes back through a form, where it may be another by now.
    if entry.fields.text != draft.text:
        raise NotAllowed("The text is not the record as it stands. Read it again and sign that.")


def _is_unairworthy(entry: Entry[RecordSigned], what: str) -> bool:
    """An inspection may be signed as unairworthy, with its list (14 CFR 43.11(a)(5))."""
    return what == "inspection" and entry.fields.statement == "unairworthy"


def _since(head: Any, book: Sequence[Entry]) -> list[Entry]:
    hashes: Mapping[str, int] = {e.hash: number for number, e in enumerate(book)}
    place = hashes.get(str(head))
    # A head that this book never had: that something came in between is all that is known.
    return list(book[place + 1 :]) if place is not None else list(book[-1:])
