"""What a page asks for by itself: the worker that keeps pages, which pages, how far the book is."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from rehang.book import members, queries
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.state import item_kind, item_name
from rehang.trade.terms.errors import BadInput
from rehang.web.away.presence import Presence
from rehang.web.shared.desk import Desk, job_page, refused

__all__ = ["ahead", "so_far", "worker"]

# One of each job; what stands for one thing of it comes after.
PAGES = (
    "board", "tray", "rest", "engine", "read_back", "book", "photos", "places", "parts", "torque",
    "run", "run_begin", "plugs_out", "bench", "handover", "paper", "blank_pdf", "bench_pdf",
)  # fmt: skip

_PRESENCE = Presence()


@cache
def _worker() -> str:
    return (Path(__file__).parent / "static/away/worker.js").read_text("utf-8")


@require_safe
def worker(request: HttpRequest) -> HttpResponse:
    """The worker stands at the root, for it keeps the pages of every place below it."""
    return HttpResponse(_worker(), content_type="text/javascript; charset=utf-8")


@require_safe
@job_page
def ahead(request: HttpRequest, desk: Desk) -> HttpResponse:
    """The pages of a job that a phone keeps, those that are worked on first."""
    return JsonResponse({"urls": _urls(desk.job.slug, desk.judged)})


def _urls(slug: str, judged: JudgedJob) -> list[str]:
    def of(name: str, *more: str) -> str:
        return reverse(f"web:{name}", args=[slug, *more])

    found = [of(name) for name in PAGES]
    found += [of("task", task.id) for task in judged.facts.tasks.values()]
    found += [of("torque_group", group) for group in judged.facts.torque_groups]
    for one in judged.items:
        kind, name = item_kind(one.item), item_name(one.item)
        found.append(of("plug", name) if kind == "plug" else of("item", kind, name))
        found.append(of("item_write", kind, name))
    for hole in judged.facts.layout.walk:
        held = judged.at(hole)
        if held is not None:
            found += [of("why", hole, call.check) for call in held.calls]
    return found


@require_safe
@login_required
def so_far(request: HttpRequest, slug: str) -> HttpResponse:
    """How far the book is, what the clock of the shop says (seconds since 1970), and who is where.

    Every open page asks, so nothing is judged for it. ``at`` is the hole that the asking page is at.
    """
    member = members.member_of(request.user)
    try:
        job = queries.job_for(slug, member.key if member is not None else "")
    except BadInput as reason:
        return refused(request, reason, 404)
    others = []
    at = request.GET.get("at")
    if member is not None and at is not None:
        others = _PRESENCE.others(job.pk, member.key, member.name, at)
    return JsonResponse({"head": job.head_seq, "now": timezone.now().timestamp(), "others": others})
