"""Photos for whatever page shows an item or a finding."""

from __future__ import annotations

from django import template

from rehang.decode.pdfs import MOST_BYTES, MOST_PAGES
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.photos import of_a_paper
from rehang.web.shared.photo_rows import PhotoRow, photo_rows

register = template.Library()


@register.simple_tag
def photos_of_item(judged: JudgedJob, item: str) -> list[PhotoRow]:
    """The photos of an item, those of its findings and readings among them."""
    return photo_rows(judged, item=item)


@register.simple_tag
def photos_of_entry(judged: JudgedJob, entry: str) -> list[PhotoRow]:
    """The photos that belong to one finding or reading."""
    return photo_rows(judged, entry=entry) if entry else []


@register.filter
def takes_pdf(item: str, entry: str = "") -> dict[str, int]:
    """How much of a PDF may be kept with it: a meter's certificate, a limit's page; else nothing."""
    if entry or not of_a_paper(item):
        return {}
    return {"pages": MOST_PAGES, "megabytes": MOST_BYTES // 1_000_000}
