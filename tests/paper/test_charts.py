"""Drawings of charts for page and paper, and a part's story as a PDF."""

import io
import re
from datetime import datetime
from xml.etree import ElementTree

import pypdf
import pypdfium2
import pytest

from rehang.paper.story import StorySheet, chart_sheet, story_pdf
from rehang.trade.drawn.chart_values import Chart, ChartMark, Sheet
from rehang.trade.drawn.charts import chart_svg
from rehang.trade.life.history import story
from rehang.trade.terms.errors import BadInput
from rehang.web.story.rows import heading, story_sheet, table_of
from tests.trade.drawn import ALWAYS, DEMO_CHARTS, demo, demo_chart, odds

PAGE, PRINT = Sheet(942, 396, 18, "page", 108), Sheet(538, 250, 12, "print", 66)
SVG = "{http://www.w3.org/2000/svg}"
AT = datetime.fromisoformat("2026-10-21T08:00:00-05:00")
CHARTS = pytest.mark.parametrize(("item", "check"), DEMO_CHARTS)


def parsed(svg: str) -> ElementTree.Element:
    return ElementTree.fromstring(svg)  # noqa: S314


@CHARTS
@pytest.mark.parametrize("sheet", [PAGE, PRINT], ids=["page", "paper"])
def test_each_part_of_a_demo_chart_can_be_asked_for_by_name(item, check, sheet):
    root = parsed(chart_svg(demo_chart(item, check), sheet))
    parts = {g.get("data-part") for g in root.iter(f"{SVG}g") if g.get("data-part")}
    assert parts == ALWAYS | DEMO_CHARTS[item, check]
    assert root.get("role") == "img"
    assert root.get("aria-label") == demo_chart(item, check).sentence


def test_a_page_gives_the_colours_and_paper_carries_its_own():
    chart = demo_chart("plug:K0413", "resistance")
    page, paper = chart_svg(chart, PAGE), chart_svg(chart, PRINT)
    assert re.findall(r'(?:fill|stroke)="#\w+"', page) == []
    assert "style=" not in page
    assert {"fill-half", "stroke-ink", "fill-close-fill"} <= set(
        re.findall(r"(?:fill|stroke)-[\w-]+", page)
    )
    colours = {c.lower() for c in re.findall(r'(?:fill|stroke)="(#\w+)"', paper)}
    assert colours <= {"#000000", "#ffffff"}


def test_the_close_call_band_is_hatched_with_a_pattern_of_its_own():
    chart = demo_chart("plug:K0413", "resistance")
    ids = set()
    for sheet in (PAGE, PRINT):
        root = parsed(chart_svg(chart, sheet))
        pattern = root.find(f".//{SVG}pattern")
        assert pattern is not None
        ids.add(pattern.get("id"))
        filled = [e for e in root.iter() if e.get("fill") == f"url(#{pattern.get('id')})"]
        assert len(filled) == 1
    assert len(ids) == 2


def test_every_reading_says_itself_when_it_is_asked():
    root = parsed(chart_svg(demo_chart("plug:K0413", "resistance"), PAGE))
    said = {e.findtext(f"{SVG}title") for e in root.iter() if e.get("data-key")}
    assert "14 Oct 2026: 4.80 kΩ on AN-1, close call" in said


def test_words_of_people_cannot_become_a_drawing():
    mark = ChartMark(0, 1.0, "1", "x", words='"><script>alert(1)</script>', key='"k')
    chart = Chart('<b>"', "<script>", "&", "<i>", (mark,), lambda v: f"{v:g}")
    svg = chart_svg(chart, PAGE)
    assert "<script" not in svg
    assert parsed(svg).get("aria-label") == "<i>"


# The story on paper


def made(item: str, check: str, size: str = "letter") -> bytes:
    told = story(demo(), item)
    chart = demo_chart(item, check) if check else None
    table = None
    if chart is not None:
        outlook = next(iter(odds().of(item, check)), None)
        table = table_of(chart, told, check, demo(), outlook, chart_sheet(size))
    words = heading(told, check, chart) if chart is not None else "Nothing measured."
    return story_pdf(
        story_sheet(told, demo(), odds(), check, words, table), chart, size=size, printed_at=AT
    )


def words_of(pdf: bytes) -> str:
    text = " ".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages)
    return re.sub(r"\s+", " ", text)


@pytest.mark.parametrize("size", ["letter", "a4"])
def test_the_story_prints_with_its_chart_its_table_and_what_happened(size):
    pdf = made("plug:K0413", "resistance", size)
    text = words_of(pdf)
    for said in (
        "The story of K0413", "NOT YET", "1.02", "3.20", "4.80", "close call", "17 Sep 2022",
        "1,047.2", "LIMIT 5", "K0412, open today", "Where it flew", "What happened",
        "17 to 16", "DM-2", "AN-1",
    ):  # fmt: skip
        assert said in text, said
    assert "[U+" not in text
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    assert reader.trailer["/Root"]["/MarkInfo"]["/Marked"]


def test_the_story_survives_in_black_alone():
    page = pypdfium2.PdfDocument(made("plug:K0413", "resistance"))[0]
    grey = page.render(scale=1).to_pil().convert("L")
    colour = page.render(scale=1).to_pil().convert("RGB")
    assert all(max(c) - min(c) <= 2 for _, c in colour.getcolors(1 << 20))
    inked = sum(n for n, value in grey.getcolors() if value < 128)
    assert inked > 3000


@pytest.mark.parametrize(
    ("item", "check"), [("cylinder:3", "compression"), ("oil:engine", "Fe"), ("hose:HS3", "age")]
)
def test_the_story_of_any_item_prints(item, check):
    assert "What happened" in words_of(made(item, check)) or item == "hose:HS3"


def test_a_story_with_nothing_measured_prints():
    assert "Nothing measured." in words_of(made("hose:HS5", ""))


def test_struck_words_are_printed_struck():
    sheet = StorySheet(
        title="T", sheet_id="S", engine="", verdict="", mark="", reason="", heading="H", says=[],
        facts=[], chart_words="", shares=[], rows=[], flights=[],
        events=[charts_event("wrong plug")],
    )  # fmt: skip
    text = words_of(story_pdf(sheet, None, size="letter", printed_at=AT))
    assert "Struck: wrong plug" in text


def charts_event(reason: str):
    from rehang.paper.story import PaperEvent

    return PaperEvent("1 May 2026", "Something was written.", "Marta", reason)


def test_an_unknown_paper_size_is_refused():
    with pytest.raises(BadInput, match=r'^There is no paper size "a9" here\. Use letter or a4\.$'):
        chart_sheet("a9")
