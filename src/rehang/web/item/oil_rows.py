"""The oil of an engine: what its samples say together, and which are awaited."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from rehang.trade.drawn.chart_values import ChartLimit
from rehang.trade.drawn.item_charts import chart_of_check
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.state import OIL_RISE
from rehang.trade.life.history import story
from rehang.trade.life.oil_trend import ACCUSED, OilTrend, oil_asks, oil_trend
from rehang.trade.life.story_values import OIL
from rehang.trade.telling.sentences import bottle_words
from rehang.web.item.rows import OddFlag, closed_flag, small_drawings

__all__ = ["OilTable", "bottles", "oil_table"]


# As many elements are drawn; the table has the others.
_DRAWN = 5
_HIGH = 136


@dataclass(frozen=True, slots=True)
class OilChart:
    """One element over its samples, against what accuses it; ``last`` is how often its baseline."""

    element: str
    last: str
    words: str
    is_accused: bool
    pictures: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class OilTable:
    """The oil series as a table: what the mass balance makes of it, and what the report said."""

    sentences: tuple[str, ...]
    heads: tuple[str, ...]
    rows: tuple[tuple[str, str, str, str, tuple[tuple[str, str, str], ...], str], ...]
    charts: tuple[OilChart, ...]
    flag: OddFlag | None = None

    @property
    def rising(self) -> str:
        """The elements that rose beyond their baseline."""
        return ", ".join(one.element for one in self.charts if one.is_accused)


def oil_table(judged: JudgedJob, text: int) -> OilTable | None:
    """The oil trend of a job, or nothing when no sample is on file; ``text`` is the charts' type."""
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
                    element,
                    row.worked_out(element) if element in row.made else "not reported",
                    row.reported(element) if element in row.raw else "",
                )
                for element in elements
            ),
            row.flag,
        )
        for row in trend.rows
    )
    charts = tuple(_charts(judged, trend, text))
    flag = _oil_flag(judged, trend)
    return OilTable(trend.sentences, tuple(elements), rows, charts, flag)


def _charts(judged: JudgedJob, trend: OilTrend, text: int) -> Iterator[OilChart]:
    """The elements that rose most, each with what its samples can tell and its own limit."""
    told = story(judged, OIL)
    for one in sorted(trend.elements, key=lambda e: (not e.is_accused, -e.times))[:_DRAWN]:
        series = told.of(one.element)
        if series is None or len(series.trend) < 2:
            continue
        chart = chart_of_check(told, one.element, judged, None)
        bound = ACCUSED * one.baseline
        limit = ChartLimit(bound, f"{ACCUSED:g} × = {chart.show(round(bound, 1))}", "", upper=True)
        yield OilChart(
            element=one.element,
            last=f"{one.times:.1f} ×",
            words=one.source,
            is_accused=one.is_accused,
            pictures=tuple(small_drawings(replace(chart, limits=(limit,)), text, _HIGH)),
        )


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
