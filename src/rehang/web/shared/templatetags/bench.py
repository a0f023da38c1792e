"""What every page's head shows: the light chosen, the engine, and when the book last kept."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from django import template
from django.urls import reverse
from django.utils import timezone

from rehang.book import members, queries
from rehang.web.shared.access import under_of
from rehang.web.shared.help import ANY, helps
from rehang.web.shared.mode import MODES

register = template.Library()


@dataclass(frozen=True, slots=True)
class Mode:
    """The light: its name, and the three buttons' pressed state as HTML wants it."""

    name: str
    chosen: bool

    def _pressed(self, name: str) -> str:
        return "true" if self.name == name else "false"

    @property
    def day(self) -> str:
        return self._pressed("day")

    @property
    def dim(self) -> str:
        return self._pressed("dim")

    @property
    def sun(self) -> str:
        return self._pressed("sun")


@dataclass(frozen=True, slots=True)
class Head:
    """The head of a job's page: engine, aircraft, last kept, the day and who is signed in."""

    serial: str = ""
    off: str = ""
    kept: str = ""
    today: str = ""
    person: str = ""
    under: str = ""


@register.simple_tag(takes_context=True)
def bench_mode(context: dict[str, Any]) -> Mode:
    """The light kept on this device, DAY when none was chosen."""
    request = context.get("request")
    name = request.COOKIES.get("mode", "") if request is not None else ""
    return Mode(name if name in MODES else "day", name in MODES)


@register.simple_tag(takes_context=True)
def job_head(context: dict[str, Any]) -> Head:
    """The head of the job in the context; empty on pages of no job."""
    job = context.get("job")
    request = context.get("request")
    member = members.member_of(request.user) if request is not None else None
    if job is None:
        return Head(person=member.key if member is not None else "")
    judged = queries.judged(job)
    zone = ZoneInfo(judged.facts.timezone_name)
    order = judged.state.order
    last = order[-1].kept if order else None
    engine = judged.facts.engine
    aircraft = str(engine.get("registration", "") or "")
    now = timezone.now().astimezone(zone)
    return Head(
        serial=str(engine.get("serial", "") or judged.facts.job),
        off=f"off {aircraft}" if aircraft else "",
        kept=clock(last, zone) if last else "nothing",
        today=f"{now:%a} {now.day} {now:%b}",
        person=member.key if member is not None else "",
        under=under_of(request, judged, member.key, now.date())
        if request is not None and member is not None
        else "",
    )


@dataclass(frozen=True, slots=True)
class Way:
    """The way to search and to help: what explains the page, where it came from, who may search."""

    about: str
    query: str
    path: str
    searches: bool


@register.simple_tag(takes_context=True)
def help_way(context: dict[str, Any]) -> Way:
    """The way from this page to search and to what explains it, and back here again."""
    request = context.get("request")
    if request is None:
        return Way(ANY, "", "", searches=False)
    found = request.resolver_match
    name = found.url_name if found is not None and found.url_name in helps() else ANY
    path = request.get_full_path() if request.method == "GET" else ""
    query = f"?{urlencode({'from': path})}" if path else ""
    return Way(name, query, path, searches=request.user.is_authenticated)


@dataclass(frozen=True, slots=True)
class Place:
    """A place to go to: its name, a short one for the bar of a phone, and whether it is this one."""

    label: str
    short: str
    url: str
    is_now: bool


@dataclass(frozen=True, slots=True)
class Places:
    """Where one can go from a page: the laptop's row, the phone's bar, and what MORE holds."""

    row: tuple[Place, ...]
    bar: tuple[Place, ...]
    more: tuple[Place, ...]


# By address: name, and the short one where it differs. The first four are the phone's bar, the rest
# stand under MORE; the laptop's row ends where the pages of work begin.
_JOB_PLACES = {
    "board": ("Bench board", "Board"),
    "tray": ("Tray", ""),
    "engine": ("Engine", ""),
    "rest": ("Rest of the job", "Rest"),
    "read_back": ("Read it back", ""),
    "book": ("Book", ""),
    "limits": ("Limits", ""),
    "facts": ("On file", ""),
    "paper": ("Paper", ""),
    "meters": ("Meters", ""),
    "places": ("What is in", ""),
    "parts": ("Parts", ""),
    "torque": ("Torque", ""),
    "run": ("Run", ""),
    "blockers": ("What blocks", ""),
    "records": ("Records", ""),
    "due": ("Due", ""),
    "photos": ("Photos", ""),
}
_IN_BAR, _IN_ROW = 4, 9
_SHOP_PLACES = {"facts": "On file", "limits": "Limits", "meters": "Meters"}


@register.simple_tag(takes_context=True)
def places_of(context: dict[str, Any]) -> Places:
    """The places of the job in the context, of the shop, or of whoever has signed in."""
    request, job = context.get("request"), context.get("job")
    if request is None or not request.user.is_authenticated:
        return Places((), (), ())
    found = request.resolver_match
    here = found.url_name if found is not None else ""
    jobs = Place("Jobs", "Jobs", reverse("web:home") + "?list", here == "home")
    search = Place("Search", "Search", reverse("web:find"), here == "find")
    if job is None:
        due = Place("What is due", "Due", reverse("web:fleet"), here == "fleet")
        you = Place("You", "You", reverse("web:visits"), here == "visits")
        all_of_them = (jobs, due, search, you)
        return Places(all_of_them, all_of_them, ())
    current = str(context.get("current", "")).replace("-", "_") or here
    if job.is_shop:
        people = Place("People", "People", reverse("web:people"), here == "people")
        things = tuple(
            Place(label, label, reverse(f"web:{name}", args=[job.slug]), current == name)
            for name, label in _SHOP_PLACES.items()
        )
        return Places((jobs, *things, people), (jobs, *things, people), ())
    found_places = tuple(
        Place(label, short or label, reverse(f"web:{name}", args=[job.slug]), current == name)
        for name, (label, short) in _JOB_PLACES.items()
    )
    every = Place("Due, every engine", "Due", reverse("web:fleet"), here == "fleet")
    more = (*found_places[_IN_BAR:], every, jobs, search)
    return Places(found_places[:_IN_ROW], found_places[:_IN_BAR], more)


def clock(when: datetime, zone: ZoneInfo) -> str:
    """Hours and minutes of an instant in the job's time zone."""
    return f"{when.astimezone(zone):%H:%M}"
