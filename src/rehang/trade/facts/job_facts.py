"""All that a job is judged by besides its book: the parsed files of one job."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date

from rehang.trade.facts.accessories import Accessory
from rehang.trade.facts.ages import Dated
from rehang.trade.facts.engine import Thresholds
from rehang.trade.facts.fuel_systems import suits
from rehang.trade.facts.items import Check, CheckSheet
from rehang.trade.facts.layout import Layout
from rehang.trade.facts.limits import Limit
from rehang.trade.facts.meters import Meter
from rehang.trade.facts.parts import Part
from rehang.trade.facts.people import Certificate, Person
from rehang.trade.facts.reasons import Reason
from rehang.trade.facts.recurring import Recurring
from rehang.trade.facts.run_rules import RunRules
from rehang.trade.facts.runsteps import ShutDown, Step
from rehang.trade.facts.shop import Shop
from rehang.trade.facts.tasks import Task
from rehang.trade.facts.torquegroups import TorqueGroup
from rehang.trade.terms.wording import upper_first

__all__ = ["Certificate", "JobFacts", "Person", "Thresholds"]


_NO_ORDER = ShutDown(order=())


@dataclass(frozen=True, slots=True)
class JobFacts:
    """All that a verdict needs besides the book: parsed files of one job.

    ``engine`` is the plain table of ``engine.toml``; ``timezone_name`` an IANA name.
    """

    job: str
    title: str
    engine: Mapping[str, object]
    layout: Layout
    sheets: Mapping[str, CheckSheet]
    limits: tuple[Limit, ...]
    meters: Mapping[str, Meter]
    people: Mapping[str, Person]
    thresholds: Thresholds
    timezone_name: str
    inspect: tuple[str, ...] = ("plug",)
    hoses: Mapping[str, Dated] = field(default_factory=dict)
    # With those of kinds that the job does not look at, which limits may be on file for.
    other_sheets: Mapping[str, CheckSheet] = field(default_factory=dict)
    # What the engine carries besides, by item.
    accessories: Mapping[str, Accessory] = field(default_factory=dict)
    tasks: Mapping[str, Task] = field(default_factory=dict)
    # Tasks of the sheet that are no part of this job.
    left_out: Mapping[str, Task] = field(default_factory=dict)
    parts: Mapping[str, Part] = field(default_factory=dict)
    recurring: Mapping[str, Recurring] = field(default_factory=dict)
    # Every reason to come off that the shop knows, and the words of those that the engine did for.
    reasons: Mapping[str, Reason] = field(default_factory=dict)
    came_off_for: tuple[str, ...] = ()
    shop: Shop = field(default_factory=Shop)
    run_steps: tuple[Step, ...] = ()
    shut_down: ShutDown = _NO_ORDER
    torque_groups: Mapping[str, TorqueGroup] = field(default_factory=dict)
    run_rules: RunRules = field(default_factory=RunRules)
    powers: Mapping[str, frozenset[str]] = field(default_factory=dict)
    # What a file says against a rule, by the file; a door refuses it, a book that has it says so.
    faults: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    # Whether these are what the book itself filed: what cannot be read by them then is the line's
    # fault, and is set aside; of files that were changed since, the files may be at fault.
    as_filed: bool = False
    # The shop's own book: it has no engine, and ``engine`` is the plain table of ``shop.toml``.
    is_shop: bool = False
    # The cylinders that came off in this job, by its book (:mod:`rehang.trade.known.cylinders_off`).
    off: tuple[str, ...] = ()
    # Which rule each sealed entry of a book was found to break, by what was struck from that book.
    faults_found: dict[Hashable, dict[str, str]] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )

    def as_of(self, on: date | None) -> JobFacts:
        """The facts with no limit and no calibration put in after that day (DESIGN 4b, 15)."""
        if on is None:
            return self
        meters = {name: one.as_of(on) for name, one in self.meters.items()}
        if meters == self.meters and all(one.counts_on(on) for one in self.limits):
            return self
        # Each keeps its place in the list, which is how pages name it.
        return replace(
            self,
            meters=meters,
            limits=tuple(replace(one, is_to_come=not one.counts_on(on)) for one in self.limits),
        )

    @property
    def bore_in(self) -> float | None:
        bore = self.engine.get("bore_in")
        return float(bore) if isinstance(bore, (int, float)) else None

    def has_for(self, one: Check | CheckSheet) -> bool:
        """Whether the engine has what a check, or a sheet, is of: the drop on one magneto takes two,
        carburettor heat a carburettor."""
        # The shop's own book has no engine, and so any.
        return self.is_shop or (
            one.magnetos <= len(self.layout.ignition) and suits(one, self.fuel_system)
        )

    @property
    def every_sheet(self) -> Mapping[str, CheckSheet]:
        """The sheet of each kind, whether the job looks at it or not."""
        return {**self.sheets, **self.other_sheets}

    @property
    def fuel_system(self) -> str:
        """What meters the engine's fuel; empty where that is not on file."""
        return str(self.engine.get("fuel_system", ""))

    def part_name(self, part: str) -> str:
        """What a part is called: by the list of parts, or by a task that uses it."""
        if part in self.parts:
            return self.parts[part].name
        for task in (*self.tasks.values(), *self.left_out.values()):
            for use in task.uses:
                if use.part == part and use.name:
                    return use.name
        return upper_first(part.replace("-", " "))

    def person(self, key: str) -> str:
        return self.people[key].name if key in self.people else key
