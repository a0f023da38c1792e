"""The run card: one step at a time, the clock, shutting down, and what a run came to."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from rehang.trade.facts.items import Check
from rehang.trade.facts.limits import limit_for, limit_words
from rehang.trade.facts.meters import band_of
from rehang.trade.facts.readings import unlikely
from rehang.trade.known.meter_choice import chosen_meter
from rehang.trade.known.state import understand
from rehang.trade.run.air import DayAir, StaticWorth, check_conditions, day_air, worth_of
from rehang.trade.run.runs import Run, worth_beside
from rehang.trade.terms.entries import Entry, is_a, new_entry
from rehang.trade.terms.errors import BadInput, Refused
from rehang.trade.terms.kinds.readings import ReadingTaken
from rehang.trade.terms.quantities import QUANTITIES, parse_amount, show
from rehang.web.run import rows as run_rows
from rehang.web.run.rows import KIND
from rehang.web.shared.desk import (
    Desk,
    SeeOther,
    entry_id,
    job_page,
    keep,
    page,
    send_back,
    writes,
)
from rehang.web.shared.templatetags.pages import new_meter_url

# What the form before a run asks, once: name, label, hint, type of keyboard.
WEATHER = (
    ("oat", "Outside temperature", "With its unit, as in 68 F or 20 C", "text"),
    ("altimeter", "Altimeter setting", "As in 29.92 or 1013 hPa", "decimal"),
    ("elevation", "Elevation of the place", "As in 1,240 ft", "text"),
    ("dew_point", "Dew point", "As in 50 F; may be left empty", "text"),
    ("wind", "Wind", "As in 240 at 6, or calm", "text"),
    ("heading", "Heading of the nose", "Degrees, as in 240", "numeric"),
)
BEGINS = (*(name for name, *_ in WEATHER), "watches", "note")
READS = ("written", "first", "second", "meter", "feel", "heading", "word", "strike")


@dataclass(frozen=True, slots=True)
class _Typed:
    """A form as it was keyed, why it was refused, and whether it may be kept as keyed."""

    values: dict[str, str]
    check: str = ""
    sentence: str = ""
    doubt: bool = False


_NOTHING = _Typed({})


@require_safe
@job_page
def run(request: HttpRequest, desk: Desk) -> HttpResponse:
    """The card of the run that is on; else what stands before one, and the runs so far."""
    on = desk.judged.runs.now
    if on is not None:
        return _card(request, desk, on, down="down" in request.GET)
    return _before(request, desk)


def _before(request: HttpRequest, desk: Desk) -> HttpResponse:
    before = run_rows.before(desk.judged, desk.key, desk.now())
    # What was typed before the way led to a new meter and back.
    kept = {name: request.GET[name] for name in BEGINS if name in request.GET}
    return page(
        request,
        desk,
        "run/begin",
        current="run",
        before=before,
        weather=_fields(before, kept),
        past=run_rows.past(desk.judged),
        opened=[f for one in desk.judged.runs.runs for f in run_rows.opened_by(desk.judged, one)],
        live=desk.judged.runs.live,
        kept=kept,
    )


def _fields(
    before: run_rows.Before, kept: Mapping[str, str]
) -> list[tuple[str, str, str, str, str]]:
    first = {"elevation": before.elevation, **kept}
    return [(name, label, hint, mode, first.get(name, "")) for name, label, hint, mode in WEATHER]


def _card(
    request: HttpRequest, desk: Desk, on: Run, *, down: bool = False, typed: _Typed = _NOTHING
) -> HttpResponse:
    again = request.GET.get("again", "")
    if "check" in request.GET and not typed.check:
        # Back from a new meter, which stands in the address with what was keyed before.
        typed = _Typed({key: request.GET.get(key, "") for key in READS}, request.GET["check"])
    if typed.values.get("strike"):
        again = typed.check
    meter = typed.values.get("meter", "")
    card = run_rows.card(desk.judged, on, desk.now(), typed.check or again, meter)
    if down and card.can_shut_down:
        return page(request, desk, "run/down", current="run", card=card)
    return page(
        request,
        desk,
        "run/run",
        status=422 if typed.sentence else 200,
        current="run",
        card=card,
        again=again,
        typed=typed,
        live=desk.judged.runs.live,
    )


@require_POST
@job_page
@writes
def begin(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Begin a run, with the day's weather; refused while anything is still out."""
    card = reverse("web:run", args=[desk.job.slug])
    values = {name: request.POST.get(name, "").strip() for name in BEGINS}
    lacks = request.POST.get("new_meter", "")
    if lacks:
        return _new_meter(desk, lacks, values)
    given = {name: value for name, value in values.items() if value and name != "note"}
    given["runs"] = desk.key
    try:
        check_conditions(given)
        day_air(desk.judged.facts, given)
        entry = new_entry(
            "run_began",
            at=desk.now(),
            by=desk.key,
            id=entry_id(request, "run_began"),
            run=str(len(desk.judged.runs.runs) + 1),
            note=values["note"] or None,
            **{"with": given},
        )
        if not desk.has(entry.id):
            desk.write([entry])
    except Refused as reason:
        return send_back(request, card, "run", reason, values, fields=values)
    return SeeOther(card)


def _new_meter(desk: Desk, check: str, values: dict[str, str]) -> HttpResponse:
    """To a new meter for a check, and from there back to what was typed here."""
    kept = urlencode({name: value for name, value in values.items() if value})
    back = f"{reverse('web:run', args=[desk.job.slug])}?{kept}"
    return SeeOther(new_meter_url(desk.job.slug, KIND, check, back))


def _on(desk: Desk) -> Run | None:
    return desk.judged.runs.now


@require_POST
@job_page
@writes
def step(request: HttpRequest, desk: Desk) -> HttpResponse:
    """One step is done; at the step with a clock its seconds are read with it."""
    card = reverse("web:run", args=[desk.job.slug])
    on = _on(desk)
    wanted = request.POST.get("step", "")
    now = on.next_step(desk.judged.facts.run_steps) if on is not None else None
    if on is None or now is None or now.id != wanted:
        # The same tap came twice, or from a second device: the card shows where it is.
        return SeeOther(card)
    entries = []
    shown = run_rows.card(desk.judged, on, desk.now())
    if shown.clock is not None and shown.clock.meter:
        entries.append(
            new_entry(
                "reading",
                at=desk.now(),
                by=desk.key,
                id=entry_id(request, "reading", shown.clock.check),
                item=on.item,
                check=shown.clock.check,
                written=f"{shown.clock.elapsed:.0f} s",
                meter=shown.clock.meter,
            )
        )
    entries.append(
        new_entry(
            "run_step",
            at=desk.now(),
            by=desk.key,
            id=entry_id(request, "run_step", wanted),
            run=on.name,
            step=wanted,
        )
    )
    try:
        desk.write([entry for entry in entries if not desk.has(entry.id)])
    except Refused as reason:
        return send_back(request, card, "step", reason, {})
    return SeeOther(card)


@require_POST
@job_page
@writes
def read(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Keep one reading of the run, or what was seen at its look."""
    card = reverse("web:run", args=[desk.job.slug])
    on = _on(desk)
    if on is None:
        return SeeOther(card)
    check = desk.judged.facts.sheets[KIND].check(request.POST.get("check", ""))
    values = {key: request.POST.get(key, "").strip() for key in READS}
    if "new_meter" in request.POST:
        return _new_meter(desk, check.name, values | {"check": check.name})
    try:
        entries = _entries(request, desk, on, check, values)
        doubt = _doubt(desk, check, entries[-1])
        if doubt and request.POST.get("kept_as_keyed") != "yes":
            return _card(request, desk, on, typed=_Typed(values, check.name, doubt, doubt=True))
        asked = keep(request, desk, entries)
        if asked is not None:
            return asked
    except Refused as reason:
        return _card(request, desk, on, typed=_Typed(values, check.name, reason.sentence))
    return SeeOther(card)


def _entries(
    request: HttpRequest, desk: Desk, on: Run, check: Check, values: dict[str, str]
) -> list[Entry]:
    common: dict[str, Any] = {"at": desk.now(), "by": desk.key}
    entries = []
    if values["strike"]:
        entries.append(
            new_entry(
                "struck",
                id=entry_id(request, "struck", values["strike"]),
                entry=values["strike"],
                reason="keyed wrong",
                **common,
            )
        )
    if check.kind == "look":
        if not values["word"]:
            raise BadInput("Pick what was seen.", "word")
        entries.append(
            new_entry(
                "seen",
                id=entry_id(request, "seen", values["word"]),
                item=on.item,
                check=check.name,
                word=values["word"],
                **common,
            )
        )
        return entries
    written = _written(check, values)
    beside = {
        name: values[name] for name in ("feel", "heading") if name in check.asks and values[name]
    }
    if "wind" in check.asks and on.conditions.get("wind"):
        beside["wind"] = str(on.conditions["wind"])
    taken_with: dict[str, Any] = {"with": beside} if beside else {}
    meter, _, range_name = values["meter"].partition("|")
    entries.append(
        new_entry(
            "reading",
            id=entry_id(
                request, "reading", check.name, written, meter, str(sorted(beside.items()))
            ),
            item=on.item,
            check=check.name,
            written=written,
            meter=meter or None,
            range=range_name or None,
            kept_as_keyed=True if request.POST.get("kept_as_keyed") == "yes" else None,
            **common,
            **taken_with,
        )
    )
    return entries


def _written(check: Check, values: dict[str, str]) -> str:
    """What was keyed, with the unit the meter shows when none was written."""
    if check.kind == "grade":
        if not values["written"]:
            raise BadInput(f"Pick what {check.label.lower()} did.", "written")
        return values["written"]
    if check.method in ("drop", "rise"):
        if not (values["first"] and values["second"]):
            raise BadInput("Key both speeds: the one before and the one after.", "written")
        text = f"{values['first']}/{values['second']}"
    else:
        text = values["written"]
    if not text:
        raise BadInput(f"Key {check.label.lower()}.", "written")
    if "feel" in check.asks and not values["feel"]:
        raise BadInput("Pick how the drop felt: it says which part is suspect.", "feel")
    if "heading" in check.asks and not values["heading"]:
        raise BadInput("Write the heading it was read on, as in 240.", "heading")
    assert check.quantity is not None
    return f"{text} {check.quantity.keyed}" if text[-1].isdigit() else text


def _doubt(desk: Desk, check: Check, entry: Entry) -> str:
    """Why a number looks like a slip, or nothing."""
    if not is_a(entry, ReadingTaken) or check.quantity is None:
        return ""
    _, reading = understand(entry, desk.judged.facts.sheets, desk.judged.facts.meters)
    found = unlikely(check, reading.value, []) if reading.value is not None else None
    return f"{reading.text(check)} is unlikely. {found.sentence}" if found is not None else ""


@require_POST
@job_page
@writes
def end(request: HttpRequest, desk: Desk) -> HttpResponse:
    """End the run: after its last step, or early with why."""
    on = _on(desk)
    if on is None:
        return SeeOther(reverse("web:run", args=[desk.job.slug]))
    early = request.POST.get("early") == "yes"
    why = request.POST.get("why", "").strip()
    card = run_rows.card(desk.judged, on, desk.now())
    try:
        if early:
            at = card.step.title.lower() if card.step is not None else "the end"
            why = f"{why} (at {at})" if why else f"shut down at {at}"
        entry = new_entry(
            "run_ended",
            at=desk.now(),
            by=desk.key,
            id=entry_id(request, "run_ended", on.name),
            run=on.name,
            why=why or None,
            engine_hours=_hours(request.POST.get("engine_hours", "")),
            full_temperature=None if early else request.POST.get("full_temperature") == "yes",
        )
        if not desk.has(entry.id):
            desk.write([entry])
    except Refused as reason:
        hours = {"engine_hours": request.POST.get("engine_hours", "")}
        onto = reverse("web:run", args=[desk.job.slug])
        return send_back(request, onto, "end", reason, hours, beside="engine_hours")
    return SeeOther(reverse("web:run_of", args=[desk.job.slug, on.name]))


def _hours(given: str) -> float | None:
    text = given.strip().replace(",", "")
    if not text:
        return None
    try:
        hours = float(text)
    except ValueError:
        hours = -1.0
    if not 0 <= hours < 1e6:
        raise BadInput(f'"{given}" is no engine hours. Write digits, as in 1142.5.', "engine_hours")
    return hours


@require_safe
@job_page
def run_of(request: HttpRequest, desk: Desk, name: str) -> HttpResponse:
    """What one run came to: every reading against its limit, the magnetos, the air."""
    judged = desk.judged
    one = next((run for run in judged.runs.runs if run.name == name), None)
    if one is None:
        raise BadInput(f'There is no run "{name}" in this job.')
    today = desk.today()
    rows = [
        run_rows.check_row(judged, one, check, today)
        for check in judged.facts.sheets[KIND].checks
        if judged.facts.has_for(check)
    ]
    return page(
        request,
        desk,
        "run/of",
        current="run",
        run=one,
        rows=rows,
        ended=sum(bool(row.ended) for row in rows),
        stands=run_rows.verdict_of(judged, one),
        day=run_rows.day_lines(judged.facts, one),
        air=run_rows.air_words(judged.facts, one),
        worth=worth_beside(judged.facts, one),
        blockers=[b for b in judged.runs.blockers if b.about == one.item],
        opened=run_rows.opened_by(judged, one),
        live=judged.runs.live,
    )


@require_safe
@job_page
def drops(request: HttpRequest, desk: Desk) -> HttpResponse:
    """What a drop of the magneto check says: the last run's own, then every kind of it."""
    last = next((run for run in reversed(desk.judged.runs.runs) if run.mags), None)
    return page(
        request,
        desk,
        "run/drops",
        current="run",
        last=last,
        drops=run_rows.drops(desk.judged.facts),
        magnetos=[(n, ", ".join(h)) for n, h in desk.judged.facts.layout.ignition.items()],
        live=desk.judged.runs.live,
    )


@require_safe
@job_page
def air(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Thin air, or sick: what the day's air is worth at a static speed. Nothing is written."""
    facts = desk.judged.facts
    last = desk.judged.runs.last
    before = run_rows.before(desk.judged, desk.key, desk.now())
    first = {"elevation": before.elevation, **(last.conditions if last else {})}
    asked = WEATHER[:4]
    values = {name: request.GET.get(name, str(first.get(name, ""))).strip() for name, *_ in asked}
    call = last.verdict.call("static") if last and last.verdict else None
    was = str(call.value) if call is not None and call.value is not None else ""
    values["speed"] = request.GET.get("speed", was).strip()
    limit = limit_for(facts.limits, KIND, "static", "service")
    found: StaticWorth | None = None
    said = sentence = field = ""
    try:
        given = {name: values[name] for name, *_ in asked if values[name]}
        if "speed" in request.GET or was:
            check_conditions(given)
            one = day_air(facts, given)
            said = one.sentence if isinstance(one, DayAir) else one
            speed, u = _speed(desk, values["speed"])
            found = worth_of(speed, limit, one, u_speed=u) if isinstance(one, DayAir) else None
    except BadInput as reason:
        sentence, field = reason.sentence, reason.where
    return page(
        request,
        desk,
        "run/air",
        status=422 if sentence else 200,
        current="run",
        fields=[(name, label, hint, mode, values[name]) for name, label, hint, mode in asked],
        speed=values["speed"],
        limit=limit_words(limit) if limit else "",
        source=limit.source_text if limit else "",
        found=found,
        said=said,
        sentence=sentence,
        field=field,
    )


def _speed(desk: Desk, text: str) -> tuple[float, float]:
    """A static speed and the standard uncertainty of the tachometer last chosen for it."""
    if not text:
        raise BadInput("Key the static speed, as in 2210.", "speed")
    speed = parse_amount(text, QUANTITIES["speed"], where="speed")
    if not 500 <= speed <= 6000:
        raise BadInput(f"{show(speed, QUANTITIES['speed'])} is no static speed.", "speed")
    facts = desk.judged.facts
    check = facts.sheets[run_rows.KIND].check("static")
    name, range_name = chosen_meter(check, facts, desk.judged.state)
    if not name or facts.meters[name].accuracy_not_known:
        return float(speed), 0.0
    return float(speed), band_of(facts.meters[name], speed, range_name).standard_uncertainty
