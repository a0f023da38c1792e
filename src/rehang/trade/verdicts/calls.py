"""The call on one reading, and which of several readings carries its check."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from rehang.trade.facts.items import Check
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.limits import Limit, limit_words
from rehang.trade.facts.meters import Band, Meter, band_of, change_band, describe_band
from rehang.trade.facts.readings import UNPROVED, Reading, unlikely
from rehang.trade.known.meter_choice import meters_for_check
from rehang.trade.known.state import ItemState, JobState, Taken
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.kinds.readings import ReadingTaken
from rehang.trade.terms.kinds.runs import RunEnded, RunStepDone
from rehang.trade.terms.quantities import Quantity, show
from rehang.trade.terms.wording import (
    NO_LIMIT,
    NOT_JUDGED_FOR_NO_LIMIT,
    NOT_JUDGED_FOR_NO_SOURCE,
    accuracy_not_known,
    lower_first,
    on_day,
)
from rehang.trade.verdicts import compression
from rehang.trade.verdicts.meter_calls import band_sentence, call_band, over_range
from rehang.trade.verdicts.round_turn import round_turn
from rehang.trade.verdicts.rpm import too_slow

__all__ = [
    "CALLS",
    "NOT_SHOWN",
    "Call",
    "better_meters",
    "call_reading",
    "counting",
    "distance_words",
    "hot_of",
    "limit_source",
]

# NOT YET is a look that was done and found what is not put right yet (DESIGN 4).
CALLS = ("WITHIN", "CLOSE CALL", "OUT", "NOT YET", "NOT JUDGED", "NOT READ", "VOID")

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

    @property
    def taken(self) -> Entry[ReadingTaken] | None:
        """The reading that it is of; None for a look, a count and nothing."""
        return self.entry if self.entry is not None and is_a(self.entry, ReadingTaken) else None


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
        # By the day of its use: a certificate counts from its own day (DESIGN 4b, 15).
        standing = (
            state.not_proved(meter, taken.entry)
            if state is not None
            else meter.standing(taken.entry.at.date())
        )
    band = _band_of_reading(reading, meter, check)
    found = _alone(taken, check, limit, facts, state, band)
    call, sentence, called_by = found.call, found.sentence, ""
    turn = round_turn(reading, check)
    if turn is not None:
        sentence += f" {turn.words}"
    # DESIGN 4a, 4: a person settles what the meter cannot tell, and nothing else.
    if taken.called and call == "CLOSE CALL":
        assert taken.called_entry is not None
        called_by = facts.person(taken.called_entry.by)
        call = taken.called
        sentence += f" Called {call} by {called_by}: {taken.called_entry.fields.reason}"
    # Last, over every other call; p stays, for a repeat asks whether the void one would be OUT.
    if taken.void:
        call, sentence = "VOID", f"Void: {taken.void}."
    return Call(
        check=check.name,
        label=check.label,
        call=call,
        p_within=found.p,
        reading=reading.text(check),
        record=reading.text(check, record=True),
        limit=limit_words(limit) if limit else NO_LIMIT,
        source=limit_source(limit, facts),
        meter=reading.meter,
        meter_standing=standing,
        band=band,
        band_words=describe_band(band, check.quantity) if band and check.quantity else "",
        how_far=found.how_far,
        sentence=sentence,
        entry=taken.entry,
        called_by=called_by,
        kept_as_keyed=bool(taken.entry.fields.kept_as_keyed),
        limit_data=limit,
        value=reading.value,
        quantity=check.quantity,
        left_open=taken.left_open is not None,
        held_back=found.held_back,
    )


def _band_of_reading(reading: Reading, meter: Meter | None, check: Check) -> Band | None:
    """What the true value may be, given the reading; None where nothing is known of it."""
    if reading.between is not None:
        low, high = reading.between
        if meter is None:
            return Band("uniform", (low + high) / 2, float(low), float(high))
        return band_of(meter, (low + high) / 2, between=reading.between)
    if reading.value is None or meter is None:
        return None
    # A difference of two readings on one meter: its own error is in both and cancels.
    of = change_band if check.method in ("drop", "rise") else band_of
    return of(meter, reading.value, reading.range)


@dataclass(frozen=True, slots=True)
class _Alone:
    """What a reading comes to by itself, before a person called it and whether or not it is void."""

    call: str
    sentence: str
    p: float | None = None
    how_far: str = ""
    held_back: str = ""


def _alone(
    taken: Taken,
    check: Check,
    limit: Limit | None,
    facts: JobFacts,
    state: JobState | None,
    band: Band | None,
) -> _Alone:
    reading = taken.reading
    meter = facts.meters.get(reading.meter)
    if reading.state == "not taken":
        return _Alone("NOT READ", "Written as not read.")
    if reading.state == "unstable":
        return _Alone("NOT READ", "The reading would not settle. Read it again.")
    # DESIGN 4: no limit with a source, NOT JUDGED, whatever the meter showed.
    if limit is None:
        return _Alone("NOT JUDGED", NOT_JUDGED_FOR_NO_LIMIT)
    if not limit.has_source:
        return _Alone("NOT JUDGED", NOT_JUDGED_FOR_NO_SOURCE)
    if reading.state == UNPROVED:
        return _Alone("NOT READ", accuracy_not_known(reading.meter))
    if reading.state == "ol":
        call, p, sentence = over_range(reading.meter, reading.range, meter, limit, check)
        return _Alone(call, sentence, p)
    short = _short(reading, limit, band)
    if short is not None:
        return short
    if check.kind == "grade":
        return _Alone(*_grade(reading.word, reading.at_psi, limit))
    if check.method == "compression" and meter is not None and state is not None:
        call, p, sentence = compression.alone(
            taken, limit, meter, state, facts.thresholds, hot_of(facts, state)
        )
        return _Alone(call, sentence, p)
    if band is None:
        return _Alone("NOT JUDGED", "There is nothing to judge.")
    call, p, why = call_band(band, reading.value, limit, facts.thresholds)
    assert check.quantity is not None
    how_far = distance_words(reading.value, band, limit, check.quantity)
    sentence = band_sentence(call, p, band, meter, check.quantity, reading.range, why)
    slow = ""
    if check.method == "drop":
        slow = too_slow([reading.supply], check, limit, facts.run_steps)
    if slow and call in ("WITHIN", "CLOSE CALL"):
        call, sentence = "NOT READ", slow
    doubt = unlikely(check, reading.value, []) if reading.value is not None else None
    if call in ("WITHIN", "CLOSE CALL") and doubt and not taken.entry.fields.kept_as_keyed:
        call = "NOT READ"
        sentence = (
            f"{reading.text(check)}: {lower_first(doubt.sentence)} Read it again, or key it again and "
            "keep it as keyed."
        )
    # Inside its figure a sudden and rough drop still accuses a part (DESIGN 4b, 6).
    if call == "WITHIN" and "feel" in check.asks and not reading.conditions.get("feel"):
        call = "NOT READ"
        sentence = "How the drop felt is not written. Read it again, and write that beside it."
    return _Alone(call, sentence, p, how_far, why)


def _short(reading: Reading, limit: Limit, band: Band | None) -> _Alone | None:
    """What a short comes to, and what cannot be told from one; None for any other reading."""
    if reading.state == "short":
        # DESIGN 4a, 5.
        if limit.short_is_out or limit.lower is not None:
            return _Alone("OUT", "Short.", 0.0)
        return _Alone("NOT JUDGED", "Short, and the limit on file says nothing of that.")
    if limit.short_is_out and reading.value == 0:
        return _Alone("OUT", "It reads nothing, so it is short.", 0.0)
    if limit.short_is_out and band is not None and band.low <= 0:
        return _Alone("NOT READ", "It cannot be told from a short. Read it on a lower range.")
    return None


def limit_source(limit: Limit | None, facts: JobFacts) -> str:
    if limit is None:
        return NO_LIMIT
    if not limit.has_source:
        return limit.source_text
    when = on_day(limit.entered_on) if limit.entered_on else ""
    return f"{limit.source_text}, put in by {facts.person(limit.entered_by)}, {when}"


def _grade(word: str, at_psi: int | None, limit: Limit) -> tuple[str, str]:
    wanted = limit_words(limit)
    if limit.at_psi is not None and at_psi is None:
        return "NOT READ", f"No pressure was written down; the limit asks for {wanted}."
    # DESIGN 4a, 17. The pressure is a setting and no reading, so no band is laid on it.
    if limit.at_psi is not None and at_psi is not None and at_psi < limit.at_psi:
        return (
            "NOT READ",
            f"Graded at {at_psi} psi; the limit asks for {wanted}, so this does not answer it.",
        )
    at = f" at {at_psi} psi" if at_psi is not None else ""
    if word == limit.grade:
        return "WITHIN", f"{word.capitalize()}{at}, as asked for."
    return "OUT", f"{word.capitalize()}{at}, where {limit.grade} is asked for."


def distance_words(value: int | None, band: Band, limit: Limit, quantity: Quantity) -> str:
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
    # DESIGN 4a, 4: reading again until it passes does not clear it.
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
                # Within 1 %, the same accuracy: a band moves a little with its reading.
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
        if meter.accuracy_not_known:
            continue
        for name in [r.name for r in meter.ranges] or [""]:
            one = meter.range(name)
            if one is not None and one.top is not None and call.value > one.top:
                continue
            band = band_of(meter, call.value, name)
            # A thousandth narrower is rounding and no better meter.
            if band.width >= call.band.width * 0.999:
                continue
            settles = limit is not None and (
                call_band(band, call.value, limit, facts.thresholds)[0] != "CLOSE CALL"
            )
            found.append((meter, name, band, settles))
    return sorted(found, key=lambda one: one[2].width)


def hot_of(facts: JobFacts, state: JobState) -> compression.Hot:
    """How long after shutdown a reading is still hot, and when the engine was shut down."""
    return state.once("hot", lambda: _hot(facts, state), facts)


def _hot(facts: JobFacts, state: JobState) -> compression.Hot:
    stopped = _stopped(facts, state)
    cold = {
        stopped[entry.fields.run]
        for entry in state.live()
        # What nobody wrote down of it says nothing.
        if is_a(entry, RunEnded) and entry.data.get("full_temperature") is False
    }
    return compression.Hot(facts.run_rules.hot_minutes, tuple(stopped.values()), frozenset(cold))


def _stopped(facts: JobFacts, state: JobState) -> dict[str, datetime]:
    """When each run's engine stood still, by its step or its end, whichever is first on file."""
    stops = {step.id for step in facts.run_steps if step.stops}
    first: dict[str, datetime] = {}
    for entry in state.live():
        if is_a(entry, RunEnded) or (is_a(entry, RunStepDone) and entry.fields.step in stops):
            run = entry.fields.run
            # The first of the two: a card is often closed long after the engine stood still.
            first[run] = min(entry.at, first.get(run, entry.at))
    return first
