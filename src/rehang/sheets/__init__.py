"""Data a mechanic may read and replace: layouts, check sheets, the demo job, file schemas."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType

from rehang.sheets.file_schemas import schemas
from rehang.trade.declared.taken import read
from rehang.trade.facts.items import CheckSheet, sheet_from
from rehang.trade.facts.layout import Layout, layout_from
from rehang.trade.facts.people import PeopleFile
from rehang.trade.facts.reasons import Reason, reasons_from
from rehang.trade.facts.run_file import RunFile, check_steps, rules_of
from rehang.trade.facts.run_rules import RunRules
from rehang.trade.facts.runsteps import ShutDown, Step
from rehang.trade.facts.tasks import Task, tasks_from
from rehang.trade.facts.torquegroups import TorqueGroup, groups_from
from rehang.trade.terms.errors import BadInput

__all__ = [
    "DEMOS",
    "DEMO_PINS",
    "check_sheets",
    "demo_path",
    "layout",
    "layouts",
    "powers",
    "reasons",
    "run_rules",
    "run_steps",
    "schemas",
    "shut_down",
    "task_sheet",
]

# The demo jobs by name, and their folders. All invented; "finished" is the first one, done.
DEMOS = MappingProxyType(
    {
        "four": "demo",
        "finished": "demo-finished",
        "six": "demo-six",
        "radial": "demo-radial",
    }
)

# PINs of the people of the demos. They are printed and shown: they keep nobody out, and nobody
# else has one of these. Any six digits in no order.
DEMO_PINS = MappingProxyType(
    {
        "marta": "407193",
        "tom": "528614",
        "ilse": "936205",
        "rhea": "275081",
        "ivo": "614930",
        "pia": "830472",
        "lene": "159763",
        "olav": "742058",
    }
)

_HERE = Path(__file__).parent


@cache
def layouts() -> Mapping[str, Layout]:
    """The shipped layouts by name."""
    found = {}
    for path in sorted((_HERE / "layouts").glob("*.toml")):
        one = layout_from(tomllib.loads(path.read_text("utf-8")), lambda *k, p=path: p.name)
        found[one.name] = one
    return MappingProxyType(found)


def layout(name: str, where: str = "") -> Layout:
    """A shipped layout."""
    known = layouts()
    if name not in known:
        raise BadInput(
            f'There is no layout "{name}". The shipped ones are {", ".join(known)}.', where
        )
    return known[name]


@cache
def check_sheets() -> Mapping[str, CheckSheet]:
    """The shipped check sheets by item kind."""
    found = {}
    for path in sorted((_HERE / "checks").glob("*.toml")):
        one = sheet_from(tomllib.loads(path.read_text("utf-8")), lambda *k, p=path: p.name)
        found[one.item] = one
    return MappingProxyType(found)


@cache
def task_sheet() -> Mapping[str, Task]:
    """The shipped tasks by id, in the order of the work."""
    path = _HERE / "tasks.toml"
    raw = tomllib.loads(path.read_text("utf-8"))
    return MappingProxyType(tasks_from(raw, lambda *k: path.name))


@cache
def _run_file() -> RunFile:
    path = _HERE / "run.toml"
    return read(RunFile, tomllib.loads(path.read_text("utf-8")), lambda *k: path.name)


@cache
def run_steps() -> tuple[Step, ...]:
    """The shipped walk through a ground run."""
    steps = _run_file().step or ()
    check_steps(steps, check_sheets()["run"], lambda *k: "run.toml")
    return steps


@cache
def run_rules() -> RunRules:
    """What the shipped ``run.toml`` asks of a run."""
    return rules_of(_run_file(), check_sheets()["run"], lambda *k: "run.toml")


@cache
def shut_down() -> ShutDown:
    """The shipped order to shut an engine down."""
    found = _run_file().shut_down
    assert found is not None
    return found


@cache
def reasons() -> Mapping[str, Reason]:
    """The shipped reasons to come off, by their words."""
    path = _HERE / "reasons.toml"
    raw = tomllib.loads(path.read_text("utf-8"))
    return MappingProxyType(reasons_from(raw, lambda *k: path.name, {}))


@cache
def torque_groups() -> Mapping[str, TorqueGroup]:
    """The shipped groups of fasteners by id."""
    path = _HERE / "torque.toml"
    raw = tomllib.loads(path.read_text("utf-8"))
    return MappingProxyType(groups_from(raw, lambda *k: path.name))


@cache
def powers() -> Mapping[str, frozenset[str]]:
    """The shipped example of what each kind of certificate lets a person do."""
    path = _HERE / "powers.toml"
    raw = tomllib.loads(path.read_text("utf-8"))
    return read(PeopleFile, raw, lambda *k: path.name).powers or MappingProxyType({})


def demo_path(job: str = "four") -> Path:
    """The folder of a demo job (invented): four cylinders, the same finished, six, a radial."""
    if job not in DEMOS:
        raise BadInput(f'There is no demo job "{job}". There are {", ".join(DEMOS)}.')
    return _HERE / DEMOS[job]
