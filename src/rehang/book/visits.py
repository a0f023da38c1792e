"""Visits: who is signed in where. Django's own sessions, with whose they are beside them."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from typing import Any

from django.contrib.auth import SESSION_KEY
from django.contrib.sessions.backends.db import SessionStore as DatabaseStore
from django.http import HttpRequest

__all__ = ["SessionStore", "address_of", "began", "begin", "end", "of", "touch"]

BEGAN, SEEN, DEVICE, ADDRESS = "began", "seen", "device", "address"
# A visit is written down again after so long, so that reading a page writes nothing as a rule.
TOUCH_S = 300
# The first words in brackets of what a browser says of itself name its device (RFC 9110, 10.1.5).
_SAID_DEVICE = re.compile(r"\(([^()]{1,60})")


class SessionStore(DatabaseStore):
    """Django's database sessions in a table that knows whose each is."""

    @classmethod
    def get_model_class(cls) -> Any:
        from rehang.book.models import Visit

        return Visit

    def create_model_instance(self, data: dict[str, Any]) -> Any:
        row: Any = super().create_model_instance(data)
        row.user_id = int(data[SESSION_KEY]) if SESSION_KEY in data else None
        row.device, row.address = data.get(DEVICE, ""), data.get(ADDRESS, "")
        row.began_at, row.seen_at = _moment(data.get(BEGAN)), _moment(data.get(SEEN))
        return row


def _moment(seconds: float | None) -> datetime | None:
    return None if seconds is None else datetime.fromtimestamp(seconds, UTC)


def address_of(request: HttpRequest) -> str:
    """Where a request came from, as it is written down."""
    # 45: the longest an address is written, IPv6 with an IPv4 in it.
    return str(request.META.get("REMOTE_ADDR", ""))[:45]


def begin(request: HttpRequest, now: float) -> None:
    """Write beside a visit that has just begun from where it is, and clear away those long over."""
    said = _SAID_DEVICE.search(str(request.META.get("HTTP_USER_AGENT", "")))
    request.session[DEVICE] = said[1].strip() if said else "a device that does not say"
    request.session[ADDRESS] = address_of(request)
    request.session[BEGAN] = request.session[SEEN] = now
    SessionStore.clear_expired()


def began(session: Any, now: float) -> float:
    """When a visit began, in seconds of the clock."""
    return float(session.get(BEGAN, now))


def touch(session: Any, now: float) -> None:
    """Move the end of a visit on, once in a while."""
    if now - float(session.get(SEEN, now)) > TOUCH_S:
        session[SEEN] = now


def of(user_id: int) -> list[Any]:
    """The visits of one user that are not over, the one seen last first."""
    rows = SessionStore.get_model_class().objects
    return list(
        rows.filter(user_id=user_id, expire_date__gt=datetime.now(UTC)).order_by("-seen_at")
    )


def end(user_id: int, *, key: str = "", but: str = "") -> int:
    """End visits of one user: the one of that public key, or all but one; returns how many."""
    chosen = [one for one in of(user_id) if one.pk != but and key in ("", one.public_key)]
    for one in chosen:
        one.delete()
    return len(chosen)
