"""The engine page, the page of any item on it, and the forms its checks need."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from rehang.trade.facts.items import Check
from rehang.trade.facts.readings import Unlikely, unlikely
from rehang.trade.known.state import understand
from rehang.trade.life.oil_trend import ELEMENTS
from rehang.trade.telling.sentences import DISPOSALS
from rehang.trade.telling.sheet_parts import status_name
from rehang.trade.terms.entries import Entry, new_entry
from rehang.trade.terms.errors import BadInput, Refused
from rehang.trade.verdicts.item_verdict import VERDICTS, ItemVerdict
from rehang.web.item import engine_rows
from rehang.web.item import rows as item_rows
from rehang.web.item import views as plug
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
            f"{one.label} comes from the dates in engine.toml and the rule on file; "
            "there is nothing to read."
        )
    if one.method == "counted":
        raise BadInput(f"{one.label} is counted: write it under COUNT PIECES.")
    if one.method != "compression":
        return plug.read(request, slug=desk.job.slug, kind=kind, name=name, check=check)
    return _pressure(request, desk, verdict, one)


_FIRST = {
    "held": "",
    "again": "",
    "supply": "80",
    "master": "",
    "meter": "",
    "state": "",
    "minutes": "",
    "orifice": "",
    "path": "",
    "path_note": "",
    "station": "",
}


def _pressure(request: HttpRequest, desk: Desk, verdict: ItemVerdict, check: Check) -> HttpResponse:
    """Two reads of a cylinder with all that is written down beside them, in one go."""
    form = engine_rows.pressure_form(desk.judged, check, desk.today())
    back = onward(request, desk, "back")
    if back == reverse("web:board", args=[desk.job.slug]):
        back = reverse("web:item", args=[desk.job.slug, verdict.kind, verdict.name])
    typed = {key: request.POST.get(key, first).strip() for key, first in _FIRST.items()}
    field = sentence = ""
    doubt: Unlikely | None = None
    if request.method == "POST":
        try:
            entries = _reads(request, desk, verdict, check, typed)
            doubt = _doubt(desk, verdict, check, entries)
            if doubt is not None and request.POST.get("kept_as_keyed") != "yes":
                raise BadInput(f"{typed['held']} is unlikely. {doubt.sentence}", "held")
            fresh = [entry for entry in entries if not desk.has(entry.id)]
            if fresh:
                desk.write(fresh)
            say(request, desk, entries[-1])
            return SeeOther(back)
        except Refused as reason:
            sentence = reason.sentence
            place = reason.where
            field = place if place in _FIRST else "held"
    meters = meter_rows.meter_choices(desk.judged, check, typed["meter"])
    return page(
        request,
        desk,
        "item/pressure",
        current="engine",
        status=422 if sentence else 200,
        label=engine_rows.item_label(desk.judged.facts, verdict.item),
        check=check,
        call=verdict.call(check.name),
        form=form,
        meters=meters,
        typed=typed,
        doubt=doubt if sentence else None,
        field=field,
        sentence=sentence,
        back=back,
        cautions=desk.judged.facts.sheets[verdict.kind].cautions,
    )


def _psi(typed: dict[str, str], name: str, words: str) -> str:
    given = typed[name].removesuffix("psi").strip()
    if not given:
        raise BadInput(f"Enter {words}.", name)
    if not (given.isascii() and given.isdigit()):
        raise BadInput(f'"{typed[name]}" is not a pressure. Write whole psi, as in 74.', name)
    return given


def _reads(
    request: HttpRequest, desk: Desk, verdict: ItemVerdict, check: Check, typed: dict[str, str]
) -> list[Entry]:
    once = request.POST.get("once", "")
    meter, _, _ = typed["meter"].partition("|")
    if meter not in desk.judged.facts.meters:
        raise BadInput("Pick the tester that was used.", "meter")
    supply = _psi(typed, "supply", "the supply")
    held = [_psi(typed, "held", "what the cylinder held")]
    if typed["again"]:
        held.append(_psi(typed, "again", "the second read"))
    if not typed["state"]:
        raise BadInput("Pick hot or cold: a cold figure never clears a hot one.", "state")
    if not typed["orifice"]:
        raise BadInput("Pick the tester's orifice.", "orifice")
    if not typed["path"]:
        raise BadInput("Pick where the air was heard, or none.", "path")
    minutes = typed["minutes"]
    if minutes and not (minutes.isascii() and minutes.isdigit()):
        raise BadInput(f'"{minutes}" is not whole minutes. Write digits, as in 12.', "minutes")
    conditions = {
        name: typed[name]
        for name in ("state", "minutes", "orifice", "path", "path_note", "station")
        if typed[name] and name in check.asks
    }
    common: dict[str, Any] = {"at": desk.now(), "by": desk.key}
    beside: dict[str, Any] = {"with": conditions, **common}
    entries = []
    if typed["master"]:
        written = f"{_psi(typed, 'master', 'the master reading')} psi"
        entries.append(
            new_entry(
                "master",
                id=entry_id(once, "master", meter, written),
                meter=meter,
                written=written,
                **common,
            )
        )
    for number, value in enumerate(held):
        entries.append(
            new_entry(
                "reading",
                id=entry_id(once, "reading", str(number), value, supply, meter, str(conditions)),
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
        if entry.kind != "reading":
            continue
        _, reading = understand(entry, desk.judged.facts.sheets, desk.judged.facts.meters)
        doubt = unlikely(check, reading.value, others) if reading.value is not None else None
        if doubt is not None:
            return doubt
    return None


_SAMPLE = (
    ("on", "Drained on", "As in 2026-10-06"),
    ("engine_hours", "Engine hours then", "As in 1142.3"),
    ("oil_hours", "Hours on this oil", "As in 51"),
    ("added_qt", "Quarts added since the change", "As in 7; 0 where none was"),
    ("fill_qt", "Quarts filled at the change", "Left empty: the sump of engine.toml"),
    ("bottle", "Bottle", "Its number or label; may be left empty"),
    ("lab", "Laboratory", "May be left empty. Another one begins a new baseline"),
    ("oil", "Oil, its brand", "May be left empty. Another one begins a new baseline"),
    ("flag", "What was unusual about the sample", "As in cold, on the stand; may be left empty"),
)
_NUMBERS = ("engine_hours", "oil_hours", "added_qt", "fill_qt")
_ASK = {
    "on": "Enter the day it was drained.",
    "engine_hours": "Enter the engine hours when it was drained.",
    "oil_hours": "Enter the hours on this oil.",
    "added_qt": "Enter the quarts added since the change; 0 where none was.",
}


@require_http_methods(["GET", "HEAD", "POST"])
@job_page
@writes
def oil(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Every oil sample on file and what they say together; a form for the next one."""
    typed = {name: request.POST.get(name, "").strip() for name, _, _ in _SAMPLE}
    ppm = {element: request.POST.get(f"ppm-{element}", "").strip() for element in ELEMENTS}
    field = sentence = ""
    if request.method == "POST":
        try:
            entry = _sample(request, desk, typed, ppm)
            if not desk.has(entry.id):
                desk.write([entry])
            say(request, desk, entry)
            return SeeOther(reverse("web:oil", args=[desk.job.slug]))
        except Refused as reason:
            sentence = reason.sentence
            place = reason.where
            field = place if place in typed or place.startswith("ppm-") else "on"
    return page(
        request,
        desk,
        "item/oil",
        current="engine",
        status=422 if sentence else 200,
        oil=engine_rows.oil_table(desk.judged),
        bottles=engine_rows.bottles(desk.judged),
        answering=request.POST.get("sample") or request.GET.get("sample", ""),
        fields=[(name, label, hint, typed[name]) for name, label, hint in _SAMPLE],
        elements=[(f"ppm-{one}", one, source, ppm[one]) for one, source in ELEMENTS.items()],
        field=field,
        sentence=sentence,
    )


def _sample(request: HttpRequest, desk: Desk, typed: dict[str, str], ppm: dict[str, str]) -> Entry:
    fields: dict[str, Any] = {}
    if request.POST.get("sample"):
        return _analysis(request, desk, typed, ppm)
    for name, given in typed.items():
        if not given:
            if name in _ASK:
                raise BadInput(_ASK[name], name)
            continue
        fields[name] = _number(given, name) if name in _NUMBERS else given
    fields["ppm"] = _ppm(ppm)
    if not fields["ppm"]:
        # The bottle is on its way: the laboratory's figures come in an entry of their own.
        del fields["ppm"]
    once = request.POST.get("once", "")
    return new_entry(
        "sampled",
        at=desk.now(),
        by=desk.key,
        id=entry_id(once, "sampled", str(sorted(fields.items()))),
        item=_oil_item(desk),
        **fields,
    )


def _ppm(ppm: dict[str, str]) -> dict[str, Any]:
    return {
        element: given if given.startswith("<") else _number(given, f"ppm-{element}")
        for element, given in ppm.items()
        if given
    }


def _analysis(
    request: HttpRequest, desk: Desk, typed: dict[str, str], ppm: dict[str, str]
) -> Entry:
    """What the laboratory found of a bottle that was sent to it before."""
    sample, found = request.POST["sample"], _ppm(ppm)
    if not found:
        raise BadInput("Enter what the laboratory found of one element at least.", "ppm-Fe")
    return new_entry(
        "analysed",
        at=desk.now(),
        by=desk.key,
        id=entry_id(request.POST.get("once", ""), "analysed", sample, str(sorted(found.items()))),
        sample=sample,
        ppm=found,
        lab=typed["lab"],
        flag=typed["flag"],
    )


def _oil_item(desk: Desk) -> str:
    """The item the samples of this job are kept under."""
    for one in desk.judged.state.items.values():
        if one.samples or one.bottles:
            return one.id
    return "oil:engine"


def _number(given: str, name: str) -> float:
    try:
        number = float(given)
    except ValueError:
        number = float("nan")
    if not 0 <= number < float("inf"):
        raise BadInput(f'"{given}" is not a number of 0 or more. Write digits, as in 32.', name)
    return number
