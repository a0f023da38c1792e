"""Why an engine comes off, and what the shop has set that each reason asks for."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Annotated, Any, ClassVar

from pydantic import Field

from rehang.trade.declared.taken import Where, by_id, read
from rehang.trade.declared.values import STRICT, Flag, ListOf, Text

__all__ = ["Reason", "ReasonsFile", "not_opened", "reasons_from"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """One reason.

    ``kinds`` and ``left_out`` are what a job that begins with it looks at and leaves out; ``tasks``
    and ``documents`` are what it opens in every job that has it, and in no other.
    """

    __pydantic_config__ = STRICT
    __thing__: ClassVar[str] = "A reason"

    id: Annotated[str, Text(needed=True, longest=200), Field(title="Why it comes off")]
    kinds: Annotated[
        tuple[str, ...],
        ListOf(Text(), "Kinds of item that the job inspects; every kind when left out."),
        Field(title="What is inspected"),
    ] = ()
    left_out: Annotated[
        tuple[str, ...],
        ListOf(Text(), "Numbers of tasks that are no part of such a job."),
        Field(title="Tasks left out"),
    ] = ()
    tasks: Annotated[
        tuple[str, ...],
        ListOf(Text(), "Numbers of tasks that are part of a job for this reason alone."),
        Field(title="Tasks it opens"),
    ] = ()
    documents: Annotated[
        tuple[str, ...],
        ListOf(Text(longest=200), "What has to be read before the engine goes back."),
        Field(title="Documents to be read"),
    ] = ()
    teardown: Annotated[
        bool,
        Flag("Somebody with papers decides whether the engine is taken apart."),
        Field(title="Asks whether it is torn down"),
    ] = False
    source: Annotated[str, Text(), Field(title="Where it is from")] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReasonsFile:
    """``reasons.toml``."""

    __pydantic_config__ = STRICT
    __thing__: ClassVar[str] = "reasons.toml"
    __words__: ClassVar[str] = "Why engines come off, laid over the shipped reasons."

    reason: Annotated[tuple[Reason, ...], ListOf(Reason)] = ()


def reasons_from(
    raw: Mapping[str, Any], where: Where, shipped: Mapping[str, Reason]
) -> dict[str, Reason]:
    """The reasons of ``reasons.toml`` by their words, laid over the shipped ones."""
    own = by_id(read(ReasonsFile, raw, where).reason, "reason", where)
    # Whatever else a shop sets: the teardown that a shipped reason asks is not taken off it.
    kept = {name for name, one in shipped.items() if one.teardown}
    return {**shipped, **own} | {
        name: replace(own[name], teardown=True) for name in kept if name in own
    }


def not_opened(
    reasons: Mapping[str, Reason], given: Iterable[str], shipped: Mapping[str, Reason]
) -> list[str]:
    """The tasks that are part of a job for some reason, here or as shipped, and for none of those given."""
    opened = {task for name in given if name in reasons for task in reasons[name].tasks}
    every = (*reasons.values(), *shipped.values())
    return [task for one in every for task in one.tasks if task not in opened]
