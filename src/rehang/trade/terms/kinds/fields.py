"""How a kind of entry is declared: one class, and each field once, with its type and its bounds.

The annotation of a field is the JSON type that a line may have there, :class:`Holds` beside it what
the text or the number may be. A field without a default is one that every entry of the kind has.
A name that Python keeps for itself ends in an underscore here, and not on a line: ``with_``.

The bounds keep slips and nonsense out; they are no limits of the trade (common practice, no source).
"""

from __future__ import annotations

import dataclasses
import types
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import (
    Annotated,
    Any,
    ClassVar,
    Protocol,
    TypeVar,
    Union,
    dataclass_transform,
    get_args,
    get_origin,
    get_type_hints,
)

from rehang.trade.terms.wording import with_stop

__all__ = [
    "COMMON",
    "FLAG",
    "LIST",
    "LONGEST_FILE",
    "LONGEST_TEXT",
    "MOST",
    "NUMBER",
    "TABLE",
    "TEXT",
    "WHOLE",
    "CheckName",
    "DatedText",
    "EngineHours",
    "EntryField",
    "Fields",
    "Fluid",
    "Holds",
    "HowMany",
    "ItemId",
    "ListField",
    "MeterId",
    "Names",
    "Papered",
    "PartName",
    "Pieces",
    "PlaceName",
    "Price",
    "RangeName",
    "Reasoned",
    "Remark",
    "RunName",
    "Serial",
    "SheetWord",
    "TableField",
    "TaskName",
    "What",
    "Written",
    "because",
    "entry_kind",
    "fields_of",
    "name_of",
    "noted",
    "ppm_words",
    "topic",
    "who",
]

# What every entry has besides the fields of its kind.
COMMON = ("id", "kind", "at", "by")

# The JSON type that a field takes, as the sentence of a refusal names it.
TEXT, FLAG, WHOLE, NUMBER, TABLE, LIST = (
    "text",
    "yes or no",
    "whole",
    "number",
    "table",
    "list",
)
_JSON: Mapping[object, str] = {
    str: TEXT, bool: FLAG, int: WHOLE, float: NUMBER, Mapping: TABLE, list: LIST,
}  # fmt: skip

LONGEST_TEXT = 4_000
# Characters that a filed sheet may have: it carries a whole file.
LONGEST_FILE = 500_000
# Any number that has no bounds of its own.
MOST = 1_000_000_000


@dataclass(frozen=True, slots=True)
class Holds:
    """What may stand in a field: how long a text, how large a number, which characters.

    ``names`` are told apart by their characters, so that none may be one that cannot be seen;
    ``digits`` may have no digit that only looks like 0 to 9. ``empty`` is said of a text that is
    needed and blank, with the other fields in its braces.
    """

    longest: int = 0
    least: float = -MOST
    most: float = MOST
    names: bool = False
    digits: bool = False
    may_be_blank: bool = False
    empty: str = ""


ItemId = Annotated[str, Holds(longest=120, names=True, digits=True)]
Serial = Annotated[str, Holds(longest=120, names=True, digits=True)]
PartName = Annotated[str, Holds(longest=120, names=True, digits=True)]
PlaceName = Annotated[str, Holds(longest=200, names=True, digits=True)]
CheckName = Annotated[str, Holds(longest=60, names=True, digits=True)]
MeterId = Annotated[str, Holds(longest=60, names=True, digits=True)]
RunName = Annotated[str, Holds(longest=60, names=True, digits=True)]
TaskName = Annotated[str, Holds(longest=60, names=True, digits=True)]
# A value as it was read off, with its unit.
Written = Annotated[str, Holds(longest=200, digits=True)]
# A day, or a value without bounds of length.
DatedText = Annotated[str, Holds(digits=True)]
RangeName = Annotated[str, Holds(longest=60, digits=True)]
SheetWord = Annotated[str, Holds(longest=60)]
What = Annotated[str, Holds(longest=200)]
# A remark, and the mark that looks of one time share: nothing rests on what they say.
Remark = Annotated[str, Holds(may_be_blank=True)]
EngineHours = Annotated[float, Holds(least=0, most=200_000)]
Fluid = Annotated[float, Holds(least=0, most=1_000)]
Price = Annotated[float, Holds(least=-10_000_000, most=10_000_000)]
HowMany = Annotated[int, Holds(least=-100_000, most=100_000)]
Pieces = Annotated[int, Holds(least=-1_000_000, most=1_000_000)]
TableField = Mapping[str, Any]
ListField = list[Any]


class Names(Protocol):
    """What a job calls the things that an entry names by their keys."""

    def person(self, key: str) -> str: ...

    def part(self, name: str) -> str: ...

    def task(self, name: str, place: str) -> str: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Fields:
    """What every kind of entry may hold, and what is true of a whole kind.

    One that ``settles`` something which the book leaves open settles nothing when it breaks a rule
    (DESIGN 4b).
    """

    kind: ClassVar[str] = ""
    settles: ClassVar[bool] = False
    # It says nothing new of the engine, so that a signed record stands after it.
    is_quiet: ClassVar[bool] = False
    # Characters that a text of the kind holds; a bound of its own comes first in the plain case.
    longest_text: ClassVar[int] = LONGEST_TEXT

    # The key of the person under whose supervision it was done (DESIGN 4b, 1).
    under: str = ""
    # What a phone's clock said as it was written, where that clock was wrong and ``at`` is put right.
    clock: str = ""

    def said(self, names: Names) -> str:
        """What it says, as one sentence with its note.

        A kind that takes the facts or the book to be said is said above
        (:mod:`rehang.trade.telling.sentences`).
        """
        raise NotImplementedError(f"An entry of kind {self.kind} is said where the job is known.")


class Reasoned(Fields):
    """What settles something by a person's reason, which has a rule of its own (powers.check_reason).

    No dataclass itself: each kind has its reason where it stands among its fields.
    """

    __slots__ = ()

    reason: str


class Papered(Fields):
    """What may come with a release document, by its form and number; no dataclass itself, as above."""

    __slots__ = ()

    form: str
    reference: str

    @property
    def papers(self) -> str:
        """What there is of papers, in words; empty where nothing is."""
        return self.document()

    def document(self) -> str:
        """The document by form and number; empty where one of them is missing."""
        form, number = self.form.strip(), self.reference.strip()
        return f"{form} no. {number}" if form and number else ""


@dataclass(frozen=True, slots=True)
class EntryField:
    """One field of a kind as a line has it."""

    json_type: str
    needed: bool
    holds: Holds


F = TypeVar("F", bound=Fields)


@dataclass_transform(kw_only_default=True, frozen_default=True)
def entry_kind(name: str) -> Callable[[type[F]], type[F]]:
    """Make of a class the kind of entry that lines call by that name."""

    def make(declared: type[F]) -> type[F]:
        declared.kind = name
        return dataclass(frozen=True, slots=True, kw_only=True)(declared)

    return make


@dataclass_transform(kw_only_default=True, frozen_default=True)
def topic(declared: type[F]) -> type[F]:
    """Make of a class what several kinds have in common."""
    return dataclass(frozen=True, slots=True, kw_only=True)(declared)


def fields_of(kind: type[Fields]) -> Mapping[str, EntryField]:
    """The fields of a kind by their names on a line, in the order in which they are declared."""
    hints = get_type_hints(kind, include_extras=True)
    found = {}
    for one in dataclasses.fields(kind):
        type_, holds = _told(hints[one.name])
        needed = one.default is dataclasses.MISSING and one.default_factory is dataclasses.MISSING
        found[one.name.removesuffix("_")] = EntryField(_JSON[type_], needed, holds)
    return MappingProxyType(found)


def name_of(item: str) -> str:
    """The name of an item: ``K0411`` of ``plug:K0411``."""
    return item.partition(":")[2]


def who(item: str, place: str) -> str:
    """An item as a sentence begins with it: a plug by its serial and hole, another by its kind."""
    kind, _, name = item.partition(":")
    if kind and name == kind:
        return kind.replace("-", " ").capitalize()
    if kind not in ("", "plug"):
        return f"{kind.capitalize()} {name}"
    return f"{name} ({place})" if place else name


def noted(note: str) -> str:
    """A note as it goes on behind a sentence."""
    return f" {with_stop(note)}" if note else ""


def because(reason: str) -> str:
    """A reason as it goes on in a sentence."""
    return f": {reason.strip()}" if reason else ""


def ppm_words(ppm: TableField) -> str:
    """Parts per million, element by element."""
    return ", ".join(f"{element} {figure}" for element, figure in ppm.items())


def _told(hint: Any) -> tuple[object, Holds]:
    """The bare type of an annotation, and the bounds that stand in it."""
    if get_origin(hint) in (Union, types.UnionType):
        hint = next(one for one in get_args(hint) if one is not types.NoneType)
    if get_origin(hint) is Annotated:
        holds = next(one for one in reversed(hint.__metadata__) if isinstance(one, Holds))
        return get_origin(hint.__origin__) or hint.__origin__, holds
    return get_origin(hint) or hint, Holds()
