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

from rehang.trade.entries import GENESIS, Entry
from rehang.trade.entry_text import WHATS, Draft
from rehang.trade.errors import BadInput, NotAllowed
from rehang.trade.facts import JobFacts
from rehang.trade.state import JobState
from rehang.trade.verdict import Blocker

__all__ = ["QUIET_AFTER", "Signed", "check_can_sign", "head_of", "sha256_of", "signed_of"]

# Entries that say nothing new of the engine.
QUIET_AFTER = (
    "signed",
    "note",
    "stopped",
    "carried_on",
    "pictured",
    "put_away",
    "brought_back",
    "given",
    "drafted",
)
# An approval for return to service; a list of discrepancies may be signed with blockers open.
APPROVES = ("maintenance", "inspection")


@dataclass(frozen=True, slots=True)
class Signed:
    """One signed record. ``after`` are the entries since that change what it told."""

    entry: Entry
    what: str
    title: str
    name: str
    certificate: str
    kind: str
    text: str
    after: tuple[Entry, ...]

    @property
    def stands(self) -> bool:
        """Whether nothing has changed since it was signed."""
        return not self.after


def sha256_of(text: str) -> str:
    """The sum that a signed text is held to."""
    return hashlib.sha256(text.encode()).hexdigest()


def head_of(book: Sequence[Entry]) -> str:
    """The head of a book's chain: what a person read before they signed."""
    return book[-1].hash if book else GENESIS


def signed_of(facts: JobFacts, state: JobState) -> tuple[Signed, ...]:
    """Every signed record of a job, the oldest first; a struck one is left out.

    Raises
    ------
    BadInput
        The text is not the one its sum was made of, or a field the rule asks for is empty.
    """
    live = state.live()
    found = []
    for number, entry in enumerate(live):
        if entry.kind != "signed":
            continue
        _check(entry, facts)
        # A strike is an entry like any other: what it struck no longer stands as it was signed.
        after = tuple(e for e in live[number + 1 :] if e.kind not in QUIET_AFTER)
        found.append(
            Signed(
                entry=entry,
                what=entry.data["what"],
                title=WHATS[entry.data["what"]],
                name=entry.data["name"],
                certificate=entry.get("certificate"),
                kind=entry.get("certificate_kind"),
                text=entry.data["text"],
                after=after,
            )
        )
    return tuple(found)


def _check(entry: Entry, facts: JobFacts) -> None:
    what = entry.data["what"]
    if what not in WHATS:
        raise BadInput(f'"{what}" is not a record. The records are {", ".join(WHATS)}.')
    if sha256_of(entry.data["text"]) != entry.data["sha256"]:
        raise BadInput(
            "The text that was signed is not the one its sum was made of. Read the record again and "
            "sign that."
        )
    for name, words in (
        ("name", "name"),
        ("certificate", "certificate number"),
        ("certificate_kind", "kind of certificate"),
    ):
        if not str(entry.get(name) or "").strip():
            raise BadInput(
                f"The signature has no {words}. Write it: 14 CFR 43.9(a)(4) asks for it.", name
            )
    person = facts.people.get(entry.by)
    if (
        person is not None
        and person.name.strip().casefold() != entry.data["name"].strip().casefold()
    ):
        raise BadInput(
            f'"{entry.data["name"]}" is typed, and {person.name} is signed in. Each person signs for '
            "themselves.",
            "name",
        )


def check_can_sign(
    entry: Entry,
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
        draft as it stands; a field is empty; the same record stands signed and unchanged.
    BadInput
        The entry itself cannot be (see :func:`signed_of`).
    """
    _check(entry, facts)
    head = head_of(book)
    if entry.get("head") and entry.get("head") != head:
        since = _since(entry.get("head"), book)
        who = ", ".join(dict.fromkeys(facts.person(e.by) for e in since)) or "someone"
        raise NotAllowed(
            f"The book moved on while you read: {len(since)} "
            f"{'entry' if len(since) == 1 else 'entries'} by {who}. Read the record again and sign "
            "that."
        )
    what = entry.data["what"]
    standing = [one for one in signed if one.what == what and one.stands]
    if standing:
        last = standing[-1]
        raise NotAllowed(
            f"{last.title} was signed by {last.name} on {last.entry.at.date().isoformat()} and "
            "nothing has changed since."
        )
    if what in APPROVES and blockers and not _is_unairworthy(entry, what):
        raise NotAllowed(
            f"{len(blockers)} thing{'s' if len(blockers) != 1 else ''} still "
            f"block{'s' if len(blockers) == 1 else ''} the return to service, the first: "
            f"{blockers[0].sentence}"
        )
    if draft.blank:
        raise NotAllowed(
            f"{draft.title}: {', '.join(one.label.lower() for one in draft.blank)} "
            f"{'is' if len(draft.blank) == 1 else 'are'} empty. {draft.blank[0].rule} asks for it."
        )
    if entry.data["text"] != draft.text:
        raise NotAllowed("The text is not the record as it stands. Read it again and sign that.")


def _is_unairworthy(entry: Entry, what: str) -> bool:
    """An inspection may be signed as unairworthy, with its list (14 CFR 43.11(a)(5))."""
    return what == "inspection" and entry.get("statement") == "unairworthy"


def _since(head: Any, book: Sequence[Entry]) -> list[Entry]:
    hashes: Mapping[str, int] = {e.hash: number for number, e in enumerate(book)}
    place = hashes.get(str(head))
    return list(book[place + 1 :]) if place is not None else list(book[-1:])
