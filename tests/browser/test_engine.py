"""The engine page and the pages of its items in a real browser."""

from __future__ import annotations

from typing import Any

import pytest

from tests.browser.conftest import DEMO
from tests.browser.test_pages import misfits

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

J = f"/jobs/{DEMO}/"
PAGES = [
    J + "engine/", J + "engine/?show=not-inspected", J + "engine/oil/", J + "items/cylinder/3/",
    J + "items/filter/oil/", J + "items/cylinder/3/write/", J + "items/cylinder/3/read/compression/",
    J + "items/lead/2B/read/leak/",
]  # fmt: skip

OPEN_ALL = "() => document.querySelectorAll('details').forEach(d => { d.open = true; })"


def test_nothing_scrolls_sideways_and_every_target_is_large_enough(board: Any) -> None:
    page = board.open(J)
    found = []
    for path in PAGES:
        page.goto(board.url + path)
        found += misfits(page, path, OPEN_ALL)
    assert found == []


# The third light differs by tokens alone, and the other pages are scanned in it; what a size changes
# does not change with the light.
@pytest.mark.parametrize(("mode", "size"), [("dim", (390, 844)), ("sun", (1366, 768))])
def test_axe_finds_nothing(board: Any, scan: Any, mode: str, size: tuple[int, int]) -> None:
    found = []
    page = board.open(J, size, mode)
    for path in PAGES:
        page.goto(board.url + path)
        page.evaluate(OPEN_ALL)
        found += [f"{size} {path} {line}" for line in scan(page)]
    assert found == []


def test_any_item_is_two_taps_from_the_engine_page(board: Any) -> None:
    page = board.open(J + "engine/")
    page.locator("#g-cylinders > summary").click()
    page.get_by_role("link", name="Cylinder 3").click()
    page.wait_for_url("**/items/cylinder/3/")
    assert page.get_by_role("heading", level=1).inner_text() == "Cylinder 3"
