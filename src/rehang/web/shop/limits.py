"""Limits: the bound, and whose it is. A limit with no source is shown and judges nothing."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from rehang.book import queries, services
from rehang.sheets import edit
from rehang.trade.facts.limits import limit_to_file
from rehang.trade.life.oil_trend import OIL_HINT
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.wording import on_day, upper_first
from rehang.web.shared import pin_holds
from rehang.web.shared.desk import (
    Desk,
    SeeOther,
    asked_for,
    book_page,
    keeper,
    onward,
    page,
    writes,
)
from rehang.web.shop import limit_rows as rows_of
from rehang.web.shop.limit_forms import SOURCE, LimitForm, Subject, subject_of

FILE = "limits.toml"
# Where the last source that was entered at this visit is kept, for the next limit.
LAST = "limit_source"
# What is pressed to go on to the next, and to give every look without a limit the same one.
ON, LOOKS = "on", "looks"


@require_safe
@book_page
def limits(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Every limit with its source, by part and check; what has none is asked for apart."""
    rows = rows_of.limit_rows(desk.judged.facts)
    missing = [row for row in rows if row.is_missing]
    asked = request.GET.get("q", "").strip()[:100]
    # With none on file what is missing is all there is to see.
    only_missing = "none" in request.GET or len(missing) == len(rows)
    if asked:
        shown = rows_of.wanted(rows, asked)
    else:
        shown = missing if only_missing else [row for row in rows if not row.is_missing]
    table = rows_of.sourced(shown)
    return page(
        request,
        desk,
        "shop/limits",
        current="limits",
        asked=asked,
        only_missing=only_missing,
        parts=rows_of.parts(table.rows),
        count=len(table.rows),
        marks=table.marks,
        missing=missing,
        on_file=len(rows) - len(missing),
        thresholds=desk.judged.facts.thresholds.words,
        hint="" if asked or "none" in request.GET else OIL_HINT,
    )


@require_http_methods(["GET", "HEAD", "POST"])
@book_page
@writes
def limit(request: HttpRequest, desk: Desk, number: int) -> HttpResponse:
    """Change one limit. Who and when are written by the page."""
    tables = edit.tables(queries.files(desk.job)[FILE], "limit")
    if not 0 <= number < len(tables):
        raise BadInput("There is no such limit on file.")
    raw = tables[number]
    of = subject_of(str(raw["item"]), str(raw["check"]), desk.judged.facts)
    return _form(request, desk, of, raw, number)


@require_http_methods(["GET", "HEAD", "POST"])
@book_page
@writes
def new_limit(request: HttpRequest, desk: Desk, kind: str, check: str) -> HttpResponse:
    """Enter a limit for a check of a check sheet; its source is that of the last one entered."""
    of = subject_of(kind, check, desk.judged.facts)
    first: dict[str, Any] = _last_source(request, desk)
    if of.answer == "age":
        first["wants"] = {"type": request.GET.get("type", "")}
    return _form(request, desk, of, first, None)


@require_POST
@book_page
def let_go(request: HttpRequest, desk: Desk) -> HttpResponse:
    """End at once that a PIN holds at this visit."""
    pin_holds.let_go(request)
    return SeeOther(onward(request, desk))


def _last_source(request: HttpRequest, desk: Desk) -> dict[str, Any]:
    """Document, revision and page of the limit entered last: at this visit, else on file."""
    held = request.session.get(LAST)
    if isinstance(held, dict) and held.get("job") == desk.job.slug:
        return {key: held.get(key, "") for key in SOURCE}
    filed = [one for one in desk.judged.facts.limits if one.has_source]
    last = max(filed, key=lambda one: one.entered_on or date.min, default=None)
    return {key: getattr(last, key) for key in SOURCE} if last is not None else {}


def _form(
    request: HttpRequest, desk: Desk, of: Subject, on_file: Mapping[str, Any], number: int | None
) -> HttpResponse:
    form = LimitForm(request, of, on_file, desk.judged.facts)
    back = asked_for(request) or reverse("web:limits", args=[desk.job.slug])
    for_type = form.wants.get("type", "")
    if request.method == "POST":
        with form.refusing():
            answer = _file(request, desk, form, number)
            if answer is not None:
                return answer
            if request.POST.get("act") in (ON, LOOKS):
                facts = queries.judged(queries.book(desk.job.slug)).facts
                following = rows_of.after(
                    rows_of.limit_rows(facts), of.kind, of.name, form.cleaned_data.get("type", "")
                )
                return SeeOther(_address(request, desk, following) if following else back)
            return SeeOther(back)
    rows = rows_of.limit_rows(desk.judged.facts)
    following = rows_of.after(rows, of.kind, of.name, for_type)
    sheet = desk.judged.facts.every_sheet.get(of.kind)
    return page(
        request,
        desk,
        "shop/limit",
        status=form.status,
        current="limits",
        label=of.label,
        pictured=f"limit:{of.kind}.{of.name}",
        part=sheet.title if sheet is not None else rows_of.TORQUES,
        hint=of.check.hint if of.check is not None else "",
        is_new=number is None,
        entered=_entered(desk, on_file),
        back=back,
        from_reading=bool(asked_for(request)),
        following=rows_of.short_name(following) if following else "",
        skip=_address(request, desk, following) if following else "",
        other_looks=len(_other_looks(desk, of)) if number is None else 0,
        left=sum(1 for row in rows if row.is_missing),
        **form.shown,
    )


def _address(request: HttpRequest, desk: Desk, row: rows_of.LimitRow) -> str:
    """The form of a limit that is missing; afterwards the way leads where it would have led."""
    query = {"type": row.for_type, "next": asked_for(request)}
    asked = urlencode({key: value for key, value in query.items() if value})
    where = reverse("web:new_limit", args=[desk.job.slug, row.item, row.check])
    return f"{where}?{asked}" if asked else where


def _file(
    request: HttpRequest, desk: Desk, form: LimitForm, number: int | None
) -> HttpResponse | None:
    """File what was typed by whoever keeps the shop; the page that asks for their PIN, or None."""
    changes, of = form.changes(), form.subject
    # Whoever confirms it; their PIN is asked for before it is filed.
    entered: dict[str, edit.Value] = {
        "entered_by": request.POST.get("who", "") or desk.key,
        "entered_on": desk.today(),
    }
    given = {**{k: v for k, v in changes.items() if v is not None}, **entered}
    raw: dict[str, edit.Value] = {"item": of.kind, "check": of.name, **given}
    made = limit_to_file(
        raw, desk.judged.facts.every_sheet, lambda *keys: str(keys[-1]) if keys else ""
    )
    text = queries.files(desk.job)[FILE]
    if number is None:
        text = edit.add_limit(text, raw)
    else:
        text = edit.change_limit(text, number, {**changes, **entered})
    others = _other_looks(desk, of) if request.POST.get("act") == LOOKS else []
    for row in others:
        text = edit.add_limit(text, {"item": row.item, "check": row.check, **given})
    who, asked = keeper(request, desk, "change a limit")
    if asked is not None:
        return asked
    services.file_text(job=desk.job, name=FILE, text=text, by=who, at=timezone.now())
    request.session[LAST] = {
        "job": desk.job.slug, **{key: form.cleaned_data.get(key, "") for key in SOURCE}
    }  # fmt: skip
    sentence = f"{upper_first(of.label)} is on file: {rows_of.bound_words(made)}."
    if others:
        sentence += f" So are {len(others)} other looks."
    if not made.has_source:
        sentence += " It names no document and revision, so it judges nothing."
    request.session["said"] = {"sentence": sentence, "undo": ""}
    return None


def _other_looks(desk: Desk, of: Subject) -> list[rows_of.LimitRow]:
    """The looks that have no limit, but for the one in hand; none where that is no look."""
    if of.answer != "look":
        return []
    return [
        row
        for row in rows_of.limit_rows(desk.judged.facts)
        if row.is_missing and row.is_look and (row.item, row.check) != (of.kind, of.name)
    ]


def _entered(desk: Desk, on_file: Mapping[str, Any]) -> str:
    by, on = on_file.get("entered_by"), on_file.get("entered_on")
    if not by:
        return ""
    when = f", {on_day(on)}" if isinstance(on, date) else ""
    return f"{desk.judged.facts.person(str(by))}{when}"
