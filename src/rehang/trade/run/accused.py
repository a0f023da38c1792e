"""What runs accuse: findings that a figure opens on a part, and what closes them.

A figure that is not right stays a finding on what it accuses, whatever a later run read, until that
part was worked on and a later run is right, or a person closes it with a reason (DESIGN 4b.6).
A leak is closed by one thing alone: a dry look after a later run at power.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.gate.run_gate import is_leak, locked_at
from rehang.trade.known.state import SAYS, Finding, ItemState, JobState, item_kind, item_name
from rehang.trade.run.proofs import Act, acts_on, ends, is_later
from rehang.trade.run.runs import Run, Runs, leak_closed
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.kinds.decisions import CallMade, Closed
from rehang.trade.terms.kinds.items import Fitted, Removed, Replaced, Reworked
from rehang.trade.terms.kinds.readings import ReadingTaken, Seen
from rehang.trade.terms.wording import on_day, with_stop
from rehang.trade.verdicts.calls import Call
from rehang.trade.verdicts.item_blockers import Blocker
from rehang.trade.verdicts.item_verdict import ItemVerdict
from rehang.trade.verdicts.reasons import OfRun

__all__ = ["Accused", "accused_of", "findings_of", "with_accused"]

# A run shows what is wrong and not in which piece, so it rejects none: severity 2.
_SEVERITY = 2


@dataclass(frozen=True, slots=True)
class Accused:
    """What one figure of a run says of a part. ``check`` is what has to be right later."""

    run: Run
    check: str
    item: str
    sentence: str
    call: Call


def accused_of(facts: JobFacts, runs: Runs) -> list[Accused]:
    """Everything that any run accuses, one for each figure and part."""
    found: list[Accused] = []
    for run in runs.runs:
        if run.verdict is None:
            continue
        told = {}
        if run.mags is not None:
            told = {(check, item): said for check, item, said in run.mags.accusations}
        for (check, item), said in told.items():
            call = run.verdict.call(check)
            if call is not None and call.entry is not None:
                found.append(Accused(run, check, item, said, call))
        for check, item in facts.run_rules.accuses.items():
            call = run.verdict.call(check)
            # What was not read, or cannot tell, points at nothing: OUT alone accuses.
            if call is None or call.entry is None or call.call != "OUT":
                continue
            # Where the magneto check speaks of this figure it names the part better.
            if not any(name == check for name, _ in told):
                limit = f", where {call.limit} is asked for"
                said = f"{call.label} {call.reading} at run {run.name}{limit}."
                found.append(Accused(run, check, item, said, call))
    return found


# Kinds of part that come out and go back in for other work, which mends nothing of them.
_REFITTED = ("plug", "lead", "hole")


def _is_work_on(act: Act, one: Accused, before: Sequence[Act], facts: JobFacts) -> bool:
    """Whether an act is work on what is accused: of a magneto, on its own side.

    A look or a reading is none, nor is a plug that came out for other work and went back in.
    ``before`` are the acts between the figure and this one.
    """
    if is_a(act.entry, ReadingTaken, Seen):
        return False
    if one.item in act.items:
        return True
    if not any(ends(rule, act) for rule in facts.run_rules.ending(one.check)):
        return False
    if set(act.kinds) & set(_REFITTED):
        out = {item for other in before if is_a(other.entry, Removed) for item in other.items}
        new = is_a(act.entry, Fitted) and not out & set(act.items)
        if not (new or is_a(act.entry, Reworked, Replaced)):
            return False
    if item_kind(one.item) != "magneto":
        return True
    # Of this magneto it would have been told above; work on the other mends nothing here.
    if "magneto" in act.kinds:
        return False
    # Each hole is fired by one magneto; what names no hole may be of either.
    return not act.hole or facts.layout.magneto_of(act.hole) == item_name(one.item)


def _answered(
    one: Accused, found: Sequence[Accused], runs: Runs, acts: Sequence[Act], facts: JobFacts
) -> str:
    """What closed an accusation: work on the part, then a later run that is right; else empty."""
    entry = one.call.entry
    assert entry is not None
    later = [act for act in acts if is_later(act.entry, entry)]
    for number, act in enumerate(later):
        if not _is_work_on(act, one, later[:number], facts):
            continue
        for run in runs.runs:
            call = run.verdict.call(one.check) if run.verdict else None
            if call is None or call.entry is None or call.call != "WITHIN":
                continue
            # A run that accuses once more is not right, whatever its figure.
            again = any(other.run is run and other.check == one.check for other in found)
            if run.ended and is_later(run.began, act.entry) and not again:
                return f"{act.sentence}; right at run {run.name}"
    return ""


def findings_of(facts: JobFacts, state: JobState, runs: Runs) -> list[Finding]:
    """The findings that runs open, each open or closed."""
    found = accused_of(facts, runs)
    made = [_locked_start(run, facts, state) for run in runs.runs if _was_locked(run, facts, state)]
    acts = acts_on(facts, state) if found else []
    for one in found:
        assert one.call.entry is not None
        key = f"{SAYS}{one.call.entry.id}:{one.item}"
        closed = state.settled.get(key)
        resolved = _answered(one, found, runs, acts, facts)
        if closed is not None:
            resolved = _closed_words(closed, facts)
        made.append(
            Finding(
                id=key,
                entry=one.call.entry,
                item=one.item,
                word="run",
                label=f"Run {one.run.name}: {one.sentence.rstrip('.')}",
                severity=_SEVERITY,
                deposit=False,
                check=one.check,
                note="",
                next_act="Work on it and run again, or close it with a reason",
                resolved=resolved,
            )
        )
    return made


def _was_locked(run: Run, facts: JobFacts, state: JobState) -> bool:
    return bool(locked_at(run.began.at, state, facts, same_day=True))


def _locked_start(run: Run, facts: JobFacts, state: JobState) -> Finding:
    """An engine that oil locks was started and nothing says that it was cleared (DESIGN 4b.16)."""
    key = f"{SAYS}{run.began.id}:{_RODS}"
    closed = state.settled.get(key)
    return Finding(
        id=key,
        entry=run.began,
        item=_RODS,
        word="run",
        label=f"Run {run.name} began and hydraulic lock was not cleared that day",
        severity=_SEVERITY,
        deposit=False,
        check="",
        note="",
        next_act="A person who may decide looks into the rods and closes it with a reason",
        resolved=_closed_words(closed, facts) if closed is not None else "",
    )


# What a start against oil bends.
_RODS = "engine:connecting rods"


def _closed_words(closed: Entry[Closed | CallMade], facts: JobFacts) -> str:
    return f"closed on {on_day(closed.at)} by {facts.person(closed.by)}: {closed.fields.reason}"


def with_accused(
    facts: JobFacts, state: JobState, items: Sequence[ItemVerdict], runs: Runs
) -> tuple[tuple[ItemVerdict, ...], tuple[Blocker, ...]]:
    """The verdicts with what the runs accuse, and what of that blocks the return to service."""
    opened: dict[str, list[Finding]] = {}
    for finding in findings_of(facts, state, runs):
        opened.setdefault(finding.item, []).append(finding)
    made = []
    for one in items:
        if one.kind == "run":
            made.append(replace(one, findings=_leaks_closed(one, runs, facts)))
        else:
            made.append(_with_findings(one, opened.pop(one.item, [])))
    for item, findings in opened.items():
        made.append(_with_findings(_blank(item, state), findings))
    blockers = [
        Blocker(
            finding.item,
            f"{with_stop(finding.label)} Suspect and still open: {_words(finding.item)}.",
            "Work on it, write that down, and run again until it is right; or close the finding "
            "with a reason.",
        )
        for one in made
        for finding in one.findings
        if finding.id.startswith(SAYS) and finding.is_open
    ]
    return tuple(made), tuple(blockers)


def _leaks_closed(one: ItemVerdict, runs: Runs, facts: JobFacts) -> tuple[Finding, ...]:
    return tuple(
        replace(finding, resolved=leak_closed(finding, runs.runs, facts))
        if is_leak(finding, facts)
        else finding
        for finding in one.findings
    )


def _with_findings(one: ItemVerdict, findings: Sequence[Finding]) -> ItemVerdict:
    if not findings:
        return one
    still = [finding for finding in findings if finding.is_open]
    told = [OfRun(finding) for finding in still]
    verdict, act = one.verdict, one.next
    # DESIGN 4b, 6: open until work and a later run that is right, or a decision with reason.
    if still and verdict == "KEEP":
        verdict, act = "NOT YET", f"{still[0].next_act}."
    return replace(
        one,
        verdict=verdict,
        next=act,
        why=(*told, *one.why) if verdict == "NOT YET" else (*one.why, *told),
        findings=(*one.findings, *findings),
    )


def _blank(item: str, state: JobState) -> ItemVerdict:
    """A part that is in the book for what a run says of it alone."""
    held = state.items.get(item) or ItemState(item, item_kind(item), item_name(item))
    return ItemVerdict(
        item=item,
        kind=item_kind(item),
        name=item_name(item),
        place="",
        goes_to="",
        # Nothing else is known of it, so what is laid on it decides.
        verdict="KEEP",
        proposed="KEEP",
        why=(),
        next="",
        calls=(),
        findings=(),
        history=(),
        state=held,
    )


def _words(item: str) -> str:
    kind, name = item_kind(item), item_name(item)
    if kind == "magneto":
        return f"the {name} magneto, its plugs and leads"
    return {"engine": f"the {name}", "control": f"the control of the {name}"}.get(kind, name)
