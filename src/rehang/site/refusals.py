"""Answers that come from no view."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse, JsonResponse

__all__ = ["STALE_PAGE", "csrf_failure"]

STALE_PAGE = (
    "This page was loaded too long ago, or by someone else. "
    "Go back, load it again and send it once more."
)


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """The token that proves a post came from our own page is missing or old."""
    if request.path.startswith("/api/"):
        return JsonResponse({"sentence": STALE_PAGE, "field": ""}, status=403)
    return HttpResponse(STALE_PAGE, status=403, content_type="text/plain; charset=utf-8")
