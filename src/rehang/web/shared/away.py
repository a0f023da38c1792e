"""A form that comes out of a phone's out-tray: when it was written, and what the tray is told."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.utils import timezone

from rehang.trade.terms.errors import BadInput

__all__ = ["Written", "answer_to_tray", "was_away", "written_away"]

WRITTEN, CLOCK = "Rehang-Written", "Rehang-Clock"
# A phone that has been put right to the second may still be this far ahead.
SLACK = timedelta(seconds=60)
NOT_TAKEN = "The book did not take this form. Open its page and fill it in again."
NEEDS_PIN = "This takes a PIN, and none is kept on a phone. Open its page and do it there."


@dataclass(frozen=True, slots=True)
class Written:
    """When a form was filled in, by the shop's clock; ``clock`` is what a wrong one said."""

    at: datetime
    clock: str = ""


def was_away(request: HttpRequest) -> bool:
    """Whether a form comes out of an out-tray, and a program waits for the answer."""
    return request.method == "POST" and WRITTEN in request.headers


def written_away(request: HttpRequest) -> Written | None:
    """When a form out of an out-tray was written; None for one that comes from its page.

    Raises
    ------
    BadInput
        It says no time, or one that is still to come.
    """
    if not was_away(request):
        return None
    said, clock = request.headers[WRITTEN], request.headers.get(CLOCK, "")
    try:
        at = datetime.fromisoformat(said)
        if clock:
            datetime.fromisoformat(clock)
    except ValueError:
        raise BadInput(f'"{said[:40]}" is no date and time. Send the form from its page.') from None
    if at.tzinfo is None:
        raise BadInput(f'"{said[:40]}" has no offset. Send the form from its page.')
    if at > timezone.now() + SLACK:
        raise BadInput(f"It is dated {said[:40]}, which is still to come. Set the phone's clock.")
    return Written(min(at, timezone.now()), clock[:40])


def answer_to_tray(request: HttpRequest, answer: HttpResponse, why: str) -> HttpResponse:
    """What the page of a form says, for the out-tray: kept, or why not; no page shows it then."""
    held = request.session.pop("held", None)
    said = request.session.pop("said", None)
    if answer.status_code == 303 and held is None:
        return JsonResponse({"kept": True, "sentence": str((said or {}).get("sentence", ""))})
    otherwise = NEEDS_PIN if answer.status_code == 200 else NOT_TAKEN
    sentence = why or (held or {}).get("sentence", "") or otherwise
    return JsonResponse({"kept": False, "sentence": sentence}, status=422)
