"""PINs: six digits with which a person confirms, at that moment, what they settle (DESIGN 4b, 2)."""

from __future__ import annotations

import logging
from collections.abc import Mapping
from datetime import datetime
from itertools import pairwise

from django.contrib.auth.hashers import make_password

from rehang.book import accesslog, members, models, queries
from rehang.book.writing import writing
from rehang.trade.errors import BadInput, NotAllowed
from rehang.trade.powers import APPROVE, powers_of

__all__ = ["NO_PIN", "PIN_DIGITS", "TERMINAL", "set_pin", "show_demo_pins"]

log = logging.getLogger("rehang.book")

PIN_DIGITS = 6
# Who sets a PIN with no person's PIN to confirm it: whoever is at the machine that keeps the book.
TERMINAL = "rehang"
NO_PIN = (
    "{name} has no PIN yet. Whoever signs maintenance entries sets it with them on the page of PINs, "
    "or: rehang pin {person}, at the machine that keeps the book."
)


def set_pin(*, person: str, pin: str, by: str, at: datetime) -> None:
    """Set a person's PIN. ``by`` has confirmed who they are, or is the machine's own terminal.

    The first one takes somebody who signs maintenance entries standing by, because whoever is at a
    bench may sign in as anyone with one tap; after that each person changes their own.
    """
    member = members.member(person)
    if by == person:
        if not members.has_secret(member):
            raise NotAllowed(NO_PIN.format(name=member.name, person=person))
    elif by != TERMINAL:
        _check_may_give_a_pin(by, member, at)
    if not (len(pin) == PIN_DIGITS and pin.isascii() and pin.isdigit()):
        raise BadInput(f"A PIN is {PIN_DIGITS} digits, as in 480 713 without the space.", "new")
    steps = {(int(b) - int(a)) % 10 for a, b in pairwise(pin)}
    if steps in ({0}, {1}, {9}):
        # What is guessed first: 000000, 123456, 654321. NIST SP 800-63B, 5.1.1.2 (from memory).
        raise BadInput("That PIN is guessed first. Pick six digits in no order.", "new")
    with writing():
        member.pin, member.pin_shown = make_password(pin), ""
        member.save(update_fields=["pin", "pin_shown"])
        accesslog.write(what="pin_set", about=person, by=by, at=at)
    log.info("PIN of %s set by %s at %s", person, by, at.isoformat())


def _check_may_give_a_pin(by: str, member: models.Member, at: datetime) -> None:
    giver = members.member(by)
    if members.has_secret(member):
        raise NotAllowed(
            f"{member.name} has a PIN or a password and changes it themselves. Forgotten: "
            f"rehang pin {member.key}, at the machine that keeps the book."
        )
    shared = models.Job.objects.filter(people=member).filter(people=giver)
    for job in shared:
        facts = queries.facts(job)
        held = facts.people.get(by)
        if held is not None and APPROVE in powers_of(held, at.date(), facts):
            return
    raise NotAllowed(
        f"{giver.name} has no paper on file to sign a maintenance entry in a job of {member.name}. "
        "Whoever does gives out first PINs."
    )


def show_demo_pins(
    *, job: models.Job, pins: Mapping[str, str], by: str, at: datetime
) -> dict[str, str]:
    """Give the people of a demo the PINs that its pages say, where they have none.

    Returns name and PIN of everyone who has one that is said.
    """
    if queries.facts(job).engine.get("invented") is not True:
        raise NotAllowed(f"{job.slug} is no demo. Each person of it gets a PIN of their own.")
    for member in job.people.select_related("user"):
        real = any(
            queries.facts(one).engine.get("invented") is not True for one in member.jobs.all()
        )
        if member.key in pins and not members.has_secret(member) and not real:
            with writing():
                member.pin, member.pin_shown = make_password(pins[member.key]), pins[member.key]
                member.save(update_fields=["pin", "pin_shown"])
                accesslog.write(what="pin_set", about=member.key, by=by, at=at)
            log.info("PIN of %s of a demo set by %s at %s", member.key, by, at.isoformat())
    return {one.name: one.pin_shown for one in job.people.exclude(pin_shown="")}
