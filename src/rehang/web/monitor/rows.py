"""A monitor's tables as pages show them: their columns to confirm, their charts, what they ask."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from rehang.decode.flights import FlightHead
from rehang.trade.drawn.chart_values import Chart, Sheet
from rehang.trade.drawn.charts import chart_svg
from rehang.trade.drawn.monitor_charts import cylinder_chart, oil_chart
from rehang.trade.facts.layout import Layout
from rehang.trade.facts.monitor_columns import (
    CLOCKS,
    EXHAUST,
    HEAD,
    OIL_PRESSURE,
    OIL_TEMPERATURE,
    UNITS,
    channel_words,
    channels_of,
    guessed,
)
from rehang.trade.job.judging import JudgedJob
from rehang.trade.run.monitor_told import Asked, asked_of, monitors_of, told_of
from rehang.trade.telling.sheet_parts import status_name
from rehang.trade.terms.entries import Entry
from rehang.trade.terms.kinds.monitor import MonitorRead
from rehang.trade.terms.wording import at_time, upper_first

__all__ = [
    "ColumnRow",
    "CylinderRow",
    "ItemMonitor",
    "MonitorPage",
    "column_rows",
    "list_rows",
    "monitor_page",
    "of_cylinder",
]

# Widths in pixels that a chart is drawn at; the page shows the wider one where it fits.
_WIDTHS = (("narrow", 284), ("phone", 342))
_HIGH = 176


@dataclass(frozen=True, slots=True)
class ColumnRow:
    """One column of a table: its heading, its first cells, and what may be said of it."""

    number: int
    heading: str
    sample: str
    channels: tuple[tuple[str, str, bool], ...]
    units: tuple[tuple[str, bool], ...]
    unit_said: str
    is_left_out: bool


@dataclass(frozen=True, slots=True)
class ListRow:
    """One table in the list of a job."""

    id: str
    of: str
    words: str
    mark: str
    asks: int


@dataclass(frozen=True, slots=True)
class PlugRow:
    """A plug of a cylinder: where it is, its serial and verdict."""

    place: str
    item: str
    name: str
    verdict: str
    mark: str


@dataclass(frozen=True, slots=True)
class CylinderRow:
    """One cylinder: its charts, what is asked of it, its plugs and its compression."""

    name: str
    item: str
    pictures: tuple[tuple[tuple[str, str], ...], ...]
    asked: Asked | None
    plugs: tuple[PlugRow, ...]
    compression: str
    mark: str


@dataclass(frozen=True, slots=True)
class MonitorPage:
    """One table: what it says, the cylinders it asks about and the others, its oil, how it was read."""

    id: str
    of: str
    said: tuple[str, ...]
    asked: tuple[CylinderRow, ...]
    others: tuple[CylinderRow, ...]
    oil: tuple[tuple[tuple[str, str], ...], ...]
    source: tuple[str, ...]
    kept: str


@dataclass(frozen=True, slots=True)
class ItemMonitor:
    """What a job's last table shows of one cylinder, for the page of that cylinder."""

    id: str
    of: str
    row: CylinderRow


def column_rows(
    head: FlightHead,
    layout: Layout,
    learnt: Mapping[int, tuple[str, str]],
    posted: Mapping[int, tuple[str, str]] | None,
) -> tuple[ColumnRow, ...]:
    """Each column with what was said of it: as posted, as learnt before, else as its heading looks."""
    rows = []
    taken: set[str] = set()
    for number, heading in enumerate(head.headings):
        guess = guessed(heading, layout)
        unit = head.units[number] or head.clocks[number]
        channel = guess.channel
        if number in learnt:
            channel, unit_before = learnt[number]
            unit = unit or unit_before
        elif learnt or channel in taken:
            channel = ""
        if posted is not None:
            channel, said = posted.get(number, ("", ""))
            unit = said or unit
        taken |= {channel} - {""}
        rows.append(
            ColumnRow(
                number=number,
                heading=heading or f"column {number + 1}",
                sample=", ".join(row[number] for row in head.samples if number < len(row)),
                channels=tuple(
                    (one, upper_first(channel_words(one)), one == channel)
                    for one in channels_of(layout)
                ),
                units=tuple((one, one == unit) for one in _all_units()),
                unit_said=head.units[number] or head.clocks[number],
                is_left_out=not channel,
            )
        )
    return tuple(rows)


def _all_units() -> tuple[str, ...]:
    return (*dict.fromkeys(one for held in UNITS.values() for one in held), *CLOCKS)


def list_rows(judged: JudgedJob) -> tuple[ListRow, ...]:
    """The tables of a job, the newest first."""
    found = []
    for one in reversed(monitors_of(judged.state)):
        asks = sum(a.is_open for a in asked_of(one, judged.state, judged.facts))
        found.append(
            ListRow(
                id=one.id,
                of=one.fields.of,
                words=f"{one.fields.rows:,} rows, {at_time(one.at)}, {judged.facts.person(one.by)}",
                mark="not-yet" if asks else "within",
                asks=asks,
            )
        )
    return tuple(found)


def monitor_page(judged: JudgedJob, entry: Entry[MonitorRead], text: int) -> MonitorPage:
    """The page of one table; ``text`` is the size of type on its charts."""
    told = entry.fields
    rows = list(_cylinders(judged, entry, text))
    return MonitorPage(
        id=entry.id,
        of=told.of,
        said=told_of(told),
        asked=tuple(row for row in rows if row.asked is not None),
        others=tuple(row for row in rows if row.asked is None),
        oil=tuple(
            _drawn(chart, text)
            for name in (OIL_PRESSURE, OIL_TEMPERATURE)
            if (chart := oil_chart(told, name)) is not None
        ),
        source=(
            f"{told.file}, {told.rows:,} rows, {told.size:,} bytes; method {told.by_method}.",
            f"SHA-256 {told.sha256}",
            *(
                f"{upper_first(channel_words(name))}: column “{told.headings[column]}”, "
                f"{told.units[name]}"
                for name, column in told.columns.items()
            ),
        ),
        kept=told.table,
    )


def _cylinders(judged: JudgedJob, entry: Entry[MonitorRead], text: int) -> Iterator[CylinderRow]:
    asked = {one.cylinder: one for one in asked_of(entry, judged.state, judged.facts)}
    for cylinder in judged.facts.layout.cylinders:
        row = _cylinder(judged, entry, str(cylinder), asked.get(str(cylinder)), text)
        if row.pictures:
            yield row


def _cylinder(
    judged: JudgedJob, entry: Entry[MonitorRead], name: str, asked: Asked | None, text: int
) -> CylinderRow:
    charts = [cylinder_chart(entry.fields, kind, name, asked) for kind in (EXHAUST, HEAD)]
    item = next((one for one in judged.items if one.item == f"cylinder:{name}"), None)
    pressure = item.call("compression") if item is not None else None
    return CylinderRow(
        name=name,
        item=item.item if item is not None else "",
        pictures=tuple(_drawn(chart, text) for chart in charts if chart is not None),
        asked=asked,
        plugs=tuple(_plugs(judged, name)),
        compression=""
        if pressure is None
        else ", ".join(one for one in (pressure.reading, pressure.call.lower()) if one),
        mark=status_name(pressure.call) if pressure is not None else "",
    )


def _plugs(judged: JudgedJob, cylinder: str) -> Iterator[PlugRow]:
    layout = judged.facts.layout
    for hole in layout.walk:
        if str(layout.cylinder_of(hole)) != cylinder:
            continue
        held = judged.at(hole)
        if held is not None:
            yield PlugRow(hole, held.item, held.name, held.verdict, status_name(held.verdict))


def _drawn(chart: Chart, text: int) -> tuple[tuple[str, str], ...]:
    return tuple(
        (name, chart_svg(chart, Sheet(width, _HIGH, text, "page"))) for name, width in _WIDTHS
    )


def of_cylinder(judged: JudgedJob, cylinder: str, text: int) -> ItemMonitor | None:
    """What the newest table shows of a cylinder; None where there is no table, or not of it."""
    for entry in reversed(monitors_of(judged.state)):
        asked = next(
            (a for a in asked_of(entry, judged.state, judged.facts) if a.cylinder == cylinder), None
        )
        row = _cylinder(judged, entry, cylinder, asked, text)
        if row.pictures:
            return ItemMonitor(entry.id, entry.fields.of, row)
    return None
