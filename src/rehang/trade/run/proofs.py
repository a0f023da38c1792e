"""What ground runs prove: the figures that still count, and the work that ended the others.

Runs stay on file. Each figure counts from the last run that took it, until something that it
depends on was worked on, replaced or found (DESIGN 4b.6); ``run.toml`` says what depends on what.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.run_rules import GRAVITY, Asked, Depends
from rehang.trade.known.state import JobState, item_kind, item_name
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.kinds.fields import Fields
from rehang.trade.terms.kinds.items import (
    Disposed,
    Dropped,
    Fitted,
    Moved,
    Overheated,
    Removed,
    Replaced,
    Reworked,
    UnknownHistory,
)
from rehang.trade.terms.kinds.papers import Complied
from rehang.trade.terms.kinds.readings import ReadingTaken, Seen
from rehang.trade.terms.kinds.runs import PLeadFound, RunStepDone
from rehang.trade.terms.kinds.torque import Torqued
from rehang.trade.terms.kinds.work import Done, Started
from rehang.trade.terms.wording import listed, lower_first, on_day
from rehang.trade.verdicts.calls import Call
from rehang.trade.verdicts.item_verdict import ItemVerdict

__all__ = [
    "Act",
    "Figure",
    "Proofs",
    "acts_on",
    "asked_of",
    "claimed",
    "ends",
    "is_later",
    "not_shown",
    "proofs_of",
]

# What each kind of entry did to the part that it names.
_DONE: Mapping[type[Fields], str] = {
    Fitted: "was fitted",
    Removed: "came out",
    Replaced: "came in",
    Torqued: "was torqued",
    Disposed: "was scrapped",
    Moved: "was moved",
    **{one: f"was {one.became}" for one in (Dropped, Overheated, UnknownHistory)},
    PLeadFound: "had its P-lead handled",
    Started: "was worked on",
    Done: "was worked on",
}
# A finding of this severity or more says that a part is not as it was.
_FOUND = 2


@dataclass(frozen=True, slots=True)
class Act:
    """Something done to, or found on, parts of the engine. ``words`` say it with no day."""

    entry: Entry
    kinds: tuple[str, ...]
    items: tuple[str, ...]
    hole: str
    line: str
    words: str

    @property
    def sentence(self) -> str:
        """``hose HS6 was fitted on 6 Nov 2026``."""
        on = "," if self.words.endswith(" on") else " on"
        return f"{self.words}{on} {on_day(self.entry.at)}"


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure of one run. ``ended_by`` is the first work after it that ended it."""

    check: str
    label: str
    run: str
    call: Call
    ended_by: Act | None = None

    @property
    def counts(self) -> bool:
        return self.ended_by is None

    @property
    def why_not(self) -> str:
        """Why it no longer counts; empty while it does."""
        return f"no longer counts: {self.ended_by.sentence}" if self.ended_by else ""


@dataclass(frozen=True, slots=True)
class Proofs:
    """The figures of all runs. ``standing`` is, for each check, that of the last run that took it."""

    by_run: Mapping[str, Mapping[str, Figure]] = field(default_factory=dict)
    standing: Mapping[str, Figure] = field(default_factory=dict)

    def of(self, run: str, check: str) -> Figure | None:
        return self.by_run.get(run, {}).get(check)


def proofs_of(
    facts: JobFacts, state: JobState, runs: Iterable[tuple[str, ItemVerdict | None]]
) -> Proofs:
    """What the runs prove, from their verdicts in the order in which they were."""
    acts = acts_on(facts, state)
    started = _started(facts, state)
    by_run: dict[str, dict[str, Figure]] = {}
    standing: dict[str, Figure] = {}
    for name, verdict in runs:
        taken = by_run.setdefault(name, {})
        for call in verdict.calls if verdict is not None else ():
            # A run that did not read it leaves the figure of the run before.
            if call.entry is None or (call.call == "NOT READ" and not call.reading):
                continue
            start = started.get(name)
            if start is not None and is_later(start, call.entry) and call.call == "WITHIN":
                # A look that is not there yet, and not one that found something.
                said = (
                    "VOID" if facts.sheets["run"].check(call.check).kind == "look" else "NOT READ"
                )
                call = replace(call, call=said, sentence=_BEFORE_START)
            figure = Figure(call.check, call.label, name, call, _ended(call, acts, facts))
            taken[call.check] = standing[call.check] = figure
    return Proofs(by_run, standing)


_BEFORE_START = "It was written before the engine was started."


def _started(facts: JobFacts, state: JobState) -> dict[str, Entry]:
    """The entry by which the engine was started at each run, where its card says so."""
    starts = {step.id for step in facts.run_steps if step.starts}
    return {
        entry.fields.run: entry
        for entry in state.live()
        if is_a(entry, RunStepDone) and entry.fields.step in starts
    }


def _ended(call: Call, acts: Sequence[Act], facts: JobFacts) -> Act | None:
    rules = facts.run_rules.ending(call.check)
    assert call.entry is not None
    # They stand by their times: those before it ended nothing.
    first = bisect_left(acts, call.entry.at, key=lambda act: act.entry.at)
    return next(
        (
            act
            for act in acts[first:]
            if is_later(act.entry, call.entry) and any(ends(rule, act) for rule in rules)
        ),
        None,
    )


def is_later(one: Entry, other: Entry) -> bool:
    """Whether an entry happened after another; of one moment, the one further down the book."""
    return (one.at, one.seq) > (other.at, other.seq)


def ends(rule: Depends, act: Act) -> bool:
    """Whether an act is work of that kind."""
    if is_a(act.entry, ReadingTaken):
        # A reading is work only where something is taken apart for it, as a plug for compression.
        return f"{item_kind(act.entry.item)}:{act.entry.fields.check}" in rule.readings
    if rule.acts and act.entry.kind not in rule.acts:
        return False
    if act.entry.task in rule.tasks:
        return True
    # A hose is of what it carries, fuel or oil, and not of its kind alone.
    if act.line or "hose" in act.kinds:
        return _is_of_line(rule, act.line)
    return bool({*act.kinds, *act.items} & set(rule.items))


def _is_of_line(rule: Depends, line: str) -> bool:
    if not rule.lines:
        return False
    return not line or any(word in line.casefold() for word in rule.lines)


def acts_on(facts: JobFacts, state: JobState) -> list[Act]:
    """Everything in the book that is work on a part of the engine, in the order of its times."""
    return state.once("acts", lambda: _acts_on(facts, state), facts)


def _acts_on(facts: JobFacts, state: JobState) -> list[Act]:
    found: list[Act] = []
    gone: set[str] = set()
    severe = {
        one.entry.id: one
        for item in state.items.values()
        for one in item.findings
        if one.severity >= _FOUND and item.kind != "run"
    }
    read_apart = {pair for rule in facts.run_rules.depends for pair in rule.readings}
    lines = [line for rule in facts.run_rules.depends for line in rule.lines]
    for entry in state.live():
        item = entry.item
        if is_a(entry, Seen) and entry.id in severe:
            words = f"{_named(item)}: {lower_first(severe[entry.id].label)} was found"
            found.append(_act(entry, (item,), words, facts, lines))
        elif is_a(entry, ReadingTaken):
            if f"{item_kind(item)}:{entry.fields.check}" in read_apart:
                words = f"compression of {_named(item)} was read, with a plug out,"
                found.append(_act(entry, (item,), words, facts, lines))
        # This only looked at it and changed nothing.
        elif is_a(entry, PLeadFound) and entry.fields.state == "proved dead":
            continue
        elif is_a(entry, Started, Done) or (is_a(entry, Torqued) and entry.fields.task):
            found.append(_task_act(entry, facts, lines))
        elif (is_a(entry, Reworked) or type(entry.fields) in _DONE) and item not in gone:
            did = _rework(entry, facts) if is_a(entry, Reworked) else _DONE[type(entry.fields)]
            words = f"{_named(item)} {did}"
            found.append(_act(entry, (item,), words, facts, lines))
        if is_a(entry, Replaced):
            # What was taken out of the job before is no longer part of the engine.
            gone.add(f"{item_kind(item)}:{entry.fields.for_}")
        if is_a(entry, Disposed):
            gone.add(item)
        if is_a(entry, Fitted):
            gone.discard(item)
    # By when it was and not by its place in the book: work may be written up late.
    return sorted(found, key=lambda act: act.entry.at)


def _act(
    entry: Entry, items: tuple[str, ...], words: str, facts: JobFacts, lines: Sequence[str]
) -> Act:
    hole = entry.place if entry.place in facts.layout.walk else ""
    line = ""
    for item in items:
        kind, name = item_kind(item), item_name(item)
        if kind == "hose":
            old = entry.fields.for_ if is_a(entry, Replaced) else ""
            hoses = (facts.hoses.get(key) for key in (name, entry.place, old))
            line = next((one.line for one in hoses if one is not None), "")
            if not any(word in line.casefold() for word in lines):
                # What it carries is not known, so it is taken for each.
                line = ""
        if kind in ("lead", "hole") and name in facts.layout.walk:
            hole = name
    return Act(entry, tuple(item_kind(one) for one in items), items, hole, line, words)


def _task_act(entry: Entry, facts: JobFacts, lines: Sequence[str]) -> Act:
    """Work that is written under a task, at one of its places or at all."""
    task = facts.tasks.get(entry.task)
    title = lower_first(task.title) if task is not None else entry.task
    kind = {"hole": "plug"}.get(task.for_each, task.for_each) if task is not None else ""
    items: tuple[str, ...] = (entry.item,) if entry.item else ()
    if kind in ("plug", "lead", "magneto", "hose") and not items:
        items = (f"{kind}:{entry.place.removeprefix(f'{kind} ')}",)
    at = f" at {entry.place}" if entry.place else ""
    return _act(entry, items, f"{title}{at} was worked on", facts, lines)


def _rework(entry: Entry[Reworked], facts: JobFacts) -> str:
    sheet = facts.sheets.get(item_kind(entry.item))
    act = entry.fields.act
    return f"was {sheet.reworks[act].done}" if sheet and act in sheet.reworks else f"had {act}"


def _named(item: str) -> str:
    kind, name = item_kind(item), item_name(item)
    if kind == "magneto":
        return f"the {name} magneto"
    return f"the {name}" if kind == "engine" else f"{kind} {name}".strip()


# What an inspection asks of the run


def claimed(facts: JobFacts, state: JobState) -> list[str]:
    """The titles of the annual and 100-hour inspections that this job says are done."""
    done = {entry.fields.recurring for entry in state.live() if is_a(entry, Complied)}
    return [
        one.title
        for one in facts.recurring.values()
        # An inspection of one part is neither an annual nor a 100-hour.
        if one.kind == "inspection" and not one.item and one.id in done
    ]


def asked_of(facts: JobFacts) -> list[tuple[Asked, tuple[str, ...], str]]:
    """What 14 CFR 43.15(c)(2) asks of this engine's run: the checks, and what is said beside them."""
    # DESIGN 4b, 7: the rule names fuel pressure; fed by gravity there is no pump to read.
    by_gravity = facts.engine.get("fuel") == GRAVITY
    return [
        (one, one.gravity_checks, one.gravity)
        if by_gravity and one.gravity
        else (one, one.checks, "")
        for one in facts.run_rules.inspection
    ]


def not_shown(facts: JobFacts, proofs: Proofs) -> list[tuple[str, str, str]]:
    """What an inspection asks for and the runs do not show: what, which figures and why, the source."""
    found = []
    for one, checks, said in asked_of(facts):
        missing = []
        for name in checks:
            check = facts.sheets["run"].check(name)
            figure = proofs.standing.get(name)
            if figure is None:
                missing.append(f"{check.label.lower()} is not read")
            elif figure.ended_by is not None:
                missing.append(f"{check.label.lower()} of run {figure.run} {figure.why_not}")
            elif figure.call.call != "WITHIN":
                missing.append(f"{check.label.lower()} of run {figure.run} is {figure.call.call}")
        if missing:
            found.append((one.what, f"{listed(missing)}.{f' {said}' if said else ''}", one.source))
    return found
