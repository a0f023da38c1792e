"""Answers that come from no view."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse, JsonResponse

from rehang.web.api import STALE_PAGE

__all__ = ["csrf_failure"]


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """The token that proves a post came from our own page is missing or old."""
    if request.path.startswith("/api/"):
        return JsonResponse({"sentence": STALE_PAGE, "field": ""}, status=403)
    return HttpResponse(STALE_PAGE, status=403, content_type="text/plain; charset=utf-8")
