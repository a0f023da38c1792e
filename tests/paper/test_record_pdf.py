"""Records on paper, read back: every field of 14 CFR 43.9(a) and 43.11(a), or a ruled blank."""

from __future__ import annotations

import io
import re
from datetime import UTC, date, datetime, timedelta

import pypdfium2
import pytest
from pypdf import PdfReader

from rehang.paper.records import due_pdf, record_pdf, signed_pdf
from rehang.sheets import demo_path
from rehang.sheets.folder import read_folder
from rehang.trade.job.judging import JudgedJob, judge
from rehang.trade.papers.signing import sha256_of
from rehang.trade.telling.entry_tables import draft_as_signed
from rehang.trade.telling.entry_text import draft_of
from rehang.trade.terms.entries import new_entry
from rehang.trade.terms.errors import BadInput

PRINTED = datetime(2026, 11, 12, 21, 5, tzinfo=UTC)
PAGES = {"letter": (612.0, 792.0), "a4": (595.3, 841.9)}


@pytest.fixture(scope="module")
def demo() -> JudgedJob:
    folder = read_folder(demo_path())
    return judge(folder.facts, folder.entries, today=date(2026, 10, 21))


@pytest.fixture(scope="module")
def finished() -> JudgedJob:
    folder = read_folder(demo_path("finished"))
    return judge(folder.facts, folder.entries, today=date(2026, 11, 12))


@pytest.fixture(scope="module")
def signed(finished) -> JudgedJob:
    book = list(finished.state.order)
    for number, what in enumerate(("maintenance", "inspection")):
        text = draft_of(finished, what).text
        at = finished.state.order[-1].at + timedelta(minutes=1 + number)
        book.append(
            new_entry(
                "signed", at=at, by="marta", what=what, text=text, sha256=sha256_of(text),
                name="Marta Oduya",
                certificate="DEMO-114" if number == 0 else "DEMO-114-IA",
                certificate_kind="mechanic" if number == 0 else "inspection authorization",
            )
        )  # fmt: skip
    return judge(finished.facts, book, today=date(2026, 11, 12))


def reader(made: bytes) -> PdfReader:
    return PdfReader(io.BytesIO(made))


def text(made: bytes) -> str:
    pages = " ".join(page.extract_text() for page in reader(made).pages)
    return re.sub(r"\s+", " ", pages.replace("\u00a0", " "))


def rules(made: bytes) -> int:
    """Long thin lines on the last page: ruled blanks among them."""
    document = pypdfium2.PdfDocument(made)
    page = document[len(document) - 1]
    boxes = [one.get_bounds() for one in page.get_objects()]
    return sum(1 for left, low, right, top in boxes if right - left > 60 and top - low < 3)


def test_signed_maintenance_entry_has_every_field_of_43_9(signed):
    made = signed_pdf(signed, signed.signed[0], size="letter", printed_at=PRINTED)
    said = text(made)
    for words in (
        "Maintenance entry",
        "Spark plugs in 1T L0418, 1B L0417",  # description of the work, 43.9(a)(1)
        "Compression, 30 Sep 2026 Hot, tester CT-1, orifice 0.040 in, master 43 psi: cylinder 1 75/80",
        "Data used TV4 manual (invented), rev 6, pages 3-1, 3-4,",
        "9-3, 10-2.",
        "Parts on 3 × Plug KS-R, s/n N0703, N0701, N0702 (Release form R1 no. KS-44187)",
        "hose HS6 in place of HS2 (Hose HS2, pump to carburettor, made Aug 2026,",
        "Parts off Plug L0412 (Resistance OL",
        "Oil filter: 9 pieces, 2 magnetic",
        "cannot be had now; Differential compression closed short on 21 Oct 2026",
        "Ground run Run 1 on 12 Nov 2026 (outside temperature 46 F",
        "Date 12 Nov 2026",  # 43.9(a)(2)
        # (a)(3): with papers or without, and for what.
        "Work performed by, if not the person who approves Tom Ferrick (engine on the stand, engine "
        "hung, first ground run and second ground run); Ilse Karr (readings and looks of plugs)",
        "Signature",  # (a)(4)
        "Signed in the book by Marta Oduya, 12 Nov 2026",
        "Certificate number DEMO-114",
        "Kind of certificate mechanic",
        "SIGNED by Marta Oduya, 12 Nov 2026",
        "Airframe total time 3,591.3 h",
    ):
        assert words in said, words
    assert "DRAFT" not in said
    assert signed.signed[0].entry.data["sha256"] in said.replace(" ", "")


def test_signed_inspection_entry_has_every_field_of_43_11(signed):
    said = text(signed_pdf(signed, signed.signed[1], size="a4", printed_at=PRINTED))
    for words in (
        "Type and brief extent Annual inspection, engine and its installation",  # 43.11(a)(1)
        "Date 12 Nov 2026",  # (a)(2)
        "Aircraft total time 3,591.3 h",
        "Signed in the book by Marta Oduya",  # (a)(3)
        "Certificate number DEMO-114",
        "was determined to be in airworthy condition",  # (a)(4)
    ):
        assert words in said, words


@pytest.mark.parametrize("size", PAGES)
def test_draft_of_the_demo_has_ruled_blanks_for_what_is_empty(demo, size):
    made = record_pdf(demo, "inspection", size=size, printed_at=PRINTED)
    said = text(made)
    for words in (
        "DRAFT, NOT SIGNED",
        "Type and brief extent (14 CFR 43.11(a)(1))",
        "Date (14 CFR 43.11(a)(2))",
        "a list of discrepancies and unairworthy items dated ________ has been provided",
        f"{len(demo.against('inspection'))} reasons not to return it to service stand in the book.",
        "Page 1 of 1",
    ):
        assert words in said, words
    # Type, date, signature, certificate, kind.
    assert rules(made) >= 5
    box = reader(made).pages[0].mediabox
    assert (float(box.width), float(box.height)) == pytest.approx(PAGES[size], abs=0.5)


def pages_of(made: bytes) -> list[str]:
    return [
        re.sub(r"\s+", " ", page.extract_text().replace("\u00a0", " "))
        for page in reader(made).pages
    ]


@pytest.mark.parametrize("size", ["letter", "a4"])
@pytest.mark.parametrize("what", ["maintenance", "inspection", "discrepancies"])
def test_nobody_signs_a_page_that_tells_nothing(demo, finished, what, size):
    for judged in (demo, finished):
        pages = pages_of(record_pdf(judged, what, size=size, printed_at=PRINTED))
        lines = draft_of(judged, what).lines
        [signed] = [page for page in pages if "Signature" in page]
        # Tables, or the last of the sentences, stand on the page that is signed.
        assert (
            "Cylinders" in signed
            or "Ground run" in signed
            or not lines
            or (lines[-1].text[:40] in signed)
        )
        # What is signed is named on every page, and each says which of how many it is.
        for number, page in enumerate(pages, start=1):
            assert f"{draft_of(judged, what).title}, DRAFT" in page
            assert f"Page {number} of {len(pages)}" in page


@pytest.mark.parametrize("size", ["letter", "a4"])
def test_an_entry_is_one_page_of_tables_with_its_signature_and_the_text_behind_it(signed, size):
    one = signed.signed[0]
    first, *behind = pages_of(signed_pdf(signed, one, size=size, printed_at=PRINTED))
    for words in (
        "2B L0414 L0415 0.017 1,640 61 steady Dry, pale",
        "12 Nov 2026, hot 77/80 CT-1 0.040 in 43 psi",
        "Oil temperature 150 °F",
        "Muffler directive X-2019-07 (Directive X-2019-07 (invented), rev 1) complied with",
        "Parts off Plug L0412; plug L0413;",
        "Airframe total time 3,591.3 h",
        "Signed in the book by Marta Oduya",
        "Certificate number DEMO-114",
    ):
        assert words in first, words
    assert "Signature" not in " ".join(behind)
    # Behind it stands every sentence that was signed, in order and word for word; feet left aside.
    text = "".join(
        re.sub(r"Maintenance entry, SIGNED by .* Page \d of \d", "", page).replace(" ", "")
        for page in behind
    )
    at = 0
    draft = draft_as_signed(signed, one)
    assert draft is not None
    for line in draft.lines:
        told = f"{line.title}{line.text}".replace(" ", "").replace("\u00a0", "")
        assert told in text[at:], line
        at = text.index(told, at) + len(told)


def test_a_page_that_has_no_room_for_a_piece_says_that_it_stands_behind(signed):
    first = pages_of(signed_pdf(signed, signed.signed[0], size="letter", printed_at=PRINTED))[0]
    assert "In the text behind this page: Reworked, Closed short." in first
    # It is not both: a title named so has no words of its own on the page.
    assert "Lapped in place" not in first


def test_a_sticker_is_one_page_of_four_by_six_inches_for_a_logbook(signed, demo):
    made = signed_pdf(signed, signed.signed[0], size="sticker", printed_at=PRINTED)
    assert len(reader(made).pages) == 1
    box = reader(made).pages[0].mediabox
    # 4 in by 6 in, at 72 points to the inch.
    assert (float(box.width), float(box.height)) == (288.0, 432.0)
    said = text(made)
    for words in (
        "Spark plugs in: 1T L0418, 1B L0417",
        "12 Nov 2026, hot 77/80",
        "Signed in the book by Marta Oduya",
        "Certificate number DEMO-114, Kind of certificate mechanic",
        "Done 12 Nov 2026",
        f"Its sum (SHA-256) begins {signed.signed[0].entry.data['sha256'][:12]}",
    ):
        assert words in said, words
    with pytest.raises(
        BadInput, match=r"^List of discrepancies has no short form\. Print it whole"
    ):
        record_pdf(demo, "discrepancies", size="sticker", printed_at=PRINTED)
    draft = text(record_pdf(demo, "maintenance", size="sticker", printed_at=PRINTED))
    assert "DRAFT, NOT SIGNED" in draft
    assert "58 reasons not to return it to service stand in the book." in draft


def test_sentence_longer_than_a_page_still_breaks(finished):
    long = new_entry(
        "drafted", at=finished.state.order[-1].at + timedelta(minutes=1), by="marta",
        what="maintenance:more-1", text="Wiped the case and looked again. " * 200,
    )  # fmt: skip
    judged = judge(finished.facts, [*finished.state.order, long], today=date(2026, 11, 12))
    said = text(record_pdf(judged, "maintenance", size="letter", printed_at=PRINTED))
    assert said.count("Wiped") == 200


def test_list_for_the_owner_says_every_reason_and_who_it_is_for(demo):
    said = text(record_pdf(demo, "discrepancies", size="letter", printed_at=PRINTED))
    assert "For the owner or operator (14 CFR 43.11(b)) Dev Lanning" in said
    # Tasks by their names: an owner does not know their numbers.
    assert "20 tasks are not started: Old filter off; Filter cut and counted;" in said
    unread = [one for one in demo.blockers if one.is_unread]
    assert unread
    # What nobody has read yet is no discrepancy: a line for each kind of it.
    assert not any(one.sentence in said for one in unread)
    assert "Plug holes, 3 still to be read or looked at: 2B, 4T and 4B." in said
    for one in demo.blockers:
        if not one.about.startswith("record:") and one.about != "work" and not one.is_unread:
            words = one.sentence[0].upper() + one.sentence[1:]
            assert re.sub(r"\s+", " ", words) in said, words


def test_next_due_has_both_sides_of_everything(demo):
    said = text(due_pdf(demo, size="letter", printed_at=PRINTED))
    for words in (
        "Muffler directive X-2019-07 is overdue 21 days: the calendar governs, although 4.9 h remain.",
        "1,147.2 h since overhaul, 4.9 h left",
        "none entered",
        "30 Sep 2026, overdue 21 days",
        "1,202.1 h since overhaul, 59.8 h left",
    ):
        assert words in said, words


def test_signed_record_is_kept_as_pdf_a_with_its_fonts_in_it(signed):
    made = reader(signed_pdf(signed, signed.signed[0], size="letter", printed_at=PRINTED))
    meta = made.xmp_metadata
    assert meta is not None
    xml = meta.stream.get_data().decode() if hasattr(meta, "stream") else str(meta)
    assert re.search(r"<pdfaid:part>2</pdfaid:part>", xml)
    assert re.search(r"<pdfaid:conformance>B</pdfaid:conformance>", xml)
    for page in made.pages:
        for font in page["/Resources"]["/Font"].values():
            inner = font.get_object()["/DescendantFonts"][0].get_object()["/FontDescriptor"]
            assert {"/FontFile2", "/FontFile3"} & set(inner.get_object())


def test_record_changed_since_is_said_on_paper_and_a_broken_one_is_not_printed(signed):
    at = signed.state.order[-1].at + timedelta(minutes=5)
    seen = new_entry("seen", at=at, by="ilse", item="hose:HS1", check="look", word="sound")
    later = judge(signed.facts, [*signed.state.order, seen], today=date(2026, 11, 12))
    said = text(signed_pdf(later, later.signed[0], size="letter", printed_at=PRINTED))
    assert "Changed since signing: 1 line, the last on 12 Nov 2026." in said
    bad = new_entry(
        "signed",
        at=at,
        by="marta",
        what="maintenance",
        text="x",
        sha256="0" * 64,
        name="Marta Oduya",
        certificate="DEMO-114",
        certificate_kind="mechanic",
    )
    broken = judge(signed.facts, [*signed.state.order, bad], today=date(2026, 11, 12))
    with pytest.raises(BadInput, match=r"not the one its sum was made of"):
        signed_pdf(broken, broken.signed[-1], size="letter", printed_at=PRINTED)
    with pytest.raises(BadInput, match=r'no paper size "legal"'):
        due_pdf(signed, size="legal", printed_at=PRINTED)
