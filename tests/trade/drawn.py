"""The charts of the demo, worked out once for the tests that look at them."""

from __future__ import annotations

from datetime import date
from functools import cache

from rehang.sheets import demo_path
from rehang.sheets.folder import read_folder
from rehang.trade.drawn.chart_values import Chart
from rehang.trade.drawn.item_charts import chart_of_check
from rehang.trade.job.judging import JudgedJob, judge
from rehang.trade.life.forecast import Forecasts, forecasts
from rehang.trade.life.history import story

# What the demo speaks of, and what of a chart each must show.
ALWAYS = {"line", "points", "labels"}
DEMO_CHARTS = {
    ("plug:K0412", "resistance"): {"limit", "usual", "close-call", "fellows", "breaks", "bars"},
    ("plug:K0413", "resistance"): {
        "limit", "usual", "close-call", "fellows", "breaks", "fan", "other", "bars",
    },
    ("plug:K0415", "gap"): {"limit", "usual", "fellows", "breaks", "fan", "bars"},
    ("cylinder:3", "compression"): {"limit", "usual", "close-call", "fellows", "fan", "bars"},
    ("oil:engine", "Fe"): {"fan", "bars"},
    ("oil:engine", "Ni"): {"fan", "bars"},
    ("hose:HS3", "age"): {"limit", "breaks"},
}  # fmt: skip


@cache
def demo() -> JudgedJob:
    folder = read_folder(demo_path("four"))
    return judge(folder.facts, folder.entries, None, folder.where, today=date(2026, 10, 21))


@cache
def odds() -> Forecasts:
    return forecasts(demo())


@cache
def demo_chart(item: str, check: str) -> Chart:
    return chart_of_check(story(demo(), item), check, demo(), odds())
