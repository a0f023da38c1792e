"""The people of the shop: what each may do, codes for their first PIN or password, who came in."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.safestring import mark_safe
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from rehang.book import door, members, models, pins, queries, visits
from rehang.paper.codes import qr_svg
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.gate.powers import powers_of, shopkeepers
from rehang.trade.terms.errors import BadInput, NotAllowed
from rehang.trade.terms.wording import listed
from rehang.web.shared.access import check_own_secret
from rehang.web.shared.desk import refused
from rehang.web.shared.forms import BenchForm, Secret, TextField
from rehang.web.shared.times import short_when, zone_for
from rehang.web.shop.sign_in import of_member

ACTS = ("code", "end", "give")


def _is_act(text: str) -> None:
    if text not in ACTS:
        raise BadInput("Pick what is to be done.")


class ActForm(BenchForm):
    """What is done about a person, with the PIN of who does it."""

    fallback = "pin"
    person = TextField()
    act = TextField(asks="Pick what is to be done.", check=_is_act)
    pin = Secret("Your own PIN", short=True)


@sensitive_post_parameters("pin")
@never_cache
@of_member
@require_http_methods(["GET", "HEAD", "POST"])
def people(request: HttpRequest, keeper: models.Member) -> HttpResponse:
    """Everyone of the jobs that one keeps; a post gives a code, or ends or gives back access."""
    jobs = queries.kept_by(keeper.key)
    if not jobs:
        return refused(request, NotAllowed("This page is for whoever keeps the shop."), 403)
    form = ActForm(request)
    person, code, said = form.data.get("person", ""), "", ""
    if request.method == "POST" and "visit" in request.POST:
        # A lost phone is put out with one tap: it shuts a door and opens none.
        key = request.POST["visit"]
        number = door.ended(person=person, by=keeper.key, at=timezone.now(), key=key)
        said = "That device is signed out." if number else "That device was signed out before."
    elif request.method == "POST":
        with form.refusing():
            act = form.checked()["act"]
            name = members.member(person).name
            check_own_secret(request, keeper, form.checked()["pin"], "pin")
            given: dict[str, Any] = {"person": person, "by": keeper.key, "at": timezone.now()}
            if act == "code":
                code = pins.give_code(**given)
                said = f"The code of {name}, told only now:"
            elif act == "end":
                pins.end_access(**given)
                said = f"{name} is let in no more. What they wrote stays."
            else:
                pins.give_access(**given)
                said = f"{name} is let in again."
    zone = zone_for(keeper.key)
    rows = _rows([queries.facts(job) for job in jobs], keeper.key)
    return render(
        request,
        "shop/people.html",
        {
            "said": {"sentence": said} if said else None,
            "code": code,
            "code_square": _square(person, code) if code else "",
            "hours": pins.CODE_HOURS,
            "rows": rows,
            "person": person,
            "sentence": form.sentence,
            "told": [
                (short_when(datetime.fromisoformat(one.at), zone), one)
                for one in door.told_of({row["key"] for row in rows})
            ],
            "own_pin": keeper.pin_shown,
            "own_shop": queries.shop_for(keeper.key),
        },
        status=form.status,
    )


def _square(person: str, code: str) -> str:
    """The code as a square that leads a phone in; behind the #, where no line carries it."""
    if not settings.REHANG_REACHED_AT:
        return ""
    way = settings.REHANG_REACHED_AT[0].removesuffix("/") + reverse("web:code")
    if settings.REHANG_AUTHORITY:
        # A phone that does not trust the shop yet is told how on the way.
        way = way.replace("https:", "http:").replace(reverse("web:code"), reverse("web:phones"))
    way = f"{way}#{person}.{pins.as_code(code)}"
    return mark_safe(qr_svg(way, "The way in for a phone, with the code"))  # noqa: S308  (drawn here)


def _rows(shops: list[JobFacts], keeper: str) -> list[dict[str, Any]]:
    """Each person once, with what the jobs that name them let them do today."""
    today = timezone.now().date()
    may: dict[str, dict[str, None]] = {}
    for facts in shops:
        keepers = [one.key for one in shopkeepers(facts)]
        for one in facts.people.values():
            powers = may.setdefault(one.key, {})
            powers["reads" if one.role == "reads" else "writes"] = None
            powers.update(dict.fromkeys(sorted(powers_of(one, today, facts))))
            if one.key in keepers:
                powers["keeps the shop"] = None
    rows = []
    for member in sorted((members.member(key) for key in may), key=lambda one: one.name):
        has = [
            w for w, yes in (("PIN", member.pin), ("password", members.has_password(member))) if yes
        ]
        rows.append(
            {
                "key": member.key,
                "name": member.name,
                "may": listed(list(may[member.key])),
                "has": listed(has) if has else "no PIN and no password yet",
                "let_in": members.has_access(member),
                "own": member.key == keeper,
                "visits": visits.of(member.user_id),
                "waits": member.code_until is not None and member.code_until > timezone.now(),
            }
        )
    return rows
