"""Verdicts as lines of text for a terminal."""

from __future__ import annotations

import textwrap

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.job.again import asked_again
from rehang.trade.job.judging import JudgedJob
from rehang.trade.job.waits import waits_of
from rehang.trade.life.notes import item_notes, job_notes
from rehang.trade.life.oil_trend import oil_asks
from rehang.trade.terms.wording import at_time
from rehang.trade.verdicts.calls import Call
from rehang.trade.verdicts.item_verdict import ItemVerdict
from rehang.trade.work.todo import can_do_now, held_back, left_half_done, people_words

__all__ = ["job_lines", "shop_lines"]

_MARKS = {
    "WITHIN": "ok",
    "CLOSE CALL": "<!>",
    "OUT": "[X]",
    "NOT JUDGED": "(-)",
    "NOT YET": "[-]",
    "NOT READ": "[ ]",
    "VOID": "void",
}


def job_lines(judged: JudgedJob, width: int = 100) -> list[str]:
    """The whole job: what is odd about it, a block for each item, then what blocks the return to service."""
    lines = [judged.facts.title]
    # Before anything is read as judged: that it may not be what was filed.
    for notice in judged.notices:
        lines += _wrapped(f"Notice: {notice}", width, "  ")
    as_of = judged.state.order[-1].at if judged.state.order else None
    if judged.now is not None:
        lines.append(f"Judged as it stood on {at_time(judged.now)}.")
    elif as_of is not None:
        lines.append(f"Last entry {at_time(as_of)}.")
    lines.append(f"Shop rule: {judged.facts.thresholds.words}.")
    if judged.facts.engine.get("invented"):
        lines.append("Invented job: every name, serial, limit and document in it is made up.")
    for one in judged.items:
        lines += ["", *_item(one, judged, width)]
    lines += ["", *_work(judged, width), ""]
    for note in job_notes(judged):
        lines += _wrapped(note, width, "")
    lines.append("")
    if judged.blockers:
        lines.append(f"May not be returned to service: {len(judged.blockers)} reasons.")
        for blocker in judged.blockers:
            lines += _wrapped(f"- {blocker.sentence}", width, "  ")
            lines += _wrapped(f"  way out: {blocker.way_out}", width, "    ")
    else:
        lines.append("Nothing in this book blocks the return to service.")
    asks = oil_asks(judged)
    if asks:
        lines += ["", "Asks for a decision (it keeps nothing back):"]
        for ask in asks:
            lines += _wrapped(f"- {ask.sentence}", width, "  ")
            lines += _wrapped(f"  way out: {ask.way_out}", width, "    ")
    if judged.may_not_fly:
        lines += ["", "May not fly until this is done (it keeps no entry on other work):"]
        for due in judged.may_not_fly:
            lines += _wrapped(f"- {due.sentence}", width, "  ")
            lines += _wrapped(f"  way out: {due.way_out}", width, "    ")
    lines.append("")
    lines += _wrapped(
        "These are proposals. A named person decides, by the maker's current manual and local "
        "rules; general figures are never approved data.",
        width,
        "",
    )
    return lines


def _work(judged: JudgedJob, width: int) -> list[str]:
    """Where the work stands, in short: half done, possible now, waiting, held back."""
    work, facts = judged.work, judged.facts
    finished = sum(one.is_finished for one in work.tasks.values())
    lines = [f"Work: {finished} of {len(work.tasks)} tasks finished."]
    half = [(one.task, " ".join((one.sentence, *one.notes))) for one in left_half_done(work, facts)]
    now = []
    for one in can_do_now(work, facts, judged.stock.in_hand):
        places = f": {one.where}" if one.where else ""
        now.append(
            (one.task, f"{one.title}{places} ({one.minutes:.0f} min{people_words(one.hands)}).")
        )
    now += [("", one.sentence) for one in asked_again(judged)]
    waits = [(one.task, one.sentence) for one in waits_of(judged)]
    held = [(one.task, f"{one.title}: {one.reason}") for one in held_back(work, facts)]
    for title, found in (
        ("Left half done", half),
        ("Can be done now", now),
        ("Waiting", waits),
        ("Held back on purpose", held),
    ):
        if found:
            lines.append(f"  {title}:")
        for task, words in found:
            lines += _wrapped(f"    {task:<4}{words}", width, "        ")
    return lines


def _item(one: ItemVerdict, judged: JudgedJob, width: int) -> list[str]:
    head = f"{one.place or '--':<4}{one.name if one.kind == 'plug' else f'{one.kind} {one.name}'}"
    lines = [f"{head:<18} {one.verdict}"]
    for reason in one.reasons:
        lines += _wrapped(f"      {reason}", width, "      ")
    for note in item_notes(one, judged):
        lines += _wrapped(f"      note: {note}", width, "            ")
    if one.next:
        lines += _wrapped(f"      next: {one.next}", width, "            ")
    if one.calls:
        lines += _wrapped("      " + "  ".join(_call(c) for c in one.calls), width, "      ")
    return lines


def _call(call: Call) -> str:
    reading = call.reading or "not read"
    kept = " k" if call.kept_as_keyed else ""
    return f"{call.label.lower()} {reading}{kept} {_MARKS[call.call]}"


def _wrapped(text: str, width: int, indent: str) -> list[str]:
    return textwrap.wrap(text, width, subsequent_indent=indent, drop_whitespace=True) or [""]


def shop_lines(facts: JobFacts) -> list[str]:
    """What a shop's own book has on file, a line each."""
    held = (
        ("people", len(facts.people)),
        ("meters", len(facts.meters)),
        ("limits", len(facts.limits)),
        ("parts", len(facts.parts)),
        ("directives and inspections", len(facts.recurring)),
    )
    return [f"{facts.title}: the shop's own book.", *(f"  {what}: {count}" for what, count in held)]
