"""The forecast of one check from now to the next opening, for drawing."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.state import item_kind
from rehang.trade.life.fits import as_read
from rehang.trade.life.forecast import Forecasts, check_of, span_words, start_of

__all__ = ["FanAt", "fan_of", "fan_words"]


@dataclass(frozen=True, slots=True)
class FanAt:
    """The forecast at one time: ``hours`` on the clock of the series, quantiles in base steps."""

    hours: float
    middle: float
    low50: float
    high50: float
    low80: float
    high80: float
    low90: float
    high90: float


def fan_of(
    found: Forecasts,
    judged: JudgedJob,
    item: str,
    check: str,
    *,
    steps: int = 4,
    until: date | None = None,
) -> tuple[FanAt, ...]:
    """The forecast of one check from now to the next opening, for drawing.

    Empty where there is no forecast.
    """
    outlook = next(iter(found.of(item, check)), None)
    fit = found.fits.get((item_kind(item), check))
    if outlook is None or outlook.standing != "forecast" or fit is None or fit.growth is None:
        return ()
    series = fit.series[item]
    last = series.trend[-1]
    start = start_of(judged, series, last, check_of(judged, series), until)
    fan = []
    for step in range(steps + 1):
        ahead = start.since_last + found.opening.hours * step / steps
        at = fit.growth.at(
            item,
            ahead,
            strays=False,
            set_to=start.set_to,
            set_variance=start.set_variance,
        )
        spans = [sorted(as_read(series, v) for v in at.interval(p)) for p in (0.5, 0.8, 0.9)]
        assert last.hours is not None
        fan.append(
            FanAt(
                hours=last.hours + ahead,
                middle=as_read(series, at.median),
                low50=spans[0][0],
                high50=spans[0][1],
                low80=spans[1][0],
                high80=spans[1][1],
                low90=spans[2][0],
                high90=spans[2][1],
            )
        )
    return tuple(fan)


def fan_words(found: Forecasts, judged: JudgedJob, item: str, check: str) -> str:
    """Why the forecast does not start at the last reading; empty where it does, or is set anew."""
    outlook = next(iter(found.of(item, check)), None)
    fan = fan_of(found, judged, item, check, steps=1)
    if outlook is None or outlook.set_to is not None or not fan:
        return ""
    series = found.fits[(item_kind(item), check)].series[item]
    last = series.trend[-1]
    if last.value is None or last.hours != fan[0].hours:
        return ""
    if fan[0].low80 <= last.value <= fan[0].high80:
        return ""
    said = (
        f"The forecast starts at {series.show(fan[0].middle)}, where the openings before point, "
        f"and not at the {last.text} read"
    )
    if last.meter and last.low is not None and last.high is not None:
        said += f": on {last.meter} that may be {span_words(series, last.low, last.high)}"
    return f"{said}."
