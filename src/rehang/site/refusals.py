"""Answers that come from no view."""

from __future__ import annotations

import sys
from collections.abc import Callable

from django.core.exceptions import DisallowedHost, RequestDataTooBig
from django.http import HttpRequest, HttpResponse, JsonResponse, QueryDict
from django.utils.html import escape
from django.views.defaults import page_not_found

from rehang.book.outage import outage
from rehang.web.api.views import BROKEN, STALE_PAGE, TOO_LONG

__all__ = ["bad_request", "broken", "csrf_failure", "no_nul", "not_found"]

WRONG_NAME = (
    "This machine is not asked for by that name. Use the address that Rehang printed when it "
    "started, or name yours in REHANG_HOSTS (REHANG_ADDRESS behind a proxy)."
)
NO_ADDRESS = "There is no such address. /api/ lists those there are."
NUL = "There is a NUL character in what was sent. Nothing was kept. Take it out and send it again."
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
    if isinstance(exception, RequestDataTooBig):
        return _answer(request, TOO_LONG, 413)
    sentence = WRONG_NAME if isinstance(exception, DisallowedHost) else NOT_READ
    return _answer(request, sentence, 400)


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    """An address that is none: a page for people, a sentence for programs."""
    if request.path.startswith("/api/"):
        return _answer(request, NO_ADDRESS, 404)
    answer: HttpResponse = page_not_found(request, exception)
    return answer


def broken(request: HttpRequest) -> HttpResponse:
    """A fault of ours, or of the disk or the database; the log tells of it: what was kept, what to do."""
    failed = outage(sys.exc_info()[1])
    sentence, status = (failed, 503) if failed else (BROKEN, 500)
    if request.path.startswith("/api/"):
        return JsonResponse({"sentence": sentence, "field": ""}, status=status)
    return HttpResponse(PAGE.format(sentence=escape(sentence)), status=status)


def no_nul(answer: Callable[[HttpRequest], HttpResponse]) -> Callable[[HttpRequest], HttpResponse]:
    """Middleware: a NUL in an address or a form, which one database takes and another does not."""

    def inner(request: HttpRequest) -> HttpResponse:
        sent = [request.path, *_texts(request.GET)]
        if request.method == "POST" and request.content_type == "application/x-www-form-urlencoded":
            sent += _texts(request.POST)
        if any("\0" in text for text in sent):
            return _answer(request, NUL, 400)
        return answer(request)

    return inner


def _texts(sent: QueryDict) -> list[str]:
    return [str(text) for name, values in sent.lists() for text in (name, *values)]


def _answer(request: HttpRequest, sentence: str, status: int) -> HttpResponse:
    if request.path.startswith("/api/"):
        return JsonResponse({"sentence": sentence, "field": ""}, status=status)
    return HttpResponse(sentence, status=status, content_type="text/plain; charset=utf-8")
