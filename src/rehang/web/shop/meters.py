"""Meters: what each is worth and when it is due; changing that, adding one, proving one."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from django.forms import BoundField
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from rehang.book import queries, services
from rehang.sheets import edit
from rehang.trade.facts.meters import METER_KINDS, meter_from
from rehang.trade.terms.days import last_day
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.quantities import QUANTITIES
from rehang.trade.terms.wording import lower_first
from rehang.trade.verdicts.leaks import notes_on_tester
from rehang.web.shared.desk import Desk, SeeOther, book_page, keeper, page, writes
from rehang.web.shared.forms import BenchForm, Pick, TextField
from rehang.web.shop import rows as shop_rows
from rehang.web.torque.rows import doubt_rows, use_rows

FILE = "meters.toml"
MOST_RANGES = 4
# A tester gives no number, and a torque wrench measures torque: neither is asked what it measures.
NO_QUANTITY = ("tester", "torque wrench")
# What makes up the calibration that ``entered_on`` dates.
CALIBRATION = ("due", "calibrated_by")


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
    "master_mm2": (
        "Area of its master orifice, mm²",
        "From the master's certificate, as in 0.72. May be left empty.",
    ),
    "master_u_mm2": ("Standard uncertainty of that area, mm²", "May be left empty."),
    "use": (
        "What it is for",
        "As in spark, leads, gap, clearance, compression, oil pressure. May be left empty.",
    ),
}
# Of those, plain numbers.
_PLAIN = frozenset({"master_mm2", "master_u_mm2"})
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


DUE_HINT = "As in 2027-01-31, 2027-01 or 2027-Q1."
EMPTY = "May be left empty"


def _due(text: str) -> date:
    return last_day(text, "due")


class MeterForm(BenchForm):
    """What the shop may change about a meter on file."""

    fallback = "due"
    name = TextField("Name", asks="Enter the name of the meter.")
    due = TextField(
        "Calibration due",
        f"{DUE_HINT} A month or quarter means its last day. Empty: none on record.",
        check=_due,
        short=True,
    )
    calibrated_by = TextField("Calibrated by")
    note = TextField("Note")


class NewMeterForm(BenchForm):
    """A meter of one kind: its names, what it is worth, its ranges and its calibration."""

    fallback = "id"
    groups = ("range",)

    def __init__(self, request: HttpRequest, kind: str) -> None:
        super().__init__(request)
        self.kind = kind
        self.fields |= {
            "id": TextField(
                "Id on the meter", "As in DM-2", asks="Enter the id on the meter.", short=True
            ),
            "name": TextField("Name", "As in Digital ohmmeter", asks="Enter its name."),
        }
        if kind not in NO_QUANTITY:
            picks = [
                q
                for q in QUANTITIES.values()
                if kind != "analog ohmmeter" or q.name == "resistance"
            ]
            self.fields["quantity"] = Pick(
                "Measures", [(q.name, f"{q.name}, {q.words}") for q in picks]
            )
        for key, label, hint, plain in _WORTH[kind]:
            asks = "" if hint == EMPTY else f"Enter: {lower_first(label)}."
            check = _number if plain else None
            self.fields[key] = TextField(label, hint, asks=asks, check=check, short=True)
        for key, (label, hint) in _ANY.items():
            if kind != "tester" or key == "use":
                self.fields[key] = TextField(label, hint, short=True)
        self.plain = [*self.fields, "due", "calibrated_by", "note"]
        for number in range(MOST_RANGES):
            for key, label, _ in _RANGE.get(kind, ()):
                self.fields[f"range_{number}_{key}"] = TextField(f"{label}, line {number + 1}")
        self.fields |= {
            "due": TextField(
                "Calibration due", f"{DUE_HINT} Empty: none on record.", check=_due, short=True
            ),
            "calibrated_by": TextField("Calibrated by"),
            "note": TextField("Note"),
        }

    def lines(self) -> list[list[BoundField]]:
        """The fields of each range."""
        return [
            [self[f"range_{number}_{key}"] for key, _, _ in _RANGE[self.kind]]
            for number in range(MOST_RANGES)
            if self.kind in _RANGE
        ]

    def told(self) -> list[BoundField]:
        """Every other field, in the order of the page."""
        return [self[name] for name in self.plain]

    def table(self, on: date) -> dict[str, edit.Value]:
        """The meter as it is filed; ``on`` dates its calibration, where it has one.

        Raises
        ------
        BadInput
            What was typed cannot be read, or a kind with ranges was given none.
        """
        typed = self.checked()
        numbers = {key for key, _, _, plain in _WORTH[self.kind] if plain} | _PLAIN
        made: dict[str, edit.Value] = {"id": typed["id"], "name": typed["name"], "kind": self.kind}
        for name in self.plain:
            if typed[name]:
                made[name] = _number(typed[name]) if name in numbers else typed[name]
        if any(key in made for key in CALIBRATION):
            made["entered_on"] = on
        ranges = [one for one in map(self._range, range(MOST_RANGES)) if one]
        if self.kind in _RANGE and not ranges:
            raise BadInput("Enter at least one range.", "range")
        if ranges:
            made["range"] = ranges
        return made

    def _range(self, number: int) -> dict[str, str | int | float]:
        found: dict[str, str | int | float] = {}
        for key, _, plain in _RANGE.get(self.kind, ()):
            text = self.checked()[f"range_{number}_{key}"]
            if text:
                found[key] = _number(text, "range") if plain else text
        return found


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
        uses=use_rows(desk.judged, desk.judged.facts.meters[name]),
        doubts=doubt_rows(desk.judged, desk.judged.facts.meters[name]),
        tester=notes_on_tester(
            desk.judged.facts.meters[name], desk.judged.facts, desk.judged.state
        ),
        found_fields=_FOUND,
        filed=list(reversed(queries.revisions(desk.job, FILE)))[:5],
        **form.shown,
    )


@require_http_methods(["GET", "HEAD", "POST"])
@book_page
@writes
def new_meter(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Add a meter: first its kind, then what that kind is worth."""
    given = request.POST if request.method == "POST" else request.GET
    kind = given.get("kind", "")
    if kind and kind not in METER_KINDS:
        raise BadInput(f'"{kind}" is not a kind of meter.')
    if not kind:
        kinds = [(k, _KIND_WORDS[k]) for k in METER_KINDS]
        return page(request, desk, "shop/new_meter", current="meters", kinds=kinds)
    form = NewMeterForm(request, kind)
    if request.method == "POST":
        with form.refusing():
            raw = form.table(desk.today())
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
    return page(
        request,
        desk,
        "shop/new_meter",
        status=form.status,
        current="meters",
        kind=kind,
        kind_words=_KIND_WORDS[kind],
        **form.shown,
    )


def _file(request: HttpRequest, desk: Desk, text: str) -> HttpResponse | None:
    """File the meters by whoever keeps the shop; the page that asks for their PIN, or None."""
    who, asked = keeper(request, desk, "change the meters")
    if asked is None:
        services.file_text(job=desk.job, name=FILE, text=text, by=who, at=timezone.now())
    return asked


def _number(text: str, field: str = "") -> int | float:
    try:
        value = float(text)
    except ValueError:
        raise BadInput(f'"{text}" is not a number. Write digits, as in 0.8.', field) from None
    if not 0 <= value < 1e9:
        raise BadInput(f"{text} is below zero or too large to mean a meter.", field)
    return int(value) if value == int(value) else value
