"""A six-cylinder injected job, from receiving to its record: magnetos opened, fuel and accessories looked at.

All invented. The shop is that of the finished demo; meters and limits of what is read here are made up.
Each step of the work has a name, so that a case leaves one out or writes another in its place.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime, timedelta, timezone
from typing import Any

from .finished import Finished
from .written_job import WrittenJob

__all__ = ["ENGINE", "FILES", "STEPS", "Injected"]

BEGAN = datetime(2026, 11, 2, 8, 0, tzinfo=timezone(timedelta(hours=-6)))
SIX = tuple(map(str, range(1, 7)))
_LEFT_OUT = [
    "A3",
    "A4",
    "B1",
    "B2",
    "B3",
    "B4",
    "B5",
    "C1",
    "C2",
    "C3",
    "C4",
    "C5",
    "C6",
    "C7",
    "D1",
    "D2",
    "D3",
    "D4",
    "D5",
    "D6",
    "D7",
    "D8",
    "E1",
    "F1",
    "F2",
    "F3",
    "F5",
    "G1",
    "G2",
    "G3",
    "G4",
    "G5",
    "G6",
    "G7",
    "H1",
    "H2",
    "H3",
    "H4",
    "H5",
]
_NO_GROUPS = [
    "plug",
    "mount",
    "engine-mount",
    "filter",
    "propeller",
    "drain",
    "screen",
    "magneto",
    "rocker-cover",
    "exhaust",
]

ENGINE = f"""
format = 1
job = "sx6-injected"
invented = true
layout = "opposed-6"
engine = "Averley SX6-260I"
serial = "SX6-0311"
bore_in = 4.375
compression_ratio = 8.5
hours = {{ since_overhaul = 924.8 }}
airframe = "Pellworth P-31"
registration = "X-TLN5"
fuel = "pump"
fuel_system = "injection"
magnetos = {{ left = "Orrin OM-L s/n 6172", right = "Orrin OM-R s/n 6208" }}
elevation_ft = 1240
timezone = "America/Chicago"
last_run_on = 2026-10-30
removed_on = 2026-11-01
inspect = ["magneto", "ignition", "intake"]
left_out = {json.dumps(_LEFT_OUT)}

[[accessory]]
kind = "alternator"
serial = "AL-0412"
hours = 310.0
engine_hours = 924.8

[[accessory]]
kind = "starter"
serial = "ST-7716"

[[accessory]]
kind = "vacuum-pump"
serial = "VP-2209"
hours = 470.0
engine_hours = 924.8
due_hours = 500.0
document = "Vacuum pump sheet (invented)"
revision = "1"

[[accessory]]
kind = "governor"
serial = "GV-0031"

[[accessory]]
kind = "propeller"
serial = "PR-5120"

[[accessory]]
kind = "fuel-pump"
serial = "FP-8804"

[[accessory]]
kind = "fuel-servo"
serial = "FS-1103"
"""


def _meter(name: str, quantity: str, use: str, worth: str) -> str:
    said = f'use = "{use}"\n' if use else ""
    return f'''
[[meter]]
id = "{name}"
name = "{name}"
kind = "plus or minus"
quantity = "{quantity}"
{said}accuracy = "{worth}"
due = "2027-05"
'''


METERS = "".join(
    (
        _meter("VS-1", "volume", "volume", "1 mL"),
        _meter("LP-1", "low pressure", "low pressure", "0.05 psi"),
        _meter("PG-1", "low pressure", "low pressure", "0.5 psi"),
        _meter("MB-1", "angle", "timing inside", "0.5 deg"),
        _meter("OW-1", "winding", "winding", "0.01 ohm"),
        _meter("CM-1", "capacitance", "capacitance", "0.005 uF"),
        _meter("PT-1", "length", "track", "0.010 in"),
        _meter("PF-1", "length", "point gap", "0.0005 in"),
        _meter("BT-9", "speed", "impulse", "2 rpm"),
        '[[meter]]\nid = "MBK-1"\nname = "MBK-1"\nkind = "tester"\nuse = "points"\ndue = "2027-05"\n',
    )
)
# Item, check, its bounds, what is read, on which meter.
Read = tuple[str, str, str, str, str]
INSIDE: tuple[Read, ...] = (
    ("magneto", "internal_timing", 'lower = "9 deg"\nupper = "13 deg"', "11 deg", "MB-1"),
    ("magneto", "e_gap", 'lower = "6 deg"\nupper = "12 deg"', "9 deg", "MB-1"),
    ("magneto", "point_gap", 'lower = "0.014 in"\nupper = "0.020 in"', "0.017 in", "PF-1"),
    ("magneto", "distributor", 'grade = "as the manual says"', "as the manual says", ""),
    ("magneto", "coil_primary", 'lower = "0.4 ohm"\nupper = "1.2 ohm"', "0.75 ohm", "OW-1"),
    ("magneto", "coil_secondary", 'lower = "13 kohm"\nupper = "21 kohm"', "16 kohm", "DM-2"),
    ("magneto", "condenser", 'lower = "0.30 uF"\nupper = "0.40 uF"', "0.35 uF", "CM-1"),
)
IMPULSE: tuple[Read, ...] = (
    ("magneto", "impulse_lag", 'lower = "20 deg"\nupper = "30 deg"', "25 deg", "MB-1"),
    ("magneto", "impulse_speed", 'upper = "500 rpm"', "380 rpm", "BT-9"),
)
FUEL: tuple[Read, ...] = (
    ("fuel:lines", "holds", 'grade = "dry, nothing smelt"', "dry, nothing smelt", ""),
    ("fuel:primer", "holds", "", "dry, nothing smelt", ""),
    ("induction:system", "lost", 'upper = "0.50 psi"', "0.20 psi", "LP-1"),
    (
        "fuel-pump:fuel-pump", "pressure", 'lower = "20 psi"\nupper = "30 psi"', "25 psi", "PG-1",
    ),
    ("fuel-servo:fuel-servo", "screen", 'grade = "clean"', "clean", ""),
)  # fmt: skip
ACCESSORIES: tuple[Read, ...] = (
    (
        "alternator:alternator", "drive", 'grade = "as the document says"', "as the document says",
        "",
    ),
    ("governor:governor", "screen", 'grade = "clean"', "clean", ""),
    ("governor:governor", "control", 'grade = "full travel, cushion"', "full travel, cushion", ""),
)  # fmt: skip
PROPELLER: tuple[Read, ...] = (
    ("propeller:propeller", "track", 'upper = "0.125 in"', "0.040 in", "PT-1"),
    (
        "propeller:propeller", "indexing", 'grade = "as the document says"',
        "as the document says", "",
    ),
)  # fmt: skip
FLOWS = (102, 101, 100, 103, 101, 102)
LOOKED = (
    "injector", "fuel", "induction", "fuel-pump", "fuel-servo", "alternator", "starter",
    "vacuum-pump", "governor", "propeller", "ignition",
)  # fmt: skip


def limit(item: str, check: str, bounds: str) -> str:
    return f"""[[limit]]
item = "{item}"
check = "{check}"
{bounds}
document = "SX6 manual (invented)"
revision = "2"
page = "11-9"
entered_by = "marta"
entered_on = 2026-10-05
"""


def _files() -> dict[str, str]:
    demo = Finished().files
    limits = [
        limit(item.partition(":")[0], check, bounds)
        for item, check, bounds, *_ in (*INSIDE, *IMPULSE, *FUEL, *ACCESSORIES, *PROPELLER)
        if bounds
    ]
    limits += [limit(item, "look", "worst = 1") for item in LOOKED if item != "ignition"]
    limits += [
        limit("injector", "spread", 'upper = "5 %"'),
        limit("injector", "line", 'grade = "tight, clear of edges"'),
        limit("run", "fuel_power", 'grade = "dry, nothing smelt"'),
    ]
    no = [f'check = "{one.replace("-", "_")}_torque"' for one in _NO_GROUPS]
    of_demo = [f"[[limit]]{one}" for one in demo["limits.toml"].split("[[limit]]")[1:]]
    return {
        "engine.toml": ENGINE,
        "people.toml": demo["people.toml"],
        "meters.toml": demo["meters.toml"] + METERS,
        "limits.toml": "\n".join(
            [*(one for one in of_demo if not any(check in one for check in no)), *limits]
        ),
        "torque.toml": "".join(f'[[group]]\nid = "{g}"\nleave_out = true\n' for g in _NO_GROUPS),
    }


FILES = _files()
Write = Callable[..., dict[str, Any]]


def reads(write: Write, these: tuple[Read, ...], item: str = "") -> None:
    for own, check, _, written, meter in these:
        write("reading", item=item or own, check=check, written=written, meter=meter)


def _received(write: Write) -> None:
    for task in ("A1", "A2"):
        write("done", task=task)


def timed(write: Write, left: str = "25.0 deg", right: str = "25.0 deg") -> None:
    for name, written in (("left", left), ("right", right)):
        write("reading", item=f"magneto:{name}", check="timing", written=written, meter="TL-1")


def flows(write: Write, figures: tuple[int, ...] = FLOWS) -> None:
    for one, figure in zip(SIX, figures, strict=True):
        write("reading", item=f"injector:{one}", check="flow", written=f"{figure} mL", meter="VS-1")


def _injectors(write: Write) -> None:
    for one in SIX:
        item = f"injector:{one}"
        write("seen", item=item, check="look", word="sound")
        write("reading", item=item, check="line", written="tight, clear of edges")
    flows(write)


def _intake(write: Write) -> None:
    for item in ("intake:tubes", "intake:air box"):
        write("seen", item=item, check="look", word="sound")
    for one in SIX:
        for number in (1, 2):
            write(
                "torqued", item=f"cylinder:{one}", group="intake", place=one, task="F4",
                what=f"intake flange bolts of cylinder {one}", of=2, fasteners=[number],
                wanted="85 in-lb", meter="TW-5", passes=2,
            )  # fmt: skip


def _looks(write: Write, *items: str) -> None:
    for item in items:
        write("seen", item=item, check="look", word="sound")


def _run(write: Write, name: str) -> None:
    """A whole run, as the finished demo has it, without carburettor heat."""
    demo = Finished()
    first, last = demo.last("run_began", run="2"), demo.last("run_ended", run="2")
    for one in demo.entries[demo.entries.index(first) : demo.entries.index(last) + 1]:
        if one.get("check") == "carb_heat" or one.get("step") == "heat":
            continue
        told = {k: v for k, v in one.items() if k not in ("id", "at", "kind", "by", "hours")}
        if "run" in told:
            told["run"] = name
        if told.get("item") == "run:2":
            told["item"] = f"run:{name}"
        if one is last:
            told["engine_hours"] = 925.0 + float(name) / 10
        if told.get("check") == "static" and one["kind"] == "reading":
            write("reading", item=f"run:{name}", check="fuel_power", written="dry, nothing smelt")
        write(one["kind"], **told)


def _counted_in(write: Write) -> None:
    for name in ("left", "right"):
        write("p_lead", item=f"magneto:{name}", state="on", how="at the magneto")
    write("done", task="H6")
    write("second_look", by="ilse", task="H6", note="count seen at zero")


Step = Callable[[Write], object]


def _of(*items: str) -> Step:
    return lambda w: _looks(w, *items)


def _each(act: str, these: tuple[Read, ...], *names: str) -> Step:
    def step(write: Write) -> None:
        for name in names:
            item = f"magneto:{name}"
            write("reworked", item=item, act=act)
            reads(write, these, item)

    return step


# The work in its order.
STEPS: dict[str, Step] = {
    "received": _received,
    "magnetos opened": _each("opened", INSIDE, "left", "right"),
    "points looked at": lambda w: [
        w("reading", item=f"magneto:{n}", check="points", written="as the manual says", meter="MBK-1")
        for n in ("left", "right")
    ],
    "impulse coupling": _each("impulse_off", IMPULSE, "left"),
    "timed": timed,
    "look at the timing": lambda w: w("second_look", by="ilse", task="E3", note="both, at the mark"),
    "intake": _intake,
    "accessories looked at": _of(
        "alternator:alternator", "starter:starter", "vacuum-pump:vacuum-pump", "governor:governor"
    ),
    "accessories": lambda w: reads(w, ACCESSORIES),
    "fuel looked at": _of(
        "fuel:lines", "fuel:primer", "induction:system", "fuel-pump:fuel-pump",
        "fuel-servo:fuel-servo",
    ),
    "fuel": lambda w: reads(w, FUEL),
    "injectors": _injectors,
    "propeller off": lambda w: w("removed", item="propeller:propeller", place="propeller"),
    "propeller on": lambda w: w(
        "fitted", item="propeller:propeller", place="propeller", serial="PR-5120"
    ),
    "propeller looked at": _of("propeller:propeller"),
    "track": lambda w: reads(w, PROPELLER),
    "count-in": _counted_in,
    "run 1": lambda w: _run(w, "1"),
    "run 1 done": lambda w: w("done", task="H7", **{"with": ["tom"]}),
    "run 2": lambda w: _run(w, "2"),
    "run 2 done": lambda w: w("done", task="H8", **{"with": ["tom"]}),
}  # fmt: skip


class Injected(WrittenJob):
    """The job with its steps written, but for those left out or written otherwise."""

    def __init__(self, *left_out: str, **instead: Step) -> None:
        super().__init__("inj", FILES, BEGAN)
        other = {name.replace("_", " "): step for name, step in instead.items()}
        assert {*left_out, *other} <= STEPS.keys(), (left_out, other)
        for name, step in STEPS.items():
            if name not in left_out:
                other.get(name, step)(self.write)
