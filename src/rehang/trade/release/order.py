"""Work of which a person says that it is done, in an order in which it cannot have been done."""

from __future__ import annotations

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.known.state import JobState
from rehang.trade.run.runs import Runs
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.kinds.work import ClosedShort, Done
from rehang.trade.terms.wording import at_time, listed, lower_first
from rehang.trade.verdicts.item_blockers import Blocker

__all__ = ["out_of_order"]


def out_of_order(facts: JobFacts, state: JobState, runs: Runs) -> list[Blocker]:
    """Tasks written as done before what they need, or before the run that they are.

    A task that readings or torques answer is held to its order by those.
    """
    first: dict[str, Entry] = {}
    last: dict[str, Entry] = {}
    for entry in state.live():
        if is_a(entry, Done):
            first.setdefault(entry.fields.task, entry)
            last[entry.fields.task] = entry
        elif is_a(entry, ClosedShort) and not entry.fields.place:
            # Closed short, it was not done, and its order says nothing.
            first.pop(entry.fields.task, None)
            last.pop(entry.fields.task, None)
    whole = [run.ended for run in runs.runs if run.is_whole and run.ended is not None]
    late: dict[str, list[str]] = {}
    found = []
    for name, done in last.items():
        task = facts.tasks.get(name)
        if task is None:
            continue
        for one in _needed(name, facts):
            if one in first and _is_later(first[one], done):
                late.setdefault(one, []).append(task.title)
        if 0 < task.run <= len(whole) and _is_later(whole[task.run - 1], done):
            ended = whole[task.run - 1]
            found.append(
                Blocker(
                    f"task:{name}",
                    f"{task.title} was written as done on {at_time(done.at)}, before the run ended "
                    f"on {at_time(ended.at)}.",
                    "Write it as done again, after the run.",
                )
            )
    return found + [
        Blocker(
            f"task:{name}",
            f"{facts.tasks[name].title} was first done on {at_time(first[name].at)}, after "
            f"{listed([lower_first(one) for one in titles])}, which "
            f"{'needs' if len(titles) == 1 else 'need'} it.",
            "Do that again, or strike what has the wrong time and write it with the right one.",
        )
        for name, titles in late.items()
    ]


def _is_later(one: Entry, other: Entry) -> bool:
    return (one.at, one.seq) > (other.at, other.seq)


def _needed(name: str, facts: JobFacts) -> list[str]:
    """Every task that one needs, directly or through another, in the order of the sheet."""
    found: set[str] = set()
    waiting = list(facts.tasks[name].needs)
    while waiting:
        one = waiting.pop()
        if one not in found and one in facts.tasks:
            found.add(one)
            waiting += facts.tasks[one].needs
    return [one for one in facts.tasks if one in found]
