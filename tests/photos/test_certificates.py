"""A certificate's PDF is kept with its meter byte for byte, opened nowhere, and found when changed."""

import dataclasses
import hashlib
import io
import json
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from pypdf import PdfReader

from rehang.book import models, packing, photos, queries, services, verifying
from rehang.decode import apart, child
from rehang.decode.pdfs import MOST_PAGES, pages_of
from rehang.paper.archive import archive_files, as_zip, write_archive
from rehang.paper.sheets import tray_record_pdf
from rehang.sheets.backup_list import Listing
from rehang.sheets.folder import read_folder, write_folder
from rehang.sheets.salvage import salvage
from rehang.sheets.sums import sums_problems
from rehang.sheets.whole import folder_checked
from rehang.sheets.zipped import unzipped
from rehang.trade.job.judging import judge
from rehang.trade.terms.errors import BadInput
from tests.book import shop
from tests.book.shop import KEPT, entry
from tests.markup import markup
from tests.photos.pdfs import GOOD, WRONG, certificate
from tests.photos.shots import shot
from tests.trade import cast

pytestmark = pytest.mark.django_db

METER = "/jobs/case/meters/of/DM/"
PHOTOS = "/jobs/case/photos/"
NAME = f"{hashlib.sha256(GOOD).hexdigest()}.pdf"
SIZE = f"{-(-len(GOOD) // 1000)} kB"


@pytest.fixture(autouse=True)
def read_here(monkeypatch):
    """The reader's own code and its JSON, in this process: that it runs apart is tried in test_apart."""

    def answer(what, data, where, said, bounds):
        return json.loads(json.dumps(child._read(what, data, where, said)))

    monkeypatch.setattr(apart, "_answer", answer)


@pytest.fixture
def ada(job, append, client):
    append(entry("seen", "seen-1", item="plug:P1", place="1T", word="bridged", check="look"))
    client.post("/sign-in/", {"person": "ada"})
    return client


def send(client, data=GOOD, name="certificate.pdf", page=METER, **fields):
    fields = fields or {"item": "meter:DM"}
    sent = SimpleUploadedFile(name, data, "application/octet-stream")
    return client.post(PHOTOS, {"file": sent, "next": page, "once": "1" * 32, **fields})


def pictured():
    return [one for one in queries.entries(queries.job("case")) if one.kind == "pictured"]


# ---------------------------------------------------------------- kept, shown, handed out


@pytest.mark.parametrize(
    ("item", "page", "about"),
    [
        ("meter:DM", METER, "Meter DM"),
        ("limit:plug.gap", "/jobs/case/limits/3/", "The page of the limit for plug, gap"),
    ],
)
def test_a_pdf_is_kept_as_it_came_and_shown_as_a_link(ada, photo_folder, item, page, about):
    assert send(ada, item=item, page=page)["Location"] == page
    (one,) = pictured()
    assert dict(one.data) == {
        "photo": NAME, "sha256": NAME[:64], "item": item, "pages": 2, "size": len(GOOD),
    }  # fmt: skip
    assert (photo_folder / NAME).read_bytes() == GOOD
    link = f'<a class="document" href="{PHOTOS}{NAME}"><b>PDF</b><span>2 pages, {SIZE}</span></a>'
    for shown in (PHOTOS, page):
        body = markup(ada.get(shown))
        assert link in body
        assert f"<b>{about}</b>" in body
        assert f"{NAME}?small" not in body
    book = ada.get("/jobs/case/book/").content.decode()
    assert f"PDF of {about[0].lower()}{about[1:]}. 2 pages, {SIZE}." in book


def test_the_form_of_a_meter_takes_a_pdf_and_that_of_a_part_does_not(ada):
    meter, part = markup(ada.get(METER)), markup(ada.get("/jobs/case/plugs/P1/"))
    assert "application/pdf,.pdf" in meter
    assert f"at most {MOST_PAGES} pages and 10 MB" in meter
    assert 'name="scale_note"' not in meter
    assert "application/pdf" not in part
    assert 'name="scale_note"' in part


def test_nothing_in_a_pdf_runs_in_the_shops_pages(ada):
    data = certificate(script="app.alert('here');")
    assert b"/JavaScript" in data
    send(ada, data)
    (one,) = pictured()
    for asked in ("", "?small"):
        answer = ada.get(f"{PHOTOS}{one.fields.photo}{asked}")
        assert answer.content == data
        assert answer["Content-Type"] == "application/pdf"
        assert answer["Content-Disposition"] == (
            f'attachment; filename="case-{one.fields.photo[:12]}.pdf"'
        )
        assert answer["X-Content-Type-Options"] == "nosniff"
        assert answer["Content-Security-Policy"] == "sandbox; default-src 'none'"
    # That policy is the PDF's alone.
    assert "sandbox" not in ada.get(METER)["Content-Security-Policy"]


def test_a_pdf_with_something_before_its_mark_is_whole():
    assert pages_of(b"\r\n" * 9 + GOOD) == 2


def test_a_pdf_that_anybody_can_open_and_not_all_may_print_is_taken(ada):
    send(ada, certificate(1, user_password="", owner_password="theirs"))
    assert pictured()[0].fields.pages == 1


def test_the_same_pdf_sent_twice_is_kept_once(ada):
    for _ in range(2):
        assert send(ada).status_code == 303
    assert len(pictured()) == 1


# ---------------------------------------------------------------- refused


@pytest.mark.parametrize(
    ("name", "data", "sentence"), [one[1:] for one in WRONG], ids=[one[0] for one in WRONG]
)
def test_what_is_no_whole_pdf_is_refused_in_one_sentence(ada, photo_folder, name, data, sentence):
    before = queries.entries(queries.job("case"))
    assert send(ada, data, name)["Location"] == f"{METER}#held"
    assert f'<p class="wrong" id="w-photo-meter:DM">{sentence}</p>' in (
        ada.get(METER).content.decode().replace("&quot;", '"')
    )
    assert queries.entries(queries.job("case")) == before
    assert not photo_folder.exists()


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({"item": "plug:P1"}, "This is a PDF, not a photo. Send the photo itself, as JPEG or PNG."),
        ({"entry": "seen-1"}, "This is a PDF, not a photo. Send the photo itself, as JPEG or PNG."),
        ({"item": ""}, "This is a PDF, not a photo. Send the photo itself, as JPEG or PNG."),
        ({"item": "meter:XX"}, 'There is no meter "XX" on file to add a photo to.'),
        (
            {"item": "meter:DM", "scale_note": "steel rule"},
            "A PDF has no scale. Leave the scale empty.",
        ),
    ],
    ids=["part", "finding", "engine", "no such meter", "scale"],
)
def test_a_pdf_goes_to_a_meter_or_a_limit_alone(ada, photo_folder, fields, sentence):
    page = "/jobs/case/plugs/P1/"
    answer = ada.post(
        PHOTOS,
        {"file": SimpleUploadedFile("c.pdf", GOOD), "next": page, "once": "1" * 32, **fields},
        follow=True,
    )
    assert sentence in answer.content.decode().replace("&quot;", '"')
    assert pictured() == []
    assert not photo_folder.exists() or list(photo_folder.iterdir()) == []


def test_a_photo_is_still_taken_for_a_meter(ada):
    send(ada, shot(), "IMG_0042.jpg")
    assert pictured()[0].fields.photo.endswith(".jpg")


# ---------------------------------------------------------------- carried, and held to its sum


@pytest.fixture
def with_pdf(job):
    services.add_photo(job=job, data=GOOD, item="meter:DM", by="ada", at=KEPT)
    return job


def changed_in_one_byte(path):
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.write_bytes(bytes(data))


def archive_of(job, onto):
    judged = queries.judged(job)
    files, book = queries.as_folder(job)
    made = archive_files(
        judged, files=files, book=book, photos=queries.photos(job), prints={}, written_at=KEPT
    )
    write_archive(onto, made)
    return onto


def test_a_pdf_goes_out_and_in_and_into_an_archive_and_one_changed_byte_is_found_in_each(
    with_pdf, settings, tmp_path
):
    write_folder(tmp_path / "one", *queries.as_folder(with_pdf), queries.photos(with_pdf))
    checked = folder_checked(tmp_path / "one")
    assert checked.changed == []
    assert "1 PDF against their sums in the book" in checked.looked
    settings.REHANG_DATA = tmp_path / "elsewhere"
    models.Job.objects.all().update(slug="aside")
    queries.forget()
    loaded = services.load_folder(
        folder=read_folder(tmp_path / "one"), by="ben", at=KEPT + timedelta(days=1)
    )
    assert photos.read(NAME) == GOOD
    assert verifying.job_checked(loaded).changed == []
    kept = archive_of(loaded, tmp_path / "kept")
    assert (kept / "photos" / NAME).read_bytes() == GOOD
    page = (kept / "index.html").read_text("utf-8")
    assert f'<a href="photos/{NAME}">PDF of meter DM. 2 pages, {SIZE}.</a>' in page
    assert "<img" not in page
    assert (folder_checked(kept).changed, sums_problems(kept)[0]) == ([], [])

    said = f"The PDF of meter DM, photos/{NAME}, has been changed since it was kept."
    for folder in (tmp_path / "one", kept):
        changed_in_one_byte(folder / "photos" / NAME)
        assert any(said in one for one in folder_checked(folder).changed)
        assert any(said in one for one in read_folder(folder).notices)
    changed_in_one_byte(tmp_path / "elsewhere" / "photos" / NAME)
    assert any(said in one for one in verifying.job_checked(loaded).changed)
    with pytest.raises(BadInput, match=r"^This PDF has been changed since it was kept\."):
        queries.photo(loaded, NAME)
    with pytest.raises(
        BadInput, match=rf"The PDF photos/{NAME} has been changed since it was kept"
    ):
        services.load_folder(folder=read_folder(kept), by="ben", at=KEPT)


def test_a_pdf_comes_out_of_a_zip_of_its_job_and_is_salvaged_whole_or_not(with_pdf, tmp_path):
    kept = archive_of(with_pdf, tmp_path / "kept")
    files = {
        str(one.relative_to(kept)): one.read_bytes() for one in kept.rglob("*") if one.is_file()
    }
    (tmp_path / "kept.zip").write_bytes(as_zip(files, "kept"))
    out = tmp_path / "out"
    out.mkdir()
    folder = unzipped((tmp_path / "kept.zip").read_bytes(), out)
    assert (folder / "photos" / NAME).read_bytes() == GOOD
    assert salvage(tmp_path / "kept.zip").photos == {NAME: GOOD}
    changed_in_one_byte(kept / "photos" / NAME)
    found = salvage(kept)
    assert found.photos == {}
    assert any(f"photos/{NAME}: " in one for one in found.unread)


def test_a_backup_holds_the_pdf_and_one_changed_byte_of_it_is_found(with_pdf, tmp_path):
    (tmp_path / "books").write_bytes(b"the tables")
    (tmp_path / "work").mkdir()
    packing.pack(
        tmp_path / "b.zip",
        database=tmp_path / "books",
        photos=photos.folder(),
        work=tmp_path / "work",
        passphrase="",
        listing=lambda sums: Listing(
            rehang="0", tables="0", made=KEPT, accounts=True, books={}, files=sums
        ),
    )
    packing.unpack(tmp_path / "b.zip", tmp_path / "back", passphrase="", work=tmp_path / "work")
    assert (tmp_path / "back" / "photos" / NAME).read_bytes() == GOOD
    data = (tmp_path / "b.zip").read_bytes()
    assert data.count(GOOD) == 1
    spoilt = data.replace(GOOD, GOOD[:100] + bytes([GOOD[100] ^ 1]) + GOOD[101:])
    (tmp_path / "spoilt.zip").write_bytes(spoilt)
    with pytest.raises(BadInput, match=r"This is no backup that can be read to its end"):
        packing.unpack(
            tmp_path / "spoilt.zip", tmp_path / "again", passphrase="", work=tmp_path / "work"
        )


def by_hand(data=GOOD, **fields):
    sha256 = hashlib.sha256(data).hexdigest()
    said = {"photo": f"{sha256}.pdf", "sha256": sha256, "item": "meter:DM"} | fields
    return shop.folder(entries=[shop.removed(), entry("pictured", "photo-1", **said)])


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        (
            {"item": "plug:P1", "pages": 2, "size": 9},
            "A PDF is kept with a meter or a limit, and this one is of plug P1. Add a photo there.",
        ),
        (
            {"item": "", "pages": 2, "size": 9},
            "A PDF is kept with a meter or a limit, and this one is of the engine. Add a photo there.",
        ),
        ({}, "The PDF of meter DM does not say how many pages and bytes it has. Add it again."),
        (
            {"photo": f"{'0' * 64}.pdf", "pages": 2, "size": 9},
            f'The photo "{"0" * 64}.pdf" is not named by its sum "{NAME[:64]}". Add the photo again.',
        ),
    ],
    ids=["part", "engine", "no pages", "name"],
)
def test_a_line_typed_by_hand_is_held_to_the_same_rules(fields, sentence):
    folder = by_hand(**fields)
    with pytest.raises(BadInput, match=r"^book\.jsonl, line 2: ") as refused:
        judge(folder.facts, folder.entries, where=folder.where)
    assert str(refused.value) == f"book.jsonl, line 2: {sentence}"


@pytest.mark.parametrize(
    ("data", "pages", "sentence"),
    [
        (GOOD, 3, "The PDF has 2 pages and "),
        (GOOD[:-20], 2, "The PDF is torn: part of it is missing or spoilt."),
    ],
    ids=["other pages", "torn"],
)
def test_a_pdf_out_of_a_folder_is_opened_before_it_is_kept(data, pages, sentence):
    folder = by_hand(data, pages=pages, size=len(data))
    held = {folder.entries[1].fields.photo: data}
    with pytest.raises(BadInput, match=sentence):
        services.load_folder(folder=dataclasses.replace(folder, photos=held), by="ada", at=KEPT)
    assert not models.Job.objects.exists()


def text_of(made):
    return " ".join(
        " ".join(page.extract_text() for page in PdfReader(io.BytesIO(made)).pages).split()
    )


def test_the_printed_record_names_the_pdf_and_does_not_set_it(with_pdf):
    judged = queries.judged(with_pdf)
    at = cast.START
    here = queries.photos(with_pdf)
    made = tray_record_pdf(judged, size="a4", printed_at=at, photos=here)
    text = text_of(made)
    assert "A PDF, kept with the book as it came. It is not printed here." in text
    assert f"2 pages, {SIZE}." in text
    gone = text_of(tray_record_pdf(judged, size="a4", printed_at=at))
    assert "The PDF is not here, or is not the one that was kept." in gone


def test_the_place_of_a_refusal_is_kept():
    with pytest.raises(BadInput, match=r"^photos/x\.pdf: The PDF is torn"):
        pages_of(GOOD[:-20], "photos/x.pdf")
    with pytest.raises(BadInput, match=r"^This file is no PDF"):
        pages_of(shot())
