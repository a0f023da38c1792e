"""The story and what comes due in a real browser: fit, axe, a tap on a reading, clean charts."""

from __future__ import annotations

from typing import Any

import pytest

from tests.browser.conftest import DEMO
from tests.browser.test_pages import misfits
from tests.trade.drawn import odds

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

S = f"/jobs/{DEMO}/story/"
PAGES = [S + "plug/K0413/", S + "plug/K0415/?chart=gap", S + "cylinder/3/", "/fleet/?within=all"]
OPEN_ALL = "() => document.querySelectorAll('details').forEach(d => { d.open = true; })"


@pytest.fixture
def board(board: Any, monkeypatch: pytest.MonkeyPatch) -> Any:
    """The live board, with the odds of the demo worked out once for all tests."""
    from rehang.book import outlook

    monkeypatch.setattr(outlook, "forecasts_of", lambda job, **more: odds())
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
