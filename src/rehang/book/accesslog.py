"""The access log: who may sign in, as whom and with what, and who is on whose list, one line each.

Each line carries the SHA-256 (FIPS 180-4, 6.2) over the line before it and its own words, as an
entry of a book does. The accounts are worked out from it: what they hold that no line gives was
written past this program, and ``verify`` says so. Of a password or a PIN it holds the SHA-256 of
the slow hash that is stored, so an old one is not kept for anybody to guess at.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from types import MappingProxyType
from typing import Any

from django.db import connection

from rehang.book import ends, models
from rehang.trade.terms.chain import GENESIS
from rehang.trade.terms.ends import End
from rehang.trade.terms.entries import canonical

__all__ = [
    "ACCOUNT",
    "KINDS",
    "Given",
    "account_of",
    "end",
    "given_by",
    "line_hash",
    "people_given",
    "said",
    "write",
]

ACCOUNT = ("name", "account", "login", "active", "staff", "superuser", "password", "pin", "code")
# What each kind of line may change of an account. One that changes nothing tells what happened.
KINDS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        # As it stood when the log began.
        "found": ACCOUNT,
        "joined": ACCOUNT,
        "password_set": ("password",),
        "pin_set": ("pin",),
        "code_given": ("code",),
        "secrets_reset": ("password", "pin", "code"),
        "access_ended": ("active", "code"),
        "access_given": ("active", "code"),
        # A job's list of people, with their papers, as it was filed.
        "people_filed": (),
        "signed_in": (),
        "sign_in_refused": (),
        "session_ended": (),
    }
)


def write(*, what: str, about: str, by: str, at: datetime, **said: Any) -> models.AccessLine:
    """Add one line, inside the transaction that changes what it tells of, after the change.

    Parameters
    ----------
    what : str
        One of ``KINDS``. Those fields of the account that it may change are taken from the tables.
    about : str
        Key of the person; of ``people_filed`` the job; of a kind that changes no account any text.
    by : str
        Key of who does it; ``pins.TERMINAL`` at the machine that keeps the book.
    at : datetime
        When, aware.
    said : Any
        Whatever else the line tells, in values of JSON.
    """
    if not connection.in_atomic_block:
        raise RuntimeError("A line of the access log goes with what it tells of: use writing().")
    changed = {}
    if KINDS[what]:
        member = models.Member.objects.select_related("user").get(key=about)
        held = account_of(member)
        changed = {name: held[name] for name in KINDS[what]}
    # Locked, so that two writers never follow the same line.
    end, _ = models.ChainEnd.objects.select_for_update().get_or_create(
        name=ends.ACCESS, defaults={"hash": GENESIS}
    )
    line = models.AccessLine(
        seq=end.seq + 1,
        at=at.astimezone(UTC).isoformat(),
        by=by,
        what=what,
        about=about,
        said=canonical(said | changed),
        prev=end.hash,
    )
    line.hash = line_hash(line)
    # Lines are only added: never an update of one that is there.
    line.save(force_insert=True)
    end.seq, end.hash = line.seq, line.hash
    end.save(update_fields=["seq", "hash"])
    ends.note(ends.ACCESS, End(line.seq, line.hash))
    return line


def end() -> End | None:
    """Where the log ends; None where it has no line."""
    found = models.ChainEnd.objects.filter(name=ends.ACCESS, seq__gt=0).first()
    return End(found.seq, found.hash) if found else None


def said(line: models.AccessLine) -> dict[str, Any]:
    """Whatever else a line tells."""
    found: dict[str, Any] = json.loads(line.said)
    return found


def people_given(job: str) -> str:
    """The sum of a job's list of people as it was last filed; empty where none was."""
    lines = models.AccessLine.objects.filter(what="people_filed", about=job).order_by("-seq")
    last = lines.first()
    return str(said(last)["sha256"]) if last else ""


def line_hash(line: models.AccessLine) -> str:
    """SHA-256 over the link before, a line feed and the line's own fields as canonical JSON."""
    names = ("seq", "at", "by", "what", "about", "said")
    body = canonical({name: getattr(line, name) for name in names})
    return hashlib.sha256(f"{line.prev}\n{body}".encode()).hexdigest()


def account_of(member: models.Member) -> dict[str, Any]:
    """What decides who signs in as this person and with what, as the tables hold it."""
    user = member.user
    return {
        "name": member.name,
        "account": user.pk,
        "login": user.get_username(),
        "active": user.is_active,
        "staff": user.is_staff,
        "superuser": user.is_superuser,
        "password": _sum(user.password),
        # A line feed stands in no hash, so the two never run into one another.
        "pin": _sum(f"{member.pin}\n{member.pin_shown}"),
        "code": _code_sum(member.code, member.code_until),
    }


def _code_sum(code: str, until: datetime | None) -> str:
    return _sum(f"{code}\n{until.astimezone(UTC).isoformat() if until else ''}")


def _sum(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


@dataclass(frozen=True, slots=True)
class Given:
    """What a log gives: each person's account by key, and by job the sum of its list of people and
    when the job came."""

    accounts: dict[str, dict[str, Any]] = field(default_factory=dict)
    people: dict[str, tuple[str, str]] = field(default_factory=dict)


def given_by(lines: Iterable[models.AccessLine]) -> Given:
    """What the lines come to, in their order."""
    given = Given()
    for line in lines:
        told = said(line)
        if line.what == "people_filed":
            given.people[line.about] = (told["sha256"], told["created_at"])
        changed = {name: told[name] for name in KINDS.get(line.what, ()) if name in told}
        if changed:
            # The first lines of a log may be from before there were codes.
            none = {"code": _code_sum("", None)}
            given.accounts.setdefault(line.about, none).update(changed)
    return given
