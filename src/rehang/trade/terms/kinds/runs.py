"""The engine runs."""

from __future__ import annotations

from dataclasses import field

from rehang.trade.terms.kinds.fields import (
    EngineHours,
    Fields,
    ItemId,
    Remark,
    RunName,
    TableField,
    entry_kind,
    topic,
)

__all__ = [
    "OfRun",
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


@topic
class OfRun(Fields):
    """Of one run, by its name."""

    run: RunName


@entry_kind("run_began")
class RunBegan(OfRun):
    """A run began; ``with_`` is the weather."""

    with_: TableField = field(default_factory=dict)
    engine_hours: EngineHours | None = None
    note: Remark = ""


@entry_kind("run_step")
class RunStepDone(OfRun):
    """A step of the run's list is done."""

    step: str
    result: str = ""
    note: Remark = ""


@entry_kind("run_ended")
class RunEnded(OfRun):
    """It was shut down."""

    why: str = ""
    engine_hours: EngineHours | None = None
    full_temperature: bool = False
    note: Remark = ""
