"""A new engine's layout on a phone: picked by its picture, drawn by taps, and with scripts off."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.utils import timezone

from tests.browser.conftest import MODES, Board
from tests.pins import PIN

pytestmark = pytest.mark.browser
PAGE = "/new-job/engine/"
PHONE = (390, 844)


@pytest.fixture
def shop(live_server: Any, browser: Any) -> Iterator[Board]:
    """A shop that Ada has begun, with no job in it."""
    from rehang.book import beginning, queries

    queries.forget()
    beginning.begin_shop(
        shop={"shop": "Test shop (invented)", "place": "", "timezone": "UTC"},
        person={"name": "Ada"},
        pin=PIN,
        password="",
        at=timezone.now(),
    )
    one = Board(live_server.url, browser)
    yield one
    for context in one.contexts:
        context.close()
    assert one.problems == []


def tap(page: Any, selector: str) -> None:
    """Tap what is drawn again after it, and wait until it is."""
    with page.expect_response(lambda answer: "/new-job/layout/" in answer.url):
        page.locator(selector).tap()
    page.wait_for_function(
        "() => !document.querySelector('.htmx-request, .htmx-swapping, .htmx-settling')"
    )


def label(key: str, value: str) -> str:
    return f"label:has(#f-{key}-{value})"


def facts_of(page: Any) -> Any:
    from rehang.book import queries

    page.get_by_role("button", name="BEGIN THE JOB").tap()
    page.wait_for_url("**/jobs/**")
    return queries.facts(queries.job(page.url.split("/")[4]))


def test_a_nine_cylinder_radial_is_begun_by_its_picture(shop: Board):
    page = shop.open(PAGE, PHONE, person="Ada")
    page.fill("#f-serial", "R9-1")
    tap(page, label("layout", "radial-9"))
    assert not page.locator(".layout-asked").is_visible()
    layout = facts_of(page).layout
    assert (layout.name, layout.locks) == ("radial-9", ("4F", "5F", "6F", "7F"))


def test_an_inverted_six_is_drawn_and_its_firing_order_tapped(shop: Board):
    page = shop.open(PAGE, PHONE, person="Ada")
    page.fill("#f-serial", "I6-1")
    tap(page, label("layout", "asked"))
    tap(page, label("arrangement", "inverted"))
    tap(page, label("cylinders", "6"))
    assert page.locator("#f-firing_order").input_value() == "1-5-3-6-2-4"
    tap(page, "#fires-clear")
    for cylinder in (1, 4, 2, 6, 3):
        tap(page, f"#fires-{cylinder}")
    assert page.locator("#fires-6").is_disabled()
    tap(page, "#fires-5")
    # What was typed before stays.
    assert page.locator("#f-serial").input_value() == "I6-1"
    layout = facts_of(page).layout
    assert layout.name == "inverted-6"
    assert layout.firing_order == (1, 4, 2, 6, 3, 5)
    assert layout.locks == ("1L", "2L", "3L", "4L", "5L", "6L")


def test_with_scripts_off_show_draws_what_was_answered(shop: Board):
    page = shop.open(PAGE, (1180, 820), person="Ada", java_script_enabled=False, touch=False)
    page.fill("#f-serial", "R7-1")
    page.check("#f-layout-asked", force=True)
    page.check("#f-arrangement-radial", force=True)
    assert not page.locator(".layout-pad").is_visible()
    page.get_by_role("button", name="SHOW").click()
    page.check("#f-cylinders-7", force=True)
    page.get_by_role("button", name="SHOW").click()
    assert page.locator("#f-firing_order").input_value() == "1-3-5-7-2-4-6"
    assert page.locator("#f-serial").input_value() == "R7-1"
    page.get_by_role("button", name="BEGIN THE JOB").click()
    assert "/jobs/r7-1-" in page.url


@pytest.mark.parametrize("mode", MODES)
def test_what_is_asked_is_in_reach_of_a_thumb_in_every_light(
    shop: Board, scan: Callable[..., list[str]], mode: str
):
    page = shop.open(PAGE, PHONE, mode, person="Ada")
    tap(page, label("layout", "asked"))
    tap(page, label("arrangement", "radial"))
    tap(page, label("cylinders", "18"))
    assert page.evaluate("document.documentElement.scrollWidth") == 390
    small = page.evaluate(
        "[...document.querySelectorAll('#layout :is(button, label, summary, input[type=text])')]"
        ".filter(one => one.checkVisibility()).map(one => one.getBoundingClientRect())"
        ".filter(box => box.width < 44 || box.height < 44).length"
    )
    assert small == 0
    assert scan(page) == []
