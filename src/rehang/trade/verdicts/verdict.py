"""Verdicts on items, by docs/explanation/calls-and-verdicts.md. The tool proposes only."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import date
from statistics import median

from rehang.trade.facts.items import Check, CheckSheet
from rehang.trade.facts.job_facts import JobFacts, Thresholds
from rehang.trade.known.state import FLAG, Finding, ItemState, JobState, Taken, travels_to
from rehang.trade.terms.entries import Entry
from rehang.trade.verdicts import compression, metal
from rehang.trade.verdicts.calls import NOT_SHOWN, Call
from rehang.trade.verdicts.checks import call_check, compression_answer
from rehang.trade.verdicts.fellows import asked_now, fellows_of, odd_of
from rehang.trade.verdicts.folding import expected_items
from rehang.trade.verdicts.item_blockers import Blocker, blockers_of_items
from rehang.trade.verdicts.item_verdict import ItemVerdict
from rehang.trade.verdicts.next_act import (
    next_for_keep,
    next_for_not_yet,
    next_for_reject,
    next_for_rework,
)
from rehang.trade.verdicts.reasons import (
    AllWithin,
    Apart,
    ApartFromFellows,
    BeyondLimit,
    Blind,
    Called,
    CloseCall,
    Decided,
    Ended,
    FarBelowFellows,
    LookedAt,
    OddOne,
    OpenFinding,
    Reason,
    Scrap,
    Settled,
    TakeAgain,
    TakeAllAgain,
    ToTake,
    Travels,
    Unjudged,
)

__all__ = ["judge_items"]

# So many others say what is usual: common practice, no source.
FELLOWS = 4
# So many that one act made void are told in one sentence.
MANY = 5


def judge_items(
    facts: JobFacts, state: JobState, today: date | None
) -> tuple[tuple[ItemVerdict, ...], tuple[Blocker, ...]]:
    """Every item of a job judged, and what of them blocks its return to service."""
    # DESIGN 4b, 15: by the limits and certificates that were on file that day.
    facts = facts.as_of(today)
    ids = [state.holes[h] for h in facts.layout.walk if h in state.holes]
    stand_ins = {f"{one.kind}:{one.replaced_by}" for one in state.items.values() if one.replaced_by}
    ids += [i for i in expected_items(facts) if i not in ids]
    ids += [
        i
        for i, one in sorted(state.items.items())
        if i not in ids and (one.removed or one.findings or one.readings or i in stand_ins)
    ]
    apart = _apart(facts, state)
    verdicts = tuple(_judge_item(state.items[i], facts, state, today, apart.get(i)) for i in ids)
    return verdicts, tuple(blockers_of_items(verdicts, facts, state))


def _apart(facts: JobFacts, state: JobState) -> dict[str, Apart]:
    """Items apart from their fellows, whatever the limit, until an entry with a reason settles it."""
    pressures: dict[str, Taken] = {}
    others: dict[str, tuple[Check, dict[str, Taken]]] = {}
    out: set[str] = set()
    for item in state.items.values():
        sheet = facts.sheets.get(item.kind)
        for check in sheet.checks if sheet else ():
            if check.method == "compression":
                found = compression_answer(item, check, facts, state)
                if found.better is not None and found.call in ("WITHIN", "CLOSE CALL", "OUT"):
                    pressures[item.id] = found.better
            elif check.apart_below is not None and check.quantity is not None:
                taken = [t for t in item.of(check.name) if t.counts and t.reading.value is not None]
                if taken and not item.disposed:
                    name = f"{item.kind}:{check.name}"
                    others.setdefault(name, (check, {}))[1][item.id] = taken[-1]
                    if call_check(item, check, facts, state, None).call == "OUT":
                        out.add(f"{check.name} of {item.id}")
    values = {item: taken.reading.value or 0 for item, taken in pressures.items()}
    flows = _odd_ones(facts, state)
    told: dict[str, tuple[Taken, Apart]] = flows | {
        item: (pressures[item], ApartFromFellows(gap, middle))
        for item, (gap, middle) in compression.odd_ones(values).items()
    }
    for check, each in others.values():
        told |= {item: (each[item], far) for item, far in _far_below(check, each, out).items()}
    return {item: far for item, (taken, far) in told.items() if not _is_settled(item, taken, state)}


def _odd_ones(facts: JobFacts, state: JobState) -> dict[str, tuple[Taken, Apart]]:
    """Of figures that were read together, the one that Grubbs' test sets apart."""
    found: dict[str, tuple[Taken, Apart]] = {}
    for kind in facts.inspect:
        for check in facts.sheets[kind].checks:
            if not check.odd_one or check.quantity is None:
                continue
            odd = odd_of(check, fellows_of(kind, check.name, facts, state), facts)
            if odd is not None:
                found[odd.item] = (
                    odd.taken,
                    OddOne(
                        check.label, odd.taken.reading.value or 0, odd.test, odd.n, check.quantity
                    ),
                )
    return found


def _far_below(
    check: Check, each: Mapping[str, Taken], out: Collection[str]
) -> dict[str, FarBelowFellows]:
    """Readings so far below the median of the others that no limit need say so.

    What is itself ``out`` says nothing of what is usual.
    """
    assert check.apart_below is not None and check.quantity is not None
    found = {}
    for item, taken in each.items():
        rest = [
            other.reading.value or 0
            for name, other in each.items()
            if name != item and f"{check.name} of {name}" not in out
        ]
        value = taken.reading.value or 0
        # Of fewer nobody can say which is the odd one.
        if len(rest) >= FELLOWS and value * check.apart_below < median(rest):
            found[item] = FarBelowFellows(
                check.label, value, median(rest), check.apart_below, check.quantity
            )
    return found


def _is_settled(item: str, taken: Taken, state: JobState) -> bool:
    """Whether a person settled it, with that reading in front of them."""
    settled = state.settled.get(f"{FLAG}{item}")
    return settled is not None and not _is_after(taken.entry, settled)


def _is_after(one: Entry, other: Entry) -> bool:
    return (one.at, one.seq) > (other.at, other.seq)


def _judge_item(
    item: ItemState,
    facts: JobFacts,
    state: JobState,
    today: date | None,
    apart: Apart | None,
) -> ItemVerdict:
    # A kind that this job does not inspect is only carried for what was found on it.
    sheet = facts.sheets.get(item.kind) if _is_inspected(item, facts) else None
    calls: list[Call] = []
    if sheet is not None:
        sheet = asked_now(item, sheet)
        for check in sheet.checks:
            calls.append(call_check(item, check, facts, state, today))
    verdict, reasons, act = _weigh(item, sheet, calls, facts, state)
    if apart is not None:
        reasons = [*reasons, apart] if verdict != "KEEP" else [apart]
        # DESIGN 4a, 11: flagged whatever its limit says.
        if verdict == "KEEP":
            verdict, act = "NOT YET", "Look into it, or close it with a reason."
    decided_by = ""
    proposed = verdict
    # DESIGN 4: the proposal stays beside what the person decided.
    if item.disagreed is not None:
        decided_by = facts.person(item.disagreed.by)
        verdict = item.disagreed.fields.verdict
        reasons = [
            Decided(decided_by, verdict, proposed, item.disagreed.fields.reason),
            *reasons,
        ]
    goes_to = ""
    if item.kind == "plug" and item.came_out_of:
        goes_to = facts.layout.next_hole(item.came_out_of)
    return ItemVerdict(
        item=item.id,
        kind=item.kind,
        name=item.name,
        place=item.place,
        goes_to=goes_to,
        verdict=verdict,
        proposed=proposed,
        why=tuple(reasons),
        next=act,
        calls=tuple(calls),
        findings=tuple(item.findings),
        history=tuple(item.earlier),
        state=item,
        decided_by=decided_by,
        apart=apart,
    )


def _is_inspected(item: ItemState, facts: JobFacts) -> bool:
    return (
        item.kind in facts.inspect
        or item.kind == "run"  # a run that was only looked at is still asked for its figures
        or bool(item.readings)
        or bool(item.removed)
    )


def _weigh(
    item: ItemState,
    sheet: CheckSheet | None,
    calls: list[Call],
    facts: JobFacts,
    state: JobState,
) -> tuple[str, list[Reason], str]:
    """Verdict, reasons (the deciding one first) and the next act."""
    # Worst first: a check that passed never hides one that did not (DESIGN 4).
    rejects = _rejects(item, sheet, calls, facts.thresholds)
    if rejects:
        return "REJECT", rejects, next_for_reject(item)
    by_check = {call.check: call for call in calls}
    open_two = [f for f in item.open_findings if f.severity >= 2]
    reworks: list[Reason] = []
    acts: list[str] = []
    if sheet is not None:
        for check in sheet.checks:
            call = by_check[check.name]
            if call.call == "OUT" and check.reworkable:
                reworks.append(BeyondLimit(call))
                acts.append(check.rework_act)
    missing = _missing(item, sheet, calls, open_two)
    if sheet is not None:
        missing = [*metal.contradictions(item, sheet, facts), *missing]
    if reworks:
        return "REWORK", reworks + missing, next_for_rework(item, sheet, acts, by_check)
    if missing:
        return "NOT YET", missing, next_for_not_yet(item, sheet, calls, open_two, facts, state)
    reasons: list[Reason] = [AllWithin(), *(Called(call) for call in calls if call.called_by)]
    for finding in item.findings:
        if finding.resolved and finding.severity >= 2:
            reasons.append(Settled(finding))
            word = sheet.words.get(finding.word) if sheet else None
            target = travels_to(word, item.came_out_of, facts.layout) if word else ""
            if word and target:
                reasons.append(Travels(target, word))
    return "KEEP", reasons, next_for_keep(item, facts)


def _rejects(
    item: ItemState, sheet: CheckSheet | None, calls: list[Call], rule: Thresholds
) -> list[Reason]:
    reasons: list[Reason] = [Ended(entry) for entry in item.ended]
    reasons += [Scrap(finding) for finding in item.open_findings if finding.severity == 3]
    if sheet is None:
        return reasons
    by_check = {call.check: call for call in calls}
    for check in sheet.checks:
        call = by_check[check.name]
        # A look rejects by its findings, which are named above.
        if check.kind == "look" or check.reworkable or call.call != "OUT":
            continue
        if check.method == "counted":
            # Another filter takes no metal out of the engine, so the part is not what is rejected.
            continue
        # DESIGN 4: resistance counts once it is repeated on a clean contact.
        if check.repeat_after and not _repeated(item, check, call, rule):
            continue
        reasons.append(BeyondLimit(call))
        for passed in sheet.checks:
            other = by_check[passed.name]
            # A pass that cannot see the fault, as high voltage jumps an open resistor (common
            # practice, no source).
            blind = passed.blind_to.get(check.name)
            if blind and other.call == "WITHIN":
                reasons.append(Blind(other, blind))
    return reasons


def _repeated(item: ItemState, check: Check, call: Call, rule: Thresholds) -> bool:
    """Whether an OUT was read again after the act that makes the reading fair."""
    acts = [e for e in item.reworks if e.fields.act == check.repeat_after]
    if not acts or call.entry is None:
        return False
    cleaned_at = acts[-1].seq, acts[-1].at
    # A reading on a meter found out is no first OUT to be repeated.
    in_doubt = {taken.entry.id for taken in item.readings if taken.voided_by == "found_out"}
    outs = [
        c
        for c in (call, *call.others)
        if c.entry is not None
        and c.entry.id not in in_doubt
        and (
            c.call == "OUT"
            # The cleaning made the first OUT void; its odds still say that it was one.
            or (c.call == "VOID" and c.p_within is not None and rule.call(c.p_within) == "OUT")
        )
    ]
    after = [
        c for c in outs if c.entry and c.call == "OUT" and (c.entry.seq, c.entry.at) > cleaned_at
    ]
    return bool(after) and len(outs) >= 2


def _missing(
    item: ItemState,
    sheet: CheckSheet | None,
    calls: list[Call],
    open_two: list[Finding],
) -> list[Reason]:
    reasons: list[Reason] = [OpenFinding(finding) for finding in open_two]
    # A limit may allow less than severity 1, and then nothing of severity 2 says it.
    reasons += [LookedAt(c) for c in calls if c.call == "NOT YET" and not open_two]
    offered = {c.name for c in sheet.checks if not c.required} if sheet else set()
    calls = [c for c in calls if c.check not in offered or c.call not in NOT_SHOWN]
    not_read = tuple(c for c in calls if c.call == "NOT READ" and not c.entry)
    if not_read:
        reasons.append(ToTake(not_read))
    void = tuple(c for c in calls if c.call == "VOID")
    if len(void) >= MANY and len({c.sentence for c in void}) == 1:
        reasons.append(TakeAllAgain(void))
        calls = [c for c in calls if c.call != "VOID"]
    for call in calls:
        if call.call == "CLOSE CALL":
            reasons.append(CloseCall(call))
        elif (call.call == "NOT READ" and call.entry) or call.call == "VOID":
            reasons.append(TakeAgain(call))
        elif call.call == "NOT JUDGED":
            reasons.append(Unjudged(call))
        elif call.call == "OUT" and sheet is not None:
            check = sheet.check(call.check)
            if check.method == "counted":
                reasons.append(BeyondLimit(call))
            if check.repeat_after and not check.reworkable:
                reasons.append(BeyondLimit(call, once=True))
    return reasons
