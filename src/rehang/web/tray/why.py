"""Why one cell of the tray is called as it is."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from rehang.trade.facts.items import Check
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.meters import describe_band
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.state import as_read
from rehang.trade.life.story_values import PartStory, Point
from rehang.trade.telling.sheet_parts import status_name
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.kinds.readings import ReadingTaken, Seen
from rehang.trade.terms.quantities import show
from rehang.trade.verdicts.calls import Call, better_meters
from rehang.trade.verdicts.item_verdict import ItemVerdict, trend
from rehang.trade.verdicts.meter_calls import per_hundred
from rehang.web.tray.picture import BandPicture, picture_of
from rehang.web.tray.words import PLUG, bare_number, day_text

__all__ = [
    "WhyTag",
    "band_sentence",
    "why_of",
    "why_tag",
]


@dataclass(frozen=True, slots=True)
class OtherReading:
    """A reading on file that does not carry the verdict, and why."""

    text: str
    why: str
    entry: str


@dataclass(frozen=True, slots=True)
class WhyTag:
    """The four lines and the picture of one check of one hole."""

    hole: str
    item: str
    name: str
    check: str
    label: str
    call: str
    status: str
    reading: tuple[str, ...]
    how_sure: tuple[str, ...]
    who_says: tuple[str, ...]
    last_time: tuple[str, ...]
    pictures: tuple[BandPicture, ...]
    spoken: str
    others: tuple[OtherReading, ...]
    entry: str
    is_close: bool
    better: str
    better_small: str
    better_meter: str
    better_range: str
    rule: str
    left_open: bool


def why_tag(
    judged: JudgedJob, hole: str, check_name: str, told: Callable[[str], PartStory] | None = None
) -> WhyTag | None:
    """Why a check of a hole is called what it is called; None for an empty hole.

    ``told`` gives a plug's story over every book it is in; without it only this book's is told.
    """
    held = judged.at(hole)
    if held is None:
        return None
    call = held.call(check_name)
    if call is None:
        return None
    check = judged.facts.sheets[PLUG].check(check_name)
    story = told(held.item) if told else None
    return why_of(judged, held, call, check, hole, story)


def why_of(
    judged: JudgedJob,
    held: ItemVerdict,
    call: Call,
    check: Check,
    hole: str,
    told: PartStory | None = None,
) -> WhyTag:
    """The tag of one call, with what the part's story says of it before."""
    facts = judged.facts
    settle = better_meters(call, facts, judged.state) if call.call == "CLOSE CALL" else []
    best = next((one for one in settle if one[3]), settle[0] if settle else None)
    better = better_small = better_meter = better_range = ""
    if best is not None and call.quantity is not None:
        meter, name, band, settles = best
        better_meter, better_range = meter.id, name
        better = f"{meter.id} {name}".strip()
        better_small = f"{better}, to {show(band.width / 2, call.quantity)}"
        if not settles:
            better_small = f"{better}, closer but cannot settle it"
    rule = ""
    if call.p_within is not None:
        rule = f"Shop rule: {facts.thresholds.words}. This is {per_hundred(call.p_within)}"
        rule += f", but {call.held_back}." if call.held_back else "."
    return WhyTag(
        hole=hole,
        item=held.item,
        name=held.name,
        check=check.name,
        label=check.label,
        call=call.call,
        status=status_name(call.call),
        reading=_reading_lines(call, facts),
        how_sure=_sure_lines(call),
        who_says=(f"{call.source}.",),
        last_time=_last_lines(call, _past_of(told, held, call, facts.job)),
        pictures=tuple(
            p for p in (picture_of(call, facts, 340), picture_of(call, facts, 276)) if p
        ),
        spoken=_spoken(call),
        others=_others(call, judged),
        entry=call.entry.id if call.entry is not None and is_a(call.entry, ReadingTaken) else "",
        is_close=call.call == "CLOSE CALL",
        better=better,
        better_small=better_small,
        better_meter=better_meter,
        better_range=better_range,
        rule=rule,
        left_open=call.left_open,
    )


def _reading_lines(call: Call, facts: JobFacts) -> tuple[str, ...]:
    if call.entry is None or not call.reading:
        return (call.sentence, f"Limit {call.limit}." if call.limit_data else "No limit on file.")
    first = f"{call.reading}"
    meter = facts.meters.get(call.meter)
    taken = call.taken.fields if call.taken is not None else None
    if meter is not None and taken is not None:
        one = meter.range(taken.range) if meter.ranges else None
        if one is not None and one.factor != 1:
            first = f"{taken.written} on the {taken.range} range is {call.reading}"
    if call.kept_as_keyed:
        first += ", kept as keyed"
    if call.how_far:
        first += f", {call.how_far}"
    limit = f"Limit {call.limit}." if call.limit_data else "No limit on file."
    return (f"{first}.", limit)


def _sure_lines(call: Call) -> tuple[str, ...]:
    if call.entry is None:
        return ("Nothing to judge yet.",)
    lines = [call.sentence]
    if call.meter_standing:
        lines.append(f"{call.meter_standing}.")
    return tuple(lines)


def _past_of(
    told: PartStory | None, held: ItemVerdict, call: Call, job: str
) -> tuple[tuple[float | None, str], ...]:
    """Value and text of what a check read before, the oldest first, by the part's story."""
    if call.quantity is None:
        return ()
    number = bare_number(call.quantity)
    series = told.of(call.check) if told is not None else None
    if series is None:
        past = trend(held, call.check)
        return tuple((v, number(v) if v is not None else text) for _, v, text in past)
    points: list[Point] = []
    for point in series.points:
        if call.entry is not None and (point.job, point.entry) == (job, call.entry.id):
            break
        # What it was set to at a service stands for that service only where nothing was read.
        set_too = point.left and points and points[-1].on == point.on
        if not (point.void or point.struck or set_too):
            points.append(point)
    return tuple((p.value, number(p.value) if p.value is not None else p.text) for p in points)


def _last_lines(call: Call, past: Sequence[tuple[float | None, str]]) -> tuple[str, ...]:
    if call.quantity is None or not past:
        return ("No earlier reading of this plug on file.",)
    number = bare_number(call.quantity)
    known = [value for value, _ in past if value is not None]
    words = ", then ".join(text for _, text in past)
    if call.value is None:
        return (f"{words}.",)
    line = f"{words}, now {number(call.value)}."
    series = [*known, call.value]
    if len(series) < 3 or len(known) < len(past):
        return (line,)
    if all(b > a for a, b in itertools.pairwise(series)):
        return (line, "Going up each time.")
    if all(b < a for a, b in itertools.pairwise(series)):
        return (line, "Going down each time.")
    return (line,)


def _spoken(call: Call) -> str:
    parts = [
        f"{call.reading or 'not read'}, {call.call.lower()}.",
        f"Limit {call.limit}.",
        f"{call.how_far}." if call.how_far else "",
        f"{call.meter} there means {call.band_words}." if call.band_words else "",
    ]
    return " ".join(p for p in parts if p)


def _others(call: Call, judged: JudgedJob) -> tuple[OtherReading, ...]:
    zone = ZoneInfo(judged.facts.timezone_name)
    found = []
    for other in call.others:
        assert other.entry is not None
        why = (
            other.sentence if other.call == "VOID" else f"{other.call}, and a later one carries it."
        )
        if other.call == "OUT":
            why = other.sentence
        found.append(
            OtherReading(f"{other.reading}, {day_text(other.entry.at, zone)}", why, other.entry.id)
        )
    if call.entry is not None:
        item = call.entry.item
        check = call.check
    else:
        item, check = "", ""
    for entry in judged.state.order:
        strike = judged.state.struck.get(entry.id)
        if strike is None or entry.item != item or not is_a(entry, ReadingTaken, Seen):
            continue
        if entry.fields.check != check:
            continue
        found.append(
            OtherReading(
                f"{_figure(entry, judged.facts)}, {day_text(entry.at, zone)}",
                f"Struck by {judged.facts.person(strike.by)}: {strike.fields.reason}.",
                entry.id,
            )
        )
    return tuple(found)


def _figure(entry: Entry[ReadingTaken | Seen], facts: JobFacts) -> str:
    if is_a(entry, Seen):
        return entry.fields.word
    assert is_a(entry, ReadingTaken)
    return as_read(entry, facts.sheets, facts.meters)[1]


def band_sentence(call: Call) -> str:
    """What the meter may mean there, in words, for the close call."""
    if call.band is None or call.quantity is None:
        return call.sentence
    span = describe_band(call.band, call.quantity)
    if call.held_back:
        return f"Down here this meter means {span}, and {call.held_back}."
    return f"Down here this meter means anything from {span}. It could be either side."
