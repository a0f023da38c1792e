"""Rows of the pages, from books of a few lines; no database and no clock."""

from datetime import date, datetime, timedelta, timezone

import pytest

from rehang.sheets import demo_path, layouts
from rehang.sheets.edit import add_limit, add_meter, change_limit, change_meter
from rehang.sheets.folder import parse_files, read_folder
from rehang.trade.job.judging import judge
from rehang.trade.telling.sentences import entry_words
from rehang.trade.terms.entries import new_entry
from rehang.web.board import rows as board_rows
from rehang.web.item import rows as item_rows
from rehang.web.shop import limit_rows
from rehang.web.shop import rows as shop_rows

ZONE = timezone(timedelta(hours=-5))
START = datetime(2026, 10, 20, 9, 0, tzinfo=ZONE)
TODAY = date(2026, 10, 21)


@pytest.fixture(scope="module")
def demo():
    return read_folder(demo_path())


@pytest.fixture(scope="module")
def judged(demo):
    return judge(demo.facts, demo.entries)


def also(demo, *given):
    """The demo with more lines at the end of its book: (kind, by, fields)."""
    more = [
        new_entry(kind, at=START + timedelta(minutes=n), by=by, **fields)
        for n, (kind, by, fields) in enumerate(given)
    ]
    return judge(demo.facts, [*demo.entries, *more])


def of_layout(demo, name):
    """A job on another layout, one plug out of each hole."""
    files = dict(demo.files)
    files["engine.toml"] = files["engine.toml"].replace('"opposed-4"', f'"{name}"')
    facts = parse_files(files, "other")
    removed = [
        new_entry("removed", at=START, by="marta", item=f"plug:P{n}", place=hole)
        for n, hole in enumerate(facts.layout.walk, start=1)
    ]
    return judge(facts, removed)


# Where the next reading goes


def test_next_spot_is_the_hole_that_was_stopped_at_when_it_is_unread(judged):
    spot = board_rows.next_spot(judged, "look", "4B")
    assert (spot.check, spot.hole) == ("look", "4B")


def test_next_spot_goes_on_round_the_tray_then_to_the_next_test(judged):
    assert board_rows.next_spot(judged, "gap", "1T").hole == "4B"
    done = board_rows.next_spot(judged, "spark", "1T")
    assert (done.check, done.hole) == ("spark", "4B")


def test_next_spot_passes_rejects_over(demo):
    after = also(demo, ("dropped", "tom", {"item": "plug:K0418", "place": "4B"}))
    assert board_rows.next_spot(after) is None


@pytest.mark.parametrize("name", sorted(layouts()))
def test_mini_tray_shows_each_hole_once_and_no_two_overlap(demo, name):
    tray = board_rows.board(of_layout(demo, name), person="marta").tray
    assert sorted(h.hole for h in tray.holes) == sorted(layouts()[name].walk)
    for one in tray.holes:
        assert one.x >= 0
        assert one.x + one.width <= tray.width
        assert one.y + 44 <= tray.height
        for other in tray.holes:
            if other is not one and other.y == one.y:
                assert abs(other.x - one.x) >= one.width
    assert [h.hole for h in tray.holes if h.lit] == [layouts()[name].walk[0]]


def test_last_three_are_of_whoever_stopped(judged):
    rows = board_rows.board(judged, person="ilse")
    assert [(r.hole, r.text) for r in rows.last] == [
        ("4T", "1.41 kΩ"),
        ("4T", "18 thou"),
        ("4T", "steady"),
    ]
    assert rows.stopped == "Stopped 17 Oct, 16:39 by Marta Oduya, phone rang"


def test_a_close_call_left_open_waits_for_a_second_opinion(demo, judged):
    reading = judged.item("plug:K0413").call("resistance").entry
    rows = board_rows.board(
        also(demo, ("left_open", "marta", {"entry": reading.id})), person="marta"
    )
    assert ("K0413, 2T", "a second opinion on resistance") in [
        (w.title, w.what) for w in rows.waits
    ]
    assert "plug:K0413" not in [c.item for c in rows.cards]


def test_meters_to_take_are_those_the_cards_need(judged):
    takes = board_rows.board(judged, person="marta").takes
    # The fourth card is the one that reads: the ohms of K0413.
    assert [t.meter for t in takes if t.kind == "meter"] == ["DM-2"]
    assert {t.standing for t in takes if t.kind == "meter"} == {""}


def test_a_meter_past_its_day_is_out_of_date_and_good_on_the_day_itself(judged):
    rows = {r.id: r for r in shop_rows.meter_rows(judged, date(2026, 10, 2))}
    assert rows["TW-3"].standing == ""
    rows = {r.id: r for r in shop_rows.meter_rows(judged, date(2026, 10, 3))}
    assert rows["TW-3"].standing == "OUT OF DATE"
    assert rows["AN-1"].standing == "NO CALIBRATION"
    assert rows["DM-2"].due == "Jan 2027"


# The words of entries


@pytest.mark.parametrize(
    ("kind", "fields", "words"),
    [
        ("moved", {"item": "plug:K0411", "place": "1T"}, "K0411 moved to 1T."),
        (
            "dropped",
            {"item": "plug:K0411", "place": "1T", "person": "tom", "note": "off the tray"},
            "K0411 (1T) was dropped by Tom Ferrick. Off the tray.",
        ),
        (
            "disagreed",
            {"item": "plug:K0415", "verdict": "REJECT", "reason": "worn on the far side"},
            "K0415: REJECT by decision. Reason: Worn on the far side.",
        ),
        ("stopped", {"where": "tray", "place": "3T", "check": "gap", "why": "part"},
         "Stopped at 3T, gap: waiting on a part."),
        ("carried_on", {"where": "tray", "place": "3T", "check": "gap"}, "Carried on at 3T, gap."),
        ("proved", {"meter": "AN-1", "reason": "read 1.02 at 1.00"},
         "As-found check of AN-1: Read 1.02 at 1.00."),
        ("put_away", {"reason": "hung again"}, "Taken off the board: Hung again."),
        (
            "reading",
            {"item": "plug:K0418", "place": "4B", "check": "gap", "written": "18+19 thou",
             "meter": "WG-1"},
            "K0418 (4B): gap 19 thou (the wider of 18 thou and 19 thou) on WG-1.",
        ),
        (
            "reading",
            {"item": "plug:K0418", "place": "4B", "check": "resistance", "written": "12.4 kohm",
             "meter": "DM-2", "range": "20k", "kept_as_keyed": True},
            "K0418 (4B): resistance 12.40 kΩ on DM-2 (20k), kept as keyed.",
        ),
    ],
)  # fmt: skip
def test_entry_reads_as_a_sentence(demo, kind, fields, words):
    after = also(demo, (kind, "marta", fields))
    assert entry_words(after.state.order[-1], after) == words


def test_a_strike_says_what_was_struck_and_why(demo):
    note = new_entry("note", at=START, by="marta", text="Wrong job.")
    strike = new_entry("struck", at=START, by="tom", entry=note.id, reason="another engine")
    after = judge(demo.facts, [*demo.entries, note, strike])
    assert entry_words(strike, after) == ("Struck out: Wrong job. Reason: Another engine.")


# The page of an item


def test_an_item_has_a_small_chart_for_each_check_with_a_past(judged):
    item = item_rows.item_page(judged, judged.item("plug:K0413"), 18)
    drawn = {row.check: row for row in item.checks}
    # What cannot be told stands first, then what has a picture.
    assert item.checks[0].check == "resistance"
    assert [name for name, _ in drawn["resistance"].pictures] == ["narrow", "phone"]
    assert 'data-part="close-call"' in drawn["resistance"].pictures[0][1]
    assert drawn["resistance"].past.startswith("Resistance is up four times running: ")
    # What was read once stands on its scale, and what is only looked at has no picture.
    assert len(drawn["electrode"].pictures) == 1
    assert drawn["look"].pictures == ()


def test_the_source_of_a_limit_is_said_once_with_the_checks_it_is_for(judged):
    item = item_rows.item_page(judged, judged.item("plug:K0413"), 18)
    ((labels, source),) = item.sources
    assert labels == "Look, 10×, electrode left, resistance, gap, spark"
    assert source.startswith("TV4 manual (invented), rev 6, page 7-4")


def test_an_open_resistor_is_said(judged):
    item = item_rows.item_page(judged, judged.item("plug:K0412"), 18)
    ohms = next(row for row in item.checks if row.check == "resistance")
    assert ohms.past.endswith("and open now.")


def test_what_the_reason_says_is_not_said_again_beside_its_check(judged):
    item = item_rows.item_page(judged, judged.item("plug:K0413"), 18)
    ohms = next(row for row in item.checks if row.check == "resistance")
    assert "it cannot tell" in item.head.reasons[0]
    assert ohms.sentence == ""


# Limits


def test_a_check_without_a_limit_has_a_line_that_judges_nothing(demo):
    files = dict(demo.files)
    files["limits.toml"] = ""
    rows = limit_rows.limit_rows(parse_files(files, "bare"))
    plug = [r.check for r in rows if r.item == "plug"]
    assert plug == ["look", "electrode", "resistance", "gap", "spark"]
    assert {(r.number, r.judges, r.words) for r in rows} == {(-1, False, "")}


# Changing the texts

METERS = """# Ours.
[[meter]]
id = "A"  # the old one
kind = "tester"
note = "dusty"

[[meter]]
id = "B"
kind = "digital"
quantity = "resistance"

  [[meter.range]]
  name = "20k"
  top = "20 kohm"
"""


def test_changing_a_meter_leaves_every_other_line_as_it_stood():
    new = change_meter(METERS, "A", {"due": "2027-01", "note": None})
    assert new == METERS.replace('note = "dusty"', 'due = "2027-01"')


def test_a_key_that_is_new_goes_before_the_ranges():
    new = change_meter(METERS, "B", {"due": "2027-03"})
    assert new.index('due = "2027-03"') < new.index("[[meter.range]]")
    assert new.startswith(METERS.partition('id = "B"')[0])


def test_changing_nothing_changes_no_byte(demo):
    assert change_meter(METERS, "A", {"note": "dusty"}) == METERS
    text = demo.files["limits.toml"]
    assert change_limit(text, 2, {"upper": "5000 ohm"}) == text


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (lambda: change_meter(METERS, "C", {}), 'There is no meter "C" on file.'),
        (lambda: change_limit("", 4, {}), "There is no limit number 5 on file."),
    ],
)
def test_what_is_not_on_file_cannot_be_changed(change, sentence):
    from rehang.trade.terms.errors import BadInput

    with pytest.raises(BadInput, match=sentence) as caught:
        change()
    assert caught.value.sentence == sentence


def test_what_is_added_stands_below_and_can_be_read(demo):
    files = dict(demo.files)
    files["meters.toml"] = add_meter(files["meters.toml"], {"id": "BT-9", "kind": "tester"})
    files["limits.toml"] = add_limit(
        files["limits.toml"],
        {"item": "plug", "check": "gap", "upper": "0.020 in", "entered_on": date(2026, 10, 20)},
    )
    facts = parse_files(files, "more")
    assert "BT-9" in facts.meters
    assert facts.limits[-1].upper == 200
    for name in ("meters.toml", "limits.toml"):
        assert files[name].startswith(demo.files[name])
