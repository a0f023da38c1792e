"""Where the plugs go. The demo's holes were set down by hand (invented data)."""

from __future__ import annotations

from datetime import datetime

import pytest

from rehang.sheets import demo_path, layout, layouts
from rehang.sheets.folder import read_folder
from rehang.trade.doors.rules import check_can_append
from rehang.trade.job.judging import JudgedJob, judge
from rehang.trade.terms.entries import Entry, new_entry
from rehang.trade.terms.errors import NotAllowed
from rehang.trade.work.rotation import best_rotation, broken_rules

from .cast import Bench, facts

MORNING = datetime.fromisoformat("2026-10-21T08:00:00-05:00")
LATER = datetime.fromisoformat("2026-10-20T17:00:00-05:00")


def _demo(*more: Entry) -> JudgedJob:
    folder = read_folder(demo_path())
    return judge(folder.facts, [*folder.entries, *more], MORNING, folder.where)


def _sent(item: str, place: str, reason: str = "", minute: int = 0) -> Entry:
    return new_entry(
        "assigned", at=LATER.replace(minute=minute), by="marta", item=item, place=place,
        reason=reason,
    )  # fmt: skip


@pytest.fixture(scope="module")
def demo() -> JudgedJob:
    return _demo()


# Plug out of a hole, and the hole it goes to; a reject's replacement takes its slot.
GOES_TO = {
    "K0411": "3B", "K0412": "3T", "K0413": "4B", "K0414": "4T",
    "K0415": "2B", "K0522": "2T", "K0417": "1B", "K0418": "1T",
}  # fmt: skip


def test_the_demo_goes_by_its_map_and_new_plugs_take_the_slots_of_rejects(demo):
    assert {one.name: one.goes_to for one in demo.items if one.kind == "plug"} == GOES_TO
    assert set(demo.rotation.new_at) == {"3T", "4T", "2T"}
    assert demo.rotation.by == "the layout's map"
    assert demo.rotation.cost == 0


def test_a_change_by_hand_swaps_and_says_which_rules_it_breaks():
    judged = _demo(_sent("plug:K0411", "3T", "to watch the top"))
    (change,) = judged.rotation.changes
    # 1T to 3T: the next in firing order, so another polarity, but the top row again.
    assert change.breaks == ("row",)
    assert change.sentence == (
        "Marta Oduya sends K0411 to 3T, and the new one for K0412 to 3B in its place: to watch the top. "
        "K0411 stays in the top row."
    )
    assert judged.item("plug:K0411").goes_to == "3T"
    assert judged.item("plug:K0412").goes_to == "3B"
    place = judged.rotation.place("3T")
    assert place is not None
    assert place.assigned is not None
    assert not place.is_new


def test_a_change_tells_of_the_plug_that_gives_way_too():
    # K0418 came out of 4B and was to go to 1T; K0411 came out of 1T and was to go to 3B.
    judged = _demo(_sent("plug:K0411", "1T"))
    (change,) = judged.rotation.changes
    # Back into its own hole breaks polarity, row and cylinder; K0418 goes 4B to 3B: 4 and 3 are
    # fourth and second in firing order, so the same polarity, and bottom to bottom.
    assert set(change.breaks) == {"polarity", "row", "same cylinder", "drains-to"}
    assert "K0418 keeps its polarity" in change.sentence


def test_the_last_change_stands_and_a_struck_one_does_not():
    first, second = _sent("plug:K0411", "1T"), _sent("plug:K0411", "3B", minute=5)
    assert _demo(first, second).rotation.goes_to == _demo().rotation.goes_to
    strike = new_entry(
        "struck", at=LATER.replace(minute=6), by="marta", entry=first.id, reason="slip"
    )
    assert not _demo(first, strike).rotation.changes


def test_what_stands_in_for_a_reject_goes_where_the_reject_would():
    new = new_entry(
        "replaced", at=LATER, by="marta", item="plug:K0601", place="1B", **{"for": "K0412"}
    )
    judged = _demo(new)
    assert judged.item("plug:K0601").goes_to == "3T"
    place = judged.rotation.place("3T")
    assert place is not None
    assert (place.plug, place.is_new, place.breaks) == ("plug:K0601", True, ())


@pytest.mark.parametrize(
    ("serial", "sentence"),
    [
        ("K0411", "K0411 came out of 1T and goes back by its own; name another."),
        ("k0411", "K0411 came out of 1T and goes back by its own; name another."),
        ("K0413", "K0413 came out of 2T and is a reject; name another."),
        (
            "K0601",
            "K0601 is in for K0413 already, so it cannot be in for K0412 too: one new part "
            "replaces one reject.",
        ),
    ],
)
def test_no_plug_is_planned_for_two_holes(serial, sentence):
    folder = read_folder(demo_path())
    first, second = (
        new_entry("replaced", at=LATER, by="marta", item=f"plug:{one}", place=hole, **{"for": old})
        for one, hole, old in (("K0601", "2T", "K0413"), (serial, "1B", "K0412"))
    )
    with pytest.raises(NotAllowed, match=r"name another|one new part") as refused:
        check_can_append([second], [*folder.entries, first], folder.facts)
    assert str(refused.value) == sentence


def test_a_plug_named_for_a_reject_comes_out_of_no_hole_before_it_went_in():
    book = Bench().entries
    book.append(
        new_entry("replaced", at=LATER, by="ada", item="plug:N1", place="1T", **{"for": "P1"})
    )
    out = new_entry("removed", at=LATER, by="ada", item="plug:N1", place="3B")
    with pytest.raises(NotAllowed, match="N1 is to go in for P1 and is in no hole yet"):
        check_can_append([out], book, facts())


@pytest.mark.parametrize(
    ("item", "place", "sentence"),
    [
        ("plug:K0411", "9T", 'There is no hole "9T"'),
        ("plug:K9999", "1T", 'There is no plug "plug:K9999" in this job to send to 1T.'),
        ("cylinder:3", "1T", 'There is no plug "cylinder:3" in this job to send to 1T.'),
    ],
)
def test_a_plug_or_hole_that_is_not_there_is_refused(item, place, sentence):
    folder = read_folder(demo_path())
    with pytest.raises(Exception, match="There is no") as refused:
        check_can_append([_sent(item, place)], folder.entries, folder.facts)
    assert isinstance(refused.value, NotAllowed) or "hole" in sentence
    assert sentence in str(refused.value)


# ---------------------------------------------------------------- rules on other engines


def test_no_rule_is_broken_by_the_maps_of_even_opposed_engines():
    for name in ("opposed-4", "opposed-6"):
        one = layout(name)
        assert [broken_rules(one, hole, one.next_hole(hole)) for hole in one.walk] == [()] * len(
            one.walk
        )


def test_polarity_is_no_rule_where_each_lead_changes_its_own():
    odd = [one for one in layouts().values() if len(one.cylinders) % 2]
    assert odd
    for one in odd:
        assert not any("polarity" in broken_rules(one, a, b) for a in one.walk for b in one.walk)


def test_oil_running_everywhere_sends_no_plug_away_from_it():
    one = layout("inverted-4")
    assert not any("drains-to" in broken_rules(one, a, b) for a in one.walk for b in one.walk)


def test_the_cheapest_way_keeps_what_was_sent_by_hand_and_costs_no_more_than_swapping():
    judged = _demo(_sent("plug:K0411", "3T"))
    best = best_rotation(judged.facts, judged.state, judged.items)
    assert best.goes_to["plug:K0411"] == "3T"
    assert best.cost <= judged.rotation.cost


def test_the_cheapest_way_is_the_map_where_the_map_breaks_nothing(demo):
    best = best_rotation(demo.facts, demo.state, demo.items)
    assert best.goes_to == demo.rotation.goes_to
    assert best.cost == 0
