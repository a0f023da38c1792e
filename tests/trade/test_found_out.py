"""A wrench or meter found out of tolerance: what it was used on since it was good is open again."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rehang.trade.doors.rules import check_can_append
from rehang.trade.known.doubts import torqued_now, torques_in_doubt, uses_in_doubt
from rehang.trade.known.torque import card_of
from rehang.trade.telling.entry_text import draft_of
from rehang.trade.telling.record import tray_record
from rehang.trade.telling.sentences import entry_words
from rehang.trade.terms.entries import Entry
from rehang.trade.terms.errors import BadInput, NotAllowed
from rehang.trade.verdicts.folding import fold_job
from rehang.trade.work.todo import left_half_done, take_to_bench
from tests.trade.cast import START, ZONE, Bench, facts
from tests.trade.test_work import MONDAY, Floor

BAY = "Bay Calibration, on its own standard"
KNOWN = {"off": "6 % low", "setting": "50 in-lb", "certificate": "881"}


def found_out(floor: Floor, meter: str = "TW-NEW", **data: str) -> Entry:
    return floor.write("found_out", meter=meter, reason=BAY, **KNOWN, **data)


def stands_key(floor: Floor, meter: str, entry: Entry) -> str:
    uses = uses_in_doubt(floor.facts, floor.judged().state, meter)
    return next(use.key for use in uses if use.entry.id == entry.id)


def torqued_floor() -> tuple[Floor, Entry]:
    floor = Floor()
    floor.tappets(2)
    return floor, floor.torqued(6)


def test_a_torque_place_is_open_again_blocks_and_says_its_way_out():
    floor, _ = torqued_floor()
    assert floor.state("F2", "2") == "DONE"
    found_out(floor, good="2026-03-14")
    assert floor.state("F2", "2") == "STARTED"
    place = floor.judged().work.tasks["F2"].place("2")
    assert (place.done, place.of, place.missing) == (0, 6, ("6 of 6 screws torqued",))
    (blocker,) = [b for b in floor.judged().blockers if b.about == "meter:TW-NEW"]
    assert blocker.sentence == (
        "TW-NEW was found out of tolerance on 2 Nov 2026 (6 % low, at 50 in-lb, Bay Calibration, "
        "on its own standard, certificate 881). Since it was last known good (14 Mar 2026), used "
        "on cover screws (6 of 6)."
    )
    assert "or write on the page of TW-NEW why it stands" in blocker.way_out
    (half,) = [h for h in left_half_done(floor.judged().work, floor.facts) if h.task == "F2"]
    assert "TW-NEW was found out of tolerance on 2 Nov 2026; used here" in half.notes[0]


def test_it_is_lifted_when_it_is_gone_over_by_a_good_wrench():
    floor, _ = torqued_floor()
    found_out(floor)
    floor.torqued(3, meter="TW")
    assert floor.judged().work.tasks["F2"].place("2").done == 3
    assert len(floor.blockers("meter:TW-NEW")) == 1
    floor.torqued(6, meter="TW")
    assert floor.state("F2", "2") == "DONE"
    assert floor.blockers("meter:TW-NEW") == []
    (use,) = uses_in_doubt(floor.facts, floor.judged().state, "TW-NEW")
    assert use.said == "gone over again with a good one"


def test_going_on_with_another_wrench_does_not_go_over_what_the_first_one_did():
    floor = Floor()
    floor.tappets(2)
    floor.torqued(3)
    floor.torqued(6, meter="TW")
    found_out(floor)
    assert floor.judged().work.tasks["F2"].place("2").done == 0
    assert len(floor.blockers("meter:TW-NEW")) == 1


def test_a_named_person_may_write_why_it_stands_and_it_is_undone_by_a_strike():
    floor, torque = torqued_floor()
    told = found_out(floor)
    key = stands_key(floor, "TW-NEW", torque)
    assert "Write the reason: what was seen" in floor.refused("closed", finding=key, reason=" ")
    stands = floor.write("closed", finding=key, reason="47 in-lb is inside 45 to 55", by="ben")
    assert floor.blockers("meter:TW-NEW") == []
    assert floor.state("F2", "2") == "DONE"
    (use,) = uses_in_doubt(floor.facts, floor.judged().state, "TW-NEW")
    assert use.said == "stands by Ben, 2 Nov 2026: 47 in-lb is inside 45 to 55"
    assert entry_words(stands, floor.judged()) == (
        "Let stand although TW-NEW was found out of tolerance: cover screws (6 of 6). "
        "Reason: 47 in-lb is inside 45 to 55."
    )
    assert "not open" in floor.refused("closed", finding=key, reason="once more")
    floor.write("struck", entry=stands.id, reason="read the wrong column")
    assert len(floor.blockers("meter:TW-NEW")) == 1
    floor.write("struck", entry=told.id, reason="another wrench's certificate")
    assert floor.blockers("meter:TW-NEW") == []
    assert floor.state("F2", "2") == "DONE"
    assert floor.judged().state.is_out("TW-NEW") is None


def test_what_was_done_before_it_was_last_known_good_is_not_in_doubt():
    floor, _ = torqued_floor()
    floor.write("proved", meter="TW-NEW", reason="within 1 % at 50 in-lb")
    late = floor.write(
        "torqued", item="cylinder:1", what="rocker cover screws of cylinder 1", place="1",
        meter="TW-NEW", done=6, of=6, wanted="50 in-lb", passes=2,
    )  # fmt: skip
    found_out(floor)
    uses = uses_in_doubt(floor.facts, floor.judged().state, "TW-NEW")
    assert [use.entry.id for use in uses] == [late.id]
    assert floor.state("F2", "2") == "DONE"


def test_a_later_proof_clears_nothing_and_a_dated_one_makes_it_good_again():
    floor, torque = torqued_floor()
    found_out(floor)
    floor.write("proved", meter="TW-NEW", reason="within 1 %, no certificate yet")
    assert floor.judged().state.is_out("TW-NEW") is not None
    floor.write("proved", meter="TW-NEW", reason="set and certified", due="2027-11")
    state = floor.judged().state
    assert state.is_out("TW-NEW") is None
    assert state.standing(floor.facts.meters["TW-NEW"], MONDAY) == ""
    uses = uses_in_doubt(floor.facts, state, "TW-NEW")
    assert [(use.entry.id, use.is_open) for use in uses] == [(torque.id, True)]
    floor.torqued(6)
    assert floor.state("F2", "2") == "DONE"
    assert floor.blockers("meter:TW-NEW") == []


def test_what_was_found_days_ago_is_written_with_its_day():
    floor, _ = torqued_floor()
    floor.write("proved", meter="TW-NEW", reason="set and certified", due="2027-11")
    found_out(floor, on="2026-11-01", good="2026-10-01")
    # The check after it put it right, and it does not clear what went before.
    assert floor.judged().state.is_out("TW-NEW") is None
    assert len(floor.blockers("meter:TW-NEW")) == 1
    assert "found out of tolerance on 1 Nov 2026" in floor.blockers("meter:TW-NEW")[0]


@pytest.mark.parametrize(
    ("data", "said"),
    [
        ({"on": "2026-11"}, "is not a day"),
        ({"on": "2026-11-09"}, "still to come"),
        ({"good": "2026-11-09"}, "after the day it was found out"),
        ({"good": "last spring"}, "is not a day"),
        ({"reason": "  "}, "Write the reason: what was seen"),
        ({"meter": "TW-9"}, "no meter"),
    ],
)
def test_a_day_or_a_name_that_cannot_be_is_refused_in_a_sentence(data, said):
    floor = Floor()
    assert said in floor.refused("found_out", **{"meter": "TW-NEW", "reason": BAY} | data)


def test_a_wrench_found_out_is_not_taken_to_the_bench_and_its_card_says_so():
    floor, _ = torqued_floor()
    assert "TW-NEW" in [
        m.id for m in take_to_bench(["F2"], floor.judged().work, floor.facts).meters
    ]
    found_out(floor)
    judged = floor.judged()
    assert [m.id for m in take_to_bench(["F2"], judged.work, floor.facts).meters if m.id] == ["TW"]
    card = card_of(
        floor.facts, floor.facts.torque_groups["rocker-cover"], wrench="TW-NEW", on=MONDAY,
        state=judged.state,
    )  # fmt: skip
    assert card.standing == ("TW-NEW was found out of tolerance on 2 Nov 2026 and is not put right")


def test_a_reading_on_a_meter_found_out_is_void_and_its_item_not_yet():
    bench = Bench().good()
    assert bench.verdict().verdict == "KEEP"
    bench.write("found_out", meter="WG", reason=BAY, off="one thou over", good="2026-09-01")
    gap = bench.verdict().call("gap")
    assert (gap.call, gap.sentence) == (
        "VOID",
        "Void: WG was found out of tolerance on 2 Nov 2026. It is to be taken again.",
    )
    assert bench.verdict().verdict == "NOT YET"
    (blocker,) = [b for b in bench.judged().blockers if b.about == "meter:WG"]
    assert blocker.sentence.endswith("(1 Sep 2026), used on P1 gap 17 thou.")
    bench.write("proved", meter="WG", reason="set and certified", due="2027-11")
    bench.read("gap", "17 thou", "WG")
    assert bench.verdict().verdict == "KEEP"
    assert [b for b in bench.judged().blockers if b.about == "meter:WG"] == []


def test_an_out_by_a_meter_found_out_rejects_nothing():
    bench = Bench().good(but=["electrode"])
    bench.read("electrode", "20 %", "WC")
    assert bench.verdict().verdict == "REJECT"
    bench.write("found_out", meter="WC", reason=BAY)
    assert bench.verdict().verdict == "NOT YET"


def test_a_reading_that_stands_keeps_its_call():
    bench = Bench().good()
    told = bench.write("found_out", meter="WG", reason=BAY, off="0.0002 in over")
    [use] = uses_in_doubt(facts(), bench.judged().state, "WG")
    bench.write("closed", finding=use.key, reason="0.0002 in does not move 17 thou out of 16 to 19")
    assert bench.call("gap") == "WITHIN"
    assert bench.verdict().verdict == "KEEP"
    assert told.id in use.key


def test_a_closing_of_what_is_not_open_is_refused():
    bench = Bench().good()
    bench.write("found_out", meter="WG", reason=BAY)
    entry = bench.write(
        "closed", finding="found-out:case-006:case-001", reason="it was good enough"
    )
    with pytest.raises(NotAllowed, match="not open"):
        check_can_append([entry], bench.entries[:-1], facts())


def test_the_records_say_what_became_of_each_use():
    bench = Bench().good()
    bench.write("found_out", meter="WG", reason=BAY, **KNOWN)
    judged = bench.judged()
    lines = {line.id: line.drawn for line in draft_of(judged, "maintenance").lines}
    assert (
        "WG WG, calibration due Mar 2027; found out of tolerance on 2 Nov 2026: 6 % low, at 50 "
        "in-lb, Bay Calibration, on its own standard, certificate 881; used since it was last "
        "known good (no day on file) on P1 gap 17 thou (open)"
    ) in lines["meters"]
    record = tray_record(judged, zone=ZONE, printed_at=START)
    told = " ".join(line for part in record.paragraphs for line in part.lines)
    assert "Found out of tolerance on 2 Nov 2026" in told
    assert "P1 gap 17 thou: open again." in told


@given(
    st.lists(
        st.tuples(
            st.sampled_from(["torqued", "found_out", "proved", "strike"]),
            st.sampled_from(["TW", "TW-NEW"]),
            st.integers(0, 6),
            st.booleans(),
        ),
        max_size=14,
    )
)
def test_fasteners_count_only_where_no_wrench_in_doubt_put_them_on(acts):
    floor = Floor()
    for kind, meter, done, dated in acts:
        if kind == "torqued":
            floor.past("torqued", item="cylinder:2", what="s", meter=meter, done=done, of=6)
        elif kind == "found_out":
            floor.past("found_out", meter=meter, reason=BAY)
        elif kind == "proved":
            floor.past("proved", meter=meter, reason="r", **({"due": "2027-11"} if dated else {}))
        else:
            last = [e for e in floor.entries if e.kind == "found_out"]
            if last:
                floor.past("struck", entry=last[-1].id, reason="not so")
    state = fold_job(floor.facts, floor.entries)
    torqued = state.items["cylinder:2"].torqued
    live = {entry.id for entry in state.live()}
    # By the rule itself, in its plainest words: every act between a use and the next good check.
    doubt = {e.id: _in_doubt(e, floor.entries, live) for e in torqued}
    assert {e.id for e in torqued if state.doubt(e.data["meter"], e)} == {
        name for name, bad in doubt.items() if bad
    }
    now = torqued_now(torqued, state)
    assert now in (0, torqued[-1].data["done"] if torqued else 0)
    if torqued and doubt[torqued[-1].id]:
        assert now == 0
    if torqued and not any(doubt.values()):
        assert now == torqued[-1].data["done"]
        assert torques_in_doubt(torqued, state) == []
    for use in uses_in_doubt(floor.facts, state, "TW-NEW"):
        assert use.is_open == (use.entry in torques_in_doubt(torqued, state))


def _in_doubt(use: Entry, entries: list[Entry], live: set[str]) -> bool:
    meter = use.data["meter"]

    def alike(e: Entry, kind: str) -> bool:
        return e.kind == kind and e.data["meter"] == meter and e.id in live

    place = entries.index(use)
    for n, one in enumerate(entries):
        if not alike(one, "found_out"):
            continue
        before = [k for k, e in enumerate(entries[:n]) if alike(e, "proved")]
        right = [k for k, e in enumerate(entries) if k > n and alike(e, "proved") and e.fields.due]
        after_good = not before or place > before[-1]
        before_right = not right or place < right[0]
        if after_good and before_right:
            return True
    return False


def test_a_found_out_day_that_is_none_stops_the_book_with_a_sentence():
    bench = Bench()
    bench.write("found_out", meter="WG", reason=BAY, good="May")
    with pytest.raises(BadInput, match="Write it out"):
        bench.judged()
