"""Who may sign in, and how."""

from __future__ import annotations

from collections.abc import Mapping
from ipaddress import ip_address
from typing import Any

from django.conf import settings
from django.contrib.auth.backends import BaseBackend
from django.contrib.auth.hashers import check_password, make_password
from django.contrib.auth.models import AnonymousUser, User
from django.http import HttpRequest
from django.utils import timezone

from rehang.book import models, queries, tries
from rehang.trade.terms.errors import BadInput, NotAllowed

__all__ = [
    "OwnSecret",
    "Tries",
    "can_tap_in",
    "check_can_tap_in",
    "check_has_access",
    "check_is_at_the_machine",
    "has_access",
    "has_password",
    "has_secret",
    "is_at_home",
    "is_loopback",
    "is_of_a_demo",
    "is_theirs",
    "keys",
    "member",
    "member_of",
    "people_without_password",
    "sign_in_name",
    "tap_in_choices",
]


def member(key: str) -> models.Member:
    """Who signs in under that key."""
    try:
        return models.Member.objects.select_related("user").get(key=key)
    except models.Member.DoesNotExist:
        raise BadInput(f'Nobody here has the key "{key}".') from None


def sign_in_name(typed: str) -> str:
    """The short name that somebody signs in under, by it or by the whole name, in any case.

    What is nobody's, or more than one person's, is left as it was typed: the door answers alike.
    """
    plain = " ".join(typed.split()).casefold()
    rows = list(models.Member.objects.values_list("key", "name"))
    found = [key for key, _ in rows if key.casefold() == plain]
    found = found or [key for key, name in rows if " ".join(name.split()).casefold() == plain]
    return found[0] if len(found) == 1 else typed


def keys() -> set[str]:
    """The short names that are somebody's, on whatever list: entries carry them for ever."""
    return set(models.Member.objects.values_list("key", flat=True))


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


def has_access(member: models.Member) -> bool:
    """Whether this person's access has not been ended."""
    return bool(member.user.is_active)


def check_has_access(key: str) -> None:
    """Whether somebody may still write; of a key that nobody has, others speak."""
    ended = models.Member.objects.filter(key=key, user__is_active=False).first()
    if ended is not None:
        raise NotAllowed(f"The access of {ended.name} has been ended.")


class Tries(BaseBackend):
    """Asked first: an address that has used up its tries costs no hash."""

    def authenticate(self, request: HttpRequest | None, **credentials: Any) -> None:
        if request is not None:
            tries.check_may_try(request)


class OwnSecret(BaseBackend):
    """Confirms with PIN, password or code who is at the page; by PIN alone nobody signs in.

    It goes through ``authenticate`` so that wrong ones are counted where wrong passwords are.
    """

    def authenticate(self, request: HttpRequest | None, **credentials: Any) -> Any:
        name, typed, code = (
            _encodable(credentials.get(key)) for key in ("username", "secret", "code")
        )
        if not name or not (typed or code):
            return None
        found = models.Member.objects.select_related("user").filter(user__username=name).first()
        if found is None or not has_access(found):
            # As long as for one who is there.
            make_password(typed or code)
            return None
        right = is_theirs(found, typed) if typed else is_their_code(found, str(code))
        return found.user if right else None


def _encodable(typed: Any) -> str:
    """What was typed, with half a character (a lone surrogate, as JSON lets through) spelled out.

    It is then somebody's secret as little as before, and can be hashed and looked up.
    """
    return str(typed or "").encode("utf-8", "backslashreplace").decode("utf-8")


def is_their_code(member: models.Member, typed: str) -> bool:
    """Whether what was typed is the one-time code this person was given, and still good."""
    good = member.code_until is not None and timezone.now() <= member.code_until
    # Hashed either way, so that the time tells nothing.
    return check_password(typed, member.code or make_password(None)) and good


def is_of_a_demo(member: models.Member) -> bool:
    """Whether a person is on no list but those of demos: nobody of the shop."""
    return all(queries.is_demo(one) for one in member.jobs.all())


def is_at_home(member: models.Member) -> bool:
    """Whether a person is of this shop, and not one whose name came in with another shop's job."""
    shop = queries.shop()
    return shop is None or member.jobs.filter(pk=shop.pk).exists()


def people_without_password() -> list[models.Member]:
    """The people of the jobs on the board who have set no password yet, those of demos and of other
    shops too.
    """
    found = (
        models.Member.objects.filter(jobs__put_away=False, user__is_active=True)
        .select_related("user")
        .distinct()
    ).order_by("name")
    return [one for one in found if not has_password(one)]


def check_can_tap_in(member: models.Member, meta: Mapping[str, Any]) -> None:
    """Whether someone may sign in with one tap: at this machine, before a password is set.

    ``meta`` is ``request.META``. Something in between that passes requests on would make all
    of them look local, so one that was passed on is not.
    """
    check_is_at_the_machine(meta)
    if not has_access(member):
        raise NotAllowed(f"The access of {member.name} has been ended.")
    if has_password(member):
        raise NotAllowed(f"{member.name} has a password. Sign in with it.")
    if not (is_at_home(member) or is_of_a_demo(member)):
        raise NotAllowed(f"{member.name} is of another shop, and does not sign in here.")


def check_is_at_the_machine(meta: Mapping[str, Any]) -> None:
    """Whether a request may sign in with one tap at all, whoever it is: the same for every name."""
    if not settings.REHANG_TAP_IN:
        raise NotAllowed("Signing in with one tap is switched off here. Sign in with a password.")
    if not is_loopback(settings.REHANG_BOUND):
        raise NotAllowed(
            "Signing in with one tap works only while the board is served on this machine alone."
        )
    # An IPv6 address has colons of its own, so a port is what stands behind the last.
    host = str(meta.get("HTTP_HOST", "localhost")).rpartition(":")
    named = host[0] if host[2].isdigit() else str(meta.get("HTTP_HOST", "localhost"))
    passed_on = any(_is_of_a_proxy(name) for name, value in meta.items() if value)
    # The name too: another site may let its own name point here (DNS rebinding).
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
    found = [one for one in people_without_password() if can_tap_in(one, meta)]
    away = queries.is_demo_away()
    return [one for one in found if not (away and is_of_a_demo(one))]


def is_loopback(host: str) -> bool:
    """Whether an address is this machine's own and reached from nowhere else."""
    if host == "localhost":
        return True
    try:
        return ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False
