"""What the shop has changed since a job took its copy, and what it would change to take it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from rehang.book import shop
from rehang.sheets.shop_things import Offer
from rehang.trade.facts.items import CheckSheet
from rehang.trade.known.photos import item_words
from rehang.trade.terms.errors import Refused
from rehang.trade.terms.wording import on_day, upper_first
from rehang.web.shared.desk import Desk, SeeOther, job_page, page, refused, writes

__all__ = ["from_shop"]

_BOUNDS = (
    ("lower", "from"),
    ("upper", "to"),
    ("grade", ""),
    ("worst", "severity"),
    ("floor", "the"),
)

# What is in a list of the shop, by the kind of thing.
_LISTS = {
    "person": "People",
    "people-powers": "What papers allow",
    "meter": "Meters",
    "limit": "Limits",
    "part": "Parts",
    "recurring": "What recurs",
    "task": "Tasks",
    "group": "Torque groups",
}


@require_http_methods(["GET", "HEAD", "POST"])
@job_page
@writes
def from_shop(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Look at what the shop has otherwise; a post takes all of it into this job's book."""
    if request.method == "POST":
        try:
            done = shop.take(job=desk.job, by=desk.key, at=timezone.now())
        except Refused as reason:
            return refused(request, reason, 422, desk)
        sentence = "Taken from the shop." if done.entries else "There is nothing to take."
        request.session["said"] = {"sentence": sentence, "undo": ""}
        return SeeOther(reverse("web:board", args=[desk.job.slug]))
    found = shop.offered(desk.job)
    return page(
        request,
        desk,
        "shop/from_shop",
        current="limits",
        rows=list(_rows(found.things, desk.judged.facts.every_sheet)),
        verdicts=[(upper_first(item_words(item)), was, then) for item, was, then in found.verdicts],
        cannot=found.why_not,
    )


def _rows(things: tuple[Offer, ...], sheets: Mapping[str, CheckSheet]) -> Iterator[dict[str, Any]]:
    """A row for each thing: which list it is in, its name, and each field now and then."""
    for one in things:
        name = (
            one.theirs.get("name") or one.theirs.get("title") or _limit_name(one, sheets) or one.key
        )
        yield {
            "list": _LISTS.get(one.kind.name, upper_first(one.kind.name)),
            "name": str(name).replace("_", " "),
            "is_new": one.mine is None,
            "changes": [] if one.mine is None else [
                (upper_first(key.replace("_", " ")), _said(was), _said(then))
                for key, was, then in one.changes
            ],
        }  # fmt: skip


def _limit_name(one: Offer, sheets: Mapping[str, CheckSheet]) -> str:
    """What a limit is for, and what it asks; empty for any other thing."""
    item, check = str(one.theirs.get("item", "")), str(one.theirs.get("check", ""))
    if one.kind.name != "limit":
        return ""
    sheet = sheets.get(item)
    label = next((c.label for c in sheet.checks if c.name == check), check) if sheet else check
    bounds = [f"{said} {one.theirs[key]}" for key, said in _BOUNDS if key in one.theirs]
    return f"{item}, {label.lower()}: {', '.join(bounds)}"


def _said(value: Any) -> str:
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, date):
        return on_day(value)
    if isinstance(value, dict):
        return ", ".join(_said(one) for one in value.values()) or "nothing"
    if isinstance(value, list):
        return "; ".join(_said(one) for one in value) or "nothing"
    return str(value)
