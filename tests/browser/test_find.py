"""Search, help and the first walk in a real browser: the head of every page, and what axe finds."""

from __future__ import annotations

from typing import Any

import pytest

from tests.browser.conftest import DEMO, MODES
from tests.browser.test_pages import misfits

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

J = f"/jobs/{DEMO}/"
PAGES = [
    f"/find/?q=gap&from={J}",
    f"/find/?from={J}tray/",
    f"{J}walk/",
    "/help/board/",
    "/help/run/",
]
OVER = """() => { const out = [];
  for (const e of document.querySelectorAll('.head > *')) {
    const r = e.getBoundingClientRect();
    if (!r.width) continue;
    for (const f of document.querySelectorAll('.head > *')) {
      const s = f.getBoundingClientRect();
      if (f !== e && s.width && r.right > s.left + 1 && r.left < s.right - 1
          && r.bottom > s.top + 1 && r.top < s.bottom - 1) out.push(e.className + ' over ' + f.className);
    } }
  return out; }"""


def test_axe_finds_nothing_and_nothing_is_too_small(board: Any, scan: Any) -> None:
    page = board.open(J)
    found = []
    for path in PAGES:
        page.goto(board.url + path)
        found += [f"{path} {line}" for line in scan(page)]
        found += misfits(page, path)
        page.set_viewport_size({"width": 390, "height": 844})
    assert found == []


@pytest.mark.parametrize("mode", MODES)
def test_the_head_of_a_phone_stays_low_and_nothing_in_it_overlaps(board: Any, mode: str) -> None:
    page = board.open(J, (320, 568), mode)
    for path in (J, f"{J}tray/", f"{J}rest/", f"{J}run/", "/?list", f"{J}tasks/D6/"):
        page.goto(board.url + path)
        for width in (320, 390):
            page.set_viewport_size({"width": width, "height": 844})
            height = page.locator(".head").bounding_box()["height"]
            assert 48 <= height <= 60, (path, width, height)
            assert page.evaluate("document.documentElement.scrollWidth") <= width, (path, width)
            assert page.evaluate(OVER) == [], (path, width)


def test_from_a_page_to_a_part_and_to_help_and_back(board: Any) -> None:
    page = board.open(f"{J}rest/")
    page.get_by_role("link", name="Search, and help with this page").click()
    assert page.get_by_role("heading", name="This page: Rest of the job").is_visible()
    page.get_by_label("Serial, task, limit, document, person, job").fill("k0412")
    page.get_by_role("button", name="FIND").click()
    page.get_by_role("link", name="Plug K0412").first.click()
    page.wait_for_url("**/plugs/K0412/")
    page = board.open(f"{J}rest/", (1180, 820))
    page.get_by_role("link", name="Help with this page").click()
    page.get_by_role("link", name="BACK", exact=True).click()
    page.wait_for_url("**/rest/")
    page.get_by_role("searchbox").fill("D6")
    page.get_by_role("searchbox").press("Enter")
    page.get_by_role("link", name="D6 Plug gaps").first.wait_for()
