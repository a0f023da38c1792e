"""Oil of the demo engine (invented samples) against figures worked out by hand.

The corrected series were worked by arithmetic before this code:
``G = Q C / (1 - exp(-Q t / V))``, shown as G/V for 50 hours; simple bound
``C (V + A)/V * 50/t``. They were rounded to one decimal and to whole ppm.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from rehang.sheets import demo_path
from rehang.sheets.folder import parse_files, read_folder
from rehang.trade.job.judging import judge
from rehang.trade.life.oil_trend import oil_asks, oil_trend
from rehang.trade.terms.entries import new_entry
from rehang.trade.terms.errors import BadInput


@pytest.fixture(scope="module")
def trend():
    folder = read_folder(demo_path())
    return oil_trend(judge(folder.facts, folder.entries, today=date(2026, 10, 21)))


@pytest.mark.parametrize(
    ("element", "printed"),
    [
        ("Fe", [42.4, 47.0, 52.0, 70.3, 80.9]),
        ("Ni", [4.0, 5.5, 8.9, 16.8, 25.0]),
        ("Cr", [5.3, 5.5, 6.3, 9.2, 11.8]),
    ],
)
def test_metal_made_by_mass_balance(trend, element, printed):
    made = [row.made[element] for row in trend.rows]
    assert made == pytest.approx(printed, abs=0.05)


@pytest.mark.parametrize(
    ("element", "printed"), [("Fe", [50, 55, 63, 85, 101]), ("Ni", [5, 7, 11, 20, 31])]
)
def test_simple_upper_bound(trend, element, printed):
    assert [row.upper[element] for row in trend.rows] == pytest.approx(printed, abs=0.5)


def test_hours_a_quart(trend):
    found = [row.hours_per_quart for row in trend.rows]
    assert found == pytest.approx([12.0, 11.5, 10.6, 8.8, 7.3], abs=0.05)


def test_iron_and_nickel_point_to_the_exhaust_side_of_cylinder_three(trend):
    assert trend.sentences[0].startswith("Fe and Ni rise together")
    assert "Cylinder 3 leaks at the exhaust: the same story." in trend.sentences[0]


def test_iron_and_chromium_point_to_rings_and_the_breather_leak(trend):
    assert trend.sentences[1].startswith("Fe and Cr rise together")
    assert "Cylinder 4 leaks at the breather: the same story." in trend.sentences[1]


def test_aluminium_and_copper_are_shown_and_not_accused(trend):
    by_name = {one.element: one for one in trend.elements}
    assert not by_name["Al"].is_accused
    assert not by_name["Cu"].is_accused
    assert any(s.startswith("Al, Cu: rising") for s in trend.sentences)


def test_a_step_of_one_part_per_million_is_not_an_accusation(trend):
    by_name = {one.element: one for one in trend.elements}
    assert by_name["Sn"].times > 1.5
    assert not by_name["Sn"].is_accused


def test_cold_sample_is_marked(trend):
    assert any("taken cold, on the stand, stirred" in s for s in trend.sentences)


# Samples of an engine of their own: what the laboratory, the oil and a "<" do to the trend.

LAB = {"lab": "North", "oil": "Grade 50"}
FIRST = {"Fe": 20, "Cu": 5, "Sn": 2, "Ag": 1, "Ni": 3}
RISEN = {"Fe": 20, "Cu": 14, "Sn": 8, "Ag": 6, "Ni": 3}


def judged_of(*samples, engine="", decided=""):
    """The demo with samples drained every 50 hours; each is its ppm and what differs."""
    folder = read_folder(demo_path())
    files = dict(folder.files)
    files["engine.toml"] = f"{engine}\n{files['engine.toml']}"
    facts = parse_files(files, "oil")
    entries = [e for e in folder.entries if e.kind != "sampled"]
    for number, (ppm, more) in enumerate(samples):
        fields = {"oil_hours": 50, **more}
        entries.append(
            new_entry(
                "sampled", at=entries[-1].at, by="marta", id=f"sample-{number}", item="oil:engine",
                on=f"202{number}-05-01", engine_hours=500.0 + 50 * number, added_qt=0, ppm=ppm,
                **fields,
            )
        )  # fmt: skip
    if decided:
        entries.append(
            new_entry(
                "closed", at=entries[-1].at, by="marta", id="decided", finding=f"oil-rise:{decided}",
                reason="sampled again at another laboratory: 22 ppm",
            )
        )  # fmt: skip
    return judge(facts, entries, today=date(2030, 1, 1))


def trend_of(*samples, engine=""):
    return oil_trend(judged_of(*samples, engine=engine))


def asked(*samples, decided=""):
    """What the last sample asks a person to decide, and how many things keep the engine back."""
    judged = judged_of(*samples, decided=decided)
    return [one.sentence for one in oil_asks(judged)], len(judged.blockers)


def test_metal_that_doubled_since_the_last_sample_asks_for_a_decision():
    usual = [(FIRST, LAB)] * 2
    quiet, blockers = asked(*usual)
    assert quiet == []
    told, still = asked(*usual, (FIRST | {"Fe": 400}, LAB))
    # 400 over 20, the same oil and hours: worked by hand.
    assert told == [
        "Oil of 1 May 2022: Fe 400 ppm after 20 (20 times as much made); no limit on file."
    ]
    # No limit, so it keeps nothing back.
    assert still == blockers
    assert asked(*usual, (FIRST | {"Fe": 400}, LAB), decided="sample-2")[0] == []
    # A decision on a sample says nothing of the next one.
    again = (FIRST | {"Fe": 900}, LAB)
    assert asked(*usual, (FIRST | {"Fe": 400}, LAB), again, decided="sample-2")[0] != []


@pytest.mark.parametrize(
    ("iron", "before", "asks"),
    [
        (39, 20, False),
        (40, 20, True),
        # Whole parts per million and a laboratory's own scatter.
        (2, 1, False),
        # All of what was below sight may have been there before.
        (9, "<5", False),
        (30, "<5", True),
        ("<5", 1, False),
    ],
)
def test_what_a_laboratory_alone_can_make_asks_for_nothing(iron, before, asks):
    told, _ = asked((FIRST | {"Fe": before}, LAB), (FIRST | {"Fe": iron}, LAB))
    assert bool(told) == asks


def said(*samples, engine=""):
    return " ".join(trend_of(*samples, engine=engine).sentences)


def test_bearing_metals_that_rise_together_are_not_called_alone():
    words = said(*[(FIRST, LAB)] * 3, (RISEN, LAB))
    assert "Cu, Sn and Ag rise together" in words
    assert "bearings." in words
    assert "alone" not in words


def test_two_of_the_bearing_metals_are_enough():
    words = said(*[(FIRST, LAB)] * 3, (RISEN | {"Ag": 1}, LAB))
    assert "Cu and Sn rise together" in words


def test_metals_of_no_pair_that_rise_at_once_are_not_called_alone():
    words = said(*[({"Fe": 20, "Al": 8}, LAB)] * 3, ({"Fe": 60, "Al": 30}, LAB))
    assert "Over the baseline, all at once: Fe 3.0 times" in words
    assert "alone" not in words


def test_one_metal_is_called_alone():
    assert "Fe alone is 3.0 times" in said(*[(FIRST, LAB)] * 3, (FIRST | {"Fe": 60}, LAB))


@pytest.mark.parametrize(
    ("changed", "why"),
    [
        ({"lab": "South"}, "the laboratory changed from North to South"),
        ({"oil": "Grade 40"}, "the oil changed from Grade 50 to Grade 40"),
        ({"oil_hours": 25}, "the interval changed from 50 to 25 h"),
        ({"oil_hours": 100}, "the interval changed from 50 to 100 h"),
    ],
)
def test_another_laboratory_oil_or_interval_begins_a_new_baseline(changed, why):
    found = trend_of(*[(FIRST, LAB)] * 3, ({"Fe": 38}, LAB | changed))
    words = " ".join(found.sentences)
    assert f"A new baseline begins with the sample of 1 May 2023, for {why}" in words
    assert not any(one.is_accused for one in found.elements)
    assert len(found.rows) == 4
    assert len(found.series) == 1


def test_the_new_baseline_accuses_by_itself():
    south = LAB | {"lab": "south"}
    words = said(*[(FIRST, LAB)] * 3, *[({"Fe": 38}, south)] * 3, ({"Fe": 100}, south))
    assert "Fe alone is 2.6 times" in words


@pytest.mark.parametrize("more", [{}, {"lab": "NORTH ", "oil": "grade 50"}, {"oil_hours": 30}])
def test_what_nobody_wrote_and_another_spelling_are_no_change(more):
    found = trend_of(*[(FIRST, LAB)] * 3, (FIRST | {"Fe": 60}, more))
    assert len(found.series) == 4
    assert "Fe alone" in " ".join(found.sentences)


def test_less_than_is_printed_as_it_was_written_and_judged_as_an_interval():
    unseen = FIRST | {"Ni": "<1"}
    found = trend_of(*[(unseen, LAB)] * 3, (FIRST | {"Ni": 2}, LAB))
    assert found.rows[0].reported("Ni") == "<1"
    assert found.rows[0].worked_out("Ni") == "<1.0"
    # 2 ppm is 4 times the middle of "<1", and twice the most it can have been.
    nickel = next(one for one in found.elements if one.element == "Ni")
    assert nickel.times == pytest.approx(2.0)
    assert "anything from 0 to the figure behind the <" in " ".join(found.sentences)
    gone = trend_of(*[(FIRST, LAB)] * 3, (FIRST | {"Ni": "<20"}, LAB))
    assert not any(one.is_accused for one in gone.elements)
    half = trend_of((FIRST | {"Ni": "<0.5"}, LAB), (FIRST, LAB))
    assert half.rows[0].reported("Ni") == "<0.5"


def test_nickel_plated_bores_are_a_source_of_nickel():
    rise = (*[(FIRST, LAB)] * 3, (FIRST | {"Ni": 12}, LAB))
    assert "exhaust valves and guides, nickel-plated bores" in said(*rise)
    plated = 'bore_plating = "nickel"'
    assert "this engine's nickel-plated bores" in said(*rise, engine=plated)
    assert "nickel-plated" not in said(*rise, engine='bore_plating = "none"')
    iron_too = (*[(FIRST, LAB)] * 3, (FIRST | {"Ni": 12, "Fe": 60}, LAB))
    assert "valve or guide, or the nickel-plated bores." in said(*iron_too, engine=plated)
    with pytest.raises(BadInput, match=r'"gold" is no plating of bores. Write none, chromium or'):
        said(*rise, engine='bore_plating = "gold"')


# TRADE, oil of the demo engine: one-quart top-ups, each when 1 qt down, the last at the drain.
TOPPED_UP = [("Fe", [43.1, 47.8, 53.1, 71.8, 83.1]), ("Ni", [4.0, 5.6, 9.1, 17.2, 25.7])]


@pytest.mark.parametrize(("element", "printed"), TOPPED_UP)
def test_top_ups_that_are_written_are_followed_one_by_one(element, printed):
    folder = read_folder(demo_path())
    entries = []
    for entry in folder.entries:
        if entry.kind == "sampled":
            added, hours = int(entry.data["added_qt"]), entry.data["oil_hours"]
            each = {f"{hours * n / added:g}": 1 for n in range(1, added + 1)}
            entry = replace(entry, data={**entry.data, "topups": each})
        entries.append(entry)
    found = oil_trend(judge(folder.facts, entries, today=date(2026, 10, 21)))
    made = [row.made[element] for row in found.rows]
    assert made == pytest.approx(printed, abs=0.05)


def test_old_oil_that_did_not_drain_is_no_metal_made_since():
    """15 % of 80 ppm is 12 ppm at the fill (the practice article of `carried_over`)."""
    clean = trend_of(({"Fe": 80}, {}), ({"Fe": 80}, {}))
    left = trend_of(({"Fe": 80}, {}), ({"Fe": 80}, {"left_share": 0.15}))
    assert clean.rows[1].made["Fe"] == pytest.approx(80)
    assert left.rows[1].made["Fe"] == pytest.approx(80 - 12)


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"topups": {"10": 1}}, "come to 1 qt, and 0 qt is written"),
        ({"topups": {"51": 0}}, "at 51 h is not within the 50 h"),
        ({"topups": {"ten": 1}}, "is not hours and quarts"),
        ({"topups": {"10": "lots"}}, "is not hours and quarts"),
        ({"left_share": 1}, "cannot be old oil"),
    ],
)
def test_a_fill_that_cannot_be_is_refused(more, words):
    with pytest.raises(BadInput, match=words):
        trend_of(({"Fe": 30}, {}), ({"Fe": 30}, more))
