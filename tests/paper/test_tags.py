"""Tags by trade convention (no source), labels that read back. The code is ISO/IEC 16022 Data Matrix."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import UTC, date, datetime

import pypdfium2
import pytest
from PIL import Image, ImageFilter

from rehang.decode.codes import read_codes
from rehang.paper.codes import code_svg
from rehang.paper.tags import labels_pdf, tags_pdf
from rehang.sheets import demo_path
from rehang.sheets.folder import read_folder
from rehang.trade.job.judging import JudgedJob, judge
from rehang.trade.telling.tags import tag_of, tags_of
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.labels import label_text, read_label
from rehang.trade.verdicts.reasons import Decided

ON = date(2026, 10, 21)
AT = datetime(2026, 10, 21, 13, 0, tzinfo=UTC)


@pytest.fixture(scope="module")
def demo() -> JudgedJob:
    folder = read_folder(demo_path())
    return judge(folder.facts, folder.entries, today=ON)


def page(pdf: bytes, scale: float = 3.0) -> Image.Image:
    picture: Image.Image = pypdfium2.PdfDocument(pdf)[0].render(scale=scale).to_pil()
    return picture


def as_photo(picture: Image.Image) -> bytes:
    held = io.BytesIO()
    picture.convert("RGB").save(held, "JPEG", quality=60)
    return held.getvalue()


def words_of(pdf: bytes) -> str:
    document = pypdfium2.PdfDocument(pdf)
    return "\n".join(one.get_textpage().get_text_range() for one in document)


@pytest.mark.parametrize(
    ("item", "word", "colour"),
    [
        ("plug:K0411", "SERVICEABLE", "yellow"),
        ("plug:K0415", "REPAIRABLE", "green"),
        ("plug:K0418", "HOLD", "white"),
        ("plug:K0412", "SCRAP", "red"),
        ("hose:HS5", "SCRAP", "red"),
    ],
)
def test_verdict_makes_the_tag(demo, item, word, colour):
    [tag] = tags_of(demo, [item], ON)
    assert (tag.word, tag.colour) == (word, colour)
    assert tag.why == demo.item(item).reasons[0]


def test_tag_says_what_serial_hours_why_and_date_and_leaves_the_signature_to_a_person(demo):
    text = words_of(tags_pdf(tags_of(demo, ["plug:K0412"], ON), made_out_by="Marta Oduya", size="letter", printed_at=AT))  # fmt: skip
    for words in ("SCRAP", "K0412", "from 1B", "400.3", "Resistance OL", "Marta Oduya", "21 Oct 2026", "Signature", "stock: red"):  # fmt: skip
        assert words in text
    # The stub is torn off, so the tag itself names the part; so does its word that it waits.
    assert "Plug K0412, Tolvane TV4-150" in text
    held = tags_of(demo, ["plug:K0418"], ON)
    made = tags_pdf(held, made_out_by="Marta Oduya", size="letter", printed_at=AT)
    said = words_of(made)
    assert "HOLD" in said and "stock: white" in said and "REPAIRABLE" not in said


def test_a_long_why_stays_on_its_tag(demo):
    item = demo.item("plug:K0412")
    text = "Cracked at the nose and chipped at the barrel. " * 12
    long = replace(item, why=(Decided("Marta Oduya", "REJECT", "KEEP", text),))
    tag = tag_of(demo, long, ON)
    assert len(tag.why) <= 175
    assert tag.why.endswith(" ...")
    assert tag.why[:-4] in long.reasons[0]


def test_tag_of_what_goes_back_says_where_to_and_a_reject_what_became_of_it(demo):
    assert tags_of(demo, ["plug:K0411"], ON)[0].goes_to == "3B"
    assert tags_of(demo, ["plug:K0412"], ON)[0].goes_to == ""


@pytest.mark.parametrize("angle", [0, 7, 90, 200])
def test_label_is_read_back_from_a_poor_photo(demo, angle):
    pdf = labels_pdf(tags_of(demo, ["plug:K0413"], ON), size="a4", printed_at=AT)
    sheet = page(pdf).crop((0, 0, 620, 360))
    photo = as_photo(sheet.rotate(angle, expand=True, fillcolor="white").filter(ImageFilter.GaussianBlur(1.2)))  # fmt: skip
    assert [read_label(text) for text in read_codes(photo)] == [("tv4-2207-2026", "plug:K0413")]


def test_code_is_a_drawing_and_holds_no_address():
    text = label_text("tv4-2207-2026", "plug:K0411")
    assert code_svg(text).startswith("<svg")
    assert "http" not in text


def test_picture_without_a_code_and_file_that_is_no_picture():
    assert read_codes(as_photo(Image.new("L", (300, 300), 255))) == []
    with pytest.raises(BadInput, match=r"^This is a GIF. Save it as JPEG or PNG and send that.$"):
        read_codes(b"GIF89a but not")


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("0123456789012", r"is not a label of this bench book"),
        ("rehang:1:tv4-2207-2026:plug:K0411", r"is not a label of this bench book"),
        ("rehang:1:tv4-2207-2026:plug:K0412:1df6", r"was misread"),
        ("rehang:1:tv4-2207-2026:plug:K\ud8000412:1df6", r"was misread"),
        ("", r"is not a label"),
    ],
)
def test_label_that_cannot_be_read_is_one_clear_sentence(text, sentence):
    with pytest.raises(BadInput, match=sentence):
        read_label(text)


def test_no_part_and_no_such_paper(demo):
    with pytest.raises(BadInput, match=r"Name at least one part"):
        tags_of(demo, [], ON)
    with pytest.raises(BadInput, match=r"no paper size"):
        labels_pdf(tags_of(demo, ["plug:K0411"], ON), size="a5", printed_at=AT)
