"""Who may sign in, and how."""

from __future__ import annotations

from collections.abc import Mapping
from ipaddress import ip_address
from typing import Any

from django.conf import settings
from django.contrib.auth.backends import BaseBackend
from django.contrib.auth.hashers import check_password
from django.contrib.auth.models import AnonymousUser, User
from django.http import HttpRequest

from rehang.book import models
from rehang.trade.errors import BadInput, NotAllowed

__all__ = [
    "OwnSecret",
    "can_tap_in",
    "check_can_tap_in",
    "has_password",
    "has_secret",
    "is_loopback",
    "is_theirs",
    "member",
    "member_of",
    "people_without_password",
    "tap_in_choices",
    "with_no_secret_beside",
]


def member(key: str) -> models.Member:
    """Who signs in under that key."""
    try:
        return models.Member.objects.select_related("user").get(key=key)
    except models.Member.DoesNotExist:
        raise BadInput(f'Nobody here has the key "{key}".') from None


def member_of(user: User | AnonymousUser) -> models.Member | None:
    """The member behind a signed-in user; None for nobody."""
    if not user.is_authenticated:
        return None
    try:
        # Kept on the user, which is one per request: a page asks for it more than once.
        found: models.Member = user.member
    except models.Member.DoesNotExist:
        return None
    return found


def has_password(member: models.Member) -> bool:
    """Whether this person has set a password."""
    return member.user.has_usable_password()


def has_secret(member: models.Member) -> bool:
    """Whether this person has a PIN or a password, so that they can settle something."""
    return bool(member.pin) or has_password(member)


def is_theirs(member: models.Member, typed: str) -> bool:
    """Whether what was typed is this person's PIN or password."""
    return (bool(member.pin) and check_password(typed, member.pin)) or member.user.check_password(
        typed
    )


class OwnSecret(BaseBackend):
    """Confirms with PIN or password who is at the page already; nobody signs in by it.

    It goes through ``authenticate`` so that wrong ones are counted where wrong passwords are.
    """

    def authenticate(self, request: HttpRequest | None, **credentials: Any) -> Any:
        typed, name = credentials.get("secret"), credentials.get("username")
        if not typed or not name:
            return None
        found = models.Member.objects.select_related("user").filter(user__username=name).first()
        return found.user if found is not None and is_theirs(found, typed) else None


def people_without_password() -> list[models.Member]:
    """The people of the jobs on the board who have set no password yet."""
    found = (
        models.Member.objects.filter(jobs__put_away=False).select_related("user").distinct()
    ).order_by("name")
    return [one for one in found if not has_password(one)]


def with_no_secret_beside(member: models.Member) -> list[models.Member]:
    """The people of someone's jobs, themselves left out, who have neither PIN nor password."""
    found = models.Member.objects.filter(jobs__people=member).exclude(pk=member.pk)
    return [
        one
        for one in found.select_related("user").distinct().order_by("name")
        if not has_secret(one)
    ]


def check_can_tap_in(member: models.Member, meta: Mapping[str, Any]) -> None:
    """Whether someone may sign in with one tap: at this machine, before a password is set.

    ``meta`` is ``request.META``. Something in between that passes requests on would make all
    of them look local, so one that was passed on is not.
    """
    if has_password(member):
        raise NotAllowed(f"{member.name} has a password. Sign in with it.")
    if not settings.REHANG_TAP_IN:
        raise NotAllowed("Signing in with one tap is switched off here. Sign in with a password.")
    if not is_loopback(settings.REHANG_BOUND):
        raise NotAllowed(
            "Signing in with one tap works only while the board is served on this machine alone."
        )
    host = str(meta.get("HTTP_HOST", "localhost")).rpartition(":")
    named = host[0] if host[2].isdigit() else str(meta.get("HTTP_HOST", "localhost"))
    passed_on = any(_is_of_a_proxy(name) for name, value in meta.items() if value)
    local = is_loopback(str(meta.get("REMOTE_ADDR", ""))) and is_loopback(named)
    if passed_on or not local:
        raise NotAllowed("Signing in with one tap works only at the machine itself.")


# Fields of a request's head that only something in between writes: Via (RFC 9110, 7.6.3),
# Forwarded (RFC 7239), and by the custom of proxies the rest.
_PROXY_FIELDS = ("HTTP_VIA", "HTTP_FORWARDED", "HTTP_CLIENT_IP", "HTTP_TRUE_CLIENT_IP")
_PROXY_STARTS = (
    "HTTP_X_FORWARDED",
    "HTTP_X_REAL",
    "HTTP_X_ORIGINAL",
    "HTTP_X_CLIENT",
    "HTTP_X_PROX",
)
_PROXY_ENDS = ("_CONNECTING_IP", "_CLIENT_IP")


def _is_of_a_proxy(name: str) -> bool:
    return name in _PROXY_FIELDS or name.startswith(_PROXY_STARTS) or name.endswith(_PROXY_ENDS)


def can_tap_in(member: models.Member, meta: Mapping[str, Any]) -> bool:
    """See :func:`check_can_tap_in`."""
    try:
        check_can_tap_in(member, meta)
    except NotAllowed:
        return False
    return True


def tap_in_choices(meta: Mapping[str, Any]) -> list[models.Member]:
    """Who may sign in with one tap from here."""
    return [one for one in people_without_password() if can_tap_in(one, meta)]


def is_loopback(host: str) -> bool:
    """Whether an address is this machine's own and reached from nowhere else."""
    if host == "localhost":
        return True
    try:
        return ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False
