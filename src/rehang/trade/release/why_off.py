"""What the reason that an engine came off for leaves open: documents, and the teardown."""

from __future__ import annotations

from collections.abc import Iterator

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.known.state import JobState
from rehang.trade.known.why_off import documents_read, reasons_of, teardown_of
from rehang.trade.terms.wording import on_day, upper_first
from rehang.trade.verdicts.item_blockers import Blocker

__all__ = ["reason_blockers"]


def reason_blockers(facts: JobFacts, state: JobState) -> Iterator[Blocker]:
    """Documents that nobody has read, and a teardown that is not decided, or decided and not done."""
    reasons = reasons_of(facts, state)
    read = documents_read(state)
    asked = {name: one.id for one in reasons for name in one.documents}
    for name, why in asked.items():
        if name not in read:
            yield Blocker(
                f"why:{name}",
                f"{name}: nobody has written that it was read. The engine came off for: {why}.",
                "Read it, and write its number and revision.",
            )
    blow = next((one.id for one in reasons if one.teardown), "")
    decided = teardown_of(state)
    if blow and decided is None:
        yield Blocker(
            "why:teardown",
            f"{upper_first(blow)}: whether the engine is torn down is not decided.",
            "Somebody with papers decides it, by the document that says so.",
        )
    elif blow and decided is not None and decided.fields.outcome == "tear down":
        yield Blocker(
            "why:teardown",
            f"The teardown that {facts.person(decided.by)} decided on {on_day(decided.at)} is not "
            "written as done.",
            "Tear it down, and write it with the document of that work.",
        )
