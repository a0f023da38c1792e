"""Who is sent away before a page is made: too many tries, a lock, a visit that is over."""

from __future__ import annotations

import time
from collections.abc import Callable

from django.conf import settings
from django.contrib.auth import SESSION_KEY, logout
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render

from rehang.book import members, visits
from rehang.book.hashing import check_room
from rehang.book.tries import TooManyTries, check_may_try
from rehang.trade.terms.errors import NotAllowed

__all__ = ["TurnedAway", "locked_out", "visit_goes_on"]

Answer = Callable[[HttpRequest], HttpResponse]
# Where a password or a code is typed by someone who is not signed in.
DOORS = ("/sign-in/", "/code/")
# No template and no style: it must cost next to nothing.
PAGE = """<!doctype html>
<html lang="en">
<head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<title>Wait a little</title></head>
<body><h1>{sentence}</h1>
<p>Nothing has been changed. Whoever is signed in goes on working.</p>
<p><a href="{back}">Back</a></p></body></html>
"""
LOCKED = "Ten wrong PINs or passwords in a row. Wait five minutes, then type it again."
LOCK_S = 300


class TurnedAway:
    """Middleware: who has used up their tries is told how long to wait, and costs next to nothing."""

    def __init__(self, answer: Answer) -> None:
        self._answer = answer

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.method == "POST" and request.path in DOORS and not _taps_in(request):
            try:
                check_may_try(request)
                check_room()
            except TooManyTries as reason:
                return _wait(request, str(reason), reason.wait_s)
        return self._answer(request)

    def process_exception(self, request: HttpRequest, problem: Exception) -> HttpResponse | None:
        if isinstance(problem, TooManyTries):
            return _wait(request, str(problem), problem.wait_s)
        return None


def _taps_in(request: HttpRequest) -> bool:
    """Whether a request is a tap at the machine itself, which tries nothing."""
    try:
        members.check_is_at_the_machine(request.META)
    except NotAllowed:
        return False
    return bool(request.POST.get("person"))


def _wait(request: HttpRequest, sentence: str, wait_s: int) -> HttpResponse:
    answer = HttpResponse(PAGE.format(sentence=sentence, back=request.path), status=429)
    answer["Retry-After"] = str(wait_s)
    # With a length the connection stays, and it is the connection that is made to wait.
    answer["Content-Length"] = str(len(answer.content))
    return answer


def locked_out(
    request: HttpRequest, answer: HttpResponse | None, credentials: object
) -> HttpResponse:
    """What stands in place of a view's answer after ten wrong tries at one person's secret."""
    if request.path.startswith("/api/"):
        said: HttpResponse = JsonResponse({"sentence": LOCKED, "field": "pin"}, status=429)
    else:
        said = render(request, "shop/locked_out.html", status=429)
    said["Retry-After"] = str(LOCK_S)
    return said


def visit_goes_on(answer: Answer) -> Answer:
    """Middleware: a visit that is used goes on, until it has lasted too long."""

    def inner(request: HttpRequest) -> HttpResponse:
        if SESSION_KEY in request.session:
            now = time.time()
            if now - visits.began(request.session, now) > settings.REHANG_VISIT_S:
                logout(request)
            elif "Rehang-Ahead" not in request.headers:
                # What a page asks for by itself keeps nobody signed in.
                visits.touch(request.session, now)
        return answer(request)

    return inner
