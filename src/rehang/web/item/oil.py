"""The samples of the engine's oil, and the form for the next one."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from rehang.trade.terms.entries import Entry, new_entry
from rehang.trade.terms.errors import BadInput
from rehang.web.item import oil_rows
from rehang.web.item.forms import OilForm
from rehang.web.shared.desk import (
    Desk,
    SeeOther,
    entry_id,
    job_page,
    page,
    say,
    writes,
)
from rehang.web.shared.mode import type_size
from rehang.web.shared.templatetags.bench import bench_mode

__all__ = ["oil"]


@require_http_methods(["GET", "HEAD", "POST"])
@job_page
@writes
def oil(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Every oil sample on file and what they say together; a form for the next one."""
    form = OilForm(request)
    if request.method == "POST":
        with form.refusing():
            entry = _sample(request, desk, form)
            if not desk.has(entry.id):
                desk.write([entry])
            say(request, desk, entry)
            return SeeOther(reverse("web:oil", args=[desk.job.slug]))
    return page(
        request,
        desk,
        "item/oil",
        current="engine",
        status=form.status,
        oil=oil_rows.oil_table(desk.judged, type_size(bench_mode({"request": request}).name)),
        bottles=oil_rows.bottles(desk.judged),
        answering=form.answering,
        **form.shown,
    )


def _sample(request: HttpRequest, desk: Desk, form: OilForm) -> Entry:
    """The sample, or what the laboratory found of the bottle that was sent to it before."""
    told, found = form.sample(), form.ppm()
    answering = form.answering
    if answering:
        if not found:
            raise BadInput("Enter what the laboratory found of one element at least.", "ppm-Fe")
        return new_entry(
            "analysed",
            at=desk.now(),
            by=desk.key,
            id=entry_id(request, "analysed", answering, str(sorted(found.items()))),
            sample=answering,
            ppm=found,
            lab=told.get("lab", ""),
            flag=told.get("flag", ""),
        )
    # Without figures the bottle is on its way: the laboratory's come in an entry of their own.
    fields: dict[str, Any] = {**told, "ppm": found} if found else {**told}
    return new_entry(
        "sampled",
        at=desk.now(),
        by=desk.key,
        id=entry_id(request, "sampled", str(sorted(fields.items()))),
        item=_oil_item(desk),
        **fields,
    )


def _oil_item(desk: Desk) -> str:
    """The item the samples of this job are kept under."""
    for one in desk.judged.state.items.values():
        if one.samples or one.bottles:
            return one.id
    return "oil:engine"
