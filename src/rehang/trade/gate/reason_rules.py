"""Rules on what the reason asks that an engine came off for."""

from __future__ import annotations

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.known.state import JobState
from rehang.trade.known.why_off import reasons_of
from rehang.trade.terms.entries import Entry
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.kinds.decisions import TEARDOWN, TeardownDecided
from rehang.trade.terms.kinds.papers import DocumentRead
from rehang.trade.terms.wording import listed

__all__ = ["check_read", "check_teardown"]


def check_read(entry: Entry[DocumentRead], state: JobState, facts: JobFacts) -> None:
    """Whether a document that was read is one that the job asks for."""
    asked = [name for one in reasons_of(facts, state) for name in one.documents]
    if entry.fields.document not in asked:
        raise BadInput(
            f'"{entry.fields.document}" is none of the documents that this job asks for: '
            f"{listed(asked) if asked else 'it asks for none'}.",
            "document",
        )


def check_teardown(entry: Entry[TeardownDecided], state: JobState, facts: JobFacts) -> None:
    """Whether a teardown is asked for, and how it was decided is one of the words for it."""
    if not any(one.teardown for one in reasons_of(facts, state)):
        raise BadInput(
            "Nothing that this engine came off for asks about a teardown. Enter the reason first."
        )
    if entry.fields.outcome not in TEARDOWN:
        raise BadInput(
            f'"{entry.fields.outcome}" is no decision on a teardown. Write {listed(TEARDOWN, "or")}.',
            "outcome",
        )
