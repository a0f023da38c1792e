"""The oil of an engine: what its samples say together, and which are awaited."""

from __future__ import annotations

from dataclasses import dataclass

from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.state import OIL_RISE
from rehang.trade.life.oil_trend import OilTrend, oil_asks, oil_trend
from rehang.trade.telling.sentences import bottle_words
from rehang.web.item.rows import OddFlag, closed_flag

__all__ = ["OilTable", "bottles", "oil_table"]


@dataclass(frozen=True, slots=True)
class OilTable:
    """The oil series as a table: what the mass balance makes of it, and what the report said."""

    sentences: tuple[str, ...]
    heads: tuple[str, ...]
    rows: tuple[tuple[str, str, str, str, tuple[tuple[str, str], ...], str], ...]
    times: tuple[tuple[str, str, bool], ...]
    flag: OddFlag | None = None


def oil_table(judged: JudgedJob) -> OilTable | None:
    """The oil trend of a job, or nothing when no sample is on file."""
    trend = oil_trend(judged)
    if trend is None:
        return None
    elements = [one.element for one in trend.elements] or _reported(trend)
    rows = tuple(
        (
            row.on,
            f"{row.engine_hours:,.1f}",
            f"{row.oil_hours:g}",
            f"{row.hours_per_quart:.1f}" if row.hours_per_quart else "none added",
            tuple(
                (
                    row.worked_out(element) if element in row.made else "not reported",
                    row.reported(element) if element in row.raw else "",
                )
                for element in elements
            ),
            row.flag,
        )
        for row in trend.rows
    )
    times = tuple(
        (one.element, f"{one.times:.1f} × its baseline: {one.source}", one.is_accused)
        for one in trend.elements
    )
    return OilTable(trend.sentences, tuple(elements), rows, times, _oil_flag(judged, trend))


def _oil_flag(judged: JudgedJob, trend: OilTrend) -> OddFlag | None:
    """What the last sample asks a person to decide, open or closed."""
    key = f"{OIL_RISE}{trend.rows[-1].entry}"
    asked = [one for one in oil_asks(judged) if one.about == key]
    if asked:
        return OddFlag(key, asked[0].sentence, "")
    return closed_flag(judged, key)


def bottles(judged: JudgedJob) -> list[tuple[str, str]]:
    """Samples whose laboratory figures are awaited: the entry's id and words for it."""
    return [
        (entry.id, bottle_words(entry.fields))
        for one in judged.state.items.values()
        for entry in one.bottles
    ]


def _reported(trend: OilTrend) -> list[str]:
    return list(dict.fromkeys(element for row in trend.rows for element in row.raw))
