"""The rest of the job in a real browser: a hole chased by taps, ticks, what fits, what axe finds."""

from __future__ import annotations

from typing import Any

import pytest

from tests.browser.conftest import DEMO
from tests.browser.test_pages import misfits
from tests.pins import PIN

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

J = f"/jobs/{DEMO}/"
PAGES = [
    J + "rest/", J + "tasks/C6/", J + "tasks/F2/", J + "tasks/G1/", J + "rest/bench/",
    J + "rest/handover/", J + "rest/parts/", J + "rest/owner/", J + "rest/rotation/",
]  # fmt: skip


def test_pages_fit_and_axe_finds_nothing(board: Any, scan: Any) -> None:
    page = board.open(J, (390, 844))
    found = []
    for number, path in enumerate(PAGES):
        mode = ("day", "dim", "sun")[number % 3]
        page.context.add_cookies([{"name": "mode", "value": mode, "url": board.url}])
        page.goto(board.url + path)
        found += misfits(page, path)
        # Every page fits at every size; axe sees each at one of two, by turns.
        size = ((390, 844), (1366, 768))[number % 2]
        page.set_viewport_size({"width": size[0], "height": size[1]})
        found += [f"{path} {line}" for line in scan(page)]
    assert found == []


def test_a_hole_is_chased_by_taps_and_the_looker_is_not_the_doer(board: Any, scan: Any) -> None:
    page = board.open(J)
    page.get_by_role("link", name="Hole threads").first.click()
    page.wait_for_url("**/tasks/C6/")
    page.get_by_role("button", name="START Hole 2B").click()
    page.get_by_role("button", name="STOP HERE").click()
    page.get_by_role("button", name="PHONE").click()
    page.goto(board.url + J)
    page.get_by_role("button", name="CARRY ON AT 2B").click()
    page.wait_for_url("**/tasks/C6/")
    page.get_by_role("button", name="CLEAN AND SOUND Hole 2B").click()
    page.get_by_text("6 of 8 done").wait_for()
    assert board.judged(DEMO).work.tasks["C6"].place("2B").state == "DONE"
    page.goto(f"{board.url}{J}tasks/G1/")
    page.get_by_role("button", name="I LOOKED, IT IS RIGHT").click()
    page.get_by_text("Marta Oduya has no paper on file to give a second look.").wait_for()
    assert board.judged(DEMO).work.tasks["G1"].look.waits
    # Ilse gives it on Marta's phone, by name and with her own PIN.
    assert page.get_by_label("Who").input_value() == "ilse"
    assert scan(page) == []
    for pin in ("111213", PIN):
        page.get_by_label("Your PIN").fill(pin)
        page.get_by_role("button", name="CONFIRM").click()
    page.wait_for_url("**/tasks/G1/")
    one = board.judged(DEMO).work.tasks["G1"].look
    assert (one.waits, one.given.by) == (False, "ilse")


def test_the_plan_comes_in_by_itself_and_the_order_is_one_tap(board: Any) -> None:
    page = board.open(J + "rest/", (820, 1180))
    page.locator(".calendar").wait_for()
    assert page.evaluate("document.documentElement.scrollWidth") <= 820
    page.get_by_role("button", name="ORDER HOSE HS5").click()
    page.get_by_text("3 MORE TO ORDER").or_(page.get_by_text("2 MORE TO ORDER")).wait_for()
    assert board.judged(DEMO).stock.parts["hose-HS5"].on_order == 1
