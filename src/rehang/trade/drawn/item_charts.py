"""Which checks of an item have a chart, and the chart of one of them."""

from __future__ import annotations

from collections.abc import Sequence

from rehang.trade.drawn.chart_values import Chart, ChartBand, Fan
from rehang.trade.drawn.story_charts import age_chart, chart_of
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.fitting import hose_dates
from rehang.trade.known.state import item_kind
from rehang.trade.life.fans import FanAt, fan_of
from rehang.trade.life.forecast import Forecasts
from rehang.trade.life.story_values import HOURS_PER_QUART, OIL, PartStory, Series
from rehang.trade.terms.errors import BadInput

__all__ = ["chart_of_check", "checks_of"]


def checks_of(told: PartStory, judged: JudgedJob) -> list[tuple[str, str]]:
    """Name and label of each check that has a chart, the telling one first.

    The call that is the trouble tells most; of the oil what has risen most.
    """
    # What was only written in words has no place on an axis; the events below tell it.
    shown = [
        one
        for one in told.series
        if any(p.counts or p.opened for p in one.points)
        and any((p.value is not None or p.opened) and not p.struck for p in one.points)
    ]
    verdict = told.verdict
    order = {"OUT": 0, "CLOSE CALL": 1}
    if told.item == OIL:
        shown.sort(key=lambda one: (one.check == HOURS_PER_QUART, -_times(one)))
    elif verdict is not None:
        calls = {call.check: order.get(call.call, 2) for call in verdict.calls}
        shown.sort(key=lambda one: (calls.get(one.check, 2), -len(one.trend)))
    found = [(one.check, one.label) for one in shown]
    hose = hose_dates(told.name, judged.facts, judged.state) if told.kind == "hose" else None
    if hose is not None and hose.fitted_on is not None:
        found.insert(0, ("age", "Age"))
    return found


def _times(series: Series) -> float:
    values = [float(p.value) for p in series.trend if p.value]
    return values[-1] / values[0] if len(values) > 1 else 0.0


def _fan_from(found: Sequence[FanAt], series: Series) -> Fan | None:
    """The forecast in the unit of the chart; None when there is none."""
    if len(found) < 2:
        return None
    quantity = series.quantity
    scale = float(quantity.units[quantity.keyed]) if quantity is not None else 1.0
    return Fan(
        middle=tuple((one.hours, one.middle / scale) for one in found),
        bands={
            50: tuple(ChartBand(one.hours, one.low50 / scale, one.high50 / scale) for one in found),
            80: tuple(ChartBand(one.hours, one.low80 / scale, one.high80 / scale) for one in found),
            90: tuple(ChartBand(one.hours, one.low90 / scale, one.high90 / scale) for one in found),
        },
    )


def chart_of_check(
    told: PartStory, check: str, judged: JudgedJob, found: Forecasts | None, sentence: str = ""
) -> Chart:
    """The chart of one check of a story, with its fellows and its forecast.

    Raises
    ------
    BadInput
        There is no such check, or nothing of it can be drawn.
    """
    if check == "age" and told.verdict is not None:
        return age_chart(told.verdict, judged)
    series = told.of(check)
    if series is None:
        raise BadInput(f'There is no series "{check}" in the story of {told.name}.')
    fit = found.fits.get((item_kind(told.item), check)) if found is not None else None
    fellows = tuple(fit.series.values()) if fit is not None and told.item != OIL else ()
    fan = fan_of(found, judged, told.item, check) if found is not None else ()
    return chart_of(series, judged, fellows=fellows, fan=_fan_from(fan, series), sentence=sentence)
