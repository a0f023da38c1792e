"""Groups of fasteners that are tightened together, as data: pattern, passes, what to mind."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Annotated, Any, ClassVar

from pydantic import Field

from rehang.trade.declared.taken import Where, read
from rehang.trade.declared.values import STRICT, Flag, ListOf, OneOf, Text, Whole
from rehang.trade.terms.errors import BadInput

__all__ = ["FOR_EACH", "TorqueFile", "TorqueGroup", "groups_from"]

PATTERNS = ("single", "rows", "circle")
# What a group may be there once for each of; empty for once on the engine.
FOR_EACH = ("", "hole", "cylinder", "magneto")


@dataclass(frozen=True, slots=True, kw_only=True)
class TorqueGroup:
    """Fasteners that are tightened together."""

    __pydantic_config__ = STRICT
    __thing__: ClassVar[str] = "A torque group"

    id: Annotated[str, Text("Short name of the group.", needed=True), Field(title="Short name")]
    title: Annotated[str, Text(), Field(title="Fasteners")] = ""
    limit: Annotated[
        str,
        Text('The check its value is filed under, of item "engine".'),
        Field(title="Its torque is filed as"),
    ] = ""
    task: Annotated[str, Text("Id of the task it belongs to.")] = ""
    for_each: Annotated[
        str,
        OneOf(
            FOR_EACH,
            "What it is done at one by one; empty for once on the engine.",
            wrong='"{given}" is not a for each. They are {options}.',
        ),
        Field(title="Done for each"),
    ] = ""
    part: Annotated[
        str,
        Text(
            "Kind of part that the fasteners hold, as in plug: torque is done again once such a "
            "part was fitted or worked on."
        ),
        Field(title="Kind of part they hold"),
    ] = ""
    undone_by: Annotated[
        tuple[str, ...],
        ListOf(
            Text("Kind of item."),
            "Kinds of part. One that comes out or goes in at a place undoes its torque.",
        ),
        Field(title="Undone by these coming out or going in"),
    ] = ()
    when_off: Annotated[
        bool,
        Flag("Only cylinders that came off in this job are torqued."),
        Field(title="For cylinders that came off"),
    ] = False
    leave_out: Annotated[
        bool, Flag("This engine has no such fasteners."), Field(title="This engine has none")
    ] = False
    number: Annotated[
        int, Whole(1, description="Fasteners at each place."), Field(title="How many at each place")
    ] = 1
    fastener: Annotated[
        str, Text("What one is called: screw, bolt."), Field(title="What one is called")
    ] = "fastener"
    pattern: Annotated[
        str, OneOf(PATTERNS, wrong='"{given}" is not a pattern. They are {options}.')
    ] = "single"
    passes: Annotated[int, Whole(1)] = 1
    how: Annotated[str, Text()] = ""
    cautions: Annotated[tuple[str, ...], ListOf(Text())] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class TorqueFile:
    """``torque.toml``."""

    __pydantic_config__ = STRICT
    __thing__: ClassVar[str] = "torque.toml"
    __words__: ClassVar[str] = (
        "Groups of fasteners that are tightened together. No torque stands here."
    )

    group: Annotated[tuple[TorqueGroup, ...], ListOf(TorqueGroup)] = ()


def groups_from(
    raw: Mapping[str, Any],
    where: Where = lambda *keys: "",
    shipped: Mapping[str, TorqueGroup] = MappingProxyType({}),
) -> dict[str, TorqueGroup]:
    """The groups of ``torque.toml`` laid over the shipped ones; "leave_out" takes one out."""
    found = dict(shipped)
    named: set[str] = set()
    for number, one in enumerate(read(TorqueFile, raw, where).group):
        if one.id in named:
            raise BadInput(f'There are two groups "{one.id}".', where("group", number, "id"))
        named.add(one.id)
        if not one.leave_out:
            for key, text in (("title", one.title), ("limit", one.limit)):
                if not text:
                    raise BadInput(f'A torque group needs "{key}".', where("group", number))
            found[one.id] = one
        elif found.pop(one.id, None) is None:
            raise BadInput(
                f'There is no group "{one.id}" to leave out. They are {", ".join(found)}.',
                where("group", number, "id"),
            )
    return found
