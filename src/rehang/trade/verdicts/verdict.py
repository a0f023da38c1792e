"""Verdicts on items, by docs/explanation/calls-and-verdicts.md. The tool proposes only."""

from __future__ import annotations

from datetime import date

from rehang.trade.facts.items import Check, CheckSheet
from rehang.trade.facts.job_facts import JobFacts, Thresholds
from rehang.trade.known.state import (
    FLAG,
    Finding,
    ItemState,
    JobState,
    travels_to,
)
from rehang.trade.terms.wording import lower_first, with_stop
from rehang.trade.verdicts import compression, metal
from rehang.trade.verdicts.calls import NOT_SHOWN, Call
from rehang.trade.verdicts.checks import call_check, compression_answer, seen_on
from rehang.trade.verdicts.folding import expected_items
from rehang.trade.verdicts.item_blockers import Blocker, blockers_of_items
from rehang.trade.verdicts.item_verdict import ItemVerdict
from rehang.trade.verdicts.next_act import (
    next_for_keep,
    next_for_not_yet,
    next_for_reject,
    next_for_rework,
)

__all__ = ["judge_items"]


def judge_items(
    facts: JobFacts, state: JobState, today: date | None
) -> tuple[tuple[ItemVerdict, ...], tuple[Blocker, ...]]:
    """Every item of a job judged, and what of them blocks its return to service."""
    facts = facts.as_of(today)
    ids = [state.holes[h] for h in facts.layout.walk if h in state.holes]
    stand_ins = {f"{one.kind}:{one.replaced_by}" for one in state.items.values() if one.replaced_by}
    ids += [i for i in expected_items(facts) if i not in ids]
    ids += [
        i
        for i, one in sorted(state.items.items())
        if i not in ids and (one.removed or one.findings or one.readings or i in stand_ins)
    ]
    flags = _flags(facts, state)
    verdicts = tuple(_judge_item(state.items[i], facts, state, today, flags.get(i)) for i in ids)
    return verdicts, tuple(blockers_of_items(verdicts, facts, state))


def _flags(facts: JobFacts, state: JobState) -> dict[str, str]:
    """One cylinder apart from its fellows, whatever the limit; settled by an entry with a reason."""
    values = {}
    for item in state.items.values():
        sheet = facts.sheets.get(item.kind)
        for check in sheet.checks if sheet else ():
            if check.method != "compression":
                continue
            found = compression_answer(item, check, facts, state)
            if found.better is not None and found.call in ("WITHIN", "CLOSE CALL", "OUT"):
                values[item.id] = found.better.reading.value or 0
    return {
        item: f"{gap} psi below the median of the others ({middle:g}): odd one out, looked into "
        "even when its limit allows it (common practice, no source)."
        for item, (gap, middle) in compression.odd_ones(values).items()
        if f"{FLAG}{item}" not in state.settled
    }


def _judge_item(
    item: ItemState, facts: JobFacts, state: JobState, today: date | None, flag: str | None
) -> ItemVerdict:
    # A kind that this job does not inspect is only carried for what was found on it.
    sheet = facts.sheets.get(item.kind) if _is_inspected(item, facts) else None
    calls: list[Call] = []
    if sheet is not None:
        for check in sheet.checks:
            calls.append(call_check(item, check, facts, state, today))
    verdict, reasons, act = _weigh(item, sheet, calls, facts, state)
    if flag is not None:
        reasons = [*reasons, flag] if verdict != "KEEP" else [flag]
        if verdict == "KEEP":
            verdict, act = "NOT YET", "Look into it, or close it with a reason."
    decided_by = ""
    proposed = verdict
    if item.disagreed is not None:
        decided_by = facts.person(item.disagreed.by)
        verdict = item.disagreed.data["verdict"]
        reasons = [
            f"{decided_by} decided {verdict} against the proposed {proposed}: "
            f"{item.disagreed.data['reason']}",
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
        reasons=tuple(reasons),
        next=act,
        calls=tuple(calls),
        findings=tuple(item.findings),
        history=tuple(item.earlier),
        state=item,
        decided_by=decided_by,
        flag=flag or "",
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
) -> tuple[str, list[str], str]:
    """Verdict, reasons (the deciding one first) and the next act."""
    rejects = _rejects(item, sheet, calls, facts.thresholds)
    if rejects:
        return "REJECT", rejects, next_for_reject(item)
    by_check = {call.check: call for call in calls}
    open_two = [f for f in item.open_findings if f.severity >= 2]
    reworks: list[str] = []
    acts: list[str] = []
    if sheet is not None:
        for check in sheet.checks:
            call = by_check[check.name]
            if call.call == "OUT" and check.reworkable:
                reworks.append(_out_reason(call))
                acts.append(check.rework_act)
    missing = _missing(item, sheet, calls, open_two)
    if sheet is not None:
        missing = metal.contradictions(item, sheet, facts) + missing
    if reworks:
        return "REWORK", reworks + missing, next_for_rework(item, sheet, acts, by_check)
    if missing:
        return "NOT YET", missing, next_for_not_yet(item, sheet, calls, open_two, facts, state)
    reasons = ["Every check asked for is WITHIN since it was last worked on."]
    reasons += [f"{call.label}: {call.sentence}" for call in calls if call.called_by]
    for finding in item.findings:
        if finding.resolved and finding.severity >= 2:
            reasons.append(f"{finding.label}: {finding.resolved}.")
            word = sheet.words.get(finding.word) if sheet else None
            target = travels_to(word, item.came_out_of, facts.layout) if word else ""
            if word and target:
                reasons.append(
                    f"{target.replace(':', ' ').capitalize()} is to be looked at: "
                    f"{lower_first(word.next_act)}."
                )
    return "KEEP", reasons, next_for_keep(item, facts)


def _rejects(
    item: ItemState, sheet: CheckSheet | None, calls: list[Call], rule: Thresholds
) -> list[str]:
    reasons: list[str] = []
    for entry in item.ended:
        word = {
            "dropped": "Dropped",
            "overheated": "Overheated",
            "unknown_history": "No known history",
        }[entry.kind]
        note = entry.get("note")
        reasons.append(
            f"{word} {seen_on(entry)}{f' ({note})' if note else ''}. "
            + (
                "A drop can crack it where light does not reach, so it is scrap however it tests, "
                "and its earlier tests are void."
                if entry.kind == "dropped"
                else "Its earlier tests are void."
            )
        )
    reasons += [
        f"{f.label}{_look_note(f)} (severity 3)" + (f", {f.note}" if f.note else "") + "."
        for f in item.open_findings
        if f.severity == 3
    ]
    if sheet is None:
        return reasons
    by_check = {call.check: call for call in calls}
    for check in sheet.checks:
        call = by_check[check.name]
        if check.kind == "look" or check.reworkable or call.call != "OUT":
            continue
        if check.method == "counted":
            # Another filter takes no metal out of the engine, so the part is not what is rejected.
            continue
        if check.repeat_after and not _repeated(item, check, call, rule):
            continue
        reasons.append(_out_reason(call))
        for passed in sheet.checks:
            other = by_check[passed.name]
            blind = passed.blind_to.get(check.name)
            if blind and other.call == "WITHIN":
                reasons.append(f"{passed.label} {other.reading} does not save it: {blind}")
    return reasons


def _out_reason(call: Call) -> str:
    if call.value is None and call.band is None and call.reading != "OL":
        return f"{call.label}: {lower_first(call.sentence)}"
    return f"{call.label} {call.reading}, where {call.limit} is asked for. {call.sentence}"


def _look_note(finding: Finding) -> str:
    return f" seen {seen_on(finding.entry)}"


def _repeated(item: ItemState, check: Check, call: Call, rule: Thresholds) -> bool:
    """Whether an OUT was read again after the act that makes the reading fair."""
    acts = [e for e in item.reworks if e.get("act") == check.repeat_after]
    if not acts or call.entry is None:
        return False
    cleaned_at = acts[-1].seq, acts[-1].at
    in_doubt = {taken.entry.id for taken in item.readings if taken.voided_by == "found_out"}
    outs = [
        c
        for c in (call, *call.others)
        if c.entry is not None
        and c.entry.id not in in_doubt
        and (
            c.call == "OUT"
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
) -> list[str]:
    reasons = []
    for finding in open_two:
        extra = f" {with_stop(finding.note)}" if finding.note else ""
        cleaned = " Cleaned; the look after it is still to come." if finding.cleaned else ""
        reasons.append(
            f"{finding.label} (severity {finding.severity}), seen {seen_on(finding.entry)}, "
            f"is open.{extra}{cleaned}"
        )
    # A limit may allow less than severity 1, and then nothing of severity 2 says it.
    reasons += [c.sentence for c in calls if c.call == "NOT YET" and not open_two]
    offered = {c.name for c in sheet.checks if not c.required} if sheet else set()
    calls = [c for c in calls if c.check not in offered or c.call not in NOT_SHOWN]
    not_read = [c for c in calls if c.call == "NOT READ" and not c.entry]
    if not_read:
        reasons.append("Still to be taken: " + ", ".join(c.label.lower() for c in not_read) + ".")
    for call in calls:
        if call.call == "CLOSE CALL":
            reasons.append(f"{call.label} {call.reading} is a close call. {call.sentence}")
        elif (call.call == "NOT READ" and call.entry) or call.call == "VOID":
            reasons.append(f"{call.label}: {call.sentence}")
        elif call.call == "NOT JUDGED":
            reasons.append(f"{call.label} {call.reading}: {call.sentence}")
        elif call.call == "OUT" and sheet is not None:
            check = sheet.check(call.check)
            if check.method == "counted":
                reasons.append(_out_reason(call))
            if check.repeat_after and not check.reworkable:
                reasons.append(
                    f"{_out_reason(call)} It counts once it is repeated on a clean contact."
                )
    return reasons
