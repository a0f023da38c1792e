"""Layouts: what is wrong with one, what is drawn of one; a cylinder's leak; a call's scale."""

import tomllib
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import pytest

from rehang import sheets
from rehang.cli.main import app
from rehang.sheets import demo_path, layouts
from rehang.sheets.folder import read_folder, read_layout
from rehang.trade.drawn.drawing import LEAK_PATHS, cylinder_svg, scale_svg
from rehang.trade.drawn.layouts import (
    Beside,
    layout_svg,
    layout_text,
    outline_svg,
    plan_svg,
    tray_svg,
)
from rehang.trade.facts.layout import layout_faults, layout_from, layout_remarks
from rehang.trade.facts.layout_asked import layout_asked, settled
from rehang.trade.job.judging import judge
from rehang.trade.terms.errors import BadInput

SHIPPED = Path(sheets.__file__).parent / "layouts"
SVG = "{http://www.w3.org/2000/svg}"


def raw(name: str = "opposed-4") -> dict:
    return tomllib.loads((SHIPPED / f"{name}.toml").read_text("utf-8"))


def said(given: dict) -> list[str]:
    return [fault.sentence for fault in layout_faults(given)]


def parsed(svg: str) -> ET.Element:
    return ET.fromstring(svg)  # noqa: S314 - it is our own drawing


def words(svg: str) -> list[str]:
    return ["".join(one.itertext()) for one in parsed(svg).iter(f"{SVG}text")]


@pytest.mark.parametrize("name", sorted(layouts()))
def test_shipped_layouts_have_nothing_wrong_and_nothing_seldom_meant(name):
    assert layout_faults(raw(name)) == []
    assert layout_remarks(layouts()[name]) == []


def test_everything_wrong_is_said_at_once():
    given = raw()
    given["colour"] = "red"
    given["firing_order"] = [1, 3, 2]
    given["rotation"]["1T"] = "9B"
    given["ignition"]["left"].append("1B")
    given["drains_to"] = ["1B", "7B"]
    given["plan"] = {"right": [1, 3], "left": [2]}
    assert said(given) == [
        'A layout has no "colour". It has cylinders, drains_to, firing_order, ignition, layout, locks, '
        "plan, prop_end, rotation, rows, source, title, tray, walk.",
        '"ignition" names 1B more than once.',
        '"rotation" sends a plug to 9B, which is not a hole of this layout.',
        '"rotation" sends no plug to 3B.',
        "The firing order [1, 3, 2] does not name each cylinder once.",
        '"drains_to" names 7B, which is not a hole.',
        '"plan" places 1, 3, 2; it is to place each of 1, 2, 3, 4 once.',
    ]
    with pytest.raises(BadInput, match=r'^A layout has no "colour"'):
        layout_from(given)


@pytest.mark.parametrize(
    ("key", "value", "sentence"),
    [
        (
            "cylinders",
            "four",
            '"cylinders" is to be a list of cylinder numbers, as in [1, 2, 3, 4].',
        ),
        ("cylinders", [], '"cylinders" is to be a list of cylinder numbers, as in [1, 2, 3, 4].'),
        ("rows", ["T", "B"], '"rows" is to name each row, as in T = "top".'),
        ("walk", "1T", '"walk" is to be a list of holes, as in ["1T", "1B"].'),
        ("tray", [[1, 2]], '"tray" is to be a list of lines, each a list of holes.'),
        ("ignition", {}, '"ignition" is to list the holes that each source fires.'),
        (
            "rotation",
            [],
            '"rotation" is to say for each hole where its plug goes, as in 1T = "3B".',
        ),
        ("source", " ", '"source" is to say which document the layout is from.'),
        (
            "prop_end",
            "nose",
            '"prop_end" is "nose". Write "left" or "right": the side of the tray that the propeller '
            "is on.",
        ),
        (
            "plan",
            {"above": [1]},
            '"plan" is to have left, right, line or round, each a list of cylinder numbers.',
        ),
    ],
)
def test_a_value_of_the_wrong_kind_is_said_with_what_to_write(key, value, sentence):
    assert sentence in said({**raw(), key: value})


def test_twins_and_odd_row_names_are_said():
    given = raw()
    given["cylinders"] = [1, 2, 3, 4, 4]
    assert '"cylinders" names 4 more than once.' in said(given)
    given = raw()
    given["rows"] = {"T": "top", "2": "bottom"}
    assert (
        'A row is named by letters, not "2"; a hole is the cylinder and the row, as in 1T.'
        in said(given)
    )


def test_what_is_allowed_and_seldom_meant_is_remarked():
    given = raw()
    given["rotation"] |= {"1T": "1T", "4B": "3B"}
    given["ignition"] = {
        "left": ["1T", "1B", "2T", "2B"],
        "right": ["3T", "3B", "4T", "4B"],
    }
    del given["plan"], given["drains_to"]
    remarks = layout_remarks(layout_from(given))
    assert (
        "Left fires nothing in cylinder 3, 4; with that source alone the cylinder is cold."
        in remarks
    )
    assert "A plug out of 1T goes back to 1T, so it never changes places." in remarks
    assert "A plug out of 4B goes to 3B; the next cylinder in the firing order is 1." in remarks
    assert 'There is no "plan", so the engine is drawn as a line of cylinders.' in remarks


def test_rotation_loops_are_those_of_the_trade():
    # By hand: 1T>3B>2T>4B>1T and 1B>3T>2B>4T>1B for firing order 1-3-2-4 (common practice).
    assert layouts()["opposed-4"].rotation_loops() == (
        ("1T", "3B", "2T", "4B"),
        ("1B", "3T", "2B", "4T"),
    )


@pytest.mark.parametrize("name", sorted(layouts()))
def test_a_drawing_is_whole_xml_and_names_each_hole_cylinder_and_source(name):
    layout = layouts()[name]
    svg = layout_svg(layout)
    shown = words(svg)
    for hole in layout.walk:
        # Once in the tray and once in the rotation.
        assert shown.count(hole) == 2, hole
    for cylinder in layout.cylinders:
        assert str(cylinder) in shown
    for source in layout.ignition:
        assert any(line.startswith(f"{source} fires ") for line in shown)
    drops = [p for p in parsed(svg).iter(f"{SVG}path") if "c5 8 7 10" in p.get("d")]
    # One in each hole that oil runs to, and one in the key.
    assert len(drops) == len(layout.drains_to) + bool(layout.drains_to)


def test_names_in_a_drawing_are_escaped():
    given = raw() | {"title": "A <b> & C"}
    svg = layout_svg(layout_from(given))
    assert "<b>" not in svg
    assert words(svg)[0] == "A <b> & C"


def test_text_says_the_same_as_the_drawing():
    lines = layout_text(layouts()["opposed-4"])
    assert "Firing order: 1-3-2-4" in lines
    assert "Left fires 1T 3T 2B 4B" in lines
    assert "Rotation: 1T > 3B > 2T > 4B > 1T" in lines
    assert "Oil runs to 1B 2B 3B 4B" in lines


def test_plan_puts_each_mark_once():
    layout = layouts()["radial-9"]
    marks = dict.fromkeys(layout.walk, "keep") | {"cylinder:3": "reject"}
    svg = plan_svg(layout, marks, "The engine")
    assert svg.count("#m-keep") == 18
    assert svg.count("#m-reject") == 1
    assert parsed(svg).get("aria-label") == "The engine"


def test_what_hangs_beside_the_cylinders_is_drawn_below_them_with_its_mark():
    layout = layouts()["opposed-4"]
    bare = parsed(plan_svg(layout, {}, "The engine"))
    beside = [
        Beside("box", "Magneto left", "keep"),
        Beside("can", "Oil filter", "reject"),
        Beside("pipe", "Exhaust muffler", "not-yet"),
    ]
    svg = plan_svg(layout, {}, "The engine", beside)
    assert {"Magneto left", "Oil filter", "Exhaust muffler"} <= set(words(svg))
    for mark in ("keep", "reject", "not-yet"):
        assert svg.count(f"#m-{mark}") == 1
    assert float(parsed(svg).get("height")) > float(bare.get("height"))


def test_a_radial_of_two_rows_is_no_wider_than_one_of_nine():
    def width(name_or_layout) -> float:
        return float(parsed(plan_svg(name_or_layout, {}, "")).get("width"))

    eighteen = own("radial", 18)
    assert width(eighteen) == width(layouts()["radial-9"])
    numbers = [one for one in words(plan_svg(eighteen, {}, "")) if one.isdecimal()]
    # One row below the other, as they are numbered by turns.
    assert numbers == [*map(str, range(1, 18, 2)), *map(str, range(2, 19, 2))]


def drops_in(svg: str) -> int:
    return svg.count("c5 8 7 10")


def own(kind: str, count: int):
    answers = settled({"arrangement": kind, "cylinders": str(count)})
    answers["firing_order"] = answers["firing_order"] or " ".join(map(str, range(1, count + 1)))
    return layout_from(layout_asked(answers))


@pytest.mark.parametrize(
    ("layout", "locks"),
    [
        (layouts()["opposed-6"], 0),
        (layouts()["radial-9"], 4),
        (own("line", 6), 0),
        (own("inverted", 6), 6),
        (own("v", 12), 0),
        (own("radial", 18), 9),
    ],
    ids=lambda one: getattr(one, "name", ""),
)
def test_in_little_each_cylinder_stands_once_and_those_that_lock_carry_a_drop(layout, locks):
    svg = outline_svg(layout, "The engine")
    assert sorted(words(svg), key=int) == [str(c) for c in layout.cylinders]
    assert drops_in(svg) == locks
    assert parsed(svg).get("aria-label") == "The engine"


def test_in_line_heads_down_stands_below_its_case():
    def height_of(svg: str, kind: str) -> float:
        return next(
            float(r.get("y")) for r in parsed(svg).iter(f"{SVG}rect") if r.get("class") == kind
        )

    for kind, below in (("line", False), ("inverted", True)):
        svg = outline_svg(own(kind, 4), "")
        assert (height_of(svg, "drawn-box") > height_of(svg, "drawn-pan")) is below


def test_little_tray_has_each_hole_what_fires_it_and_where_oil_runs_to():
    svg = tray_svg(layouts()["opposed-4"], "The tray")
    assert words(svg) == [
        "1T", "L", "2T", "R", "3T", "L", "4T", "R", "1B", "R", "2B", "L", "3B", "R", "4B", "L",
    ]  # fmt: skip
    assert drops_in(svg) == 4
    one = own("opposed", 2)
    single = tray_svg(replace(one, ignition={"left": one.walk}), "")
    assert words(single) == ["1T", "2T", "1B", "2B"]


@pytest.mark.parametrize("path", LEAK_PATHS)
def test_one_leak_is_marked_and_the_others_are_not(path):
    svg = cylinder_svg(path, f"Air at the {path}.")
    assert svg.count('"cylinder-way on"') == 1
    assert svg.count('"cylinder-tip"') == 1
    assert svg.count('"cylinder-label on"') == 1


def test_no_leak_is_drawn_where_none_was_heard():
    assert '"cylinder-way on"' not in cylinder_svg("none", "No air was heard.")


@pytest.fixture(scope="module")
def demo():
    folder = read_folder(demo_path())
    return judge(folder.facts, folder.entries)


def test_scale_shows_limit_band_and_reading(demo):
    call = demo.item("plug:K0413").call("resistance")
    svg = scale_svg(call)
    assert {"5.00 kΩ", call.reading} <= set(words(svg))
    assert 'class="meter-bar"' in svg
    assert "CLOSE CALL" in parsed(svg).get("aria-label")


def test_scale_of_a_floor_is_the_master_of_the_day(demo):
    call = demo.item("cylinder:3").call("compression")
    svg = scale_svg(call, floor=43)
    assert {"43 psi", "59/80 psi"} <= set(words(svg))
    assert "the floor of the day is 43 psi" in parsed(svg).get("aria-label")


def test_no_scale_without_a_number(demo):
    assert scale_svg(demo.item("plug:K0411").call("spark")) == ""
    assert scale_svg(demo.item("plug:K0412").call("resistance")) == ""


# The command


def run(*arguments: str) -> int:
    return app(arguments, exit_on_error=False, result_action="return_value")


def test_command_draws_a_file(tmp_path, capsys):
    out = tmp_path / "drawn.svg"
    assert run("layout", str(SHIPPED / "opposed-6.toml"), "--svg", str(out)) == 0
    assert "Firing order: 1-4-5-2-3-6" in capsys.readouterr().out
    assert parsed(out.read_text("utf-8")).tag == f"{SVG}svg"


def test_command_lists_all_that_is_wrong_with_its_line_and_draws_nothing(tmp_path, capsys):
    file = tmp_path / "mine.toml"
    text = (SHIPPED / "opposed-4.toml").read_text("utf-8")
    file.write_text(
        text.replace("firing_order = [1, 3, 2, 4]", "firing_order = [1, 3, 2]").replace(
            'drains_to = ["1B"', 'drains_to = ["9B"'
        )
    )
    out = tmp_path / "drawn.svg"
    assert run("layout", str(file), "--svg", str(out)) == 1
    assert capsys.readouterr().out.splitlines() == [
        "mine.toml, line 5: The firing order [1, 3, 2] does not name each cylinder once.",
        'mine.toml, line 7: "drains_to" names 9B, which is not a hole.',
        f"{file}: 2 things to put right.",
    ]
    assert not out.exists()


def test_command_takes_a_shipped_name_and_refuses_an_unknown_one():
    assert read_layout("radial-9")[0] is layouts()["radial-9"]
    with pytest.raises(
        BadInput,
        match=r"^nowhere is no file and no shipped layout\. The shipped ones are inverted-4, "
        r"opposed-4, opposed-6, radial-9\.$",
    ):
        read_layout("nowhere")


def test_the_layout_of_the_manual_page_is_one():
    page = Path(__file__).parents[2] / "docs" / "reference" / "layouts.md"
    text = page.read_text("utf-8").split("```toml\n")[1].split("```")[0]
    given = tomllib.loads(text)
    assert said(given) == []
    layout = layout_from(given)
    assert layout_remarks(layout) == []
    assert layout.holes == ("1T", "1B", "2T", "2B")
