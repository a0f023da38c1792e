"""What a person shows who they are with, and who may give and take it (DESIGN 4b, 2).

A PIN is six digits with which they confirm, at that moment, what they settle; a password signs them
in too; a one-time code lets them set either, once.
"""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from datetime import datetime, timedelta
from itertools import pairwise

from django.conf import settings
from django.contrib.auth.hashers import make_password
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError

from rehang.book import accesslog, members, models, queries, visits
from rehang.book.writing import writing
from rehang.trade.terms.errors import BadInput, NotAllowed

__all__ = [
    "CODE_HOURS",
    "NO_PIN",
    "PIN_DIGITS",
    "TERMINAL",
    "as_code",
    "check_password_good",
    "check_pin",
    "end_access",
    "give_access",
    "give_code",
    "is_a_pin",
    "new_code",
    "set_by_code",
    "set_pin",
    "show_demo_pins",
]

PIN_DIGITS = 6
# Who sets a PIN with no person's PIN to confirm it: whoever is at the machine that keeps the book.
TERMINAL = "rehang"
NO_PIN = (
    "{name} has no PIN yet. Whoever keeps the shop gives them a one-time code on the page People, "
    "and they set it themselves."
)
# Without letters and digits that are taken for one another. 12 of 30: 58 bits.
_LETTERS = "23456789ABCDEFGHJKMNPQRSTVWXYZ"
# 72 h: given on a Friday it is good on Monday (our choice, no source).
CODE_LETTERS, CODE_HOURS = 12, 72


def set_pin(*, person: str, pin: str, by: str, at: datetime) -> None:
    """Set a person's PIN. ``by`` is themselves, who has confirmed it, or the machine's own terminal.

    At the terminal those who keep the shop get theirs; everyone else sets their own with a code from
    them, so that whoever is at the machine knows nobody's.
    """
    member = members.member(person)
    if by == person:
        if not members.has_secret(member):
            raise NotAllowed(NO_PIN.format(name=member.name))
    elif by != TERMINAL:
        raise NotAllowed(
            f"Each person sets their own PIN. {member.name} needs a one-time code for it, from the page "
            "People."
        )
    elif not queries.kept_by(person):
        raise NotAllowed(
            f"{member.name} sets their own PIN, with a one-time code. Whoever keeps the shop gives it "
            "on the page People; at this machine they alone get a PIN."
        )
    check_pin(pin)
    # Hashed first: nobody waits for a hash to write in a book.
    member.pin, member.pin_shown = make_password(pin), ""
    with writing():
        member.save(update_fields=["pin", "pin_shown"])
        accesslog.write(what="pin_set", about=person, by=by, at=at)


def is_a_pin(typed: str) -> bool:
    """Whether it has the form of a PIN, which no password has: that is longer."""
    return len(typed) == PIN_DIGITS and typed.isascii() and typed.isdigit()


def check_pin(pin: str, where: str = "new") -> None:
    """Whether six digits may be somebody's PIN."""
    if not is_a_pin(pin):
        raise BadInput(f"A PIN is {PIN_DIGITS} digits, as in 480 713 without the space.", where)
    steps = {(int(b) - int(a)) % 10 for a, b in pairwise(pin)}
    if steps in ({0}, {1}, {9}):
        # What is guessed first: 000000, 123456, 654321. NIST SP 800-63B, 5.1.1.2 (from memory).
        raise BadInput("That PIN is guessed first. Pick six digits in no order.", where)


def check_keeps(by: str, member: models.Member) -> None:
    """Whether someone keeps the shop that another person is in."""
    keeper = members.member(by)
    theirs = set(member.jobs.values_list("pk", flat=True))
    if not theirs & {job.pk for job in queries.kept_by(by)}:
        raise NotAllowed(f"{keeper.name} does not keep the shop of {member.name}.")
    if by == member.key:
        raise NotAllowed(f"{keeper.name} does that for others. Your own PIN is on the page PIN.")


def give_code(*, person: str, by: str, at: datetime) -> str:
    """A code with which a person sets a PIN or password of their own, once; it is told only here.

    What they have now works until they use it. ``by`` has confirmed who they are, or is the machine's
    own terminal, which gives one to those who keep the shop.
    """
    member = members.member(person)
    if by != TERMINAL:
        check_keeps(by, member)
    elif not queries.kept_by(person):
        raise NotAllowed(f"{member.name} gets a one-time code from whoever keeps the shop.")
    if not members.has_access(member):
        raise NotAllowed(f"The access of {member.name} has been ended. Give it back first.")
    code = new_code()
    member.code, member.code_until = make_password(as_code(code)), at + timedelta(hours=CODE_HOURS)
    with writing():
        member.save(update_fields=["code", "code_until"])
        accesslog.write(what="code_given", about=person, by=by, at=at)
    return code


def new_code() -> str:
    """A code that nobody guesses, in groups that are read out and typed."""
    code = "".join(secrets.choice(_LETTERS) for _ in range(CODE_LETTERS))
    return "-".join(code[n : n + 4] for n in range(0, CODE_LETTERS, 4))


def as_code(typed: str) -> str:
    """A code as it was given, however it was typed."""
    return "".join(one for one in typed.upper() if one.isalnum())


def set_by_code(*, person: str, new: str, by: str, at: datetime) -> None:
    """Set what a person picked with their code: six digits are a PIN, anything else a password.

    The code, what they had before and their other visits end with it. ``by`` has shown the code.
    """
    member = members.member(person)
    if person != by:
        raise NotAllowed("Each person uses their own code.")
    is_pin = is_a_pin(new)
    if is_pin and not (settings.REHANG_TAP_IN and members.is_loopback(settings.REHANG_BOUND)):
        raise BadInput(
            "A PIN signs nobody in here. Pick a password; the PIN is set afterwards.",
            "new",
        )
    if is_pin:
        check_pin(new)
    else:
        check_password_good(member, new, "new")
    member.user.password = make_password(None if is_pin else new)
    member.pin, member.pin_shown = make_password(new) if is_pin else "", ""
    member.code, member.code_until = "", None
    with writing():
        member.user.save(update_fields=["password"])
        member.save(update_fields=["pin", "pin_shown", "code", "code_until"])
        accesslog.write(what="secrets_reset", about=person, by=by, at=at)
        visits.end(member.user_id)


def check_password_good(member: models.Member, password: str, where: str) -> None:
    """Whether a password may be this person's: long, no common one, not their own name."""
    if not password:
        raise BadInput("Enter a password.", where)
    # For the validator of likeness: Django's own user has a first and a last name, ours has one.
    vars(member.user)["name"] = member.name
    try:
        validate_password(password, member.user)
    except ValidationError as problem:
        raise BadInput(" ".join(problem.messages), where) from None


def end_access(*, person: str, by: str, at: datetime) -> None:
    """Let a person in no more. What they wrote stays, in their name. ``by`` has confirmed who they are."""
    _switch(person, by, at, active=False)


def give_access(*, person: str, by: str, at: datetime) -> None:
    """Let a person in again, with what they signed in with before."""
    _switch(person, by, at, active=True)


def _switch(person: str, by: str, at: datetime, *, active: bool) -> None:
    member = members.member(person)
    check_keeps(by, member)
    if members.has_access(member) == active:
        return
    with writing():
        member.user.is_active = active
        member.user.save(update_fields=["is_active"])
        # A code that is still out must let nobody back in.
        member.code, member.code_until = "", None
        member.save(update_fields=["code", "code_until"])
        accesslog.write(
            what="access_given" if active else "access_ended", about=person, by=by, at=at
        )
        visits.end(member.user_id)


def show_demo_pins(
    *, job: models.Job, pins: Mapping[str, str], by: str, at: datetime
) -> dict[str, str]:
    """Give the people of a demo the PINs that its pages say, where they have none.

    Returns name and PIN of everyone who has one that is said.
    """
    if not queries.is_demo(job):
        raise NotAllowed(f"{job.slug} is no demo. Each person of it gets a PIN of their own.")
    for member in job.people.select_related("user"):
        # Whoever is in a real job too has no PIN that a page shows.
        if member.key in pins and not members.has_secret(member) and members.is_of_a_demo(member):
            with writing():
                member.pin, member.pin_shown = make_password(pins[member.key]), pins[member.key]
                member.save(update_fields=["pin", "pin_shown"])
                accesslog.write(what="pin_set", about=member.key, by=by, at=at)
    return {one.name: one.pin_shown for one in job.people.exclude(pin_shown="")}
