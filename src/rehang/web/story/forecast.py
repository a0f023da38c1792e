"""Keep or renew: every part that has odds, in one table."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from rehang.book import outlook
from rehang.trade.job.judging import JudgedJob
from rehang.trade.life.forecast import Forecasts
from rehang.trade.life.keep_or_renew import KeepOrRenew, keep_or_renew
from rehang.trade.telling.sheet_parts import status_name
from rehang.trade.terms.wording import listed
from rehang.trade.work.names import item_label
from rehang.web.shared.desk import Desk, job_page, page

__all__ = ["ForecastRow", "forecast", "forecast_rows"]


@dataclass(frozen=True, slots=True)
class ForecastRow:
    """One part: what keeping and renewing cost, how often it goes out, what would change it."""

    item: str
    label: str
    verdict: str
    mark: str
    cheaper: str
    keep: str
    renew: str
    chance: str
    change: str
    sentence: str


@require_safe
@job_page
def forecast(request: HttpRequest, desk: Desk) -> HttpResponse:
    """What each part comes to by the next opening, the likeliest to go first."""
    found = outlook.forecasts_of(desk.job, person=desk.key)
    rows = forecast_rows(desk.judged, found)
    return page(
        request,
        desk,
        "story/forecast",
        current="engine",
        rows=[row for row in rows if row.chance],
        without=[row for row in rows if not row.chance],
        opening=found.opening,
        hints=list(dict.fromkeys(h for one in _choices(desk.judged, found) for h in one.hints)),
    )


def _choices(judged: JudgedJob, found: Forecasts) -> list[KeepOrRenew]:
    known = {one.item for one in judged.items}
    items = dict.fromkeys(one.item for one in found.outlooks if one.item in known)
    return [keep_or_renew(judged, found, item) for item in items]


def forecast_rows(judged: JudgedJob, found: Forecasts) -> list[ForecastRow]:
    """A row for each part that a forecast speaks of, the likeliest to go first."""
    choices = sorted(_choices(judged, found), key=lambda one: -(one.chance or 0.0))
    return [_row(judged, one) for one in choices]


def _row(judged: JudgedJob, one: KeepOrRenew) -> ForecastRow:
    money = judged.facts.shop.currency

    def price(amount: float | None) -> str:
        return f"{money}{amount:,.0f}" if amount is not None else ""

    return ForecastRow(
        item=one.item,
        label=item_label(judged.facts, one.item),
        verdict=one.verdict,
        mark=status_name(one.verdict),
        cheaper=one.cheaper,
        keep=price(one.keeping),
        renew=price(one.renewing),
        chance=_times(one.chance),
        change=_change(one),
        sentence=one.sentence,
    )


def _times(chance: float | None) -> str:
    """Times in 100, claiming no more than a few openings can carry."""
    if chance is None:
        return ""
    if chance > 0.99 or chance < 0.01:
        return "over 99" if chance > 0.99 else "under 1"
    return f"{chance * 100:.0f}"


def _change(one: KeepOrRenew) -> str:
    """What would change the answer."""
    said = []
    if one.verdict in ("NOT YET", "REWORK"):
        said.append("its verdict first")
    if one.missing:
        said.append(f"{listed(one.missing)} on file")
    if one.flips_at is not None:
        other = "renew above" if one.cheaper == "keep" else "keep below"
        said.append(f"{other} {one.flips_at * 100:.0f} in 100")
    return "; ".join(said)
