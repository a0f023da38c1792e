"""Tags, labels and the kept folder through the pages."""

from __future__ import annotations

import io
import zipfile
from datetime import UTC, datetime

import pypdfium2
import pytest
from PIL import Image

from rehang.sheets import demo_path
from rehang.sheets.folder import read_folder
from rehang.trade.terms.labels import label_text

DEMO = "tv4-2207-2026"
LOADED = datetime(2026, 10, 20, 22, 0, tzinfo=UTC)


@pytest.fixture
def marta(db, client):
    """The client with the demo loaded, signed in as Marta."""
    from rehang.book import queries, services

    queries.forget()
    services.load_folder(folder=read_folder(demo_path()), by="marta", at=LOADED)
    assert client.post("/sign-in/", {"person": "marta"}).status_code == 303
    return client


def photo_of(pdf: bytes) -> io.BytesIO:
    picture = pypdfium2.PdfDocument(pdf)[0].render(scale=3).to_pil().crop((0, 0, 620, 360))
    held = io.BytesIO()
    picture.convert("RGB").save(held, "JPEG", quality=70)
    held.seek(0)
    held.name = "label.jpg"
    return held


def test_label_printed_here_opens_the_story_of_its_part(marta):
    pdf = marta.get(f"/jobs/{DEMO}/paper/labels.pdf?item=plug:K0413&size=a4")
    assert pdf["Content-Type"] == "application/pdf"
    answer = marta.post("/label/", {"photo": photo_of(pdf.content)})
    assert answer.status_code == 302
    assert answer["Location"] == f"/jobs/{DEMO}/story/plug/K0413/"
    assert marta.get(answer["Location"]).status_code == 200
    typed = marta.post("/label/", {"code": label_text(DEMO, "plug:K0413")})
    assert typed["Location"] == answer["Location"]
    # What is printed beside the code is enough.
    assert marta.post("/label/", {"code": "k0413"})["Location"] == answer["Location"]
    page = marta.get("/label/").content.decode()
    assert "files/tables.css" in page  # a picker that is no wider than a phone


def blank_picture() -> io.BytesIO:
    held = io.BytesIO()
    Image.new("L", (200, 200), 255).save(held, "PNG")
    held.seek(0)
    held.name = "blank.png"
    return held


@pytest.mark.parametrize(
    ("sent", "sentence"),
    [
        ({"code": label_text("shop-two-2025", "plug:P9")}, "shop-two-2025, is not on your board"),
        ({"code": label_text(DEMO, "plug:K9999")}, "There is no item"),
        ({"code": "rehang:1:tv4-2207-2026:plug:K0412:0000"}, "was misread"),
        ({"code": "4006381333931"}, "no part on your board has it for a serial"),
        ({"code": "maker:4006"}, "is not a label of this bench book"),
        ({"photo": blank_picture()}, "No code was found in the photo"),
        ({}, "Take a photo of the label"),
    ],
)
def test_label_that_leads_nowhere_is_one_clear_sentence(marta, sent, sentence):
    answer = marta.post("/label/", sent)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()


def test_tags_are_made_for_the_parts_named_and_for_every_plug_else(marta):
    one = marta.get(f"/jobs/{DEMO}/paper/tags.pdf?item=hose:HS5")
    assert len(pypdfium2.PdfDocument(one.content)) == 1
    assert len(pypdfium2.PdfDocument(marta.get(f"/jobs/{DEMO}/paper/tags.pdf").content)) == 3
    assert marta.get(f"/jobs/{DEMO}/paper/tags.pdf?item=plug:none").status_code == 404


def test_whole_job_comes_as_one_file_with_its_sums(marta):
    answer = marta.get(f"/jobs/{DEMO}/paper/archive.zip")
    with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
        names = {name.split("/", 1)[1] for name in archive.namelist()}
    assert {"index.html", "READ-ME.txt", "SHA256SUMS", "book.jsonl"} <= names
    assert "records/tray-record.pdf" in names


def test_nobody_reads_a_label_without_signing_in(db, client):
    assert client.get("/label/").status_code == 302
    assert client.get(f"/jobs/{DEMO}/paper/archive.zip").status_code == 302
