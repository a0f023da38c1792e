"""Paper: its size, and the answer that carries a sheet."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse

from rehang.book import queries
from rehang.paper.lists import ListSheet, list_pdf
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.wording import listed
from rehang.web.shared.desk import Desk

__all__ = [
    "paper_size",
    "pdf_answer",
    "printed",
]

SIZES = ("letter", "a4")


def paper_size(request: HttpRequest, *more: str) -> str:
    """The size asked for; ``more`` are those that this one sheet has beside letter and A4."""
    size = request.GET.get("size", SIZES[0])
    known = (*SIZES, *more)
    if size not in known:
        raise BadInput(f'There is no paper size "{size}" here. Use {listed(known, "or")}.')
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
