"""The first page of all: whose shop it is, and who keeps it."""

from __future__ import annotations

import hmac
from collections.abc import Mapping
from typing import Any
from zoneinfo import ZoneInfo, available_timezones

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from rehang.book import beginning, members, models, queries
from rehang.book.tries import check_may_try, count_wrong
from rehang.sheets import powers
from rehang.trade.terms.days import last_day
from rehang.trade.terms.errors import BadInput, NotAllowed
from rehang.trade.terms.wording import on_day, upper_first
from rehang.web.shared.access import check_own_secret
from rehang.web.shared.desk import SeeOther, refused
from rehang.web.shared.forms import BenchForm, Pick, Secret, TextField
from rehang.web.shop.sign_in import let_in

__all__ = ["begin"]

_PAPERS = 2


class ShopForm(BenchForm):
    """The shop, the person who keeps it, their papers, and what they show who they are with."""

    fallback = "shop"
    shop = TextField(
        "Name of the shop", asks="Write the name of the shop.", autocomplete="organization"
    )
    town = TextField("Where it is", "Field or town")
    name = TextField(
        "Your name",
        "As on your papers",
        asks="Write your name, as on your papers.",
        autocomplete="name",
    )
    pin = Secret(
        "PIN, six digits", asks="Pick a PIN of six digits.", short=True, inputmode="numeric"
    )
    again = Secret("The same again", short=True, inputmode="numeric")
    password = Secret("Password", autocomplete="new-password")
    code = TextField("Code", short=True, autocapitalize="characters", spellcheck="false")

    def __init__(self, request: HttpRequest, *, at_the_machine: bool) -> None:
        super().__init__(request)
        zones = sorted(one for one in available_timezones() if "/" in one and one[0].isupper())
        self.fields["timezone"] = Pick(
            "Time zone", [("UTC", "UTC"), *((one, one.replace("_", " ")) for one in zones)]
        )
        kinds = [("", "none"), *((kind, upper_first(kind)) for kind in powers())]
        for number in range(1, _PAPERS + 1):
            self.fields |= {
                f"kind{number}": Pick("Paper", kinds),
                f"number{number}": TextField("Number", short=True),
                f"authority{number}": TextField("Issued by"),
                f"until{number}": TextField(
                    "Good until", "Empty if it has no end", short=True, type="date"
                ),
            }
        if at_the_machine:
            del self.fields["code"]
        else:
            self.fields["password"].required = True
            self.fields["password"].error_messages["required"] = (
                "Pick a password of 12 letters or more."
            )

    def papers(self) -> list[list[Any]]:
        """The fields of each paper, as they stand on the page."""
        keys = ("kind", "number", "authority", "until")
        return [[self[f"{key}{n}"] for key in keys] for n in range(1, _PAPERS + 1)]

    def certificates(self) -> list[Mapping[str, Any]]:
        """The papers that were written, each a table of the list of people.

        Raises
        ------
        BadInput
            One has no number or nobody who issued it.
        """
        typed = self.checked()
        # The day on the shop's wall: by another a paper would count from tomorrow.
        zone = ZoneInfo(typed["timezone"]) if typed["timezone"] in available_timezones() else None
        today = timezone.localdate(timezone=zone)
        found: list[Mapping[str, Any]] = []
        for n in range(1, _PAPERS + 1):
            kind, number, authority = (typed[f"{k}{n}"] for k in ("kind", "number", "authority"))
            if not kind:
                if number or authority:
                    raise BadInput("Pick what kind of paper it is.", f"kind{n}")
                continue
            if not number:
                raise BadInput("Write the number on the paper.", f"number{n}")
            if not authority:
                raise BadInput("Write who issued the paper.", f"authority{n}")
            until = last_day(typed[f"until{n}"]) if typed[f"until{n}"] else None
            if until is not None and until < today:
                raise BadInput(
                    f"That paper ended on {on_day(until)}. Write the day of its renewal, or leave it out.",
                    f"until{n}",
                )
            ends = {"valid_until": until} if until is not None else {}
            found.append(
                {
                    "kind": kind,
                    "number": number,
                    "authority": authority,
                    **ends,
                    "entered_on": today,
                }
            )
        return found


@sensitive_post_parameters("pin", "again", "password", "code")
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def begin(request: HttpRequest) -> HttpResponse:
    """Begin the shop: with who is at the machine, or has its code; or out of a job that one keeps."""
    if queries.shop() is not None:
        return SeeOther(reverse("web:home"))
    if not beginning.is_empty():
        return _out_of_a_job(request)
    here = _is_at_the_machine(request)
    form = ShopForm(request, at_the_machine=here)
    if request.method == "POST":
        with form.refusing():
            typed = form.checked()
            if not here:
                _check_code(request, typed["code"])
            if typed["pin"] != typed["again"]:
                raise BadInput("The two are not the same. Enter the PIN twice.", "again")
            member = beginning.begin_shop(
                shop={"shop": typed["shop"], "place": typed["town"], "timezone": typed["timezone"]},
                person={"name": typed["name"], "certificate": form.certificates()},
                pin=typed["pin"],
                password=typed["password"],
                at=timezone.now(),
            )
            how = "with a password" if typed["password"] else "with one tap"
            said = f"The shop has begun. You sign in as {member.key}, or with your whole name."
            request.session["said"] = {"sentence": said, "undo": ""}
            return let_in(request, member, how, reverse("web:new_job"))
    shown = {"demo": bool(queries.jobs(put_away=None)), "here": here, **form.shown}
    return render(request, "begin/shop.html", shown, status=form.status)


def _is_at_the_machine(request: HttpRequest) -> bool:
    try:
        members.check_is_at_the_machine(request.META)
    except NotAllowed:
        return False
    return True


def _check_code(request: HttpRequest, typed: str) -> None:
    """Whoever is elsewhere shows that they have seen the machine's own screen."""
    check_may_try(request)
    wanted = settings.REHANG_BEGIN_CODE
    given = "".join(one for one in typed.upper() if one.isalnum())
    if not wanted or not hmac.compare_digest(given.encode(), wanted.encode()):
        count_wrong(request)
        raise BadInput(
            "That is not the code. It stands on the screen of the machine that Rehang runs on, where "
            "it was started.",
            "code",
        )


class OfferForm(BenchForm):
    """Which job the shop's own book begins with, and the PIN of who keeps it."""

    fallback = "job"
    job = Pick("", ())
    pin = Secret("Your PIN or password", short=True)


def _out_of_a_job(request: HttpRequest) -> HttpResponse:
    """Begin the shop's own book with the people, meters, limits and parts of a job."""
    member = members.member_of(request.user)
    if member is None:
        return SeeOther(f"{reverse('web:sign_in')}?next={reverse('web:begin')}")
    kept: list[models.Job] = [
        one for one in queries.kept_by(member.key) if not queries.is_demo(one)
    ]
    if not kept:
        return refused(
            request, NotAllowed("The shop is begun by whoever keeps it. Ask them to sign in."), 403
        )
    form = OfferForm(request, {"job": kept[0].slug})
    form.fields["job"].widget.choices = [(one.slug, one.title) for one in kept]
    form.fields["job"].label = "Take people, meters, limits and parts from"
    if request.method == "POST":
        with form.refusing():
            typed = form.checked()
            job = next((one for one in kept if one.slug == typed["job"]), None)
            if job is None:
                raise BadInput("Pick one of your jobs.", "job")
            check_own_secret(request, member, typed["pin"], "pin")
            beginning.offer_shop(job=job, by=member.key, at=timezone.now())
            request.session["said"] = {"sentence": "The shop has its own book now.", "undo": ""}
            return SeeOther(reverse("web:home") + "?list")
    return render(request, "begin/offer.html", form.shown, status=form.status)
