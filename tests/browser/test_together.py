"""Two people at one job: what one writes is on the other's page, and nothing of theirs moves."""

from __future__ import annotations

import pytest

from tests.browser.conftest import FRESH
from tests.browser.hands import Hands

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def write_a_gap(board, hole: str, gap: str) -> None:
    """Tom reads a gap, as his phone would send it."""
    import uuid
    from datetime import UTC, datetime

    from rehang.book import queries, services
    from rehang.trade.terms.entries import entry_from

    raw = {
        "id": str(uuid.uuid4()), "kind": "reading", "at": datetime.now(UTC).isoformat(),
        "item": board.judged(FRESH).state.holes[hole], "place": hole, "check": "gap",
        "written": f"{gap} thou", "meter": "WG-1", "by": "tom",
    }  # fmt: skip
    services.append(
        job=queries.job(FRESH), entries=[entry_from(raw, "")], by="tom", at=datetime.now(UTC)
    )


def test_a_gap_of_another_is_on_the_tray_within_two_seconds_and_a_half_keyed_one_stays(board):
    page = board.open(f"/jobs/{FRESH}/tray/?check=gap&hole=1T")
    hands = Hands(page)
    hands.meter("WG-1")
    hands.key("1")
    where = page.locator('[data-key="next"]').bounding_box()
    write_a_gap(board, "3B", "17")
    page.wait_for_selector('.hole[data-hole="3B"] [data-for="gap"]:not([hidden]) >> text=17')
    assert page.locator("[data-live]").inner_text() == "1"
    assert page.locator('[data-key="next"]').bounding_box() == where
    hands.key("8")
    hands.next()
    page.wait_for_selector("body[data-waiting='0']")
    assert [(one.place, one.by) for one in board.judged(FRESH).state.last_readings(2)] == [
        ("3B", "tom"), ("1T", "marta"),
    ]  # fmt: skip


def test_who_else_is_at_a_hole_is_shown_there_and_goes_when_they_do(board):
    page = board.open(f"/jobs/{FRESH}/tray/?check=gap&hole=1T")
    his = board.open(f"/jobs/{FRESH}/tray/?check=gap&hole=3B", person="Tom")
    there = page.locator('.hole[data-hole="3B"] .hole-other')
    there.wait_for()
    assert there.inner_text().split("\n")[0].startswith("T")
    assert "Tom Ferrick is here now" in there.text_content()
    # Nobody is told of themselves.
    his.wait_for_selector('.hole[data-hole="1T"] .hole-other')
    assert his.locator('.hole[data-hole="3B"] .hole-other').count() == 0
    his.locator('.hole[data-hole="1T"]').tap()
    page.get_by_text("Tom Ferrick is at 1T too.").wait_for()
    his.close()
    there = page.locator('.hole[data-hole="1T"] .hole-other')
    there.wait_for(state="hidden")


def test_who_read_a_hole_is_told_when_another_read_it_too(board):
    page = board.open(f"/jobs/{FRESH}/tray/?check=gap&hole=1T")
    hands = Hands(page)
    hands.meter("WG-1")
    hands.read("18")
    page.wait_for_selector("body[data-waiting='0']")
    page.wait_for_selector('.hole[data-hole="1T"] [data-for="gap"]:not([hidden]) >> text=18')
    write_a_gap(board, "1T", "17")
    page.get_by_text("Another read 1T too: 17 thou. Both stay in the book").wait_for()
    board_says = [one for one in board.judged(FRESH).state.live() if one.kind == "reading"]
    assert [(one.by, one.fields.written) for one in board_says] == [
        ("marta", "18 thou"), ("tom", "17 thou"),
    ]  # fmt: skip


def test_a_page_is_renewed_around_what_is_being_written(board):
    page = board.open(f"/jobs/{FRESH}/book/", (820, 1180))
    page.evaluate("window.sameDocument = true")
    write_a_gap(board, "2T", "18")
    page.wait_for_selector("main >> text=18 thou", timeout=20_000)
    assert page.evaluate("window.sameDocument") is True
    page.goto(f"{board.url}/jobs/{FRESH}/photos/")
    page.get_by_text("ADD A PHOTO").first.click()
    note = page.locator("input[name=scale_note]").first
    note.fill("steel rule")
    write_a_gap(board, "2B", "17")
    page.wait_for_selector("body[data-shown]", timeout=20_000)
    assert note.input_value() == "steel rule"
    assert page.locator("details.photo-add").first.get_attribute("open") is not None


def test_the_square_of_a_code_fills_in_the_form_and_leaves_the_address(board):
    context = board.context()
    page = context.new_page()
    page.goto(f"{board.url}/code/#tom.ABCD2345EFGH")
    page.wait_for_function("document.querySelector('[name=name]').value === 'tom'")
    assert page.locator("[name=code]").input_value() == "ABCD-2345-EFGH"
    assert page.url == f"{board.url}/code/"
