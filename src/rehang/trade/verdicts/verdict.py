"""Calls on readings and verdicts on items, by docs/explanation/calls-and-verdicts.md. The tool proposes only."""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from rehang.trade.facts.ages import age_answer
from rehang.trade.facts.items import Check, CheckSheet
from rehang.trade.facts.job_facts import JobFacts, Thresholds
from rehang.trade.facts.limits import Limit, limit_for, limit_words
from rehang.trade.facts.meters import Band, Meter, band_of, change_band, describe_band, range_words
from rehang.trade.gate.entry_gate import check_entry, fault_of
from rehang.trade.known.doubts import count_words, uses_in_doubt
from rehang.trade.known.fastened import standing_entries
from rehang.trade.known.fitting import hose_dates
from rehang.trade.known.meter_choice import meters_for_check
from rehang.trade.known.state import (
    FLAG,
    Earlier,
    Finding,
    ItemState,
    JobState,
    Taken,
    fold,
    travels_to,
)
from rehang.trade.terms.entries import Entry
from rehang.trade.terms.errors import BadInput, Refused
from rehang.trade.terms.quantities import Quantity, show, show_record
from rehang.trade.terms.wording import lower_first, on_day, with_stop
from rehang.trade.verdicts import compression, metal, rpm
from rehang.trade.verdicts.meter_calls import band_sentence, call_band, over_range

__all__ = [
    "CALLS",
    "NOT_SHOWN",
    "VERDICTS",
    "WORKED_OUT",
    "Call",
    "ItemVerdict",
    "better_meters",
    "call_reading",
    "expected_items",
    "fold_job",
    "judge_items",
]

# The check of a magneto whose two readings make the difference of timing.
TIMING = "timing"
# Methods of checks that are worked out and never keyed.
WORKED_OUT = ("mag_difference", "timing_difference")
# NOT YET is a look that was done and found what is not put right yet (DESIGN 4).
CALLS = ("WITHIN", "CLOSE CALL", "OUT", "NOT YET", "NOT JUDGED", "NOT READ", "VOID")
VERDICTS = ("REJECT", "REWORK", "NOT YET", "KEEP")
# Calls that leave a check as if it had not been taken. One that is only offered may stay so; what
# was read of it and judged counts like any other.
NOT_SHOWN = ("NOT READ", "NOT JUDGED", "VOID")


@dataclass(frozen=True, slots=True)
class Call:
    """What one check of one item comes to.

    ``sentence`` is why in one line; ``band`` the meter's band in base steps, None where there
    is none; ``others`` the calls on readings that are on file and do not carry the verdict.
    ``due`` is the last good day of what is called by its age. ``held_back`` says why the call is
    not the one that its odds alone give.
    """

    check: str
    label: str
    call: str
    p_within: float | None
    reading: str
    record: str
    limit: str
    source: str
    meter: str
    meter_standing: str
    band: Band | None
    band_words: str
    how_far: str
    sentence: str
    entry: Entry | None
    called_by: str
    kept_as_keyed: bool
    limit_data: Limit | None
    value: int | None
    quantity: Quantity | None
    others: tuple[Call, ...] = ()
    left_open: bool = False
    due: date | None = None
    held_back: str = ""


@dataclass(frozen=True, slots=True)
class ItemVerdict:
    """What is proposed for one item, why, and the next act.

    ``flag`` says what sets it apart from its fellows, until that is closed with a reason.
    """

    item: str
    kind: str
    name: str
    place: str
    goes_to: str
    verdict: str
    proposed: str
    reasons: tuple[str, ...]
    next: str
    calls: tuple[Call, ...]
    findings: tuple[Finding, ...]
    history: tuple[Earlier, ...]
    state: ItemState
    decided_by: str = ""
    flag: str = ""

    def call(self, check: str) -> Call | None:
        return next((c for c in self.calls if c.check == check), None)


@dataclass(frozen=True, slots=True)
class Blocker:
    """A reason the engine may not be returned to service, and the way out.

    ``group`` is the heading that it stands under (see :mod:`rehang.trade.release.blockers`).
    """

    about: str
    sentence: str
    way_out: str
    group: str = ""


# Calls


def call_reading(
    taken: Taken,
    check: Check,
    limit: Limit | None,
    facts: JobFacts,
    *,
    state: JobState | None = None,
) -> Call:
    """The call on one reading, on its own."""
    reading = taken.reading
    meter = facts.meters.get(reading.meter)
    standing = ""
    if meter is not None:
        standing = (
            state.not_proved(meter, taken.entry)
            if state is not None
            else meter.standing(taken.entry.at.date())
        )
    band: Band | None = None
    if reading.between is not None:
        if meter is not None:
            band = band_of(meter, sum(reading.between) / 2, between=reading.between)
        else:
            low, high = reading.between
            band = Band("uniform", (low + high) / 2, float(low), float(high))
    elif reading.value is not None and meter is not None:
        changes = check.method in ("drop", "rise")
        band = (
            change_band(meter, reading.value, reading.range)
            if changes
            else band_of(meter, reading.value, reading.range)
        )
    call, p, sentence, how_far, why = "NOT JUDGED", None, "", "", ""
    if reading.state == "not taken":
        call, sentence = "NOT READ", "Written as not read."
    elif reading.state == "unstable":
        call, sentence = "NOT READ", "The reading would not settle. Read it again."
    elif limit is None:
        sentence = "No limit on file, so it is measured and not judged."
    elif not limit.has_source:
        sentence = "The limit on file names no document, revision and person, so it judges nothing."
    elif reading.state == "ol":
        call, p, sentence = over_range(reading.meter, reading.range, meter, limit, check)
    elif reading.state == "short":
        if limit.short_is_out or limit.lower is not None:
            call, p, sentence = "OUT", 0.0, "Short."
        else:
            sentence = "Short, and the limit on file says nothing of that."
    elif limit.short_is_out and reading.value == 0:
        call, p, sentence = "OUT", 0.0, "It reads nothing, so it is short."
    elif limit.short_is_out and band is not None and band.low <= 0:
        call = "NOT READ"
        sentence = "It cannot be told from a short. Read it on a lower range."
    elif check.kind == "grade":
        call, sentence = _grade(reading.word, reading.at_psi, limit)
    elif check.method == "compression" and meter is not None and state is not None:
        call, p, sentence = compression.alone(
            taken, limit, meter, state, facts.thresholds, _hot(facts, state)
        )
    elif band is not None:
        call, p, why = call_band(band, reading.value, limit, facts.thresholds)
        assert check.quantity is not None
        how_far = _how_far(reading.value, band, limit, check.quantity)
        sentence = band_sentence(call, p, band, meter, check.quantity, reading.range, why)
        if call == "WITHIN" and "feel" in check.asks and not reading.conditions.get("feel"):
            call = "NOT READ"
            sentence = "How the drop felt is not written. Read it again, and write that beside it."
    else:
        sentence = "There is nothing to judge."
    called_by = ""
    if taken.called and call == "CLOSE CALL":
        assert taken.called_entry is not None
        called_by = facts.person(taken.called_entry.by)
        call = taken.called
        sentence += f" Called {call} by {called_by}: {taken.called_entry.data['reason']}"
    if taken.void:
        call, sentence = "VOID", f"Void: {taken.void}."
    words = limit_words(limit) if limit else "no limit on file"
    return Call(
        check=check.name,
        label=check.label,
        call=call,
        p_within=p,
        reading=reading.text(check),
        record=reading.text(check, record=True),
        limit=words,
        source=_source(limit, facts),
        meter=reading.meter,
        meter_standing=standing,
        band=band,
        band_words=describe_band(band, check.quantity) if band and check.quantity else "",
        how_far=how_far,
        sentence=sentence,
        entry=taken.entry,
        called_by=called_by,
        kept_as_keyed=bool(taken.entry.get("kept_as_keyed", False)),
        limit_data=limit,
        value=reading.value,
        quantity=check.quantity,
        left_open=taken.left_open is not None,
        held_back=why,
    )


def _source(limit: Limit | None, facts: JobFacts) -> str:
    if limit is None:
        return "no limit on file"
    if not limit.has_source:
        return limit.source_text
    when = on_day(limit.entered_on) if limit.entered_on else ""
    return f"{limit.source_text}, put in by {facts.person(limit.entered_by)}, {when}"


def _grade(word: str, at_psi: int | None, limit: Limit) -> tuple[str, str]:
    wanted = limit_words(limit)
    if limit.at_psi is not None and at_psi is None:
        return "NOT READ", f"No pressure was written down; the limit asks for {wanted}."
    if limit.at_psi is not None and at_psi is not None and at_psi < limit.at_psi:
        return (
            "NOT READ",
            f"Graded at {at_psi} psi; the limit asks for {wanted}, so this does not answer it.",
        )
    at = f" at {at_psi} psi" if at_psi is not None else ""
    if word == limit.grade:
        return "WITHIN", f"{word.capitalize()}{at}, as asked for."
    return "OUT", f"{word.capitalize()}{at}, where {limit.grade} is asked for."


def _how_far(value: int | None, band: Band, limit: Limit, quantity: Quantity) -> str:
    if value is None:
        value = round(band.centre)
    if limit.upper is not None and value > limit.upper:
        return f"{show(value - limit.upper, quantity)} over"
    if limit.lower is not None and value < limit.lower:
        return f"{show(limit.lower - value, quantity)} under"
    room = [
        edge
        for edge in (
            limit.upper - value if limit.upper is not None else None,
            value - limit.lower if limit.lower is not None else None,
        )
        if edge is not None
    ]
    return f"{show(min(room), quantity)} inside" if room else ""


def counting(item: ItemState, check: Check, calls: Sequence[Call]) -> Call | None:
    """Which of a check's calls carries it.

    An OUT stands until it is struck or the item is reworked. A CLOSE CALL stands against the
    same or a coarser meter. Otherwise the last reading with a value; a no-reading only when
    there is nothing else.
    """
    live = [c for c in calls if c.call != "VOID"]
    outs = [c for c in live if c.call == "OUT"]
    if outs:
        return outs[-1]
    kept: Call | None = None
    for call in live:
        if call.call == "NOT READ":
            kept = kept or call
            if kept.call == "NOT READ":
                kept = call
            continue
        if kept is not None and kept.call == "CLOSE CALL" and call.call != "CLOSE CALL":
            assert kept.band is not None
            if (
                call.band is not None
                and not call.called_by
                and call.band.width >= kept.band.width * 0.99
            ):
                continue
        kept = call
    return kept


def better_meters(
    call: Call, facts: JobFacts, state: JobState
) -> list[tuple[Meter, str, Band, bool]]:
    """Meters and ranges with a narrower band at this reading, narrowest first.

    Each with its band there and whether that band would settle the call at this value.
    """
    if call.value is None or call.band is None or call.quantity is None:
        return []
    limit = call.limit_data
    found = []
    check = next(
        c
        for sheet in facts.sheets.values()
        for c in sheet.checks
        if (c.name, c.label) == (call.check, call.label)
    )
    for meter in meters_for_check(check, facts, state):
        for name in [r.name for r in meter.ranges] or [""]:
            one = meter.range(name)
            if one is not None and one.top is not None and call.value > one.top:
                continue
            band = band_of(meter, call.value, name)
            if band.width >= call.band.width * 0.999:
                continue
            settles = limit is not None and (
                call_band(band, call.value, limit, facts.thresholds)[0] != "CLOSE CALL"
            )
            found.append((meter, name, band, settles))
    return sorted(found, key=lambda one: one[2].width)


# Verdicts


def expected_items(facts: JobFacts) -> tuple[str, ...]:
    """The items a job has by its facts, those that come out one by one left aside."""
    found: list[str] = []
    for kind in facts.inspect:
        sheet = facts.sheets[kind]
        names: Sequence[str] = ()
        match sheet.one_for:
            case "cylinder":
                names = [str(c) for c in facts.layout.cylinders]
            case "hole":
                names = facts.layout.walk
            case "magneto":
                names = list(facts.layout.ignition)
            case "hose":
                names = list(facts.hoses)
            case "name":
                names = sheet.names
        found += [f"{kind}:{name}" for name in names]
    return tuple(found)


def fold_job(
    facts: JobFacts,
    entries: Iterable[Entry],
    now: datetime | None = None,
    where: Mapping[str, str] | None = None,
    *,
    clock: datetime | None = None,
    refuse: Container[str] = (),
) -> JobState:
    """The fold of a job's book by its facts (see :func:`rehang.trade.known.state.fold`).

    ``clock`` is the machine's: what is dated later breaks a rule. Entries whose ids are in
    ``refuse`` are refused by the rule that they break; any other stays in the book at fault.
    """

    def voids(check: Check, taken: Taken) -> str:
        if check.method == "compression":
            return compression.wrong_orifice(taken, facts.meters, facts.bore_in)
        return ""

    def fault(entry: Entry, state: JobState) -> str:
        if entry.id not in refuse:
            return fault_of(entry, state, facts, clock)
        try:
            check_entry(entry, state, facts, clock)
        except Refused as refusal:
            if where and entry.id in where:
                raise BadInput(refusal.sentence, where[entry.id]) from None
            raise
        return ""

    return fold(
        entries,
        layout=facts.layout,
        sheets=facts.sheets,
        meters=facts.meters,
        now=now,
        where=where,
        expected=expected_items(facts),
        voids=voids,
        fault=fault,
        stays=lambda entry: facts.as_filed and entry.is_sealed and entry.id not in refuse,
        named=facts.person,
    )


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
    return verdicts, tuple(_blockers(verdicts, facts, state))


def _flags(facts: JobFacts, state: JobState) -> dict[str, str]:
    """One cylinder apart from its fellows, whatever the limit; settled by an entry with a reason."""
    values = {}
    for item in state.items.values():
        sheet = facts.sheets.get(item.kind)
        for check in sheet.checks if sheet else ():
            if check.method != "compression":
                continue
            found = _compression(item, check, facts, state)
            if found.better is not None and found.call in ("WITHIN", "CLOSE CALL", "OUT"):
                values[item.id] = found.better.reading.value or 0
    return {
        item: f"{gap} psi below the median of the others ({middle:g}): odd one out, looked into "
        "even when its limit allows it (common practice, no source)."
        for item, (gap, middle) in compression.odd_ones(values).items()
        if f"{FLAG}{item}" not in state.settled
    }


def _compression(
    item: ItemState, check: Check, facts: JobFacts, state: JobState
) -> compression.Answer:
    limit = limit_for(facts.limits, item.kind, check.name, _use_of(item, check))
    return compression.answer(
        [t for t in item.of(check.name) if not t.void],
        limit,
        facts.meters,
        state,
        facts.thresholds,
        _hot(facts, state),
    )


def _hot(facts: JobFacts, state: JobState) -> compression.Hot:
    """How long after shutdown a reading is still hot, and when the engine was shut down."""
    return compression.Hot(facts.run_rules.hot_minutes, _stopped(facts, state))


def _stopped(facts: JobFacts, state: JobState) -> tuple[datetime, ...]:
    """When a run's engine stood still, by its step or its end, whichever is first on file."""
    stops = {step.id for step in facts.run_steps if step.stops}
    first: dict[str, datetime] = {}
    for entry in state.live():
        stood = entry.kind == "run_ended" or (
            entry.kind == "run_step" and entry.data["step"] in stops
        )
        if stood:
            run = entry.data["run"]
            first[run] = min(entry.at, first.get(run, entry.at))
    return tuple(first.values())


def _judge_item(
    item: ItemState, facts: JobFacts, state: JobState, today: date | None, flag: str | None
) -> ItemVerdict:
    # A kind that this job does not inspect is only carried for what was found on it.
    sheet = facts.sheets.get(item.kind) if _is_inspected(item, facts) else None
    calls: list[Call] = []
    if sheet is not None:
        for check in sheet.checks:
            calls.append(_call_check(item, check, facts, state, today))
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


def _use_of(item: ItemState, check: Check) -> str:
    """Setting limits apply to what was set: after the rework that sets this check."""
    if check.rework_act and any(e.get("act") == check.rework_act for e in item.reworks):
        return "setting"
    return "service"


def _call_check(
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
    if check.method in ("mag_difference", "headings", "timing_difference"):
        return _call_pair(item, check, limit, facts, state)
    calls = [call_reading(taken, check, limit, facts, state=state) for taken in item.of(check.name)]
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


def _call_age(
    item: ItemState, check: Check, facts: JobFacts, state: JobState, today: date | None
) -> Call:
    part = hose_dates(item.name, facts, state)
    if part is None or today is None:
        return _nothing(check, None, facts, "Its dates are not on file.")
    fitting = tuple(
        one
        for one in facts.limits
        if one.check == check.name and one.item == item.kind and one.wants.get("type") == part.type
    )
    limit = limit_for(fitting, item.kind, check.name, "service")
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
        why = "no limit on file" if limit is None else "the limit on file names no source"
        return replace(known, sentence=f"{lead} Measured and not judged: {why}.")
    p = found.band.p_inside(limit.lower, limit.upper)
    call = facts.thresholds.call(p)
    said = band_sentence(call, p, found.band, meter, check.quantity, found.last.reading.range)
    if call == "WITHIN" and found.half:
        return replace(known, call="NOT READ", sentence=found.half)
    return replace(
        known,
        call=call,
        p_within=p,
        how_far=_how_far(found.value, found.band, limit, check.quantity),
        sentence=f"{lead} {said}",
    )


def _wind_of(item: ItemState, state: JobState) -> str:
    """The wind that was written down as a run began; empty where none was."""
    began = [e for e in state.live() if e.kind == "run_began" and e.data["run"] == item.name]
    return str(began[-1].get("with", {}).get("wind", "")) if began else ""


def _timing_apart(
    item: ItemState, check: Check, facts: JobFacts, state: JobState
) -> tuple[rpm.Pair | None, str]:
    """How far apart the magnetos are timed, by the last timing of each since they were set together."""
    set_at = max((e.at for e in item.reworks if e.get("act") == check.rework_act), default=None)
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
    found = _compression(item, check, facts, state)
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
    if found.better.called and call == "CLOSE CALL":
        assert found.better.called_entry is not None
        call = found.better.called
        called_by = facts.person(found.better.called_entry.by)
        sentence += f" Called {call} by {called_by}: {found.better.called_entry.data['reason']}"
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
        limit=limit_words(limit) if limit else "no limit on file",
        source=_source(limit, facts),
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
    allowed = limit.worst if limit.worst is not None else 1
    if worst is not None and worst.severity > allowed:
        return _nothing(
            check,
            limit,
            facts,
            f"Looked at, and {lower_first(worst.label)} (severity {worst.severity}) is open.",
            reading=words if worst.entry is last else worst.label,
            record=words if worst.entry is last else worst.label,
            call="NOT YET",
            entry=worst.entry if item.kind == "run" else last,
        )
    return _nothing(
        check,
        limit,
        facts,
        f"Looked at {_when(last)}; nothing worse than severity {worst.severity if worst else 0}.",
        reading=words,
        record=words,
        call="WITHIN",
        entry=last,
    )


def _looks_of(item: ItemState, check: Check, facts: JobFacts) -> list[Entry]:
    """What was seen that answers a look: its own, and what a look at all of it says of it."""
    sheet = facts.sheets[item.kind]
    severity = {one.entry.id: one.severity for one in item.findings}
    return [
        entry
        for entry in item.looks
        if sheet.answers_look(
            check.name,
            entry.get("check"),
            sheet.words[entry.get("word")],
            severity.get(entry.id, 0),
        )
    ]


def _open_at(item: ItemState, check: Check, facts: JobFacts) -> list[Finding]:
    """The open findings of a look: all of them where the sheet has one look."""
    sheet = facts.sheets[item.kind]
    if len(sheet.looks) == 1:
        return item.open_findings
    about = ("", check.name) if check is sheet.look else (check.name,)
    return [
        one
        for one in item.open_findings
        if (sheet.words[one.word].about if one.word in sheet.words else "") in about
    ]


def _look_words(
    item: ItemState, looks: Sequence[Entry], open_now: Sequence[Finding], facts: JobFacts
) -> list[str]:
    sheet = facts.sheets[item.kind]
    if looks:
        last = looks[-1]
        together = [e for e in looks if e.get("set") and e.get("set") == last.get("set")] or [last]
        return [sheet.words[e.get("word")].label for e in together]
    return [f.label for f in open_now if f.item == item.id]


def _when(entry: Entry | None) -> str:
    return f"on {on_day(entry.at)}" if entry else ""


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
        return "REJECT", rejects, _next_for_reject(item)
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
        return "REWORK", reworks + missing, _next_for_rework(item, sheet, acts, by_check)
    if missing:
        return "NOT YET", missing, _next_for_not_yet(item, sheet, calls, open_two, facts, state)
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
    return "KEEP", reasons, _next_for_keep(item, facts)


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
            f"{word} {_when(entry)}{f' ({note})' if note else ''}. "
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
    return f" seen {_when(finding.entry)}"


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
            f"{finding.label} (severity {finding.severity}), seen {_when(finding.entry)}, "
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


def _next_for_reject(item: ItemState) -> str:
    if item.disposed is None:
        return f"Tag {item.name} as a reject and write down what becomes of it."
    if not item.replaced_by:
        return "Fit a replacement with its own KEEP."
    return f"Replaced by {item.replaced_by}."


def _next_for_rework(
    item: ItemState, sheet: CheckSheet | None, acts: list[str], by_check: Mapping[str, Call]
) -> str:
    assert sheet is not None
    act = next((a for a in acts if a), "")
    rework = sheet.reworks.get(act)
    checks = [sheet.check(v).label.lower() for v in rework.voids] if rework else []
    target = ""
    for check in sheet.checks:
        if check.rework_act != act:
            continue
        call = by_check[check.name]
        limit = call.limit_data
        if limit is not None and check.quantity is not None:
            aim = limit.aim
            if aim is None and limit.lower is not None and limit.upper is not None:
                aim = round((limit.lower + limit.upper) / 2)
            if aim is not None:
                target = f" to {show(aim, check.quantity)}"
                break
    done = rework.done if rework else act
    return f"Have it {done}{target}, then take again: {', '.join(checks)}."


def _next_for_not_yet(
    item: ItemState,
    sheet: CheckSheet | None,
    calls: list[Call],
    open_two: list[Finding],
    facts: JobFacts,
    state: JobState,
) -> str:
    for finding in open_two:
        if finding.next_act and not finding.cleaned:
            return f"{finding.next_act}."
    for call in calls:
        if call.call == "CLOSE CALL":
            return better_words(call, facts, state)
    counts = [c for c in calls if sheet is not None and sheet.check(c.check).method == "counted"]
    for call in counts:
        if call.call in ("OUT", "NOT JUDGED"):
            return "Find where it comes from; a named person decides on the count, with a reason."
        if call.call == "NOT READ":
            return "Count the pieces, those a magnet takes, and measure the largest."
    for call in calls:
        if call.call == "OUT":
            return f"Clean the contact and read {call.label.lower()} again."
    offered = {c.name for c in sheet.checks if not c.required} if sheet else set()
    for call in calls:
        if call.call in ("NOT READ", "VOID") and call.check not in offered:
            if sheet is not None and sheet.check(call.check).kind == "look":
                return "Look at it." if call.label == "Look" else f"To do: {call.label.lower()}."
            return f"Take {call.label.lower()}."
    for call in calls:
        if call.call == "NOT JUDGED":
            return f"Enter the limit for {call.label.lower()} from the maker's manual."
    return "Close the open finding with a reason."


def better_words(call: Call, facts: JobFacts, state: JobState) -> str:
    """What would settle a close call: the meter and range by name, or a named person."""
    assert call.quantity is not None
    better = better_meters(call, facts, state)
    settling = [one for one in better if one[3]]
    same = [one for one in better if one[0].id == call.meter]
    own_settles = [one for one in same if one[3]]
    if not settling:
        return "No meter on file can tell. A named person calls it, with a reason."
    meter, _name, band, _ = settling[0]
    good = show(band.width / 2, call.quantity)
    sentence = f"Read the {call.label.lower()} on {meter.id}, good to {good} there."
    if same and not own_settles:
        sentence += f" No range of {call.meter} can settle it."
    elif own_settles and meter.id != call.meter:
        sentence += f" {call.meter} on {range_words(own_settles[0][1])} would do too."
    return sentence


def _next_for_keep(item: ItemState, facts: JobFacts) -> str:
    if item.kind == "plug" and item.came_out_of:
        return f"Goes to {facts.layout.next_hole(item.came_out_of)}, with a new or annealed gasket."
    return ""


# Blockers


def _blockers(verdicts: Sequence[ItemVerdict], facts: JobFacts, state: JobState) -> list[Blocker]:
    found: list[Blocker] = []
    for one in verdicts:
        if one.kind == "run":
            # What a run leaves open is said of the whole run: see rehang.trade.run.runs.
            continue
        where = f"{one.name} ({one.place})" if one.place else f"{one.kind} {one.name}"
        if one.verdict == "REJECT":
            if not one.state.disposed or not one.state.replaced_by:
                found.append(
                    Blocker(
                        one.item,
                        f"{where} is a REJECT without a replacement.",
                        "Write what became of it, and put a replacement with its own KEEP in its slot.",
                    )
                )
            else:
                new = state.items.get(f"{one.kind}:{one.state.replaced_by}")
                judged = next((v for v in verdicts if new and v.item == new.id), None)
                if judged is None or judged.verdict != "KEEP":
                    found.append(
                        Blocker(
                            one.item,
                            f"{one.state.replaced_by}, in for {one.name}, has no KEEP of its own.",
                            f"Take every check on {one.state.replaced_by}.",
                        )
                    )
        elif one.verdict in ("NOT YET", "REWORK"):
            found.append(Blocker(one.item, f"{where} is {one.verdict}: {one.reasons[0]}", one.next))
    held = {state.holes.get(h) for h in facts.layout.walk}
    for hole in facts.layout.walk:
        if hole not in state.holes and held - {None}:
            found.append(
                Blocker(hole, f"No plug has been written down for {hole}.", "Write which came out.")
            )
    used: dict[str, list[str]] = {}
    standing: dict[str, str] = {}
    rejected = {one.item for one in verdicts if one.verdict == "REJECT"}
    for one in verdicts:
        if one.verdict == "REJECT":
            continue
        for call in one.calls:
            if call.meter_standing and call.call in ("WITHIN", "CLOSE CALL", "OUT"):
                used.setdefault(call.meter, []).append(f"{_short(one)} {call.label.lower()}")
                standing[call.meter] = call.meter_standing
    for entry in standing_entries(facts, state):
        meter = entry.data["meter"]
        why = state.not_proved(facts.meters[meter], entry)
        if why and state.doubt(meter, entry) is None:
            used.setdefault(meter, []).append(f"{entry.data['what']} ({count_words(entry.data)})")
            standing[meter] = why
    for what, number in state.out.items():
        if number:
            found.append(
                Blocker(
                    f"count:{what}",
                    f"Count-in is not zero: {number} {what} are out.",
                    f"Take out and count in {number} {what}.",
                )
            )
    for meter, uses in used.items():
        found.append(
            Blocker(
                f"meter:{meter}",
                f"{standing[meter]}; used on {', '.join(uses)}.",
                "Take each reading again with a meter that is in date, "
                f"or enter an as-found check of {meter}.",
            )
        )
    found += _found_out(facts, state, rejected)
    for one in verdicts:
        for call in one.calls:
            sheet = facts.sheets.get(one.kind)
            is_count = sheet is not None and sheet.check(call.check).method == "counted"
            if is_count and one.decided_by:
                continue
            if is_count and call.call in ("NOT JUDGED", "OUT"):
                # It is said of the engine, whatever becomes of the filter (DESIGN 4b, 9).
                found.append(
                    Blocker(
                        one.item,
                        f"{one.kind} {one.name}: {call.label.lower()} {call.reading}, {call.limit}. "
                        f"{call.sentence}",
                        "Find where it comes from; a named person decides on the count, with a "
                        "reason, or enter the limit with its document.",
                    )
                )
            elif call.call == "NOT JUDGED":
                found.append(
                    Blocker(
                        one.item,
                        f"{_short(one)} {call.label.lower()} is measured and not judged: {call.source}.",
                        "Enter the limit with its document, revision, page and who entered it.",
                    )
                )
    return found


def _found_out(facts: JobFacts, state: JobState, rejected: Container[str]) -> list[Blocker]:
    """Each meter found out of tolerance, with what it was used on that is open again."""
    found: list[Blocker] = []
    for meter in state.found_out:
        for one in state.found_out[meter]:
            uses = [
                use.what
                for use in uses_in_doubt(facts, state, meter)
                if use.is_open and use.found.entry is one.entry and use.item not in rejected
            ]
            if not uses:
                continue
            good = f" ({on_day(one.last_good)})" if one.last_good else " (no day on file)"
            found.append(
                Blocker(
                    f"meter:{meter}",
                    f"{one.words} ({one.as_found}). Since it was last known good{good}, used on "
                    f"{', '.join(uses)}.",
                    "Do each again with a good one, or write on the page of "
                    f"{meter} why it stands.",
                )
            )
    return found


def _short(one: ItemVerdict) -> str:
    return f"run {one.name}" if one.kind == "run" else one.name


def trend(verdict: ItemVerdict, check: str) -> list[tuple[str, int | None, str]]:
    """Service date, value in base steps and text of a check at each earlier service."""
    found = []
    for earlier in sorted(verdict.history, key=lambda e: e.service):
        reading = earlier.readings.get(check) or earlier.left.get(check)
        if reading is not None:
            found.append((earlier.service, reading.value, reading.written))
    return found
