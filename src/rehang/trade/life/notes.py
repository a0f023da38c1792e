"""What is worth saying beside a verdict and decides nothing: leaks, counts, idle days."""

from __future__ import annotations

from datetime import date

from rehang.trade.job.judging import JudgedJob
from rehang.trade.life.oil_trend import oil_notes
from rehang.trade.terms.series import rises_running
from rehang.trade.terms.wording import on_day, written_day
from rehang.trade.verdicts.hardness import hardness_of, hardness_words
from rehang.trade.verdicts.item_verdict import ItemVerdict
from rehang.trade.verdicts.leaks import leak_notes, leaks_of

__all__ = ["idle_days", "item_notes", "job_notes"]


def idle_days(judged: JudgedJob) -> int | None:
    """Days since the last run that reached full temperature: a ground run of this job, or before."""
    last = last_hot_run(judged)
    return (judged.today - last).days if last is not None and judged.today is not None else None


def last_hot_run(judged: JudgedJob) -> date | None:
    """``last_run_on`` of ``engine.toml``, or a later ground run that reached full temperature."""
    last = judged.facts.engine.get("last_run_on")
    days = [last] if isinstance(last, date) else []
    days += [
        run.ended.at.date()
        for run in judged.runs.runs
        if run.ended is not None and run.ended.fields.full_temperature
    ]
    return max(days, default=None)


def job_notes(judged: JudgedJob) -> list[str]:
    """Sentences about the whole engine."""
    notes = []
    days = idle_days(judged)
    if days is not None and days > 0:
        last = last_hot_run(judged)
        assert last is not None
        notes.append(
            f"{days} idle days since the last hot run ({on_day(last)}). Preserve it as its "
            "manual says; once the cylinders are misted, do not turn it."
        )
    out = [f"{number} {what}" for what, number in judged.state.out.items() if number]
    if out:
        notes.append(f"Still in or on the engine: {', '.join(out)}. It closes at zero.")
    return notes + oil_notes(judged)


def item_notes(one: ItemVerdict, judged: JudgedJob, *, hardness: bool = True) -> list[str]:
    """Sentences about one item; ``hardness`` False where the spark test is told of all plugs at once."""
    notes = []
    if any(call.quantity is not None and call.quantity.name == "pressure" for call in one.calls):
        notes += leak_notes(leaks_of(one, judged.facts, judged.state))
    notes += _counts(one)
    hard = hardness_of(one, judged.facts) if hardness else None
    if hard is not None:
        notes.append(hardness_words(hard))
    if one.kind == "filter" and not one.state.looks:
        notes.insert(0, "The filter is not yet inspected: what it holds is not known.")
    notes += [f"Note of {on_day(e.at)}: {e.fields.text}" for e in one.state.notes]
    return notes


def _counts(one: ItemVerdict) -> list[str]:
    counts = one.state.counts
    if not counts:
        return []
    told = []
    for entry in counts:
        text = f"{written_day(entry.fields.on) or on_day(entry.at)}: {entry.fields.pieces}"
        if entry.fields.magnetic:
            text += f", {entry.fields.magnetic} magnetic"
        told.append(text)
    notes = [f"Pieces counted: {'; '.join(told)}."]
    pieces = [entry.fields.pieces for entry in counts]
    rises = rises_running(pieces)
    if rises >= 2:
        notes.append(
            f"It has risen {rises} times running; a first rise asks for a shorter interval "
            "(common practice, no source; not approved data)."
        )
    return notes
