"""Metal that was counted: its figures are called like readings, and the word has to agree with them.

No published figure says how many pieces are too many, so a count with no limit of the maker's or
the shop's on file is NOT JUDGED, and a named person decides (DESIGN 4b, 9).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_CEILING, Decimal
from math import inf

from rehang.trade.facts.items import Check, CheckSheet
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.limits import Limit
from rehang.trade.known.state import COUNT, ItemState, JobState
from rehang.trade.terms.days import last_day
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.kinds.decisions import CallMade
from rehang.trade.terms.kinds.oil import PiecesCounted, Sampled
from rehang.trade.terms.quantities import Quantity
from rehang.trade.terms.wording import NO_LIMIT, NO_SOURCE, lower_first, on_day, written_day
from rehang.trade.verdicts.reasons import CountAgainstWord

__all__ = ["Counted", "contradictions", "counted", "counts_of_stay", "is_of_stay"]

# The checks of the sheet that a count answers, each with what its figure is of.
_UNITS: Mapping[str, str] = {
    "pieces": "pieces",
    "magnetic": "magnetic",
    "largest": "mm, the largest",
}


@dataclass(frozen=True, slots=True)
class Counted:
    """What one figure of the count comes to. ``value`` is in base steps, None where there is none."""

    call: str
    value: int | None
    entry: Entry[PiecesCounted] | None
    sentence: str
    called_by: str = ""


def counts_of_stay(item: ItemState, facts: JobFacts) -> list[Entry[PiecesCounted]]:
    """The counts that were made in this stay of the engine, the older ones copied in left aside."""
    return [entry for entry in item.counts if is_of_stay(entry, facts)]


def is_of_stay(entry: Entry[PiecesCounted | Sampled], facts: JobFacts) -> bool:
    """Whether a sample or a count is of this stay of the engine; its day may be older than its entry."""
    on = last_day(entry.fields.on or entry.at.date().isoformat())
    # From its last run on: what was drained or cut before that is of an earlier stay.
    began = facts.engine.get("last_run_on") or facts.engine.get("removed_on")
    return on >= (began if isinstance(began, date) else entry.at.date())


def _steps(entry: Entry[PiecesCounted], check: Check, quantity: Quantity) -> int | None:
    held = entry.fields.figure(check.name)
    if check.name == "largest" and entry.fields.pieces == 0:
        held = 0
    if held is None:
        return None
    unit = quantity.units["mm" if check.name == "largest" else "pieces"]
    # Up, so that what is kept is never smaller than what was measured.
    return int((Decimal(repr(held)) * unit).to_integral_value(ROUND_CEILING))


def _is_asked(item: ItemState, sheet: CheckSheet) -> bool:
    """Whether what was seen is pieces, so that they are to be counted."""
    return any(sheet.words[e.fields.word].counted for e in item.looks) or any(
        sheet.words[f.word].counted for f in item.findings if f.word in sheet.words
    )


def counted(
    item: ItemState,
    sheet: CheckSheet,
    check: Check,
    limit: Limit | None,
    facts: JobFacts,
    state: JobState,
) -> Counted:
    """The call on one figure: the worst of this stay counts, as an OUT does until it is struck."""
    assert check.quantity is not None
    counts = counts_of_stay(item, facts)
    if not counts:
        if item.looks and not _is_asked(item, sheet):
            return Counted("WITHIN", None, None, "Nothing was seen that is to be counted.")
        return Counted("NOT READ", None, None, "Not counted.")
    held = [(value, e) for e in counts if (value := _steps(e, check, check.quantity)) is not None]
    # One without its size may be the worst, so the worst is not known.
    if len(held) < len(counts):
        return Counted("NOT READ", None, counts[-1], "The pieces were counted and their size not.")
    value, entry = max(held, key=lambda one: one[0])
    before = _before(item, entry, check)
    # None of it needs no limit.
    if value == 0:
        return Counted("WITHIN", value, entry, f"None.{before}")
    if limit is None or not limit.has_source:
        why = NO_LIMIT if limit is None else NO_SOURCE
        found = Counted("NOT JUDGED", value, entry, f"Counted and not judged: {why}.{before}")
    else:
        inside = (limit.upper is None or value <= limit.upper) and (
            limit.lower is None or value >= limit.lower
        )
        found = Counted("WITHIN" if inside else "OUT", value, entry, f"As counted.{before}")
    decided = state.settled.get(f"{COUNT}{entry.id}")
    if decided is None or not is_a(decided, CallMade) or found.call != "NOT JUDGED":
        # What is over a limit on file is not called away; a person may disagree in writing.
        return found
    who = facts.person(decided.by)
    said = f"{found.sentence} Called {decided.fields.call} by {who}: {decided.fields.reason}"
    return Counted(decided.fields.call, value, entry, said, who)


def _before(item: ItemState, entry: Entry[PiecesCounted], check: Check) -> str:
    """The count before this one, so that a first rise is seen."""
    older = [
        (one, figure)
        for one in item.counts[: item.counts.index(entry)]
        if (figure := one.fields.figure(check.name)) is not None
    ]
    if not older:
        return ""
    last, figure = older[-1]
    on = written_day(last.fields.on) or on_day(last.at)
    return f" Before it, on {on}: {figure:g}."


def contradictions(item: ItemState, sheet: CheckSheet, facts: JobFacts) -> list[CountAgainstWord]:
    """Where the word for what was seen and the count of it cannot both be right."""
    counts = counts_of_stay(item, facts)
    last = item.looks[-1] if item.looks else None
    if last is None or not counts:
        return []
    together = [e for e in item.looks if e.fields.set and e.fields.set == last.fields.set] or [last]
    words = [sheet.words[e.fields.word] for e in together]
    words += [
        sheet.words[f.word] for f in item.findings if f.word in sheet.words and f.severity > 1
    ]
    said = " and ".join(dict.fromkeys(lower_first(word.label) for word in words))
    found = []
    for name, unit in _UNITS.items():
        worst = max(float(e.fields.figure(name) or 0) for e in counts)
        # A word that sets no bound to a figure explains it.
        bounds = [word.at_most.get(name, inf) for word in words]
        least = max(word.at_least.get(name, 0) for word in words)
        if least <= worst <= max(bounds):
            continue
        found.append(CountAgainstWord(worst, unit, said))
    return found
