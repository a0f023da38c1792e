"""The pages in a real browser: what fits, what can be tapped, what axe finds, what stays."""

from __future__ import annotations

from typing import Any

import pytest

from tests.browser.conftest import DEMO, FRESH, VIEWPORTS
from tests.pins import PIN

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

J = f"/jobs/{DEMO}/"
PAGES = [
    J, J + "blockers/", J + "put-away/", J + "plugs/K0413/", J + "items/plug/K0412/write/",
    J + "items/cylinder/4/", J + "items/plug/K0413/read/resistance/",
    J + "items/plug/K0414/read/look/", J + "read-back/", J + "book/", J + "meters/",
    J + "meters/new/", J + "meters/new/?make=digital", J + "meters/of/AN-1/", J + "limits/", J + "limits/2/",
    J + "facts/", J + "facts/part/", J + "facts/person/of/marta/", J + "facts/engine/",
    J + "facts/layout/", J + "facts/task/of/C2/", J + "paper/", "/?list", "/set-password/", "/pin/", "/sign-in/",
]  # fmt: skip

# Those on which every block and status stands; the rest are forms like one of them.
PAGES_OF_COLOUR = [
    J,
    J + "plugs/K0413/",
    J + "read-back/",
    J + "book/",
    J + "meters/",
    J + "limits/",
]

SMALL = """() => [...document.querySelectorAll('button, a[href], input, select, summary')]
  .filter(e => e.checkVisibility() && !e.closest('.skip'))
  .map(e => ({ t: (e.textContent || e.name || '').trim(), r: e.getBoundingClientRect() }))
  .filter(({ r }) => r.width < 44 || r.height < 44).map(({ t, r }) => `${t} ${r.width}x${r.height}`)"""
SMALL_TYPE = """() => [...new Set([...document.querySelectorAll('main *')]
  .filter(e => e.checkVisibility() && !e.closest('.unseen') && !e.closest('svg')
    && [...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim())
    && parseFloat(getComputedStyle(e).fontSize) < 18).map(e => e.textContent.trim()))]"""
# The book has one fold for each line; they are all alike, and axe looks at each.
OPEN = (
    "() => [...document.querySelectorAll('details')].slice(0, 12).forEach(d => { d.open = true; })"
)


def misfits(page: Any, name: str, opened: str = OPEN) -> list[str]:
    """What scrolls sideways, or is too small to tap or to read, in any viewport."""
    found = []
    page.evaluate(opened)
    for size in VIEWPORTS:
        page.set_viewport_size({"width": size[0], "height": size[1]})
        if page.evaluate("document.documentElement.scrollWidth") > size[0]:
            found.append(f"{size} {name} scrolls sideways")
        found += [f"{size} {name} small: {one}" for one in page.evaluate(SMALL)]
        found += [f"{size} {name} type: {one}" for one in page.evaluate(SMALL_TYPE)]
    return found


def test_nothing_scrolls_sideways_and_every_target_is_large_enough(board: Any) -> None:
    page = board.open(J)
    found = []
    for path in PAGES:
        page.goto(board.url + path)
        found += misfits(page, path)
    assert found == []


# The light changes colours and weights, the width changes the layout: not every pair is looked at.
@pytest.mark.parametrize(
    ("size", "mode"), [((390, 844), "day"), ((390, 844), "sun"), ((1366, 768), "dim")]
)
def test_axe_finds_nothing(board: Any, scan: Any, size: tuple[int, int], mode: str) -> None:
    page = board.open(J, size, mode)
    found = []
    for path in PAGES if mode == "day" else PAGES_OF_COLOUR:
        page.goto(board.url + path)
        page.evaluate(OPEN)
        # On the phone all but the colours was looked at by day.
        found += [f"{path} {line}" for line in scan(page, colours_only=mode == "sun")]
    assert found == []


def test_axe_finds_nothing_where_forms_were_refused_and_acts_are_said(
    board: Any, scan: Any
) -> None:
    page = board.open(J + "plugs/K0415/")
    page.get_by_text("DISAGREE IN WRITING").click()
    page.get_by_role("button", name="DECIDE").click()
    page.wait_for_selector("#held")
    assert scan(page) == []
    page.goto(board.url + J + "items/plug/K0415/write/")
    page.get_by_role("button", name="DROPPED").click()
    page.wait_for_selector(".said")
    assert scan(page) == []


def test_the_six_facts_are_in_the_first_screen_of_a_phone(board: Any) -> None:
    page = board.open(J, (360, 640))
    card = page.locator(".pickup")
    words = card.inner_text()
    for fact in ("TV4-2207", "Plug tray", "look, 10×", "4B", "17 Oct, 16:39", "phone rang"):
        assert fact in words
    assert card.locator(".last-read").count() == 3
    box = card.bounding_box()
    assert box["y"] + box["height"] <= 640


def test_board_opens_any_of_the_last_three_and_carries_on_with_two_taps_to_the_tray(
    board: Any,
) -> None:
    page = board.open(J)
    page.locator(".last-read").first.click()
    page.wait_for_url("**/read/resistance/**")
    page.go_back()
    page.get_by_role("button", name="CARRY ON AT 4B").click()
    page.wait_for_url("**/tray/?check=look&hole=4B")
    assert board.judged(DEMO).state.stop is None


def test_ticks_of_what_to_take_survive_a_reload(board: Any) -> None:
    page = board.open(J)
    page.get_by_text("DM-2", exact=True).last.click()
    assert page.locator("[data-ticked]").inner_text() == "1 of 10"
    page.reload()
    assert page.locator("[data-take='meter:DM-2']").is_checked()
    assert page.locator("[data-ticked]").inner_text() == "1 of 10"


def test_a_change_from_read_back_returns_to_its_line(board: Any) -> None:
    page = board.open(J + "read-back/")
    page.get_by_role("link", name="CHANGE 3T gap").click()
    page.get_by_label("Gap, in thousandths of an inch").fill("22")
    page.get_by_role("button", name="KEEP IT").click()
    page.wait_for_url("**/read-back/#r-3T-gap")
    line = page.locator("#r-3T-gap")
    assert "22 thou" in line.inner_text()
    box = line.bounding_box()
    assert 0 <= box["y"] <= 844


@pytest.mark.parametrize("size", [(390, 844), (1366, 768)])
def test_a_crack_takes_one_confirming_tap_and_undo_brings_the_verdict_back(
    board: Any, size: tuple[int, int]
) -> None:
    page = board.open(J + "items/plug/K0411/write/", size)
    page.locator("summary", has_text="Cracked, nothing missing").click()
    assert board.judged(DEMO).item("plug:K0411").verdict == "KEEP"
    page.get_by_role("button", name="YES, 3: REJECT Cracked, nothing missing").click()
    page.wait_for_selector(".said")
    assert board.judged(DEMO).item("plug:K0411").verdict == "REJECT"
    page.get_by_role("button", name="UNDO").click()
    page.wait_for_selector("text=Struck out")
    assert board.judged(DEMO).item("plug:K0411").verdict == "KEEP"


def test_pages_do_their_work_with_scripts_off(board: Any) -> None:
    context = board.context((390, 844), java_script_enabled=False)
    page = context.new_page()
    board.sign_in(page)
    page.goto(f"{board.url}{J}")
    page.get_by_role("link", name="reasons not to return it").click()
    page.goto(f"{board.url}{J}items/plug/K0415/write/")
    page.get_by_role("button", name="RE-GAPPED").click()
    assert "K0415 (3T) was re-gapped." in page.locator(".said").inner_text()
    page.get_by_role("button", name="UNDO").click()
    page.goto(f"{board.url}{J}meters/of/TW-3/")
    page.get_by_label("Calibration due").fill("2027-10-02")
    page.get_by_role("button", name="FILE IT").click()
    page.get_by_label("Your PIN").fill(PIN)
    page.get_by_role("button", name="CONFIRM").click()
    assert "TW-3 is filed as you wrote it." in page.locator(".said").inner_text()
    page.goto(f"{board.url}/?list")
    page.get_by_role("button", name="SIGN OUT").click()
    assert page.get_by_role("heading", name="Who is at the bench?").is_visible()


def test_a_fresh_tray_says_where_to_begin(board: Any) -> None:
    page = board.open(f"/jobs/{FRESH}/")
    assert "Nothing has been read yet" in page.locator(".pickup").inner_text()
    page.get_by_role("button", name="CARRY ON AT 1T").click()
    page.wait_for_url("**/tray/?check=look&hole=1T")
