"""What is keyed and what it means (the table of number forms, and the look-alikes it refuses)."""

from __future__ import annotations

import re
from dataclasses import replace
from decimal import Decimal

import pytest

from rehang.sheets import check_sheets, layouts
from rehang.trade.facts.lines import parse_line
from rehang.trade.facts.meters import MeterRange
from rehang.trade.facts.readings import read, unlikely
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.quantities import QUANTITIES, parse_amount, show, show_record
from tests.trade.cast import facts

LENGTH, OHM = QUANTITIES["length"], QUANTITIES["resistance"]
SHARE, PSI, OIL = QUANTITIES["share"], QUANTITIES["pressure"], QUANTITIES["oil"]

SAME = [
    # A gap of eighteen thousandths, in ten-thousandths.
    *[(LENGTH, text, "", 180) for text in (
        "18", "018", "0.018", ".018", "18 thou", "18thou", "0.018 in", ".018 in", ".018in",
        "0.0180", "18.0", "0.018 inch", "18 mil", " 18 ", '0.018 "',
    )],
    *[(LENGTH, text, "", value) for text, value in (
        ("18.5", 185), ("0.0185", 185), ("7", 70), ("40", 400), ("0.040", 400), ("1.5 thou", 15),
    )],
    # 1,240 ohm on a meter that shows kilohms.
    *[(OHM, text, "kohm", 1240) for text in (
        "1.24", "1.24k", "1240 ohm", "1,240 ohm", "1.24 kohm", "1.240", "1.24 kΩ", "1240 Ω",
        "1240ohm", "1.24K", "1.24 kilohms", "1240 ohms", "1240 r", " 1.24 ",
    )],
    *[(OHM, text, "kohm", value) for text, value in (
        ("1240", 1_240_000), ("0.98", 980), (".98", 980), ("4.9", 4900), ("12.4", 12_400),
        ("1,240", 1_240_000),
    )],
    *[(OHM, text, "ohm", value) for text, value in (
        ("480", 480), ("4,800", 4800), ("1.24k", 1240), ("1240", 1240),
    )],
    *[(SHARE, text, "", value) for text, value in (("72", 720), ("72 %", 720), ("72%", 720))],
    *[(PSI, text, "", value) for text, value in (("74", 74), ("74 psi", 74), ("074", 74))],
    *[(OIL, text, "", value) for text, value in (("7.5", 75), ("7.5 qt", 75), ("8", 80))],
]  # fmt: skip

REFUSED = [
    (OHM, "0,240", '"0,240" has a comma that is not a thousands mark. '
     "Write the decimal with a point, as in 1.24."),
    (OHM, "1,24", '"1,24" has a comma that is not a thousands mark. '
                  "Write the decimal with a point, as in 1.24."),
    (OHM, "12,40", '"12,40" has a comma that is not a thousands mark. '
                   "Write the decimal with a point, as in 1.24."),
    (LENGTH, "18 mm", '"18 mm" has the unit "mm", which is not one for length. '
                      "Use thou, in."),
    (OHM, "18 thou", '"18 thou" has the unit "thou", which is not one for resistance. '
                     "Use kΩ, Ω."),
    (OHM, "one", '"one" is not a resistance. Write a number in kilohms, as in 1.24.'),
    (OHM, "1.2.3", '"1.2.3" is not a number. Write digits, as in 18 or 1.24.'),
    (LENGTH, "0.01855", '"0.01855" is finer than length is kept. '
                        "The smallest step is 0.0001 in."),
    (PSI, "74.5", '"74.5" is finer than pressure is kept. The smallest step is 1.0 psi.'),
]  # fmt: skip


def test_there_are_at_least_sixty_cases():
    assert len(SAME) + len(REFUSED) >= 60


@pytest.mark.parametrize(("quantity", "text", "bare", "steps"), SAME)
def test_number_forms(quantity, text, bare, steps):
    assert parse_amount(text, quantity, bare_unit=bare) == steps


@pytest.mark.parametrize(("quantity", "text", "sentence"), REFUSED)
def test_refused_number_forms(quantity, text, sentence):
    with pytest.raises(BadInput, match=f"^{re.escape(sentence)}$"):
        parse_amount(text, quantity)


@pytest.mark.parametrize(
    ("quantity", "steps", "screen", "record"),
    [
        (LENGTH, 180, "18 thou", "0.018 in"),
        (LENGTH, 185, "18.5 thou", "0.0185 in"),
        (OHM, 1240, "1.24 kΩ", "1,240 Ω"),
        (OHM, 980, "0.98 kΩ", "980 Ω"),
        (SHARE, 720, "72 %", "72 %"),
        (PSI, 74, "74 psi", "74 psi"),
        (OIL, 75, "7.5 qt", "7.5 qt"),
    ],
)
def test_shown_with_a_zero_before_the_point_and_a_space_before_the_unit(
    quantity, steps, screen, record
):
    assert (show(steps, quantity), show_record(steps, quantity)) == (screen, record)


# The pad's size check


def _check(name):
    return check_sheets()["plug"].check(name)


def test_ten_times_out_among_fellows_is_unlikely_and_offers_the_shifted_value():
    found = unlikely(_check("resistance"), 12_400, [1200, 1210, 1190, 1230, 1250, 1200, 1220])
    assert found is not None
    assert found.shifted == 1240


def test_ohms_keyed_on_a_kilohm_meter_offer_the_value_in_ohms():
    found = unlikely(_check("resistance"), 1_240_000, [])
    assert found is not None
    assert found.shifted == 1240


def test_extra_zero_on_a_gap_is_unlikely():
    found = unlikely(_check("gap"), 1800, [180, 170, 180])
    assert found is not None
    assert found.shifted == 180


@pytest.mark.parametrize(("name", "value"), [("resistance", 4800), ("gap", 230)])
def test_worn_part_is_not_unlikely(name, value):
    fellows = {"resistance": [1180, 1290, 1640, 1050], "gap": [180, 170, 180, 170]}[name]
    assert unlikely(_check(name), value, fellows) is None


# The line

SHEET, LAYOUT = check_sheets()["plug"], layouts()["opposed-4"]


def _line(text, meter=""):
    shop = facts()
    return parse_line(
        text,
        sheet=SHEET,
        layout=LAYOUT,
        meter=shop.meters.get(meter),
        range_name="20k" if meter == "DM" else "",
    )


def test_line_fills_the_tray_in_walk_order():
    line = _line("g 18 18 19 17 18 18 20 18", "WG")
    assert line.complete
    assert [(c.hole, c.written) for c in line.cells] == [
        ("1T", "18 thou"), ("1B", "18 thou"), ("2T", "19 thou"), ("2B", "17 thou"),
        ("3T", "18 thou"), ("3B", "18 thou"), ("4T", "20 thou"), ("4B", "18 thou"),
    ]  # fmt: skip


def test_words_of_one_letter_run_together():
    line = _line("s ssssi-ns", "BT")
    assert [c.written for c in line.cells] == [
        "steady", "steady", "steady", "steady", "intermittent", "", "none", "steady",
    ]  # fmt: skip
    assert line.cells[5].skipped


def test_one_hole_may_be_named():
    line = _line("g 3b=19", "WG")
    assert line.complete
    assert [(c.hole, c.written) for c in line.cells] == [("3B", "19 thou")]


@pytest.mark.parametrize(
    ("text", "meter", "wanted"),
    [
        ("g 3b = 18", "WG", {"3B": "18 thou"}),
        ("g 3b =18, 2t= 17", "WG", {"2T": "17 thou", "3B": "18 thou"}),
        ("g\u00a03b\u202f=\u00a018", "WG", {"3B": "18 thou"}),
        ("o 3b=1,240 ohm", "DM", {"3B": "1,240 ohm"}),
        ("o 3b = 1.24 kohm 2t=1.3", "DM", {"2T": "1.3 kohm", "3B": "1.24 kohm"}),
        ("o 1,240 ohm 1.3 3b=ol", "DM", {"1T": "1,240 ohm", "1B": "1.3 kohm", "3B": "ol"}),
    ],
)
def test_spaces_about_a_value_and_before_its_unit_are_understood(text, meter, wanted):
    line = _line(text, meter)
    assert {c.hole: c.written for c in line.cells} == wanted
    assert [c.error for c in line.cells if c.error] == []


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("g 3b=", 'On one side of "3b=" nothing stands.'),
        ("g = 18", 'On one side of "=18" nothing stands.'),
        ("o 3b=1 240 ohm", '"240 ohm" stands after 3b=1 and names no hole.'),
        ("g 3b=18 17", '"17" stands after 3b=18 and names no hole.'),
    ],
)
def test_what_may_mean_two_things_on_a_line_is_refused(text, sentence):
    line = _line(text, "DM" if text[0] == "o" else "WG")
    assert not line.complete
    assert line.message.startswith(sentence)


def test_short_line_says_which_hole_is_next():
    line = _line("o 1.2 1.2 1.3 4.9", "DM")
    assert not line.complete
    assert line.message == "4 of 8: next 3T"


def test_long_line_says_how_many_are_too_many():
    line = _line("o 1 1 1 1 1 1 1 1 1", "DM")
    assert not line.complete
    assert line.message == "9 of 8: 1 too many."


@pytest.mark.parametrize(
    "text", ["g 18, 18, 19, 17, 18, 18, 20, 18", "g\t18\t18\t19\t17\t18\t18\t20\t18"]
)
def test_tabs_and_comma_with_space_separate(text):
    assert _line(text, "WG").complete


def test_decimal_comma_in_a_line_is_refused_at_its_hole():
    line = _line("o 1,2 1.2 1.2 1.2 1.2 1.2 1.2 1.2", "DM")
    assert not line.complete
    assert line.message.startswith('1T: "1,2" has a comma that is not a thousands mark.')


def test_severity_three_word_asks_for_a_confirming_tap():
    assert _line("l nnnxnnnn").needs_confirm == ("2B",)


def test_unknown_check_letter_names_the_letters():
    assert "none of l (look, 10×)" in _line("z 1 2 3").message


def test_crack_and_carbon_never_share_a_letter():
    letters = {w.name: w.letter for w in SHEET.look_words}
    assert letters["crack"] != letters["soot"]
    assert len(set(letters.values())) == len(letters)


def test_over_range_key_is_kept_with_its_range():
    line = _line("o ol 1.2 1.2 1.2 1.2 1.2 1.2 1.2", "DM")
    assert line.complete
    shop = facts()
    reading = read(SHEET.check("resistance"), "OL", shop.meters["DM"], "20k")
    assert (reading.state, reading.range) == ("ol", "20k")


@pytest.mark.parametrize(
    ("keyed", "name", "value", "shown"),
    [
        ("1.5", "x1k", 1500, "1.50 kΩ"),
        ("1.5 ohm", "x1k", 1500, "1.50 kΩ"),
        (".4", "x100", 40, "0.04 kΩ"),
        ("15", "x100", 1500, "1.50 kΩ"),
    ],
)
def test_a_decimal_on_a_multiplied_range_is_read_before_the_smallest_step(
    keyed, name, value, shown
):
    """A scale read at 1.5 on the range x1k is 1.5 times 1,000 ohm, also of unknown accuracy."""
    meter = facts().meters["AN"]
    extra = MeterRange(name="x1k", factor=Decimal(1000), mid_scale=20_000.0)
    meter = replace(meter, ranges=(*meter.ranges, extra))
    check = SHEET.check("resistance")
    reading = read(check, keyed, meter, name)
    assert (reading.value, reading.text(check)) == (value, shown)
    unproved = read(check, keyed, replace(meter, accuracy_not_known=True), name)
    assert (unproved.value, unproved.text(check)) == (None, shown)
    with pytest.raises(BadInput, match="is finer than resistance is kept"):
        read(check, "0.0015", meter, name)


@pytest.mark.parametrize(
    ("check", "written", "meter", "sentence"),
    [
        ("gap", "18 thou", "", "Gap was written without a meter. Say which meter was used."),
        ("gap", "18 thou", "DM", "DM does not measure length; it measures resistance."),
        (
            "resistance", "25 kohm", "DM",
            "25.00 kΩ is beyond the top of DM's 20k range (20.00 kΩ). "
            "Key OL, or say which range was used.",
        ),
        ("spark", "maybe", "BT", '"maybe" is no answer to spark. Say steady, intermittent or none.'),
        (
            "gap", "20/18 thou", "WG",
            '"20/18 thou" says the thicker wire goes and the thinner does not. '
            "Write the wire that goes first.",
        ),
        ("electrode", "120 %", "WC", '"120 %" is more than 100 % of a new one.'),
    ],
)  # fmt: skip
def test_reading_that_cannot_be_is_refused_with_one_sentence(check, written, meter, sentence):
    shop = facts()
    with pytest.raises(BadInput, match=f"^{re.escape(sentence)}$"):
        read(SHEET.check(check), written, shop.meters.get(meter), "20k" if meter == "DM" else "")
