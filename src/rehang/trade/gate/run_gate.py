"""What the gate asks of entries about ground runs, and before anything turns the shaft."""

from __future__ import annotations

from datetime import datetime, timedelta

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.known.state import Finding, JobState, item_kind, item_name
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.errors import NotAllowed
from rehang.trade.terms.kinds.decisions import Closed
from rehang.trade.terms.kinds.readings import ReadingTaken
from rehang.trade.terms.kinds.runs import RunEnded
from rehang.trade.terms.kinds.work import Done
from rehang.trade.terms.wording import listed

__all__ = ["check_leak_closed", "check_lock", "is_leak", "lock_words", "locked_at"]


def is_leak(finding: Finding, facts: JobFacts) -> bool:
    """Whether a finding of a run is a leak: a word of severity 2 or 3 about one of its looks."""
    if item_kind(finding.item) != "run" or finding.severity < 2:
        return False
    sheet = facts.sheets["run"]
    word = sheet.words.get(finding.word)
    # A word of the run's own look is no leak; a word of one of the other looks is.
    return word is not None and word.about not in ("", sheet.look.name)


def check_leak_closed(entry: Entry[Closed], state: JobState, facts: JobFacts) -> None:
    """Whether a leak is closed in writing, which closes none (DESIGN 4b.6).

    Raises
    ------
    NotAllowed
        The entry closes a leak that was seen at a run.
    """
    named = entry.fields.finding
    found = [one for item in state.items.values() for one in item.findings if one.id == named]
    if found and is_leak(found[0], facts):
        raise NotAllowed(
            f"{found[0].label} at run {item_name(found[0].item)} is closed by a dry look after a "
            "later run at power, by nothing else. Run again and look."
        )


def lock_words(facts: JobFacts) -> str:
    """What hydraulic lock asks of this engine, before anything turns its shaft; empty where nothing."""
    holes = facts.layout.locks
    if not holes:
        return ""
    cylinders = [str(facts.layout.cylinder_of(hole)) for hole in holes]
    task = next((one for one in facts.tasks.values() if one.clears_lock), None)
    name = f" ({task.id} done)" if task is not None else ""
    return (
        f"Hydraulic lock: oil drains down into cylinders {listed(cylinders)} of this engine. Take the "
        f"plugs out of {listed(holes)}, turn the shaft by hand two turns in its running direction, "
        f"and write it{name}. Never force it, never turn it back."
    )


def _clearing(facts: JobFacts) -> set[str]:
    """The tasks that clear hydraulic lock once done."""
    return {task.id for task in facts.tasks.values() if task.clears_lock}


def locked_at(
    at: datetime, state: JobState, facts: JobFacts, *, same_day: bool, hot: bool = False
) -> str:
    """Why the shaft may not be turned at a moment; empty where it may.

    Lock is cleared by its task, done since the engine last stood still; to start it, on the day of
    the start. For the shop's minutes after it ran (30: FAA-H-8083-32, from memory) nothing is asked.
    """
    if not facts.layout.locks:
        return ""
    stands = timedelta(minutes=facts.run_rules.standing_minutes)
    live = [entry for entry in state.live() if entry.at <= at]
    stopped = max((e.at for e in live if is_a(e, RunEnded)), default=None)
    # Oil takes its time to drain down: what has just turned has no cylinder full of it.
    if hot or (stopped is not None and at - stopped <= stands):
        return ""
    clears = _clearing(facts)
    done = [e.at for e in live if is_a(e, Done) and e.fields.task in clears]
    cleared = [
        one
        for one in done
        # A clearing before the last run says nothing: oil has drained down since.
        if (stopped is None or one > stopped) and (not same_day or one.date() == at.date())
    ]
    return "" if cleared else lock_words(facts)


def check_lock(entry: Entry[ReadingTaken], state: JobState, facts: JobFacts) -> None:
    """Whether a reading turned the shaft before hydraulic lock was cleared (DESIGN 4b.16).

    Raises
    ------
    NotAllowed
        The layout locks, a task that waits for that clearing takes the reading, and it is not done.
    """
    if not facts.layout.locks:
        return
    clears = _clearing(facts)
    asked = (item_kind(entry.item), entry.fields.check)
    # Which readings turn the shaft is told by the task sheet, and by nothing in code.
    if not any(asked in task.answers and clears & set(task.needs) for task in facts.tasks.values()):
        return
    given = entry.fields.with_
    # By what the reading says of itself: the run before it may stand in no book of ours.
    minutes = str(given.get("minutes", "")) if given.get("state") == "hot" else ""
    hot = minutes.isdigit() and int(minutes) <= facts.run_rules.standing_minutes
    why = locked_at(entry.at, state, facts, same_day=False, hot=hot)
    if why:
        raise NotAllowed(why)
