"""What every page of a job begins with: who asks, for which job, and whether they may write."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import wraps
from typing import Any
from zoneinfo import ZoneInfo

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseRedirectBase
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme

from rehang.book import members, queries, services
from rehang.trade.doors.rules import check_can_write
from rehang.trade.facts.job_facts import Person
from rehang.trade.gate.powers import KEEP, PowerNeed, check_keeps_shop, need_of
from rehang.trade.job.judging import JudgedJob
from rehang.trade.telling.sentences import entry_words, voided_by
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.errors import BadInput, NotAllowed, Refused
from rehang.trade.terms.kinds.decisions import Struck
from rehang.trade.terms.kinds.items import Reworked
from rehang.trade.terms.kinds.papers import Filed
from rehang.trade.terms.wording import listed
from rehang.web.shared import pin_holds
from rehang.web.shared.access import pin_box, settled_by, under_of
from rehang.web.shared.away import Written, answer_to_tray, was_away, written_away

__all__ = [
    "Desk",
    "SeeOther",
    "ask_pin",
    "asked_for",
    "entry_id",
    "job_page",
    "keep",
    "keeper",
    "onward",
    "page",
    "refused",
    "say",
    "send_back",
    "supervised",
    "writes",
]

View = Callable[..., HttpResponse]


class SeeOther(HttpResponseRedirectBase):
    """303: after a post, look here. A reload of the page then sends nothing again."""

    status_code = 303


@dataclass(frozen=True, slots=True)
class Desk:
    """One person at one job. ``why_not`` is the sentence of who may not write, else empty.

    ``under`` is the key of the person under whom they say they work on this visit.
    """

    job: Any
    judged: JudgedJob
    person: Person
    why_not: str
    under: str = ""
    written: Written | None = None

    @property
    def key(self) -> str:
        return self.person.key

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.judged.facts.timezone_name)

    def now(self) -> datetime:
        """The clock in the job's time zone, to the second, as entries are written."""
        now = self.written.at if self.written is not None else timezone.now()
        return now.astimezone(self.zone).replace(microsecond=0)

    def today(self) -> date:
        return self.now().date()

    def has(self, entry_id: str) -> bool:
        """Whether the entry was kept before: the same form was sent twice."""
        return entry_id in self.judged.state.entries

    def write(self, entries: Sequence[Entry], *, confirmed: str = "") -> None:
        """Keep entries, all or none; those of another person who confirmed with their own PIN."""
        if self.under and not confirmed:
            entries = [supervised(one, self.under) for one in entries]
        if self.written is not None and self.written.clock:
            said = {"clock": self.written.clock}
            entries = [replace(one, data={**one.data, **said}) for one in entries]
        services.append(
            job=self.job,
            entries=entries,
            by=confirmed or self.key,
            at=timezone.now(),
            confirmed=confirmed,
        )

    def need(self, entries: Sequence[Entry]) -> PowerNeed | None:
        """The first power that entries would take here; None where anyone may write them."""
        fresh = [need_of(one, self.judged.state) for one in entries if not self.has(one.id)]
        return next((one for one in fresh if one is not None), None)


def supervised(entry: Entry, under: str) -> Entry:
    """The entry with under whose supervision it is written (DESIGN 4b, 1)."""
    return replace(entry, data={**entry.data, "under": under})


def job_page(view: View) -> View:
    """For signed-in people in the job's list; anyone else is told there is no such job."""
    return _page_of(view, queries.job_for)


def book_page(view: View) -> View:
    """The same for a page that the shop's own book has too: what is on file."""
    return _page_of(view, queries.book_for)


def _page_of(view: View, book_for: Callable[[str, str], Any]) -> View:
    @wraps(view)
    @login_required
    def inner(request: HttpRequest, slug: str, **kwargs: Any) -> HttpResponse:
        member = members.member_of(request.user)
        try:
            job = book_for(slug, member.key if member is not None else "")
            judged = queries.judged(job)
        except BadInput as reason:
            return refused(request, reason, 404)
        assert member is not None
        person = judged.facts.people.get(member.key)
        if person is None:
            return refused(request, BadInput(f'There is no job "{slug}" on your board.'), 404)
        try:
            check_can_write(person)
            why_not = ""
        except NotAllowed as reason:
            why_not = str(reason)
        day = timezone.now().astimezone(ZoneInfo(judged.facts.timezone_name)).date()
        under = under_of(request, judged, person.key, day)
        desk = Desk(job, judged, person, why_not, under)
        away, why = was_away(request), ""
        try:
            answer = view(request, replace(desk, written=written_away(request)), **kwargs)
        except BadInput as reason:
            # An address that names an item, meter or hole the job does not have.
            why = reason.sentence
            answer = refused(request, reason, 404, desk)
        return answer_to_tray(request, answer, why) if away else answer

    return inner


def writes(view: View) -> View:
    """Inside :func:`job_page`: a post by someone who may only read is refused."""

    @wraps(view)
    def inner(request: HttpRequest, desk: Desk, **kwargs: Any) -> HttpResponse:
        if request.method == "POST" and desk.why_not:
            return refused(request, NotAllowed(desk.why_not), 403, desk)
        return view(request, desk, **kwargs)

    return inner


def refused(
    request: HttpRequest, reason: Refused, status: int, desk: Desk | None = None
) -> HttpResponse:
    """A page that says why not, and the way back."""
    sentence = reason.sentence
    context = {"sentence": sentence, "job": desk.job if desk else None}
    return render(request, "shared/refused.html", context, status=status)


def page(
    request: HttpRequest, desk: Desk, template: str, *, status: int = 200, **context: Any
) -> HttpResponse:
    """A page of the job, with what was said last and what a refused form held."""
    # A page asked for ahead is looked at by nobody yet.
    take = request.session.get if "Rehang-Ahead" in request.headers else request.session.pop
    said, held = take("said", None), take("held", None)
    until = pin_holds.held_until(request, desk.key)
    # A day that a template writes is the one on the shop's wall.
    with timezone.override(desk.zone):
        return render(
            request,
            f"{template}.html",
            {
                "desk": desk,
                "job": desk.job,
                "judged": desk.judged,
                "may_write": not desk.why_not,
                "why_not": desk.why_not,
                "said": said,
                "held": held,
                "pin_holds": f"{until.astimezone(desk.zone):%H:%M}" if until is not None else "",
                # One for each page that is handed out: the same form sent twice is one entry.
                "once": uuid.uuid4().hex,
                "here": request.get_full_path(),
                **context,
            },
            status=status,
        )


def say(request: HttpRequest, desk: Desk, entry: Entry, *, undo: bool = True) -> None:
    """Have the next page say what was written, with UNDO."""
    judged = queries.judged(queries.job(desk.job.slug))
    sentence = entry_words(entry, judged)
    item = desk.judged.state.items.get(entry.item)
    sheet = judged.facts.sheets.get(item.kind) if item is not None else None
    if is_a(entry, Reworked) and item is not None and sheet is not None:
        # By the state before it: what stood then and counts no more.
        gone = voided_by(item, entry.fields.act, sheet)
        if gone:
            sentence += f" To be taken again, for it counts no more: {listed(gone)}."
    request.session["said"] = {
        "sentence": sentence,
        "undo": entry.id if undo and not is_a(entry, Struck, Filed) else "",
    }


def send_back(
    request: HttpRequest,
    onto: str,
    form: str,
    reason: Refused,
    values: Mapping[str, str],
    *,
    fields: Collection[str] = (),
    beside: str = "",
    anchor: str = "held",
) -> HttpResponse:
    """Go back to a page and have it say why a form was refused, with what was typed.

    It stands beside the field that the refusal names, if that is one of ``fields``; else beside
    ``beside``, or above the page where that is empty. ``anchor`` is where that page is looked at.
    """
    request.session["held"] = {
        "form": form,
        "field": reason.where if reason.where in fields else beside,
        "sentence": reason.sentence,
        "values": dict(values),
    }
    return SeeOther(f"{onto.partition('#')[0]}#{anchor}")


def keep(request: HttpRequest, desk: Desk, entries: Sequence[Entry]) -> HttpResponse | None:
    """Keep what a form writes, each entry once; what settles something, of who shows their PIN.

    Returns the page that asks for the PIN where the form carried none, or a wrong one of it.

    Raises
    ------
    BadInput, NotAllowed
        As :func:`rehang.book.services.append`; nothing is kept then.
    """
    need = desk.need(entries)
    fresh = [one for one in entries if not desk.has(one.id)]
    if need is None:
        if fresh:
            desk.write(fresh)
        return None
    if "pin" not in request.POST:
        return ask_pin(request, desk, need)
    try:
        who = settled_by(request, desk.key)
        desk.write([replace(one, by=who) for one in fresh], confirmed=who)
    except Refused as reason:
        if "asked" not in request.POST:
            raise
        sentence = reason.sentence
        return ask_pin(request, desk, need, sentence)
    return None


def keeper(request: HttpRequest, desk: Desk, act: str) -> tuple[str, HttpResponse | None]:
    """Who keeps the shop and shows it by PIN for what was posted, or the page that asks for it.

    One's own PIN then holds for some minutes of such pages at this visit.
    """
    need = PowerNeed(KEEP, act)
    sentence = ""
    if "pin" in request.POST:
        try:
            who = settled_by(request, desk.key)
            check_keeps_shop(who, act, desk.judged.facts)
        except Refused as reason:
            sentence = reason.sentence
        else:
            pin_holds.hold(request, who)
            return who, None
    elif pin_holds.held_until(request, desk.key) is not None:
        check_keeps_shop(desk.key, act, desk.judged.facts)
        return desk.key, None
    return "", ask_pin(request, desk, need, sentence, holds=pin_holds.MINUTES)


def ask_pin(
    request: HttpRequest, desk: Desk, need: PowerNeed, sentence: str = "", *, holds: int = 0
) -> HttpResponse:
    """Ask for the PIN of who settles what was posted; the answer posts the same form again.

    ``holds`` is for how many minutes it then holds for the person signed in.
    """
    left_out = ("csrfmiddlewaretoken", "pin", "who", "asked")
    return page(
        request,
        desk,
        "shared/settle",
        status=422 if sentence else 200,
        need=need,
        holds=holds,
        posted=[(k, v) for k, vs in request.POST.lists() if k not in left_out for v in vs],
        to=request.get_full_path(),
        back=onward(request, desk),
        box=pin_box(desk.judged, desk.key, need, desk.today(), "settle"),
        sentence=sentence,
        field="settle-pin",
    )


def asked_for(request: HttpRequest, name: str = "next") -> str:
    """The page that a request asks to go on to, if it is one of ours; else empty."""
    wanted = request.POST.get(name) or request.GET.get(name) or ""
    ours = url_has_allowed_host_and_scheme(wanted, allowed_hosts={request.get_host()})
    return wanted if ours else ""


def onward(request: HttpRequest, desk: Desk, name: str = "next") -> str:
    """The page to go to after a post, if it is one of ours; else the first of the book."""
    own = "web:facts" if desk.job.is_shop else "web:board"
    return asked_for(request, name) or reverse(own, args=[desk.job.slug])


def entry_id(request: HttpRequest, *parts: str) -> str:
    """An id for what a form writes: the same form with the same content has the same id."""
    try:
        space = uuid.UUID(request.POST.get("once", ""))
    except ValueError:
        space = uuid.uuid4()
    return str(uuid.uuid5(space, "\n".join(parts)))
