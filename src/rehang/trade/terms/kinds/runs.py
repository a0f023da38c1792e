"""The engine runs."""

from __future__ import annotations

from dataclasses import field

from rehang.trade.terms.kinds.fields import (
    EngineHours,
    Fields,
    ItemId,
    Names,
    Remark,
    RunName,
    TableField,
    entry_kind,
    name_of,
    noted,
    topic,
)
from rehang.trade.terms.wording import upper_first

__all__ = [
    "AboutRun",
    "PLeadFound",
    "RunBegan",
    "RunEnded",
    "RunStepDone",
]


@entry_kind("p_lead")
class PLeadFound(Fields):
    """Whether a magneto is grounded or live, and how that is known."""

    item: ItemId
    state: str
    how: str = ""
    note: Remark = ""

    def said(self, names: Names) -> str:
        how = f" ({self.how})" if self.how else ""
        magneto = upper_first(name_of(self.item))
        return f"{magneto} magneto's P-lead is {self.state}{how}.{noted(self.note)}"


@topic
class AboutRun(Fields):
    """Of one run, by its name."""

    run: RunName


@entry_kind("run_began")
class RunBegan(AboutRun):
    """A run began; ``with_`` is the weather."""

    with_: TableField = field(default_factory=dict)
    engine_hours: EngineHours | None = None
    note: Remark = ""


@entry_kind("run_step")
class RunStepDone(AboutRun):
    """A step of the run's list is done."""

    step: str
    result: str = ""
    note: Remark = ""


@entry_kind("run_ended")
class RunEnded(AboutRun):
    """It was shut down."""

    why: str = ""
    engine_hours: EngineHours | None = None
    full_temperature: bool = False
    note: Remark = ""

    def said(self, names: Names) -> str:
        ended = f"was shut down: {self.why}" if self.why else "ended"
        at = f" at {self.engine_hours:,} h" if self.engine_hours is not None else ""
        hot = ", at full temperature" if self.full_temperature else ""
        return f"Run {self.run} {ended}{at}{hot}.{noted(self.note)}"
