"""What the day's air is worth at a static speed.

The figures -9, -16 and -28 rpm at 2,300 and 100 short at 3,000 ft are worked by hand from
the power-lapse factor that is from memory. The two days of moist air are those of the published
check of rehang.calc.atmosphere.
"""

from __future__ import annotations

import pytest

from rehang.calc.atmosphere import standard_air
from rehang.trade.facts.limits import limit_for
from rehang.trade.run.air import DayAir, check_conditions, day_air, static_worth, worth_of
from rehang.trade.run.runs import runs_of, worth_beside
from rehang.trade.terms.conversions import FOOT
from rehang.trade.terms.errors import BadInput
from rehang.trade.verdicts.folding import fold_job
from rehang.trade.verdicts.verdict import judge_items

from .cast import START, facts
from .test_runs import run, shop

LIMIT = limit_for(shop().limits, "run", "static", "service")


def day(feet: float, **more: str) -> DayAir:
    """The standard air of an altitude, as a field there would give it, as dry as can be."""
    kelvin = standard_air(feet * FOOT).temperature
    found = day_air(
        facts(),
        {
            "oat": f"{kelvin - 273.15:.2f} C",
            "altimeter": "1013.25 hPa",
            "elevation": f"{feet:g} ft",
            "dew_point": "-60 C",
            **more,
        },
    )
    assert isinstance(found, DayAir)
    return found


@pytest.mark.parametrize(("feet", "worth"), [(3000, -9), (5000, -16), (8000, -28)])
def test_thin_air_is_worth_little(feet, worth):
    found = worth_of(2300, LIMIT, day(feet))
    assert round(found.by_air) == worth
    assert found.is_air is None
    assert f"takes {-worth} rpm" in found.sentence


def test_a_hundred_short_at_three_thousand_feet_is_not_the_air():
    found = worth_of(2150, LIMIT, day(3000), u_speed=1.2)
    assert found.sentence == "100 rpm short: the air at 3,000 ft is worth 9, so it is not the air."
    assert (found.off, round(found.by_air), found.is_air) == (100, 9, False)
    assert any("weak cylinder" in sentence for sentence in found.more)


def test_forty_shy_is_sick_low_down_and_may_be_the_air_high_up():
    assert worth_of(2210, LIMIT, day(3000), u_speed=1.2).is_air is False
    high = worth_of(2210, LIMIT, day(8000), u_speed=1.2)
    assert high.is_air is True
    assert "it may be the air. The call stays as printed." in high.sentence


def test_speed_over_the_range_is_held_against_the_air_too():
    over = worth_of(2420, LIMIT, day(3000), u_speed=1.2)
    assert over.is_air is False
    assert over.sentence.startswith("70 rpm over: the air at 3,000 ft takes")
    cold = day_air(
        facts(),
        {"oat": "-30 C", "altimeter": "1030 hPa", "elevation": "0 ft", "dew_point": "-35 C"},
    )
    near = worth_of(2365, LIMIT, cold, u_speed=1.2)
    assert near.is_air is True
    assert "adds" in near.sentence


def test_moist_hot_day_has_the_published_density_altitude():
    # 2,651.8 ft by the published check of calc.atmosphere: 35 C, dew point 24 C, 1013.24 hPa.
    found = day_air(
        facts(),
        {"oat": "35 C", "dew_point": "24 C", "altimeter": "1013.24 hPa", "elevation": "0 ft"},
    )
    assert isinstance(found, DayAir)
    assert found.altitude == pytest.approx(2651.8, abs=1.0)


def test_same_day_in_either_unit():
    celsius = day_air(facts(), {"oat": "20 C", "altimeter": "29.92", "elevation": "300 m"})
    other = day_air(facts(), {"oat": "68 °F", "altimeter": "29.92 inHg", "elevation": "984.25 ft"})
    assert isinstance(celsius, DayAir) and isinstance(other, DayAir)
    assert celsius.sigma == pytest.approx(other.sigma, rel=1e-5)
    # A whole degree C is 1.8 degrees F, so its last digit leaves more doubt.
    assert celsius.u_sigma > other.u_sigma


def test_no_dew_point_leaves_the_humidity_open():
    known = day_air(
        facts(), {"oat": "30 C", "altimeter": "29.92", "elevation": "0 ft", "dew_point": "20 C"}
    )
    unknown = day_air(facts(), {"oat": "30 C", "altimeter": "29.92", "elevation": "0 ft"})
    assert isinstance(known, DayAir) and isinstance(unknown, DayAir)
    assert unknown.u_altitude > 2 * known.u_altitude
    assert "no dew point written down" in unknown.sentence


def test_what_is_missing_is_named_and_the_place_gives_its_elevation():
    assert day_air(facts(), {}) == (
        "What the air is worth is not known: no outside temperature, altimeter setting or "
        "elevation was written down."
    )
    from .cast import ENGINE

    known = facts(engine=ENGINE + "elevation_ft = 1240\n")
    found = day_air(known, {"oat": "20 C", "altimeter": "29.92"})
    assert isinstance(found, DayAir)
    assert "elevation 1240 ft" in found.sentence


def test_worth_stands_beside_the_call_and_does_not_change_it():
    bench = run(static=("2210", "TACH", {"with": {"heading": "240"}}))
    began = next(entry for entry in bench.entries if entry.kind == "run_began")
    began.data["with"].update({"oat": "20 C", "altimeter": "29.92", "elevation": "8000 ft"})
    known = shop()
    state = fold_job(known, bench.entries)
    items, _ = judge_items(known, state, START.date())
    last = runs_of(known, state, items).last
    beside = worth_beside(known, last)
    assert beside.is_air is True
    assert last.verdict.call("static").call == "OUT"


def test_no_air_is_said_beside_the_call():
    bench = run()
    known = shop()
    state = fold_job(known, bench.entries)
    items, _ = judge_items(known, state, START.date())
    last = runs_of(known, state, items).last
    assert worth_beside(known, last).sentence.startswith("What the air is worth is not known")
    unread = run(static=(None, "", {}))
    state = fold_job(known, unread.entries)
    items, _ = judge_items(known, state, START.date())
    assert static_worth(items[-1].call("static"), "none") is None


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        ({"oat": "20"}, r'"20" says neither F nor C'),
        ({"oat": "warm"}, r'"warm" is no outside temperature'),
        ({"oat": "90 C"}, r"to run an engine in"),
        ({"altimeter": "24.1"}, r'"24.1" is no altimeter setting'),
        ({"altimeter": "1013 psi"}, r'has the unit "psi"'),
        ({"elevation": "9 miles"}, r'has the unit "miles"'),
        ({"elevation": "90,000 ft"}, r"is no elevation of a field"),
        ({"wind": "strong"}, r'"strong" is no wind'),
        ({"wind": "400 at 6"}, r"is no wind direction"),
        ({"heading": "north"}, r"is no heading"),
        ({"moon": "full"}, r'nothing called "moon"'),
        ({"wind": ""}, r"Write the wind as text"),
    ],
)
def test_what_cannot_be_is_one_clear_sentence(given, sentence):
    with pytest.raises(BadInput, match=sentence):
        check_conditions(given)


@pytest.mark.parametrize("wind", ["calm", "240 at 6", "240/06", "240 at 6 gusting 12 kt"])
def test_wind_as_people_write_it(wind):
    given = {"wind": wind}
    check_conditions(given)
    assert isinstance(day_air(facts(), given), str)


def test_dew_point_above_the_air_is_refused():
    with pytest.raises(
        BadInput, match=r"A dew point of \"15 C\" is above the outside temperature, \"10 C\""
    ):
        day_air(
            facts(),
            {"oat": "10 C", "dew_point": "15 C", "altimeter": "29.92", "elevation": "0 ft"},
        )
