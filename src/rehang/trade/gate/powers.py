"""Who may settle what: the powers that a person's papers give on a day (DESIGN 4b, 1).

A power comes from a certificate by its kind, through the shop's own table; a paper counts from the
day it was put on file to the day it is good to. Work, readings and findings are anyone's to write.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from types import MappingProxyType

from rehang.trade.facts.job_facts import Certificate, JobFacts, Person
from rehang.trade.facts.people import APPROVE, DECIDE, INSPECT, LOOK, POWERS, TORQUE, plain_kind
from rehang.trade.known.drafts import WHATS, check_what, leaves_out
from rehang.trade.known.state import FLAG, MONITOR, OIL_RISE, STANDS, JobState
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.errors import BadInput, NotAllowed
from rehang.trade.terms.kinds.decisions import (
    CallMade,
    Closed,
    Disagreed,
    Struck,
    TeardownDecided,
)
from rehang.trade.terms.kinds.extra import ExtraClosed, OwnerAnswered, WorkFound
from rehang.trade.terms.kinds.fields import Fields, Reasoned
from rehang.trade.terms.kinds.items import Disposed
from rehang.trade.terms.kinds.meters import MeterFoundOut, Proved
from rehang.trade.terms.kinds.papers import Complied, Drafted, RecordSigned, Researched
from rehang.trade.terms.kinds.register import CLASSES
from rehang.trade.terms.kinds.shop import BroughtBack, Noted, PutAway
from rehang.trade.terms.kinds.torque import Torqued
from rehang.trade.terms.kinds.work import ClosedShort, SecondLookTaken
from rehang.trade.terms.wording import is_blank, listed, lower_first, on_day

__all__ = [
    "APPROVE",
    "AS_OWNER",
    "DECIDE",
    "INSPECT",
    "KEEP",
    "LOOK",
    "OWN",
    "POWERS",
    "TORQUE",
    "PowerNeed",
    "check_keeps_shop",
    "check_power",
    "check_reason",
    "check_says_enough",
    "check_settling",
    "check_signature",
    "check_supervision",
    "days_of",
    "holders",
    "may_supervise",
    "need_for",
    "need_of",
    "paper_to_sign",
    "papers_for",
    "powers_of",
    "shopkeepers",
    "why_no_power",
]

# Limits, meters, people, jobs on and off the board. It comes from the list of people, not from a paper.
KEEP = "keep the shop"
# What a person says for themself and for nobody else: whoever is in the list has it.
OWN = "answer for oneself"
# Whoever holds one of these answers for the work of others (14 CFR 43.3(d)); a look alone does not.
_SUPERVISES = frozenset((DECIDE, APPROVE, INSPECT, TORQUE))

# kind -> the power it takes, and what a person does with it.
_TAKES: Mapping[type[Fields], tuple[str, str]] = MappingProxyType(
    {
        CallMade: (DECIDE, "call a close call"),
        Disagreed: (DECIDE, "decide against a proposal"),
        TeardownDecided: (DECIDE, "decide whether an engine is torn down"),
        ClosedShort: (DECIDE, "close a task short"),
        Complied: (DECIDE, "say that a due item is done"),
        Researched: (DECIDE, "say that directives are researched"),
        # What is disposed of is judged no more, so saying so settles it.
        Disposed: (DECIDE, "say what becomes of a part"),
        Proved: (DECIDE, "let an as-found check count"),
        MeterFoundOut: (DECIDE, "say that a meter was out of tolerance"),
        SecondLookTaken: (LOOK, "give a second look"),
        PutAway: (KEEP, "take a job off the board"),
        BroughtBack: (KEEP, "put a job back on the board"),
    }
)
_TO_SIGN = MappingProxyType(
    {"maintenance": APPROVE, "inspection": INSPECT, "discrepancies": APPROVE}
)

# A reason says what was seen and what was done: two different words and eight letters or digits at
# the least, so that "ok" is none. The shop's rule, common practice, no source.
MIN_WORDS, MIN_LETTERS = 2, 8


@dataclass(frozen=True, slots=True)
class PowerNeed:
    """The power that an entry takes, and the act as a sentence says it: "close a task short"."""

    power: str
    act: str


_CLOSES = PowerNeed(DECIDE, "close a finding of severity 2 or 3")
_LEAVES_OUT = PowerNeed(DECIDE, "leave a sentence out of a record")
AS_OWNER = PowerNeed(OWN, "answer as the owner")
_CLOSES_EXTRA = PowerNeed(DECIDE, "close work that airworthiness hangs on")
_STRIKES = PowerNeed(DECIDE, "strike what another person wrote")


def _gives(kind: str, facts: JobFacts) -> frozenset[str]:
    """What a kind of certificate gives; older files join kinds: "mechanic, inspection authorization"."""
    # The whole first: the name of one kind may have a comma in it.
    if plain_kind(kind) in facts.powers:
        return facts.powers[plain_kind(kind)]
    none: frozenset[str] = frozenset()
    return none.union(*(facts.powers.get(plain_kind(one), none) for one in kind.split(",")))


# It expires (14 CFR 65.92(a), from memory), so one whose last good day is not on file shows nothing.
_EXPIRES = "inspection authorization"


def _counts(paper: Certificate, day: date | None) -> bool:
    """Whether a paper counts on a day; with no day, whether it ever does."""
    if day is None:
        return True
    if paper.valid_until is None and plain_kind(paper.kind) == _EXPIRES:
        return False
    # DESIGN 4b, 15 for the first day; 4a, 14 for the last, which is itself still good.
    return not (paper.entered_on and day < paper.entered_on) and not (
        paper.valid_until and day > paper.valid_until
    )


def papers_for(
    person: Person, power: str, day: date | None, facts: JobFacts
) -> tuple[Certificate, ...]:
    """A person's papers that give a power on a day."""
    return tuple(
        one for one in person.papers if power in _gives(one.kind, facts) and _counts(one, day)
    )


def powers_of(person: Person, day: date | None, facts: JobFacts) -> frozenset[str]:
    """The powers of a person on a day.

    ``second_look`` in people.toml gives a look by itself to who has no papers there; of who has,
    one of them is in date.
    """
    if person.role == "reads":
        return frozenset()
    good = not person.papers or any(_counts(one, day) for one in person.papers)
    by_mark = {LOOK} if person.second_look and good else set()
    return frozenset(by_mark | {one for one in POWERS if papers_for(person, one, day, facts)})


def holders(power: str, day: date | None, facts: JobFacts) -> list[Person]:
    """Everyone who holds a power on a day, in the order of people.toml."""
    if power == KEEP:
        return shopkeepers(facts)
    if power == OWN:
        return [one for one in facts.people.values() if one.role != "reads"]
    return [one for one in facts.people.values() if power in powers_of(one, day, facts)]


def shopkeepers(facts: JobFacts) -> list[Person]:
    """Who keeps the shop: those marked ``keeps_shop``; where nobody is, who may ever approve.

    A list with neither is of a shop that has named nobody yet: there everyone who writes keeps it.
    """
    writers = [one for one in facts.people.values() if one.role != "reads"]
    marked = [one for one in writers if one.keeps_shop]
    # On no day: papers that all ran out must not lock everyone out of the list they stand in.
    return marked or holders(APPROVE, None, facts) or writers


def check_keeps_shop(by: str, act: str, facts: JobFacts) -> None:
    """Whether a person keeps the shop: changes its limits, meters and people."""
    # Any day will do: keeping the shop hangs on no paper.
    check_power(by, PowerNeed(KEEP, act), date.max, facts)


def may_supervise(person: Person, day: date | None, facts: JobFacts) -> bool:
    """Whether a person answers for work that others do (14 CFR 43.3(d))."""
    return bool(powers_of(person, day, facts) & _SUPERVISES)


def why_no_power(by: str, need: PowerNeed, day: date, facts: JobFacts) -> str:
    """One sentence why a person may not, and who may; empty for one who may."""
    person = facts.people.get(by)
    may = holders(need.power, day, facts)
    if by in [one.key for one in may]:
        return ""
    named = [one.name for one in may]
    if need.power == KEEP:
        return f"To {need.act} is for whoever keeps the shop: {listed(named, 'or')}."
    if named:
        who = f"{listed(named)} {'have' if len(named) > 1 else 'has'}."
    else:
        who = "Nobody in the list of people has: enter there who may, with the certificate."
    lapsed = papers_for(person, need.power, None, facts) if person is not None else ()
    if not lapsed:
        return f"{facts.person(by)} has no paper on file to {need.act}. {who}"
    paper = lapsed[-1]
    if paper.entered_on and day < paper.entered_on:
        why = f"{paper.words} was put on file on {on_day(paper.entered_on)} and counts from then"
    elif paper.valid_until is None:
        why = f"{paper.words} expires, and its last good day is not on file"
    else:
        why = f"{paper.words} was good to {on_day(paper.valid_until)}"
    return f"{facts.person(by)} has no paper to {need.act} on {on_day(day)}: {why}. {who}"


def check_power(by: str, need: PowerNeed, day: date, facts: JobFacts) -> None:
    """Whether a person's papers let them do something on a day."""
    why = why_no_power(by, need, day, facts)
    if why:
        raise NotAllowed(why)


def need_for(kind: str, what: str = "") -> PowerNeed:
    """What a kind of entry usually takes, before it is written: for a button and its sentence."""
    of = CLASSES[kind]
    if of is RecordSigned:
        return PowerNeed(_TO_SIGN[check_what(what)], f"sign the {lower_first(WHATS[what])}")
    if of is Closed:
        return _CLOSES
    if of is Drafted:
        return _LEAVES_OUT
    if of is ExtraClosed:
        return _CLOSES_EXTRA
    return _STRIKES if of is Struck else PowerNeed(*_TAKES[of])


def paper_to_sign(by: str, what: str, day: date, facts: JobFacts, number: str = "") -> Certificate:
    """The paper that a person signs a record with: the one of that number, or the first that gives it.

    Raises
    ------
    NotAllowed
        They have none that gives it on that day.
    """
    need = need_for(RecordSigned.kind, what)
    check_power(by, need, day, facts)
    papers = papers_for(facts.people[by], need.power, day, facts)
    found = [one for one in papers if number in ("", one.number)]
    if not found:
        raise NotAllowed(
            f"{number} is no paper of {facts.person(by)} to {need.act} with. On file: "
            f"{listed([one.words for one in papers], 'or')}."
        )
    return found[0]


def need_of(entry: Entry, state: JobState) -> PowerNeed | None:
    """The power that an entry takes in the book as it stands; None where anyone may write it."""
    match entry.fields:
        case Closed():
            return _to_close(entry.fields.finding, state)
        case RecordSigned():
            return need_for(RecordSigned.kind, entry.fields.what)
        case OwnerAnswered(person=person):
            return AS_OWNER if person else None
        case ExtraClosed(extra=extra):
            found = state.entries.get(extra)
            bears = found is not None and is_a(found, WorkFound) and found.fields.airworthiness
            return _CLOSES_EXTRA if bears else None
        case Drafted():
            # DESIGN 4b, 1: what the book gives is left out by who may decide against it.
            return _LEAVES_OUT if leaves_out(entry.fields) else None
        case Struck():
            target = state.entries.get(entry.fields.entry)
            # Words of a person say nothing of a part.
            # A strike of what is not there is refused by its own rule, in words of its own.
            mine = target is None or target.by == entry.by or is_a(target, Drafted, Noted)
            return None if mine else _STRIKES
    takes = _TAKES.get(type(entry.fields))
    return PowerNeed(*takes) if takes is not None else None


def _to_close(finding_id: str, state: JobState) -> PowerNeed | None:
    if finding_id.startswith(STANDS):
        return PowerNeed(DECIDE, "let a use of a meter that was found out stand")
    if finding_id.startswith(FLAG):
        return PowerNeed(DECIDE, "let a part stand that is set apart from its fellows")
    if finding_id.startswith(OIL_RISE):
        return PowerNeed(DECIDE, "decide on metal in the oil")
    if finding_id.startswith(MONITOR):
        return PowerNeed(DECIDE, "answer what an engine monitor's table asks")
    for item in state.items.values():
        for finding in item.findings:
            # DESIGN 4b, 1: the power is for severity 2 and 3; a note anyone may close.
            if finding.id == finding_id and finding.severity < 2:
                return None
    return _CLOSES


# Rules of the gate.


def check_settling(entry: Entry, state: JobState, facts: JobFacts) -> None:
    """What settles something takes the power for it, on the day it says and the day it was kept."""
    need = need_of(entry, state)
    if need is not None:
        # Both days: else a paper that has run out could settle something by dating it back.
        for day in days_of(entry):
            check_power(entry.by, need, day, facts)


def days_of(entry: Entry) -> list[date]:
    """The day that an entry says, and the later one on which the book received it."""
    kept = entry.kept.astimezone(entry.at.tzinfo).date() if entry.kept is not None else None
    said = entry.at.date()
    return [said] if kept is None or kept <= said else [said, kept]


def check_signature(entry: Entry[RecordSigned], state: JobState, facts: JobFacts) -> None:
    """Name, number and kind on a signature are those of the signer's own paper on file."""
    person, need = facts.people.get(entry.by), need_of(entry, state)
    # Who is on no list has been refused by check_settling, which is asked before.
    if person is None or need is None:
        return
    # DESIGN 4b, 2: from the file, never from typing.
    if entry.fields.name != person.name:
        raise NotAllowed(
            f'The signature says "{entry.fields.name}"; {person.name} signs. A signature carries '
            "the name that stands in the list of people."
        )
    papers = papers_for(person, need.power, days_of(entry)[-1], facts)
    if (entry.fields.certificate_kind, entry.fields.certificate) not in [
        (one.kind, one.number) for one in papers
    ]:
        given = f"{entry.fields.certificate_kind} {entry.fields.certificate}".strip() or "no"
        raise NotAllowed(
            f"The signature carries {given} certificate, which is not one of {person.name} that "
            f"is good for it: {listed([one.words for one in papers], 'or')}."
        )


def check_reason(entry: Entry[Reasoned], state: JobState, facts: JobFacts) -> None:
    """Who settles something says what was seen and what was done, in more than a word."""
    check_says_enough(entry.fields.reason)


def check_says_enough(reason: str) -> None:
    """Whether a reason is more than a word."""
    # DESIGN 4b, 15: blanks and characters that nobody sees are no reason.
    if is_blank(reason):
        raise BadInput("Write the reason: what was seen, and what was done.", "reason")
    # A set: the same word twice says no more.
    words = {one for one in reason.casefold().split() if any(map(str.isalnum, one))}
    if len(words) < MIN_WORDS or sum(map(str.isalnum, reason)) < MIN_LETTERS:
        raise BadInput(
            f'"{reason.strip()}" is too little to stand on the record. Write what was seen, and '
            "what was done.",
            "reason",
        )


def check_supervision(entry: Entry, state: JobState, facts: JobFacts) -> None:
    """Whoever does not torque alone names who stands by; who supervises may, and is another."""
    day, by = entry.at.date(), facts.people.get(entry.by)
    under = entry.fields.under
    # DESIGN 4b, 1: of all work only torque asks for a paper; a helper does the rest freely.
    alone = not is_a(entry, Torqued) or (by is not None and TORQUE in powers_of(by, day, facts))
    if not under:
        if not alone:
            named = [one.name for one in holders(TORQUE, day, facts)]
            who = (
                listed(named, "or") if named else "nobody in the list of people may; enter who does"
            )
            raise NotAllowed(
                f"{facts.person(entry.by)} has no paper on file to torque alone. Write under whose "
                f"supervision it was done: {who}."
            )
        return
    if under == entry.by:
        raise NotAllowed("Nobody supervises themselves. Write who else stood by, or leave it out.")
    other = facts.people.get(under)
    if other is None:
        raise BadInput(f'"{under}" is not in the list of people. Pick who supervised.', "under")
    if not alone:
        check_power(under, PowerNeed(TORQUE, "supervise torque"), day, facts)
    elif not may_supervise(other, day, facts):
        named = [one.name for one in facts.people.values() if may_supervise(one, day, facts)]
        raise NotAllowed(
            f"{other.name} has no paper on file to supervise work. "
            f"{listed(named, 'or') + ' may' if named else 'Nobody in the list of people may'}."
        )
