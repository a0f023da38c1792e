"""The story of any item: its chart, its table, its odds and all that happened to it."""

from __future__ import annotations

import json
from dataclasses import asdict

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_safe

from rehang.book import outlook
from rehang.paper.story import chart_sheet
from rehang.paper.story import story_pdf as paper_story_pdf
from rehang.trade.drawn.chart_values import Chart, Sheet
from rehang.trade.drawn.charts import chart_svg
from rehang.trade.drawn.item_charts import chart_of_check, checks_of
from rehang.trade.life.forecast import Forecasts
from rehang.trade.life.keep_or_renew import keep_or_renew
from rehang.trade.life.story_values import OIL, PartStory
from rehang.trade.life.watch import watch
from rehang.trade.terms.errors import BadInput
from rehang.web.item import rows as item_rows
from rehang.web.shared.desk import Desk, job_page, page
from rehang.web.shared.paper import paper_size, pdf_answer
from rehang.web.shared.templatetags.bench import bench_mode
from rehang.web.story import rows as story_rows

# The width of a chart that is taken away as a file.
_FILE = Sheet(942, 396, 18, "print")


@require_safe
@job_page
def part_story(request: HttpRequest, desk: Desk, kind: str, name: str) -> HttpResponse:
    """A part's story, with the chart of the check that tells most or of the one asked for."""
    told = _told(desk, f"{kind}:{name}")
    found = _forecasts(desk)
    checks = checks_of(told, desk.judged)
    check = _check(request, checks)
    mode = bench_mode({"request": request}).name
    drawn = None
    tag = story_rows.story_tag(told, desk.judged)
    heading = tag.reason or "Nothing of it has a figure yet."
    if check:
        chart, table = story_rows.story_chart(told, check, desk.judged, found, mode)
        heading = story_rows.heading(told, check, chart)
        drawn = {"table": table, "svgs": _drawings(chart, mode), "chart": chart}
    outlook = next(iter(found.of(told.item, check)), None) if check else None
    verdict = told.verdict
    return page(
        request,
        desk,
        "story/story",
        current="tray" if kind == "plug" else "engine",
        told=told,
        tag=tag,
        heading=heading,
        odds=story_rows.outlook_words(outlook, verdict, found, desk.judged),
        outlook=outlook,
        checks=checks if len(checks) > 1 else [],
        check=check,
        drawn=drawn,
        alarms=story_rows.alarm_words(watch(desk.judged, found), told.item),
        choice=keep_or_renew(desk.judged, found, told.item) if verdict is not None else None,
        due=story_rows.due_words(desk.judged, told.item),
        flights=story_rows.flight_rows(told, desk.judged.facts.layout),
        events=story_rows.event_rows(told, desk.judged.facts.job),
        read_on=_read_on(desk, told),
        part_page=_part_page(desk, told),
    )


def _told(desk: Desk, item: str) -> PartStory:
    """The story over every job of the person that knows the item."""
    return outlook.story_of(desk.job, item, person=desk.key)


def _forecasts(desk: Desk) -> Forecasts:
    return outlook.forecasts_of(desk.job, person=desk.key)


def _check(request: HttpRequest, checks: list[tuple[str, str]]) -> str:
    names = [name for name, _ in checks]
    wanted = request.GET.get("chart", "")
    return wanted if wanted in names else names[0] if names else ""


def _drawings(chart: Chart, mode: str) -> list[tuple[str, str]]:
    """The chart in each width, of which the page shows one."""
    # Our own drawing: what people wrote in it was escaped when it was drawn.
    return [(name, mark_safe(chart_svg(chart, sheet))) for name, sheet in story_rows.sheets(mode)]  # noqa: S308


def _read_on(desk: Desk, told: PartStory) -> tuple[str, str]:
    """Address and words of the reading that would settle a close call."""
    if told.verdict is None:
        return "", ""
    check, meter = item_rows.settling(desk.judged, told.verdict)
    if not check:
        return "", ""
    where = reverse("web:read", args=[desk.job.slug, told.kind, told.name, check])
    return f"{where}?meter={meter}", f"READ ON {meter}"


def _part_page(desk: Desk, told: PartStory) -> str:
    if told.item == OIL:
        return reverse("web:oil", args=[desk.job.slug])
    if told.verdict is None:
        return ""
    return reverse("web:item", args=[desk.job.slug, told.kind, told.name])


def _chart_of(request: HttpRequest, desk: Desk, item: str) -> Chart:
    told = _told(desk, item)
    check = _check(request, checks_of(told, desk.judged))
    if not check:
        raise BadInput(f"Nothing of {told.name} has been measured yet, so there is no chart.")
    return chart_of_check(told, check, desk.judged, _forecasts(desk))


@require_safe
@job_page
def chart_file(request: HttpRequest, desk: Desk, kind: str, name: str, form: str) -> HttpResponse:
    """The chart as a drawing in black, or as the values that it is drawn from."""
    chart = _chart_of(request, desk, f"{kind}:{name}")
    if form == "svg":
        answer = HttpResponse(chart_svg(chart, _FILE), content_type="image/svg+xml")
    else:
        values = asdict(chart)
        del values["show"]
        made = json.dumps(values, ensure_ascii=False, indent=1)
        answer = HttpResponse(made, content_type="application/json")
    answer["Content-Disposition"] = f'attachment; filename="{kind}-{name}.{form}"'
    return answer


@require_safe
@job_page
def story_pdf(request: HttpRequest, desk: Desk, kind: str, name: str) -> HttpResponse:
    """The story on paper, with the chart of the check asked for."""
    told = _told(desk, f"{kind}:{name}")
    found = _forecasts(desk)
    check = _check(request, checks_of(told, desk.judged))
    size = paper_size(request)
    chart = table = None
    heading = "Nothing of it has been measured yet."
    if check:
        chart = chart_of_check(told, check, desk.judged, found)
        outlook = next(iter(found.of(told.item, check)), None)
        table = story_rows.table_of(chart, told, check, desk.judged, outlook, chart_sheet(size))
        heading = story_rows.heading(told, check, chart)
    made = paper_story_pdf(
        story_rows.story_sheet(told, desk.judged, found, check, heading, table),
        chart,
        size=size,
        printed_at=desk.now(),
    )
    return pdf_answer(made, f"{desk.job.slug}-{name}-story-{desk.today().isoformat()}.pdf")
