"""What a shop asks of its ground runs, as data: what each figure depends on, accuses and answers."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated, ClassVar

from pydantic import Field

from rehang.trade.declared.values import STRICT, ListOf, TableOf, Text, Whole, nothing, unfit
from rehang.trade.terms.quantities import QUANTITIES, parse_amount

__all__ = ["ACCUSES", "GRAVITY", "Asked", "Depends", "RunRules", "RunShop"]

# How fuel reaches the engine where no pump drives it: ``fuel`` of ``engine.toml``.
GRAVITY = "gravity"


def _rpm(text: str) -> int:
    return parse_amount(text, QUANTITIES["speed"])


def _accused(text: str) -> str:
    if not text.partition(":")[2]:
        raise unfit()
    return text


@dataclass(frozen=True, slots=True, kw_only=True)
class RunShop:
    """The shop's own figures; None where the shipped one holds."""

    __pydantic_config__ = STRICT
    __thing__: ClassVar[str] = "[shop]"
    __words__: ClassVar[str] = "The shop's own figures."

    plausible_drop: Annotated[
        int | None,
        Text("A magneto drop below this is suspect, as in 20 rpm.", parse=_rpm),
        Field(title="Least believable magneto drop"),
    ] = None
    hot_minutes: Annotated[
        int | None,
        Whole(1, description="So long after shut-down a compression reading is hot."),
        Field(title="Compression is hot for, minutes"),
    ] = None
    standing_minutes: Annotated[
        int | None,
        Whole(1, description="Stood longer, oil has drained down where the layout locks."),
        Field(title="Oil drains down after, minutes"),
    ] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Depends:
    """One kind of work, and the figures of a run that it ends."""

    __pydantic_config__ = STRICT
    __thing__: ClassVar[str] = "[[depends]]"

    id: Annotated[str, Text(needed=True), Field(title="Short name")]
    title: Annotated[str, Text(needed=True), Field(title="Work")]
    voids: Annotated[
        tuple[str, ...],
        ListOf(Text(), "Checks whose figures it ends.", least=1),
        Field(title="Figures it ends"),
    ]
    items: Annotated[
        tuple[str, ...],
        ListOf(Text(), "Kinds of item, or whole items."),
        Field(title="On these items"),
    ] = ()
    lines: Annotated[
        tuple[str, ...],
        ListOf(Text(), "Words of a hose's line."),
        Field(title="On hoses whose line says"),
    ] = ()
    tasks: Annotated[
        tuple[str, ...], ListOf(Text(), "Ids of tasks."), Field(title="In these tasks")
    ] = ()
    acts: Annotated[
        tuple[str, ...],
        ListOf(Text(), "Kinds of line in the book; all when left out."),
        Field(title="By these acts"),
    ] = ()
    readings: Annotated[
        tuple[str, ...],
        ListOf(Text(), "Readings that take it apart, as cylinder:compression."),
        Field(title="Readings that take it apart"),
    ] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What an annual or 100-hour inspection asks of the run, in the regulation's words.

    Fed by gravity, ``gravity_checks`` are asked instead, where ``gravity`` is set; with one magneto,
    which has no drop, ``one_magneto_checks``.
    """

    __pydantic_config__ = STRICT
    __thing__: ClassVar[str] = "[[inspection]]"
    __key__: ClassVar[tuple[str, ...]] = ("what",)

    what: Annotated[str, Text(needed=True), Field(title="What is asked")]
    checks: Annotated[tuple[str, ...], ListOf(Text(), least=1), Field(title="Answered by")]
    source: Annotated[str, Text(needed=True), Field(title="Where it is from")]
    gravity: Annotated[
        str,
        Text("What is said where fuel runs by gravity."),
        Field(title="Where fuel runs by gravity"),
    ] = ""
    gravity_checks: Annotated[tuple[str, ...], ListOf(Text()), Field(title="Then answered by")] = ()
    one_magneto_checks: Annotated[
        tuple[str, ...], ListOf(Text()), Field(title="With one magneto answered by")
    ] = ()


ACCUSES = TableOf(
    Text(
        parse=_accused,
        wrong='"{key}" points at "{given}". Write kind:name, as in engine:oil system.',
    ),
    "What each check makes suspect when it is out, as in magneto:left.",
)


@dataclass(frozen=True, slots=True)
class RunRules:
    """The rules of a run. ``plausible_drop`` is in turns per minute, the others in minutes."""

    depends: tuple[Depends, ...] = ()
    accuses: Mapping[str, str] = field(default_factory=nothing)
    inspection: tuple[Asked, ...] = ()
    plausible_drop: int = 0
    hot_minutes: int = 0
    standing_minutes: int = 0

    def ending(self, check: str) -> tuple[Depends, ...]:
        """The kinds of work that end a figure."""
        return tuple(one for one in self.depends if check in one.voids)
