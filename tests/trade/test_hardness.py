"""The bench's pressure beside the cylinder: published figures carried into the sentence."""

from __future__ import annotations

from datetime import date

import pytest

from rehang.sheets import demo_path
from rehang.sheets.folder import read_folder
from rehang.trade.job.judging import judge
from rehang.trade.verdicts.hardness import hardness_of, hardness_words


@pytest.fixture(scope="module")
def demo():
    folder = read_folder(demo_path())
    return judge(folder.facts, folder.entries, today=date(2026, 10, 21))


def test_pressure_as_hard_for_ratio_seven(demo):
    """58.7 psig at ratio 7.0, 25 degrees, 29 inHg, 20 C, filled at bottom centre (area c of the
    check values; several independent implementations agree, no printed number)."""
    found = hardness_of(demo.item("plug:K0411"), demo.facts)
    assert found.as_hard_psi == pytest.approx(58.7, abs=0.05)


def test_bench_is_harder_and_a_wider_gap_costs_voltage(demo):
    narrow = hardness_of(demo.item("plug:K0414"), demo.facts)
    wide = hardness_of(demo.item("plug:K0415"), demo.facts)
    assert 1 < narrow.times < 2
    assert wide.kv > narrow.kv
    # The straight line between the two gaps and the slope at one of them agree to a few per cent.
    thou = (wide.gap - narrow.gap) / 10
    assert (wide.kv - narrow.kv) * 1000 / thou == pytest.approx(narrow.volts_per_thou, rel=0.1)


def test_sentence_states_its_assumptions(demo):
    words = hardness_words(hardness_of(demo.item("plug:K0411"), demo.facts))
    assert "59 psi would be as hard" in words
    assert "not an absolute" in words
    assert "ratio 7, 25° before top, 29 inHg" in words


def test_no_ratio_on_file_says_nothing(demo):
    assert hardness_of(demo.item("plug:K0418"), demo.facts) is None
