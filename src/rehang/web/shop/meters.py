"""Meters: what each is worth and when it is due; changing that, adding one, proving one."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from urllib.parse import parse_qsl, urlencode, urlsplit

from django.http import HttpRequest, HttpResponse
from django.urls import Resolver404, resolve, reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from rehang.book import queries, services
from rehang.book.shop import used_elsewhere
from rehang.sheets import edit
from rehang.trade.facts.items import Check
from rehang.trade.facts.meters import METER_KINDS, meter_from
from rehang.trade.known.meter_choice import why_not
from rehang.trade.terms.errors import BadInput
from rehang.trade.verdicts.leaks import notes_on_tester
from rehang.web.shared.desk import Desk, SeeOther, asked_for, book_page, keeper, page, writes
from rehang.web.shared.forms import BenchForm, TextField
from rehang.web.shop import rows as shop_rows
from rehang.web.shop.meter_forms import DUE_HINT, MakeForm, due_day
from rehang.web.shop.meter_makes import MAKES, Make, make_of, reads
from rehang.web.torque.rows import doubt_rows, use_rows

FILE = "meters.toml"
# The pages that take the meter that their address names, and the name that it has there.
TAKE_METER = {"tray": "meter", "read": "meter", "run": "meter", "torque_group": "wrench"}
# What makes up the calibration that ``entered_on`` dates.
CALIBRATION = ("due", "calibrated_by")
# What is written of a meter found out of tolerance: (key, label, hint).
_FOUND = (
    ("reason", "Who found it, and against what", "As in the laboratory, against its standard"),
    ("off", "How much it was out, as found", "As in 6 % low"),
    ("setting", "At which setting or reading", "As in 300 in-lb"),
    ("certificate", "Certificate", "The number of the one that says so"),
    ("on", "Found on, if not today", "As in 2026-10-22"),
    ("good", "Last known good on, by its certificate before", "As in 2026-03-14. Empty: not known"),
)


class MeterForm(BenchForm):
    """What the shop may change about a meter on file."""

    fallback = "due"
    name = TextField("Name", asks="Enter the name of the meter.")
    due = TextField(
        "Calibration due",
        f"{DUE_HINT}. A month or quarter means its last day. Empty: none on record.",
        check=due_day,
        short=True,
    )
    calibrated_by = TextField("Calibrated by")
    note = TextField("Note")


@require_safe
@book_page
def meters(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Every meter and how it stands today."""
    rows = shop_rows.meter_rows(desk.judged, desk.today())
    return page(request, desk, "shop/meters", current="meters", rows=rows)


@require_http_methods(["GET", "HEAD", "POST"])
@book_page
@writes
def meter(request: HttpRequest, desk: Desk, name: str) -> HttpResponse:
    """One meter: its due date, who calibrated it, and the as-found check."""
    text = queries.files(desk.job)[FILE]
    raw = next((one for one in edit.tables(text, "meter") if one.get("id") == name), None)
    if raw is None:
        raise BadInput(f'There is no meter "{name}" on file.')
    keys = ("name", "due", "calibrated_by", "note")
    on_file = {key: str(raw.get(key, "")) for key in keys}
    form = MeterForm(request, on_file)
    if request.method == "POST":
        with form.refusing():
            typed = form.checked()
            changes: dict[str, edit.Value | None] = {k: v or None for k, v in typed.items()}
            if any(typed[key] != on_file[key] for key in CALIBRATION):
                # DESIGN 4b, 15: it counts from the day it is put in.
                changes["entered_on"] = desk.today()
            asked = _file(request, desk, edit.change_meter(text, name, changes))
            if asked is not None:
                return asked
            request.session["said"] = {"sentence": f"{name} is filed as you wrote it.", "undo": ""}
            return SeeOther(reverse("web:meter", args=[desk.job.slug, name]))
    rows = shop_rows.meter_rows(desk.judged, desk.today())
    return page(
        request,
        desk,
        "shop/meter",
        status=form.status,
        current="meters",
        row=next(row for row in rows if row.id == name),
        meter=desk.judged.facts.meters[name],
        uses=use_rows(desk.judged, desk.judged.facts.meters[name]),
        doubts=doubt_rows(desk.judged, desk.judged.facts.meters[name]),
        tester=notes_on_tester(
            desk.judged.facts.meters[name], desk.judged.facts, desk.judged.state
        ),
        found_fields=_FOUND,
        elsewhere=used_elsewhere(desk.job, name, desk.key),
        filed=list(reversed(queries.revisions(desk.job, FILE)))[:5],
        **form.shown,
    )


@require_http_methods(["GET", "HEAD", "POST"])
@book_page
@writes
def new_meter(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Put a meter on file, first what it is called; with ``of`` say what one on file is good to."""
    given = request.POST if request.method == "POST" else request.GET
    held = _held(desk, request.GET.get("of", ""))
    make = MAKES.get(given.get("make", "")) or (_make_of(held) if held else None)
    check = _check(desk, request.GET.get("check", ""))
    if make is None:
        fit = [one for one in MAKES.values() if check is not None and reads(one, check)]
        return page(
            request,
            desk,
            "shop/new_meter",
            current="meters",
            check=check,
            fit=fit,
            others=[one for one in MAKES.values() if one not in fit],
        )
    form = MakeForm(
        request,
        make,
        held,
        check.use if check is not None else "",
        check.quantity.name if check is not None and check.quantity is not None else "",
    )
    if request.method == "POST":
        with form.refusing():
            asked, name = _file_made(request, desk, form, held)
            if asked is not None:
                return asked
            sentence, onto = _chosen_on(request, desk, name, check)
            request.session["said"] = {"sentence": sentence, "undo": ""}
            if request.POST.get("act") == "another":
                onto = f"{reverse('web:new_meter', args=[desk.job.slug])}?{_kept(request)}"
            return SeeOther(onto)
    return page(
        request,
        desk,
        "shop/new_meter",
        status=form.status,
        current="meters",
        make=make,
        of=held,
        back=asked_for(request) or reverse("web:meters", args=[desk.job.slug]),
        query=_kept(request),
        **form.shown,
    )


def _kept(request: HttpRequest) -> str:
    """The check that a meter is looked for, and where the way leads afterwards."""
    query = {name: request.GET.get(name, "") for name in ("check", "next", "of")}
    return urlencode({name: value for name, value in query.items() if value})


def _chosen_on(request: HttpRequest, desk: Desk, name: str, check: Check | None) -> tuple[str, str]:
    """What is said of the meter just filed, and where the way leads: there it is chosen.

    It is chosen for the check that it was asked for, where it can take it.
    """
    said, back = f"{name} is on file.", asked_for(request)
    if not back:
        return said, reverse("web:meters", args=[desk.job.slug])
    way = urlsplit(back)
    taken_as = _taken_as(way.path)
    if request.POST.get("act") == "another" or not taken_as:
        return said, back
    if check is None:
        query = dict(parse_qsl(way.query)) | ({taken_as: name} if taken_as == "wrench" else {})
        return said, f"{way.path}?{urlencode(query)}"
    facts = queries.judged(queries.job(desk.job.slug)).facts
    meter = facts.meters[name]
    reason = why_not(meter, check, facts.meters)
    if reason:
        return f"{said} {reason}", back
    # Of several ranges nobody but the person knows which one is set.
    ranges = [one.name for one in meter.ranges] or [""]
    query = dict(parse_qsl(way.query)) | {"meter": name, "range": ranges[0]}
    if len(ranges) > 1:
        said = f"{name} is on file. Choose its range for {check.label.lower()}."
        query["range"] = ""
    else:
        said = f"{name} is on file and chosen for {check.label.lower()}."
    return said, f"{way.path}?{urlencode(query | {'check': check.name})}"


def _taken_as(path: str) -> str:
    """By which name the page at a path takes a meter from its address; empty where it takes none."""
    try:
        return TAKE_METER.get(resolve(path).url_name or "", "")
    except Resolver404:
        return ""


def _held(desk: Desk, name: str) -> dict[str, Any] | None:
    if not name:
        return None
    tables = edit.tables(queries.files(desk.job)[FILE], "meter")
    found = next((one for one in tables if one.get("id") == name), None)
    if found is None:
        raise BadInput(f'There is no meter "{name}" on file.')
    return found


def _make_of(raw: Mapping[str, Any]) -> Make:
    use = [word.strip() for word in str(raw.get("use", "")).split(",")]
    kind, quantity = str(raw["kind"]), str(raw.get("quantity", ""))
    quantity = METER_KINDS[kind].quantity or quantity
    return make_of(kind, quantity, use, str(raw.get("orifice", "")))


def _check(desk: Desk, asked: str) -> Check | None:
    """The check that a meter is looked for: ``plug.gap``; None where none is named."""
    kind, _, name = asked.partition(".")
    sheet = desk.judged.facts.sheets.get(kind)
    return next((one for one in sheet.checks if one.name == name), None) if sheet else None


def _file_made(
    request: HttpRequest, desk: Desk, form: MakeForm, held: Mapping[str, Any] | None
) -> tuple[HttpResponse | None, str]:
    """File the meter; the page that asks for a PIN, or None, and the meter's id."""
    changes = form.changes(desk.today())
    raw = {k: v for k, v in {**(held or {}), **changes}.items() if v is not None}
    meter_from(raw, form.place_of)
    text, name = queries.files(desk.job)[FILE], str(raw["id"])
    if held is not None:
        text = edit.change_meter(text, name, changes)
    elif any(one.get("id") == name for one in edit.tables(text, "meter")):
        raise BadInput(f'There is a meter "{name}" already. Give this one its own id.', "id")
    else:
        text = edit.add_meter(text, raw)
    return _file(request, desk, text), name


def _file(request: HttpRequest, desk: Desk, text: str) -> HttpResponse | None:
    """File the meters by whoever keeps the shop; the page that asks for their PIN, or None."""
    who, asked = keeper(request, desk, "change the meters")
    if asked is None:
        services.file_text(job=desk.job, name=FILE, text=text, by=who, at=timezone.now())
    return asked
