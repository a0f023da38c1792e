"""Work by the task sheet, where it stopped, and what is in or on the engine meanwhile."""

from __future__ import annotations

from dataclasses import field
from typing import ClassVar

from rehang.trade.terms.kinds.fields import (
    CheckName,
    DatedText,
    Fields,
    HowMany,
    ListField,
    PlaceName,
    Remark,
    TableField,
    TaskName,
    What,
    entry_kind,
    topic,
)

__all__ = [
    "CarriedOn",
    "ClosedShort",
    "CountedIn",
    "CountedOut",
    "Done",
    "FinishWanted",
    "FlagOff",
    "Flagged",
    "OfTask",
    "PlanPromised",
    "SecondLookTaken",
    "Started",
    "Stopped",
    "Tallied",
]


@topic
class OfTask(Fields):
    """Work on a task, at a hole, a cylinder or whatever else the task is done for one by one."""

    task: TaskName
    place: PlaceName = ""


@entry_kind("started")
class Started(OfTask):
    """The work began."""

    note: Remark = ""


@entry_kind("done")
class Done(OfTask):
    """The work is done; ``with_`` are the keys of those who did it too."""

    note: Remark = ""
    with_: ListField = field(default_factory=list)


@entry_kind("closed_short")
class ClosedShort(Fields):
    """The work is left as it is, for a reason."""

    settles: ClassVar[bool] = True
    by_reason: ClassVar[bool] = True

    task: TaskName
    reason: str
    place: PlaceName = ""


@entry_kind("second_look")
class SecondLookTaken(OfTask):
    """Another person looked at the work."""

    settles: ClassVar[bool] = True

    note: Remark = ""


@entry_kind("flagged")
class Flagged(Fields):
    """Something hangs on a place to say that it is not to be used."""

    what: What
    place: PlaceName
    task: TaskName = ""
    note: Remark = ""


@entry_kind("flag_off")
class FlagOff(Fields):
    """It was taken off."""

    what: What
    place: PlaceName
    note: Remark = ""


@entry_kind("stopped")
class Stopped(Fields):
    """Where reading or a task stopped."""

    where: str
    place: PlaceName = ""
    check: CheckName = ""
    why: str = ""
    half_keyed: str = ""
    task: TaskName = ""


@entry_kind("carried_on")
class CarriedOn(Fields):
    """It went on there."""

    where: str
    place: PlaceName = ""
    check: CheckName = ""
    task: TaskName = ""


@topic
class Tallied(Fields):
    """Blanks, rags, covers, loose tools; where they are named holes, as many as are named."""

    what: What
    number: HowMany
    place: PlaceName = ""
    note: Remark = ""


@entry_kind("counted_out")
class CountedOut(Tallied):
    """Out of the box, and in or on the engine."""


@entry_kind("counted_in")
class CountedIn(Tallied):
    """Back in the box."""


@entry_kind("planned")
class PlanPromised(Fields):
    """When each piece of work is to start, and when all is over."""

    starts: TableField
    finish: str = ""
    note: Remark = ""


@entry_kind("wanted")
class FinishWanted(Fields):
    """The day the engine is wanted by."""

    on: DatedText
    what: What = ""
    note: Remark = ""
