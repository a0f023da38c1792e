"""Who may write in the book, the papers they hold, and what each kind of paper lets a person do."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from types import MappingProxyType
from typing import Annotated, Any, ClassVar

from pydantic import Field

from rehang.trade.declared.taken import Where, read
from rehang.trade.declared.values import STRICT, Day, Flag, ListOf, OneOf, TableOf, Text, absent
from rehang.trade.facts.shop import days_from
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.wording import NO_SERIAL, is_blank, listed

__all__ = [
    "APPROVE",
    "DECIDE",
    "INSPECT",
    "LOOK",
    "POWERS",
    "TORQUE",
    "Certificate",
    "PeopleFile",
    "Person",
    "people_from",
    "plain_kind",
    "same_person_faults",
]

DECIDE, LOOK, APPROVE, INSPECT = "decide", "look", "approve", "inspect"
TORQUE = "torque alone"
POWERS = (DECIDE, LOOK, APPROVE, INSPECT, TORQUE)


def _on_paper(text: str) -> str:
    # What people write for a number that they do not have is no number.
    if is_blank(text) or text.strip().casefold() in NO_SERIAL:
        raise absent()
    return text.strip()


def _weekdays(text: str) -> str:
    days_from(text)
    return text


def _span(days: list[date]) -> tuple[date, date]:
    first, last = days
    if last < first:
        raise BadInput(f"The absence ends on {last}, before it begins.")
    return first, last


def plain_kind(kind: str) -> str:
    """A kind of certificate as it is compared."""
    return " ".join(kind.split()).casefold()


def _by_kind(powers: Mapping[str, tuple[str, ...]]) -> Mapping[str, frozenset[str]]:
    return MappingProxyType({plain_kind(kind): frozenset(held) for kind, held in powers.items()})


@dataclass(frozen=True, slots=True, kw_only=True)
class Certificate:
    """One paper of a person. It counts from ``entered_on`` to ``valid_until``, both days included.

    None: the file does not say. What its kind lets a person do stands in ``JobFacts.powers``.
    """

    __pydantic_config__ = STRICT
    __thing__: ClassVar[str] = "A certificate"
    __needs__: ClassVar[str] = (
        'A certificate has its "{key}". Write it as on the paper, or leave the certificate out.'
    )

    kind: Annotated[str, Text("A kind that the table of powers knows.", parse=_on_paper)]
    number: Annotated[str, Text(parse=_on_paper)]
    authority: Annotated[str, Text("Who issued it.", parse=_on_paper), Field(title="Issued by")]
    valid_until: Annotated[
        date | None, Day("The last good day; none: no end."), Field(title="Good to")
    ] = None
    # DESIGN 4b, 15: a paper counts from the day it was put in.
    entered_on: Annotated[
        date | None,
        Day(
            "The day from which it counts here.",
            needs='A certificate has "entered_on", the day it was put on file. Write it.',
        ),
        Field(title="Counts here from"),
    ]

    @property
    def words(self) -> str:
        return f"{self.kind} certificate {self.number}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """Someone in the shop's list.

    ``papers`` are the tables of ``certificate``, or the one number of an older file with its
    ``certificate_kind``. ``second_look`` says that they keep their hands off the work for it too.
    """

    __pydantic_config__ = STRICT
    __thing__: ClassVar[str] = "A person"
    __key__: ClassVar[tuple[str, ...]] = ("key",)
    __needs__: ClassVar[str] = 'A person needs "key" and "name".'

    key: Annotated[
        str,
        Text("What the book calls them for good. Empty: the first name.", longest=60, needed=True),
        Field(title="Short name"),
    ]
    name: Annotated[str, Text(longest=200, needed=True)]
    role: Annotated[
        str, Text('What they do; "reads" may look and not write.'), Field(title="What they do")
    ] = ""
    papers: Annotated[
        tuple[Certificate, ...],
        ListOf(
            Certificate,
            "Each paper that they hold.",
            or_text=True,
        ),
        Field(alias="certificate", title="Certificates"),
    ] = ()
    certificate_kind: Annotated[
        str,
        Text("Of an older file: the kind of its one certificate."),
        Field(title="Kind of their one certificate"),
    ] = ""
    days: Annotated[
        str,
        Text(
            "Weekdays they are in, as in Tue, Thu; whenever it is open if empty.", parse=_weekdays
        ),
        Field(title="Days in"),
    ] = ""
    second_look: Annotated[
        bool, Flag("They may give a second look."), Field(title="May give a second look")
    ] = False
    keeps_shop: Annotated[
        bool,
        Flag(
            "They change limits, meters and people, and take jobs off the board. Where nobody is "
            "marked, whoever may approve does."
        ),
        Field(title="Keeps the shop"),
    ] = False
    away: Annotated[
        tuple[tuple[date, date], ...],
        ListOf(
            ListOf(
                Day(),
                least=2,
                most=2,
                into=_span,
                wrong='"away" is a list of first and last days, as in [[2026-10-22, 2026-10-24]].',
            ),
            "First and last day of each absence.",
        ),
    ] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PeopleFile:
    """``people.toml``. ``powers`` is None where the shop has no table of its own."""

    __pydantic_config__ = STRICT
    __thing__: ClassVar[str] = "people.toml"
    __words__: ClassVar[str] = "Who may write in the book."

    person: Annotated[tuple[Person, ...], ListOf(Person)] = ()
    powers: Annotated[
        Mapping[str, frozenset[str]] | None,
        TableOf(
            ListOf(
                OneOf(
                    POWERS,
                    wrong=f'The powers of "{{key}}" are {{list}}. They are a list of {listed(POWERS)}.',
                )
            ),
            "What each kind of certificate lets a person do; the shipped example if none.",
            into=_by_kind,
        ),
        Field(title="What each kind of certificate lets a person do"),
    ] = None


def people_from(
    raw: Mapping[str, Any], where: Where
) -> tuple[dict[str, Person], Mapping[str, frozenset[str]] | None]:
    """The people by their keys, and the shop's own table of powers where it has one.

    Raises
    ------
    BadInput
        With the place, for the first thing that cannot be.
    """
    file = read(PeopleFile, raw, where)
    people: dict[str, Person] = {}
    for number, one in enumerate(file.person):
        given = raw["person"][number]
        if isinstance(given.get("certificate"), str):
            one = replace(one, papers=_older(given["certificate"], one.certificate_kind))
        elif "certificate_kind" in given:
            raise BadInput(
                'Each [[person.certificate]] has its own "kind". Leave "certificate_kind" out.',
                where("person", number, "certificate_kind"),
            )
        if one.key in people:
            raise BadInput(f'There are two people "{one.key}".', where("person", number, "key"))
        people[one.key] = one
    if not people:
        raise BadInput('It names nobody. Add a [[person]] with "key" and "name".', "people.toml")
    return people, file.powers


def same_person_faults(people: Mapping[str, Person]) -> list[str]:
    """Two people of one name or one certificate number: a second look would be one's own."""
    named: dict[str, dict[str, str]] = {}
    for one in people.values():
        told = {one.name: f'the name "{one.name}"'}
        told |= {paper.number: f"the certificate number {paper.number}" for paper in one.papers}
        for text, words in told.items():
            named.setdefault(" ".join(text.casefold().split()), {})[one.key] = words
    return [
        f"{listed(list(of))} have {next(iter(of.values()))}. If they are one person, keep one of them; "
        "if not, write what tells them apart."
        for of in named.values()
        if len(of) > 1
    ]


def _older(number: str, kind: str) -> tuple[Certificate, ...]:
    """The one paper of a file from before papers had a table each: with no last day."""
    if is_blank(kind) or is_blank(number) or number.strip().casefold() in NO_SERIAL:
        return ()
    # Such a file says no first day either, so it counts on every day.
    return (Certificate(kind=kind.strip(), number=number.strip(), authority="", entered_on=None),)
