"""Meters and limits as a table: the round trip, what a row changes, what it may not."""

import tomllib
from datetime import date

import pytest

from rehang.decode.tables import read_table, write_table
from rehang.sheets import check_sheets, demo_path
from rehang.sheets.facts_table import (
    FACT_TABLES,
    facts_table,
    guess_facts,
    kind_of_table,
    plan_facts,
)
from rehang.sheets.folder import parse_files, read_folder
from rehang.trade.terms.errors import BadInput
from tests.tables.test_files import saved, workbook

DEMO = read_folder(demo_path())
ON = date(2026, 10, 20)


def planned(what: str, table, text: str = "", said=None):
    columns = guess_facts(what, table, said)
    return plan_facts(what, table, columns, text, check_sheets(), by="tom", on=ON)


def csv_plan(what: str, text: str, on_file: str = "", said=None):
    return planned(what, read_table("t.csv", text.encode()), on_file, said)


def out_and_in(what: str, format_: str, on_file: str):
    headings, rows = facts_table(what, DEMO.files[FACT_TABLES[what].file])
    table = read_table("t", write_table(format_, headings, rows, what))
    assert kind_of_table(table) == what
    return planned(what, table, on_file)


def reasons(made) -> list[str]:
    return [f"{row.place}: {row.reason}" for row in made.bad]


@pytest.mark.parametrize("format_", ["csv", "xlsx"])
@pytest.mark.parametrize("what", ["meters", "limits"])
def test_the_tables_of_the_demo_are_on_its_file_already(what, format_):
    text = DEMO.files[FACT_TABLES[what].file]
    made = out_and_in(what, format_, text)
    assert {row.standing for row in made.rows} == {"as on file"}
    assert made.text == text
    assert not made.can_be_kept


@pytest.mark.parametrize("format_", ["csv", "xlsx"])
def test_meters_of_the_demo_come_back_the_same_in_an_empty_file(format_):
    made = out_and_in("meters", format_, "")
    assert {row.standing for row in made.rows} == {"new"}
    wanted = tomllib.loads(DEMO.files["meters.toml"])["meter"]
    # Whoever brings a calibration in puts it in, on that day.
    dated = [
        one | ({"entered_on": ON} if {"due", "calibrated_by"} & set(one) else {}) for one in wanted
    ]
    assert tomllib.loads(made.text)["meter"] == dated


@pytest.mark.parametrize("format_", ["csv", "xlsx"])
def test_limits_of_the_demo_come_back_the_same_in_an_empty_file_put_in_by_who_brings_them(format_):
    made = out_and_in("limits", format_, "")
    assert reasons(made) == []
    wanted = tomllib.loads(DEMO.files["limits.toml"])["limit"]
    got = tomllib.loads(made.text)["limit"]
    assert len(got) == len(wanted) > 30
    # A limit with no document on file is one that nobody has put in; now somebody has.
    assert got == [one | {"entered_by": "tom", "entered_on": ON} for one in wanted]
    parse_files({**DEMO.files, "limits.toml": made.text})


def test_a_row_changes_what_it_names_and_an_empty_cell_leaves_what_is_on_file():
    text = DEMO.files["meters.toml"]
    made = csv_plan("meters", "id,due,note,calibrated_by\nDM-2,2028-01,,Lab 4\n", text)
    assert [row.says for row in made.rows] == [
        "DM-2: due 2027-01 becomes 2028-01, calibrated_by nothing becomes Lab 4"
    ]
    before, after = tomllib.loads(text)["meter"], tomllib.loads(made.text)["meter"]
    assert after[0] == before[0] | {
        "due": "2028-01",
        "calibrated_by": "Lab 4",
        "entered_on": ON,
    }
    assert after[1:] == before[1:]
    assert made.text.startswith("# Meters of the demo shop (invented).")


def test_ranges_of_a_meter_are_taken_as_a_whole():
    text = DEMO.files["meters.toml"]
    made = csv_plan(
        "meters",
        "id,range.name,range.top,range.percent_of_reading,range.counts,range.count\n"
        "DM-2,2k,2 kohm,0.8,2,1 ohm\nDM-2,20k,20 kohm,0.8,2,10 ohm\n",
        text,
    )
    assert [row.says for row in made.rows] == ["DM-2: range changed"]
    meters = parse_files({**DEMO.files, "meters.toml": made.text}).meters
    assert [r.name for r in meters["DM-2"].ranges] == ["2k", "20k"]
    assert [r.name for r in meters["AN-1"].ranges] == ["x1", "x10", "x100", "x1k"]


def test_a_day_in_a_workbook_is_a_due_day():
    book = workbook(["id", "Cal due"], ["DM-2", date(2028, 1, 31)])
    made = planned("meters", read_table("t.xlsx", saved(book)), DEMO.files["meters.toml"])
    assert [row.says for row in made.rows] == ["DM-2: due 2027-01 becomes 2028-01-31"]


def test_a_changed_limit_is_put_in_by_who_changes_it():
    text = DEMO.files["limits.toml"]
    made = csv_plan(
        "limits", "number,item,check,upper,entered_by,entered_on\n3,plug,resistance,4000 ohm,ilse,\n",
        text,
    )  # fmt: skip
    assert [row.says for row in made.rows] == ["plug resistance: upper 5000 ohm becomes 4000 ohm"]
    third = tomllib.loads(made.text)["limit"][2]
    assert (third["upper"], third["entered_by"], third["entered_on"]) == ("4000 ohm", "tom", ON)


def test_numbers_of_a_table_out_of_another_job_do_not_point_into_what_it_adds():
    rows = "number,item,check,lower,wants.state\n5,cylinder,compression,60 psi,hot\n"
    made = csv_plan("limits", rows + '1,cylinder,compression,55 psi,"cold, on stand"\n')
    assert [row.standing for row in made.rows] == ["new", "new"]
    assert [one["lower"] for one in tomllib.loads(made.text)["limit"]] == ["60 psi", "55 psi"]


def test_a_new_limit_without_a_document_is_kept_and_said_to_judge_nothing():
    made = csv_plan("limits", "item,check,upper\nplug,resistance,4000 ohm\n")
    assert [(row.standing, row.reason) for row in made.rows] == [
        ("new", "It names no document and revision, so it judges nothing.")
    ]
    assert made.can_be_kept


@pytest.mark.parametrize(
    ("what", "text", "reason"),
    [
        ("meters", "id,kind\n,tester\n", "line 2: The row has no id. Every meter has one: write"),
        ("meters", "id,kind\nX-1,boat\n", 'line 2: "boat" is not a kind of meter. Known: '),
        (
            "meters",
            "id,kind,quantity\nX-1,plus or minus,length\n",
            'line 2: A meter of kind "plus or minus" needs "accuracy"; X-1 has none.',
        ),
        ("meters", 'id,kind,coverage\nX-1,tester,"1,5"\n', 'line 2: "1,5" has a comma that is not'),
        (
            "meters",
            f"id,kind,coverage\nX-1,tester,{'9' * 5000}\n",
            'line 2: "coverage" is 999',
        ),
        ("limits", f"number,upper\n{'9' * 5000},1 in\n", 'line 2: There is no limit number "999'),
        ("meters", "id,kind,due\nX-1,tester,soon\n", 'line 2: "soon" is not a date. Write 2027-01'),
        (
            "meters",
            "id,kind,note\nX-1,tester,a\nX-1,tester,b\n",
            'line 3: "note" of X-1 is b here and a at line 2. A further row of a meter is a',
        ),
        ("limits", "item,check,upper\nplug,gap,19\n", 'line 2: "upper" is 19 with no unit. Write '),
        ("limits", "item,check,use\nplug,gap,\n", "line 2: The limit for plug gap has no bound. "),
        ("limits", "item,check,upper\nplug,moon,1 in\n", 'line 2: There is no check "moon" on the'),
        ("limits", "item,check,worst\nplug,look,some\n", 'line 2: "worst" is "some". Write a whole'),
        ("limits", "item,check,upper\nplug,,1 in\n", "line 2: The row names no item and check. Wr"),
        ("limits", "number,upper\n99,1 in\n", 'line 2: There is no limit number "99" on file. '),
        ("limits", "item,check,lower\nplug,gap,-4 thou\n", 'line 2: "-4 thou" is below zero, and "Gap"'),
        ("limits", "item,check,lower\nplug,electrode,101 %\n", 'line 2: "101 %" is more than 100 % of'),
        ("limits", "item,check,upper\nplug,gap,1 in,2\n", "line 2: There is 1 cell more here than"),
    ],
)  # fmt: skip
def test_a_row_that_cannot_be_kept_says_why(what, text, reason):
    made = csv_plan(what, text)
    assert reasons(made)[0].startswith(reason)
    assert not made.can_be_kept


def test_a_page_number_that_a_spreadsheet_made_a_date_is_refused():
    book = workbook(
        ["item", "check", "upper", "page"], ["plug", "gap", "0.019 in", date(2026, 7, 4)]
    )
    made = planned("limits", read_table("t.xlsx", saved(book)))
    assert reasons(made) == [
        "row 2: D2 holds a date where there should be text. A spreadsheet turns 7-4 into one; set "
        "the column to text and write it again."
    ]


def test_columns_are_said_and_checked():
    table = read_table("t.csv", b"Nr,What,Which,Most\n1,plug,gap,0.019 in\n")
    columns = guess_facts("limits", table, {"What": "item", "Which": "check", "Most": "upper"})
    assert [c.target.field for c in columns] == ["-", "item", "check", "upper"]
    for said, sentence in (
        ({"What": "weight"}, '"weight" is not something a column of limits can be. It can be'),
        ({"What": "item", "Which": "item"}, 't.csv: "What" and "Which" are both said to be item.'),
        (
            {"Whats": "item"},
            't.csv: The table has no column "Whats". It has Nr, What, Which, Most.',
        ),
    ):
        with pytest.raises(BadInput, match=r"[.,]") as refused:
            guess_facts("limits", table, said)
        assert str(refused.value).startswith(sentence)
    with pytest.raises(BadInput, match="No column says the check of the limits"):
        planned("limits", table, "", {"What": "item"})


# A manual's table as it is pasted: its own headings, words for parts and checks, a column of units.
PASTED = """Part\tCheck\tLower\tUpper\tUnit\tManual\tRev\tPage
Spark plug\tGap\t0.016\t0.019\tin\tInvented manual\t3\t7-4
Spark plugs\tResistance\t\t5\tkohm\tInvented manual\t3\t7-4
Cylinder\tIntake dry tappet\t30\t75\tthou\tInvented manual\t3\t5-2
Ground run\tDrop on LEFT\t\t150\trpm\tInvented manual\t3\t9-3
Torque\tSpark plugs\t30\t34\tft-lb\tInvented manual\t3\t7-8
"""
TORQUES = {one.title: one.limit for one in DEMO.facts.torque_groups.values()}


def pasted(text: str):
    table = read_table("what you pasted", text.encode())
    assert kind_of_table(table) == "limits"
    columns = guess_facts("limits", table)
    return plan_facts(
        "limits", table, columns, "", check_sheets(), by="tom", on=ON, torques=TORQUES
    )


def test_a_manuals_table_comes_in_by_its_own_words():
    made = pasted(PASTED)
    assert reasons(made) == []
    where = "; Invented manual, rev 3, page 7-4"
    assert [row.says for row in made.rows][:2] == [
        f"plug gap: 16 to 19 thou{where}",
        f"plug resistance: 5.00 kΩ or less{where}",
    ]
    limits = parse_files({**DEMO.files, "limits.toml": made.text}).limits
    assert [(one.item, one.check, one.lower, one.upper, one.page) for one in limits] == [
        ("plug", "gap", 160, 190, "7-4"),
        ("plug", "resistance", None, 5000, "7-4"),
        ("cylinder", "tappet_intake", 300, 750, "5-2"),
        ("run", "drop_left", None, 150, "9-3"),
        ("engine", "plug_torque", 3600, 4080, "7-8"),
    ]
    assert all(one.has_source for one in limits)


@pytest.mark.parametrize(
    ("old", "new", "reason"),
    [
        (
            "0.016\t",
            "0,016\t",
            '"0,016" has a comma that is not a thousands mark. Write the decimal',
        ),
        ("\t5\tkohm", "\t5,2\tkohm", '"5,2" has a comma that is not a thousands mark. Write the'),
        (
            "Spark plug\tGap\t0.016",
            "\tSpark plug\tGap",
            '"Gap" stands where the lower bound should be, so the cells of this row',
        ),
        (
            "Spark plug\tGap\t",
            "Gap\t0.016\t",
            'There is no part "Gap". Parts are Alternator, Baffles, Cylinder off and on, Break-in run,',
        ),
        (
            "Spark plug\tGap\t",
            "0.016\tGap\t",
            '"0.016" stands where the part should be, so the cells',
        ),
        ("Gap\t0.016", "0.016\t0.019", '"0.016" stands where the check should be, so the cells'),
        ("\t0.019\tin", "\tInvented manual\t3", '"Invented manual" stands where the upper bound'),
        (
            "3\t7-4",
            "3\t4-Jul",
            '"page" is "4-Jul", which is a date. A spreadsheet turns 7-4 into one',
        ),
        ("3\t7-4", "3\t04.07.2026", '"page" is "04.07.2026", which is a date. A spreadsheet turns'),
        ("3\t7-4", "3\t2026-07-04", '"page" is "2026-07-04", which is a date. A spreadsheet turns'),
        (
            "0.019\tin",
            "0.019\tmile",
            '"0.016 mile" has the unit "mile", which is not one for length.',
        ),
        ("0.019\tin", "0.019\t", '"lower" is 0.016 with no unit. Write the unit too, as in "0.019'),
        ("\tGap\t", "\tGaps\t", 'There is no check "Gaps" on the plug sheet. Its checks are look,'),
    ],
)
def test_what_a_spreadsheet_did_to_a_pasted_row_is_one_sentence_and_nothing_is_kept(
    old, new, reason
):
    assert old in PASTED
    made = pasted(PASTED.replace(old, new, 1))
    assert len(made.bad) == 1
    assert made.bad[0].reason.startswith(reason)
    assert not made.can_be_kept


@pytest.mark.parametrize("due", ["31/01/2027", "31.01.2027", "31 Jan 2027", "1-31-27"])
def test_a_due_day_in_another_form_is_refused_with_the_forms_that_are_read(due):
    made = csv_plan("meters", f"id,kind,due\nX-1,tester,{due}\n")
    assert reasons(made) == [
        f'line 2: "{due}" is not a date. Write 2027-01-31, 2027-01 or 2027-Q1.'
    ]


def test_an_accuracy_that_nobody_knows_is_yes_or_no_in_a_table():
    rows = "id,kind,quantity,accuracy_not_known\nX-1,plus or minus,length,"
    made = csv_plan("meters", rows + "yes\n")
    assert tomllib.loads(made.text)["meter"][0]["accuracy_not_known"] is True
    assert reasons(csv_plan("meters", rows + "perhaps\n")) == [
        'line 2: "accuracy_not_known" is "perhaps". Write yes or no.'
    ]
