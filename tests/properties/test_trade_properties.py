"""What holds for every number, line and book."""

from __future__ import annotations

from datetime import timedelta

from hypothesis import given
from hypothesis import strategies as st

from rehang.sheets import check_sheets, layouts
from rehang.sheets.folder import book_text, parse_book, seal_all
from rehang.trade.facts.lines import parse_line as read_line
from rehang.trade.facts.meters import band_of
from rehang.trade.facts.readings import unlikely
from rehang.trade.job.judging import judge
from rehang.trade.known.fold import fold
from rehang.trade.terms.chain import chain_problems
from rehang.trade.terms.entries import entry_from, parse_line
from rehang.trade.terms.quantities import QUANTITIES, parse_amount, show, show_record
from tests.trade.cast import Bench, facts

SHOP = facts()
SHEET, LAYOUT = check_sheets()["plug"], layouts()["opposed-4"]


@given(st.sampled_from(["length", "share", "pressure", "oil"]), st.integers(0, 100_000))
def test_what_the_record_shows_reads_back_the_same(name, steps):
    quantity = QUANTITIES[name]
    step = {"length": 1, "share": 10, "pressure": 1, "oil": 1}[name]
    assert parse_amount(show_record(steps * step, quantity), quantity) == steps * step


@given(st.integers(0, 2_000_000))
def test_resistance_in_the_record_reads_back_to_the_ohm(ohms):
    quantity = QUANTITIES["resistance"]
    assert parse_amount(show_record(ohms, quantity), quantity) == ohms
    assert abs(parse_amount(show(ohms, quantity), quantity) - ohms) <= 5


@given(st.integers(10, 999))
def test_thou_and_inch_are_the_same_gap(thou):
    quantity = QUANTITIES["length"]
    forms = [f"{thou}", f"{thou} thou", f"{thou / 1000:.3f}", f"{thou / 1000:.3f} in"]
    assert {parse_amount(form, quantity) for form in forms} == {thou * 10}


@given(st.lists(st.integers(16, 30), min_size=8, max_size=8))
def test_line_keeps_each_number_in_its_hole(gaps):
    line = read_line(
        "g " + " ".join(map(str, gaps)), sheet=SHEET, layout=LAYOUT, meter=SHOP.meters["WG"]
    )
    assert line.complete
    assert [cell.hole for cell in line.cells] == list(LAYOUT.walk)
    assert [cell.written for cell in line.cells] == [f"{gap} thou" for gap in gaps]


@given(st.text(max_size=60))
def test_no_half_typed_line_is_a_crash(text):
    line = read_line(text, sheet=SHEET, layout=LAYOUT, meter=SHOP.meters["WG"])
    assert line.message or line.complete


@given(st.integers(0, 20_000))
def test_probability_is_one_and_falls_as_resistance_rises(ohms):
    meter = SHOP.meters["DM"]
    lower = band_of(meter, ohms, "20k").p_inside(None, 5000)
    higher = band_of(meter, ohms + 10, "20k").p_inside(None, 5000)
    assert 0 <= higher <= lower <= 1


@given(st.integers(1, 100_000), st.sampled_from(["x10", "x100"]))
def test_reading_lies_inside_its_own_band(ohms, name):
    band = band_of(SHOP.meters["AN"], ohms, name)
    assert band.low <= ohms <= band.high


@given(st.integers(1, 60_000), st.integers(1, 60_000))
def test_a_shifted_value_that_is_offered_is_never_itself_unlikely(value, usual):
    check = SHEET.check("resistance")
    others = [usual] * 7
    found = unlikely(check, value, others)
    if found is not None and found.shifted is not None:
        again = unlikely(check, found.shifted, others)
        assert again is None or not check.believable[0] <= usual <= check.believable[1]


READINGS = st.one_of(
    st.tuples(st.just("gap"), st.integers(10, 30).map(lambda n: f"{n} thou"), st.just("WG")),
    st.tuples(
        st.just("resistance"),
        st.one_of(st.integers(300, 19_000).map(lambda n: f"{n} ohm"), st.just("OL")),
        st.just("DM"),
    ),
    st.tuples(st.just("spark"), st.sampled_from(["steady", "intermittent", "none"]), st.just("BT")),
)


@st.composite
def books(draw):
    """A bench's day: readings, looks, reworks, strikes, in any order."""
    bench = Bench()
    for what in draw(st.lists(st.sampled_from(["read", "look", "work", "strike"]), max_size=14)):
        if what == "read":
            check, written, meter = draw(READINGS)
            more = {"range": "20k"} if meter == "DM" else {}
            more |= {"at_psi": 100} if meter == "BT" else {}
            bench.read(check, written, meter, **more)
        elif what == "look":
            bench.look(draw(st.sampled_from(["normal", "light_lead", "oil_wet", "crack"])))
        elif what == "work":
            bench.write("reworked", act=draw(st.sampled_from(["clean", "regap", "contact"])))
        else:
            able = [e for e in bench.entries[1:] if e.kind != "struck"]
            if able:
                bench.write("struck", entry=draw(st.sampled_from(able)).id, reason="slip")
    return bench


@given(books())
def test_keep_means_every_check_is_within_and_nothing_of_severity_two_is_open(bench):
    one = bench.verdict()
    if one.verdict == "KEEP":
        assert {call.call for call in one.calls} == {"WITHIN"}
        assert not [f for f in one.findings if f.is_open and f.severity >= 2]
    assert one.reasons


@given(books())
def test_no_entry_is_lost_in_the_fold(bench):
    state = fold(bench.entries, layout=SHOP.layout, sheets=SHOP.sheets, meters=SHOP.meters)
    assert state.order == bench.entries
    readings = [e for e in bench.entries if e.kind == "reading" and e.id not in state.struck]
    kept = [taken.entry for item in state.items.values() for taken in item.readings]
    assert kept == readings


@given(books())
def test_one_more_out_that_cannot_be_reworked_never_makes_a_keep(bench):
    bench.read("electrode", "under half")
    assert bench.verdict().verdict == "REJECT"


@given(books())
def test_book_reads_back_the_same_and_its_chain_holds(bench):
    sealed = seal_all(bench.entries)
    text = book_text(sealed)
    again, _ = parse_book(text, SHOP.people)
    assert again == sealed
    assert book_text(again) == text
    assert chain_problems(again) == []
    assert [parse_line(e.line()) for e in sealed] == sealed


@given(books())
def test_hiding_later_entries_is_judging_the_shorter_book(bench):
    cut = len(bench.entries) // 2
    moment = bench.entries[cut].at
    hidden = judge(SHOP, bench.entries, moment)
    short = judge(SHOP, bench.entries[: cut + 1])
    assert [(v.verdict, v.reasons) for v in hidden.items] == [
        (v.verdict, v.reasons) for v in short.items
    ]
    earlier = judge(SHOP, bench.entries, moment - timedelta(days=1))
    assert earlier.items == ()


@given(books(), st.data())
def test_any_changed_field_breaks_the_chain(bench, data):
    sealed = seal_all(bench.entries)
    place = data.draw(st.integers(0, len(sealed) - 1))
    raw = sealed[place].content() | {
        "seq": sealed[place].seq,
        "kept": sealed[place].kept.isoformat(),
        "prev": sealed[place].prev,
        "hash": sealed[place].hash,
    }
    raw["by"] = "ben" if raw["by"] == "ada" else "ada"
    sealed[place] = entry_from(raw)
    assert chain_problems(sealed)
