"""What an engine carries besides: generators, pumps, the propeller, with serial and hours."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Annotated, ClassVar

from pydantic import Field

from rehang.trade.declared.taken import Where, inside
from rehang.trade.declared.values import STRICT, Flag, Number, OneOf, Text
from rehang.trade.facts.recurring import Recurring
from rehang.trade.terms.bounds import name_fault
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.wording import upper_first

__all__ = [
    "KINDS",
    "Accessory",
    "accessories_by_item",
    "accessory_faults",
    "accessory_words",
    "due_of_accessories",
]

# The kinds that have a check sheet of their own.
KINDS = (
    "alternator", "starter", "vacuum-pump", "governor", "propeller", "fuel-pump", "fuel-servo",
    "carburettor",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Accessory:
    """One line of ``[[accessory]]`` in ``engine.toml``.

    ``hours`` are its own, when the engine had ``engine_hours`` since overhaul: what it runs after
    that is counted by the engine's hours. ``due_hours`` is the figure of its own hours at which
    ``document`` asks for it.
    """

    __pydantic_config__ = STRICT
    __thing__: ClassVar[str] = "An accessory"
    __key__: ClassVar[tuple[str, ...]] = ("kind", "name")

    kind: Annotated[
        str,
        OneOf(KINDS, wrong='"{given}" is no kind of accessory. Write one of {options}.'),
        Field(title="What it is"),
    ]
    name: Annotated[
        str,
        Text("Where there are two of a kind, as in boost.", longest=60),
        Field(title="Which of two"),
    ] = ""
    maker: Annotated[str, Text("As on its plate.", longest=120), Field(title="Maker and model")] = (
        ""
    )
    serial: Annotated[str, Text(longest=60)] = ""
    hours: Annotated[
        float | None, Number(0, 200_000), Field(title="Its own hours since new or overhaul")
    ] = None
    engine_hours: Annotated[
        float | None,
        Number(0, 200_000, "Since overhaul, when it had those hours."),
        Field(title="Engine hours then"),
    ] = None
    due_hours: Annotated[
        float | None,
        Number(0, 200_000, "Of its own hours, by the document."),
        Field(title="Due at so many of its hours"),
    ] = None
    document: Annotated[str, Text()] = ""
    revision: Annotated[str, Text(also=(int, float))] = ""
    left_alone: Annotated[
        bool, Flag("On file and not looked at in this job."), Field(title="Not looked at here")
    ] = False
    note: Annotated[str, Text()] = ""

    @property
    def item(self) -> str:
        return f"{self.kind}:{self.name or self.kind}"

    @property
    def words(self) -> str:
        return accessory_words(self.kind, self.name or self.kind)


def accessory_words(kind: str, name: str) -> str:
    """An accessory in the middle of a sentence: ``vacuum pump``, ``fuel pump, boost``."""
    plain = kind.replace("-", " ")
    return plain if name == kind else f"{plain}, {name}"


def accessories_by_item(
    given: Sequence[Accessory], old: Mapping[str, str], where: Where
) -> Mapping[str, Accessory]:
    """The accessories by their items.

    ``old`` are the serials of those kinds that the engine's file names by a key of its own.

    Raises
    ------
    BadInput
        Two of one kind and name, a serial that is said twice and not alike, or hours at which
        something is due without a document.
    """
    found: dict[str, Accessory] = {}
    for number, one in enumerate(given):
        place = inside(where, "accessory", number)
        if one.item in found:
            raise BadInput(
                f"There are two accessories {one.words}. Write which is which under name.",
                place("name"),
            )
        if one.kind in old and one.name:
            raise BadInput(f"An engine has one {one.kind}, so it has no name.", place("name"))
        other = old.get(one.kind, "").strip()
        if other and one.serial.strip() and other != one.serial.strip():
            raise BadInput(
                f"The serial of the {one.kind} is {other} and {one.serial}. Read its plate, and write "
                "one of them.",
                place("serial"),
            )
        if one.due_hours is not None and not one.document.strip():
            raise BadInput(
                f"{upper_first(one.words)} is due at {one.due_hours:g} h by no document. Write the "
                "document that says so.",
                place("document"),
            )
        found[one.item] = one
    return MappingProxyType(found)


def accessory_faults(given: Sequence[Accessory], where: Where) -> list[str]:
    """Names and serials with a character in them that cannot be seen, or of another width."""
    return [
        f"{where('accessory', number, key)}: {name_fault(text)}"
        for number, one in enumerate(given)
        for key, text in (("name", one.name), ("serial", one.serial))
        if name_fault(text)
    ]


def due_of_accessories(accessories: Mapping[str, Accessory]) -> dict[str, Recurring]:
    """What comes due of accessories by their own hours, as what is done once at hours of the engine.

    Where its hours, or the engine's with them, are not on file, nothing says how many are left: it
    is then due at hours that nobody knows, which passes nothing.
    """
    found = {}
    for item, one in accessories.items():
        if one.due_hours is None:
            continue
        known = one.hours is not None and one.engine_hours is not None
        at = (one.engine_hours or 0) + one.due_hours - (one.hours or 0)
        serial = f", s/n {one.serial}" if one.serial else ""
        found[item] = Recurring(
            id=item,
            title=f"{upper_first(one.words)}{serial}: {one.due_hours:,g} h of its own",
            kind="accessory",
            item=item,
            once=known,
            # Below 0 it ran out before the engine's overhaul.
            at_hours=max(round(at, 1), 0.0) if known else None,
            every_hours=None if known else one.due_hours,
            clock="since_overhaul",
            document=one.document,
            revision=one.revision,
            note=one.note,
        )
    return found
