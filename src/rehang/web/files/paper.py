"""What can be printed, and the printed sheets themselves."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from rehang import paper
from rehang.book import queries
from rehang.paper.lists import ListSheet, list_pdf
from rehang.trade.terms.errors import BadInput
from rehang.web.board import book_rows
from rehang.web.shared.desk import Desk, job_page
from rehang.web.shared.desk import page as show

SIZES = ("letter", "a4")


@require_safe
@job_page
def paper_page(request: HttpRequest, desk: Desk) -> HttpResponse:
    """The sheets, and what would print as not read."""
    rows = book_rows.read_back_rows(desk.judged)
    return show(
        request,
        desk,
        "files/paper",
        current="paper",
        unread=book_rows.unread_words(rows),
        blockers=len(desk.judged.blockers),
    )


@require_safe
@job_page
def record_pdf(request: HttpRequest, desk: Desk) -> HttpResponse:
    """The tray record, a draft until a person signs it on paper."""
    size = paper_size(request)
    made = paper.tray_record_pdf(
        desk.judged, size=size, printed_at=desk.now(), photos=queries.photos(desk.job)
    )
    return pdf_answer(made, f"{desk.job.slug}-tray-record-{desk.today().isoformat()}.pdf")


@require_safe
@job_page
def blank_pdf(request: HttpRequest, desk: Desk) -> HttpResponse:
    """The tray with empty boxes, to pencil in."""
    size = paper_size(request)
    made = paper.blank_sheet_pdf(
        desk.judged.facts,
        desk.judged.state,
        size=size,
        printed_at=desk.now(),
    )
    return pdf_answer(made, f"{desk.job.slug}-blank-sheet-{desk.today().isoformat()}.pdf")


def paper_size(request: HttpRequest) -> str:
    size = request.GET.get("size", SIZES[0])
    if size not in SIZES:
        raise BadInput(f'There is no paper size "{size}" here. Use letter or a4.')
    return size


def pdf_answer(made: bytes, name: str) -> HttpResponse:
    answer = HttpResponse(made, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="{name}"'
    return answer


# On paper


def printed(request: HttpRequest, desk: Desk, sheet: ListSheet, name: str) -> HttpResponse:
    made = list_pdf(
        sheet,
        size=paper_size(request),
        printed_at=desk.now(),
        photos=queries.photos(desk.job) if any(s.rows for s in sheet.sections) else {},
    )
    return pdf_answer(made, f"{desk.job.slug}-{name}-{desk.today().isoformat()}.pdf")
