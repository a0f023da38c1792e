"""Answers that come from no view."""

from __future__ import annotations

from django.core.exceptions import DisallowedHost
from django.http import HttpRequest, HttpResponse, JsonResponse

from rehang.web.api import BROKEN, STALE_PAGE

__all__ = ["bad_request", "broken", "csrf_failure"]

WRONG_NAME = (
    "This machine is not asked for by that name. Use the address that Rehang printed when it "
    "started, or name yours in REHANG_HOSTS (REHANG_ADDRESS behind a proxy)."
)
NOT_READ = "The request could not be read, and nothing of it was kept. Go back and send it again."
# No template: what broke may be the templates.
PAGE = """<!doctype html>
<html lang="en">
<head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<title>Rehang broke here</title></head>
<body><h1>Rehang broke here</h1>
<p>{sentence}</p>
<p>Whatever stood in the book before still stands. A form is kept whole or not at all: look in the
book whether the last one is there before you send it again.</p>
<p><a href="/">To the board</a></p></body></html>
"""


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """The token that proves a post came from our own page is missing or old."""
    return _answer(request, STALE_PAGE, 403)


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    """A request that cannot be read, or that asks for another machine."""
    sentence = WRONG_NAME if isinstance(exception, DisallowedHost) else NOT_READ
    return _answer(request, sentence, 400)


def broken(request: HttpRequest) -> HttpResponse:
    """A fault of ours, which the log tells of: what was kept, and what to do."""
    if request.path.startswith("/api/"):
        return JsonResponse({"sentence": BROKEN, "field": ""}, status=500)
    return HttpResponse(PAGE.format(sentence=BROKEN), status=500)


def _answer(request: HttpRequest, sentence: str, status: int) -> HttpResponse:
    if request.path.startswith("/api/"):
        return JsonResponse({"sentence": sentence, "field": ""}, status=status)
    return HttpResponse(sentence, status=status, content_type="text/plain; charset=utf-8")
