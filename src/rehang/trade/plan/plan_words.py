"""What a plan says: when, what waits for whom, what a decision would change."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime

from rehang.trade.job.judging import JudgedJob
from rehang.trade.plan.plan_values import Decision, PlanRow
from rehang.trade.plan.planner import Solved, day_words
from rehang.trade.terms.wording import lower_first, on_day, upper_first
from rehang.trade.work.todo import waits_for_meter

__all__ = ["decisions_of", "gap_words", "meter_notes", "plan_sentence"]


# ---------------------------------------------------------------- decisions


def decisions_of(judged: JudgedJob) -> tuple[Decision, ...]:
    """Items that no work on the sheet settles: a finding or a flag that a person has to close."""
    found = []
    # What no task reads is no part of the engine's own, as a drying agent.
    worked_on = {kind for task in judged.facts.tasks.values() for kind, _ in task.answers}
    for one in judged.items:
        findings = [
            finding
            for finding in one.findings
            if finding.is_open and finding.severity == 2 and not finding.deposit
        ]
        if one.verdict != "NOT YET" or not (findings or one.flag) or one.kind not in worked_on:
            continue
        name = one.name if one.kind == "plug" else f"{one.kind} {one.name}"
        what = findings[0].label if findings else one.flag
        since = findings[0].entry.at if findings else None
        told = f" since {on_day(since)}" if since is not None else ""
        found.append(
            Decision(
                item=one.item,
                sentence=f"{upper_first(name)} waits for your decision{told}: {lower_first(what)}.",
                since=since,
                options=(),
            )
        )
    return tuple(found)


def meter_notes(judged: JudgedJob, rows: Iterable[PlanRow]) -> list[str]:
    """Work that the plan takes to have a meter in date, though none on file is."""
    planned = {row.task for row in rows}
    return [
        f"{one.task} ({one.title}) is planned as if a meter in date were here: {' '.join(one.notes)}"
        for one in waits_for_meter(judged.work, judged.facts, judged.stock.in_hand)
        if one.task in planned
    ]


def plan_sentence(judged: JudgedJob, solved: Solved, p80: datetime | None, today: date) -> str:
    """The plan in one breath."""
    if solved.cut.project is None:
        return "Nothing is left to plan."
    if solved.finish is None:
        return f"There is no finish: {' '.join(solved.why)}"
    parts = [one.part.name for one in judged.stock.order_today if _gates(solved, one.part.id)]
    if_ordered = ""
    if parts:
        more = len(parts) - 1
        others = f" and {more} other {'part' if more == 1 else 'parts'}" if more else ""
        when = (
            "today"
            if solved.cut.ordered_on == today
            else f"on {day_words(solved.cut.ordered_on or today)}"
        )
        if_ordered = f" if {parts[0]}{others} {'are' if more else 'is'} ordered {when}"
    hung = f"Hung {day_words(solved.hang.date())}, ready" if solved.hang else "Ready"
    said = f"{hung} {day_words(solved.finish.date())} at the earliest{if_ordered}."
    if p80 is not None:
        said += f" 8 in 10 by {day_words(p80.date())}."
    return said


def _gates(solved: Solved, part: str) -> bool:
    return any(
        one.part == part and not one.ordered
        for piece in solved.cut.pieces.values()
        for one in piece.waits
    )


def gap_words(solved: Solved) -> str:
    """How good the plan is."""
    if solved.found is None or solved.makespan is None or solved.why:
        return ""
    if solved.found.proved:
        return "Proved: with these minutes, people and arrivals no plan is over earlier."
    bound = solved.at(solved.found.bound)
    return (
        f"Not proved: no plan is over before {day_words(bound.date())} {bound:%H:%M}; at most "
        f"{solved.found.gap * 100:.1f} % of the time could be saved."
    )
