"""Tables of a record: every value is of the text that is signed, and a person's words stand first."""

from __future__ import annotations

import re
from datetime import date, timedelta

import pytest

from rehang.sheets import demo_path
from rehang.sheets.folder import read_folder
from rehang.trade.job.judging import JudgedJob, judge
from rehang.trade.papers.signing import sha256_of
from rehang.trade.telling.entry_tables import blocks_of, draft_as_signed, key_figures
from rehang.trade.telling.entry_text import draft_of
from rehang.trade.terms.entries import new_entry

DAY = date(2026, 11, 12)


@pytest.fixture(scope="module")
def finished() -> JudgedJob:
    folder = read_folder(demo_path("finished"))
    return judge(folder.facts, folder.entries, today=DAY)


def more(judged: JudgedJob, kind: str, **fields) -> JudgedJob:
    at = judged.state.order[-1].at + timedelta(minutes=1)
    entry = new_entry(kind, at=at, by="marta", **fields)
    return judge(judged.facts, [*judged.state.order, entry], today=DAY)


def sign(judged: JudgedJob, text: str) -> JudgedJob:
    return more(
        judged, "signed", what="maintenance", text=text, sha256=sha256_of(text),
        name="Marta Oduya", certificate="DEMO-114", certificate_kind="mechanic",
    )  # fmt: skip


def block(judged: JudgedJob, title: str):
    return next(one for one in blocks_of(draft_of(judged, "maintenance")) if one.title == title)


@pytest.mark.parametrize("demo", ["finished", "six", "radial", None])
@pytest.mark.parametrize("what", ["maintenance", "inspection"])
def test_no_cell_says_what_the_signed_text_does_not(demo, what):
    folder = read_folder(demo_path(demo) if demo else demo_path())
    draft = draft_of(judge(folder.facts, folder.entries, today=DAY), what)
    signed = draft.text.lower()
    for one in blocks_of(draft):
        for row in one.table.rows if one.table else ():
            # The name of a row of figures is a label, as Day is.
            for cell in row[1:] if one.table.figures else row:
                # Of a figure that ended the text says so in a sentence of its own.
                said = cell.removesuffix(", not counted")
                assert said.lower() in signed, (one.title, cell)


def test_every_sentence_stands_under_one_heading(finished):
    draft = draft_of(finished, "maintenance")
    told = [line.id for one in blocks_of(draft) for line in one.lines]
    assert sorted(told) == sorted(line.id for line in draft.lines)
    assert len(told) == len(set(told))


def test_plugs_are_one_row_a_hole_in_the_order_of_the_walk(finished):
    table = block(finished, "Plugs").table
    assert table.heads == (
        "Hole", "Out", "In", "Gap, in", "Ohms", "Electrode left, %", "Spark at 100 psi", "Look, 10×"
    )  # fmt: skip
    assert [row[0] for row in table.rows] == list(finished.facts.layout.walk)
    assert table.rows[3] == ("2B", "L0414", "L0415", "0.017", "1,640", "61", "steady", "Dry, pale")


def test_words_of_a_person_stand_in_place_of_their_part_of_a_table(finished):
    mine = "maintenance:plugs-out"
    own = block(more(finished, "drafted", what=mine, text="All eight to the tray."), "Plugs")
    assert "Out" not in own.table.heads
    assert [(one.id, one.own) for one in own.words] == [("plugs-out", "All eight to the tray.")]
    left = more(
        finished, "drafted", what="maintenance:torque", text="left out", reason="On a sheet."
    )
    gone = block(left, "Torque")
    assert gone.table is None
    assert [one.text[:8] for one in gone.words] == ["left out"]


def test_figures_that_a_run_took_before_later_work_are_not_counted(finished):
    table = block(finished, "Ground run").table
    row = next(row for row in table.rows if row[0] == "Drop on RIGHT")
    assert row == ("Drop on RIGHT", "75 rpm, from 1,700, not counted", "78 rpm, from 1,700")
    line = next(one for one in draft_of(finished, "maintenance").lines if one.id == "run")
    # 14 CFR 43.15(c)(2): power, magnetos, fuel and oil pressure, cylinder and oil temperature.
    asked = " ".join(row[0].lower() for row in key_figures(line).rows)
    for words in (
        "static",
        "idle speed",
        "drop on",
        "fuel pressure",
        "oil pressure",
        "head",
        "oil temp",
    ):
        assert words in asked


def test_a_cylinder_read_before_work_says_so_under_its_table(finished):
    notes = block(finished, "Cylinders").table.notes
    assert (
        "Cylinder 3, 30 Sep 2026, hot: exhaust, loud, taken before it was lapped in place on "
        "21 Oct 2026." in [re.sub(r"\s+", " ", one) for one in notes]
    )


def test_tables_of_a_signed_record_are_of_the_book_as_it_was_signed(finished):
    text = draft_of(finished, "maintenance").text
    signed = sign(finished, text)
    later = more(signed, "seen", item="hose:HS1", check="look", word="sound")
    assert (
        draft_of(later, "maintenance").text != ""
        and draft_as_signed(later, later.signed[0]).text == text
    )
    # A text that the book does not give any more has no tables: only its own words.
    other = sign(finished, text.replace("Plugs as tested", "Plugs tested"))
    assert draft_as_signed(other, other.signed[0]) is None
