"""The walk through a ground run, as data: one step, what is said, what is read at it."""

from dataclasses import dataclass
from typing import Annotated, ClassVar

from pydantic import Field

from rehang.trade.declared.values import STRICT, Flag, ListOf, Text, Whole

__all__ = ["ShutDown", "Step"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step of the walk."""

    __pydantic_config__ = STRICT
    __thing__: ClassVar[str] = "A step"

    id: Annotated[
        str, Text("Name of the step, as the book has it.", needed=True), Field(title="Short name")
    ]
    title: Annotated[str, Text("Its head on the card.", needed=True)]
    say: Annotated[
        str, Text("What is done, in a sentence or two.", needed=True), Field(title="What is done")
    ]
    hint: Annotated[
        str, Text("A general figure, shown as not approved data."), Field(title="General figure")
    ] = ""
    caution: Annotated[str, Text()] = ""
    checks: Annotated[
        tuple[str, ...],
        ListOf(Text(), "Checks of the run's sheet that are read at this step."),
        Field(title="Read at this step"),
    ] = ()
    at_rpm: Annotated[
        int | None,
        Whole(1, 10_000, "The speed its drops are taken from where their limits name none."),
        Field(title="Drops are taken from, rpm"),
    ] = None
    clock: Annotated[
        str,
        Text("The check whose limit the clock runs against."),
        Field(title="Clock runs against"),
    ] = ""
    done: Annotated[str, Text("What the button says.", needed=True), Field(title="The button says")]
    after: Annotated[
        tuple[str, ...],
        ListOf(Text(), "Tasks that may not be half done or wait for their second look."),
        Field(title="Tasks done first"),
    ] = ()
    starts: Annotated[
        bool, Flag("The engine is started at this step."), Field(title="The engine is started")
    ] = False
    power: Annotated[
        bool, Flag("The engine is at power at this step."), Field(title="The engine is at power")
    ] = False
    stops: Annotated[
        bool,
        Flag("The engine stands still once it is done."),
        Field(title="The engine stands still after it"),
    ] = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ShutDown:
    """How the engine is stopped at once."""

    __pydantic_config__ = STRICT
    __thing__: ClassVar[str] = '"shut_down"'

    order: Annotated[
        tuple[str, ...],
        ListOf(
            Text(),
            "The acts to shut the engine down, one by one.",
            least=1,
            needs='"shut_down" needs "order", the acts one by one.',
        ),
        Field(title="Acts, one by one"),
    ]
    whys: Annotated[
        tuple[str, ...],
        ListOf(Text(), "What it may have been for, to be picked from."),
        Field(title="What it may be for"),
    ] = ()
