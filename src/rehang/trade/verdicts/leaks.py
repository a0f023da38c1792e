"""What a cylinder's compression is worth as a leak: area, year by year, on any tester."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise
from math import hypot, isinf, sqrt

from rehang.calc import leakage
from rehang.calc.atmosphere import standard_air
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.meters import Meter, band_of
from rehang.trade.facts.readings import Reading
from rehang.trade.known.state import JobState
from rehang.trade.terms.conversions import FOOT, INCH, PSI, STANDARD_AIR, inches_of, station_pascals
from rehang.trade.terms.series import rises_running
from rehang.trade.terms.wording import listed, on_day
from rehang.trade.verdicts.compression import SAME_BORE_IN, SUSPECT_LOSS, loss_percent
from rehang.trade.verdicts.item_verdict import ItemVerdict

__all__ = ["Absolute", "Leak", "ambient_of", "leak_notes", "leaks_of", "notes_on_tester"]

# What testers are regulated to: AC 43.13-1B Chg 1, 8-14 [psi].
SUPPLY = 80


@dataclass(frozen=True, slots=True)
class Absolute:
    """A leak's effective area by the master orifice, with its ends at two standard uncertainties."""

    area_mm2: float
    low_mm2: float
    high_mm2: float
    master_read: int
    master_mm2: float


@dataclass(frozen=True, slots=True)
class Leak:
    """One compression reading as an effective leak area.

    ``area_mm2`` takes the tester's restrictor for a perfect orifice of its bore: areas of one
    tester compare, and are not absolute. ``low_mm2`` and ``high_mm2`` are its ends, the reading
    moved by two of its standard uncertainties, from both gauges. ``bore_in`` is the tester's
    restrictor [in], ``ambient`` the air around the engine [Pa]. ``absolute`` is the area by the
    master orifice's reading of the day, where the tester's file tells the master's own area.
    """

    on: str
    state: str
    held: int
    supply: int
    loss: float
    area_mm2: float
    low_mm2: float
    high_mm2: float
    path: str
    bore_in: float
    ambient: float
    absolute: Absolute | None = None

    @property
    def area(self) -> str:
        return _shown(self.area_mm2)

    @property
    def span(self) -> str:
        """``0.84 to 0.92``; next to the supply and at 0 an end is open."""
        if isinf(self.high_mm2):
            return f"{_shown(self.low_mm2)} or more"
        return f"{_shown(self.low_mm2)} to {_shown(self.high_mm2)}"


def _shown(area: float) -> str:
    """To a hundredth, and to two figures below a tenth: no area that is there prints as 0.00."""
    if isinf(area):
        return "too large to tell"
    return f"{area:.2f}" if area >= 0.1 or area == 0 else f"{area:.2g}"


def leaks_of(verdict: ItemVerdict, facts: JobFacts, state: JobState | None = None) -> list[Leak]:
    """Every session's better reading of a cylinder, the oldest first.

    With the ``state`` of the book the readings of this job have an absolute area too.
    """
    found: list[Leak] = []
    for earlier in sorted(verdict.history, key=lambda e: e.service):
        for reading in earlier.readings.values():
            found += _leak(earlier.service, reading, facts)
    sessions: dict[tuple[str, str], list[Reading]] = {}
    for taken in verdict.state.readings:
        if taken.void or taken.reading.supply is None:
            continue
        # Like with like: hot and cold of one day are two sessions.
        key = (taken.entry.at.date().isoformat(), taken.reading.conditions.get("state", ""))
        sessions.setdefault(key, []).append(taken.reading)
    for (on, _), reads in sessions.items():
        # DESIGN 4a, 4: the better one counts.
        better = max(reads, key=lambda r: r.value or 0)
        for one in _leak(on, better, facts):
            found.append(replace(one, absolute=_by_master(one, better.meter, facts, state)))
    return sorted(found, key=lambda one: one.on)


def _leak(on: str, reading: Reading, facts: JobFacts) -> list[Leak]:
    meter = facts.meters.get(reading.meter)
    bore = _restrictor_in(reading, meter)
    if reading.supply is None or not reading.value or bore is None or meter is None:
        return []
    ambient = ambient_of(reading, facts)
    area = leakage.leak_area(
        reading.supply * PSI,
        reading.value * PSI,
        ambient,
        leakage.effective_area(bore * INCH),
        u_supply=band_of(meter, reading.supply, reading.range).standard_uncertainty * PSI,
        u_reading=band_of(meter, reading.value, reading.range).standard_uncertainty * PSI,
        coverage_factor=2,
    )
    return [
        Leak(
            on=on,
            state=reading.conditions.get("state", ""),
            held=reading.value,
            supply=reading.supply,
            loss=loss_percent(reading.value, reading.supply),
            area_mm2=float(area.area) * 1e6,
            low_mm2=float(area.low) * 1e6,
            high_mm2=float(area.high) * 1e6,
            path=reading.conditions.get("path", ""),
            bore_in=bore,
            ambient=ambient,
        )
    ]


def _by_master(leak: Leak, name: str, facts: JobFacts, state: JobState | None) -> Absolute | None:
    meter = facts.meters[name]
    master = state.master(name, date.fromisoformat(leak.on)) if state is not None else None
    if not meter.master_mm2 or master is None or not 0 < master[1] < leak.supply:
        return None
    band = band_of(meter, leak.held)
    # The gauges' accuracy is in both readings alike; their last digit is met anew at each.
    shared, each = band.a / sqrt(3), hypot(band.d / sqrt(12), band.u)
    found = leakage.leak_area_by_master(
        leak.supply * PSI,
        leak.held * PSI,
        master[1] * PSI,
        leak.ambient,
        meter.master_mm2 * 1e-6,
        u_supply_shared=shared * PSI,
        u_reading_shared=shared * PSI,
        u_supply_each=each * PSI,
        u_reading_each=each * PSI,
        u_master_area=meter.master_u_mm2 * 1e-6,
    )
    low, area, high = (float(one) * 1e6 for one in (found.low, found.area, found.high))
    return Absolute(area, low, high, master[1], meter.master_mm2)


def notes_on_tester(meter: Meter, facts: JobFacts, state: JobState) -> list[str]:
    """What the master's readings say of a tester: how its restrictor passes, and whether it changed.

    Empty where its file does not tell the master's area, or no master reading is in the book.
    """
    read = [(e.at.date(), value) for e, value in state.masters if e.fields.meter == meter.id]
    if not (meter.master_mm2 and meter.orifice and read) or meter.accuracy_not_known:
        return []
    supply, ambient, area = SUPPLY * PSI, ambient_of(None, facts), meter.master_mm2 * 1e-6
    (first, value), (last, now) = read[0], read[-1]
    if not 0 < value < SUPPLY:
        return [f"A master reading of {value} psi at {SUPPLY} tells nothing of the restrictor."]
    u = band_of(meter, value).standard_uncertainty * PSI
    mine = leakage.calibrate_restrictor(
        supply,
        value * PSI,
        ambient,
        area,
        inches_of(meter.orifice) * INCH,
        u_supply=u,
        u_reading=u,
        u_master_area=meter.master_u_mm2 * 1e-6,
    )
    notes = [
        f"By the master reading of {on_day(first)} its restrictor passes {float(mine.discharge):.2f} "
        f"of what a perfect {meter.orifice} orifice would.",
        *mine.notes,
    ]
    if last == first:
        return notes
    floor = leakage.master_floor(
        float(mine.area),
        area,
        supply,
        ambient,
        u_restrictor_area=float(mine.standard_uncertainty),
        u_supply=u,
    )
    wanted = float(floor.reading) / PSI
    # Two standard uncertainties of the difference; less than that is no change that can be told.
    apart = 2 * hypot(float(floor.standard_uncertainty), u) / PSI
    said = f"on {on_day(last)} it read {now}, where {wanted:.0f} ± {apart:.0f} was to be expected"
    changed = abs(now - wanted) > apart
    notes.append(f"The tester has changed: {said}." if changed else f"It has not changed: {said}.")
    return notes


def ambient_of(reading: Reading | None, facts: JobFacts) -> float:
    """The pressure of the air around the engine, in pascals: as written with the reading, else by the place's elevation.

    The air at 3,000 ft makes the area 1 % larger than the same reading at sea level.
    """
    station = reading.conditions.get("station", "") if reading is not None else ""
    if station:
        return station_pascals(station)
    feet = facts.engine.get("elevation_ft")
    if isinstance(feet, (int, float)):
        return float(standard_air(feet * FOOT).pressure)
    return STANDARD_AIR


def _restrictor_in(reading: Reading, meter: Meter | None) -> float | None:
    text = reading.conditions.get("orifice", "") or (meter.orifice if meter else "")
    return inches_of(text) if text else None


def _on_the_last_tester(hot: Sequence[Leak]) -> list[str]:
    """What readings through another restrictor, or at another supply, would be on the last tester."""
    last = hot[-1]
    said = [
        f"{one.held}/{one.supply} of {one.on[:4]} (through {one.bore_in:.3f} in) "
        f"{_there(one, last):.0f}/{last.supply}"
        for one in hot
        # The same restrictor in another unit is no other.
        if one.supply != last.supply or abs(one.bore_in - last.bore_in) > SAME_BORE_IN
    ]
    if not said:
        return []
    return [
        f"Through the {last.bore_in:.3f} in restrictor of the last reading, at its supply and in "
        f"its air, the same leaks would read: {listed(said)}. For comparing; a limit is for what "
        "was read."
    ]


def _there(one: Leak, last: Leak) -> float:
    """What the leak of one reading would read where the last was taken [psi]."""
    read = leakage.equivalent_reading(
        one.supply * PSI,
        one.held * PSI,
        one.ambient,
        leakage.effective_area(one.bore_in * INCH),
        last.supply * PSI,
        last.ambient,
        leakage.effective_area(last.bore_in * INCH),
    )
    return float(read) / PSI


def leak_notes(leaks: Sequence[Leak]) -> list[str]:
    """The leak in words: its area like with like, year by year, and which way it goes."""
    hot = [one for one in leaks if one.state == "hot"]
    if not hot:
        return []
    last = hot[-1]
    areas = ", ".join(one.area for one in hot)
    years = f"{hot[0].on[:4]} to {last.on[:4]}" if len(hot) > 1 else last.on[:4]
    notes = [
        f"Leak area, hot, {years}: {areas} mm² (last {last.span}), as if the tester's "
        "restrictor were a perfect orifice: for comparing, not absolute."
    ]
    if last.absolute is not None:
        one = last.absolute
        notes.append(
            f"By its master orifice of {_shown(one.master_mm2)} mm², which read {one.master_read} "
            f"that day, the leak is {_shown(one.area_mm2)} mm² ({_shown(one.low_mm2)} to "
            f"{_shown(one.high_mm2)}): absolute, whatever the restrictor's true bore."
        )
    notes += _on_the_last_tester(hot)
    rises = rises_running([one.area_mm2 for one in hot])
    # Three running is a trend: common practice, no source.
    if rises >= 3:
        steps = ", ".join(
            f"{after.held - before.held:+d}".replace("-", "−") for before, after in pairwise(hot)
        )
        notes.append(f"It has leaked more at each of the last {rises} services ({steps} psi).")
    cold = [one for one in leaks if one.state != "hot" and one.on > last.on]
    if cold:
        notes.append(
            f"{cold[-1].held}/{cold[-1].supply} {cold[-1].state} on {cold[-1].on} is for reference "
            f"only and does not clear the {last.held} taken hot."
        )
    if last.loss > SUSPECT_LOSS:
        notes.append(
            f"{last.loss:g} % lost is below 60/80, where a general circular says suspect; it "
            "applies only where the maker gives no instructions (AC 43.13-1B 8-14 and paragraph "
            "1; not approved data)."
        )
    return notes
