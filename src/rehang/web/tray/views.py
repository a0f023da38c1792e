"""The tray, its cells, the meter in hand, and why a reading is called as it is."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Mapping
from typing import Any
from urllib.parse import quote, urlencode

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from rehang.book import outlook, plugs_out
from rehang.trade.facts.lines import Line
from rehang.trade.job.judging import JudgedJob
from rehang.trade.life.story_values import PartStory
from rehang.trade.terms.entries import Entry
from rehang.trade.terms.kinds.work import Stopped
from rehang.trade.terms.wording import whole
from rehang.web.shared.desk import Desk, SeeOther, job_page
from rehang.web.shared.templatetags.pages import limit_url, new_meter_url
from rehang.web.tray import meters, pad, rows, words
from rehang.web.tray import why as why_rows

__all__ = [
    "again_here",
    "cells",
    "choose_meter",
    "chosen_here",
    "told_of",
    "tray",
    "tray_with",
    "why",
]

# A year: the meters on a bench change less often than that.
A_YEAR_S = 31_536_000


def _cookie(slug: str) -> str:
    return f"meters-{slug}"


def chosen_here(request: HttpRequest, desk: Desk) -> dict[str, meters.Chosen]:
    """The meter in hand for each check, on this device and at this address."""
    kept = request.COOKIES.get(_cookie(desk.job.slug), "")
    chosen = meters.chosen_meters(desk.judged, kept)
    check, meter = request.GET.get("check", ""), request.GET.get("meter", "")
    if check and meter:
        # USE A BETTER METER names it in the address; the pad keeps it from there.
        before = chosen.get(check, meters.Chosen())
        chosen[check] = meters.Chosen(meter, request.GET.get("range", ""), before.psi)
    return chosen


def again_here(request: HttpRequest, desk: Desk) -> str:
    """The reading being read again, when there is one of that name."""
    name = request.POST.get("again", "") or request.GET.get("again", "")
    return name if desk.has(name) else ""


@require_safe
@job_page
def tray(request: HttpRequest, desk: Desk) -> HttpResponse:
    """The tray with the pad (phone, tablet) or with why and the line (laptop)."""
    answer = tray_with(request, desk)
    if request.GET.get("check") and request.GET.get("meter"):
        _keep_chosen(answer, desk, chosen_here(request, desk))
    return answer


def _keep_chosen(
    answer: HttpResponse, desk: Desk, chosen: Mapping[str, meters.Chosen]
) -> HttpResponse:
    """The answer, with the meters in hand kept on this device."""
    value = ";".join(
        f"{name}:{c.meter}:{c.range}:{c.psi if c.psi is not None else ''}"
        for name, c in chosen.items()
    )
    answer.set_cookie(
        _cookie(desk.job.slug), quote(value, safe=""), max_age=A_YEAR_S, samesite="Lax"
    )
    return answer


def tray_with(
    request: HttpRequest,
    desk: Desk,
    *,
    typed: str = "",
    line: Line | None = None,
    said: str = "",
    confirm: bool = False,
    status: int = 200,
) -> HttpResponse:
    judged = desk.judged
    chosen = chosen_here(request, desk)
    again = again_here(request, desk)
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
    last = plugs_out.last_time(desk.job, desk.key) if judged.empty_holes else None
    context = {
        "job": desk.job,
        "judged": judged,
        "current": "tray",
        "page": page,
        "why": why_rows.why_tag(judged, *why_at, told_of(desk)) if why_at else None,
        "pad": pad.pad_data(judged, chosen, again=again)
        | {"urls": _urls(desk.job.slug, judged), "last": dict(last.plugs) if last else {}},
        "out_once": uuid.uuid4().hex,
        "empty": judged.empty_holes,
        "state": pad.tray_state(judged, again=again),
        "again": again,
        "line": line,
        "typed": typed,
        "base": str(uuid.uuid4()),
        "said": said,
        "confirm": confirm,
        "may_write": not desk.why_not,
        "keys": judged.facts.sheets[words.PLUG].check(page.now.name).choices,
        "look_words": judged.facts.sheets[words.PLUG].look_words,
        "offers": meters.meter_choices(judged, page.now.name),
        "half": _half_keyed(stop) if stop is not None else _said_before(request),
    }
    return render(request, "tray/tray.html", context, status=status)


def _said_before(request: HttpRequest) -> str:
    """What the page before wrote, as a meter that is on file now."""
    said = request.session.pop("said", None) or {}
    return str(said.get("sentence", ""))


def _half_keyed(stop: Entry[Stopped]) -> str:
    keyed = stop.fields.half_keyed
    return f"You had keyed {keyed}_ at {stop.place}. Read it again." if keyed else ""


def _urls(s: str, judged: JudgedJob) -> dict[str, Any]:
    at = reverse("web:tray", args=[s])
    return {
        "entries": f"/api/jobs/{s}/entries",
        "cells": reverse("web:tray_partial", args=[s]),
        "tray": at,
        "why": reverse("web:why", args=[s, "HOLE", "CHECK"]),
        "newMeter": new_meter_url(s, words.PLUG, "CHECK", f"{at}?check=CHECK&hole=HOLE"),
        "close": reverse("web:close_call", args=[s, "ENTRY"]),
        "readBack": reverse("web:read_back", args=[s]),
        "board": reverse("web:board", args=[s]),
        "signIn": reverse("web:sign_in"),
        # Where a limit is entered for what nothing judges, by check; from there back to the tray.
        "limits": {
            check: f"{limit_url(s, number, words.PLUG, check)}?{urlencode({'next': at})}"
            for check, number in pad.unjudged_checks(judged).items()
        },
    }


def _why_place(request: HttpRequest, judged: JudgedJob, again: str) -> tuple[str, str] | None:
    """Which hole and check the tag tells of: asked for, else the last read, else a close call."""
    asked = request.GET.get("why", "")
    hole, _, check = asked.partition(".")
    names = [c.name for c in judged.facts.sheets[words.PLUG].checks]
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
        if held is not None and on_tray and entry.fields.check in names:
            return held.place, entry.fields.check
    return None


@require_safe
@job_page
def cells(request: HttpRequest, desk: Desk) -> HttpResponse:
    """The holes and what is on file for the pad, after something was kept."""
    judged = desk.judged
    again = again_here(request, desk)
    page = rows.tray_page(
        judged,
        check_name=request.GET.get("check", ""),
        hole=request.GET.get("hole", ""),
        chosen=chosen_here(request, desk),
        again=again,
    )
    context = {"job": desk.job, "page": page, "state": pad.tray_state(judged, again=again)}
    return render(request, "tray/_live.html", context)


@require_POST
@job_page
def choose_meter(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Keep the meter in hand for a check on this device, with scripts off as with them on."""
    judged = desk.judged
    check = request.POST.get("check", "")
    meter, _, range_name = request.POST.get("meter", "").partition("|")
    psi = request.POST.get("psi", "").strip()
    kept = dict(
        meters.chosen_meters(judged, request.COOKIES.get(_cookie(desk.job.slug), "")).items()
    )
    kept[check] = meters.Chosen(meter, range_name, whole(psi))
    query = urlencode({"check": check, "hole": request.POST.get("hole", "")})
    answer = SeeOther(f"{reverse('web:tray', args=[desk.job.slug])}?{query}")
    return _keep_chosen(answer, desk, kept)


@require_safe
@job_page
def why(request: HttpRequest, desk: Desk, hole: str, check: str) -> HttpResponse:
    """Why a reading is called what it is called: a tag beside the tray, or a page."""
    judged = desk.judged
    tag = None
    if hole in judged.facts.layout.walk and check in {
        c.name for c in judged.facts.sheets[words.PLUG].checks
    }:
        tag = why_rows.why_tag(judged, hole, check, told_of(desk))
    if tag is None:
        raise Http404(f"Nothing is on file at {hole}.")
    context = {
        "job": desk.job,
        "judged": judged,
        "current": "tray",
        "why": tag,
        "may_write": not desk.why_not,
    }
    htmx = getattr(request, "htmx", False)
    return render(request, "tray/_why.html" if htmx else "tray/why.html", context)


def told_of(desk: Desk) -> Callable[[str], PartStory]:
    """A part's story over the books that this person may read."""
    return lambda item: outlook.story_of(desk.job, item, person=desk.key)
