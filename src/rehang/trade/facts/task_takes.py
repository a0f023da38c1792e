"""What a task takes: its tools, and the parts it uses up, counted by what the engine has."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Annotated, ClassVar

from pydantic import Field

from rehang.trade.declared.values import STRICT, Flag, OneOf, Text, Whole

if TYPE_CHECKING:
    from rehang.trade.facts.layout import Layout
    from rehang.trade.facts.tasks import Task

__all__ = ["PER", "Tool", "Use", "counted_for"]

# What of an engine a part may be used for one by one, whether the task is done by it or not.
PER = ("", "cylinder", "hole", "plug", "lead", "magneto")
_USES = "What {id} uses needs a part and a number of 1 or more, and may have name, each or per."
_PER = 'What {id} uses is so many per "{given}". Write one of {options}.'


@dataclass(frozen=True, slots=True, kw_only=True)
class Tool:
    """A tool with its sizes."""

    __pydantic_config__ = STRICT
    __thing__: ClassVar[str] = "A tool"
    __needs__: ClassVar[str] = "A tool of {id} needs a name and may have size, drive and meter."

    name: Annotated[str, Text(needed=True), Field(title="Tool")]
    size: Annotated[str, Text()] = ""
    drive: Annotated[str, Text()] = ""
    meter: Annotated[str, Text("A meter on file by its id, or a kind of meter in plain words.")] = (
        ""
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """So many of a part: in all, for each place of the task, or for each of a kind that the engine has."""

    __pydantic_config__ = STRICT
    __thing__: ClassVar[str] = "What a task uses"
    __needs__: ClassVar[str] = _USES

    part: Annotated[str, Text("Number of a part in stock.", needed=True)]
    name: Annotated[
        str,
        Text("What it is called where the list of parts does not have it."),
        Field(title="Called"),
    ] = ""
    number: Annotated[int, Whole(1, wrong=_USES, mistyped=_USES)] = 1
    each: Annotated[
        bool, Flag("So many for each place, not in all."), Field(title="For each place")
    ] = False
    per: Annotated[
        str,
        OneOf(PER, "What of the engine it is so many for.", wrong=_PER, mistyped=_PER),
        Field(title="So many for each"),
    ] = ""


def counted_for(tasks: Mapping[str, Task], layout: Layout) -> dict[str, Task]:
    """The tasks with what is used per cylinder, hole or magneto as a number, by the engine's layout."""
    holes = len(layout.walk)
    has = {
        "cylinder": len(layout.cylinders),
        "magneto": len(layout.ignition),
        **dict.fromkeys(("hole", "plug", "lead"), holes),
    }
    return {
        name: replace(
            task,
            uses=tuple(
                replace(use, number=use.number * has[use.per], per="") if use.per else use
                for use in task.uses
                # What the engine has none of takes nothing.
                if not use.per or has[use.per]
            ),
        )
        if any(use.per for use in task.uses)
        else task
        for name, task in tasks.items()
    }
