"""What a chart's specification holds, and where its labels and bands stand."""

import json
import re
from datetime import date
from itertools import combinations
from pathlib import Path

import pytest
from pytest import approx

from rehang.trade.drawn.chart_looks import PALETTES, part_of
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
from rehang.trade.drawn.charts import column_shares, spec
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

TOKENS = Path(__file__).parents[2] / "src/rehang/web/shared/static/shared/tokens.css"
WIDE, NARROW = Sheet(942, 396, 18, "day", 108), Sheet(284, 360, 18, "day")
CHARTS = pytest.mark.parametrize(("item", "check"), DEMO_CHARTS)


def layer(made: dict, name: str) -> list[dict]:
    """The values of the layers whose names begin so."""
    return [
        v for one in made["layer"] if one["name"].startswith(name) for v in one["data"]["values"]
    ]


def parts(made: dict) -> set[str]:
    return {part for one in made["layer"] if (part := part_of(one["name"]))}


def plain(**more) -> Chart:
    marks = (ChartMark(0, 10, "10", "1 May 2024"), ChartMark(100, 12, "12", "1 May 2025"))
    given = {"name": "X1", "title": "Gap", "unit": "thou", "sentence": "It grew.", "marks": marks}
    return Chart(**given | {"show": lambda v: f"{v:g}"} | more)


@pytest.mark.parametrize("mode", ["day", "dim", "sun"])
def test_colours_are_those_of_the_tokens(mode):
    text = TOKENS.read_text()
    begins = ':root, [data-mode="day"]' if mode == "day" else f'[data-mode="{mode}"]'
    block = text.partition(begins)[2].partition("}")[0]
    named = dict(re.findall(r"--([\w-]+): (#\w+);", block))
    assert {name: named[name] for name in PALETTES[mode]} == dict(PALETTES[mode])


def test_paper_knows_black_and_white_alone():
    assert set(PALETTES["print"].values()) == {"#000000", "#FFFFFF"}


def test_on_a_page_each_colour_has_one_name():
    assert len(set(PALETTES["page"].values())) == len(PALETTES["page"])


@CHARTS
def test_a_demo_chart_shows_each_of_its_parts(item, check):
    assert parts(spec(demo_chart(item, check), WIDE)) == ALWAYS | DEMO_CHARTS[item, check]


@CHARTS
@pytest.mark.parametrize("sheet", [WIDE, NARROW])
def test_a_specification_is_plain_values_and_names_no_address_but_its_schema(item, check, sheet):
    text = json.dumps(spec(demo_chart(item, check), sheet), allow_nan=False)
    assert re.findall(r"https?://[^\"]+", text) == [
        "https://vega.github.io/schema/vega-lite/v6.json"
    ]


def test_page_and_paper_draw_the_same_specification():
    """Apart from the size and the colours, which are parameters."""
    chart = demo_chart("plug:K0413", "resistance")
    made = [spec(chart, Sheet(942, 396, 18, mode, 108)) for mode in ("page", "day", "print")]
    assert all(one.pop("params") for one in made)
    assert made[0] == made[1] == made[2]


def test_resistance_stands_on_a_logarithmic_axis_and_gap_does_not():
    def scale(item: str, check: str) -> str:
        made = spec(demo_chart(item, check), WIDE)
        line = next(one for one in made["layer"] if one["name"] == "line")
        return line["encoding"]["y"]["scale"]["type"]

    assert scale("plug:K0413", "resistance") == "log"
    assert scale("plug:K0415", "gap") == "linear"


def test_the_limit_is_written_on_its_line_with_who_says_so():
    made = spec(demo_chart("plug:K0413", "resistance"), WIDE)
    assert [v["y"] for v in layer(made, "limit")] == [5.0]
    line = next(one for one in made["layer"] if one["name"] == "limit")
    assert line["mark"]["strokeWidth"] == 3
    said = [v["text"] for v in layer(made, "labels")]
    assert "LIMIT 5 or less, TV4 manual (invented), rev 6, page 7-4" in said


def test_the_last_value_is_written_out():
    said = [v["text"] for v in layer(spec(demo_chart("plug:K0413", "resistance"), WIDE), "labels")]
    assert "4.80" in said


def test_open_circuits_stand_above_every_number():
    made = spec(demo_chart("plug:K0412", "resistance"), WIDE)
    assert [v["py"] for v in layer(made, "point_shape_out")] == [20.0]
    assert min(v["py"] for v in layer(made, "point_plain")) > 20.0
    assert layer(made, "line_open")[-1]["x"] == 400.3


def test_a_line_ends_where_a_gap_is_set_anew_and_where_the_meter_changes():
    gap = demo_chart("plug:K0415", "gap")
    joined = [(v["x"], v["y"]) for v in layer(spec(gap, WIDE), "line")]
    # Each stretch starts at what it was set to: by hand, as left .016 at every service.
    assert joined[::2] == [(0.0, 16.0), (104.5, 16.0), (206.0, 16.0), (305.2, 16.0)]
    assert [one.words for one in gap.breaks] == ["new plug", "set to 16", "set to 16", "set to 16"]
    ohms = demo_chart("plug:K0413", "resistance")
    assert [one.words for one in ohms.breaks] == ["new plug", "now on AN-1"]
    assert max(v["x"] for v in layer(spec(ohms, WIDE), "line")) == 305.2


def test_usual_range_needs_eight_readings():
    assert usual_of([1.0] * (LEAST_FOR_USUAL - 1), log=False) is None
    few = plain(usual=Usual(9, 10, 11, LEAST_FOR_USUAL - 1))
    enough = plain(usual=Usual(9, 10, 11, LEAST_FOR_USUAL))
    assert "usual" not in parts(spec(few, WIDE))
    assert [v["y"] for v in layer(spec(enough, WIDE), "usual")] == [9, 11]


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
    names = [one["name"] for one in spec(demo_chart("plug:K0413", "resistance"), WIDE)["layer"]]
    fans = [name for name in names if name.startswith("fan")]
    assert fans == ["fan90", "fan80", "fan50", "fan_middle"]


def test_line_styles_differ_by_dash():
    made = spec(demo_chart("plug:K0413", "resistance"), WIDE)
    dashes = {
        one["name"]: tuple(one["mark"].get("strokeDash") or ())
        for one in made["layer"]
        if one["name"]
        in ("limit", "usual", "fan_middle", "fan80", "fan90", "fan50", "fellows_edges")
    }
    assert len(set(dashes.values())) == len(dashes) - 1  # The limit and the inner fan are solid.


@CHARTS
@pytest.mark.parametrize(
    "sheet", [WIDE, Sheet(756, 390, 18, "day"), Sheet(538, 250, 12, "print", 66)]
)
def test_no_words_lie_on_other_words(item, check, sheet):
    """Reckoned at the widths that the placing itself takes for its letters."""
    made = spec(demo_chart(item, check), sheet)
    boxes = []
    for one in made["layer"]:
        mark = one["mark"]
        if mark["type"] != "text" or "_case_" in one["name"]:
            continue
        for value in one["data"]["values"]:
            wide = len(value["text"]) * mark["fontSize"] * 0.5
            left = value["px"] - {"left": 0, "center": wide / 2, "right": wide}[mark["align"]]
            half = mark["fontSize"] * 0.4
            boxes.append((value["text"], left, left + wide, value["py"] - half, value["py"] + half))
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
    made = spec(chart, WIDE)
    x = {v["x"] for v in layer(made, "bars")}
    scale = next(one for one in made["layer"] if one["name"] == "bars")["encoding"]["x"]["scale"]
    first, last = scale["domain"]
    edge = 942 * shares[0] / 100
    for hours, share in zip(openings(chart), shares[1:], strict=True):
        middle = edge + 942 * share / 200
        at = 108 + (hours - first) / (last - first) * made["width"]
        # Openings are not quite evenly apart, so a column's middle may miss by a few pixels.
        assert middle == approx(at, abs=6) or hours not in x
        edge += 942 * share / 100


def test_columns_that_would_be_too_narrow_are_not_shared():
    marks = tuple(ChartMark(h, 10 + h, "1", "1 May 2024") for h in (0, 5, 100, 200))
    assert column_shares(plain(marks=marks), WIDE) == ()
    assert column_shares(plain(), NARROW) == ()


def test_a_chart_of_one_reading_can_be_drawn():
    made = spec(plain(marks=(ChartMark(0, 10, "10", "1 May 2024"),)), WIDE)
    assert len(layer(made, "point_plain")) == 1


def test_equal_readings_can_be_drawn():
    marks = (ChartMark(0, 10, "10", "1 May 2024"), ChartMark(100, 10, "10", "1 May 2025"))
    made = spec(plain(marks=marks), NARROW)
    assert {v["py"] for v in layer(made, "point_plain")} == {layer(made, "point_plain")[0]["py"]}


def test_a_bar_without_end_is_cut_off_with_no_cap():
    marks = (ChartMark(0, 1, "1", "x"), ChartMark(100, 2, "2", "y", "close-call", 0, 1.0, 1e9))
    made = spec(plain(marks=marks, log=True), WIDE)
    assert len(layer(made, "bar_ends")) == 1


def test_bad_charts_are_refused_in_a_sentence():
    with pytest.raises(BadInput, match=r"^Gap of X1 has no reading yet, so there is no chart\.$"):
        spec(plain(marks=()), WIDE)
    with pytest.raises(
        BadInput, match=r'^There is no light "noon" here\. Use day, dim, sun, print, page\.$'
    ):
        spec(plain(), Sheet(942, 396, 18, "noon"))


def test_breaks_fan_and_limit_of_a_plain_chart():
    fan = Fan(((100, 12), (200, 14)), {80: (ChartBand(100, 11, 13), ChartBand(200, 12, 16))})
    chart = plain(
        fan=fan,
        next_hours=200,
        breaks=(Break(0, "new"),),
        limits=(ChartLimit(9, "LIMIT 9 or more", "", False),),
    )
    made = spec(chart, WIDE)
    assert openings(chart) == (0, 100, 200)
    assert [v["text"] for v in layer(made, "break_labels")][-1] == "new"
    assert {"16", "14", "12"} <= {v["text"] for v in layer(made, "labels")}


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
    assert max(v["x"] for v in layer(spec(chart, WIDE), "line")) < chart.marks[-1].hours


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
