"""The engine page: every group of items, the worst first."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from rehang.web.item import carried_rows, engine_rows, oil_rows
from rehang.web.shared.desk import Desk, job_page, page
from rehang.web.shared.mode import type_size
from rehang.web.shared.templatetags.bench import bench_mode

__all__ = ["engine"]

# What the address asks for to see only what nobody has read or looked at.
UNTOUCHED = "not-inspected"


@require_safe
@job_page
def engine(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Every group of the engine, worst first, with each item one tap further."""
    untouched_only = request.GET.get("show", "") == UNTOUCHED
    return page(
        request,
        desk,
        "item/engine",
        current="engine",
        engine=engine_rows.engine(desk.judged, untouched_only=untouched_only),
        carried=carried_rows.carried(desk.judged),
        oil=oil_rows.oil_table(desk.judged, type_size(bench_mode({"request": request}).name)),
        untouched_only=untouched_only,
        show=UNTOUCHED,
    )
