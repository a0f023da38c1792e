"""What the form of a compression check offers."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from rehang.trade.facts.items import Check
from rehang.trade.facts.limits import limit_for
from rehang.trade.job.judging import JudgedJob
from rehang.trade.verdicts import compression

__all__ = ["PressureAsked", "pressure_form"]


@dataclass(frozen=True, slots=True)
class PressureAsked:
    """What the form of a compression check offers."""

    states: tuple[str, ...]
    orifices: tuple[str, ...]
    paths: tuple[str, ...]
    wanted: str
    bore: str
    limit: str
    needs_master: bool
    masters: tuple[str, ...]


def pressure_form(judged: JudgedJob, check: Check, today: date) -> PressureAsked:
    """The choices of a compression form, the orifice that the bore asks for, the floor."""
    facts = judged.facts
    limit = limit_for(facts.limits, "cylinder", check.name, "service")
    bore = facts.bore_in
    return PressureAsked(
        states=check.asks.get("state", ()),
        orifices=check.asks.get("orifice", ()),
        paths=check.asks.get("path", ()),
        wanted=f"{compression.orifice_for_bore(bore)} in" if bore is not None else "",
        bore=f"{bore:g} in" if bore is not None else "",
        limit=limit.source_text if limit is not None else "",
        needs_master=limit is not None and limit.floor == "master",
        masters=tuple(
            f"{entry.fields.meter} read {value} psi"
            for entry, value in judged.state.masters
            if entry.at.date() == today
        ),
    )
