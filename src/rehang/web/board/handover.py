"""What to take to the bench, and the sheet that hands the job over."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from rehang.web.board import hand_rows
from rehang.web.board import paper_rows as board_paper
from rehang.web.board.rows import CARDS
from rehang.web.shared.desk import Desk, job_page, page
from rehang.web.shared.paper import printed

__all__ = [
    "bench",
    "bench_pdf",
    "handover",
    "handover_pdf",
]


@require_safe
@job_page
def bench(request: HttpRequest, desk: Desk) -> HttpResponse:
    """What to take to the bench for the work that was picked."""
    row = hand_rows.bench_page(desk.judged, request.GET.getlist("do"), CARDS)
    return page(
        request,
        desk,
        "board/bench",
        current="rest",
        bench=row,
        picked=request.GET.urlencode(),
        day=desk.today().isoformat(),
    )


@require_safe
@job_page
def handover(request: HttpRequest, desk: Desk) -> HttpResponse:
    """One page for two people to read together before one of them goes home."""
    return page(
        request,
        desk,
        "board/handover",
        current="rest",
        hand=hand_rows.handover(desk.judged, desk.today()),
    )


@require_safe
@job_page
def handover_pdf(request: HttpRequest, desk: Desk) -> HttpResponse:
    """The handover sheet, to be read together and signed by both."""
    row = hand_rows.handover(desk.judged, desk.today())
    return printed(request, desk, board_paper.handover_sheet(row, desk.judged), "handover")


@require_safe
@job_page
def bench_pdf(request: HttpRequest, desk: Desk) -> HttpResponse:
    """What to take to the bench, with boxes to tick."""
    row = hand_rows.bench_page(desk.judged, request.GET.getlist("do"), CARDS)
    return printed(request, desk, board_paper.bench_sheet(row, desk.judged), "bench")
