"""What every answer says to the browser, whatever page it is of."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

from rehang.book import members

__all__ = ["said_of_every_answer"]

Answer = Callable[[HttpRequest], HttpResponse]
# The camera is for labels and photos of this site; nothing else of the device is asked for.
PERMISSIONS = "camera=(self), microphone=(), geolocation=(), payment=(), usb=(), serial=(self)"


def said_of_every_answer(answer: Answer) -> Answer:
    """Middleware: what a page shows is kept by no cache, and asks the device for little."""

    def inner(request: HttpRequest) -> HttpResponse:
        response = answer(request)
        response.headers.setdefault("Permissions-Policy", PERMISSIONS)
        if not request.path.startswith("/static/"):
            # Whose it is: what a phone keeps of it is kept for them alone.
            member = members.member_of(request.user) if hasattr(request, "user") else None
            response.headers["Rehang-Person"] = member.key if member is not None else ""
            # What says for itself how long it keeps (a photo named by its sum) goes on saying it.
            response.headers.setdefault("Cache-Control", "no-store")
        return response

    return inner
