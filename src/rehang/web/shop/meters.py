"""Meters: what each is worth and when it is due; changing that, adding one, proving one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from rehang.book import queries, services
from rehang.sheets import edit
from rehang.trade.facts.meters import METER_KINDS, meter_from
from rehang.trade.terms.entries import last_day
from rehang.trade.terms.errors import BadInput, Refused
from rehang.trade.terms.quantities import QUANTITIES
from rehang.trade.terms.wording import lower_first
from rehang.web.shared.desk import Desk, SeeOther, job_page, keeper, page, writes
from rehang.web.shop import rows as shop_rows
from rehang.web.torque.rows import doubt_rows, use_rows

FILE = "meters.toml"
MOST_RANGES = 4
# A tester gives no number, and a torque wrench measures torque: neither is asked what it measures.
NO_QUANTITY = ("tester", "torque wrench")
# What makes up the calibration that ``entered_on`` dates.
CALIBRATION = ("due", "calibrated_by")


@dataclass(frozen=True, slots=True)
class Field:
    """One field of a form, ready to show. ``kind`` is text, number or pick."""

    name: str
    label: str
    hint: str
    value: str
    wrong: str
    choices: tuple[tuple[str, str], ...] = ()
    short: bool = False


# kind of meter -> (key, label, hint, is a plain number)
_WORTH: Mapping[str, tuple[tuple[str, str, str, bool], ...]] = {
    "digital": (),
    "analog ohmmeter": (("percent_of_arc", "Good to, per cent of the arc", "As in 3", True),),
    "dial": (
        ("full_scale", "Full scale, with its unit", "As in 160 psi", False),
        ("percent_of_full_scale", "Good to, per cent of full scale", "As in 2", True),
        ("resolution", "Smallest step that can be read, with its unit", "As in 1 psi", False),
    ),
    "plus or minus": (
        ("accuracy", "Good to plus or minus, with its unit", "As in 0.001 in", False),
        ("resolution", "Smallest step that can be read, with its unit", "May be left empty", False),
    ),
    "certificate": (
        ("expanded", "U on the certificate, with its unit", "As in 0.0004 in", False),
        ("coverage", "k on the certificate", "As in 2", True),
        ("resolution", "Smallest step that can be read, with its unit", "May be left empty", False),
    ),
    "torque wrench": (
        ("lowest", "Lowest on its scale, with its unit", "As in 20 in-lb", False),
        ("highest", "Highest on its scale, with its unit", "As in 100 in-lb", False),
        ("percent_of_reading", "Good to, per cent of the reading", "May be left empty", True),
        (
            "percent_of_full_scale",
            "Good to, per cent of full scale",
            "May be left empty",
            True,
        ),
        ("resolution", "Smallest step that can be set, with its unit", "May be left empty", False),
        ("repeatability", "Repeatability, with its unit", "May be left empty", False),
    ),
    "wires": (("step", "Step from wire to wire, with its unit", "As in 0.001 in", False),),
    "tester": (),
}
# What a meter of any kind may have besides: (label, hint).
_ANY: Mapping[str, tuple[str, str]] = {
    "repeatability": (
        "Repeatability, one standard deviation, with its unit",
        "May be left empty. It adds to the accuracy.",
    ),
    "orifice": ("Restrictor of a compression tester", "As in 0.040 in. May be left empty."),
    "use": (
        "What it is for",
        "As in spark, leads, gap, clearance, compression, oil pressure. May be left empty.",
    ),
}
# What is known of a meter found out of tolerance besides who found it: (key, label, hint).
_FOUND = (
    ("off", "How much it was out, as found", "As in 6 % low"),
    ("setting", "At which setting or reading", "As in 300 in-lb"),
    ("certificate", "Certificate", ""),
    ("on", "Found on, if not today", "As in 2026-10-22"),
    ("good", "Last known good on, by its certificate before", "As in 2026-03-14. Empty: not known"),
)
_RANGE: Mapping[str, tuple[tuple[str, str, bool], ...]] = {
    "digital": (
        ("name", "Range", False),
        ("top", "Largest shown, with unit", False),
        ("count", "Worth of the last digit, with unit", False),
        ("percent_of_reading", "Per cent of reading", True),
        ("counts", "Counts", True),
    ),
    "analog ohmmeter": (
        ("name", "Range", False),
        ("factor", "Times", True),
        ("mid_scale", "Middle of the arc, with unit", False),
    ),
}
_KIND_WORDS = {
    "digital": "Digital: per cent of reading and counts",
    "analog ohmmeter": "Ohmmeter with a needle",
    "dial": "Dial: per cent of full scale",
    "plus or minus": "Good to plus or minus a figure",
    "certificate": "Has a certificate with U and k",
    "wires": "Wires that go and do not go",
    "torque wrench": "Torque wrench: from, to, and per cent",
    "tester": "Tester: gives a grade, no number",
}


@require_safe
@job_page
def meters(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Every meter and how it stands today."""
    rows = shop_rows.meter_rows(desk.judged, desk.today())
    return page(request, desk, "shop/meters", current="meters", rows=rows)


@require_http_methods(["GET", "HEAD", "POST"])
@job_page
@writes
def meter(request: HttpRequest, desk: Desk, name: str) -> HttpResponse:
    """One meter: its due date, who calibrated it, and the as-found check."""
    text = queries.files(desk.job)[FILE]
    raw = next((one for one in edit.tables(text, "meter") if one.get("id") == name), None)
    if raw is None:
        raise BadInput(f'There is no meter "{name}" on file.')
    keys = ("name", "due", "calibrated_by", "note")
    values = {key: str(raw.get(key, "")) for key in keys}
    field = sentence = ""
    if request.method == "POST":
        values = {key: request.POST.get(key, "").strip() for key in keys}
        try:
            if not values["name"]:
                raise BadInput("Enter the name of the meter.", "name")
            if values["due"]:
                last_day(values["due"], "due")
            changes: dict[str, edit.Value | None] = {k: v or None for k, v in values.items()}
            if any(values[key] != str(raw.get(key, "")) for key in CALIBRATION):
                # DESIGN 4b, 15: it counts from the day it is put in.
                changes["entered_on"] = desk.today()
            asked = _file(request, desk, edit.change_meter(text, name, changes))
            if asked is not None:
                return asked
            request.session["said"] = {"sentence": f"{name} is filed as you wrote it.", "undo": ""}
            return SeeOther(reverse("web:meter", args=[desk.job.slug, name]))
        except Refused as reason:
            field, sentence = _split(reason, "due")
    rows = shop_rows.meter_rows(desk.judged, desk.today())
    fields = (
        Field("name", "Name", "", values["name"], _if(field, "name", sentence)),
        Field(
            "due",
            "Calibration due",
            "As in 2027-01-31, 2027-01 or 2027-Q1. A month or quarter means its last day. Empty: none on record.",
            values["due"],
            _if(field, "due", sentence),
            short=True,
        ),
        Field("calibrated_by", "Calibrated by", "", values["calibrated_by"], ""),
        Field("note", "Note", "", values["note"], ""),
    )
    return page(
        request,
        desk,
        "shop/meter",
        status=422 if sentence else 200,
        current="meters",
        row=next(row for row in rows if row.id == name),
        uses=use_rows(desk.judged, desk.judged.facts.meters[name]),
        doubts=doubt_rows(desk.judged, desk.judged.facts.meters[name]),
        found_fields=_FOUND,
        fields=fields,
        field=field,
        sentence=sentence,
        filed=list(reversed(queries.revisions(desk.job, FILE)))[:5],
    )


@require_http_methods(["GET", "HEAD", "POST"])
@job_page
@writes
def new_meter(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Add a meter: first its kind, then what that kind is worth."""
    given = request.POST if request.method == "POST" else request.GET
    kind = given.get("kind", "")
    if kind and kind not in METER_KINDS:
        raise BadInput(f'"{kind}" is not a kind of meter.')
    field = sentence = ""
    if request.method == "POST":
        try:
            raw = _raw(request, kind, desk.today())
            meter_from(raw, lambda *keys: str(keys[-1]) if keys else "")
            text = queries.files(desk.job)[FILE]
            if any(one.get("id") == raw["id"] for one in edit.tables(text, "meter")):
                raise BadInput(
                    f'There is a meter "{raw["id"]}" already. Give this one its own id.', "id"
                )
            asked = _file(request, desk, edit.add_meter(text, raw))
            if asked is not None:
                return asked
            request.session["said"] = {"sentence": f"{raw['id']} is on file.", "undo": ""}
            return SeeOther(reverse("web:meters", args=[desk.job.slug]))
        except Refused as reason:
            field, sentence = _split(reason, "id")
    return page(
        request,
        desk,
        "shop/new_meter",
        status=422 if sentence else 200,
        current="meters",
        kind=kind,
        kind_words=_KIND_WORDS.get(kind, ""),
        kinds=[(k, _KIND_WORDS[k]) for k in METER_KINDS],
        fields=_new_fields(request, kind, field, sentence) if kind else (),
        range_heads=[label for _, label, _ in _RANGE.get(kind, ())],
        ranges=_range_rows(request, kind),
        field=field,
        sentence=sentence,
    )


def _file(request: HttpRequest, desk: Desk, text: str) -> HttpResponse | None:
    """File the meters by whoever keeps the shop; the page that asks for their PIN, or None."""
    who, asked = keeper(request, desk, "change the meters")
    if asked is None:
        services.file_text(job=desk.job, name=FILE, text=text, by=who, at=timezone.now())
    return asked


def _split(reason: Refused, fallback: str) -> tuple[str, str]:
    """The field a refusal is about and its sentence."""
    field = reason.where if reason.where.replace("_", "").isalpha() else fallback
    return field, reason.sentence


def _if(field: str, name: str, sentence: str) -> str:
    return sentence if field == name else ""


def _raw(request: HttpRequest, kind: str, on: date) -> dict[str, edit.Value]:
    raw: dict[str, edit.Value] = {}
    for key in ("id", "name"):
        text = request.POST.get(key, "").strip()
        if not text:
            raise BadInput("Enter the id on the meter." if key == "id" else "Enter its name.", key)
        raw[key] = text
    raw["kind"] = kind
    if kind not in NO_QUANTITY:
        raw["quantity"] = request.POST.get("quantity", "")
    for key, label, hint, plain in _WORTH[kind]:
        text = request.POST.get(key, "").strip()
        if text:
            raw[key] = _number(text, key) if plain else text
        elif hint != "May be left empty":
            raise BadInput(f"Enter: {lower_first(label)}.", key)
    ranges: list[dict[str, str | int | float]] = []
    for number in range(MOST_RANGES):
        one: dict[str, str | int | float] = {}
        for key, _, plain in _RANGE.get(kind, ()):
            text = request.POST.get(f"range_{number}_{key}", "").strip()
            if text:
                one[key] = _number(text, "range") if plain else text
        if one:
            ranges.append(one)
    if kind in _RANGE and not ranges:
        raise BadInput("Enter at least one range.", "range")
    for key in (*_ANY, "due", "calibrated_by", "note"):
        text = request.POST.get(key, "").strip()
        if text:
            raw[key] = text
    if "due" in raw:
        last_day(str(raw["due"]), "due")
    if any(key in raw for key in CALIBRATION):
        raw["entered_on"] = on
    if ranges:
        raw["range"] = ranges
    return raw


def _number(text: str, field: str) -> int | float:
    try:
        value = float(text)
    except ValueError:
        raise BadInput(f'"{text}" is not a number. Write digits, as in 0.8.', field) from None
    if not 0 <= value < 1e9:
        raise BadInput(f"{text} is below zero or too large to mean a meter.", field)
    return int(value) if value == int(value) else value


def _new_fields(request: HttpRequest, kind: str, field: str, sentence: str) -> tuple[Field, ...]:
    def one(name: str, label: str, hint: str = "", *, short: bool = False) -> Field:
        return Field(
            name, label, hint, request.POST.get(name, ""), _if(field, name, sentence), short=short
        )

    fields = [
        one("id", "Id on the meter", "As in DM-2", short=True),
        one("name", "Name", "As in Digital ohmmeter"),
    ]
    if kind not in NO_QUANTITY:
        picks = [
            q for q in QUANTITIES.values() if kind != "analog ohmmeter" or q.name == "resistance"
        ]
        fields.append(
            Field(
                "quantity",
                "Measures",
                "",
                request.POST.get("quantity", picks[0].name),
                _if(field, "quantity", sentence),
                tuple((q.name, f"{q.name}, {q.words}") for q in picks),
            )
        )
    fields += [one(key, label, hint, short=True) for key, label, hint, _ in _WORTH[kind]]
    fields += [
        one(key, label, hint, short=True)
        for key, (label, hint) in _ANY.items()
        if kind != "tester" or key == "use"
    ]
    fields += [
        one(
            "due",
            "Calibration due",
            "As in 2027-01-31, 2027-01 or 2027-Q1. Empty: none on record.",
            short=True,
        ),
        one("calibrated_by", "Calibrated by"),
        one("note", "Note"),
    ]
    return tuple(fields)


def _range_rows(request: HttpRequest, kind: str) -> list[list[Field]]:
    return [
        [
            Field(
                f"range_{number}_{key}",
                f"{label}, line {number + 1}",
                "",
                request.POST.get(f"range_{number}_{key}", ""),
                "",
            )
            for key, label, _ in _RANGE[kind]
        ]
        for number in range(MOST_RANGES)
        if kind in _RANGE
    ]
