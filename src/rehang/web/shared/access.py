"""Who is at the page, and which job they may open."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from axes.utils import reset
from django.contrib.auth import authenticate
from django.http import HttpRequest

from rehang.book import members, models, pins
from rehang.book.tries import counted_at
from rehang.trade.gate.powers import PowerNeed, holders, may_supervise, why_no_power
from rehang.trade.job.judging import JudgedJob
from rehang.trade.terms.errors import BadInput, NotAllowed

__all__ = [
    "PinBox",
    "check_own_secret",
    "pin_box",
    "settled_by",
    "supervisors",
    "under_of",
]


def check_own_secret(request: HttpRequest, member: models.Member, typed: str, where: str) -> None:
    """Whether someone typed their own PIN or password; a wrong one is counted.

    It is counted where a wrong one at signing in is, so that ten in a row lock both: whoever finds
    a bench signed in guesses no faster than whoever finds it signed out. The answer is then the
    page of the lock, whatever the view answers.

    Raises
    ------
    BadInput, NotAllowed
        Nothing was typed, it is not theirs, or they have none.
    """
    if not members.has_secret(member):
        raise NotAllowed(pins.NO_PIN.format(name=member.name))
    if not typed:
        raise BadInput(f"Type the PIN of {member.name}.", where)
    name = member.user.get_username()
    if authenticate(request, username=name, secret=typed) is None:
        raise BadInput(f"That is not the PIN or password of {member.name}. Type it again.", where)
    # At this address alone: who guesses elsewhere goes on being counted.
    reset(username=name, ip=counted_at(request))


def settled_by(request: HttpRequest, own: str) -> str:
    """The key of who settles what was posted, shown by their own PIN.

    It is the person signed in, or another at the same device who picked their name.
    """
    who = request.POST.get("who", "") or own
    check_own_secret(request, members.member(who), request.POST.get("pin", ""), "pin")
    return who


@dataclass(frozen=True, slots=True)
class PinBox:
    """Who may settle something here, and the PIN they type: what ``_pin.html`` shows.

    ``people`` are key, name and whether they are picked; ``said`` names and PINs of a demo.
    ``sentence`` says why the person signed in may not, or that nobody may.
    """

    form: str
    people: tuple[tuple[str, str, bool], ...]
    alone: bool
    sentence: str
    without: tuple[str, ...]
    said: tuple[tuple[str, str], ...]
    digits: bool


def pin_box(judged: JudgedJob, own: str, need: PowerNeed, day: date, form: str) -> PinBox:
    """The box for one form: the person signed in alone when they may, else all who may."""
    facts = judged.facts
    may = [one.key for one in holders(need.power, day, facts)]
    known = [members.member(key) for key in may]
    return PinBox(
        form=form,
        people=tuple((one.key, one.name, one.key == own) for one in known),
        alone=may == [own],
        sentence=why_no_power(own, need, day, facts),
        without=tuple(
            pins.NO_PIN.format(name=one.name) for one in known if not members.has_secret(one)
        ),
        said=tuple((one.name, one.pin_shown) for one in known if one.pin_shown),
        digits=all(one.pin for one in known),
    )


def supervisors(judged: JudgedJob, own: str, day: date) -> tuple[tuple[str, str], ...]:
    """Key and name of everyone under whom a person may work; empty for one who needs nobody."""
    people = judged.facts.people
    if own not in people or may_supervise(people[own], day, judged.facts):
        return ()
    return tuple(
        (one.key, one.name) for one in people.values() if may_supervise(one, day, judged.facts)
    )


def under_of(request: HttpRequest, judged: JudgedJob, own: str, day: date) -> str:
    """Under whom the person signed in says they work on this visit; empty where it is nobody."""
    said = str(request.session.get("under", ""))
    return said if said in [key for key, _ in supervisors(judged, own, day)] else ""
