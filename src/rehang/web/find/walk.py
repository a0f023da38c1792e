"""The first walk: seven stops over the demo, each a page of it and what to tap there."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_safe

from rehang.book import queries
from rehang.trade.job.judging import JudgedJob
from rehang.trade.terms.errors import BadInput
from rehang.trade.verdicts.calls import Call
from rehang.web.shared.desk import Desk, job_page, page
from rehang.web.shared.templatetags.pages import item_url

__all__ = ["Stop", "stops", "walk"]

_NOT_DEMO = (
    "The first walk goes over the demo, and this job is your own. Sign in as one of its people."
)


@dataclass(frozen=True, slots=True)
class Stop:
    """One page of the walk: what it is about, what to tap there and what it shows, what is drawn."""

    title: str
    words: str
    drawn: str
    address: str


@require_safe
@job_page
def walk(request: HttpRequest, desk: Desk) -> HttpResponse:
    """The stops, for the people of a demo."""
    if not queries.is_demo(desk.job):
        raise BadInput(_NOT_DEMO)
    return page(request, desk, "find/walk", stops=stops(desk.judged, desk.job.slug))


def stops(judged: JudgedJob, slug: str) -> list[Stop]:
    """The seven stops over a demo as it stands now."""
    return [
        _gap(judged, slug),
        _close_call(judged, slug),
        _why(judged, slug),
        _compression(judged, slug),
        Stop(
            "The run card",
            "Look at what keeps this engine from being started; later it leads step by step through a run.",
            "clock",
            reverse("web:run", args=[slug]),
        ),
        Stop(
            "What blocks it",
            "Tap any reason: it leads to where that reason is settled.",
            "list",
            reverse("web:blockers", args=[slug]),
        ),
        Stop(
            "Sign",
            "Read what a person would sign: who may, what stands against it, and that Rehang never signs.",
            "sign",
            reverse("web:record_sign", args=[slug, "maintenance"]),
        ),
    ]


def _at(judged: JudgedJob, slug: str, check: str, hole: str) -> str:
    return f"{reverse('web:tray', args=[slug])}?{urlencode({'check': check, 'hole': hole})}"


def _gap(judged: JudgedJob, slug: str) -> Stop:
    """The first plug whose gap was not read; else the first of the walk."""
    walked = [(hole, judged.at(hole)) for hole in judged.facts.layout.walk]
    plugs = [(hole, one) for hole, one in walked if one is not None]
    open_ones = [hole for hole, one in plugs if (call := one.call("gap")) is None or not call.entry]
    hole = next(iter(open_ones or [hole for hole, _ in plugs]), judged.facts.layout.walk[0])
    return Stop(
        "Read a gap",
        f"Key 1 8 for plug {hole} and tap NEXT: its box in the tray says at once if it is within.",
        "number",
        _at(judged, slug, "gap", hole),
    )


def _calls(judged: JudgedJob, call: str) -> list[tuple[str, Call]]:
    return [
        (one.place, each)
        for one in judged.items
        if one.kind == "plug" and one.place
        for each in one.calls
        if each.call == call and each.entry is not None
    ]


def _close_call(judged: JudgedJob, slug: str) -> Stop:
    found = _calls(judged, "CLOSE CALL")
    words = "Too near the limit for this meter: tap READ AGAIN to take it once more, or see who may CALL IT."
    if not found:
        words = "It was settled here. In the tray a half filled mark stands for one."
        return Stop("A CLOSE CALL", words, "stamp", reverse("web:tray", args=[slug]))
    entry = found[0][1].entry
    assert entry is not None
    where = reverse("web:close_call", args=[slug, entry.id])
    return Stop("A CLOSE CALL", words, "stamp", where)


def _why(judged: JudgedJob, slug: str) -> Stop:
    """Why a reading is OUT, with its limit and its meter; else why one is within."""
    for word in ("OUT", "CLOSE CALL", "WITHIN"):
        for place, call in _calls(judged, word):
            return Stop(
                "Why",
                f"See why this one is {word}: the limit, who says so, and how far off the meter may be.",
                "scale",
                reverse("web:why", args=[slug, place, call.check]),
            )
    return Stop("Why", "Tap WHY under a reading.", "scale", reverse("web:tray", args=[slug]))


def _compression(judged: JudgedJob, slug: str) -> Stop:
    """The cylinder that is worst off."""
    order = ("REJECT", "REWORK", "NOT YET", "KEEP")
    ones = sorted(
        (one for one in judged.items if one.kind == "cylinder"),
        key=lambda one: (one.call("compression") is None, order.index(one.verdict)),
    )
    where = item_url(slug, ones[0].item) if ones else reverse("web:engine", args=[slug])
    return Stop(
        "Compression",
        "Look at what it held, and where the air was heard: the drawing shows where it leaks.",
        "gauge",
        where,
    )
