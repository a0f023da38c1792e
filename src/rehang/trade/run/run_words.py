"""What an entry about a run or a P-lead says, in words."""

from __future__ import annotations

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.known.state import item_name
from rehang.trade.run.air import CONDITIONS
from rehang.trade.terms.entries import Entry
from rehang.trade.terms.wording import upper_first

__all__ = ["RUN_WORDS", "run_entry_words"]

# The kinds of entry that are said here.
RUN_WORDS = ("run_began", "run_step", "run_ended", "p_lead")


def run_entry_words(entry: Entry, facts: JobFacts) -> str:
    """An entry about a run or a P-lead as one sentence."""
    match entry.kind:
        case "run_began":
            given = entry.get("with", {})
            told = [
                f"{CONDITIONS.get(key, key)} {facts.person(str(text))}"
                for key, text in given.items()
            ]
            hours = entry.get("engine_hours", None)
            at = f" at {hours:,} h" if hours is not None else ""
            return f"Run {entry.data['run']} began{at}" + (f": {', '.join(told)}." if told else ".")
        case "run_step":
            step = next((s for s in facts.run_steps if s.id == entry.data["step"]), None)
            name = step.title.lower() if step is not None else entry.data["step"]
            result = f", {entry.get('result')}" if entry.get("result") else ""
            return f"Run {entry.data['run']}: {name}, done{result}."
        case "run_ended":
            why = entry.get("why")
            hours = entry.get("engine_hours", None)
            said = f"Run {entry.data['run']} " + (f"was shut down: {why}" if why else "ended")
            said += f" at {hours:,} h" if hours is not None else ""
            if entry.get("full_temperature", False):
                said += ", at full temperature"
            return f"{said}."
    how = f" ({entry.get('how')})" if entry.get("how") else ""
    return upper_first(f"{item_name(entry.item)} magneto's P-lead is {entry.data['state']}{how}.")
