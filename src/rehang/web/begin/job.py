"""A new job: on an engine that has been here, on a new one, or out of a folder that was kept."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from zoneinfo import ZoneInfo

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from rehang.book import beginning, members, models, queries
from rehang.sheets import check_sheets, task_sheet
from rehang.sheets.folder import read_folder
from rehang.sheets.zipped import unzipped
from rehang.trade.declared.taken import faults_in
from rehang.trade.doors.rules import check_can_write
from rehang.trade.facts.accessories import KINDS as ACCESSORIES
from rehang.trade.facts.engine import FED, FORMAT, PLATINGS, Engine, engine_from, hoses_from
from rehang.trade.facts.fuel_systems import FUEL_SYSTEMS
from rehang.trade.facts.layout_asked import ANSWERS
from rehang.trade.facts.reasons import Reason
from rehang.trade.terms.days import last_day
from rehang.trade.terms.errors import BadInput, NotAllowed, Refused
from rehang.trade.terms.quantities import parse_number
from rehang.trade.terms.wording import upper_first
from rehang.web.begin.layout import LayoutForm
from rehang.web.shared.desk import SeeOther, refused
from rehang.web.shared.forms import BenchForm, Pick, TextField

__all__ = ["bring", "known_engine", "new_engine", "new_job"]

_HOSES = 4
_ACCESSORIES = 4
_ACCESSORY_KEYS = ("kind", "name", "serial", "hours", "engine_hours")
_NUMBERS = (
    "since_overhaul", "since_new", "airframe_hours", "bore_in", "compression_ratio",
    "spark_advance_deg", "sump_qt", "flying_hours_per_year",
)  # fmt: skip
_HOSE_KEYS = ("id", "line", "type", "made", "fitted")
_HOSE_ASKS = (
    ("id", "Write what stands on the hose's tag."),
    ("line", "Write from where to where the hose goes."),
    ("type", "Pick the type of the hose."),
)
_NOT_OF_THE_SHOP = "A job is begun by people of the shop. Whoever keeps it puts you on its list."


def _number(text: str) -> float:
    return float(parse_number(text))


def _hours(label: str, hint: str = "") -> TextField:
    return TextField(label, hint, check=_number, short=True, inputmode="decimal")


class JobForm(BenchForm):
    """What is asked at the beginning of every job: what for, the hours now, where it came off."""

    def __init__(
        self, request: HttpRequest, initial: Mapping[str, Any], reasons: Mapping[str, Reason]
    ) -> None:
        super().__init__(request, initial)
        self.reasons = reasons
        known = [(one, upper_first(one)) for one in self.reasons]
        self.fields |= {
            "purpose": Pick("Why did it come off?", known),
            "also_for": Pick("And also", [("", "nothing else"), *known]),
            "since_overhaul": _hours("Hours since overhaul"),
            "since_new": _hours("Hours since new"),
            "registration": TextField(
                "Came off", "Registration of the aircraft", short=True, autocapitalize="characters"
            ),
            "airframe_hours": _hours("Airframe hours"),
            "removed_on": TextField(
                "Came off on", "Empty: not known", short=True, check=last_day, type="date"
            ),
            "owner": TextField("Owner"),
        }

    def asked(self) -> list[Any]:
        return [self[name] for name in ("also_for", "since_overhaul", "since_new", "registration", "airframe_hours",
                                        "removed_on", "owner")]  # fmt: skip

    def told(self) -> dict[str, Any]:
        """The keys of the engine's file that were typed.

        Raises
        ------
        BadInput
            Something typed cannot be read.
        """
        return self._told(self.checked())

    def _told(self, typed: Mapping[str, str]) -> dict[str, Any]:
        found: dict[str, Any] = {
            key: _number(text) if key in _NUMBERS else text.strip()
            for key, text in typed.items()
            if key in self._plain_keys() and text
        }
        if typed["removed_on"]:
            found["removed_on"] = last_day(typed["removed_on"])
        if typed["also_for"]:
            found["also_for"] = [typed["also_for"]]
        hours = {key: found.pop(key) for key in ("since_new", "since_overhaul") if key in found}
        return {**found, "hours": hours}

    @property
    def is_to_show(self) -> bool:
        """Whether SHOW was pressed: what was typed is shown again, and nothing begins."""
        return "show" in self.data

    def full_clean(self) -> None:
        super().full_clean()
        if self.is_to_show:
            # Nothing is asked for before its time.
            self.errors.clear()

    def _plain_keys(self) -> tuple[str, ...]:
        return ("purpose", "since_overhaul", "since_new", "registration", "airframe_hours", "owner")

    @property
    def kinds(self) -> list[str]:
        """The kinds of item that the job inspects, as each reason asks for them."""
        # Holes and runs are looked at by tasks, not as parts that a job is begun for.
        every = [
            kind
            for kind, sheet in check_sheets().items()
            if kind != "run" and not (sheet.is_of_engine or sheet.by_name or sheet.when_off)
        ]
        # What the work that a reason opens is read on is looked at too.
        opens = {one.id: [kind for kind, _ in one.answers] for one in task_sheet().values()}
        return list(
            dict.fromkeys(
                kind
                for one in self._why()
                for kind in (
                    *(one.kinds or every),
                    *(k for t in one.tasks for k in opens.get(t, ())),
                )
            )
        )

    @property
    def left_out(self) -> list[str]:
        """The tasks that none of the reasons asks for."""
        first, *more = self._why()
        return [task for task in first.left_out if all(task in one.left_out for one in more)]

    def _why(self) -> list[Reason]:
        typed = self.checked()
        given = {
            key: typed[key] for key in ("purpose", "also_for") if typed[key] or key == "purpose"
        }
        for key, one in given.items():
            if one not in self.reasons:
                raise BadInput("Pick why the engine came off.", key)
        return [self.reasons[one] for one in given.values()]


class EngineForm(LayoutForm, JobForm):
    """All that may be said of an engine that has not been here: its serial, and what is known."""

    # What is of no field is said above them, and points to none.
    fallback = ""

    def __init__(
        self, request: HttpRequest, initial: Mapping[str, Any], reasons: Mapping[str, Reason]
    ) -> None:
        super().__init__(request, initial, reasons=reasons)
        self.fields |= {
            "serial": TextField(
                "Serial",
                "From the data plate",
                asks="Write the engine's serial, from its data plate.",
                short=True,
                autocapitalize="characters",
                spellcheck="false",
            ),
            "engine": TextField("Model", "As on the plate: limits are kept for a model"),
            "airframe": TextField("Airframe", "Model"),
            "airframe_serial": TextField("Airframe serial", short=True),
            "magneto_left": TextField("Left magneto", "Model and serial, as in ... s/n 5530"),
            "magneto_right": TextField("Right magneto", "Model and serial"),
            "carburettor": TextField("Carburettor serial", short=True),
            "propeller": TextField("Propeller serial", "Where this job answers for it", short=True),
            "bore_in": _hours("Bore, inches", "It picks the orifice of the compression test"),
            "compression_ratio": _hours("Compression ratio", "As in 8.5"),
            "spark_advance_deg": _hours("Spark advance, degrees"),
            "sump_qt": _hours("Oil sump, quarts"),
            "flying_hours_per_year": _hours("Hours flown a year"),
            "fuel": Pick("Fuel comes by", [(one, one) for one in FED]),
            "fuel_system": Pick(
                "Fuel is metered by",
                [("", "not known"), *((one, upper_first(one)) for one in FUEL_SYSTEMS)],
            ),
            "bore_plating": Pick("Bores plated with", [(one, one) for one in PLATINGS]),
        }
        for number in range(1, _HOSES + 1):
            self.fields |= {
                f"hose{number}_id": TextField("Tag", short=True),
                f"hose{number}_line": TextField("From where to where"),
                f"hose{number}_type": Pick(
                    "Type", [("", ""), ("rubber", "rubber"), ("PTFE", "PTFE")]
                ),
                f"hose{number}_made": TextField("Made", "As in 2021-03 or 2021-Q1", short=True),
                f"hose{number}_fitted": TextField("Fitted", "The same", short=True),
            }

        for number in range(1, _ACCESSORIES + 1):
            self.fields |= {
                f"accessory{number}_kind": Pick(
                    "What it is",
                    [("", ""), *((one, upper_first(one.replace("-", " "))) for one in ACCESSORIES)],
                ),
                f"accessory{number}_name": TextField("Which of two", "As in boost", short=True),
                f"accessory{number}_serial": TextField("Serial", short=True),
                f"accessory{number}_hours": _hours("Its own hours", "Since new or overhaul"),
                f"accessory{number}_engine_hours": _hours(
                    "Engine hours then", "Since overhaul; empty: as above"
                ),
            }
        # As they stand on the page: what is wrong is told from the top.
        first = ("serial", "engine", "fuel_system", "layout", *ANSWERS, "purpose")
        rows = (self.asked(), self.carried(), *self.hoses(), *self.accessories(), self.off())
        self.order_fields([*first, *(field.name for row in rows for field in row)])

    def plate(self) -> list[Any]:
        return [self[name] for name in ("bore_in", "compression_ratio", "spark_advance_deg", "sump_qt",
                                        "flying_hours_per_year", "fuel", "bore_plating")]  # fmt: skip

    def off(self) -> list[Any]:
        return [self[name] for name in ("airframe", "airframe_serial")]

    def carried(self) -> list[Any]:
        magnetos = ("magneto_left",) if self.has_one_magneto else ("magneto_left", "magneto_right")
        return [self[name] for name in (*magnetos, "carburettor", "propeller")]

    @property
    def has_one_magneto(self) -> bool:
        """Whether the layout, as it is answered so far, has one magneto for all holes."""
        return self.is_drawn and self["ignition"].value() == "one"

    def hoses(self) -> list[list[Any]]:
        return [[self[f"hose{n}_{key}"] for key in _HOSE_KEYS] for n in range(1, _HOSES + 1)]

    def accessories(self) -> list[list[Any]]:
        return [
            [self[f"accessory{n}_{key}"] for key in _ACCESSORY_KEYS]
            for n in range(1, _ACCESSORIES + 1)
        ]

    def _plain_keys(self) -> tuple[str, ...]:
        own = ("serial", "engine", "airframe", "airframe_serial", "carburettor", "propeller",
               "bore_in", "compression_ratio", "spark_advance_deg", "sump_qt",
               "flying_hours_per_year", "fuel", "fuel_system", "bore_plating")  # fmt: skip
        return (*super()._plain_keys(), *own)

    def told(self) -> dict[str, Any]:
        return {**super().told(), "layout": self.chosen()[0]}

    def clean(self) -> dict[str, Any]:
        """What goes with what, once each field is read: all of it is said at once."""
        typed: dict[str, str] = dict.fromkeys(self.fields, "") | self.cleaned_data
        for name, sentence in self._wrong_together(typed):
            if name in self.fields and name not in self.errors:
                self.add_error(name, sentence)
        return self.cleaned_data

    def _wrong_together(self, typed: Mapping[str, str]) -> Iterator[tuple[str, str]]:
        if "layout" not in self.errors:
            try:
                self.chosen_of(typed)
            except BadInput as reason:
                yield reason.where, reason.sentence
        if self.has_one_magneto and typed["magneto_right"]:
            yield "magneto_left", "This engine has one magneto. Write it as the left one."
        for number in self._filled("hose", _HOSES, _HOSE_KEYS, typed):
            for key, ask in _HOSE_ASKS:
                if not typed[f"hose{number}_{key}"]:
                    yield f"hose{number}_{key}", ask
        for number in self._filled("accessory", _ACCESSORIES, _ACCESSORY_KEYS, typed):
            if not typed[f"accessory{number}_kind"]:
                yield f"accessory{number}_kind", "Pick what the accessory is."
        yield from self._wrong_in_file(typed)

    def _wrong_in_file(self, typed: Mapping[str, str]) -> Iterator[tuple[str, str]]:
        """What the engine's file would be refused for, each at the field that its key came from."""
        # What the shop and the picture give is not asked for here.
        given = {"format": FORMAT, "job": "new", "layout": "as picked", "timezone": "UTC"}
        raw = {**given, **self._told(typed)}
        faults = [one for one in faults_in(Engine, raw) if one.is_written]
        if faults:
            yield from ((self._field_of(typed, *one.path), one.sentence) for one in faults)
            return
        try:
            engine, said = engine_from(raw, partial(self._field_of, typed))
            hoses_from(engine, partial(self._field_of, typed))
        except BadInput as reason:
            yield reason.where, reason.sentence
        else:
            for one in said:
                name, _, sentence = one.partition(": ")
                yield name, sentence

    def _field_of(self, typed: Mapping[str, str], *keys: str | int) -> str:
        """The field that a key of the engine's file came from, as ``hose2_made``."""
        match keys:
            case ("hose" | "accessory" as what, int(at), str(key)):
                rows = (_HOSES, _HOSE_KEYS) if what == "hose" else (_ACCESSORIES, _ACCESSORY_KEYS)
                return f"{what}{self._filled(what, *rows, typed)[at]}_{key}"
            case ("magnetos", *side):
                return f"magneto_{side[0] if side else 'left'}"
            case ("also_for", *_):
                return "also_for"
        return str(keys[-1]) if keys else ""

    def _filled(
        self, what: str, most: int, keys: Sequence[str], typed: Mapping[str, str]
    ) -> list[int]:
        """The numbers of the rows in which something is written."""
        numbers = range(1, most + 1)
        return [n for n in numbers if any(typed[f"{what}{n}_{key}"] for key in keys)]

    def _told(self, typed: Mapping[str, str]) -> dict[str, Any]:
        found = super()._told(typed)
        magnetos = {
            side: typed[f"magneto_{side}"] for side in ("left", "right") if typed[f"magneto_{side}"]
        }
        hoses = list(self._hoses(typed))
        carried = list(self._accessories(typed, found["hours"].get("since_overhaul")))
        return {
            **found,
            "magnetos": magnetos,
            "hose": hoses,
            **({"accessory": carried} if carried else {}),
        }

    def _accessories(self, typed: Mapping[str, str], now: float | None) -> Any:
        """What was typed of accessories; hours without the engine's stand beside those of today."""
        for number in self._filled("accessory", _ACCESSORIES, _ACCESSORY_KEYS, typed):
            given = {key: typed[f"accessory{number}_{key}"] for key in _ACCESSORY_KEYS}
            one: dict[str, Any] = {
                key: _number(text) if key in ("hours", "engine_hours") else text.strip()
                for key, text in given.items()
                if text
            }
            if "hours" in one and "engine_hours" not in one and now is not None:
                one["engine_hours"] = now
            yield one

    def _hoses(self, typed: Mapping[str, str]) -> Any:
        for number in self._filled("hose", _HOSES, _HOSE_KEYS, typed):
            given = {key: typed[f"hose{number}_{key}"] for key in _HOSE_KEYS}
            yield {key: text for key, text in given.items() if text}


def _beginner(request: HttpRequest) -> tuple[models.Member, models.Job]:
    """Who begins a job, and the book of the shop that they are of."""
    member = members.member_of(request.user)
    shop = queries.shop_for(member.key) if member is not None else None
    if member is None or shop is None:
        raise NotAllowed(_NOT_OF_THE_SHOP)
    if request.method == "POST":
        check_can_write(queries.facts(shop).people.get(member.key))
    return member, shop


@require_safe
@login_required
def new_job(request: HttpRequest) -> HttpResponse:
    """The engines that have been here, and the way to a new one."""
    try:
        member, _ = _beginner(request)
    except NotAllowed as reason:
        if queries.shop() is None:
            return SeeOther(reverse("web:begin"))
        return refused(request, reason, 403)
    engines = beginning.engines_known(member.key)
    if not engines:
        return SeeOther(reverse("web:new_engine"))
    said = request.session.pop("said", None)
    return render(request, "begin/engines.html", {"engines": engines, "said": said})


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def new_engine(request: HttpRequest) -> HttpResponse:
    """A job on an engine that has not been here."""
    return _begin(request, None)


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def known_engine(request: HttpRequest, slug: str) -> HttpResponse:
    """A job on the engine of an earlier job."""
    member = members.member_of(request.user)
    try:
        job = queries.job_for(slug, member.key if member is not None else "")
    except BadInput as reason:
        return refused(request, reason, 404)
    return _begin(request, beginning.Known(job))


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def bring(request: HttpRequest) -> HttpResponse:
    """A job that was kept in a folder or an archive, brought in as one zip file."""
    try:
        member, _ = _beginner(request)
    except NotAllowed as reason:
        return refused(request, reason, 403)
    sentence = ""
    if request.method == "POST":
        try:
            given = request.FILES.get("file")
            if given is None:
                raise BadInput("Pick the zip file of the job.")
            with TemporaryDirectory() as place:
                folder = read_folder(unzipped(given.read(), Path(place)))
                job = beginning.bring_in(folder=folder, by=member.key, at=timezone.now())
        except Refused as reason:
            sentence = str(reason)
        else:
            request.session["said"] = {"sentence": f"{job.title} is here.", "undo": ""}
            return SeeOther(reverse("web:board", args=[job.slug]))
    return render(
        request, "begin/bring.html", {"sentence": sentence}, status=422 if sentence else 200
    )


def _begin(request: HttpRequest, last: beginning.Known | None) -> HttpResponse:
    try:
        member, shop = _beginner(request)
    except NotAllowed as reason:
        return refused(request, reason, 403)
    today = timezone.now().astimezone(ZoneInfo(queries.facts(shop).timezone_name)).date()
    form = _form(request, last, queries.facts(shop).reasons)
    if request.method == "POST" and not form.is_to_show:
        with form.refusing():
            engine = _engine_now(last, form.told())
            job = beginning.begin_job(
                engine={**engine, "title": _title(engine)},
                inspect=form.kinds,
                left_out=form.left_out,
                layout=_own_layout(form, last),
                last=last,
                by=member.key,
                at=timezone.now(),
                day=today,
            )
            request.session["said"] = {"sentence": "The job has begun.", "undo": ""}
            return SeeOther(reverse("web:board", args=[job.slug]))
    shown = {"last": last, "said": request.session.pop("said", None), **form.shown}
    return render(request, "begin/engine.html", shown, status=form.status)


def _own_layout(form: JobForm, last: beginning.Known | None) -> str:
    """The text of the engine's own layout: as it was answered, or as its last job had it."""
    if isinstance(form, EngineForm):
        return form.chosen()[1]
    return queries.files(last.job).get("layout.toml", "") if last is not None else ""


def _form(
    request: HttpRequest, last: beginning.Known | None, reasons: Mapping[str, Reason]
) -> JobForm:
    if last is None:
        return EngineForm(request, {}, reasons)
    known = last.engine
    hours = known.get("hours", {})
    initial = {
        "registration": known.get("registration", ""),
        "owner": known.get("owner", ""),
        "since_overhaul": hours.get("since_overhaul", ""),
        "since_new": hours.get("since_new", ""),
        "airframe_hours": known.get("airframe_hours", ""),
    }
    return JobForm(request, initial, reasons)


_CLOCKS = (("since_overhaul", "since overhaul"), ("since_new", "since new"))


def _engine_now(last: beginning.Known | None, told: dict[str, Any]) -> dict[str, Any]:
    """The engine as it comes in: as its last job left it, with what was typed."""
    if last is None:
        return told
    before, now = last.engine.get("hours", {}), told["hours"]
    for key, words in _CLOCKS:
        # DESIGN 4b, 8: hours lower than before are refused.
        if key in now and now[key] < before.get(key, 0):
            raise BadInput(
                f"{now[key]:,.1f} h {words} is less than the {before[key]:,.1f} h at the end of its last "
                "job. Read the meter again.",
                key,
            )
    flown = next(
        (now[key] - before[key] for key, _ in _CLOCKS if now.get(key, 0) > before.get(key, 1e9)), 0
    )
    moved = {
        key: round(before[key] + flown, 1)
        for key, _ in _CLOCKS
        if now.get(key) == before.get(key, -1)
    }
    found = {**last.engine, **told, "hours": {**before, **now, **moved}}
    airframe = last.engine.get("airframe_hours")
    same = told.get("registration") == last.engine.get("registration")
    # One engine turns all its clocks alike, and the airframe's while it hangs on it.
    if same and airframe is not None and told.get("airframe_hours") == airframe:
        found["airframe_hours"] = round(airframe + flown, 1)
    return found


def _title(engine: Mapping[str, Any]) -> str:
    what = str(engine.get("engine") or engine.get("serial", ""))
    off = engine.get("registration")
    return f"{what}, off {off}" if off else what
