"""Every warning of a job: those of its series (:mod:`rehang.trade.life.alarms`) and failures in the making.

A warning decides nothing: a limit and a person do.
"""

from __future__ import annotations

from rehang.trade.job.judging import JudgedJob
from rehang.trade.life.alarms import Alarm, alarms_of
from rehang.trade.life.forecast import LIKELY_OUT, Forecasts, Outlook, chance_words
from rehang.trade.life.oil_trend import oil_trend
from rehang.trade.life.story_values import OIL
from rehang.trade.telling.sentences import item_as_said

__all__ = ["watch"]


def watch(judged: JudgedJob, found: Forecasts) -> tuple[Alarm, ...]:
    """Every warning of a job, check by check."""
    present = {one.item for one in judged.items} | {OIL}
    alarms: list[Alarm] = []
    trend = oil_trend(judged)
    # What the laboratory alone can make is shown with the oil, and accuses nothing.
    quiet = {one.element for one in (trend.elements if trend else ()) if not one.is_accused}
    for fit in found.fits.values():
        for one in alarms_of(fit):
            is_quiet = one.item == OIL and one.check in quiet
            if (one.item in present or one.kind == "meter") and not is_quiet:
                alarms.append(one)
    alarms += [alarm for one in found.outlooks if (alarm := _limit(one)) is not None]
    return tuple(alarms)


# A failure in the making


def _limit(one: Outlook) -> Alarm | None:
    """More likely than not past its limit by the next opening.

    What is set anew at each service is not ended by its limit, and is left to the other warnings.
    """
    if one.standing != "forecast" or one.chance_inside is None or not one.ends_it:
        return None
    if one.chance_inside >= LIKELY_OUT:
        return None
    return Alarm(
        kind="limit",
        item=one.item,
        check=one.check,
        sentence=(
            f"{one.label} of {item_as_said(one.item)} is a failure in the making: {one.now_text} now, "
            f"inside the limit ({one.limit_words}) at the next opening ({one.opening.hours:.0f} h) "
            f"{chance_words(one.chance_inside)}. Of parts warned of so, at most half would have "
            "lasted."
        ),
        false_alarm=one.chance_inside,
    )
