"""Torque cards. The worked figures: 390 in-lb, L 10, E 2 gives 325 (derived by
S = T L/(L + E cos a), AC 43.13-1B 7-40); 100 in-lb, L 12, E 6 gives 66.7 (Navy training text)."""

from __future__ import annotations

from datetime import date

import pytest

from rehang.sheets import demo_path, torque_groups
from rehang.sheets.folder import read_folder
from rehang.trade.errors import BadInput
from rehang.trade.limits import limit_for
from rehang.trade.torque import (
    Adapter,
    adapter_from,
    card_of,
    in_units,
    order_of,
    setting_of,
    torque_words,
    uses_since_good,
    wrenches,
)
from rehang.trade.verdict import fold_job

from .cast import LIMITS, SOURCE, Bench, facts

DEMO = read_folder(demo_path())


def filed(bounds: str, source: str = SOURCE):
    known = facts(
        limits=f'{LIMITS}[[limit]]\nitem = "engine"\ncheck = "plug_torque"\n{bounds}{source}'
    )
    return limit_for(known.limits, "engine", "plug_torque", "setting")


@pytest.mark.parametrize(
    ("bounds", "adapter", "set_to"),
    [
        ('lower = "370 in-lb"\nupper = "410 in-lb"\n', Adapter(10, 2), 325.0),
        ('lower = "370 in-lb"\nupper = "410 in-lb"\n', Adapter(10, 2, 90), 390.0),
        ('lower = "370 in-lb"\nupper = "410 in-lb"\n', None, 390.0),
        ('lower = "90 in-lb"\nupper = "110 in-lb"\n', Adapter(12, 6), 66.7),
        (
            'lower = "130 in-lb"\nupper = "140 in-lb"\naim = "135 in-lb"\n',
            Adapter(10, 1.5, 180),
            158.82,
        ),
    ],
)
def test_setting_with_an_adapter(bounds, adapter, set_to):
    assert setting_of(filed(bounds), adapter).set_to == pytest.approx(set_to, abs=0.05)


def test_sentence_says_what_went_in_and_what_to_set():
    one = setting_of(filed('lower = "370 in-lb"\nupper = "410 in-lb"\n'), Adapter(10, 2))
    assert one.sentence == "390 in-lb, L 10, E 2: set 325 in-lb."
    with_drag = setting_of(filed('lower = "370 in-lb"\nupper = "410 in-lb"\n'), Adapter(10, 2), 30)
    assert with_drag.set_to == pytest.approx(350.0)
    assert "and 30 in-lb of drag" in with_drag.sentence


def test_demo_plugs_are_set_to_the_manuals_value_with_its_page():
    card = card_of(DEMO.facts, DEMO.facts.torque_groups["plug"], adapter=Adapter(10, 2))
    assert card.sentence == "390 in-lb, L 10, E 2: set 325 in-lb."
    assert card.source == "TV4 manual (invented), rev 6, page 7-8"
    assert card.judged


def test_value_with_no_source_or_none_at_all_is_not_judged():
    group = torque_groups()["plug"]
    card = card_of(facts(), group)
    assert (card.judged, card.value) == (False, "no torque on file")
    unsourced = facts(
        limits=f'{LIMITS}[[limit]]\nitem = "engine"\ncheck = "plug_torque"\nlower = "370 in-lb"\n'
        'upper = "410 in-lb"\n'
    )
    card = card_of(unsourced, group)
    assert not card.judged
    assert "names no document" in card.sentence


def test_expired_wrench_lists_its_uses():
    state = fold_job(DEMO.facts, DEMO.entries)
    [use] = uses_since_good(DEMO.facts, state, "TW-3")
    assert (use.what, use.done, use.of, use.on) == (
        "rocker cover screws of cylinder 2",
        2,
        6,
        date(2026, 10, 7),
    )
    assert use.why == "TW-3 was past its calibration date (2 Oct 2026) on 7 Oct 2026"


def test_as_found_check_of_the_wrench_clears_its_uses():
    bench = Bench()
    known = facts(
        meters='[[meter]]\nid = "W"\nname = "Torque wrench"\nkind = "tester"\ndue = "2026-10-02"\n'
    )
    bench.write(
        "torqued", item="cylinder:1", what="cover", meter="W", done=6, of=6, wanted="50 in-lb",
        set_to="45 in-lb", adapter={"arm_in": 9, "length_in": 1},
    )  # fmt: skip
    uses = uses_since_good(known, fold_job(known, bench.entries), "W")
    assert [use.what for use in uses] == ["cover"]
    assert torque_words(uses[0].entry) == "50 in-lb, set 45 in-lb (arm 9 in, adapter 1 in)"
    bench.write("proved", meter="W", reason="as found 0.8 % high at 50 in-lb, certificate 7")
    assert uses_since_good(known, fold_job(known, bench.entries), "W") == ()
    assert [one.id for one in wrenches(known)] == ["W"]
    # What is torqued on it afterwards needs a date that its certificate is good to.
    bench.write("torqued", item="cylinder:2", what="cover of 2", meter="W", done=6, of=6)
    uses = uses_since_good(known, fold_job(known, bench.entries), "W")
    assert [use.what for use in uses] == ["cover of 2"]
    bench.write("proved", meter="W", reason="certificate 8", due="2027-10")
    bench.write("torqued", item="cylinder:3", what="cover of 3", meter="W", done=6, of=6)
    assert uses_since_good(known, fold_job(known, bench.entries), "W") == ()
    bench.write("proved", meter="W", reason="certificate 9", due="next year")
    with pytest.raises(BadInput, match="next year"):
        fold_job(known, bench.entries)


def test_wrench_past_its_day_is_said_on_the_card():
    card = card_of(
        DEMO.facts, DEMO.facts.torque_groups["plug"], wrench="TW-3", on=date(2026, 10, 21)
    )
    assert card.standing.startswith("TW-3 was past its calibration date")
    good = card_of(
        DEMO.facts, DEMO.facts.torque_groups["plug"], wrench="TW-3", on=date(2026, 10, 2)
    )
    assert good.standing == ""


def test_every_fastener_has_its_place_in_the_order_once():
    for group in torque_groups().values():
        assert sorted(order_of(group)) == list(range(1, group.number + 1))
    assert order_of(torque_groups()["propeller"]) == (1, 4, 2, 5, 3, 6)


def test_units_of_one_torque():
    # NIST SP 811 B.8: 1 lbf ft = 1.355818 N m, 1 lbf in = 0.1129848 N m.
    assert in_units(360) == {"in-lb": "360", "ft-lb": "30.0", "N m": "40.7"}


@pytest.mark.parametrize(
    ("act", "sentence"),
    [
        (lambda: setting_of(filed('lower = "370 in-lb"\nupper = "410 in-lb"\n'), Adapter(10, 10, 180)), r"."),
        (lambda: adapter_from({"arm_in": "ten"}), r"An adapter takes the arm"),
        (lambda: card_of(DEMO.facts, DEMO.facts.torque_groups["plug"], wrench="TW-9"), r'no wrench "TW-9"'),
        (lambda: card_of(DEMO.facts, DEMO.facts.torque_groups["plug"], drag="some"), r"is not a torque"),
        (lambda: uses_since_good(DEMO.facts, fold_job(DEMO.facts, DEMO.entries), "TW-9"), r'no wrench "TW-9"'),
    ],
)  # fmt: skip
def test_what_cannot_be_is_one_clear_sentence(act, sentence):
    with pytest.raises(BadInput, match=sentence):
        act()
