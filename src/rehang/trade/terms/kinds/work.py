"""Work by the task sheet, where it stopped, and what is in or on the engine meanwhile."""

from __future__ import annotations

from dataclasses import field
from typing import ClassVar

from rehang.trade.terms.days import last_day
from rehang.trade.terms.kinds.fields import (
    CheckName,
    DatedText,
    Fields,
    HowMany,
    ListField,
    Names,
    PlaceName,
    Reasoned,
    Remark,
    TableField,
    TaskName,
    What,
    entry_kind,
    noted,
    topic,
)
from rehang.trade.terms.wording import listed, on_day, upper_first

__all__ = [
    "AboutTask",
    "CarriedOn",
    "ClosedShort",
    "CountedIn",
    "CountedOut",
    "Done",
    "FinishWanted",
    "FlagOff",
    "Flagged",
    "PlanPromised",
    "SecondLookTaken",
    "Started",
    "Stopped",
    "Tallied",
]


@topic
class AboutTask(Fields):
    """Work on a task, at a hole, a cylinder or whatever else the task is done for one by one."""

    task: TaskName
    place: PlaceName = ""


@entry_kind("started")
class Started(AboutTask):
    """The work began."""

    note: Remark = ""

    def said(self, names: Names) -> str:
        return f"{names.task(self.task, self.place)}: begun.{noted(self.note)}"


@entry_kind("done")
class Done(AboutTask):
    """The work is done; ``with_`` are the keys of those who did it too."""

    note: Remark = ""
    with_: ListField = field(default_factory=list)

    def said(self, names: Names) -> str:
        helped = (
            f", with {listed([names.person(str(one)) for one in self.with_])}" if self.with_ else ""
        )
        return f"{names.task(self.task, self.place)}: done{helped}.{noted(self.note)}"


@entry_kind("closed_short")
class ClosedShort(Reasoned):
    """The work is left as it is, for a reason."""

    settles: ClassVar[bool] = True

    task: TaskName
    reason: str
    place: PlaceName = ""

    def said(self, names: Names) -> str:
        reason = self.reason.strip()
        if not reason.endswith("."):
            reason += "."
        return f"{names.task(self.task, self.place)}: closed short. Reason: {reason}"


@entry_kind("second_look")
class SecondLookTaken(AboutTask):
    """Another person looked at the work."""

    settles: ClassVar[bool] = True

    note: Remark = ""

    def said(self, names: Names) -> str:
        return f"{names.task(self.task, self.place)}: second look given.{noted(self.note)}"


@entry_kind("flagged")
class Flagged(Fields):
    """Something hangs on a place to say that it is not to be used."""

    what: What
    place: PlaceName
    task: TaskName = ""
    note: Remark = ""

    def said(self, names: Names) -> str:
        return f"{upper_first(self.what)} put on {self.place}.{noted(self.note)}"


@entry_kind("flag_off")
class FlagOff(Fields):
    """It was taken off."""

    what: What
    place: PlaceName
    note: Remark = ""

    def said(self, names: Names) -> str:
        return f"{upper_first(self.what)} taken off {self.place}.{noted(self.note)}"


@entry_kind("stopped")
class Stopped(Fields):
    """Where reading or a task stopped."""

    is_quiet: ClassVar[bool] = True

    where: str
    place: PlaceName = ""
    check: CheckName = ""
    why: str = ""
    half_keyed: str = ""
    task: TaskName = ""


@entry_kind("carried_on")
class CarriedOn(Fields):
    """It went on there."""

    is_quiet: ClassVar[bool] = True

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

    def said(self, names: Names) -> str:
        return f"{self.number} {self.what} counted out.{noted(self.note)}"


@entry_kind("counted_in")
class CountedIn(Tallied):
    """Back in the box."""

    def said(self, names: Names) -> str:
        return f"{self.number} {self.what} counted in.{noted(self.note)}"


@entry_kind("planned")
class PlanPromised(Fields):
    """When each piece of work is to start, and when all is over."""

    is_quiet: ClassVar[bool] = True

    starts: TableField
    finish: str = ""
    note: Remark = ""

    def said(self, names: Names) -> str:
        return f"A plan was promised, {len(self.starts)} pieces of work.{noted(self.note)}"


@entry_kind("wanted")
class FinishWanted(Fields):
    """The day the engine is wanted by."""

    is_quiet: ClassVar[bool] = True

    on: DatedText
    what: What = ""
    note: Remark = ""

    def said(self, names: Names) -> str:
        day = last_day(self.on)
        return f"Wanted ready by {day:%a} {on_day(day)}.{noted(self.note)}"
