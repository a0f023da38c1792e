"""Stories of parts: the demo's as they were set down by hand, and those that went wrong."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime

import pytest

from rehang.sheets import demo_path
from rehang.sheets.folder import read_folder
from rehang.trade.job.judging import JudgedJob, judge
from rehang.trade.life.fits import as_read, value_of
from rehang.trade.life.history import story
from rehang.trade.life.story_values import Point, Series, books_of
from rehang.trade.terms.entries import Entry, new_entry
from rehang.trade.terms.errors import BadInput
from tests.trade.cast import METERS, Bench, facts


@pytest.fixture(scope="module")
def demo() -> JudgedJob:
    folder = read_folder(demo_path())
    now = datetime.fromisoformat("2026-10-21T08:00:00-05:00")
    return judge(folder.facts, folder.entries, now, folder.where)


def series(job: JudgedJob, item: str, check: str) -> Series:
    found = story(job, item).of(check)
    assert found is not None
    return found


def counted(points: tuple[Point, ...]) -> list[object]:
    return [point.value for point in points if point.counts]


def test_plug_is_followed_through_the_holes_it_flew_in(demo):
    flown = [(one.place, one.hours) for one in story(demo, "plug:K0412").flights]
    assert flown == [("3T", 104.5), ("2B", 101.5), ("4T", 99.2), ("1B", 95.1)]


def test_resistance_that_ends_open_is_an_end_and_no_number(demo):
    found = series(demo, "plug:K0412", "resistance")
    assert counted(found.points) == [1010, 1350, 2100, 4300]
    assert found.opened is not None
    assert found.opened.on == date(2026, 10, 14)


def test_gap_breaks_at_each_regap_and_its_growth_is_by_interval(demo):
    found = series(demo, "plug:K0415", "gap")
    assert found.growth() == (20, 30, 40, 70)
    assert [point.segment for point in found.points] == [0, 0, 1, 1, 2, 2, 3, 3]
    assert [point.breaks for point in found.points if point.left] == ["new", "set", "set", "set"]


def test_changed_meter_breaks_the_line_and_says_so(demo):
    last = series(demo, "plug:K0413", "resistance").points[-1]
    assert (last.value, last.meter, last.breaks) == (4800, "AN-1", "AN-1 after DM-2")
    # By hand: on x10 the needle's 480 may be anything from 2,657 to 19,800 ohms.
    assert (round(last.low or 0), round((last.high or 0) / 100) * 100) == (2657, 19800)


def test_readings_of_a_dropped_plug_stay_and_are_marked(demo):
    found = series(demo, "plug:K0522", "resistance")
    last = found.points[-1]
    assert (last.value, last.void) == (1050, "taken before it was dropped")
    assert not last.counts
    assert counted(found.points) == [940, 990]


def test_part_that_took_a_rejects_slot_says_what_it_replaced(demo):
    told = story(demo, "plug:K0522")
    assert told.replaces == "K0416"
    assert [event.kind for event in told.events][-1] == "dropped"
    assert story(demo, "plug:K0416").of("resistance").points[-1].value == 6300


def test_cylinder_is_followed_hot_with_the_better_of_two_reads(demo):
    found = series(demo, "cylinder:3", "compression")
    assert counted(found.points) == [75, 72, 67, 59]
    assert found.growth() == (-3, -5, -8)
    asides = {point.value: point.aside for point in found.points if point.aside}
    assert asides == {
        58: "the worse of two reads",
        62: "not taken hot: for reference only",
        61: "not taken hot: for reference only",
    }
    assert found.limit_words == "43 psi or more by the last master reading"


def test_oil_is_followed_by_what_was_made_and_by_hours_a_quart(demo):
    told = story(demo, "oil:engine")
    made = {one.check: [round(p.value or 0, 1) for p in one.points] for one in told.series}
    # By hand, mass balance with continuous make-up.
    assert made["Fe"] == [42.4, 47.0, 52.0, 70.3, 80.9]
    assert made["Ni"] == [4.0, 5.5, 8.9, 16.8, 25.0]
    assert made["hours_per_quart"] == [12.0, 11.5, 10.6, 8.8, 7.3]
    assert "counted" in {event.kind for event in told.events}


def test_hose_has_a_story_of_dates(demo):
    told = story(demo, "hose:HS3")
    assert [event.words for event in told.events][:2] == [
        "Cooler out, rubber: made 2019-Q2.",
        "Cooler out, rubber: fitted 2019-08.",
    ]
    assert told.verdict is not None
    assert told.verdict.verdict == "REJECT"


def test_item_that_no_book_knows_is_refused(demo):
    with pytest.raises(BadInput, match=r'^There is no item "plug:K9999" in this job\.$'):
        story(demo, "plug:K9999")


def bench_with(*services: tuple[str, float, str]) -> Bench:
    """A plug whose older resistances were copied in: day, hours, ohms."""
    bench = Bench()
    for day, hours, ohms in services:
        bench.write(
            "earlier",
            service=day,
            place="1T",
            engine_hours=hours,
            item_hours=hours,
            readings=[{"check": "resistance", "written": ohms, "meter": "DM", "range": "20k"}],
        )
    return bench


def test_struck_reading_stays_in_its_place_with_its_reason():
    bench = Bench()
    wrong = bench.read("resistance", "12.0", "DM", range="20k")
    bench.write("struck", entry=wrong.id, reason="wrong plug on the probe")
    bench.read("resistance", "1.2", "DM", range="20k")
    told = story(judge(facts(), bench.entries), "plug:P1")
    points = told.of("resistance").points
    assert [(p.value, p.struck) for p in points] == [(12000, "wrong plug on the probe"), (1200, "")]
    assert [p.counts for p in points] == [False, True]
    assert [e.struck for e in told.events if e.kind == "reading"] == ["wrong plug on the probe", ""]


def test_parts_swapped_by_mistake_are_right_once_the_swap_is_struck():
    bench = Bench()
    bench.write("removed", item="plug:P2", place="2T")
    for right in (False, True):
        pair = (("plug:P1", "1100"), ("plug:P2", "2300"))
        ohms = dict(pair) if right else {"plug:P1": "2300", "plug:P2": "1100"}
        written = [
            bench.write(
                "earlier",
                item=item,
                service="2025-10-01",
                engine_hours=500.0,
                item_hours=100.0,
                readings=[
                    {"check": "resistance", "written": f"{ohm} ohm", "meter": "DM", "range": "20k"}
                ],
            )
            for item, ohm in ohms.items()
        ]
        if not right:
            for entry in written:
                bench.write("struck", entry=entry.id, reason="P1 and P2 were swapped")
    job = judge(facts(), bench.entries)
    for item, value in (("plug:P1", 1100), ("plug:P2", 2300)):
        told = story(job, item)
        assert counted(told.of("resistance").points) == [value]
        services = [event for event in told.events if event.kind == "earlier"]
        assert [event.struck for event in services] == ["P1 and P2 were swapped", ""]


def test_serial_is_followed_from_engine_to_engine_and_a_service_is_told_once():
    first = Bench()
    first.read("resistance", "1.10", "DM", range="20k")
    engine = 'serial = "{serial}"\nhours = {{ since_overhaul = {hours} }}\n'
    head = 'format = 1\njob = "{job}"\nlayout = "opposed-4"\ntimezone = "America/Chicago"\n'

    def job(name: str, serial: str, hours: float, entries: list[Entry]) -> JudgedJob:
        text = head.format(job=name) + engine.format(serial=serial, hours=hours)
        return judge(facts(engine=text), entries)

    older = job("older", "E1", 500.0, first.entries)
    # The same service copied into the next job of that engine, and the next service itself.
    copied = bench_with(("2026-11-02", 500.0, "1100 ohm"))
    later = [entry for entry in copied.entries if entry.kind == "earlier"]
    second = Bench()
    second.entries = [_next_year(entry, n) for n, entry in enumerate([*later, *first.entries])]
    newer = job("newer", "E1", 600.0, second.entries)
    elsewhere = job(
        "elsewhere", "E2", 900.0, [_next_year(e, 50 + n, 2) for n, e in enumerate(first.entries)]
    )
    told = story([elsewhere, newer, older], "plug:P1")
    assert told.jobs == ("older", "newer", "elsewhere")
    assert [(p.job, p.engine_hours) for p in told.of("resistance").points] == [
        ("older", 500.0),
        ("newer", 600.0),
        ("elsewhere", 900.0),
    ]
    # A cylinder belongs to its engine.
    assert [b.facts.job for b in books_of([older, newer], "plug:P1")] == ["older", "newer"]


def _next_year(entry: Entry, number: int, years: int = 1) -> Entry:
    at = entry.at.replace(year=entry.at.year + years)
    return new_entry(entry.kind, at=at, by=entry.by, id=f"later-{number:03}", **entry.data)


CERTIFIED = """
[[meter]]
id = "CM"
kind = "certificate"
quantity = "resistance"
keyed = "ohm"
expanded = "40 ohm"
coverage = 2
due = "2027-01"
"""


@pytest.mark.parametrize(
    ("steps", "own"),
    [
        # JCGM 100:2008, 4.3.7: steps of 12 ohm are uniform within half of one, 12^2 / 12.
        ('resolution = "12 ohm"\n', 12.0),
        ('repeatability = "5 ohm"\n', 25.0),
        # Nothing on file says what of it comes anew each time.
        ("", 400.0),
    ],
)
def test_what_a_certificate_states_is_shared_by_its_readings(steps, own):
    bench = Bench()
    bench.read("resistance", "1200 ohm", "CM")
    job = judge(facts(meters=METERS + CERTIFIED + steps), bench.entries)
    (point,) = series(job, "plug:P1", "resistance").points
    assert point.scatter == pytest.approx(own)
    # Half of the expanded uncertainty is one standard uncertainty: JCGM 100:2008, 6.2.1.
    assert point.variance == pytest.approx(20**2 + (own if steps else 0))


@pytest.mark.parametrize(("steps", "own"), [('resolution = "12 ohm"\n', 12.0), ("", None)])
def test_where_a_scale_puts_its_needle_is_shared_by_its_readings(steps, own):
    bench = Bench()
    bench.read("resistance", "1200 ohm", "AN", range="x100")
    scale = METERS.replace("percent_of_arc = 3\n", f"percent_of_arc = 3\n{steps}")
    (point,) = series(judge(facts(meters=scale), bench.entries), "plug:P1", "resistance").points
    assert point.scatter == pytest.approx(own if own is not None else point.variance)
    # 3 per cent of arc is some 90 ohm of standard deviation there: far more than the steps.
    assert point.variance > 4 * 12


def test_leak_is_followed_in_the_air_of_its_place(demo):
    # At 5,000 ft the standard air is 843 hPa (ICAO Doc 7488, table 1): a leak that shows the same
    # is larger there (see tests/published/test_leakage.py).
    high = replace(demo.facts, engine={**demo.facts.engine, "elevation_ft": 5000})
    there = judge(high, demo.state.order)
    found = series(there, "cylinder:3", "compression")
    assert found.points[0].ambient == pytest.approx(84_307, abs=5)
    sea = replace(demo.facts, engine={**demo.facts.engine, "elevation_ft": 0})
    below = series(judge(sea, demo.state.order), "cylinder:3", "compression")
    assert value_of(found, found.points[0]) > value_of(below, below.points[0])
    # What is worked out for it is shown as the same reading again.
    assert as_read(found, value_of(found, found.trend[-1])) == pytest.approx(found.trend[-1].value)
