"""The series of one check over the services of a part, and those of its oil."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from math import exp, log

from rehang.calc.uncertainty import arc_fraction, resistance_at_arc
from rehang.trade.facts.items import Check
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.limits import Limit, limit_for, limit_words
from rehang.trade.facts.meters import Band, Meter, band_of
from rehang.trade.facts.readings import Reading
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.state import Earlier, ItemState, item_kind, understand
from rehang.trade.life.oil_trend import ELEMENTS, LAB_SHARE, OilRow, oil_trend
from rehang.trade.life.story_values import (
    HOURS_PER_QUART,
    OIL,
    SAME_HOURS,
    Point,
    Series,
    Way,
    books_of,
    engine_hours,
    first_day,
    way_of,
)
from rehang.trade.terms.days import last_day
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.kinds.decisions import Struck
from rehang.trade.terms.kinds.items import Reworked
from rehang.trade.terms.kinds.readings import ReadingTaken
from rehang.trade.terms.kinds.runs import RunBegan, RunEnded
from rehang.trade.terms.quantities import number_and_unit
from rehang.trade.terms.wording import NO_LIMIT
from rehang.trade.verdicts.leaks import ambient_of

__all__ = ["copied_services", "reason_of", "series_of"]


def series_of(
    books: JudgedJob | Sequence[JudgedJob], item: str, job: str = ""
) -> tuple[Series, ...]:
    """Every measured check of an item as a series over its books."""
    if isinstance(books, JudgedJob):
        books = [books]
    held = books_of(books, item, job)
    if item == OIL:
        return _oil_series(held)
    sheet = held[-1].facts.sheets.get(item_kind(item))
    copied = copied_services(held, item)
    made = [
        _series(held, item, check, copied)
        for check in (sheet.checks if sheet else ())
        if check.kind == "measure" and check.quantity is not None and check.method in _READ
    ]
    return tuple(one for one in made if one.points)


# Checks whose readings are taken as they stand: an age is no reading, and what a run shows is
# judged on the run.
_READ = ("", "compression")


def copied_services(held: Sequence[JudgedJob], item: str) -> frozenset[tuple[str, str]]:
    """Earlier services, by job and entry, that another book here tells of at first hand or before."""
    own = [
        (one.facts.engine.get("serial"), engine_hours(one), first_day(one).date())
        for one in held
        if one.state.items[item].readings or one.state.items[item].removed
    ]
    found: set[tuple[str, str]] = set()
    told: dict[tuple[object, str], str] = {}
    for one in held:
        serial = one.facts.engine.get("serial")
        began = first_day(one).date()
        for earlier in one.state.items[item].earlier:
            at_first_hand = any(
                other == serial and on < began and _is_that_service(earlier, hours, on)
                for other, hours, on in own
            )
            teller = told.setdefault((serial, earlier.service), one.facts.job)
            if at_first_hand or teller != one.facts.job:
                found.add((one.facts.job, earlier.entry.id))
    return frozenset(found)


def _is_that_service(earlier: Earlier, hours: float | None, on: date) -> bool:
    if hours is not None and earlier.engine_hours is not None:
        return abs(hours - earlier.engine_hours) < SAME_HOURS
    return last_day(earlier.service) == on


# Readings in their order


def _series(
    held: Sequence[JudgedJob], item: str, check: Check, copied: frozenset[tuple[str, str]]
) -> Series:
    way = way_of(item, check.name)
    points: list[Point] = []
    for judged in held:
        points += _points(judged, item, check, way, copied)
    clock = "part"
    if any(p.item_hours is None for p in points if p.counts or p.opened):
        clock = "engine"
    points = [replace(p, hours=p.item_hours if clock == "part" else p.engine_hours) for p in points]
    # Earlier services come first however late they were copied in; the book's order is kept.
    points.sort(key=lambda p: (p.on, not p.earlier))
    home = held[-1]
    limit = limit_for(home.facts.limits, item_kind(item), check.name, "service")
    points = _segmented(_worse_aside(points, check, limit))
    lower = None if limit is None or limit.lower is None else float(limit.lower)
    if limit is not None and limit.floor == "master":
        lower = _last_master(home)
    assert check.quantity is not None
    return Series(
        item=item,
        check=check.name,
        label=check.label,
        quantity=check.quantity,
        unit=number_and_unit(0, check.quantity)[1],
        clock=clock,
        way=way,
        points=tuple(points),
        lower=lower,
        upper=None if limit is None or limit.upper is None else float(limit.upper),
        aim=None if limit is None or limit.aim is None else float(limit.aim),
        floor=limit is not None and limit.floor == "master",
        limit_words=_limit_words(limit, lower),
        limit_source=limit.source_text if limit is not None and limit.has_source else "",
    )


def _limit_words(limit: Limit | None, lower: float | None) -> str:
    if limit is None:
        return NO_LIMIT
    if limit.floor and lower is not None:
        return f"{lower:g} psi or more by the last master reading"
    return limit_words(limit)


def _last_master(judged: JudgedJob) -> float | None:
    """What the last master reading was: the floor of the next is not known yet."""
    return float(judged.state.masters[-1][1]) if judged.state.masters else None


def _points(
    judged: JudgedJob, item: str, check: Check, way: Way, copied: frozenset[tuple[str, str]]
) -> list[Point]:
    state = judged.state.items[item]
    found: list[Point] = []
    for earlier in sorted(state.earlier, key=lambda e: last_day(e.service)):
        if (judged.facts.job, earlier.entry.id) in copied:
            continue
        for reading, left in (
            (earlier.readings.get(check.name), False),
            (earlier.left.get(check.name), True),
        ):
            if reading is not None:
                found.append(_earlier_point(judged, earlier, reading, check, way, left=left))
    return found + _own_points(judged, state, check, way)


def _earlier_point(
    judged: JudgedJob, earlier: Earlier, reading: Reading, check: Check, way: Way, *, left: bool
) -> Point:
    blank = _point(judged, earlier.entry, reading, check, way)
    return replace(
        blank,
        on=last_day(earlier.service),
        engine_hours=earlier.engine_hours,
        item_hours=earlier.item_hours,
        left=left,
        restart=left,
        breaks=_set_words(earlier) if left else "",
        earlier=True,
        place=earlier.place,
    )


def _set_words(earlier: Earlier) -> str:
    return "new" if earlier.item_hours == 0 else "set"


def _own_points(judged: JudgedJob, state: ItemState, check: Check, way: Way) -> list[Point]:
    """The readings of this job in the book's order, with what was done between them."""
    sheet = judged.facts.sheets[state.kind]
    taken = {one.entry.id: one for one in state.readings}
    verdict = next((one for one in judged.items if one.item == state.id), None)
    call = verdict.call(check.name) if verdict else None
    calls = {} if call is None else {c.entry.id: c.call for c in (call, *call.others) if c.entry}
    now = engine_hours(judged)
    found: list[Point] = []
    set_anew = ""
    for entry in judged.state.order:
        if is_a(entry, RunBegan, RunEnded) and entry.fields.engine_hours is not None:
            now = float(entry.fields.engine_hours)
        if entry.item != state.id:
            continue
        struck = judged.state.struck.get(entry.id)
        if is_a(entry, Reworked) and struck is None and entry.fields.act in sheet.reworks:
            act = sheet.reworks[entry.fields.act]
            if _sets(act.name, check, act.voids, clears=act.clears_deposits):
                set_anew = act.done
        if not is_a(entry, ReadingTaken) or entry.fields.check != check.name:
            continue
        reading = _read(judged, entry, struck is not None)
        if reading is None:
            continue
        one = taken.get(entry.id)
        point = _point(judged, entry, reading, check, way)
        void = one.void if one is not None else ""
        if one is not None and one.voided_by in sheet.reworks:
            # What was read before a rework no longer judges the part; it was true when it was read.
            void = ""
        found.append(
            replace(
                point,
                engine_hours=now,
                item_hours=state.hours,
                left=bool(set_anew),
                restart=bool(set_anew),
                breaks=set_anew,
                call=calls.get(entry.id, ""),
                void=void,
                struck=reason_of(struck),
                place=entry.place or state.came_out_of,
            )
        )
        if struck is None:
            set_anew = ""
    # Of a cylinder two reads are asked for, and neither stands for the other.
    return found if check.method == "compression" else _last_of_each(found)


def _sets(act: str, check: Check, voids: Sequence[str], *, clears: bool) -> bool:
    """Whether a rework changes the part itself, so that its trend starts anew.

    Cleaning and a better contact only let the meter see it.
    """
    if act == check.rework_act:
        return True
    return check.name in voids and not clears and act != check.repeat_after


def _read(judged: JudgedJob, entry: Entry[ReadingTaken], is_struck: bool) -> Reading | None:
    try:
        return understand(entry, judged.facts.sheets, judged.facts.meters)[1]
    except BadInput:
        # Only a struck reading may speak of a meter or check that is no longer on file.
        if not is_struck:
            raise
        return None


def reason_of(struck: Entry[Struck] | None) -> str:
    return struck.fields.reason if struck is not None else ""


def _last_of_each(points: list[Point]) -> list[Point]:
    """A reading taken again after a cleaning stands for the one before it."""
    done: list[Point] = []
    for number, point in enumerate(points):
        again = point.counts and any(
            later.counts and not later.restart and later.meter == point.meter and not point.left
            for later in points[number + 1 : _next_restart(points, number)]
        )
        done.append(replace(point, aside="taken again later") if again else point)
    return done


def _next_restart(points: Sequence[Point], number: int) -> int:
    for place in range(number + 1, len(points)):
        if points[place].restart:
            return place
    return len(points)


def _point(judged: JudgedJob, entry: Entry, reading: Reading, check: Check, way: Way) -> Point:
    band = _band(reading, judged.facts)
    centre, variance = _centre(band, way)
    scatter = min(_scatter(band, judged.facts.meters.get(reading.meter), variance), variance)
    return Point(
        on=entry.at.date(),
        hours=None,
        engine_hours=None,
        item_hours=None,
        value=reading.value,
        centre=centre,
        variance=variance,
        scatter=scatter,
        low=band.low if band else None,
        high=band.high if band else None,
        text=reading.text(check),
        record=reading.text(check, record=True),
        meter=reading.meter,
        left=False,
        segment=0,
        restart=False,
        breaks="",
        call="",
        state=reading.state,
        aside="",
        void="",
        struck="",
        earlier=False,
        job=judged.facts.job,
        entry=entry.id,
        place="",
        words=_condition_words(reading.conditions),
        supply=reading.supply,
        conditions=reading.conditions,
        ambient=ambient_of(reading, judged.facts),
    )


def _condition_words(conditions: Mapping[str, str]) -> str:
    said = [conditions.get("state", "")]
    if conditions.get("minutes"):
        said.append(f"{conditions['minutes']} min after shutdown")
    path = conditions.get("path", "none")
    if path != "none":
        note = conditions.get("path_note", "")
        said.append(f"air at the {path}" + (f", {note}" if note else ""))
    known = ("state", "minutes", "path", "path_note", "orifice")
    said += [f"{name} {words}" for name, words in conditions.items() if name not in known]
    return ", ".join(words for words in said if words)


def _band(reading: Reading, facts: JobFacts) -> Band | None:
    meter = facts.meters.get(reading.meter)
    if reading.between is not None:
        low, high = reading.between
        return Band("uniform", (low + high) / 2, float(low), float(high))
    if reading.value is None or meter is None:
        return None
    return band_of(meter, reading.value, reading.range)


def _centre(band: Band | None, way: Way) -> tuple[float | None, float]:
    """Mean and variance of the true value given the reading, on the scale it grows evenly on."""
    if band is None:
        return None, 0.0
    match band.shape:
        case "uniform":
            return (band.low + band.high) / 2, (band.high - band.low) ** 2 / 12
        case "trapezoid" | "normal":
            return band.centre, band.standard_uncertainty**2
        case "arc":
            centre, of_arc = _arc_centre(band, way)
            return centre, of_arc + band.d**2 / 12 + band.u**2
    raise AssertionError(band.shape)


def _scatter(band: Band | None, meter: Meter | None, variance: float) -> float:
    """What readings on one meter differ by though nothing has changed.

    Its accuracy is the same each time and cancels in a trend: JCGM 100:2008, 3.3.3 and 4.2.2, on
    what repeated observations show and do not show. So does what a certificate states, and where
    on its arc a scale puts the needle. A certificate or a scale with neither steps nor
    repeatability on file has one figure for both, and all of it is taken as each reading's own.
    """
    if band is None or meter is None or band.shape == "uniform":
        return variance
    own = band.d**2 / 12 + (meter.repeatability**2 if meter.way.states_u else band.u**2)
    if not own and (band.shape == "arc" or meter.way.states_u):
        return variance
    return own


def _arc_centre(band: Band, way: Way) -> tuple[float, float]:
    """The needle is as likely anywhere on its stretch of arc: summed over 65 places of it."""
    middle = float(arc_fraction(band.centre, band.mid_scale))
    low, high = max(middle - band.arc, 1e-4), min(middle + band.arc, 1 - 1e-9)
    places = [low + (high - low) * (k + 0.5) / 65 for k in range(65)]
    values = [float(resistance_at_arc(place, band.mid_scale)) for place in places]
    if way.scale == "log":
        logs = [log(value) for value in values if value > 0]
        mean = sum(logs) / len(logs)
        return exp(mean), exp(2 * mean) * sum((one - mean) ** 2 for one in logs) / len(logs)
    mean = sum(values) / len(values)
    return mean, sum((one - mean) ** 2 for one in values) / len(values)


def _worse_aside(points: list[Point], check: Check, limit: Limit | None) -> list[Point]:
    """Of a cylinder's reads only the better of each session is followed, and like with like."""
    if check.method != "compression":
        return points
    wanted = limit.wants if limit is not None else {}
    best: dict[tuple[date, str], float] = {}
    for point in points:
        if point.counts and point.value is not None:
            best[_session(point)] = max(best.get(_session(point), 0.0), float(point.value))
    done = []
    seen: set[tuple[date, str]] = set()
    for point in points:
        aside = ""
        unlike = [w for name, w in wanted.items() if point.conditions.get(name) != w]
        if point.counts and unlike:
            aside = f"not taken {', '.join(unlike)}: for reference only"
        elif point.counts and (point.value != best[_session(point)] or _session(point) in seen):
            aside = "the worse of two reads"
        elif point.counts:
            seen.add(_session(point))
        done.append(replace(point, aside=aside) if aside else point)
    return done


def _session(point: Point) -> tuple[date, str]:
    return point.on, point.conditions.get("state", "")


def _segmented(points: Sequence[Point]) -> list[Point]:
    """A line joins readings of one part, one setting and one meter."""
    done: list[Point] = []
    segment, meter, first = 0, "", True
    for point in points:
        breaks = point.breaks
        if point.restart and not first:
            segment += 1
        elif point.counts and meter and point.meter != meter:
            segment += 1
            breaks = f"{point.meter} after {meter}"
        if point.counts:
            meter, first = point.meter, False
        done.append(replace(point, segment=segment, breaks=breaks))
    return done


# The oil


def _oil_series(held: Sequence[JudgedJob]) -> tuple[Series, ...]:
    """The samples of all books, each drain once."""
    drains: dict[str, tuple[JudgedJob, OilRow, Entry]] = {}
    for judged in held:
        trend = oil_trend(judged)
        if trend is None:
            continue
        entries = [e for one in judged.state.items.values() for e in one.samples]
        for row, entry in zip(trend.rows, entries, strict=True):
            drains.setdefault(row.on, (judged, row, entry))
    told = [drains[on] for on in sorted(drains)]
    made = []
    for element in ELEMENTS:
        points = [
            _oil_point(
                judged, row, entry, row.made[element], f"{row.reported(element)} ppm reported"
            )
            for judged, row, entry in told
            if row.made.get(element, 0) > 0
        ]
        if points:
            made.append(_oil_one(element, f"{element} made", "ppm in 50 h", points))
    use = [
        _oil_point(judged, row, entry, row.hours_per_quart, f"{row.added_qt:g} qt added")
        for judged, row, entry in told
        if row.hours_per_quart
    ]
    if use:
        made.append(_oil_one(HOURS_PER_QUART, "Hours a quart", "h a quart", use))
    return tuple(made)


def _oil_point(
    judged: JudgedJob, row: OilRow, entry: Entry, value: float | None, words: str
) -> Point:
    assert value is not None
    # What a quart is known to at the stick is no better than the laboratory: one share for both.
    u = LAB_SHARE * value
    return Point(
        on=last_day(row.on),
        hours=row.engine_hours,
        engine_hours=row.engine_hours,
        item_hours=None,
        value=value,
        centre=value,
        variance=u**2,
        scatter=u**2,
        low=value - 2 * u,
        high=value + 2 * u,
        text=f"{value:.1f}",
        record=f"{value:.1f}",
        meter="",
        left=False,
        segment=0,
        restart=False,
        breaks="",
        call="",
        state="",
        aside="",
        void="",
        struck="",
        earlier=False,
        job=judged.facts.job,
        entry=entry.id,
        place="",
        words=f"{words}; taken {row.flag}" if row.flag else words,
    )


def _oil_one(check: str, label: str, unit: str, points: Sequence[Point]) -> Series:
    return Series(
        item=OIL,
        check=check,
        label=label,
        quantity=None,
        unit=unit,
        clock="engine",
        way=way_of(OIL, check),
        points=tuple(points),
        lower=None,
        upper=None,
        aim=None,
        floor=False,
        limit_words="no limit: followed against its own history",
        limit_source="",
    )
