"""Away from the network: pages open from a cold start, and what was written goes up once."""

from __future__ import annotations

import io
import random
import re
from contextlib import suppress

import pytest
from PIL import Image
from playwright.sync_api import Error as PlaywrightError

from tests.browser.conftest import FRESH
from tests.browser.hands import Hands

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

TASK = "B1"
WALK = ["1T", "1B", "2T", "2B", "3T", "3B", "4T", "4B"]
GAPS = ["18", "17", "18", "17", "16", "17", "18", "18"]


def opened(board):
    """A phone that has opened the job, and has had the time to keep its pages."""
    page = board.open(f"/jobs/{FRESH}/", service_workers="allow")
    page.wait_for_selector("body[data-ahead=yes]", timeout=180_000)
    return page


def away(board, page, path: str):
    """The tab is closed, the network goes, and a page is opened from nothing."""
    context = page.context
    page.close()
    context.set_offline(True)
    page = context.new_page()
    page.goto(f"{board.url}/jobs/{FRESH}/{path}")
    return page


def back(page) -> None:
    page.context.set_offline(False)
    page.wait_for_selector("body[data-waiting='0']", timeout=120_000)


def fresh_entries(board, before: int):
    from rehang.book import queries

    queries.forget()
    return queries.entries(queries.job(FRESH))[before:]


def photo() -> bytes:
    made = io.BytesIO()
    Image.effect_noise((640, 480), 60).convert("RGB").save(made, "JPEG")
    return made.getvalue()


def test_a_day_without_a_network_goes_up_once_and_in_order(board):
    """Cold start, eight plugs, a task, a finding's photo; then the shop is there again."""
    page = opened(board)
    before = len(fresh_entries(board, 0))
    page = away(board, page, "tray/?check=gap&hole=1T")
    page.wait_for_selector("body[data-ready=yes]")
    assert re.match(
        r"No answer from the shop\. As of \d\d:\d\d\.",
        page.locator("[data-no-network]").inner_text(),
    )
    hands = Hands(page)
    hands.meter("WG-1")
    for gap in GAPS:
        hands.read(gap)
    page.wait_for_selector("body[data-waiting='8']")
    # The phone judges nothing.
    assert page.locator("[data-echo-call]").inner_text() == "KEPT, NOT JUDGED YET"
    page.goto(f"{board.url}/jobs/{FRESH}/tasks/{TASK}/")
    page.get_by_role("button", name="START").first.click()
    page.wait_for_selector("body[data-waiting='9']")
    kept = page.locator("[data-kept-here]").inner_text()
    assert "9 KEPT ON THIS PHONE, NOT JUDGED YET" in kept
    assert "START" in kept
    page.goto(f"{board.url}/jobs/{FRESH}/photos/")
    page.get_by_text("ADD A PHOTO").first.click()
    page.set_input_files(
        "input[name=file]", {"name": "p.jpg", "mimeType": "image/jpeg", "buffer": photo()}
    )
    page.get_by_role("button", name="KEEP THE PHOTO").click()
    page.wait_for_selector("body[data-waiting='10']")
    assert fresh_entries(board, before) == ()
    back(page)
    book = fresh_entries(board, before)
    assert [one.kind for one in book] == ["reading"] * 8 + ["started", "pictured"]
    assert [one.fields.written for one in book[:8]] == [f"{gap} thou" for gap in GAPS]
    assert [one.place for one in book[:8]] == WALK
    # Dated when it was done, not when it was sent; and sent again it is there once.
    assert book[8].at <= book[9].at <= book[0].kept
    page.reload()
    page.wait_for_selector("body[data-waiting='0']")
    assert fresh_entries(board, before) == book


def test_what_one_person_saw_is_shown_to_nobody_else(board):
    """Signed out, the pages are gone from the phone; what was kept waits for its own person."""
    page = opened(board)
    kept = "async () => (await caches.keys()).filter(one => one.startsWith('of-'))"
    assert page.evaluate(kept) == ["of-marta"]
    context = page.context
    # Another signs in here without the first signing out.
    context.add_cookies([board._session_of("Tom")])
    page.goto(f"{board.url}/jobs/{FRESH}/rest/")
    only = f"async (own) => JSON.stringify(await ({kept})()) === JSON.stringify(own)"
    page.wait_for_function(only, arg=["of-tom"])
    page.goto(f"{board.url}/jobs/{FRESH}/")
    page.get_by_role("button", name="SIGN OUT").first.click()
    page.wait_for_url("**/sign-in/**")
    page.wait_for_function(only, arg=[])
    page = away(board, page, "")
    assert "This page was not opened on this phone before." in page.locator("main").inner_text()


def test_a_pin_is_kept_on_no_phone(board):
    page = opened(board)
    page = away(board, page, "")
    page.evaluate(
        """() => {
          const form = document.createElement('form');
          form.method = 'post';
          form.action = location.pathname + 'act/';
          form.innerHTML = '<input name=kind value=note><input name=pin value=480713>';
          document.body.append(form);
          form.submit();
        }"""
    )
    page.wait_for_selector("text=This takes a PIN or a password")
    rows = page.evaluate("async () => (await import('/static/shared/outtray.js')).unsent()")
    assert rows == []


def test_a_clock_that_is_wrong_is_put_right_and_both_are_kept(board):
    """A phone that is a year slow, away from the network and then back."""
    page = opened(board)
    before = len(fresh_entries(board, 0))
    context = page.context
    slow = "const real = Date; Date = class extends real { constructor(...a) { a.length ? super(...a) : super(real.now() - YEAR) } static now() { return real.now() - YEAR } }; const YEAR = 31536000000;"
    context.add_init_script(slow)
    page = away(board, page, "tray/?check=gap&hole=1T")
    page.wait_for_selector("body[data-ready=yes]")
    hands = Hands(page)
    hands.meter("WG-1")
    hands.read("18")
    page.wait_for_selector("body[data-waiting='1']")
    back(page)
    (entry,) = fresh_entries(board, before)
    assert abs((entry.kept - entry.at).total_seconds()) < 180
    assert entry.kept.year - int(entry.fields.clock[:4]) == 1


def test_what_a_phone_never_sent_comes_in_on_another(board, tmp_path):
    """The file of an out-tray, with a reading and a photo, brought in at another device."""
    page = opened(board)
    before = len(fresh_entries(board, 0))
    page = away(board, page, "tray/?check=gap&hole=1T")
    page.wait_for_selector("body[data-ready=yes]")
    hands = Hands(page)
    hands.meter("WG-1")
    hands.read("18")
    page.goto(f"{board.url}/jobs/{FRESH}/photos/")
    page.get_by_text("ADD A PHOTO").first.click()
    page.set_input_files(
        "input[name=file]", {"name": "p.jpg", "mimeType": "image/jpeg", "buffer": photo()}
    )
    page.get_by_role("button", name="KEEP THE PHOTO").click()
    page.wait_for_selector("body[data-waiting='2']")
    with page.expect_download() as saving:
        page.get_by_role("button", name="SAVE A COPY").click()
    saving.value.save_as(tmp_path / "out.jsonl")
    page.close()
    other = board.open(f"/jobs/{FRESH}/#kept-here")
    other.set_input_files("[data-bring]", tmp_path / "out.jsonl")
    other.wait_for_selector("text=2 brought in.")
    other.wait_for_selector("body[data-waiting='0']", timeout=60_000)
    assert [one.kind for one in fresh_entries(board, before)] == ["reading", "pictured"]
    other.set_input_files(
        "[data-bring]", {"name": "x.jsonl", "mimeType": "text/plain", "buffer": b"{half"}
    )
    other.wait_for_selector("text=This file is no out-tray. Pick one that SAVE A COPY wrote.")
    # The same file again: the book has them, and has them once.
    other.set_input_files("[data-bring]", tmp_path / "out.jsonl")
    other.wait_for_selector("body[data-waiting='0']", timeout=60_000)
    assert len(fresh_entries(board, before)) == 2


@pytest.mark.parametrize("seed", range(2))
def test_a_tab_that_dies_at_any_moment_loses_nothing_and_doubles_nothing(board, seed):
    """Away and back at random; the tab is closed after each act, a third of the sendings is lost."""
    chance = random.Random(seed)  # noqa: S311
    page = opened(board)
    before = len(fresh_entries(board, 0))
    context = page.context

    def shaky(route):
        fate = chance.random()
        if fate < 0.15:
            route.abort()
        elif fate < 0.3:
            # It came in, and the phone never heard so.
            route.fetch()
            # The tab may have died meanwhile, and its sending with it.
            with suppress(PlaywrightError):
                route.abort()
        else:
            route.continue_()

    context.route("**/api/jobs/*/entries", shaky)
    for hole, gap in zip(WALK, GAPS, strict=True):
        page.close()
        context.set_offline(chance.random() < 0.5)
        page = context.new_page()
        page.goto(f"{board.url}/jobs/{FRESH}/tray/?check=gap&hole={hole}")
        page.wait_for_selector("body[data-ready=yes]")
        hands = Hands(page)
        if page.locator('[data-face="no-meter"]').is_visible():
            hands.meter("WG-1")
        hands.key(gap)
        hands.tap('[data-key="next"]')
        # What the hand sees before it goes on: the hole has the number.
        page.wait_for_selector(f'.hole[data-hole="{hole}"] >> text={gap} >> visible=true')
    # Handlers that are under way end first.
    context.unroute_all(behavior="wait")
    back(page)
    book = fresh_entries(board, before)
    assert [one.fields.written for one in book] == [f"{gap} thou" for gap in GAPS]
    assert [one.place for one in book] == WALK
