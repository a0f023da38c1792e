"""Every print against what its structure shows of PDF/UA-1, and the kept ones of PDF/A-2b."""

from __future__ import annotations

import io
from datetime import UTC, date, datetime, timedelta

import pytest
from PIL import Image, ImageChops
from pypdf import PdfReader, PdfWriter
from pypdf.generic import NameObject
from pypdfium2 import PdfDocument

from rehang.paper import blank_sheet_pdf, tray_record_pdf
from rehang.paper.lists import list_pdf
from rehang.paper.prints import prints_of
from rehang.paper.records import due_pdf, record_pdf
from rehang.paper.tags import labels_pdf, tags_pdf
from rehang.sheets import demo_path
from rehang.sheets.folder import read_folder
from rehang.trade.job.judging import JudgedJob, judge
from rehang.trade.papers.signing import sha256_of
from rehang.trade.telling.entry_text import draft_of
from rehang.trade.telling.tags import tags_of
from rehang.trade.terms.entries import new_entry
from rehang.web.board import hand_rows
from rehang.web.board import paper_rows as board_paper
from rehang.web.work import paper_rows, parts_rows
from tests.paper.pdf_rules import faults_for_keeping, faults_for_readers

PRINTED = datetime(2026, 11, 12, 21, 5, tzinfo=UTC)


def _read(name: str | None, day: date) -> JudgedJob:
    folder = read_folder(demo_path(name) if name else demo_path())
    return judge(folder.facts, folder.entries, today=day)


@pytest.fixture(scope="module")
def demo() -> JudgedJob:
    return _read(None, date(2026, 10, 21))


@pytest.fixture(scope="module")
def signed() -> JudgedJob:
    finished = _read("finished", date(2026, 11, 12))
    text = draft_of(finished, "maintenance").text
    entry = new_entry(
        "signed", at=finished.state.order[-1].at + timedelta(minutes=1), by="marta",
        what="maintenance", text=text, sha256=sha256_of(text), name="Marta Oduya",
        certificate="DEMO-114", certificate_kind="mechanic",
    )  # fmt: skip
    return judge(finished.facts, [*finished.state.order, entry], today=date(2026, 11, 12))


@pytest.fixture(scope="module")
def kept(signed) -> dict[str, bytes]:
    return prints_of(signed, PRINTED, {})


@pytest.fixture(scope="module")
def prints(demo, kept) -> dict[str, bytes]:
    tags = tags_of(demo, ["plug:K0412", "plug:K0413"], date(2026, 10, 21))
    owner = paper_rows.owner_sheet(parts_rows.owner_page(demo), demo)
    handover = hand_rows.handover(demo, date(2026, 10, 21))
    paper = {"size": "a4", "printed_at": PRINTED}
    return {
        "tray": tray_record_pdf(demo, **paper),
        "radial": tray_record_pdf(_read("radial", date(2026, 11, 12)), **paper),
        "blank": blank_sheet_pdf(demo.facts, demo.state, **paper),
        "draft": record_pdf(demo, "maintenance", **paper),
        "short draft": record_pdf(demo, "inspection", **paper),
        "owner's list": record_pdf(demo, "discrepancies", **paper),
        "sticker": record_pdf(demo, "maintenance", size="sticker", printed_at=PRINTED),
        "due": due_pdf(demo, **paper),
        "tags": tags_pdf(tags, made_out_by="Marta Oduya", **paper),
        "labels": labels_pdf(tags, **paper),
        "owner": list_pdf(owner, **paper),
        "handover": list_pdf(board_paper.handover_sheet(handover, demo), **paper),
        **kept,
    }


def test_who_cannot_see_a_print_hears_all_of_it(prints):
    assert {name: faults_for_readers(made)[:3] for name, made in prints.items()} == {
        name: [] for name in prints
    }


def test_what_is_kept_needs_nothing_from_outside(kept):
    assert set(kept) == {"tray-record.pdf", "maintenance-signed.pdf", "next-due.pdf"}
    assert {name: faults_for_keeping(made) for name, made in kept.items()} == {
        name: [] for name in kept
    }


def test_no_ink_stands_in_the_margin_of_a_print(prints):
    """Half an inch on a sheet; a fifth of an inch on a sticker."""
    for name, made in prints.items():
        least = 13 if name == "sticker" else 36
        for image in (page.render(scale=2).to_pil().convert("L") for page in PdfDocument(made)):
            white = Image.new("L", image.size, 255)
            ink = (
                ImageChops.difference(image, white).point(lambda v: 255 if v > 64 else 0).getbbox()
            )
            assert ink is not None, name
            edges = (ink[0], ink[1], image.width - ink[2], image.height - ink[3])
            # Two pixels a point, less one of a drawing's own edge.
            assert min(edges) >= least * 2 - 1, (name, edges)


def _changed(made: bytes, change) -> bytes:
    writer = PdfWriter(clone_from=PdfReader(io.BytesIO(made)))
    change(writer)
    held = io.BytesIO()
    writer.write(held)
    return held.getvalue()


def _untag(writer: PdfWriter) -> None:
    del writer.root_object["/StructTreeRoot"]


def _unname(writer: PdfWriter) -> None:
    del writer.root_object["/Lang"]


def _draw(writer: PdfWriter) -> None:
    page = writer.pages[0]
    stream = page["/Contents"].get_object()
    stream.set_data(stream.get_data() + b"\n0 0 10 10 re f\n")
    page[NameObject("/Contents")] = stream


def _let_go_of_fonts(writer: PdfWriter) -> None:
    for font in writer.pages[0]["/Resources"]["/Font"].values():
        inner = font.get_object()["/DescendantFonts"][0].get_object()["/FontDescriptor"]
        for name in ("/FontFile2", "/FontFile3"):
            inner.get_object().pop(name, None)


@pytest.mark.parametrize(
    ("change", "faults", "fault"),
    [
        (_untag, faults_for_readers, "7.1: it is not tagged."),
        (_unname, faults_for_readers, "7.2: it is in no language."),
        (_draw, faults_for_readers, "is neither tagged nor an artifact."),
        (_let_go_of_fonts, faults_for_keeping, "is not in it."),
    ],
)
def test_a_print_that_is_broken_is_found_out(kept, change, faults, fault):
    broken = _changed(kept["maintenance-signed.pdf"], change)
    assert any(fault in one for one in faults(broken))


def test_a_draft_is_not_for_keeping_and_does_not_say_that_it_is(prints):
    assert "6.6.4: it does not say that it is PDF/A-2b." in faults_for_keeping(prints["draft"])
