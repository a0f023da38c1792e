"""What an entry about work says, in words."""

from __future__ import annotations

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.terms.entries import Entry
from rehang.trade.terms.wording import listed, upper_first

__all__ = ["WORK_WORDS", "task_words", "work_entry_words"]

# The kinds of entry that are said here, with what they say of a task.
WORK_WORDS = {
    "started": "begun",
    "done": "done",
    "closed_short": "closed short",
    "second_look": "second look given",
    "flagged": "",
    "flag_off": "",
}


def work_entry_words(entry: Entry, facts: JobFacts) -> str:
    """An entry about a task or a flag as a sentence, with its note."""
    note = f" {upper_first(str(entry.get('note')))}" if entry.get("note") else ""
    if note and not note.endswith((".", "!", "?")):
        note += "."
    if entry.kind in ("flagged", "flag_off"):
        act = "put on" if entry.kind == "flagged" else "taken off"
        return f"{upper_first(entry.data['what'])} {act} {entry.place}.{note}"
    words = f"{task_words(entry, facts)}: {WORK_WORDS[entry.kind]}"
    if entry.kind == "closed_short":
        reason = str(entry.data["reason"]).strip()
        return f"{words}. Reason: {reason if reason.endswith('.') else f'{reason}.'}"
    if entry.get("with"):
        words += f", with {listed([facts.person(str(one)) for one in entry.get('with')])}"
    return f"{words}.{note}"


def task_words(entry: Entry, facts: JobFacts) -> str:
    """The task of an entry by its title, and the place; its id where the sheet has it no more."""
    name = str(entry.get("task"))
    task = facts.tasks.get(name)
    title = task.title if task else f"Task {name}"
    if not entry.place:
        return title
    return f"{title}, {f'{task.for_each} ' if task and task.for_each else ''}{entry.place}"
