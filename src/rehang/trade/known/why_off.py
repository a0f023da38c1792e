"""Why the engine of a job came off, what that asks, and what the book answers of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.reasons import Reason
from rehang.trade.known.state import JobState
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.kinds.decisions import TeardownDecided
from rehang.trade.terms.kinds.papers import DocumentRead, Filed

__all__ = ["documents_read", "reasons_of", "teardown_of"]


def reasons_of(facts: JobFacts, state: JobState) -> tuple[Reason, ...]:
    """The reasons that the engine came off for.

    One that asks whether the engine is torn down stays, whatever its file says later.
    """
    named = [*facts.came_off_for, *_ever_named(facts, state)]
    return tuple(facts.reasons[one] for one in dict.fromkeys(named))


def _ever_named(facts: JobFacts, state: JobState) -> Iterator[str]:
    texts = [one for one in state.order if is_a(one, Filed)]
    # As of the files: in a job from before there were reasons, what it is for opens nothing.
    has_reasons = any(one.fields.file == "reasons.toml" for one in texts)
    for text in [one.fields.text for one in texts if one.fields.file == "engine.toml"]:
        for one in facts.reasons.values():
            # By its words in quotes: one that is asked for too often is told by a decision.
            if one.teardown and (has_reasons or "also_for" in text):
                yield from (one.id for quote in "\"'" if f"{quote}{one.id}{quote}" in text)


def teardown_of(state: JobState) -> Entry[TeardownDecided] | None:
    """The decision that counts: the last that stands."""
    found = [one for one in state.live() if is_a(one, TeardownDecided)]
    return found[-1] if found else None


def documents_read(state: JobState) -> Mapping[str, Entry[DocumentRead]]:
    """When each document was last read, by its words."""
    return {e.fields.document: e for e in state.live() if is_a(e, DocumentRead)}
