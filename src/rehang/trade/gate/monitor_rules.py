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

_SUM = re.compile(r"[0-9a-f]{64}\Z")
_SPAN = re.compile(r"-|-?\d+(\.\d)?/-?\d+(\.\d)?\Z")


def check_monitor(entry: Entry[MonitorRead], state: JobState, facts: JobFacts) -> None:
    """Whether a monitor's line says of its table what it has to: a sum, columns, and a whole series."""
    told = entry.fields
    if not _SUM.match(told.sha256) or told.table not in ("", f"{told.sha256}.csv"):
        raise BadInput("The table is not named by its sum. Read the table again.")
    if told.decimal not in (".", ","):
        raise BadInput('Decimals are written with "." or ",".', "decimal")
    if told.rows < 2 or told.size < 1:
        raise BadInput("A table of a flight has two rows at the least.")
    columns = {name: column for name, column in told.columns.items() if type(column) is int}
    if len(columns) != len(told.columns):
        raise BadInput("A column is a whole number. Read the table again.")
    units = {name: str(unit) for name, unit in told.units.items()}
    check_mapped(Mapped(columns, units), [str(one) for one in told.headings], facts.layout)
    for name, spans in told.series.items():
        if name not in columns or not isinstance(spans, str):
            raise BadInput(f'There is a series "{name}" and no such column.')
        if not all(_SPAN.match(one) for one in spans.split()):
            raise BadInput(f'The series "{name}" cannot be read. Read the table again.')
    _check_found(told.found)


def _check_found(found: Mapping[str, Any]) -> None:
    """Every figure in it is a number, and times lie in the flight."""
    span = found.get("span_s")
    if isinstance(span, bool) or not isinstance(span, (int, float)) or not span > 0:
        raise BadInput("What was worked out does not say how long it is. Read the table again.")
    for kind in ("exhaust", "head"):
        for one in (found.get(kind) or {}).get("odd", ()):
            if not {"cylinder", "by", "from_s", "for_s"} <= set(one):
                raise BadInput("What went its own way is not whole. Read the table again.")
    for one in found.get("checks", ()):
        if not {"from_s", "for_s", "rpm", "rises"} <= set(one):
            raise BadInput("A magneto check is not whole. Read the table again.")
