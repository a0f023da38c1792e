"""A six-cylinder job in which cylinder 5 comes off and goes on again. All invented.

The shop, its meters and its limits are those of the finished demo; what is filed for a cylinder off
and on is made up here. Each step of the work has a name, so that a case leaves one out.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Collection
from datetime import datetime, timedelta, timezone
from typing import Any

from .finished import Finished
from .written_job import WrittenJob

__all__ = ["FILES", "OFF", "STEPS", "OneOff", "limit"]

OFF = "5"
BEGAN = datetime(2026, 11, 2, 8, 0, tzinfo=timezone(timedelta(hours=-6)))
_SOURCE = """document = "SX6 manual (invented)"
revision = "2"
page = "12-9"
entered_by = "marta"
entered_on = 2026-10-05
"""
_LEFT_OUT = [
    "A1",
    "A2",
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
    "E2",
    "E3",
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
_NO_GROUPS = ["plug", "mount", "engine-mount", "filter", "propeller", "drain", "screen", "magneto"]

ENGINE = f"""
format = 1
job = "sx6-off"
invented = true
layout = "opposed-6"
engine = "Averley SX6-260"
serial = "SX6-0204"
bore_in = 4.375
compression_ratio = 8.5
hours = {{ since_overhaul = 924.8 }}
airframe = "Pellworth P-31"
registration = "X-TLN4"
fuel = "pump"
magnetos = {{ left = "Orrin OM-L s/n 6172", right = "Orrin OM-R s/n 6208" }}
elevation_ft = 1240
timezone = "America/Chicago"
last_run_on = 2026-10-30
removed_on = 2026-11-01
inspect = ["cylinder", "exhaust", "intake"]
left_out = {json.dumps(_LEFT_OUT)}
"""
DIAL = """
[[meter]]
id = "DI-1"
name = "Dial indicator"
kind = "plus or minus"
quantity = "length"
use = "dial"
accuracy = "0.0005 in"
resolution = "0.0005 in"
due = "2027-05"

[[meter]]
id = "BG-1"
name = "Bore gauge"
kind = "plus or minus"
quantity = "diameter"
use = "bore"
accuracy = "0.0002 in"
due = "2027-05"
"""


def limit(item: str, check: str, bounds: str) -> str:
    return f'[[limit]]\nitem = "{item}"\ncheck = "{check}"\n{bounds}\n{_SOURCE}\n'


# Check, its bounds, what is written, the meter.
BARREL = (
    ("bore", 'upper = "4.381 in"', "4.376 in", "BG-1"),
    ("choke", 'lower = "0.002 in"\nupper = "0.007 in"', "0.005 in", "BG-1"),
    ("ring_gap_top", 'lower = "0.020 in"\nupper = "0.047 in"', "0.031 in", "FG-1"),
    ("ring_gap_second", 'lower = "0.020 in"\nupper = "0.047 in"', "0.030 in", "FG-1"),
    ("ring_gap_oil", 'lower = "0.015 in"\nupper = "0.047 in"', "0.028 in", "FG-1"),
    ("ring_side", 'upper = "0.010 in"', "0.005 in", "FG-1"),
    ("piston_fit", 'lower = "0.008 in"\nupper = "0.021 in"', "0.014 in", "FG-1"),
    ("pin_fit", 'upper = "0.004 in"', "0.001 in", "FG-1"),
)
VALVES = (
    ("pushrods", 'grade = "true"', "true", ""),
    ("rocker_side", 'upper = "0.020 in"', "0.008 in", "FG-1"),
    ("lift_intake", 'lower = "0.380 in"', "0.402 in", "DI-1"),
    ("lift_exhaust", 'lower = "0.380 in"', "0.405 in", "DI-1"),
    ("gaskets", 'grade = "all new"', "all new", ""),
)
LOCKED = (("safetied", 'grade = "safetied"', "safetied", ""),)
RUN_IN = (
    ("as_asked", 'grade = "whole, as the document asks"', "whole, as the document asks", ""),
    ("head_temp", 'upper = "450 F"', "398 F", "TH-1"),
    ("oil_temp", 'upper = "230 F"', "178 F", "TH-1"),
    ("oil_pressure", 'lower = "40 psi"', "66 psi", "OP-1"),
)


def _files() -> dict[str, str]:
    demo = Finished().files
    limits = [
        *(limit("barrel", check, bounds) for check, bounds, *_ in (*BARREL, *VALVES, *LOCKED)),
        *(limit("break-in", check, bounds) for check, bounds, *_ in RUN_IN),
        *(limit(item, "look", "worst = 1") for item in ("barrel", "break-in")),
        limit("engine", "hold_down_torque", 'lower = "480 in-lb"\nupper = "520 in-lb"'),
        limit("engine", "through_bolt_torque", 'lower = "560 in-lb"\nupper = "640 in-lb"'),
    ]
    # Of plugs nothing is looked at here.
    return {
        "engine.toml": ENGINE,
        "people.toml": demo["people.toml"],
        "meters.toml": demo["meters.toml"] + DIAL,
        "limits.toml": "\n".join([*_of_the_demo(demo["limits.toml"]), *limits]),
        "torque.toml": "".join(f'[[group]]\nid = "{g}"\nleave_out = true\n' for g in _NO_GROUPS),
    }


def _of_the_demo(text: str) -> list[str]:
    """The demo's limits but for the torque of what is left out here."""
    no = [f'check = "{one.replace("-", "_")}_torque"' for one in _NO_GROUPS]
    limits = [f"[[limit]]{one}" for one in text.split("[[limit]]")[1:]]
    return [one for one in limits if not any(check in one for check in no)]


FILES = _files()
Write = Callable[..., dict[str, Any]]


def _reads(write: Write, item: str, checks: Collection[tuple[str, str, str, str]]) -> None:
    for check, _, written, meter in checks:
        write("reading", item=item, check=check, written=written, meter=meter)


def _torqued(write: Write, group: str, what: str, of: int, wanted: str, **more: Any) -> None:
    passes, meter = more.pop("passes"), more.pop("meter", "TW-6")
    for number in range(1, of + 1):
        write(
            "torqued", item=f"cylinder:{more['place']}", group=group, what=what, of=of,
            fasteners=[number], wanted=wanted, meter=meter, passes=passes, **more,
        )  # fmt: skip


def _as_received(write: Write) -> None:
    for one in map(str, range(1, 7)):
        write("seen", item=f"cylinder:{one}", check="look", word="even")
    write("master", meter="CT-1", written="43 psi")
    for one in map(str, range(1, 7)):
        _compression(write, one)
    for one in map(str, range(1, 7)):
        _tappets(write, one)


def _compression(write: Write, one: str) -> None:
    beside = {"state": "hot", "minutes": "12", "orifice": "0.040 in", "path": "none"}
    for psi in (74, 75):
        write(
            "reading", item=f"cylinder:{one}", check="compression", written=f"{psi}/80 psi",
            meter="CT-1", **{"with": beside},
        )  # fmt: skip


def _tappets(write: Write, one: str) -> None:
    for valve in ("intake", "exhaust"):
        write(
            "reading", item=f"cylinder:{one}", check=f"tappet_{valve}", written="45 thou",
            meter="FG-1",
        )  # fmt: skip


def _covers(write: Write) -> None:
    for one in map(str, range(1, 7)):
        place: dict[str, Any] = {"place": one, "task": "F2", "passes": 2, "meter": "TW-5"}
        _torqued(
            write, "rocker-cover", f"rocker cover screws of cylinder {one}", 6, "50 in-lb", **place
        )
    write("used", part="gasket-rocker", number=6, task="F2")


def _manifolds(write: Write) -> None:
    write("used", part="gasket-exhaust", number=6, task="F3")
    for item in ("exhaust:system", "exhaust:muffler", "intake:tubes", "intake:air box"):
        write("seen", item=item, check="look", word="sound")
    for one in map(str, range(1, 7)):
        place: dict[str, Any] = {"place": one, "passes": 2}
        _torqued(
            write,
            "exhaust",
            f"exhaust flange nuts of cylinder {one}",
            2,
            "110 in-lb",
            task="F3",
            **place,
        )
        _torqued(
            write, "intake", f"intake flange bolts of cylinder {one}", 2, "85 in-lb", task="F4",
            meter="TW-5", **place,
        )  # fmt: skip


def _run(write: Write, name: str) -> None:
    """A whole run, as the finished demo has it."""
    demo = Finished()
    first, last = demo.last("run_began", run="2"), demo.last("run_ended", run="2")
    for one in demo.entries[demo.entries.index(first) : demo.entries.index(last) + 1]:
        told = {k: v for k, v in one.items() if k not in ("id", "at", "kind", "by", "hours")}
        if "run" in told:
            told["run"] = name
        if told.get("item") == "run:2":
            told["item"] = f"run:{name}"
        if one is last:
            told["engine_hours"] = 925.0 + float(name) / 10
        write(one["kind"], **told)


def _counted_in(write: Write) -> None:
    for name in ("left", "right"):
        write("p_lead", item=f"magneto:{name}", state="on", how="at the magneto")
    write("done", task="H6")
    write("second_look", by="ilse", task="H6", note="count seen at zero")


Step = Callable[[Write], object]
ITEM = f"barrel:{OFF}"
_HELD: dict[str, Any] = {"place": OFF, "task": "J4", "passes": 3}
# The work in its order.
STEPS: dict[str, Step] = {
    "as received": _as_received,
    "off": lambda w: w(
        "removed", item=f"cylinder:{OFF}", place=OFF, note="low, air at the exhaust"
    ),
    "studs": lambda w: w("done", task="J1", place=OFF),
    "bench look": lambda w: w("seen", item=ITEM, check="look", word="sound"),
    "measured": lambda w: _reads(w, ITEM, BARREL),
    "on": lambda w: w("fitted", item=f"cylinder:{OFF}", place=OFF, serial="CY-5517"),
    "hold-down": lambda w: _torqued(
        w, "hold-down", f"cylinder hold-down nuts of cylinder {OFF}", 6, "500 in-lb", **_HELD
    ),
    "through-bolts": lambda w: _torqued(
        w, "through-bolt", f"cylinder through-bolt nuts of cylinder {OFF}", 2, "600 in-lb", **_HELD
    ),
    "locked": lambda w: _reads(w, ITEM, LOCKED),
    "look at the torque": lambda w: w("second_look", by="ilse", task="J4", note="nuts and plates"),
    "valve train": lambda w: _reads(w, ITEM, VALVES),
    "tappets": lambda w: _tappets(w, OFF),
    "covers": _covers,
    "manifolds": _manifolds,
    "count-in": _counted_in,
    "run 1": lambda w: _run(w, "1"),
    "run 1 done": lambda w: w("done", task="H7", **{"with": ["tom"]}),
    "run in": lambda w: _reads(w, f"break-in:{OFF}", RUN_IN),
    "leak look": lambda w: w("seen", item=f"break-in:{OFF}", check="look", word="dry"),
    "borescope": lambda w: w("seen", item=f"cylinder:{OFF}", check="look", word="even"),
    "compression": lambda w: (w("master", meter="CT-1", written="43 psi"), _compression(w, OFF)),
    "run 2": lambda w: _run(w, "2"),
    "run 2 done": lambda w: w("done", task="H8", **{"with": ["tom"]}),
}


class OneOff(WrittenJob):
    """The job with its steps written, but for those left out; more may be written behind them."""

    def __init__(self, *left_out: str, until: str = "") -> None:
        super().__init__("off", FILES, BEGAN)
        assert {*left_out, until} - {""} <= STEPS.keys(), left_out
        for name, step in STEPS.items():
            if name not in left_out:
                step(self.write)
            if name == until:
                break
