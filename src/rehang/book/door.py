"""Who came in, who was sent away and whose visit ended: written down as it happens."""

from __future__ import annotations

import time
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.contrib.auth.signals import user_login_failed
from django.dispatch import receiver
from django.http import HttpRequest
from django.utils import timezone

from rehang.book import accesslog, members, models, pins, tries, visits
from rehang.book.writing import writing

__all__ = ["Told", "came_in", "ended", "told_of"]

# Whoever keeps the shop scrolls through no more in one go.
LINES = 100
_WORDS = {
    "joined": "came on the list of people",
    "password_set": "password set",
    "pin_set": "PIN set",
    "code_given": "one-time code given",
    "secrets_reset": "new PIN or password set with a one-time code",
    "access_ended": "access ended",
    "access_given": "access given back",
    "signed_in": "signed in",
    "sign_in_refused": "wrong PIN, password or code",
    "session_ended": "visit ended",
}


def came_in(request: HttpRequest, member: models.Member, how: str) -> None:
    """Begin the visit of someone who has just been let in, ``how``: "with one tap"."""
    visits.begin(request, time.time())
    _write("signed_in", member.key, member.key, how=how, address=visits.address_of(request))


def ended(*, person: str, by: str, at: datetime, key: str = "", but: str = "") -> int:
    """End visits of a person: the one of that public key, or all but one; returns how many.

    ``by`` is themselves, or keeps the shop: a phone is lost before whose it was is asked.
    """
    member = members.member(person)
    if person != by:
        pins.check_keeps(by, member)
    number = visits.end(member.user_id, key=key, but=but)
    if number:
        _write("session_ended", person, by, number=number)
    return number


@receiver(user_login_failed)
def _sent_away(
    sender: object, credentials: dict[str, Any], request: HttpRequest | None = None, **more: object
) -> None:
    if request is None:
        return
    tries.count_wrong(request)
    name = str(credentials.get("username", ""))
    known = models.Member.objects.filter(user__username=name).values_list("key", flat=True).first()
    # A name that nobody has may be a password in the wrong box: it is not written down.
    user = getattr(request, "user", None)
    here = members.member_of(user) if isinstance(user, User) else None
    by = here.key if here is not None else ""
    _write("sign_in_refused", known or "", by, address=visits.address_of(request))


def _write(what: str, about: str, by: str, **said: Any) -> None:
    with writing():
        accesslog.write(what=what, about=about, by=by, at=timezone.now(), **said)


@dataclass(frozen=True, slots=True)
class Told:
    """One line for whoever keeps the shop. ``at`` is ISO 8601 with its offset; ``by`` a name or empty."""

    at: str
    about: str
    words: str
    by: str


def told_of(keys: set[str]) -> list[Told]:
    """What happened at the door to these people, and to names that nobody has; the newest first."""
    names = dict(models.Member.objects.values_list("key", "name"))
    lines = models.AccessLine.objects.filter(what__in=_WORDS, about__in={*keys, ""})
    found = []
    for line in lines.order_by("-seq")[:LINES]:
        said = accesslog.said(line)
        words = " ".join([_words_of(line), str(said.get("how", ""))]).strip()
        if said.get("address"):
            words += f", from {said['address']}"
        by = "" if line.by == line.about else names.get(line.by, line.by)
        found.append(Told(line.at, names.get(line.about, "A name nobody has"), words, by))
    return found


def _words_of(line: models.AccessLine) -> str:
    """What a line says. Who was given no code before set their first PIN when they began the shop."""
    if line.what == "secrets_reset" and not _given_before(line):
        return "PIN set when the shop was begun"
    return _WORDS[line.what]


def _given_before(line: models.AccessLine) -> bool:
    given = models.AccessLine.objects.filter(what="code_given", about=line.about)
    return given.filter(seq__lt=line.seq).exists()
