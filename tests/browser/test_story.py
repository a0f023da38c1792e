"""The story and what comes due in a real browser: fit, axe, a tap on a reading, clean charts."""

from __future__ import annotations

from typing import Any

import pytest
import vl_convert

from rehang.paper.chart_worker import VERSION
from rehang.paper.charts import chart_svg
from rehang.trade.drawn.chart_values import Sheet
from rehang.trade.drawn.charts import spec
from tests.browser.conftest import DEMO
from tests.browser.test_pages import misfits
from tests.trade.drawn import DEMO_CHARTS, demo_chart, odds

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

S = f"/jobs/{DEMO}/story/"
PAGES = [S + "plug/K0413/", S + "plug/K0415/?chart=gap", S + "cylinder/3/", "/fleet/?within=all"]
OPEN_ALL = "() => document.querySelectorAll('details').forEach(d => { d.open = true; })"

# Draws each specification with the viewer's own scripts; what is wrong with one is warned of.
DRAW = """async specs => {
  const place = document.body.appendChild(document.createElement('div'));
  for (const one of specs) {
    await vegaEmbed(place, one, { ast: true, actions: false, renderer: 'svg', logLevel: 2 });
  }
}"""


@pytest.fixture
def board(board: Any, monkeypatch: pytest.MonkeyPatch) -> Any:
    """The live board, with the odds of the demo worked out once for all tests."""
    from rehang.book import outlook

    monkeypatch.setattr(outlook, "forecasts_of", lambda job, **more: odds())
    # The first drawing waits for the drawing process.
    chart_svg(demo_chart("hose:HS3", "age"), Sheet(284, 360, 18, "page"))
    return board


def test_pages_fit_and_axe_finds_nothing(board: Any, scan: Any) -> None:
    page = board.open(PAGES[0], (1366, 768), "day")
    found = []
    for number, path in enumerate(PAGES):
        page.goto(board.url + path)
        found += misfits(page, path, OPEN_ALL)
        # Every page fits at every size; axe sees each at one of two, by turns.
        size = ((390, 844), (1366, 768))[number % 2]
        page.set_viewport_size({"width": size[0], "height": size[1]})
        found += [f"{size} {path} {line}" for line in scan(page)]
    assert found == []


def test_one_drawing_is_shown_and_a_tap_says_its_reading(board: Any) -> None:
    page = board.open(PAGES[0], (820, 1180))
    shown = (
        "() => [...document.querySelectorAll('.drawing')].filter(e => e.checkVisibility()).length"
    )
    assert page.evaluate(shown) == 1
    mark = page.locator(".drawing-tablet [data-part=points] [data-key]").last
    mark.scroll_into_view_if_needed()
    box = mark.bounding_box()
    page.touchscreen.tap(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    said = page.get_by_role("status").filter(has_text="4.80")
    assert said.inner_text() == "14 Oct 2026: 4.80 kΩ on AN-1, close call"
    # The light changes and the drawing with it, without a new one.
    ink = "() => getComputedStyle(document.querySelector('.drawing-tablet .stroke-ink')).stroke"
    day = page.evaluate(ink)
    page.get_by_role("button", name="DIM").click()
    assert page.evaluate(ink) != day


def test_no_specification_is_warned_of(browser: Any) -> None:
    page = browser.new_page()
    said: list[str] = []
    page.on("console", lambda one: said.append(one.text) if one.type != "info" else None)
    page.on("pageerror", lambda one: said.append(str(one)))
    page.add_script_tag(
        content=vl_convert.javascript_bundle("window.vegaEmbed = vegaEmbed;", vl_version=VERSION)
    )
    sheets = (Sheet(942, 396, 18, "day", 108), Sheet(284, 360, 20, "sun"))
    specs = [spec(demo_chart(*key), sheet) for key in DEMO_CHARTS for sheet in sheets]
    page.evaluate(DRAW, specs)
    assert said == []
    # A wrong one is warned of, so the test can see.
    specs[0]["layer"][0]["encoding"]["shape"] = {"field": "x", "type": "quantitative"}
    page.evaluate(DRAW, specs[:1])
    assert any("shape encoding should be discrete" in one for one in said)
    page.close()
