"""The tray, the line, why and the close call."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import date, datetime
from urllib.parse import quote, urlencode
from zoneinfo import ZoneInfo

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST, require_safe

from rehang.book import models, outlook, queries, services
from rehang.trade.facts.lines import FitLine, Line, parse_fit, parse_line
from rehang.trade.facts.readings import read, unlikely
from rehang.trade.gate.powers import need_for
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.state import Taken
from rehang.trade.life.history import Story
from rehang.trade.terms.entries import Entry, new_entry
from rehang.trade.terms.errors import BadInput, NotAllowed
from rehang.trade.terms.quantities import show
from rehang.trade.terms.wording import whole
from rehang.trade.verdicts.verdict import call_reading
from rehang.web.shared.access import may_write, member_here, open_job, pin_box, settled_by, under_of
from rehang.web.shared.desk import SeeOther, supervised
from rehang.web.tray import rows
from rehang.web.work import fit_rows

# A year: the meters on a bench change less often than that.
A_YEAR_S = 31_536_000
# First reading and two more; then the rule answers.
READS = 3
REASONS = (
    "Read again and steady",
    "Repeatable on a second meter",
    "Trend and history say so",
)


def _cookie(slug: str) -> str:
    return f"meters-{slug}"


def _chosen(request: HttpRequest, judged: JudgedJob, slug: str) -> dict[str, rows.Chosen]:
    chosen = rows.chosen_meters(judged, request.COOKIES.get(_cookie(slug), ""))
    check, meter = request.GET.get("check", ""), request.GET.get("meter", "")
    if check and meter:
        # USE A BETTER METER names it in the address; the pad keeps it from there.
        before = chosen.get(check, rows.Chosen())
        chosen[check] = rows.Chosen(meter, request.GET.get("range", ""), before.psi)
    return chosen


def _again(request: HttpRequest, judged: JudgedJob) -> str:
    """The reading being read again, when there is one of that name."""
    name = request.POST.get("again", "") or request.GET.get("again", "")
    return name if name in judged.state.entries else ""


@login_required
@require_safe
def tray(request: HttpRequest, slug: str) -> HttpResponse:
    """The tray with the pad (phone, tablet) or with why and the line (laptop)."""
    job = open_job(request, slug)
    return _tray(request, job)


def _tray(
    request: HttpRequest,
    job: models.Job,
    *,
    typed: str = "",
    line: Line | None = None,
    said: str = "",
    confirm: bool = False,
    status: int = 200,
) -> HttpResponse:
    judged = queries.judged(job)
    chosen = _chosen(request, judged, job.slug)
    again = _again(request, judged)
    why_at = _why_place(request, judged, again)
    page = rows.tray_page(
        judged,
        check_name=request.GET.get("check", ""),
        hole=request.GET.get("hole", ""),
        chosen=chosen,
        again=again,
        why_hole=why_at[0] if why_at else "",
        ghosts=line,
    )
    stop = judged.state.stop
    context = {
        "job": job,
        "current": "tray",
        "page": page,
        "why": rows.why_tag(judged, *why_at, _told(request, job)) if why_at else None,
        "pad": rows.pad_data(judged, chosen, again=again) | {"urls": _urls(job)},
        "state": rows.tray_state(judged, again=again),
        "again": again,
        "line": line,
        "typed": typed,
        "base": str(uuid.uuid4()),
        "said": said,
        "confirm": confirm,
        "may_write": may_write(request, judged),
        "keys": judged.facts.sheets[rows.PLUG].check(page.now.name).choices,
        "look_words": judged.facts.sheets[rows.PLUG].look_words,
        "offers": rows.meter_choices(judged, page.now.name),
        "half": _half_keyed(stop) if stop is not None else "",
    }
    return render(request, "tray/tray.html", context, status=status)


def _half_keyed(stop: Entry) -> str:
    keyed = str(stop.get("half_keyed"))
    return f"You had keyed {keyed}_ at {stop.place}. Read it again." if keyed else ""


def _urls(job: models.Job) -> dict[str, str]:
    s = job.slug
    return {
        "entries": f"/api/jobs/{s}/entries",
        "cells": reverse("web:tray_partial", args=[s]),
        "tray": reverse("web:tray", args=[s]),
        "why": reverse("web:why", args=[s, "HOLE", "CHECK"]),
        "close": reverse("web:close_call", args=[s, "ENTRY"]),
        "readBack": reverse("web:read_back", args=[s]),
        "board": reverse("web:board", args=[s]),
        "signIn": reverse("web:sign_in"),
    }


def _why_place(request: HttpRequest, judged: JudgedJob, again: str) -> tuple[str, str] | None:
    """Which hole and check the tag tells of: asked for, else the last read, else a close call."""
    asked = request.GET.get("why", "")
    hole, _, check = asked.partition(".")
    names = [c.name for c in judged.facts.sheets[rows.PLUG].checks]
    if again:
        return None
    if hole in judged.facts.layout.walk and check in names and judged.at(hole) is not None:
        return hole, check
    for one in judged.items:
        for call in one.calls:
            if call.call == "CLOSE CALL" and one.place:
                return one.place, call.check
    for entry in reversed(judged.state.last_readings(8)):
        held = judged.state.items.get(entry.item)
        on_tray = held is not None and held.place and judged.at(held.place) is not None
        if held is not None and on_tray and entry.get("check") in names:
            return held.place, str(entry.get("check"))
    return None


@login_required
@require_safe
def cells(request: HttpRequest, slug: str) -> HttpResponse:
    """The holes and what is on file for the pad, after something was kept."""
    job = open_job(request, slug)
    judged = queries.judged(job)
    again = _again(request, judged)
    page = rows.tray_page(
        judged,
        check_name=request.GET.get("check", ""),
        hole=request.GET.get("hole", ""),
        chosen=_chosen(request, judged, slug),
        again=again,
    )
    context = {"job": job, "page": page, "state": rows.tray_state(judged, again=again)}
    return render(request, "tray/_live.html", context)


@login_required
@require_POST
def choose_meter(request: HttpRequest, slug: str) -> HttpResponse:
    """Keep the meter in hand for a check on this device, with scripts off as with them on."""
    job = open_job(request, slug)
    judged = queries.judged(job)
    check = request.POST.get("check", "")
    meter, _, range_name = request.POST.get("meter", "").partition("|")
    psi = request.POST.get("psi", "").strip()
    kept = dict(rows.chosen_meters(judged, request.COOKIES.get(_cookie(slug), "")).items())
    kept[check] = rows.Chosen(meter, range_name, whole(psi))
    value = ";".join(
        f"{name}:{c.meter}:{c.range}:{c.psi if c.psi is not None else ''}"
        for name, c in kept.items()
    )
    query = urlencode({"check": check, "hole": request.POST.get("hole", "")})
    answer = SeeOther(f"{reverse('web:tray', args=[job.slug])}?{query}")
    answer.set_cookie(_cookie(slug), quote(value, safe=""), max_age=A_YEAR_S, samesite="Lax")
    return answer


@login_required
@require_safe
def why(request: HttpRequest, slug: str, hole: str, check: str) -> HttpResponse:
    """Why a reading is called what it is called: a tag beside the tray, or a page."""
    job = open_job(request, slug)
    judged = queries.judged(job)
    tag = None
    if hole in judged.facts.layout.walk and check in {
        c.name for c in judged.facts.sheets[rows.PLUG].checks
    }:
        tag = rows.why_tag(judged, hole, check, _told(request, job))
    if tag is None:
        raise Http404(f"Nothing is on file at {hole}.")
    context = {"job": job, "current": "tray", "why": tag, "may_write": may_write(request, judged)}
    htmx = getattr(request, "htmx", False)
    return render(request, "tray/_why.html" if htmx else "tray/why.html", context)


def _told(request: HttpRequest, job: models.Job) -> Callable[[str], Story]:
    """A part's story over the books that this person may read."""
    return lambda item: outlook.story_of(job, item, person=member_here(request).key)


# The line


def _line(request: HttpRequest, judged: JudgedJob, slug: str) -> tuple[str, Line, rows.Chosen]:
    """What was typed, read with the meter in hand for its check."""
    facts = judged.facts
    sheet = facts.sheets[rows.PLUG]
    typed = request.POST.get("line", "")
    first = parse_line(typed, sheet=sheet, layout=facts.layout)
    chosen = rows.Chosen()
    if first.check is not None:
        chosen = _chosen(request, judged, slug).get(first.check.name, rows.Chosen())
    meter = facts.meters.get(chosen.meter)
    line = parse_line(typed, sheet=sheet, layout=facts.layout, meter=meter, range_name=chosen.range)
    return typed, line, chosen


@login_required
@require_POST
def line_preview(request: HttpRequest, slug: str) -> HttpResponse:
    """The tray with the typed line as ghosts, and what the line says so far."""
    job = open_job(request, slug)
    judged = queries.judged(job)
    fit = _fit_line(request, judged)
    if fit is not None:
        page = rows.tray_page(judged, chosen={}, check_name=request.POST.get("now", ""))
        context = {"job": job, "page": page, "fit": fit, "swap": True}
        return render(request, "tray/_line_said.html", context)
    _, line, chosen = _line(request, judged, slug)
    page = rows.tray_page(judged, chosen={}, ghosts=line, check_name=request.POST.get("now", ""))
    context = {
        "job": job,
        "page": page,
        "line": line,
        "meter": rows.meter_words(chosen),
        "keys": line.check.choices if line.check is not None else (),
        "look_words": judged.facts.sheets[rows.PLUG].look_words,
        "swap": True,
    }
    return render(request, "tray/_line_said.html", context)


@login_required
@require_POST
def line_keep(request: HttpRequest, slug: str) -> HttpResponse:
    """Keep a whole line: every hole of it or none."""
    job = open_job(request, slug)
    judged = queries.judged(job)
    fit = _fit_line(request, judged)
    if fit is not None:
        return _keep_fit(request, job, judged, fit)
    typed, line, chosen = _line(request, judged, slug)
    if not line.complete or line.check is None:
        said = line.message if line.message else "Type the line first."
        return _tray(request, job, typed=typed, line=line, said=said, status=422)
    if line.needs_confirm and not request.POST.get("confirm"):
        said = (
            f"{', '.join(line.needs_confirm)}: a word there rejects the plug. "
            "Press ENTER again to keep it."
        )
        return _tray(request, job, typed=typed, line=line, said=said, confirm=True, status=422)
    doubts = _doubts(judged, line, chosen)
    if doubts and not request.POST.get("confirm"):
        said = f"{' '.join(doubts.values())} Mend it, or press ENTER again to keep it as keyed."
        return _tray(request, job, typed=typed, line=line, said=said, confirm=True, status=422)
    member = member_here(request)
    now = timezone.now()
    entries = _line_entries(request, judged, line, chosen, set(doubts), member.key, now)
    # A form that is sent twice was written at another second; its ids say it is the same form.
    entries = [e for e in entries if e.id not in judged.state.entries]
    under = under_of(request, judged, member.key, _today(judged))
    if under:
        entries = [supervised(e, under) for e in entries]
    try:
        if entries:
            services.append(job=job, entries=entries, by=member.key, at=now)
    except (BadInput, NotAllowed) as refusal:
        return _tray(request, job, typed=typed, line=line, said=str(refusal), status=422)
    names = [c.name for c in judged.facts.sheets[rows.PLUG].checks]
    after = names[(names.index(line.check.name) + 1) % len(names)]
    last = next((c.hole for c in reversed(line.cells) if not c.skipped), "")
    query = {"check": after, "why": f"{last}.{line.check.name}"} if last else {"check": after}
    return SeeOther(f"{reverse('web:tray', args=[slug])}?{urlencode(query)}")


def _fit_line(request: HttpRequest, judged: JudgedJob) -> FitLine | None:
    """The line, where it puts plugs in or takes them out."""
    return parse_fit(
        request.POST.get("line", ""),
        layout=judged.facts.layout,
        serials=fit_rows.known_serials(judged),
    )


def _keep_fit(
    request: HttpRequest, job: models.Job, judged: JudgedJob, fit: FitLine
) -> HttpResponse:
    """Keep a line that puts in or takes out: every hole of it or none."""
    typed = request.POST.get("line", "")
    if not fit.complete:
        return _tray(request, job, typed=typed, said=fit.message, status=422)
    member = member_here(request)
    now = timezone.now()
    at = now.astimezone(ZoneInfo(judged.facts.timezone_name)).replace(microsecond=0)
    base = request.POST.get("base", "")
    entries = [
        entry
        for hole, serial in fit.pairs
        for entry in fit_rows.entries_of(
            judged, fit.kind, f"plug:{serial}", hole, {}, once=base, by=member.key, at=at
        )
        if entry.id not in judged.state.entries
    ]
    try:
        if entries:
            services.append(job=job, entries=entries, by=member.key, at=now)
    except (BadInput, NotAllowed) as refusal:
        return _tray(request, job, typed=typed, said=str(refusal), status=422)
    return SeeOther(reverse("web:tray", args=[job.slug]))


def _doubts(judged: JudgedJob, line: Line, chosen: rows.Chosen) -> dict[str, str]:
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
    request: HttpRequest,
    judged: JudgedJob,
    line: Line,
    chosen: rows.Chosen,
    doubted: set[str],
    by: str,
    at: datetime,
) -> list[Entry]:
    """One entry for each value of the line; ids hang on the form, so a repeat is harmless."""
    assert line.check is not None
    base = _uuid(request.POST.get("base", ""))
    when = at.astimezone(ZoneInfo(judged.facts.timezone_name))
    again = _again(request, judged)
    found = []
    for cell in line.cells:
        held = judged.at(cell.hole)
        if held is None:
            continue
        common: dict[str, str] = {
            "item": held.item,
            "place": cell.hole,
            "check": line.check.name,
        }
        name = f"{cell.hole}:{line.check.name}"
        if line.check.kind == "look":
            together = str(uuid.uuid5(base, f"{name}:set")) if len(cell.words) > 1 else ""
            for word in cell.words:
                found.append(
                    new_entry(
                        "seen",
                        at=when,
                        by=by,
                        id=str(uuid.uuid5(base, f"{name}:{word}")),
                        word=word,
                        set=together,
                        **common,
                    )
                )
            continue
        if cell.skipped:
            call = held.call(line.check.name)
            if held.state.ended or (call is not None and call.entry is not None):
                continue
        is_word = any(c.word == cell.written for c in line.check.choices)
        found.append(
            new_entry(
                "reading",
                at=when,
                by=by,
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


def _uuid(text: str) -> uuid.UUID:
    try:
        return uuid.UUID(text)
    except ValueError:
        return uuid.uuid4()


# The close call


def _taken(judged: JudgedJob, entry_id: str) -> tuple[Taken, str]:
    """A reading of the tray and the hole it is in."""
    for hole in judged.facts.layout.walk:
        held = judged.at(hole)
        if held is None:
            continue
        for taken in held.state.readings:
            if taken.entry.id == entry_id:
                return taken, hole
    raise Http404("There is no such reading on the tray.")


def _reads(judged: JudgedJob, taken: Taken) -> list[Taken]:
    """The first reading and those taken again with it hidden, in their order."""
    held = judged.state.items[taken.entry.item]
    same = [t for t in held.readings if t.reading.check == taken.reading.check and t.counts]
    if taken not in same:
        return [taken]
    start = same.index(taken)
    while start > 0 and same[start].entry.get("hidden_first"):
        start -= 1
    found = [same[start]]
    for later in same[start + 1 :]:
        if not later.entry.get("hidden_first"):
            break
        found.append(later)
    return found


@login_required
@require_safe
def close_call(request: HttpRequest, slug: str, entry_id: str) -> HttpResponse:
    """A close call and the four ways to settle it."""
    job = open_job(request, slug)
    return _close_call(request, job, entry_id)


def _close_call(
    request: HttpRequest,
    job: models.Job,
    entry_id: str,
    *,
    said: str = "",
    kept: dict[str, str] | None = None,
    status: int = 200,
) -> HttpResponse:
    judged = queries.judged(job)
    taken, hole = _taken(judged, entry_id)
    held = judged.at(hole)
    assert held is not None
    check = judged.facts.sheets[rows.PLUG].check(taken.reading.check)
    current = held.call(check.name)
    reads = _reads(judged, taken)
    limit = current.limit_data if current is not None else None
    call = call_reading(taken, check, limit, judged.facts, state=judged.state)
    tag = rows.why_of(judged, held, call, check, hole, _told(request, job)(held.item))
    carries = current is not None and current.entry is not None
    context = {
        "job": job,
        "current": "tray",
        "why": tag,
        "call": call,
        "sentence": rows.band_sentence(call),
        "reads": [
            (
                t.reading.text(check),
                f"{t.entry.at.astimezone(ZoneInfo(judged.facts.timezone_name)):%H:%M}",
            )
            for t in reads
        ],
        "reads_differ": len({t.reading.text(check) for t in reads}) > 1,
        "may_read_again": len(reads) < READS,
        "carried_by": (
            current.entry.id
            if carries
            and current is not None
            and current.entry is not None
            and current.entry.id != entry_id
            and current.entry.kind == "reading"
            else ""
        ),
        "current_call": current.call if current is not None else "",
        "reasons": REASONS,
        "said": said,
        "kept": kept or {},
        "box": pin_box(
            judged, member_here(request).key, need_for("called"), _today(judged), "call"
        ),
        "may_write": may_write(request, judged),
    }
    return render(request, "tray/close_call.html", context, status=status)


@login_required
@require_POST
def read_again(request: HttpRequest, slug: str, entry_id: str) -> HttpResponse:
    """Go and read it again on the pad, with the first value hidden."""
    job = open_job(request, slug)
    judged = queries.judged(job)
    taken, hole = _taken(judged, entry_id)
    first = _reads(judged, taken)[0].entry
    query = urlencode(
        {
            "check": taken.reading.check,
            "hole": hole,
            "again": first.id,
            # The same meter again; another one is a different way to settle it.
            "meter": first.get("meter"),
            "range": first.get("range"),
        }
    )
    return SeeOther(f"{reverse('web:tray', args=[slug])}?{query}")


def _write(
    request: HttpRequest, job: models.Job, entry_id: str, kind: str, **data: str
) -> HttpResponse:
    """Write one entry about a close call and go on, or say why not beside what was typed."""
    member = member_here(request)
    now = timezone.now()
    judged = queries.judged(job)
    zone = ZoneInfo(judged.facts.timezone_name)
    try:
        by = settled_by(request, member.key) if kind == "called" else member.key
        entry = new_entry(kind, at=now.astimezone(zone), by=by, entry=entry_id, **data)
        services.append(
            job=job,
            entries=[entry],
            by=by,
            at=now,
            confirmed=by if kind == "called" else "",
        )
    except (BadInput, NotAllowed) as refusal:
        return _close_call(request, job, entry_id, said=str(refusal), kept=data, status=422)
    taken, hole = _taken(queries.judged(queries.job(job.slug)), entry_id)
    query = urlencode({"why": f"{hole}.{taken.reading.check}", "check": taken.reading.check})
    return SeeOther(f"{reverse('web:tray', args=[job.slug])}?{query}")


def _today(judged: JudgedJob) -> date:
    return timezone.now().astimezone(ZoneInfo(judged.facts.timezone_name)).date()


@sensitive_post_parameters("pin")
@login_required
@require_POST
def call_it(request: HttpRequest, slug: str, entry_id: str) -> HttpResponse:
    """A named person calls it WITHIN or OUT and says why."""
    job = open_job(request, slug)
    call = request.POST.get("call", "")
    reason = request.POST.get("words", "").strip() or request.POST.get("reason", "").strip()
    if call not in ("WITHIN", "OUT"):
        said = "Choose WITHIN or OUT."
    elif not reason:
        said = "Calling a close call takes a reason. Choose one or write it."
    else:
        return _write(request, job, entry_id, "called", call=call, reason=reason)
    kept = {"call": call, "reason": reason}
    return _close_call(request, job, entry_id, said=said, kept=kept, status=422)


@login_required
@require_POST
def leave_open(request: HttpRequest, slug: str, entry_id: str) -> HttpResponse:
    """Leave it open for a second opinion; it waits on the board."""
    job = open_job(request, slug)
    reason = request.POST.get("reason", "").strip() or "second opinion"
    return _write(request, job, entry_id, "left_open", reason=reason)
