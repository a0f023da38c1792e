"""The two pages of an item: one that decides, and one that writes."""

from __future__ import annotations

from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_safe

from rehang.book import outlook
from rehang.book.models import Job
from rehang.trade.telling.sentences import DISPOSALS
from rehang.trade.telling.sheet_parts import status_name
from rehang.trade.verdicts.item_verdict import VERDICTS
from rehang.web.item import rows, write_rows
from rehang.web.monitor.rows import of_cylinder
from rehang.web.shared.desk import Desk, job_page, page
from rehang.web.shared.mode import type_size
from rehang.web.shared.photo_rows import PhotoRow, photo_rows
from rehang.web.shared.templatetags.bench import bench_mode
from rehang.web.work import fit_rows

__all__ = ["item", "plug", "write"]


@require_safe
@job_page
def plug(request: HttpRequest, desk: Desk, name: str) -> HttpResponse:
    """What a plug comes to."""
    return _decide(request, desk, "plug", name)


@require_safe
@job_page
def item(request: HttpRequest, desk: Desk, kind: str, name: str) -> HttpResponse:
    """What any item of the job comes to."""
    return _decide(request, desk, kind, name)


def _decide(request: HttpRequest, desk: Desk, kind: str, name: str) -> HttpResponse:
    """The verdict, the one reason, each check with its past, and what is done next."""
    verdict = desk.judged.item(f"{kind}:{name}")
    size = type_size(bench_mode({"request": request}).name)
    shown = rows.item_page(desk.judged, verdict, size)
    fit = fit_rows.fit_of_item(verdict.item, desk.judged)
    rework = write_rows.to_rework(desk.judged, verdict)
    return page(
        request,
        desk,
        "item/item",
        current=_under(kind),
        item=shown,
        part=shown.head,
        rework=rework,
        next_act=("", "") if rework is not None else _next_act(desk, shown, fit),
        verdicts=[(v, status_name(v)) for v in VERDICTS],
        fit=fit,
        years=_years(desk, verdict.item),
        flight=of_cylinder(desk.judged, name, size) if kind == "cylinder" else None,
    )


def _years(desk: Desk, item: str) -> list[tuple[Job, PhotoRow]]:
    """Its newest photo of each year over the jobs it is in, to be looked at side by side.

    None where they are all of one year: then there is nothing to compare.
    """
    if not photo_rows(desk.judged, item=item):
        return []
    found: dict[int, tuple[Job, PhotoRow]] = {}
    for job, judged in outlook.books_with(desk.job, item, person=desk.key):
        for row in reversed(photo_rows(judged, item=item)):
            found[row.year] = (job, row)
    return [held for _, held in sorted(found.items())] if len(found) > 1 else []


@require_safe
@job_page
def write(request: HttpRequest, desk: Desk, kind: str, name: str) -> HttpResponse:
    """All that may be written about an item: readings, looks, what was done to it."""
    verdict = desk.judged.item(f"{kind}:{name}")
    shown = write_rows.write_page(desk.judged, verdict)
    return page(
        request,
        desk,
        "item/write",
        current=_under(kind),
        item=shown,
        part=shown.head,
        fit=fit_rows.fit_of_item(verdict.item, desk.judged),
        disposals=DISPOSALS,
        today=desk.today().isoformat(),
    )


def _under(kind: str) -> str:
    """What of the job's pages the item stands under."""
    return "tray" if kind == "plug" else "engine"


def _next_act(desk: Desk, shown: rows.ItemPage, fit: fit_rows.FitRow | None) -> tuple[str, str]:
    """Address and words of what is done next, where it is one thing."""
    head = shown.head
    where = [desk.job.slug, head.kind, head.name]
    writing = reverse("web:item_write", args=where)
    check, meter = rows.settling(desk.judged, desk.judged.item(head.item))
    if check:
        address = reverse("web:read", args=[*where, check])
        return f"{address}?{urlencode({'meter': meter})}", f"READ ON {meter}"
    if head.verdict == "REJECT":
        return (f"{writing}#becomes", "WHAT BECOMES OF IT") if not head.disposed else ("", "")
    if head.verdict == "KEEP":
        goes_in = fit is not None and fit.offers == head.item and not (fit.now or fit.stop)
        return (f"{writing}#h-fit", "PUT IT IN") if goes_in else ("", "")
    to_read = next((row for row in shown.checks if row.is_open and row.is_keyed), None)
    if to_read is None:
        return (f"{writing}#h-rework", "WORKED ON") if head.verdict == "REWORK" else ("", "")
    if to_read.kind == "look":
        return f"{writing}#h-seen", "LOOK"
    return reverse("web:read", args=[*where, to_read.check]), f"READ {to_read.label.upper()}"
