"""Tries at a password, a PIN or a code: how many may be made.

Whoever guesses uses up the share of their own address and no more.
"""

from __future__ import annotations

import hashlib
import math
import threading
import time
from collections import OrderedDict, deque
from ipaddress import IPv6Address, ip_address, ip_network

from django.conf import settings
from django.http import HttpRequest, HttpResponse

from rehang.trade.terms.errors import CoreError

__all__ = [
    "TooManyTries",
    "check_may_try",
    "count_wrong",
    "counted_at",
    "forget_tries",
    "remember_device",
    "share_of",
]

# Of one address, whatever the names: two people who both forgot theirs, and their slips. A guessing
# program gets as many in five minutes. Common practice, no source.
WRONG_TRIES, WINDOW_S = 20, 300
# What an address costs is a few hundred bytes; past so many, the one longest quiet is let go.
ADDRESSES = 10_000
DEVICE = "rehang_device"
# A device at which nobody has signed in for so long is a stranger's again.
DEVICE_S = 90 * 24 * 3600


class TooManyTries(CoreError):
    """No more tries now. ``wait_s`` is how long to wait, in seconds, 1 or more."""

    def __init__(self, wait_s: float) -> None:
        self.wait_s = max(1, math.ceil(wait_s))
        unit = "second" if self.wait_s == 1 else "seconds"
        super().__init__(f"Too many tries. Wait {self.wait_s} {unit}, then try again.")


# Where a try is counted.


def share_of(host: str) -> str:
    """Whose share something is of: an address, or the IPv6 network that one line is given."""
    try:
        # A link-local address has the name of its interface behind a % (RFC 4007, 11, from memory).
        known = ip_address(host.partition("%")[0])
    except ValueError:
        return host
    return str(ip_network((known, 64), strict=False)) if known.version == 6 else host


def counted_at(request: HttpRequest) -> str:
    """The address at which a wrong try of this request is counted.

    A device at which someone has shown who they are counts at an address of its own, worked out from
    their name: strangers behind the same router or proxy cannot use up its tries.
    """
    known = request.get_signed_cookie(DEVICE, default="", max_age=DEVICE_S)
    if known:
        # fd00::/8: unique local addresses (RFC 4193, 3.1), which no stranger comes from by chance.
        return str(IPv6Address(b"\xfd" + hashlib.sha256(known.encode()).digest()[:15]))
    return str(request.META.get("REMOTE_ADDR", ""))


def remember_device(response: HttpResponse, key: str) -> None:
    """Have this device known as one at which that person has shown who they are."""
    response.set_signed_cookie(
        DEVICE, key, max_age=DEVICE_S, httponly=True, samesite="Lax",
        secure=settings.SESSION_COOKIE_SECURE,
    )  # fmt: skip


_LOCK = threading.Lock()
_WRONG: OrderedDict[str, deque[float]] = OrderedDict()


def check_may_try(request: HttpRequest) -> None:
    """Whether the address of a request has tries left; costs no hash and no question to the book.

    Raises
    ------
    TooManyTries
        With the time until the oldest wrong one is forgotten.
    """
    # No clock that can be set, or a wait could be set away.
    now = time.monotonic()
    with _LOCK:
        wrong = _WRONG.get(share_of(counted_at(request)))
        while wrong and now - wrong[0] > WINDOW_S:
            wrong.popleft()
        if wrong and len(wrong) >= WRONG_TRIES:
            raise TooManyTries(WINDOW_S - (now - wrong[0]))


def count_wrong(request: HttpRequest) -> None:
    """Count a wrong try."""
    whose = share_of(counted_at(request))
    with _LOCK:
        _WRONG.setdefault(whose, deque(maxlen=WRONG_TRIES)).append(time.monotonic())
        _WRONG.move_to_end(whose)
        while len(_WRONG) > ADDRESSES:
            _WRONG.popitem(last=False)


def forget_tries() -> None:
    """Let go of every count of this process."""
    with _LOCK:
        _WRONG.clear()
