"""What keeps the engine from being started: said before a run, and refused at its doors."""

from __future__ import annotations

from datetime import date, datetime

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.gate.run_gate import locked_at
from rehang.trade.known.cylinders_off import is_off
from rehang.trade.known.fastened import torque_places
from rehang.trade.known.state import JobState
from rehang.trade.terms.wording import listed, lower_first
from rehang.trade.work.task_states import JobWork

__all__ = ["no_start"]


def no_start(facts: JobFacts, state: JobState, work: JobWork, at: datetime) -> tuple[str, ...]:
    """Why it may not be started at that moment, a sentence each; none where it may.

    What is still counted out is in it; the propeller is half torqued or its second look waits; the
    layout locks and that is not cleared today; a cylinder is off, or not held by every nut.
    """
    found = []
    out = [f"{number} {what}" for what, number in state.out.items() if number]
    # A rag, a blank or a tool still in or on it is drawn in or thrown (common practice, no source).
    if out:
        found.append(
            f"Still out: {listed(out)}. Count them in before the engine turns; it starts at zero."
        )
    found += _cylinders(facts, state)
    steps = [step for step in facts.run_steps if step.starts]
    for name in dict.fromkeys(name for step in steps for name in step.after):
        one = work.tasks.get(name)
        # A propeller that never came off is not asked for; one that came off with the engine is.
        waits = ("STARTED", "HELD", *(("NOT STARTED",) if _is_off(facts, at) else ()))
        if one is None or one.state not in waits:
            continue
        why = (
            f"waits for its second look: {one.task.hold}" if one.state == "HELD" else "is not done"
        )
        found.append(f"No start: {lower_first(one.task.title)} ({name}) {why}.")
    # DESIGN 4b, 16. Oil drains down over night, so the clearing has to be of the day.
    locked = locked_at(at, state, facts, same_day=True)
    if locked:
        found.append(locked)
    return tuple(found)


def _cylinders(facts: JobFacts, state: JobState) -> list[str]:
    """The cylinders that are off, or on and not held by every nut."""
    found = [f"No start: cylinder {name} is off." for name in facts.off if is_off(state, name)]
    for one in torque_places(facts, state):
        if one.group.when_off and one.missing and not is_off(state, one.place):
            title = lower_first(one.group.title)
            found.append(f"No start: {title} of cylinder {one.place} are not all torqued.")
    return found


def _is_off(facts: JobFacts, at: datetime) -> bool:
    """Whether the engine came off its airframe before that moment, so that its propeller is off too."""
    off = facts.engine.get("removed_on")
    return isinstance(off, date) and off <= at.date()
