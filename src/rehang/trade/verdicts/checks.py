"""What one check of one item comes to: readings, pairs, counts, ages, compressions, looks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from rehang.calc.errors import OutOfRange
from rehang.trade.facts.ages import age_answer
from rehang.trade.facts.items import Check
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.limits import FROM_MEAN, Limit, age_limit, limit_for, limit_words
from rehang.trade.facts.meters import describe_band
from rehang.trade.known.fitting import hose_dates
from rehang.trade.known.state import Finding, ItemState, JobState
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.kinds.readings import Seen
from rehang.trade.terms.kinds.runs import RunBegan
from rehang.trade.terms.quantities import show, show_record
from rehang.trade.terms.wording import NO_LIMIT, NO_SOURCE, lower_first, on_day, with_stop
from rehang.trade.verdicts import compression, metal, rpm
from rehang.trade.verdicts.calls import (
    Call,
    call_reading,
    counting,
    distance_words,
    hot_of,
    limit_source,
)
from rehang.trade.verdicts.fellows import from_mean
from rehang.trade.verdicts.folding import expected_items
from rehang.trade.verdicts.meter_calls import band_sentence

__all__ = ["WORKED_OUT", "call_check", "compression_answer", "seen_on"]

# The check of a magneto whose two readings make the difference of timing.
TIMING = "timing"

# Methods of checks that are worked out and never keyed.
WORKED_OUT = ("mag_difference", "timing_difference", FROM_MEAN)


def compression_answer(
    item: ItemState, check: Check, facts: JobFacts, state: JobState
) -> compression.CompressionAnswer:
    limit = limit_for(facts.limits, item.kind, check.name, _use_of(item, check))
    return compression.answer(
        [t for t in item.of(check.name) if not t.void],
        limit,
        facts.meters,
        state,
        facts.thresholds,
        hot_of(facts, state),
    )


def _use_of(item: ItemState, check: Check) -> str:
    """Setting limits apply to what was set: after the rework that sets this check."""
    # DESIGN 4a, 6: how it may go back as found, and what it is set to when reworked.
    if check.rework_act and any(e.fields.act == check.rework_act for e in item.reworks):
        return "setting"
    return "service"


def call_check(
    item: ItemState, check: Check, facts: JobFacts, state: JobState, today: date | None
) -> Call:
    """The call on a check; a figure that nothing can be worked out from is NOT READ, and said."""
    try:
        return _called(item, check, facts, state, today)
    except (OutOfRange, ArithmeticError) as reason:
        taken = item.of(check.name)
        shown = taken[-1].reading.written if taken else ""
        said = f"Nothing can be worked out from it: {with_stop(str(reason))} Strike it and key it again."
        entry = taken[-1].entry if taken else None
        return _nothing(check, None, facts, said, reading=shown, record=shown, entry=entry)


def _called(
    item: ItemState, check: Check, facts: JobFacts, state: JobState, today: date | None
) -> Call:
    limit = limit_for(facts.limits, item.kind, check.name, _use_of(item, check))
    if check.kind == "look":
        if limit is None:
            # A look at a part of it answers to what the look at all of it is held to.
            limit = limit_for(facts.limits, item.kind, facts.sheets[item.kind].look.name, "service")
        return _call_look(item, check, limit, facts)
    if check.method == "age":
        return _call_age(item, check, facts, state, today)
    if check.method == "compression":
        return _call_compression(item, check, limit, facts, state)
    if check.method == "counted":
        return _call_counted(item, check, limit, facts, state)
    if check.method == "headings" or check.method in WORKED_OUT:
        return _call_pair(item, check, limit, facts, state)
    calls = [
        _judged_elsewhere(call_reading(taken, check, limit, facts, state=state), check, facts, item)
        for taken in item.of(check.name)
    ]
    kept = counting(item, check, calls)
    if kept is None:
        void = [c for c in calls if c.call == "VOID"]
        return _nothing(
            check,
            limit,
            facts,
            f"{void[-1].sentence} It is to be taken again." if void else "Not read.",
            calls=tuple(calls),
            reading=void[-1].reading if void else "",
            record=void[-1].record if void else "",
            call="VOID" if void else "NOT READ",
            entry=void[-1].entry if void else None,
        )
    return _with_others(kept, tuple(c for c in calls if c is not kept))


def _judged_elsewhere(call: Call, check: Check, facts: JobFacts, item: ItemState) -> Call:
    """A figure that another check judges is not judged here, and says where it is."""
    if not check.judged_by or call.call != "NOT JUDGED":
        return call
    by = facts.sheets[item.kind].check(check.judged_by)
    return replace(call, sentence=f"Judged by: {lower_first(by.label)}.", source="", limit="")


def _call_age(
    item: ItemState, check: Check, facts: JobFacts, state: JobState, today: date | None
) -> Call:
    part = hose_dates(item.name, facts, state)
    if part is None or today is None:
        return _nothing(check, None, facts, "Its dates are not on file.")
    limit = age_limit(facts.limits, item.kind, check.name, part.type)
    found = age_answer(part, limit, today)
    text = f"fitted {part.fitted}"
    return replace(
        _nothing(check, limit, facts, found.sentence, reading=text, record=text, call=found.call),
        limit=f"due {found.due:%b %Y}" if found.due else limit_words(limit) if limit else "",
        due=found.due,
    )


def _call_counted(
    item: ItemState, check: Check, limit: Limit | None, facts: JobFacts, state: JobState
) -> Call:
    """A call on one figure of a count of pieces."""
    found = metal.counted(item, facts.sheets[item.kind], check, limit, facts, state)
    assert check.quantity is not None
    text = "" if found.value is None else show(found.value, check.quantity)
    return replace(
        _nothing(
            check,
            limit,
            facts,
            found.sentence,
            reading=text,
            record="" if found.value is None else show_record(found.value, check.quantity),
            call=found.call,
            entry=found.entry,
        ),
        value=found.value,
        called_by=found.called_by,
    )


def _call_pair(
    item: ItemState, check: Check, limit: Limit | None, facts: JobFacts, state: JobState
) -> Call:
    """A call on what two readings come to together; each stays on file under its own check."""
    assert check.quantity is not None
    single = [call_reading(t, check, limit, facts, state=state) for t in item.of(check.name)]
    if check.method == "headings":
        found = rpm.headings(item.of(check.name), facts.meters, _wind_of(item, state))
        sentence = "Not read."
    elif check.method == "timing_difference":
        found, sentence = _timing_apart(item, check, facts, state)
        keyed = "Void: it was keyed. It is worked out from the timing of each magneto."
        single = [replace(one, call="VOID", sentence=keyed) for one in single]
    elif check.method == FROM_MEAN:
        found, sentence = from_mean(item, check, facts, state, expected_items(facts))
        keyed = "Void: it was keyed. It is worked out from what each let through."
        single = [replace(one, call="VOID", sentence=keyed) for one in single]
    else:
        found = rpm.difference(item.of("drop_right"), item.of("drop_left"), facts.meters)
        sentence = "It takes the drop on both magnetos."
    if found is None:
        return _nothing(check, limit, facts, sentence, calls=tuple(single))
    blank = _nothing(
        check,
        limit,
        facts,
        "",
        calls=tuple(single),
        reading=show(found.value, check.quantity),
        record=f"{show_record(found.value, check.quantity)} ({found.words})",
        call="NOT JUDGED",
        entry=found.last.entry,
    )
    meter = facts.meters[found.last.reading.meter]
    known = replace(
        blank,
        meter=meter.id,
        meter_standing=state.not_proved(meter, found.last.entry),
        band=found.band,
        band_words=describe_band(found.band, check.quantity),
        value=found.value,
    )
    lead = f"{found.words[0].upper()}{found.words[1:]}."
    if limit is None or not limit.has_source:
        why = NO_LIMIT if limit is None else NO_SOURCE
        return replace(known, sentence=f"{lead} Measured and not judged: {why}.")
    p = found.band.p_inside(limit.lower, limit.upper)
    call = facts.thresholds.call(p)
    said = band_sentence(call, p, found.band, meter, check.quantity, found.last.reading.range)
    half = found.half
    if not half and found.speeds:
        half = rpm.too_slow(found.speeds, check, limit, facts.run_steps)
    # Half of what is asked for can show that it is out, and never that it is right.
    if call in ("WITHIN", "CLOSE CALL") and half:
        return replace(known, call="NOT READ", sentence=half)
    return replace(
        known,
        call=call,
        p_within=p,
        how_far=distance_words(found.value, found.band, limit, check.quantity),
        sentence=f"{lead} {said}",
    )


def _wind_of(item: ItemState, state: JobState) -> str:
    """The wind that was written down as a run began; empty where none was."""
    began = [e for e in state.live() if is_a(e, RunBegan) and e.fields.run == item.name]
    return str(began[-1].fields.with_.get("wind", "")) if began else ""


def _timing_apart(
    item: ItemState, check: Check, facts: JobFacts, state: JobState
) -> tuple[rpm.Pair | None, str]:
    """How far apart the magnetos are timed, by the last timing of each since they were set together."""
    # A timing from before they were set together is of another setting.
    set_at = max((e.at for e in item.reworks if e.fields.act == check.rework_act), default=None)
    each = []
    for name in facts.layout.ignition:
        held = state.items.get(f"magneto:{name}")
        taken = held.of(TIMING) if held is not None else []
        each.append([t for t in taken if set_at is None or t.entry.at > set_at])
    assert check.quantity is not None
    quantity = check.quantity
    found = rpm.apart(each, facts.meters, lambda value: show(round(value), quantity))
    return found, "It takes the timing of each magneto; nothing is keyed here."


def _call_compression(
    item: ItemState, check: Check, limit: Limit | None, facts: JobFacts, state: JobState
) -> Call:
    found = compression_answer(item, check, facts, state)
    everything = [
        call_reading(taken, check, limit, facts, state=state) for taken in item.of(check.name)
    ]
    if found.better is None:
        void = [c for c in everything if c.call == "VOID"]
        return _nothing(
            check,
            limit,
            facts,
            f"{void[-1].sentence} It is to be taken again." if void else found.sentence,
            calls=tuple(everything),
            reading=void[-1].reading if void else "",
            record=void[-1].record if void else "",
            call="VOID" if void else "NOT READ",
            entry=void[-1].entry if void else None,
        )
    own = next(c for c in everything if c.entry is found.better.entry)
    sentence = found.sentence
    path = found.better.reading.conditions.get("path", "")
    if path and path != "none":
        sentence += f" Air at the {path}."
    call = found.call
    called_by = ""
    # DESIGN 4a, 4.
    if found.better.called and call == "CLOSE CALL":
        assert found.better.called_entry is not None
        call = found.better.called
        called_by = facts.person(found.better.called_entry.by)
        sentence += f" Called {call} by {called_by}: {found.better.called_entry.fields.reason}"
    words, how_far = own.limit, ""
    if found.floor is not None:
        words = f"{found.floor} psi or more"
        if limit is not None and limit.floor:
            words += " (master of the day)"
        held = own.value or 0
        how_far = f"{abs(held - found.floor)} psi {'inside' if held >= found.floor else 'under'}"
    return replace(
        own,
        call=call,
        p_within=found.p_within,
        limit=words,
        sentence=sentence,
        called_by=called_by,
        how_far=how_far,
        others=tuple(c for c in everything if c is not own),
    )


def _with_others(call: Call, others: tuple[Call, ...]) -> Call:
    return replace(call, others=others)


def _nothing(
    check: Check,
    limit: Limit | None,
    facts: JobFacts,
    sentence: str,
    *,
    calls: tuple[Call, ...] = (),
    reading: str = "",
    record: str = "",
    call: str = "NOT READ",
    entry: Entry | None = None,
) -> Call:
    return Call(
        check=check.name,
        label=check.label,
        call=call,
        p_within=None,
        reading=reading,
        record=record or "not read",
        limit=limit_words(limit) if limit else NO_LIMIT,
        source=limit_source(limit, facts),
        meter="",
        meter_standing="",
        band=None,
        band_words="",
        how_far="",
        sentence=sentence,
        entry=entry,
        called_by="",
        kept_as_keyed=False,
        limit_data=limit,
        value=None,
        quantity=check.quantity,
        others=calls,
    )


def _call_look(item: ItemState, check: Check, limit: Limit | None, facts: JobFacts) -> Call:
    looks = _looks_of(item, check, facts)
    open_now = _open_at(item, check, facts)
    worst = max(open_now, key=lambda f: f.severity, default=None)
    words = ", ".join(dict.fromkeys(_look_words(item, looks, open_now, facts)))
    last = looks[-1] if looks else None
    # Before all else: a severity 3 rejects whether the look is done, void or still to come.
    if worst is not None and worst.severity == 3:
        return _nothing(
            check,
            limit,
            facts,
            f"{worst.label}: severity 3.",
            reading=worst.label,
            record=worst.label,
            call="OUT",
            entry=worst.entry,
        )
    if not looks:
        return _nothing(check, limit, facts, "Not looked at yet.", reading=words, record=words)
    if item.look_void:
        return _nothing(
            check,
            limit,
            facts,
            f"Void: {item.look_void}. It is to be looked at again.",
            reading=words,
            record=words,
            call="VOID",
            entry=last,
        )
    if limit is None or not limit.has_source:
        return _nothing(
            check,
            limit,
            facts,
            "Looked at; no limit on file, so it is not judged.",
            reading=words,
            record=words,
            call="NOT JUDGED",
            entry=last,
        )
    # DESIGN 4, Call: done, and its worst open finding is 0 or 1.
    allowed = limit.worst if limit.worst is not None else 1
    if worst is not None and worst.severity > allowed:
        return _nothing(
            check,
            limit,
            facts,
            with_stop(f"{worst.label}, severity {worst.severity}. {worst.next_act}"),
            reading=words if worst.entry is last else worst.label,
            record=words if worst.entry is last else worst.label,
            call="NOT YET",
            entry=worst.entry if item.kind == "run" else last,
        )
    return _nothing(
        check,
        limit,
        facts,
        f"Looked at {seen_on(last)}; nothing worse than severity {worst.severity if worst else 0}.",
        reading=words,
        record=words,
        call="WITHIN",
        entry=last,
    )


def _looks_of(item: ItemState, check: Check, facts: JobFacts) -> list[Entry[Seen]]:
    """What was seen that answers a look: its own, and what a look at all of it says of it."""
    sheet = facts.sheets[item.kind]
    severity = {one.entry.id: one.severity for one in item.findings}
    return [
        entry
        for entry in item.looks
        if sheet.answers_look(
            check.name,
            entry.fields.check,
            sheet.words[entry.fields.word],
            severity.get(entry.id, 0),
        )
    ]


def _open_at(item: ItemState, check: Check, facts: JobFacts) -> list[Finding]:
    """The open findings of a look: all of them where the sheet has one look."""
    sheet = facts.sheets[item.kind]
    if len(sheet.looks) == 1:
        return item.open_findings
    # A word about no look alone is of the look at all of it.
    about = ("", check.name) if check is sheet.look else (check.name,)
    return [
        one
        for one in item.open_findings
        if (sheet.words[one.word].about if one.word in sheet.words else "") in about
    ]


def _look_words(
    item: ItemState, looks: Sequence[Entry[Seen]], open_now: Sequence[Finding], facts: JobFacts
) -> list[str]:
    sheet = facts.sheets[item.kind]
    if looks:
        last = looks[-1]
        # One look may be several words, kept as one set.
        together = [e for e in looks if e.fields.set and e.fields.set == last.fields.set] or [last]
        return [sheet.words[e.fields.word].label for e in together]
    return [f.label for f in open_now if f.item == item.id]


def seen_on(entry: Entry | None) -> str:
    return f"on {on_day(entry.at)}" if entry else ""
