"""What the gate asks of entries about ground runs, and before anything turns the shaft."""

from __future__ import annotations

from rehang.trade.entries import Entry
from rehang.trade.errors import NotAllowed
from rehang.trade.facts import JobFacts
from rehang.trade.state import Finding, JobState, item_kind, item_name

__all__ = ["check_leak_closed", "is_leak"]


def is_leak(finding: Finding, facts: JobFacts) -> bool:
    """Whether a finding of a run is a leak: a word of severity 2 or 3 about one of its looks."""
    if item_kind(finding.item) != "run" or finding.severity < 2:
        return False
    word = facts.sheets["run"].words.get(finding.word)
    return word is not None and bool(word.about)


def check_leak_closed(entry: Entry, state: JobState, facts: JobFacts) -> None:
    """Whether a leak is closed in writing, which closes none (DESIGN 4b.6).

    Raises
    ------
    NotAllowed
        The entry closes a leak that was seen at a run.
    """
    if entry.kind != "closed":
        return
    named = entry.data["finding"]
    found = [one for item in state.items.values() for one in item.findings if one.id == named]
    if found and is_leak(found[0], facts):
        raise NotAllowed(
            f"{found[0].label} at run {item_name(found[0].item)} is closed by a dry look after a "
            "later run at power, by nothing else. Run again and look."
        )
