"""Torque cards. The worked figures: 390 in-lb, L 10, E 2 gives 325 (derived by
S = T L/(L + E cos a), AC 43.13-1B 7-40); 100 in-lb, L 12, E 6 gives 66.7 (Navy training text)."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from rehang.sheets import demo_path, task_sheet, torque_groups
from rehang.sheets.folder import read_folder
from rehang.trade.facts.limits import limit_for
from rehang.trade.known.fastened import TorqueCall, torque_places
from rehang.trade.known.torque import (
    Adapter,
    adapter_from,
    card_of,
    in_units,
    lever_of,
    order_of,
    setting_of,
    torque_words,
    uses_since_good,
    wrenches,
)
from rehang.trade.terms.errors import BadInput
from rehang.trade.verdicts.folding import fold_job

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
    assert torque_words(uses[0].entry.fields) == "50 in-lb, set 45 in-lb (arm 9 in, adapter 1 in)"
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


# Two rows, numbered from the left, the near one first: drawn on paper, from the middle out and then
# corner to corner. Common practice, no source.
@pytest.mark.parametrize(
    "order",
    [
        (1, 2, 3), (1, 4, 2, 3), (1, 4, 2, 3, 5), (2, 5, 1, 6, 3, 4), (2, 5, 1, 6, 3, 4, 7),
        (2, 7, 3, 6, 1, 8, 4, 5), (3, 8, 2, 9, 4, 7, 1, 10, 5, 6),
    ],
)  # fmt: skip
def test_two_rows_are_tightened_from_the_middle_out_and_corner_to_corner(order):
    group = replace(
        next(g for g in torque_groups().values() if g.pattern == "rows"), number=len(order)
    )
    assert order_of(group) == order


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


# What arrives, and what it is called


def wrench(**changed: str) -> str:
    stated = {
        "lowest": '"100 in-lb"', "highest": '"750 in-lb"', "percent_of_reading": "4",
    } | changed  # fmt: skip
    lines = "".join(f"{key} = {value}\n" for key, value in stated.items() if value)
    return f'[[meter]]\nid = "W"\nkind = "torque wrench"\ndue = "2027-06"\n{lines}'


def plugs(meters: str = "", called: str = "", **torque) -> TorqueCall:
    """The call of a plug's torque, set on a 10 in arm with a 2 in adapter unless told otherwise."""
    bench = Bench()
    known = facts(
        meters=meters or wrench(),
        limits=f'{LIMITS}[[limit]]\nitem = "engine"\ncheck = "plug_torque"\n'
        f'lower = "370 in-lb"\nupper = "410 in-lb"\n{SOURCE}',
    )
    data = {"adapter": {"arm_in": 10, "length_in": 2}, "set_to": "325 in-lb", "passes": 1} | torque
    bench.write(
        "torqued", item="hole:1T", place="1T", what="plug of hole 1T", meter="W", fasteners=[1],
        of=1, group="plug", **{key: value for key, value in data.items() if value is not None},
    )  # fmt: skip
    if called:
        bench.write("called", entry=bench.entries[-1].id, call=called, reason="by its certificate")
    state = fold_job(known, bench.entries)
    [place] = [p for p in torque_places(known, state) if p.group.id == "plug" and p.place == "1T"]
    return place.calls[1]


@pytest.mark.parametrize(
    ("torque", "arrived", "call"),
    [
        # S (L + E)/L: AC 43.13-1B, 7-40, figure 7-2.
        ({}, 390, "WITHIN"),
        ({"set_to": "390 in-lb"}, 468, "OUT"),
        ({"set_to": "390 in-lb", "adapter": None}, 390, "WITHIN"),
        ({"set_to": "600 in-lb", "adapter": None}, 600, "OUT"),
        ({"set_to": None, "wanted": "390 in-lb", "adapter": None}, 390, "WITHIN"),
        # The drag is taken off what the wrench shows: AC 43.13-1B, 7-40 (c).
        ({"set_to": "420 in-lb", "adapter": None, "drag": "30 in-lb"}, 390, "WITHIN"),
        ({"set_to": None, "wanted": "390 in-lb", "drag": "30 in-lb", "adapter": None}, 390, "WITHIN"),
        ({"set_to": "32.5 ft-lb", "adapter": None}, 390, "WITHIN"),
        ({"set_to": "341.5 in-lb"}, 409.8, "CLOSE CALL"),
    ],
)  # fmt: skip
def test_what_arrives_is_called_against_its_range(torque, arrived, call):
    found = plugs(**torque)
    assert (found.arrived, found.call) == (pytest.approx(arrived), call)


@pytest.mark.parametrize(
    "worth",
    [
        {"percent_of_reading": "6", "resolution": '"5 in-lb"'},
        {"percent_of_reading": "", "percent_of_full_scale": "3"},
        {"percent_of_reading": "", "accuracy": '"20 in-lb"', "resolution": '"10 in-lb"'},
    ],
)
def test_its_chance_is_that_of_the_wrench_drawn_many_times(worth):
    found = plugs(wrench(**worth), set_to="336 in-lb")
    # A second route: the true setting drawn from the hard limit and the last digit, through the lever.
    rng = np.random.default_rng(20261129)
    half = {"6": 0.06 * 336, "": 0.0}[worth["percent_of_reading"]]
    half += 0.03 * 750 if "percent_of_full_scale" in worth else 0.0
    half += 20 if "accuracy" in worth else 0.0
    step = float(worth.get("resolution", '"0 in-lb"').strip('"').split()[0])
    true = 336 + rng.uniform(-half, half, 1_000_000) + rng.uniform(-step / 2, step / 2, 1_000_000)
    inside = np.mean((true * 1.2 >= 370) & (true * 1.2 <= 410))
    assert 0.05 < inside < 0.95
    assert found.p == pytest.approx(inside, abs=0.002)


@pytest.mark.parametrize("call", ["WITHIN", "OUT"])
def test_close_call_is_called_by_a_person_and_nothing_else_is(call):
    open_still = plugs(set_to="341.5 in-lb")
    assert (open_still.call, open_still.called_by) == ("CLOSE CALL", "")
    # 4 % of 341.5 either side of it, and the upper limit is 341.7 on the scale: 0.506.
    assert "it is inside 51 times in 100, so it cannot tell" in open_still.sentence
    found = plugs(set_to="341.5 in-lb", called=call)
    assert (found.call, found.called_by) == (call, "Ada")
    assert found.sentence.endswith(f"called {call} by Ada: by its certificate")
    # A person's word does not turn what is out, or what is right.
    assert plugs(set_to="500 in-lb", called="WITHIN").call == "OUT"
    assert plugs(called="OUT").call == "WITHIN"


@pytest.mark.parametrize(
    ("adapter", "said"),
    [
        (Adapter(10, 20, 120), "leaves none of the lever"),
        (Adapter(10, 20, 119.9999), "leaves none of the lever"),
        (Adapter(10, 16, 120), "leaves 20 % of the lever"),
        (Adapter(10, 10, 180), "leaves none of the lever"),
        (Adapter(0, 2), "The arm of the wrench is 0 in"),
        (Adapter(10, 2, 200), "an angle from 0 to 180 degrees"),
        (Adapter(float("nan"), 2), "The arm of the wrench is nan in"),
    ],
)
def test_lever_that_means_nothing_is_refused_in_inches_and_degrees(adapter, said):
    with pytest.raises(BadInput, match=said):
        lever_of(adapter)
    with pytest.raises(BadInput, match=said):
        setting_of(filed('lower = "370 in-lb"\nupper = "410 in-lb"\n'), adapter)


def test_short_lever_is_answered_and_said():
    found = setting_of(filed('lower = "370 in-lb"\nupper = "410 in-lb"\n'), Adapter(10, 12, 120))
    assert found.set_to == pytest.approx(975.0)
    assert any("more than half of the lever" in one for one in found.notes)


def test_setting_is_said_to_the_step_of_the_wrench_and_worked_out_unrounded():
    known = facts(meters=wrench(resolution='"5 in-lb"'))
    one = setting_of(
        filed('lower = "370 in-lb"\nupper = "410 in-lb"\n'),
        Adapter(10, 2.1),
        wrench=known.meters["W"],
    )
    assert one.sentence.endswith("set 320 in-lb.")
    assert one.set_to == pytest.approx(322.314, abs=0.001)
    finer = setting_of(filed('lower = "370 in-lb"\nupper = "410 in-lb"\n'), Adapter(10, 2.1))
    assert finer.sentence.endswith("set 322.3 in-lb.")


def test_what_a_wrench_is_good_to_widens_or_narrows_what_is_sure():
    limit = filed('lower = "370 in-lb"\nupper = "410 in-lb"\n')
    good = facts(meters=wrench(percent_of_reading="1")).meters["W"]
    coarse = facts(meters=wrench(percent_of_reading="10")).meters["W"]
    assert setting_of(limit, None, wrench=coarse).sure is None
    usual, better = setting_of(limit, None).sure, setting_of(limit, None, wrench=good).sure
    assert better[0] < usual[0] < usual[1] < better[1]


@pytest.mark.parametrize(
    ("meters", "said"),
    [
        (wrench(percent_of_reading=""), "states no accuracy"),
        (wrench(lowest=""), 'needs "lowest"'),
        (wrench(highest='"50 in-lb"'), "goes from 100 in-lb to 50 in-lb"),
        (wrench(quantity='"pressure"'), "measures torque, not pressure"),
        (wrench(percent_of_reading="-1"), "it is above 0 and at most 100"),
        (wrench(resolution='"-5 in-lb"'), "below 0"),
        (wrench(highest='"750 psi"'), "not one for torque"),
    ],
)
def test_torque_wrench_states_its_range_and_what_it_is_good_to(meters, said):
    with pytest.raises(BadInput, match=said):
        facts(meters=meters)


def test_old_wrench_on_file_as_a_tester_is_read_and_judges_nothing():
    old = '[[meter]]\nid = "W"\nname = "Torque wrench"\nkind = "tester"\ndue = "2027-06"\n'
    found = plugs(old)
    assert found.call == "NOT JUDGED"
    assert found.way_out.startswith("Put W on file as a torque wrench: lowest, highest")


def test_each_fastener_stands_by_its_own_last_torque():
    known = facts(meters=wrench(lowest='"20 in-lb"'))
    bench = Bench()

    def cover(*turns: int, **data) -> None:
        which = {"fasteners": list(turns)} if turns else {}
        bench.write(
            "torqued", item="cylinder:2", place="2", what="rocker cover screws of cylinder 2",
            meter="W", of=6, wanted="50 in-lb", passes=2, **which, **data,
        )  # fmt: skip

    def standing() -> list[int]:
        state = fold_job(known, bench.entries)
        [place] = [
            p
            for p in torque_places(known, state)
            if p.place == "2" and p.group.id == "rocker-cover"
        ]
        return sorted(place.standing)

    cover(done=2)
    assert standing() == [1, 2]
    cover(6)
    assert standing() == [1, 2, 6]
    cover(4, 5)
    assert standing() == [1, 2, 4, 5, 6]
    cover(3)
    assert standing() == [1, 2, 3, 4, 5, 6]
    # Off again: nothing of it is tight.
    bench.write("started", task="F2", place="2")
    assert standing() == []
    cover(1)
    assert standing() == [1]


@pytest.mark.parametrize(
    ("fasteners", "said"),
    [
        ({"fasteners": []}, "fasteners"),
        ({"fasteners": [0]}, "each once and from 1 to 1"),
        ({"fasteners": [2]}, "each once and from 1 to 1"),
        ({"fasteners": [1, 1]}, "each once and from 1 to 1"),
        ({"fasteners": ["1"]}, "each once and from 1 to 1"),
        ({"fasteners": [True]}, "each once and from 1 to 1"),
        ({}, "says which fasteners"),
        ({"fasteners": [1], "done": 1}, "says which fasteners"),
    ],
)
def test_torque_says_which_fasteners(fasteners, said):
    bench = Bench()
    known = facts(meters=wrench())
    bench.write(
        "torqued", item="hole:1T", place="1T", what="plug of hole 1T", meter="W", of=1,
        set_to="390 in-lb", **fasteners,
    )  # fmt: skip
    with pytest.raises(BadInput, match=said):
        fold_job(known, bench.entries)


def test_group_is_left_out_and_a_group_of_no_task_is_refused():
    shipped = dict(torque_groups())
    assert (
        "intake" not in facts(torque='[[group]]\nid = "intake"\nleave_out = true\n').torque_groups
    )
    assert len(shipped) == 13
    with pytest.raises(BadInput, match='of task "Z9", which is not in the task sheet'):
        facts(torque='[[group]]\nid = "a"\ntitle = "A"\nlimit = "a_torque"\ntask = "Z9"\n')
    with pytest.raises(BadInput, match='no group "wing" to leave out'):
        facts(torque='[[group]]\nid = "wing"\nleave_out = true\n')
    with pytest.raises(BadInput, match="is not a for each"):
        facts(torque='[[group]]\nid = "a"\ntitle = "A"\nlimit = "a_torque"\nfor_each = "hose"\n')


def test_every_shipped_task_with_fasteners_has_a_card():
    carded = {one.task for one in torque_groups().values()}
    for task in task_sheet().values():
        assert not task.fasteners or task.id in carded, task.id
    for group in torque_groups().values():
        task = task_sheet()[group.task]
        assert not task.fasteners or (task.fasteners, task.fastener) == (
            group.number,
            group.fastener,
        )
