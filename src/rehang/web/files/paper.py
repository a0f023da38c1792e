"""What can be printed, and the printed sheets themselves."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from rehang import paper
from rehang.book import queries
from rehang.web.board import book_rows
from rehang.web.shared.desk import Desk, job_page
from rehang.web.shared.desk import page as show
from rehang.web.shared.paper import paper_size, pdf_answer

__all__ = [
    "blank_pdf",
    "paper_page",
    "record_pdf",
]


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
        unread=book_rows.unread_number(rows),
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
