"""How long plugs last here. Who failed, at what age, was set down by hand from its services."""

from __future__ import annotations

from datetime import datetime

import pytest

from rehang.sheets import demo_path
from rehang.sheets.folder import read_folder
from rehang.trade.job.judging import JudgedJob, judge
from rehang.trade.life.lives import lives_of
from rehang.trade.terms.errors import BadInput

from .cast import Bench, facts

NOW = datetime.fromisoformat("2026-10-21T08:00:00-05:00")


@pytest.fixture(scope="module")
def demo() -> JudgedJob:
    folder = read_folder(demo_path())
    return judge(folder.facts, folder.entries, NOW)


def test_who_failed_who_goes_on_and_who_was_dropped(demo):
    found = {one.name: one for one in lives_of([demo]).parts}
    assert {name: one.failed for name, one in found.items() if one.failed} == {
        "K0412": "resistance",
        "K0414": "cracked, nothing missing",
        "K0416": "resistance",
    }
    # 6,300 ohm at 206.0 h, then K0522 went in; dropped at 194.3 h, so it did not wear out.
    assert (found["K0416"].left, found["K0522"].left) == (206.0, 194.3)
    assert found["K0522"].ended == "dropped"
    assert {found[name].ended for name in ("K0411", "K0413", "K0415", "K0418")} == {"goes on"}


def test_hours_under_watch_are_all_parts_together(demo):
    life = lives_of([demo]).life
    assert (life.failures, life.parts) == (3, 9)
    assert life.total_hours == pytest.approx(7 * 400.3 + 206.0 + 194.3)


def test_one_part_in_two_books_is_one_life(demo):
    once, twice = lives_of([demo]), lives_of([demo, demo])
    assert twice.parts == once.parts
    assert twice.sentences == once.sentences


def test_few_failures_are_said_and_the_ends_hold_the_value(demo):
    found = lives_of([demo])
    assert found.half.low < found.half.value < found.half.high
    assert any("Only 3 failures" in said for said in found.sentences)


def test_no_failure_gives_no_life_and_says_so():
    bench = Bench()
    bench.write("earlier", service="2025-09-20", item_hours=0.0)
    bench.write("removed", place="1T", hours=100.0)
    bench.entries.pop(0)
    found = lives_of([bench.judged()])
    assert found.half is None
    assert any("No failure is on record" in said for said in found.sentences)


def test_part_that_came_late_counts_from_the_age_it_had():
    bench = Bench()
    bench.entries.clear()
    bench.write("removed", place="1T", hours=400.0)
    bench.write("earlier", service="2025-09-20", item_hours=300.0)
    [one] = lives_of([bench.judged()]).parts
    assert (one.entered, one.left) == (300.0, 400.0)


def test_nothing_on_record_is_one_clear_sentence():
    with pytest.raises(BadInput, match=r"No plug here has two ages on record"):
        lives_of([judge(facts(), Bench().entries)])
