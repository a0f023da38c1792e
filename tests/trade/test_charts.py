"""What is drawn of a chart, and where its labels and bands stand."""

from datetime import date
from itertools import combinations

import pytest
from pytest import approx

from rehang.trade.drawn.chart_canvas import Canvas, Shape, Stroke
from rehang.trade.drawn.chart_looks import LOOKS
from rehang.trade.drawn.chart_values import (
    LEAST_FOR_USUAL,
    Break,
    Chart,
    ChartBand,
    ChartLimit,
    ChartMark,
    Fan,
    Sheet,
    Usual,
    openings,
    usual_of,
)
from rehang.trade.drawn.charts import column_shares, drawn_of
from rehang.trade.drawn.story_charts import (
    age_chart,
    chart_of,
    close_range,
    columns_of,
    series_words,
)
from rehang.trade.facts.job_facts import Thresholds
from rehang.trade.facts.meters import band_of
from rehang.trade.life.history import story
from rehang.trade.terms.errors import BadInput
from tests.trade.drawn import ALWAYS, DEMO_CHARTS, demo, demo_chart

WIDE, NARROW = Sheet(942, 396, 18, "page", 108), Sheet(342, 430, 18, "page")
CHARTS = pytest.mark.parametrize(("item", "check"), DEMO_CHARTS)


def strokes(made: Canvas, part: str) -> list[Stroke]:
    return [one for one in made.drawn if isinstance(one, Stroke) and one.part == part]


def points(made: Canvas, call: str) -> list[tuple[float, float]]:
    """Where the readings of that call are drawn."""
    looks = LOOKS[call]
    return [
        one.place
        for one in made.drawn
        if isinstance(one, Shape) and one.part == "points" and one.looks[-len(looks) :] == looks
    ]


def said(made: Canvas) -> list[str]:
    return [one.text for one in made.labels]


def parts(made: Canvas) -> set[str]:
    return {one.part for one in (*made.drawn, *made.labels)} - {""}


def plain(**more) -> Chart:
    marks = (ChartMark(0, 10, "10", "1 May 2024"), ChartMark(100, 12, "12", "1 May 2025"))
    given = {"name": "X1", "title": "Gap", "unit": "thou", "sentence": "It grew.", "marks": marks}
    return Chart(**given | {"show": lambda v: f"{v:g}"} | more)


@CHARTS
def test_a_demo_chart_shows_each_of_its_parts(item, check):
    assert parts(drawn_of(demo_chart(item, check), WIDE)) == ALWAYS | DEMO_CHARTS[item, check]


def test_resistance_stands_on_a_logarithmic_axis_and_gap_does_not():
    ohms = drawn_of(demo_chart("plug:K0413", "resistance"), WIDE).box
    # Twice as much is as far up wherever it begins.
    assert ohms.y(1) - ohms.y(2) == approx(ohms.y(5) - ohms.y(10))
    gap = drawn_of(demo_chart("plug:K0415", "gap"), WIDE).box
    assert gap.y(16) - gap.y(17) == approx(gap.y(20) - gap.y(21))


def test_the_limit_is_written_on_its_line_with_who_says_so():
    made = drawn_of(demo_chart("plug:K0412", "resistance"), WIDE)
    (line,) = strokes(made, "limit")
    assert line.places == ((0.0, made.box.y(5)), (made.box.width, made.box.y(5)))
    assert line.width == 3
    assert "LIMIT 5 or less, TV4 manual (invented), rev 6, page 7-4" in said(made)


@pytest.mark.parametrize("sheet", [WIDE, NARROW])
def test_bands_and_the_fellow_are_named_on_every_sheet(sheet):
    words = said(drawn_of(demo_chart("plug:K0413", "resistance"), sheet))
    for begins in ("LIMIT 5", "close call", "K0412", "usual here", "8 in 10", "4 other"):
        assert any(one.startswith(begins) for one in words), begins
    # The thin stripe is the band of the meter that was used before.
    assert any(one.endswith("DM-2") for one in words)


def test_the_limits_words_stand_clear_of_the_marks():
    for sheet in (WIDE, NARROW):
        made = drawn_of(demo_chart("plug:K0413", "resistance"), sheet)
        limit = next(one for one in made.labels if one.text.startswith("LIMIT"))
        x0, y0, x1, y1 = made.rect(limit)
        for x, y in points(made, "") + points(made, "close-call"):
            assert not (x0 - 7 < x < x1 + 7 and y0 - 7 < y < y1 + 7)


def test_a_forecast_is_wide_enough_to_be_read_on_a_phone():
    made = drawn_of(demo_chart("plug:K0413", "resistance"), NARROW)
    fan = [x for one in strokes(made, "fan") for x, _ in one.places]
    assert max(fan) - min(fan) > 60


def test_the_hours_stand_under_their_points():
    made = drawn_of(demo_chart("plug:K0413", "resistance"), NARROW)
    at = {
        one.text: one.x for one in made.labels if one.y > made.box.height and one.part != "breaks"
    }
    # By hand, K0413 at 0, 206.0 and 400.3 hours.
    for words, hours in (("0", 0.0), ("206", 206.0), ("400", 400.3)):
        assert at[words] == made.box.x(hours)


def test_the_last_value_is_written_out():
    assert "4.80" in said(drawn_of(demo_chart("plug:K0413", "resistance"), WIDE))


def test_open_circuits_stand_above_every_number():
    made = drawn_of(demo_chart("plug:K0412", "resistance"), WIDE)
    assert [y for _, y in points(made, "out")] == [20.0]
    assert min(y for _, y in points(made, "")) > 20.0
    last = strokes(made, "line")[-1]
    assert last.dash
    assert last.places[-1] == (made.box.x(400.3), 20.0)


def test_a_line_ends_where_a_gap_is_set_anew_and_where_the_meter_changes():
    gap = demo_chart("plug:K0415", "gap")
    made = drawn_of(gap, WIDE)
    # Each stretch starts at what it was set to: by hand, as left .016 at every service.
    assert [one.places[0] for one in strokes(made, "line")] == [
        (made.box.x(hours), made.box.y(16)) for hours in (0.0, 104.5, 206.0, 305.2)
    ]
    assert [one.words for one in gap.breaks] == ["new plug", "set to 16", "set to 16", "set to 16"]
    ohms = demo_chart("plug:K0413", "resistance")
    assert [one.words for one in ohms.breaks] == ["new plug", "now on AN-1"]
    made = drawn_of(ohms, WIDE)
    assert max(x for one in strokes(made, "line") for x, _ in one.places) == made.box.x(305.2)


def test_usual_range_needs_eight_readings():
    assert usual_of([1.0] * (LEAST_FOR_USUAL - 1), log=False) is None
    few = plain(usual=Usual(9, 10, 11, LEAST_FOR_USUAL - 1))
    enough = plain(usual=Usual(9, 10, 11, LEAST_FOR_USUAL))
    assert "usual" not in parts(drawn_of(few, WIDE))
    made = drawn_of(enough, WIDE)
    assert [one.places[0][1] for one in strokes(made, "usual")] == [made.box.y(9), made.box.y(11)]


def test_usual_range_is_not_moved_by_one_part_that_goes_its_own_way():
    """By hand: of 1, 2, 3, 4, 5, 6, 7, 8, 9 the median is 5 and the distances' median 2."""
    found = usual_of([1, 2, 3, 4, 5, 6, 7, 8, 900], log=False)
    assert found is not None
    assert (found.low, found.middle, found.high) == approx(
        (5 - 3 * 1.4826 * 2, 5, 5 + 3 * 1.4826 * 2)
    )


@pytest.mark.parametrize(("meter", "range_name"), [("DM-2", ""), ("AN-1", "x10")])
def test_close_call_band_ends_where_the_shops_rule_says(meter, range_name):
    rule = Thresholds(0.95, 0.05)
    held = demo().facts.meters[meter]
    found = close_range(held, range_name, bound=5000, upper=True, log=True, rule=rule)
    assert found is not None
    chances = [band_of(held, value, range_name).p_inside(None, 5000) for value in found]
    assert chances == approx([0.95, 0.05], abs=1e-6)


def test_close_call_band_of_a_poor_meter_holds_that_of_a_good_one():
    made = demo_chart("plug:K0413", "resistance").close
    good, poor = made
    assert poor.low < good.low < 5.0 < good.high < poor.high


def test_fan_is_drawn_from_the_outside_in():
    made = drawn_of(demo_chart("plug:K0413", "resistance"), WIDE)
    *bands, middle = strokes(made, "fan")
    ends = [min(y for _, y in one.places) for one in bands]
    assert ends == sorted(ends)
    assert len(bands) == 3
    assert not middle.fill


def test_line_styles_differ_by_dash():
    made = drawn_of(demo_chart("plug:K0413", "resistance"), WIDE)
    looks = {
        (one.dash, one.width)
        for part in ("limit", "usual", "fan", "fellows", "other")
        for one in strokes(made, part)
        if one.stroke
    }
    # The limit and the inner fan are solid, and one is twice as wide; the fellow's line is thin.
    assert len([dash for dash, _ in looks if dash]) == 6
    assert len(looks) == 9


@CHARTS
@pytest.mark.parametrize(
    "sheet",
    [
        WIDE,
        NARROW,
        Sheet(560, 400, 18, "page"),
        Sheet(756, 390, 18, "page"),
        Sheet(538, 250, 12, "print", 66),
    ],
)
def test_no_words_lie_on_other_words(item, check, sheet):
    """Reckoned at the widths that the placing itself takes for its letters."""
    made = drawn_of(demo_chart(item, check), sheet)
    boxes = []
    for one in made.labels:
        size = one.size * sheet.text
        wide = len(one.text) * size * 0.5
        left = one.x - {"left": 0, "center": wide / 2, "right": wide}[one.align]
        boxes.append((one.text, left, left + wide, one.y - size * 0.4, one.y + size * 0.4))
    clashes = [
        (a[0], b[0])
        for a, b in combinations(boxes, 2)
        if min(a[2], b[2]) > max(a[1], b[1]) and min(a[4], b[4]) > max(a[3], b[3])
    ]
    assert clashes == []


def test_columns_of_the_table_stand_under_the_openings():
    chart = demo_chart("plug:K0413", "resistance")
    shares = column_shares(chart, WIDE)
    assert len(shares) == len(openings(chart)) + 1
    assert sum(shares) == approx(100, abs=0.01)
    box = drawn_of(chart, WIDE).box
    edge = 942 * shares[0] / 100
    for hours, share in zip(openings(chart), shares[1:], strict=True):
        # Openings are not quite evenly apart, so a column's middle may miss by a few pixels.
        assert edge + 942 * share / 200 == approx(108 + box.x(hours), abs=6)
        edge += 942 * share / 100


def test_columns_that_would_be_too_narrow_are_not_shared():
    marks = tuple(ChartMark(h, 10 + h, "1", "1 May 2024") for h in (0, 5, 100, 200))
    assert column_shares(plain(marks=marks), WIDE) == ()
    assert column_shares(plain(), NARROW) == ()


def test_a_chart_of_one_reading_can_be_drawn():
    made = drawn_of(plain(marks=(ChartMark(0, 10, "10", "1 May 2024"),)), WIDE)
    assert len(points(made, "")) == 1


def test_equal_readings_can_be_drawn():
    marks = (ChartMark(0, 10, "10", "1 May 2024"), ChartMark(100, 10, "10", "1 May 2025"))
    made = drawn_of(plain(marks=marks), NARROW)
    (_, first), (_, second) = points(made, "")
    assert first == second


def test_a_bar_without_end_is_cut_off_with_no_cap():
    marks = (ChartMark(0, 1, "1", "x"), ChartMark(100, 2, "2", "y", "close-call", 0, 1.0, 1e9))
    bar, cap = strokes(drawn_of(plain(marks=marks, log=True), WIDE), "bars")
    assert bar.places[1][1] == 0.0
    assert cap.places[0][1] == bar.places[0][1]


def test_a_small_chart_leaves_its_title_and_the_fellows_to_the_page():
    small = Sheet(342, 150, 18, "page", is_small=True)
    made = drawn_of(demo_chart("plug:K0413", "resistance"), small)
    assert not parts(made) & {"fellows", "usual", "other", "breaks"}
    assert not any(one.startswith("Resistance") for one in said(made))


def test_bad_charts_are_refused_in_a_sentence():
    with pytest.raises(BadInput, match=r"^Gap of X1 has no reading yet, so there is no chart\.$"):
        drawn_of(plain(marks=()), WIDE)


def test_breaks_fan_and_limit_of_a_plain_chart():
    fan = Fan(((100, 12), (200, 14)), {80: (ChartBand(100, 11, 13), ChartBand(200, 12, 16))})
    chart = plain(
        fan=fan,
        next_hours=200,
        breaks=(Break(0, "new"),),
        limits=(ChartLimit(9, "LIMIT 9 or more", "", False),),
    )
    made = drawn_of(chart, WIDE)
    assert openings(chart) == (0, 100, 200)
    assert [one.text for one in made.labels if one.part == "breaks"] == ["new"]
    assert {"16", "14", "12"} <= set(said(made))


# From the story


def test_growth_is_said_as_the_trade_says_it():
    told = story(demo(), "plug:K0415").of("gap")
    assert told is not None
    # By hand: K0415's gap grew by .002, .003, .004, .007.
    assert series_words(told) == "Gap grew by 2, 3, 4, 7 thou from one opening to the next."


def test_a_void_reading_stays_shown_and_joins_no_line():
    told = story(demo(), "plug:K0522").of("resistance")
    assert told is not None
    chart = chart_of(told, demo())
    assert [(m.text, m.call) for m in chart.marks][-1] == ("1.05", "void")
    made = drawn_of(chart, WIDE)
    joined = max(x for one in strokes(made, "line") for x, _ in one.places)
    assert joined < made.box.x(chart.marks[-1].hours)


def test_reads_that_stand_aside_are_shown_beside_the_one_that_counts():
    chart = demo_chart("cylinder:3", "compression")
    last = [m for m in chart.marks if m.hours == 1142.3]
    assert [(m.text, m.call) for m in last] == [
        ("59", "within"), ("58", "aside"), ("62", "aside"), ("61", "aside"),
    ]  # fmt: skip


def test_the_band_of_fellows_leaves_out_those_that_went_out():
    """K0412 went open and K0416 to 6,300 ohm (set down by hand): neither is a measure for K0413."""
    bands = demo_chart("plug:K0413", "resistance").fellows
    # Of K0411, K0414, K0415, K0417, K0418 and K0522 in 2024: 940 to 1,300 ohm.
    assert (bands[2].low, bands[2].high) == (0.94, 1.30)


def test_the_fellow_that_went_the_same_way_is_named():
    other = demo_chart("plug:K0413", "resistance").other
    assert other is not None
    assert (other.name, [v for _, v in other.values]) == ("K0412", [1.01, 1.35, 2.10, 4.30])
    assert demo_chart("plug:K0412", "resistance").other is None


def test_a_hose_is_drawn_by_its_age():
    chart = demo_chart("hose:HS3", "age")
    assert chart.marks[-1].call == "out"
    assert [one.words for one in chart.breaks] == ["fitted", "due Aug 2024"]
    # By hand: missed at the last two services.
    assert chart.sentence.endswith("It went through 2 services after that.")
    unknown = demo().item("hose:HS5")
    with pytest.raises(BadInput, match=r"^When hose HS5 was fitted is not on file, so its age"):
        age_chart(unknown, demo())


def test_columns_hold_every_reading_of_a_series():
    told = story(demo(), "cylinder:3").of("compression")
    assert told is not None
    assert sum(len(one.points) for one in columns_of(told)) == len(told.points)


def test_an_opening_is_dated_by_the_reading_that_counts():
    """By hand: 59 was read hot on 30 Sep 2026; the cold reads of 9 Oct are for reference."""
    told = story(demo(), "cylinder:3").of("compression")
    assert told is not None
    assert columns_of(told)[-1].on == date(2026, 9, 30)
