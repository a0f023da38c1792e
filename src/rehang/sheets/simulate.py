"""Simulated shops: job folders like those of a real one, with wear, faults and slips, from a seed.

Parts wear by stated laws with chance about them; meters have a bias of their own and read in their
own steps; plugs rotate, fail, are dropped and replaced; some readings are missing and some are
struck. All names are invented. The same seed writes the same bytes.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from math import exp, floor
from pathlib import Path
from typing import Any

import numpy as np

from rehang.calc import leakage, oil
from rehang.sheets import layout
from rehang.sheets.folder import seal_all, write_folder
from rehang.trade.facts.layout import Layout
from rehang.trade.terms.conversions import PSI, STANDARD_AIR
from rehang.trade.terms.entries import Entry, new_entry
from rehang.trade.terms.errors import BadInput

__all__ = ["Plan", "SimulatedJob", "simulate", "write_shops"]

# All invented, and none of them a maker.
_ENGINES = ("Aldvane", "Brimmock", "Corvell", "Dunmire", "Estrel", "Fenlow", "Hallorn", "Istren")
_PLUGS = ("Quillon", "Ravelin", "Sarn", "Tessel")
_PEOPLE = ("Ada Merrow", "Ben Tolland", "Cass Imrie", "Dov Ansel", "Edda Prior", "Finn Okell")
_LAYOUTS = ("opposed-4", "opposed-4", "opposed-6")
_FILL_QT = 8.0
_ELEMENTS = {"Fe": 0.9, "Cu": 0.16, "Cr": 0.11, "Al": 0.25, "Ni": 0.08, "Si": 0.16, "Sn": 0.05}


@dataclass(frozen=True, slots=True)
class Plan:
    """What to simulate.

    ``faults`` is the share of parts that go wrong, ``slips`` the share of readings that are
    missing or written wrong and struck. ``biased`` meters are anywhere within what they are good to,
    ``uneven`` services 20 to 250 h apart, ``skewed`` rates of wear lognormal.
    """

    seed: int = 1
    shops: int = 1
    engines: int = 3
    services: int = 4
    faults: float = 0.1
    slips: float = 0.03
    biased: bool = False
    uneven: bool = False
    skewed: bool = False


@dataclass(frozen=True, slots=True)
class SimulatedJob:
    """One job: the folder's name under its shop's, the texts of its files and its sealed book."""

    name: str
    files: Mapping[str, str]
    entries: tuple[Entry, ...]


def write_shops(out: Path, plan: Plan) -> list[Path]:
    """Write the job folders of all shops, one for each service of each engine.

    Raises
    ------
    BadInput
        The plan asks for nothing or for too much; the folder has something in it.
    """
    if out.exists() and (not out.is_dir() or any(out.iterdir())):
        raise BadInput(f"{out} is not an empty folder. Give the name of a new one.")
    written = []
    for job in simulate(plan):
        write_folder(out / job.name, job.files, job.entries)
        written.append(out / job.name)
    return written


def simulate(plan: Plan) -> Iterator[SimulatedJob]:
    """The jobs of all shops, shop by shop, engine by engine, the oldest service first."""
    for number, least, most, what in (
        (plan.shops, 1, 1000, "shops"),
        (plan.engines, 1, 1000, "engines"),
        (plan.services, 1, 40, "services"),
    ):
        if not least <= number <= most:
            raise BadInput(f"{number} {what} cannot be simulated. Give {least} to {most}.")
    for share, what in ((plan.faults, "faults"), (plan.slips, "slips")):
        if not 0 <= share <= 1:
            raise BadInput(f"A share of {share:g} for {what} cannot be. Give 0 to 1.")
    if plan.seed < 0:
        raise BadInput(f"The seed is {plan.seed}. Give a whole number of 0 or more.")
    return (
        job
        for shop in range(plan.shops)
        for engine in range(plan.engines)
        for job in _Engine(plan, shop, engine).jobs()
    )


# The truth: how parts wear


@dataclass(slots=True)
class _Plug:
    serial: str
    hours: float
    ohms: float
    drift: float  # of the logarithm, an hour
    quickens: float  # of that, an hour
    gap: float  # thou
    opens: float  # thou an hour
    left: float  # per cent of the electrode
    burns: float  # per cent an hour
    place: str
    isolated: bool = False
    services: list[Entry] = field(default_factory=list)


@dataclass(slots=True)
class _Cylinder:
    leak: float  # area over the tester's restrictor
    grows: float  # an hour
    quickens: float  # an hour squared
    path: str
    services: list[Entry] = field(default_factory=list)


class _Engine:
    """One engine of one shop, from new plugs on. Every draw comes from its own generator."""

    def __init__(self, plan: Plan, shop: int, engine: int) -> None:
        self.plan = plan
        self.shop = shop
        self.engine = engine
        # The shop's meters and people are the same for all of its engines.
        ours = np.random.default_rng([plan.seed, shop])
        self.bias = float(np.exp(0.004 * ours.standard_normal()))
        self.wire_bias = 0.1 * float(ours.standard_normal())
        self.share_bias = self.psi_bias = 0.0
        if plan.biased:
            off = np.random.default_rng([plan.seed, shop, engine, 1]).uniform(-1, 1, 3)
            # What _METERS says of each; every engine here has been read with meters of its own.
            self.bias, self.share_bias, self.psi_bias = 1 + 0.008 * off[0], 5 * off[1], off[2]
        self.skew = np.random.default_rng([plan.seed, shop, engine, 2])
        self.people = [_PEOPLE[i] for i in ours.permutation(len(_PEOPLE))[:2]]
        self.rng = np.random.default_rng([plan.seed, shop, 1 + engine])
        self.layout: Layout = layout(_LAYOUTS[int(self.rng.integers(len(_LAYOUTS)))])
        maker = _ENGINES[int(self.rng.integers(len(_ENGINES)))]
        self.model = f"{maker} {maker[:2].upper()}{len(self.layout.cylinders)}"
        self.plug_name = f"{_PLUGS[int(self.rng.integers(len(_PLUGS)))]} R"
        self.serial = f"{maker[:2].upper()}{shop + 1:02}{engine + 1:03}"
        self.hours = round(float(self.rng.uniform(200, 900)), 1)
        self.on = date(2018, 1, 15) + timedelta(days=int(self.rng.integers(0, 330)))
        self.made = 0
        self.oil_use = float(self.rng.uniform(9, 14))
        self.metal = {
            name: rate * float(np.exp(0.15 * self.rng.standard_normal()))
            for name, rate in _ELEMENTS.items()
        }
        self.oil_hours = 0.0
        self.plugs = {hole: self._new_plug(hole) for hole in self.layout.walk}
        self.cylinders = {number: self._new_cylinder() for number in self.layout.cylinders}
        self.samples: list[Entry] = []
        self.used: set[str] = set()

    def _goes_wrong(self) -> bool:
        return bool(self.rng.random() < self.plan.faults)

    def _new_plug(self, hole: str) -> _Plug:
        self.made += 1
        rng = self.rng
        plug = _Plug(
            serial=f"{self.serial}-{self.made:03}",
            hours=0.0,
            ohms=1000 * float(np.exp(0.04 * rng.standard_normal())),
            drift=max(0.0006 + 0.0002 * float(rng.standard_normal()), 0.00005),
            quickens=0.0,
            gap=16.5 + 0.2 * float(rng.standard_normal()),
            opens=max(0.016 + 0.003 * float(rng.standard_normal()), 0.004),
            left=100.0,
            burns=max(0.08 + 0.012 * float(rng.standard_normal()), 0.02),
            place=hole,
        )
        if self.plan.skewed:
            # Log standard deviations of half a rate and of a quarter: a few wear fast.
            half, *quarters = np.exp(np.array([0.5, 0.25, 0.25]) * self.skew.standard_normal(3))
            plug.drift, plug.opens, plug.burns = (
                5e-4 * half,
                0.015 * quarters[0],
                0.08 * quarters[1],
            )
        if self._goes_wrong():
            if rng.random() < 0.7:
                plug.drift, plug.quickens = 0.002, float(rng.uniform(0.00001, 0.00003))
            else:
                plug.opens *= float(rng.uniform(2, 3.5))
        return plug

    def _new_cylinder(self) -> _Cylinder:
        rng = self.rng
        found = _Cylinder(
            leak=float(rng.uniform(0.35, 0.5)),
            grows=max(0.0003 + 0.00015 * float(rng.standard_normal()), 0.0),
            quickens=0.0,
            path="breather",
        )
        if self._goes_wrong():
            found.quickens, found.path = float(rng.uniform(4e-6, 1.2e-5)), "exhaust"
        return found

    # From one service to the next

    def jobs(self) -> Iterator[SimulatedJob]:
        self._start()
        for _ in range(self.plan.services):
            self._fly(float(self.rng.uniform(*((20, 250) if self.plan.uneven else (85, 112)))))
            yield self._service()

    def _start(self) -> None:
        """The plugs went in new: the first row of older records."""
        for plug in self.plugs.values():
            plug.services.append(self._new_row(plug))

    def _fly(self, hours: float) -> None:
        hours = round(hours, 1)
        self.hours = round(self.hours + hours, 1)
        self.oil_hours = hours
        self.on += timedelta(days=int(self.rng.integers(335, 390)))
        for plug in self.plugs.values():
            before, after = plug.hours, plug.hours + hours
            grown = plug.drift * hours + plug.quickens * (after**2 - before**2) / 2
            plug.ohms *= exp(grown + 0.01 * float(self.rng.standard_normal()))
            plug.gap += max(plug.opens * hours + 0.15 * float(self.rng.standard_normal()), 0.0)
            plug.left -= max(plug.burns * hours + 0.5 * float(self.rng.standard_normal()), 0.0)
            plug.hours = round(after, 1)
            # A resistor that far gone lets go sooner or later.
            plug.isolated = plug.isolated or plug.ohms > 8000 * float(self.rng.uniform(0.8, 3))
        for cylinder in self.cylinders.values():
            cylinder.leak += cylinder.grows * hours + cylinder.quickens * self.hours * hours
            cylinder.leak = max(cylinder.leak + 0.01 * float(self.rng.standard_normal()), 0.1)

    # One service, written down

    def _service(self) -> SimulatedJob:
        desk = _Desk(self, datetime(self.on.year, self.on.month, self.on.day, 8, tzinfo=UTC))
        for copied in self._older():
            desk.copy_in(copied)
        master = 43 + int(self.rng.integers(0, 3))
        desk.write("master", meter="CT", written=f"{master} psi")
        for number, cylinder in self.cylinders.items():
            self._compression(desk, number, cylinder)
        desk.add(self._sample(desk))
        fresh: list[_Plug] = []
        for plug in list(self.plugs.values()):
            desk.write("removed", item=f"plug:{plug.serial}", place=plug.place, hours=plug.hours)
        for plug in list(self.plugs.values()):
            if self._bench(desk, plug):
                continue
            new = self._replace(desk, plug)
            fresh.append(new)
        entries = tuple(seal_all(desk.entries))
        job = SimulatedJob(self._folder(), self._files(), entries)
        self._rotate(fresh)
        return job

    def _folder(self) -> str:
        name = f"{self.serial.lower()}-{self.on.year}"
        return f"shop-{self.shop + 1:02}/{name}" if self.plan.shops > 1 else name

    def _older(self) -> list[Entry]:
        """What the shop's older sheets say of the parts that are in the engine now."""
        rows = [e for plug in self.plugs.values() for e in plug.services]
        rows += [e for cylinder in self.cylinders.values() for e in cylinder.services]
        return rows + self.samples

    def _compression(self, desk: _Desk, number: int, cylinder: _Cylinder) -> None:
        held = leakage.reading_from_area_ratio(cylinder.leak, 80 * PSI, STANDARD_AIR)
        better = round(float(held) / PSI + self.psi_bias + 0.4 * float(self.rng.standard_normal()))
        better = min(max(better, 1), 79)
        how = {
            "state": "hot",
            "minutes": str(int(self.rng.integers(6, 28))),
            "orifice": "0.040 in",
            "path": cylinder.path if better < 74 else "none",
        }
        item = f"cylinder:{number}"
        for value in (better, better - 1):
            desk.write(
                "reading",
                item=item,
                check="compression",
                written=f"{value}/80 psi",
                meter="CT",
                **{"with": how},
            )
        row = {
            "check": "compression",
            "written": f"{better}/80 psi",
            "meter": "CT",
            "with": {name: how[name] for name in ("state", "orifice", "path")},
        }
        cylinder.services.append(self._row(item, readings=[row], note="the better of two reads"))

    def _sample(self, desk: _Desk) -> Entry:
        use = max(self.oil_use * (1 + 0.05 * float(self.rng.standard_normal())), 2.0)
        added = max(round(self.oil_hours / 2 / use), 1)
        # The oil is changed half-way between services.
        hours = round(self.oil_hours / 2, 1)
        ppm = {}
        for name, rate in self.metal.items():
            rate *= float(np.exp(0.05 * self.rng.standard_normal()))
            true = float(oil.makeup_concentration(rate * _FILL_QT, added / hours, _FILL_QT, hours))
            ppm[name] = max(round(true * (1 + 0.08 * float(self.rng.standard_normal()))), 1)
        sample = new_entry(
            "sampled",
            at=desk.at,
            by=desk.by,
            item="oil:engine",
            on=self.on.isoformat(),
            engine_hours=self.hours,
            oil_hours=hours,
            added_qt=added,
            fill_qt=int(_FILL_QT),
            ppm=ppm,
        )
        self.samples.append(sample)
        return sample

    def _bench(self, desk: _Desk, plug: _Plug) -> bool:
        """All checks of one plug, as far as they are taken; whether it goes back."""
        item = f"plug:{plug.serial}"
        found: list[dict[str, Any]] = []
        desk.write("reworked", item=item, act="clean")
        desk.write("reworked", item=item, act="blast")
        cracked = self._goes_wrong() and self.rng.random() < 0.2
        if cracked:
            desk.write("seen", item=item, word="crack", check="look", severity=3)
        else:
            desk.write("seen", item=item, word="normal", check="look")
        seen = plug.left + self.share_bias + 2 * float(self.rng.standard_normal())
        left = min(max(round(seen), 0), 100)
        if desk.read(item, "electrode", f"{left} %", "WC"):
            found.append({"check": "electrode", "written": f"{left} %", "meter": "WC"})
        ohms = self._ohms(plug)
        if desk.read(item, "resistance", ohms, "DM"):
            found.append({"check": "resistance", "written": ohms, "meter": "DM"})
        gap = self._wire(plug.gap)
        if desk.read(item, "gap", f"{gap} thou", "WG"):
            found.append({"check": "gap", "written": f"{gap} thou", "meter": "WG"})
        if cracked or ohms == "OL" or plug.ohms > 5000 or plug.left < 50:
            plug.services.append(
                self._row(item, place=plug.place, hours=plug.hours, readings=found)
            )
            return False
        if gap > 17:
            desk.write("reworked", item=item, act="regap")
            plug.gap = 17.5 + 0.2 * float(self.rng.standard_normal())
            gap = self._wire(plug.gap)
            desk.read(item, "gap", f"{gap} thou", "WG")
        found.append({"check": "gap", "written": f"{gap} thou", "meter": "WG", "as": "left"})
        if self.rng.random() < self.plan.faults / 10:
            desk.write("dropped", item=item, note="on to concrete")
            return False
        desk.read(item, "spark", "steady", "BT", at_psi=100)
        plug.services.append(self._row(item, place=plug.place, hours=plug.hours, readings=found))
        return True

    def _ohms(self, plug: _Plug) -> str:
        if plug.isolated:
            return "OL"
        read = plug.ohms * self.bias * (1 + 0.003 * float(self.rng.standard_normal()))
        ohms = round(read / 10) * 10
        return "OL" if ohms > 20_000 else f"{ohms} ohm"

    def _wire(self, gap: float) -> int:
        """The thickest wire that goes, by this set of wires."""
        return floor(gap + self.wire_bias)

    def _replace(self, desk: _Desk, plug: _Plug) -> _Plug:
        hole = self.layout.next_hole(plug.place)
        new = self._new_plug(hole)
        desk.write("disposed", item=f"plug:{plug.serial}", how="tagged")
        desk.write("replaced", item=f"plug:{new.serial}", place=hole, **{"for": plug.serial})
        del self.plugs[plug.place]
        return new

    def _rotate(self, fresh: Sequence[_Plug]) -> None:
        for plug in self.plugs.values():
            plug.place = self.layout.next_hole(plug.place)
        for plug in fresh:
            plug.services.append(self._new_row(plug))
        self.plugs = {plug.place: plug for plug in (*self.plugs.values(), *fresh)}

    # Older records

    def _new_row(self, plug: _Plug) -> Entry:
        gap = self._wire(plug.gap)
        ohms = self._ohms(plug)
        return self._row(
            f"plug:{plug.serial}",
            place=plug.place,
            hours=0.0,
            readings=[
                {"check": "resistance", "written": ohms, "meter": "DM", "as": "left"},
                {"check": "gap", "written": f"{gap} thou", "meter": "WG", "as": "left"},
            ],
            note="new; went in here",
        )

    def _row(
        self,
        item: str,
        *,
        readings: Sequence[Mapping[str, Any]],
        place: str = "",
        hours: float | None = None,
        note: str = "",
    ) -> Entry:
        return new_entry(
            "earlier",
            at=datetime(self.on.year, self.on.month, self.on.day, 7, tzinfo=UTC),
            by=_key(self.people[0]),
            item=item,
            service=self.on.isoformat(),
            place=place,
            engine_hours=self.hours,
            item_hours=hours,
            readings=list(readings),
            note=note,
        )

    # The files beside the book

    def _files(self) -> dict[str, str]:
        folder = self._folder().rpartition("/")[2]
        return {
            "engine.toml": _ENGINE.format(
                job=folder,
                model=self.model,
                serial=self.serial,
                layout=self.layout.name,
                on=self.on.isoformat(),
                hours=self.hours,
                shop=f"Simulated shop {self.shop + 1}",
            ),
            "people.toml": "".join(
                f'[[person]]\nkey = "{_key(name)}"\nname = "{name}"\nrole = "mechanic"\n'
                + ("second_look = true\n\n" if number else "\n")
                for number, name in enumerate(self.people)
            ),
            "limits.toml": _limits(self.model, _key(self.people[0])),
            "meters.toml": _METERS.format(due=self.on.year + 1),
            "recurring.toml": _RECURRING.format(on=self.on.isoformat(), hours=self.hours),
            "stock.toml": _STOCK.format(plug=self.plug_name),
        }


class _Desk:
    """Writes entries a minute apart, with the slips that people make."""

    def __init__(self, engine: _Engine, at: datetime) -> None:
        self.engine = engine
        self.at = at
        self.by = _key(engine.people[0])
        self.entries: list[Entry] = []

    def add(self, entry: Entry) -> None:
        self.entries.append(entry)
        self.at += timedelta(minutes=1)

    def copy_in(self, older: Entry) -> None:
        self.add(new_entry(older.kind, at=self.at, by=self.by, id=older.id, **older.data))

    def write(self, kind: str, **data: Any) -> Entry:
        entry = new_entry(kind, at=self.at, by=self.by, **data)
        self.add(entry)
        return entry

    def read(self, item: str, check: str, written: str, meter: str, **data: Any) -> bool:
        """One reading; now and then left out, or written wrong, struck and written again."""
        slip = float(self.engine.rng.random())
        if slip < self.engine.plan.slips / 2:
            return False
        if slip < self.engine.plan.slips and check == "resistance" and written != "OL":
            number, _, unit = written.partition(" ")
            wrong = (
                self.write(
                    "reading",
                    item=item,
                    check=check,
                    written=f"{number}0 {unit}",
                    meter=meter,
                    **data,
                )
                if int(number) < 2000
                else None
            )
            if wrong is not None:
                self.write("struck", entry=wrong.id, reason="one digit too many")
        self.write("reading", item=item, check=check, written=written, meter=meter, **data)
        return True


def _key(name: str) -> str:
    return name.partition(" ")[0].lower()


_ENGINE = """\
# A simulated job. Every name, serial, limit and document in this folder is invented.
format = 1
job = "{job}"
title = "{model}, serial {serial}"
invented = true
layout = "{layout}"
engine = "{model}"
serial = "{serial}"
bore_in = 4.5
sump_qt = 8
hours = {{ since_overhaul = {hours} }}
last_run_on = {on}
removed_on = {on}
shop = "{shop}"
timezone = "UTC"
inspect = ["plug", "cylinder"]

[shop_hours]
labour_per_hour = 100
unplanned_visit_hours = 6
"""

_METERS = """\
[[meter]]
id = "DM"
name = "Digital ohmmeter"
kind = "digital"
quantity = "resistance"
keyed = "kohm"
due = "{due}-12"

  [[meter.range]]
  name = "20k"
  top = "20 kohm"
  percent_of_reading = 0.8
  counts = 2
  count = "10 ohm"

[[meter]]
id = "WG"
name = "Wire gauge set"
kind = "wires"
quantity = "length"
step = "0.001 in"
due = "{due}-12"

[[meter]]
id = "WC"
name = "Electrode caliper"
kind = "plus or minus"
quantity = "share"
accuracy = "5 %"
resolution = "1 %"
due = "{due}-12"

[[meter]]
id = "BT"
name = "Bench spark tester"
kind = "tester"
due = "{due}-12"

[[meter]]
id = "CT"
name = "Differential compression tester"
kind = "plus or minus"
quantity = "pressure"
accuracy = "1 psi"
resolution = "1 psi"
highest = "100 psi"
orifice = "0.040 in"
due = "{due}-12"
"""

_RECURRING = """\
[[recurring]]
id = "annual"
title = "Annual inspection"
kind = "inspection"
every_months = 12
last_hours = {hours}
last_on = {on}
document = "Simulated programme (invented)"
"""

_STOCK = """\
[[part]]
id = "plug"
name = "Plug {plug}"
price = 45
lead_days = 3
stock = 2
replaces = ["plug"]
"""

_BOUNDS = (
    'item = "plug"\ncheck = "look"\nworst = 1\n',
    'item = "plug"\ncheck = "electrode"\nlower = "50 %"\n',
    'item = "plug"\ncheck = "resistance"\nupper = "5000 ohm"\nshort = "out"\n',
    'item = "plug"\ncheck = "gap"\nlower = "0.016 in"\nupper = "0.019 in"\naim = "0.017 in"\n',
    'item = "plug"\ncheck = "spark"\ngrade = "steady"\nat_psi = 100\n',
    'item = "cylinder"\ncheck = "compression"\nfloor = "master"\nwants = { state = "hot" }\n',
)


def _limits(model: str, by: str) -> str:
    source = (
        f'document = "{model} manual (invented)"\nrevision = "1"\npage = "7-1"\n'
        f'entered_by = "{by}"\nentered_on = 2017-06-01\n'
    )
    return "\n".join(f"[[limit]]\n{bounds}{source}" for bounds in _BOUNDS)
