"""What an entry about a run says, in words, where the run's file has the name of what it speaks of."""

from __future__ import annotations

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.run.air import CONDITIONS
from rehang.trade.terms.kinds.fields import noted
from rehang.trade.terms.kinds.runs import RunBegan, RunStepDone

__all__ = ["began_words", "step_words"]


def began_words(told: RunBegan, facts: JobFacts) -> str:
    """That a run began, and in which weather."""
    weather = [
        f"{CONDITIONS.get(key, key)} {facts.person(str(text))}" for key, text in told.with_.items()
    ]
    at = f" at {told.engine_hours:,} h" if told.engine_hours is not None else ""
    in_it = f": {', '.join(weather)}" if weather else ""
    return f"Run {told.run} began{at}{in_it}.{noted(told.note)}"


def step_words(told: RunStepDone, facts: JobFacts) -> str:
    """Which step of the run's list is done."""
    step = next((one for one in facts.run_steps if one.id == told.step), None)
    name = step.title.lower() if step is not None else told.step
    result = f", {told.result}" if told.result else ""
    return f"Run {told.run}: {name}, done{result}.{noted(told.note)}"
