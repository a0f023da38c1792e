"""A PIN that holds: whoever keeps the shop types it once and enters facts for ten minutes.

It holds for the person signed in, at their own visit, and for nobody else's name: another person's
PIN typed here settles what was posted and no more. It ends with the visit, and when the person's
PIN or password is changed. What settles a job (a look, a decision, a signature) never takes it.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from django.http import HttpRequest
from django.utils import timezone
from django.utils.crypto import constant_time_compare, salted_hmac

from rehang.book import members
from rehang.trade.terms.errors import BadInput

__all__ = ["MINUTES", "held_until", "hold", "let_go"]

# Long enough for the limits of one manual, short enough for a bench that is left: our choice, no source.
MINUTES = 10
_KEY = "pin_holds"


def hold(request: HttpRequest, key: str) -> None:
    """Have the PIN that was just shown hold for this person at this visit."""
    until = timezone.now() + timedelta(minutes=MINUTES)
    request.session[_KEY] = {"until": until.timestamp(), "who": key, "of": _sum(key)}


def held_until(request: HttpRequest, key: str) -> datetime | None:
    """When the PIN of this person stops holding here; None where it does not hold."""
    held = request.session.get(_KEY)
    if not isinstance(held, dict) or held.get("who") != key:
        return None
    until = datetime.fromtimestamp(float(held["until"]), UTC)
    if timezone.now() >= until or not constant_time_compare(str(held["of"]), _sum(key)):
        return None
    return until


def let_go(request: HttpRequest) -> None:
    """Have no PIN hold at this visit any more."""
    request.session.pop(_KEY, None)


def _sum(key: str) -> str:
    """What changes when the person's PIN or password does."""
    try:
        one = members.member(key)
    except BadInput:
        return ""
    return salted_hmac(_KEY, f"{one.pin}\n{one.user.password}").hexdigest()
