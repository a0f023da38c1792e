"""Rules on what was worked out of an engine monitor's table: that it can be read, and names its file."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.monitor_columns import Mapped, check_mapped
from rehang.trade.known.state import JobState
from rehang.trade.terms.entries import Entry
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.kinds.monitor import MonitorRead

__all__ = ["check_monitor"]

# A chart has no room for more spans of time.
MOST_SPANS = 1_000
_SUM = re.compile(r"[0-9a-f]{64}\Z")
_SPAN = re.compile(r"(-|-?\d{1,9}(\.\d)?/-?\d{1,9}(\.\d)?)\Z")


def check_monitor(entry: Entry[MonitorRead], state: JobState, facts: JobFacts) -> None:
    """Whether a monitor's line says of its table what it has to: a sum, columns, and a whole series."""
    told = entry.fields
    if not _SUM.match(told.sha256) or told.table not in ("", f"{told.sha256}.csv"):
        raise BadInput("The table is not named by its sum. Read the table again.")
    if told.decimal not in (".", ","):
        raise BadInput('Decimals are written with "." or ",".', "decimal")
    if told.rows < 2 or told.size < 1:
        raise BadInput("A table of a flight has two rows at the least.")
    if not _fits(told.found.get("oil", {}), {"*": [[float]]}) or any(
        len(one) != 3 for spans in told.found.get("oil", {}).values() for one in spans
    ):
        raise BadInput("What was worked out of the oil is not whole. Read the table again.")
    columns = {name: column for name, column in told.columns.items() if type(column) is int}
    if len(columns) != len(told.columns):
        raise BadInput("A column is a whole number. Read the table again.")
    units = {name: str(unit) for name, unit in told.units.items()}
    check_mapped(Mapped(columns, units), [str(one) for one in told.headings], facts.layout)
    for name, spans in told.series.items():
        if name not in columns or not isinstance(spans, str):
            raise BadInput(f'There is a series "{name}" and no such column.')
        held = spans.split()
        if len(held) > MOST_SPANS or not all(_SPAN.match(one) for one in held):
            raise BadInput(f'The series "{name}" cannot be read. Read the table again.')
    _check_found(told.found)


def _check_found(found: Mapping[str, Any]) -> None:
    """What was worked out has the shape that pages read it by, and lies in the flight."""
    if not _fits(found, _FOUND) or not found["span_s"] > 0:
        raise BadInput("What was worked out of the table is not whole. Read the table again.")


def _fits(value: object, shape: object) -> bool:
    """Whether a value has a shape: a type, a list of one shape, or a table of them.

    A key that ends in "?" may be missing; "*" stands for any key. No other key is one.
    """
    if isinstance(shape, list):
        return isinstance(value, list) and all(_fits(one, shape[0]) for one in value)
    if isinstance(shape, Mapping):
        if not isinstance(value, Mapping):
            return False
        if "*" in shape:
            return all(_fits(one, shape["*"]) for one in value.values())
        keys = {name.rstrip("?") for name in shape}
        needed = {name for name in shape if not name.endswith("?")}
        return needed <= set(value) <= keys and all(
            _fits(value[name.rstrip("?")], held)
            for name, held in shape.items()
            if name.rstrip("?") in value
        )
    if shape is float:
        return isinstance(value, (int, float)) and not isinstance(value, bool)
    assert isinstance(shape, type)
    return type(value) is shape


_OF_KIND = {
    "cylinders": {"*": {"usual": float, "most": float, "least": float}},
    "spread?": {"usual": float, "most": float, "at_s": float},
    "odd?": [{"cylinder": str, "by": float, "from_s": float, "for_s": float, "times": int}],
    "apart?": [{"cylinder": str, "by": float}],
}
_FOUND = {
    "span_s": float,
    "running_s": float,
    "every_s": float,
    "missing": {"*": int},
    "exhaust?": _OF_KIND,
    "head?": _OF_KIND,
    "checks?": [{"from_s": float, "for_s": float, "rpm": float, "rises": {"*": float}}],
    "oil?": {"*": [[float]]},
}
