"""The demo: brought in with one tap, and put away with one."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from rehang.book import beginning, members, pins, queries, services
from rehang.sheets import DEMO_PINS, demo_path
from rehang.sheets.folder import read_folder
from rehang.sheets.job_files import SHOP
from rehang.sheets.things import ONE, THINGS, put, things_in
from rehang.trade.gate.powers import check_keeps_shop
from rehang.trade.terms.errors import NotAllowed, Refused
from rehang.web.shared.desk import SeeOther, refused

__all__ = ["demo"]

_JOBS = ("four", "finished")
_KEEPERS = "The demo is for whoever keeps the shop to bring in or put away."


@require_POST
def demo(request: HttpRequest) -> HttpResponse:
    """Bring the demo in and go to its sign-in; or, for who keeps the shop, take it off every list."""
    member = members.member_of(request.user)
    shop = queries.shop_for(member.key) if member is not None else None
    if shop is None and not beginning.is_empty():
        return refused(request, NotAllowed(_KEEPERS), 403)
    away = request.POST.get("away") == "yes"
    try:
        if shop is not None and member is not None:
            check_keeps_shop(member.key, "bring in the demo or put it away", queries.facts(shop))
        if not away:
            for name in _JOBS:
                _bring_in(name)
        if shop is not None and member is not None:
            text, kind = queries.files(shop)[SHOP], THINGS["shop"]
            new = put(text, kind, ONE, {**things_in(text, kind)[ONE], "demo_away": away})
            services.file_text(job=shop, name=SHOP, text=new, by=member.key, at=timezone.now())
    except Refused as reason:
        return refused(request, reason, 403)
    return SeeOther(reverse("web:home") + "?list" if shop is not None else reverse("web:sign_in"))


def _bring_in(name: str) -> None:
    folder = read_folder(demo_path(name))
    by, now = next(iter(folder.facts.people)), timezone.now()
    if folder.name not in [one.slug for one in queries.jobs(put_away=None)]:
        services.load_folder(folder=folder, by=by, at=now)
    pins.show_demo_pins(job=queries.job(folder.name), pins=DEMO_PINS, by=by, at=now)
