"""Work found: the list with its form, one piece of it, and the page for the owner."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from rehang.trade.gate.powers import AS_OWNER
from rehang.trade.known.extras import Extra, extra_of
from rehang.trade.terms.entries import Entry, canonical, new_entry
from rehang.trade.terms.errors import BadInput, Refused
from rehang.trade.terms.kinds.extra import HOWS
from rehang.web.extra import rows
from rehang.web.extra.forms import FoundForm, hours_text, money_text, part_named
from rehang.web.shared.access import PinBox, pin_box
from rehang.web.shared.desk import (
    Desk,
    SeeOther,
    entry_id,
    job_page,
    keep,
    page,
    say,
    send_back,
    writes,
)
from rehang.web.shared.paper import printed

__all__ = ["extra", "extra_ask", "extra_owner", "extra_pdf", "extras"]

ON_THIS_PAGE = HOWS[0]


@require_http_methods(["GET", "HEAD", "POST"])
@job_page
@writes
def extras(request: HttpRequest, desk: Desk) -> HttpResponse:
    """All work found, and the form that enters one more."""
    form = FoundForm(request, desk.judged.facts)
    if request.method == "POST":
        with form.refusing():
            entry = _entry(request, desk, "work_found", form.data_of(desk.judged))
            if not desk.has(entry.id):
                desk.write([entry])
            say(request, desk, entry)
            return SeeOther(reverse("web:extra", args=[desk.job.slug, entry.id]))
    found = rows.extra_rows(desk.judged)
    return page(
        request,
        desk,
        "extra/extras",
        status=form.status,
        current="rest",
        rows=found,
        waiting=[row for row in found if row.is_waiting],
        opened=bool(form.sentence or "what" in request.GET or not found),
        owner=rows.owner_name(desk.judged),
        hows=HOWS,
        sign=desk.judged.facts.shop.currency,
        has_rate=desk.judged.facts.shop.labour_per_hour is not None,
        parts=desk.judged.facts.parts.values(),
        **form.shown,
    )


def _entry(request: HttpRequest, desk: Desk, kind: str, data: dict[str, Any]) -> Entry:
    told = {name: value for name, value in data.items() if value not in ("", [])}
    own = entry_id(request, kind, canonical(told))
    return new_entry(kind, at=desk.now(), by=desk.key, id=own, **told)


@require_http_methods(["GET", "HEAD", "POST"])
@job_page
@writes
def extra(request: HttpRequest, desk: Desk, extra: str) -> HttpResponse:
    """One piece of work found: its price, the owner's word, and estimate against actual."""
    one = _one(desk, extra)
    here = reverse("web:extra", args=[desk.job.slug, one.id])
    if request.method == "POST":
        return _spend(request, desk, one, here)
    return page(
        request,
        desk,
        "extra/extra",
        current="rest",
        row=rows.extra_row(one, desk.judged),
        compared=rows.compare_rows(one),
        spent=one.spent,
        warranties=[
            due for due in desk.judged.due if due.id in {f"warranty-{e.id}" for e in one.warranties}
        ],
        parts=desk.judged.facts.parts.values(),
        sign=one.told.currency,
    )


def _one(desk: Desk, extra: str) -> Extra:
    one = extra_of(desk.judged.facts, desk.judged.state, extra)
    if one is None:
        raise BadInput("There is no such work found in this book, or it is struck.")
    return one


def _spend(request: HttpRequest, desk: Desk, one: Extra, here: str) -> HttpResponse:
    """Hours, something bought, or parts off the shelf: whichever the form is filled with."""
    typed = {
        name: request.POST.get(name, "").strip()
        for name in ("hours", "what", "cost", "part", "number")
    }
    try:
        entries = []
        spent = {"extra": one.id}
        if typed["hours"]:
            spent["hours"] = hours_text(typed["hours"], "hours")
        if typed["cost"] or typed["what"]:
            if not typed["cost"]:
                raise BadInput(f"Write what {typed['what']} cost.", "cost")
            spent |= {
                "cost": money_text(typed["cost"], "What it cost", "cost"),
                "what": typed["what"],
            }
        if len(spent) > 1:
            entries.append(_entry(request, desk, "extra_spent", spent))
        if typed["part"]:
            number = typed["number"] or "1"
            if not (number.isascii() and number.isdigit() and len(number) < 6):
                raise BadInput(f'"{number}" is not a whole number. Write digits.', "number")
            part = part_named(typed["part"], desk.judged.facts)
            told = {"part": part, "number": int(number), "extra": one.id}
            entries.append(_entry(request, desk, "used", told))
        if not entries:
            raise BadInput("Write the hours, the part, or what was bought.", "hours")
        fresh = [entry for entry in entries if not desk.has(entry.id)]
        if fresh:
            desk.write(fresh)
    except Refused as reason:
        return send_back(request, here, "spent", reason, typed, fields=typed)
    say(request, desk, entries[0])
    return SeeOther(here)


@require_POST
@job_page
@writes
def extra_ask(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Write that work found was put before the owner, all that waits or what is ticked."""
    onto = reverse("web:extras", args=[desk.job.slug])
    typed = {name: request.POST.get(name, "").strip() for name in ("to", "how")}
    try:
        told = {"extras": request.POST.getlist("extra"), **typed}
        entry = _entry(request, desk, "extra_sent", {"extras": [], **told})
        if not desk.has(entry.id):
            desk.write([entry])
    except Refused as reason:
        return send_back(request, onto, "ask", reason, typed, fields=typed)
    say(request, desk, entry)
    return SeeOther(onto)


@sensitive_post_parameters("pin")
@require_http_methods(["GET", "HEAD", "POST"])
@job_page
@writes
def extra_owner(request: HttpRequest, desk: Desk) -> HttpResponse:
    """For the owner: what was found, why, with photos and price, and the answer to each."""
    here = reverse("web:extra_owner", args=[desk.job.slug])
    if request.method == "POST":
        return _answer(request, desk, here)
    found = [row for row in rows.extra_rows(desk.judged) if row.is_open]
    return page(
        request,
        desk,
        "extra/owner",
        current="rest",
        waiting=[(row, _box(desk, row.id)) for row in found if row.is_waiting],
        answered=[(row, _box(desk, row.id)) for row in found if not row.is_waiting],
        owner=rows.owner_name(desk.judged),
        engine=_engine(desk),
        hows=HOWS,
    )


def _box(desk: Desk, extra: str) -> PinBox:
    """Who of the shop's list may answer as the owner, each with their own PIN."""
    return pin_box(desk.judged, desk.key, AS_OWNER, desk.today(), f"answer-{extra}")


def _answer(request: HttpRequest, desk: Desk, here: str) -> HttpResponse:
    typed = {name: request.POST.get(name, "").strip() for name in ("name", "how", "note")}
    one = _one(desk, request.POST.get("extra", ""))
    form = f"answer-{one.id}"
    # Of a person of the list the PIN says who it is; of anyone else the name that is written.
    who = (request.POST.get("who", "") or desk.key) if "pin" in request.POST else ""
    asked = {"person": who} if who else {"to": typed["name"]}
    named = {"person": who} if who else {"name": typed["name"]}
    how = typed["how"] or ON_THIS_PAGE
    answer = request.POST.get("answer", "")
    try:
        if not answer:
            raise BadInput("Pick ACCEPT or DECLINE.")
        said = {"extra": one.id, "answer": answer, "how": how, "note": typed["note"]}
        entries = [_entry(request, desk, "owner_answered", said | named)]
        if not one.sent:
            told = {"extras": [one.id], "how": how, **asked}
            entries.insert(0, _entry(request, desk, "extra_sent", told))
        again = keep(request, desk, entries)
        if again is not None:
            return again
    except Refused as reason:
        return send_back(request, here, form, reason, typed, fields=(*typed, "pin"))
    say(request, desk, entries[-1])
    return SeeOther(here)


def _engine(desk: Desk) -> str:
    engine = desk.judged.facts.engine
    return " ".join(str(engine.get(key, "")) for key in ("engine", "serial")).strip()


@require_safe
@job_page
def extra_pdf(request: HttpRequest, desk: Desk) -> HttpResponse:
    """The page for the owner on paper."""
    return printed(request, desk, rows.owner_sheet(desk.judged, _engine(desk)), "work-found")
