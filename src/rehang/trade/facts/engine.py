"""``engine.toml``: the engine, the job, and the shop's rule for calls."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Annotated, Any, ClassVar

from pydantic import Field

from rehang.trade.declared.taken import Where, faults_in, inside, read
from rehang.trade.declared.values import (
    LENIENT,
    STRICT,
    Day,
    Flag,
    Given,
    ListOf,
    Number,
    OneOf,
    TableOf,
    Text,
    nothing,
    unfit,
)
from rehang.trade.facts.accessories import Accessory, accessory_faults
from rehang.trade.facts.ages import Dated, with_days
from rehang.trade.facts.fuel_systems import FUEL_SYSTEMS
from rehang.trade.facts.run_rules import GRAVITY
from rehang.trade.facts.shop import Shop
from rehang.trade.terms.bounds import name_fault
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.wording import listed, on_day

__all__ = [
    "ACCESSORIES",
    "FORMAT",
    "Engine",
    "Thresholds",
    "check_thresholds",
    "engine_from",
    "hoses_from",
]

FORMAT = 1
# How fuel may reach an engine; by a pump where the file does not say.
FED = ("pump", GRAVITY)
PLATINGS = ("none", "chromium", "nickel")
# What an engine may carry besides, by its key, with a serial.
ACCESSORIES = ("carburettor", "propeller")
_NAME = "^[a-z0-9][a-z0-9-]{0,59}$"


def _job_name(text: str) -> str:
    if not re.fullmatch(_NAME, text):
        raise unfit()
    return text


@dataclass(frozen=True, slots=True)
class Thresholds:
    """The shop's rule for calls: WITHIN at ``within`` or more, OUT at ``out`` or less."""

    __pydantic_config__ = STRICT
    __thing__: ClassVar[str] = "[thresholds]"
    __words__: ClassVar[str] = "WITHIN at this probability or more, OUT at this or less."

    # Below even odds nothing would be within what is more likely outside.
    within: Annotated[float, Number(0.5, 1), Field(title="In from this chance up")] = 0.95
    out: Annotated[float, Number(0, 0.5), Field(title="Out from this chance down")] = 0.05

    def call(self, p: float) -> str:
        """The call on a probability of being within the limit. Both ends count as written."""
        if p >= self.within:
            return "WITHIN"
        return "OUT" if p <= self.out else "CLOSE CALL"

    @property
    def words(self) -> str:
        return f"WITHIN at {self.within * 100:g} in 100 or more, OUT at {self.out * 100:g} or less"


@dataclass(frozen=True, slots=True, kw_only=True)
class Hours:
    """``[hours]``: what the engine has run."""

    __pydantic_config__ = LENIENT

    since_new: Annotated[float | None, Number(0, 200_000), Field(title="Since new, hours")] = None
    since_overhaul: Annotated[
        float | None, Number(0, 200_000), Field(title="Since overhaul, hours")
    ] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Engine:
    """The engine and the job. ``JobFacts.engine`` is the plain table of it."""

    __pydantic_config__ = STRICT
    __thing__: ClassVar[str] = "engine.toml"
    __words__: ClassVar[str] = "The engine and the job."

    format: Annotated[int, Given({"const": FORMAT, "description": "Version of the folder."})]
    job: Annotated[
        str,
        Text(
            "Short name: small letters, digits, dashes.",
            needed=True,
            pattern=_NAME,
            parse=_job_name,
            wrong='The job\'s name "{given}" may have small letters, digits and dashes only.',
        ),
        Field(title="Short name of the job"),
    ]
    title: Annotated[str, Text(longest=300), Field(title="Name of the job")] = ""
    layout: Annotated[
        str, Text("Name of a layout that Rehang brings, or of the job's own.", needed=True)
    ]
    engine: Annotated[str, Text(), Field(title="Engine model")] = ""
    serial: Annotated[str, Text(), Field(title="Engine serial")] = ""
    airframe: Annotated[str, Text(), Field(title="Airframe model")] = ""
    airframe_serial: Annotated[str, Text()] = ""
    registration: Annotated[str, Text()] = ""
    shop: Annotated[str, Text()] = ""
    place: Annotated[str, Text()] = ""
    owner: Annotated[str, Text()] = ""
    timezone: Annotated[str, Text("As in America/Chicago.", needed=True), Field(title="Time zone")]
    hours: Annotated[Hours, Field(title="Engine hours")] = Hours()
    airframe_hours: Annotated[float | None, Number(0, 200_000)] = None
    purpose: Annotated[
        str, Text("What the engine came in for.", longest=200), Field(title="What it came in for")
    ] = ""
    also_for: Annotated[
        tuple[str, ...],
        ListOf(Text(), "What else it came off for: reasons by their words."),
        Field(title="It also came off for"),
    ] = ()
    removed_on: Annotated[date | None, Day(), Field(title="Taken off on")] = None
    last_run_on: Annotated[date | None, Day(), Field(title="Last run on")] = None
    fuel: Annotated[
        str,
        OneOf(
            (GRAVITY, "pump"),
            "How fuel reaches the engine; by a pump when left out.",
            wrong=f'"fuel" is "{{given}}". Write {" or ".join(FED)}: how it reaches the engine.',
        ),
        Field(title="Fuel comes by"),
    ] = FED[0]
    fuel_system: Annotated[
        str,
        OneOf(
            FUEL_SYSTEMS,
            "What meters the fuel; what is of one of them is asked of it alone. Not known when left out.",
            blank=True,
            wrong='"fuel_system" is "{given}". Write {options}, or leave it out.',
        ),
        Field(title="Fuel is metered by"),
    ] = ""
    bore_plating: Annotated[
        str,
        OneOf(
            PLATINGS,
            "What the bores are plated with: a source of that metal in the oil.",
            wrong=f'"{{given}}" is no plating of bores. Write {listed(PLATINGS, "or")}.',
        ),
        Field(title="Bores are plated with"),
    ] = PLATINGS[0]
    sump_qt: Annotated[float | None, Number(0, 200), Field(title="Sump holds, quarts")] = None
    # The lowest shore and the highest field there are.
    elevation_ft: Annotated[
        float,
        Number(-1_500, 18_000, "Of the place above sea level, in feet."),
        Field(title="Height of the place, feet"),
    ] = 0.0
    bore_in: Annotated[
        float | None,
        Number(1, 12, "Bore of a cylinder, in inches.", why="It is in inches."),
        Field(title="Bore of a cylinder, inches"),
    ] = None
    flying_hours_per_year: Annotated[
        float | None,
        Number(0, 8_784, "Hours flown in a year."),
        Field(title="Hours flown in a year"),
    ] = None
    compression_ratio: Annotated[float | None, Number(2, 25, "As in 8.5, without the to 1.")] = None
    spark_advance_deg: Annotated[
        float | None,
        Number(0, 60, "Degrees before top centre."),
        Field(title="Spark advance, degrees"),
    ] = None
    magnetos: Annotated[Mapping[str, str], TableOf(Text())] = field(default_factory=nothing)
    carburettor: Annotated[
        str,
        Text("Serial of the carburettor, where the job answers for it."),
        Field(title="Carburettor serial"),
    ] = ""
    propeller: Annotated[
        str,
        Text("Serial of the propeller, where the job answers for it."),
        Field(title="Propeller serial"),
    ] = ""
    accessory: Annotated[
        tuple[Accessory, ...], ListOf(Accessory, "What it carries, each with its serial and hours.")
    ] = ()
    thresholds: Annotated[Thresholds, Field(title="When a reading is in or out")] = Thresholds()
    shop_hours: Shop = field(default_factory=Shop)
    invented: Annotated[bool, Flag(), Field(title="Made up, for show")] = False
    note: Annotated[str, Text()] = ""
    inspect: Annotated[
        tuple[str, ...],
        ListOf(Text(), "Kinds of item this job inspects; plug alone when left out."),
        Field(title="What is inspected"),
    ] = ("plug",)
    left_out: Annotated[
        tuple[str, ...],
        ListOf(Text(), "Numbers of the tasks that are no part of this job."),
        Field(title="Tasks left out"),
    ] = ()
    hose: Annotated[tuple[Dated, ...], ListOf(Dated)] = ()


def engine_from(raw: dict[str, Any], where: Where) -> tuple[Engine, list[str]]:
    """The engine, and what its file says that cannot be.

    A number out of its bounds is taken out of ``raw``, as good as none: the job stays readable.

    Raises
    ------
    BadInput
        With the place, for the first other thing that cannot be.
    """
    faults = faults_in(Engine, raw)
    if not (faults and faults[0].is_type) and raw.get("format") != FORMAT:
        raise BadInput(
            f"The folder is of format {raw.get('format', 'unknown')}; this Rehang reads format "
            f"{FORMAT}. Open it with the Rehang that wrote it, or a newer one.",
            where("format"),
        )
    said = []
    for fault in faults:
        if fault.is_bound and not faults[0].is_type:
            said.append(f"{where(*fault.path)}: {fault.sentence}")
            table: Any = raw
            for key in fault.path[:-1]:
                table = table[key]
            del table[fault.path[-1]]
    engine = read(Engine, raw, where)
    check_thresholds(engine.thresholds, where)
    if engine.removed_on and engine.last_run_on and engine.last_run_on > engine.removed_on:
        said.append(
            f"{where('last_run_on')}: The engine is said to have run on "
            f"{on_day(engine.last_run_on)}, after it came off on {on_day(engine.removed_on)}. "
            "Look at both days."
        )
    return engine, said + _name_faults(engine, where)


def check_thresholds(rule: Thresholds, where: Where) -> None:
    """Refuse a rule for calls by which a reading could be both within and out."""
    if not 0 <= rule.out < rule.within <= 1:
        raise BadInput(
            "The thresholds must be 0 <= out < within <= 1: "
            f"got out {rule.out:g}, within {rule.within:g}.",
            where("thresholds"),
        )


def _name_faults(engine: Engine, where: Where) -> list[str]:
    """Serials and ids with a character in them that cannot be seen, or of another width."""
    found = [(key, getattr(engine, key)) for key in ("serial", *ACCESSORIES)]
    found += [("magnetos", text) for text in engine.magnetos.values()]
    found += [(f"hose {one.id}", one.id) for one in engine.hose]
    said = [f"{where(key)}: {name_fault(text)}" for key, text in found if name_fault(text)]
    return said + accessory_faults(engine.accessory, where)


def hoses_from(engine: Engine, where: Where) -> dict[str, Dated]:
    """The hoses by their ids, with the days that their tags mean."""
    found: dict[str, Dated] = {}
    for number, one in enumerate(engine.hose):
        place = inside(where, "hose", number)
        if one.id in found:
            raise BadInput(f'There are two hoses "{one.id}". Give each its own id.', place("id"))
        found[one.id] = with_days(one, place)
    return found
