"""The engine page, the page of any item on it, and the forms its checks need."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from rehang.trade.facts.items import Check
from rehang.trade.facts.readings import Unlikely, unlikely
from rehang.trade.known.state import understand
from rehang.trade.telling.sentences import DISPOSALS
from rehang.trade.telling.sheet_parts import status_name
from rehang.trade.terms.entries import Entry, is_a, new_entry
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.kinds.readings import ReadingTaken
from rehang.trade.verdicts.item_verdict import VERDICTS, ItemVerdict
from rehang.trade.work.names import item_label
from rehang.web.item import engine_rows
from rehang.web.item import rows as item_rows
from rehang.web.item import views as plug
from rehang.web.item.forms import OilForm, PressureForm
from rehang.web.shared import meters as meter_rows
from rehang.web.shared.desk import (
    Desk,
    SeeOther,
    entry_id,
    job_page,
    onward,
    page,
    say,
    writes,
)
from rehang.web.shared.templatetags.pages import new_meter_url

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
        oil=engine_rows.oil_table(desk.judged),
        untouched_only=untouched_only,
        show=UNTOUCHED,
    )


@require_safe
@job_page
def item(request: HttpRequest, desk: Desk, kind: str, name: str) -> HttpResponse:
    """The page of one item; a plug keeps its own."""
    if kind == "plug":
        return plug.item(request, slug=desk.job.slug, kind=kind, name=name)
    verdict = desk.judged.item(f"{kind}:{name}")
    return page(
        request,
        desk,
        "item/item",
        current="engine",
        story=item_rows.story(desk.judged, verdict, request.GET.get("chart", "")),
        part=engine_rows.item_page(desk.judged, verdict),
        verdicts=[(v, status_name(v)) for v in VERDICTS],
        disposals=DISPOSALS,
        today=desk.today().isoformat(),
        look=_look(desk, kind),
    )


def _look(desk: Desk, kind: str) -> str:
    sheet = desk.judged.facts.sheets.get(kind)
    return sheet.look.label.lower() if sheet is not None else "look"


@require_http_methods(["GET", "HEAD", "POST"])
@job_page
@writes
def read(request: HttpRequest, desk: Desk, kind: str, name: str, check: str) -> HttpResponse:
    """Take one reading; a compression check has a form of its own."""
    verdict = desk.judged.item(f"{kind}:{name}")
    sheet = desk.judged.facts.sheets.get(kind)
    if sheet is None:
        raise BadInput(f"There is no check sheet for a {kind}.")
    one = sheet.check(check)
    if one.method == "age":
        raise BadInput(
            f"{one.label} comes from the dates on file and the rule on file; "
            "there is nothing to read."
        )
    if one.method == "counted":
        raise BadInput(f"{one.label} is counted: write it under COUNT PIECES.")
    if one.method != "compression":
        return plug.read(request, slug=desk.job.slug, kind=kind, name=name, check=check)
    return _pressure(request, desk, verdict, one)


def _pressure(request: HttpRequest, desk: Desk, verdict: ItemVerdict, check: Check) -> HttpResponse:
    """Two reads of a cylinder with all that is written down beside them, in one go."""
    asked = engine_rows.pressure_form(desk.judged, check, desk.today())
    back = onward(request, desk, "back")
    if back == reverse("web:board", args=[desk.job.slug]):
        back = reverse("web:item", args=[desk.job.slug, verdict.kind, verdict.name])
    form = PressureForm(request, desk.judged.facts.meters)
    doubt: Unlikely | None = None
    if "new_meter" in request.POST:
        way = new_meter_url(desk.job.slug, verdict.kind, check.name, form.address(back=back))
        return SeeOther(way)
    if request.method == "POST":
        with form.refusing():
            entries = _reads(request, desk, verdict, check, form.checked())
            doubt = _doubt(desk, verdict, check, entries)
            if doubt is not None and request.POST.get("kept_as_keyed") != "yes":
                raise BadInput(f"{form.data['held'].strip()} is unlikely. {doubt.sentence}", "held")
            fresh = [entry for entry in entries if not desk.has(entry.id)]
            if fresh:
                desk.write(fresh)
            say(request, desk, entries[-1])
            return SeeOther(back)
    meters = meter_rows.meter_choices(desk.judged, check, form["meter"].value() or "")
    return page(
        request,
        desk,
        "item/pressure",
        current="engine",
        status=form.status,
        label=item_label(desk.judged.facts, verdict.item),
        check=check,
        call=verdict.call(check.name),
        asked=asked,
        meters=meters,
        doubt=doubt if form.sentence else None,
        back=back,
        **form.shown,
        cautions=desk.judged.facts.sheets[verdict.kind].cautions,
    )


def _reads(
    request: HttpRequest, desk: Desk, verdict: ItemVerdict, check: Check, typed: dict[str, str]
) -> list[Entry]:
    meter, supply = typed["meter"], typed["supply"]
    conditions = {
        name: typed[name]
        for name in ("state", "minutes", "orifice", "path", "path_note", "station")
        if typed[name] and name in check.asks
    }
    common: dict[str, Any] = {"at": desk.now(), "by": desk.key}
    beside: dict[str, Any] = {"with": conditions, **common}
    entries = []
    if typed["master"]:
        written = f"{typed['master']} psi"
        entries.append(
            new_entry(
                "master",
                id=entry_id(request, "master", meter, written),
                meter=meter,
                written=written,
                **common,
            )
        )
    for number, value in enumerate(one for one in (typed["held"], typed["again"]) if one):
        entries.append(
            new_entry(
                "reading",
                id=entry_id(request, "reading", str(number), value, supply, meter, str(conditions)),
                item=verdict.item,
                check=check.name,
                meter=meter,
                written=f"{value}/{supply} psi",
                kept_as_keyed=True if request.POST.get("kept_as_keyed") == "yes" else None,
                **beside,
            )
        )
    return entries


def _doubt(desk: Desk, verdict: ItemVerdict, check: Check, entries: list[Entry]) -> Unlikely | None:
    """Whether a pressure looks like a slip beside the other cylinders."""
    calls = [one.call(check.name) for one in desk.judged.items if one.item != verdict.item]
    others = [call.value for call in calls if call is not None and call.value is not None]
    for entry in entries:
        if not is_a(entry, ReadingTaken):
            continue
        _, reading = understand(entry, desk.judged.facts.sheets, desk.judged.facts.meters)
        doubt = unlikely(check, reading.value, others) if reading.value is not None else None
        if doubt is not None:
            return doubt
    return None


@require_http_methods(["GET", "HEAD", "POST"])
@job_page
@writes
def oil(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Every oil sample on file and what they say together; a form for the next one."""
    answering = request.POST.get("sample") or request.GET.get("sample", "")
    form = OilForm(request, answering=bool(answering))
    if request.method == "POST":
        with form.refusing():
            entry = _sample(request, desk, form, answering)
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
        oil=engine_rows.oil_table(desk.judged),
        bottles=engine_rows.bottles(desk.judged),
        answering=answering,
        **form.shown,
    )


def _sample(request: HttpRequest, desk: Desk, form: OilForm, answering: str) -> Entry:
    """The sample, or what the laboratory found of the bottle that was sent to it before."""
    told, found = form.sample(), form.ppm()
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
