"""A line typed for a whole plug or several: how it is read, and how it is kept."""

from __future__ import annotations

import uuid
from collections.abc import Iterator, Mapping, Sequence
from typing import Any
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from rehang.trade.facts.lines import FitLine, Line, parse_fit, parse_line
from rehang.trade.facts.readings import read, unlikely
from rehang.trade.job.judging import JudgedJob
from rehang.trade.terms.entries import Entry, new_entry
from rehang.trade.terms.errors import Refused
from rehang.trade.terms.quantities import show
from rehang.web.shared.desk import Desk, SeeOther, job_page
from rehang.web.tray import meters, rows, words
from rehang.web.tray.views import again_here, chosen_here, tray_with
from rehang.web.work import fit_rows

__all__ = [
    "line_keep",
    "line_preview",
]


# The line


def _line(request: HttpRequest, desk: Desk) -> tuple[str, Line, meters.Chosen]:
    """What was typed, read with the meter in hand for its check."""
    facts = desk.judged.facts
    sheet = facts.sheets[words.PLUG]
    typed = request.POST.get("line", "")
    first = parse_line(typed, sheet=sheet, layout=facts.layout)
    chosen = meters.Chosen()
    if first.check is not None:
        chosen = chosen_here(request, desk).get(first.check.name, meters.Chosen())
    meter = facts.meters.get(chosen.meter)
    line = parse_line(typed, sheet=sheet, layout=facts.layout, meter=meter, range_name=chosen.range)
    return typed, line, chosen


@require_POST
@job_page
def line_preview(request: HttpRequest, desk: Desk) -> HttpResponse:
    """The tray with the typed line as ghosts, and what the line says so far."""
    judged = desk.judged
    fit = _fit_line(request, judged)
    if fit is not None:
        page = rows.tray_page(judged, chosen={}, check_name=request.POST.get("now", ""))
        context = {"job": desk.job, "page": page, "fit": fit, "swap": True}
        return render(request, "tray/_line_said.html", context)
    _, line, chosen = _line(request, desk)
    page = rows.tray_page(judged, chosen={}, ghosts=line, check_name=request.POST.get("now", ""))
    context = {
        "job": desk.job,
        "page": page,
        "line": line,
        "meter": meters.meter_words(chosen),
        "keys": line.check.choices if line.check is not None else (),
        "look_words": judged.facts.sheets[words.PLUG].look_words,
        "swap": True,
    }
    return render(request, "tray/_line_said.html", context)


@require_POST
@job_page
def line_keep(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Keep a whole line: every hole of it or none."""
    judged = desk.judged
    fit = _fit_line(request, judged)
    if fit is not None:
        return _keep_fit(request, desk, fit)
    typed, line, chosen = _line(request, desk)
    if not line.complete or line.check is None:
        said = line.message if line.message else "Type the line first."
        return tray_with(request, desk, typed=typed, line=line, said=said, status=422)
    if line.needs_confirm and not request.POST.get("confirm"):
        said = (
            f"{', '.join(line.needs_confirm)}: a word there rejects the plug. "
            "Press ENTER again to keep it."
        )
        return tray_with(request, desk, typed=typed, line=line, said=said, confirm=True, status=422)
    doubts = _doubts(judged, line, chosen)
    if doubts and not request.POST.get("confirm"):
        said = f"{' '.join(doubts.values())} Mend it, or press ENTER again to keep it as keyed."
        return tray_with(request, desk, typed=typed, line=line, said=said, confirm=True, status=422)
    entries = _line_entries(request, desk, line, chosen, set(doubts))
    # A form that is sent twice was written at another second; its ids say it is the same form.
    entries = [e for e in entries if not desk.has(e.id)]
    try:
        if entries:
            desk.write(entries)
    except Refused as reason:
        return tray_with(request, desk, typed=typed, line=line, said=reason.sentence, status=422)
    names = [c.name for c in judged.facts.sheets[words.PLUG].checks]
    after = names[(names.index(line.check.name) + 1) % len(names)]
    last = next((c.hole for c in reversed(line.cells) if not c.skipped), "")
    query = {"check": after, "why": f"{last}.{line.check.name}"} if last else {"check": after}
    return SeeOther(f"{reverse('web:tray', args=[desk.job.slug])}?{urlencode(query)}")


def _fit_line(request: HttpRequest, judged: JudgedJob) -> FitLine | None:
    """The line, where it puts plugs in or takes them out."""
    return parse_fit(
        request.POST.get("line", ""),
        layout=judged.facts.layout,
        serials=fit_rows.known_serials(judged),
    )


def _keep_fit(request: HttpRequest, desk: Desk, fit: FitLine) -> HttpResponse:
    """Keep a line that puts in or takes out: every hole of it or none."""
    typed = request.POST.get("line", "")
    if not fit.complete:
        return tray_with(request, desk, typed=typed, said=fit.message, status=422)
    base, at = request.POST.get("base", ""), desk.now()
    entries = [
        entry
        for hole, serial in fit.pairs
        for entry in fit_rows.entries_of(
            desk.judged, fit.kind, f"plug:{serial}", hole, {}, once=base, by=desk.key, at=at
        )
        if not desk.has(entry.id)
    ]
    try:
        if entries:
            desk.write(entries)
    except Refused as reason:
        return tray_with(request, desk, typed=typed, said=reason.sentence, status=422)
    return SeeOther(reverse("web:tray", args=[desk.job.slug]))


def _doubts(judged: JudgedJob, line: Line, chosen: meters.Chosen) -> dict[str, str]:
    """Holes whose number looks ten times out beside its fellows, each with its sentence."""
    check = line.check
    if check is None or check.quantity is None:
        return {}
    values: dict[str, int] = {}
    for hole in judged.facts.layout.walk:
        held = judged.at(hole)
        call = held.call(check.name) if held is not None else None
        if call is not None and call.value is not None and call.call != "VOID":
            values[hole] = call.value
    meter = judged.facts.meters.get(chosen.meter)
    typed: dict[str, int] = {}
    for cell in line.cells:
        if cell.skipped or any(c.word == cell.written for c in check.choices):
            continue
        value = read(check, cell.written, meter, chosen.range).value
        if value is not None:
            typed[cell.hole] = value
    values |= typed
    found = {}
    for hole, value in typed.items():
        doubt = unlikely(check, value, [v for h, v in values.items() if h != hole])
        if doubt is not None:
            found[hole] = f"{hole}: {show(value, check.quantity)} is unlikely. {doubt.sentence}"
    return found


def _line_entries(
    request: HttpRequest, desk: Desk, line: Line, chosen: meters.Chosen, doubted: set[str]
) -> list[Entry]:
    """One entry for each value of the line; ids hang on the form, so a repeat is harmless."""
    assert line.check is not None
    judged = desk.judged
    base = _uuid(request.POST.get("base", ""))
    when = timezone.now().astimezone(desk.zone)
    again = again_here(request, desk)
    found: list[Entry] = []
    for cell in line.cells:
        held = judged.at(cell.hole)
        if held is None:
            continue
        common: dict[str, Any] = {
            "at": when,
            "by": desk.key,
            "item": held.item,
            "place": cell.hole,
            "check": line.check.name,
        }
        name = f"{cell.hole}:{line.check.name}"
        if line.check.kind == "look":
            found += _seen(cell.words, base, name, common)
            continue
        if cell.skipped:
            call = held.call(line.check.name)
            if held.state.ended or (call is not None and call.entry is not None):
                continue
        is_word = any(c.word == cell.written for c in line.check.choices)
        found.append(
            new_entry(
                "reading",
                id=str(uuid.uuid5(base, name)),
                written="not taken" if cell.skipped else cell.written,
                meter="" if is_word and line.check.kind == "measure" else chosen.meter,
                range="" if is_word or cell.skipped else chosen.range,
                at_psi=chosen.psi if line.check.kind == "grade" else None,
                hidden_first=True if again else None,
                kept_as_keyed=True if cell.hole in doubted else None,
                **common,
            )
        )
    return found


def _seen(
    words: Sequence[str], base: uuid.UUID, name: str, common: Mapping[str, Any]
) -> Iterator[Entry]:
    """One entry for each word seen at once; they are struck together."""
    together = str(uuid.uuid5(base, f"{name}:set")) if len(words) > 1 else ""
    for word in words:
        own = str(uuid.uuid5(base, f"{name}:{word}"))
        yield new_entry("seen", id=own, word=word, set=together, **common)


def _uuid(text: str) -> uuid.UUID:
    try:
        return uuid.UUID(text)
    except ValueError:
        return uuid.uuid4()
