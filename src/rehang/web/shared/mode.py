"""DAY, DIM or SUN, kept on the device."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST

MODES = ("day", "dim", "sun")
A_YEAR_S = 31_536_000


@require_POST
def set_mode(request: HttpRequest) -> HttpResponse:
    """Keep the light chosen and go back to the page."""
    onward = request.POST.get("next", "/")
    if not url_has_allowed_host_and_scheme(onward, allowed_hosts={request.get_host()}):
        onward = "/"
    answer = HttpResponseRedirect(onward)
    mode = request.POST.get("mode", "")
    if mode in MODES:
        answer.set_cookie("mode", mode, max_age=A_YEAR_S, samesite="Lax")
    return answer


def type_size(mode: str) -> int:
    """The size of running type on a drawing: DIM and SUN step it up, as the page does."""
    return 18 if mode == "day" else 20
