"""How a phone comes in: the address, as text and as a code, and what to tap on it once."""

from __future__ import annotations

import hashlib

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.safestring import mark_safe
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from rehang.paper.codes import qr_svg
from rehang.web.shared.desk import SeeOther

__all__ = ["phones", "trust"]


@never_cache
@require_safe
def phones(request: HttpRequest) -> HttpResponse:
    """For anyone: it is asked for before there is a line that nobody reads along."""
    agent = request.headers.get("User-Agent", "")
    addresses = list(settings.REHANG_REACHED_AT)
    on_trust = bool(settings.REHANG_AUTHORITY)
    opened = next((one for one in addresses if f"//{request.get_host()}/" in one), "")
    first = (addresses or [""])[0]
    # The code leads where a new phone begins: to this page, on the line that needs no trust.
    told = first.replace("https:", "http:") if on_trust else first
    return render(
        request,
        "shop/phones.html",
        {
            "bare": not request.user.is_authenticated,
            "addresses": addresses,
            "on_trust": on_trust,
            "told": told,
            "code": mark_safe(qr_svg(told, told)) if told else "",  # noqa: S308  (drawn here)
            "onward": opened or first,
            "came_in": request.is_secure(),
            "android": "Android" in agent,
            "apple": "iPhone" in agent or "iPad" in agent,
            "sum": hashlib.sha256(settings.REHANG_AUTHORITY).hexdigest().upper(),
        },
    )


@require_safe
def trust(request: HttpRequest) -> HttpResponse:
    """The certificate that a phone trusts once."""
    if not settings.REHANG_AUTHORITY:
        return SeeOther(reverse("web:phones"))
    return HttpResponse(
        settings.REHANG_AUTHORITY,
        content_type="application/x-x509-ca-cert",
        headers={"Content-Disposition": 'attachment; filename="rehang-shop.crt"'},
    )
