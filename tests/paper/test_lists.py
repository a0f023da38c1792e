"""The sheets that are lists: every line is on them, in black alone, on both sizes of paper."""

import io
from dataclasses import replace
from datetime import datetime
from zoneinfo import ZoneInfo

import pypdfium2
import pytest
from pypdf import PdfReader

from rehang.paper.lists import list_pdf
from rehang.sheets import demo_path
from rehang.sheets.folder import read_folder
from rehang.trade.job.judging import judge
from rehang.trade.plan.planning import plan_of
from rehang.trade.terms.errors import BadInput
from rehang.web.board import hand_rows
from rehang.web.board import paper_rows as board_paper
from rehang.web.work import paper_rows, parts_rows, plan_rows

NOW = datetime(2026, 10, 21, 8, 0, tzinfo=ZoneInfo("America/Chicago"))


@pytest.fixture(scope="module")
def sheets():
    demo = read_folder(demo_path())
    judged = judge(demo.facts, demo.entries, NOW)
    plan = plan_rows.plan_page(plan_of(judged, NOW, runs=20, compare=False), judged)
    return {
        "handover": board_paper.handover_sheet(hand_rows.handover(judged, NOW.date()), judged),
        "bench": board_paper.bench_sheet(hand_rows.bench_page(judged, ["task:C6"], 5), judged),
        "owner": paper_rows.owner_sheet(parts_rows.owner_page(judged), judged),
        "plan": paper_rows.plan_sheet(plan, judged),
    }


def text_of(pdf: bytes) -> str:
    pages = PdfReader(io.BytesIO(pdf)).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split()).replace("\u00a0", " ")


@pytest.mark.parametrize("size", ["letter", "a4"])
@pytest.mark.parametrize(
    ("name", "lines"),
    [
        (
            "handover",
            ["2 of 6 screws torqued.", "Ilse Karr may give it, in next on Thu 22 Oct 2026",
             "7 of 8 done; left: K0418 (4B).", "Red streamer on cylinder 2 cover",
             "Handed over by, time", "Taken over by, time"],
        ),
        ("bench", ["Thread chaser", "18 mm, 7/8 in hex drive", "Blank tray sheet"]),
        ("owner", ["3 × Plug KS-R", "$132.00", "K0414 (2B) is REJECT", "Repair of cylinder 3"]),
        ("plan", ["Thu 22 Oct", "Hose HS5, if ordered today", "Hoses on, hose HS5 (M)"]),
    ],
)  # fmt: skip
def test_a_sheet_says_its_lines(sheets, name, lines, size):
    text = text_of(list_pdf(sheets[name], size=size, printed_at=NOW))
    for line in lines:
        assert line in text


@pytest.mark.parametrize("size", ["letter", "a4"])
@pytest.mark.parametrize("name", ["handover", "owner", "bench"])
def test_what_is_read_together_is_one_page(sheets, name, size):
    pages = PdfReader(io.BytesIO(list_pdf(sheets[name], size=size, printed_at=NOW))).pages
    assert len(pages) == 1


def test_a_list_longer_than_a_page_runs_on_in_the_size_of_the_bench(sheets):
    many = replace(sheets["owner"].sections[0], rows=sheets["owner"].sections[1].rows * 8)
    long = replace(sheets["owner"], sections=(many,))
    pages = PdfReader(io.BytesIO(list_pdf(long, size="letter", printed_at=NOW))).pages
    assert len(pages) > 2
    sizes = set()
    for page in pages:

        def note(text, user, matrix, font, size, sizes=sizes):
            if text.strip():
                sizes.add(round(abs(size * matrix[3] * user[3]), 2))

        page.extract_text(visitor_text=note)
    assert min(sizes) >= 12


def test_a_sheet_is_black_on_white(sheets):
    for name, sheet in sheets.items():
        pdf = pypdfium2.PdfDocument(list_pdf(sheet, size="letter", printed_at=NOW))
        for page in pdf:
            red, green, blue = page.render(scale=1).to_pil().convert("RGB").split()
            assert red.tobytes() == green.tobytes() == blue.tobytes(), name


def test_a_paper_size_that_is_not_there_is_refused(sheets):
    with pytest.raises(BadInput, match='There is no paper size "a3" here'):
        list_pdf(sheets["bench"], size="a3", printed_at=NOW)
