"""Oil of the demo engine (invented samples) against figures worked out by hand.

The corrected series were worked by arithmetic before this code:
``G = Q C / (1 - exp(-Q t / V))``, shown as G/V for 50 hours; simple bound
``C (V + A)/V * 50/t``. They were rounded to one decimal and to whole ppm.
"""

from __future__ import annotations

from datetime import date

import pytest

from rehang.sheets import demo_path
from rehang.sheets.folder import read_folder
from rehang.trade.judging import judge
from rehang.trade.oil_trend import oil_trend


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
