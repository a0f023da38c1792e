"""Cases of the trade as lists of entries: each says one rule."""

from __future__ import annotations

import pytest

from rehang.trade.job.judging import JudgedJob
from rehang.trade.terms.errors import BadInput
from rehang.web.board.hand_rows import handover
from tests.trade.cast import LIMITS, METERS, Bench, facts


def test_every_check_within_is_keep():
    assert Bench().good().verdict().verdict == "KEEP"


@pytest.mark.parametrize("missing", ["look", "electrode", "resistance", "gap", "spark"])
def test_one_check_missing_is_not_yet_and_named(missing):
    one = Bench().good(but=[missing]).verdict()
    assert one.verdict == "NOT YET"
    assert one.call(missing).call == "NOT READ"
    assert one.call(missing).label.lower() in one.reasons[0]


def test_first_over_range_is_not_yet_until_it_is_repeated_on_a_clean_contact():
    bench = Bench().good(but=["resistance"])
    bench.read("resistance", "OL", "DM", range="20k")
    assert bench.verdict().verdict == "NOT YET"
    bench.write("reworked", act="contact")
    bench.read("resistance", "OL", "DM", range="20k")
    assert bench.verdict().verdict == "REJECT"


@pytest.mark.parametrize(
    ("meter", "on", "call", "said"),
    [
        ("DM", "20k", "OUT", "OL is more than "),
        ("DM", "2k", "NOT READ", "OL only says more than "),
        # 3 % of the arc is left at 2 kohm x (1/0.03 - 1) = 64.7 kohm: an open circuit, or more.
        ("AN", "x100", "OUT", "Open: the needle stayed at rest on "),
    ],
)
def test_over_range_is_said_as_the_meter_shows_it(meter, on, call, said):
    bench = Bench()
    bench.read("resistance", "OL", meter, range=on)
    bench.write("reworked", act="contact")
    bench.read("resistance", "OL", meter, range=on)
    one = bench.verdict().call("resistance")
    assert (one.call, one.sentence[: len(said)]) == (call, said)


def test_two_over_ranges_before_the_contact_is_cleaned_are_one():
    bench = Bench().good(but=["resistance"])
    bench.read("resistance", "OL", "DM", range="20k")
    bench.read("resistance", "OL", "DM", range="20k")
    assert bench.verdict().verdict == "NOT YET"
    bench.write("reworked", act="contact")
    assert bench.verdict().verdict == "NOT YET"
    bench.read("resistance", "OL", "DM", range="20k")
    assert bench.verdict().verdict == "REJECT"


@pytest.mark.parametrize(("out", "verdict"), [(0.05, "NOT YET"), (0.25, "REJECT")])
def test_repeat_is_held_against_the_shops_own_rule(out, verdict):
    shop = facts(
        engine='format = 1\njob = "case"\nlayout = "opposed-4"\ntimezone = "UTC"\n'
        f"thresholds = {{ within = 0.95, out = {out} }}\n"
    )
    bench = Bench().good(but=["resistance"])
    # 56 on the scale of x100 is 5.6 kohm, inside the limit 12 times in 100.
    bench.read("resistance", "56 ohm", "AN", range="x100")
    bench.write("reworked", act="contact")
    bench.read("resistance", "6.5 kohm", "DM", range="20k")
    assert bench.verdict(shop).verdict == verdict


def test_clean_contact_that_cures_it_is_keep():
    bench = Bench().good(but=["resistance"])
    bench.read("resistance", "OL", "DM", range="20k")
    bench.write("reworked", act="contact")
    bench.read("resistance", "1.3 kohm", "DM", range="20k")
    assert bench.verdict().verdict == "KEEP"


def test_over_range_on_a_low_range_says_use_a_higher_one():
    bench = Bench().good(but=["resistance"])
    bench.read("resistance", "OL", "DM", range="2k")
    call = bench.verdict().call("resistance")
    assert call.call == "NOT READ"
    assert "Use its 20k range." in call.sentence


def test_short_is_out_where_the_limit_says_so():
    bench = Bench().good(but=["resistance"])
    bench.read("resistance", "short", "DM", range="20k")
    assert bench.call("resistance") == "OUT"


def test_reading_again_until_it_passes_does_not_clear_an_out():
    bench = Bench().good(but=["gap"])
    bench.read("gap", "23 thou", "WG")
    bench.read("gap", "18 thou", "WG")
    assert bench.call("gap") == "OUT"
    assert bench.verdict().verdict == "REWORK"


def test_struck_out_reading_no_longer_stands():
    bench = Bench().good(but=["gap"])
    slip = bench.read("gap", "23 thou", "WG")
    bench.read("gap", "18 thou", "WG")
    bench.write("struck", entry=slip.id, reason="keyed 23 for 18")
    assert bench.verdict().verdict == "KEEP"


def test_regap_voids_gap_and_spark_and_nothing_else():
    bench = Bench().good()
    bench.write("reworked", act="regap")
    calls = {c.check: c.call for c in bench.verdict().calls}
    assert calls == {
        "look": "WITHIN",
        "electrode": "WITHIN",
        "resistance": "WITHIN",
        "gap": "VOID",
        "spark": "VOID",
    }
    bench.read("gap", "17 thou", "WG")
    bench.read("spark", "steady", "BT", at_psi=100)
    assert bench.verdict().verdict == "KEEP"


@pytest.mark.parametrize("act", ["clean", "blast"])
def test_cleaning_voids_look_resistance_gap_and_spark(act):
    bench = Bench().good()
    bench.write("reworked", act=act)
    void = {c.check for c in bench.verdict().calls if c.call == "VOID"}
    assert void == {"look", "resistance", "gap", "spark"}


def test_electrode_wear_is_not_reworkable():
    bench = Bench().good(but=["electrode"])
    bench.read("electrode", "under half")
    assert bench.verdict().verdict == "REJECT"


@pytest.mark.parametrize(("kept", "call"), [(False, "NOT READ"), (True, "WITHIN")])
def test_value_beyond_belief_counts_once_a_person_kept_it_as_keyed(kept, call):
    # The plug's sheet calls less than 100 ohm a slip.
    bench = Bench().good(but=["resistance"])
    bench.read("resistance", "0.09 kohm", "DM", range="20k", kept_as_keyed=kept or None)
    assert bench.call("resistance") == call


def test_value_beyond_belief_and_its_limit_is_out():
    bench = Bench().good(but=["resistance"])
    bench.read("resistance", "61 kohm", "WIDE")
    wide = METERS + (
        '\n[[meter]]\nid = "WIDE"\nkind = "plus or minus"\nquantity = "resistance"\n'
        'accuracy = "1 kohm"\nresolution = "100 ohm"\ndue = "2027-01"\n'
    )
    assert bench.call("resistance", facts(meters=wide)) == "OUT"


def _set_of(*readings: str) -> JudgedJob:
    """A set of plugs, good but for what their resistors read."""
    bench = Bench("plug:P0", "1T").good(but=["resistance"])
    bench.read("resistance", readings[0], "DM", range="20k")
    for number, written in enumerate(readings[1:], start=1):
        bench.item = f"plug:P{number}"
        bench.write("removed", place=("1T", "1B", "2T", "2B", "3T", "3B", "4T", "4B")[number])
        bench.good(but=["resistance"])
        bench.read("resistance", written, "DM", range="20k")
    return bench.judged()


@pytest.mark.parametrize(
    ("readings", "verdict"),
    [
        # A third of the median of the others, and one step less.
        (("0.40 kohm", "1.2 kohm", "1.1 kohm", "1.3 kohm", "1.2 kohm"), "KEEP"),
        (("0.39 kohm", "1.2 kohm", "1.1 kohm", "1.3 kohm", "1.2 kohm"), "NOT YET"),
        # Of three others nobody can say which is usual.
        (("0.39 kohm", "1.2 kohm", "1.1 kohm", "1.3 kohm"), "KEEP"),
        # What reads high has its limit.
        (("4.5 kohm", "1.2 kohm", "1.1 kohm", "1.3 kohm", "1.2 kohm"), "KEEP"),
        # What is OUT is no fellow: neither does it shift the median nor is it counted.
        (("1.24 kohm", "12 kohm", "19 kohm", "12 kohm", "1.3 kohm", "1.2 kohm"), "KEEP"),
        (("0.39 kohm", "12 kohm", "1.2 kohm", "1.1 kohm", "1.3 kohm"), "KEEP"),
        (
            ("0.39 kohm", "12 kohm", "1.2 kohm", "19 kohm", "1.1 kohm", "1.3 kohm", "1.2 kohm"),
            "NOT YET",
        ),
    ],
)
def test_resistor_far_below_its_fellows_asks_for_a_decision(readings, verdict):
    one = _set_of(*readings).item("plug:P0")
    assert one.verdict == verdict
    assert ("far below its fellows" in one.reasons[0]) == (verdict == "NOT YET")


def test_spark_below_the_pressure_asked_for_does_not_answer_it():
    bench = Bench().good(but=["spark"])
    bench.read("spark", "steady", "BT", at_psi=80)
    call = bench.verdict().call("spark")
    assert call.call == "NOT READ"
    assert "80 psi" in call.sentence


def test_close_call_stands_against_the_same_meter_and_falls_to_a_better_one():
    bench = Bench().good(but=["resistance"])
    bench.read("resistance", "480 ohm", "AN", range="x10")
    bench.read("resistance", "300 ohm", "AN", range="x10")
    assert bench.call("resistance") == "CLOSE CALL"
    bench.read("resistance", "4.7 kohm", "DM", range="20k")
    assert bench.call("resistance") == "WITHIN"


def test_named_person_settles_a_close_call_and_is_named():
    bench = Bench().good(but=["resistance"])
    close = bench.read("resistance", "480 ohm", "AN", range="x10")
    bench.write("called", by="ben", entry=close.id, call="WITHIN", reason="second gauge agreed")
    one = bench.verdict()
    assert one.verdict == "KEEP"
    assert one.call("resistance").called_by == "Ben"


def test_named_person_may_call_it_out():
    bench = Bench().good(but=["resistance"])
    close = bench.read("resistance", "480 ohm", "AN", range="x10")
    bench.write("called", by="ben", entry=close.id, call="OUT", reason="not worth a second look")
    assert bench.call("resistance") == "OUT"


def test_limit_without_a_source_judges_nothing_and_passes_nothing():
    bare = '[[limit]]\nitem = "plug"\ncheck = "resistance"\nupper = "5000 ohm"\n'
    parts = [p for p in LIMITS.split("[[limit]]") if '"resistance"' not in p and p.strip()]
    limits = "[[limit]]".join(["", *parts]) + bare
    one = Bench().good().verdict(facts(limits=limits))
    assert one.call("resistance").call == "NOT JUDGED"
    assert one.verdict == "NOT YET"


def test_no_limit_at_all_is_not_judged():
    one = Bench().good().verdict(facts(limits=""))
    assert {c.call for c in one.calls} == {"NOT JUDGED"}
    assert one.verdict == "NOT YET"


def test_severity_three_rejects_however_it_tests():
    bench = Bench().good()
    bench.look("crack")
    assert bench.verdict().verdict == "REJECT"


@pytest.mark.parametrize("word", ["oil_wet", "soot", "lead_beads", "bridged", "graphite"])
def test_deposit_is_resolved_by_cleaning_and_a_later_look_without_it(word):
    bench = Bench(place="1B")
    bench.write("seen", word=word, severity=2)
    bench.good()
    assert bench.verdict().verdict == "NOT YET"
    bench.write("reworked", act="clean")
    bench.good()
    assert bench.verdict().verdict == "KEEP"


def test_look_that_still_sees_the_deposit_does_not_resolve_it():
    bench = Bench(place="1B")
    bench.write("seen", word="lead_beads")
    bench.write("reworked", act="clean")
    bench.good(but=["look"])
    bench.look("lead_beads")
    assert bench.verdict().verdict == "NOT YET"


def test_oil_wet_opens_the_cylinder_only_in_a_hole_oil_does_not_drain_to():
    top = Bench(place="1T")
    top.write("seen", word="oil_wet")
    assert top.judged().item("cylinder:1").verdict == "NOT YET"
    bottom = Bench(place="1B")
    bottom.write("seen", word="oil_wet")
    with pytest.raises(BadInput, match='There is no item "cylinder:1" in this job'):
        bottom.judged().item("cylinder:1")


def test_cylinder_finding_stays_open_until_an_entry_closes_it_with_a_reason():
    bench = Bench(place="1T")
    wet = bench.write("seen", word="oil_wet")
    bench.write("seen", item="cylinder:1", check="look", word="even", place=None)
    assert bench.judged().item("cylinder:1").verdict == "NOT YET"
    bench.write("closed", finding=f"{wet.id}:cylinder", reason="bore clean by borescope")
    assert bench.judged().item("cylinder:1").verdict == "KEEP"


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("dropped", "Dropped on 2 Nov 2026"),
        ("overheated", "Overheated on 2 Nov 2026"),
        ("unknown_history", "No known history on 2 Nov 2026"),
    ],
)
def test_event_that_voids_the_item_beats_all_readings(kind, words):
    bench = Bench().good()
    bench.write(kind)
    one = bench.verdict()
    assert one.verdict == "REJECT"
    assert one.reasons[0].startswith(words)
    assert {c.call for c in one.calls} == {"VOID"}


def test_test_taken_after_a_drop_is_void_too():
    bench = Bench().good()
    bench.write("dropped")
    bench.read("spark", "steady", "BT", at_psi=100)
    assert bench.call("spark") == "VOID"
    assert bench.verdict().verdict == "REJECT"


def test_disagreement_in_writing_is_shown_with_the_proposal():
    bench = Bench().good()
    bench.write("disagreed", by="ben", verdict="REJECT", reason="thread feels wrong")
    one = bench.verdict()
    assert (one.verdict, one.proposed, one.decided_by) == ("REJECT", "KEEP", "Ben")
    assert "thread feels wrong" in one.reasons[0]


def test_wider_of_two_ground_electrodes_counts():
    bench = Bench().good(but=["gap"])
    bench.read("gap", "18+20 thou", "WG")
    call = bench.verdict().call("gap")
    assert (call.value, call.call) == (200, "OUT")


def test_both_wires_may_be_stated_and_lie_uniformly_between():
    bench = Bench().good(but=["gap"])
    bench.read("gap", "18/20 thou", "WG")
    call = bench.verdict().call("gap")
    # Half of 18 to 20 lies within 19.
    assert call.p_within == pytest.approx(0.5)
    assert call.call == "CLOSE CALL"


def test_setting_limit_applies_after_the_rework_that_sets_it():
    setting = (
        '[[limit]]\nitem = "plug"\ncheck = "gap"\nuse = "setting"\n'
        'lower = "0.015 in"\nupper = "0.016 in"\n'
        'document = "Case manual (invented)"\nrevision = "1"\nentered_by = "ada"\n'
        "entered_on = 2026-11-01\n"
    )
    shop = facts(limits=LIMITS + setting)
    bench = Bench().good()
    assert bench.call("gap", shop) == "WITHIN"
    bench.write("reworked", act="regap")
    bench.read("gap", "17 thou", "WG")
    assert bench.call("gap", shop) == "OUT"


def test_meter_out_of_date_gives_the_call_and_raises_a_blocker_until_proved():
    old = METERS.replace('due = "2027-01"', 'due = "2026-10-31"')
    bench = Bench().good()
    judged = bench.judged(facts(meters=old))
    assert judged.item("plug:P1").verdict == "KEEP"
    assert [b.about for b in judged.blockers if b.about.startswith("meter")] == ["meter:DM"]
    bench.write("proved", meter="DM", reason="as-found check against a 1 kohm resistor")
    judged = bench.judged(facts(meters=old))
    assert [b.about for b in judged.blockers if b.about.startswith("meter")] == []


def test_due_day_itself_is_still_good_and_a_month_means_its_last_day():
    shop = facts(meters=METERS.replace('due = "2027-01"', 'due = "2026-11"'))
    assert shop.meters["DM"].due.isoformat() == "2026-11-30"
    assert shop.meters["DM"].standing(shop.meters["DM"].due) == ""


def test_reject_is_lifted_by_disposition_and_a_replacement_with_its_own_keep():
    bench = Bench().good()
    bench.write("dropped")
    bench.write("disposed", how="mutilated")
    bench.write("moved", place="2T")
    bench.write("removed", item="plug:P9", place="1T")
    bench.write("replaced", item="plug:P9", place="1T", **{"for": "P1"})
    # It is said of the one that is asked now, where its checks are taken.
    said = [b.about for b in bench.judged().blockers if "P9, in for P1, has no KEEP" in b.sentence]
    assert said == ["plug:P9"]
    bench.item = "plug:P9"
    bench.good()
    assert [b for b in bench.judged().blockers if b.about in ("plug:P1", "plug:P9")] == []


def test_what_is_left_is_said_of_the_one_that_stands_in_and_not_of_the_reject():
    bench = Bench().good(but=["gap", "spark"])
    bench.look("crack")
    no_limit = facts(limits="")
    assert "P1 (1T) is a REJECT without a replacement." in said_of(bench.judged(no_limit))
    bench.write("replaced", item="plug:P9", place="1T", **{"for": "P1"})
    judged = bench.judged(no_limit)
    assert [one.sentence for one in judged.blockers if "P1" in one.sentence] == [
        "P9 is in for P1 at 1T, and what became of P1 is not written.",
        "P9, in for P1, has no KEEP of its own.",
    ]
    labels = {
        place.label
        for one in judged.work.tasks.values()
        for place in one.places
        if place.name == "1T"
    }
    assert "P9 (1T)" in labels and not any("P1 " in label for label in labels)
    handed = handover(judged, judged.today)
    told = " ".join((*handed.odd, *(f"{one.title} {one.what}" for one in handed.waits)))
    assert "P1" not in told
    bench.write("disposed", item="plug:P1", how="mutilated")
    assert not any("became of P1" in one for one in said_of(bench.judged(no_limit)))


def said_of(judged) -> list[str]:
    return [one.sentence for one in judged.blockers]


def test_call_changes_at_the_threshold_one_least_digit_apart():
    """At the lower threshold and the upper one, on the digital meter."""
    calls = {}
    for ohms in range(4800, 5200, 10):
        bench = Bench()
        bench.read("resistance", f"{ohms} ohm", "DM", range="20k")
        found = bench.verdict().call("resistance")
        calls[ohms] = (found.call, found.p_within)
    for (call, p), (later, _) in zip(calls.values(), list(calls.values())[1:], strict=False):
        assert call == ("WITHIN" if p >= 0.95 else "OUT" if p <= 0.05 else "CLOSE CALL")
        assert ["WITHIN", "CLOSE CALL", "OUT"].index(later) >= [
            "WITHIN",
            "CLOSE CALL",
            "OUT",
        ].index(call)
    assert {call for call, _ in calls.values()} == {"WITHIN", "CLOSE CALL", "OUT"}


def test_thresholds_themselves_are_inclusive():
    shop = facts(
        engine='format = 1\njob = "case"\nlayout = "opposed-4"\ntimezone = "UTC"\n'
        "thresholds = { within = 0.5, out = 0.25 }\n"
    )
    half = Bench()
    half.read("gap", "18/20 thou", "WG")
    assert half.call("gap", shop) == "WITHIN"
    quarter = Bench()
    quarter.read("gap", "18/22 thou", "WG")
    assert quarter.call("gap", shop) == "OUT"


def test_a_photo_belongs_to_an_entry_of_the_book():
    sha256 = "a" * 64
    shot = {"photo": f"{sha256}.jpg", "sha256": sha256}
    bench = Bench()
    bench.write("pictured", **shot, entry=bench.entries[0].id)
    assert bench.judged().state.items["plug:P1"].pictures == bench.entries[1:]
    bench.write("pictured", **shot, entry="nowhere")
    with pytest.raises(BadInput, match=r'The photo belongs to "nowhere", which is not in the book'):
        bench.judged()


@pytest.mark.parametrize(
    ("written", "call"), [("12 ohm", "WITHIN"), ("48 ohm", "CLOSE CALL"), ("190 ohm", "OUT")]
)
def test_an_analog_reading_is_called_by_itself_and_by_its_band(written, call):
    bench = Bench().good(but=["resistance"])
    bench.read("resistance", written, "AN", range="x100")
    assert bench.call("resistance") == call
