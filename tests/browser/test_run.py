"""The run card in a real browser: its clock, and SHUT DOWN when it runs out."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import pytest

from tests.browser.conftest import DEMO, FRESH
from tests.browser.test_pages import misfits

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

J = f"/jobs/{FRESH}/"


def begin(*, limit: str = "30 s") -> None:
    """A run that has just started, with the oil-pressure limit on file."""
    from rehang.book import queries, services
    from rehang.trade.terms.entries import new_entry

    job = queries.job(FRESH)
    text = queries.files(job)["limits.toml"].replace('upper = "30 s"', f'upper = "{limit}"')
    now = datetime.now(UTC)
    if limit != "30 s":
        services.file_text(job=job, name="limits.toml", text=text, by="marta", at=now)
    entries = [
        new_entry("run_began", at=now, by="marta", run="1", **{"with": {"runs": "marta"}}),
        *(
            new_entry("run_step", at=now, by="marta", run="1", step=step)
            for step in ("before", "start")
        ),
    ]
    on = new_entry(
        "closed_short", at=now, by="marta", task="H5", reason="on already, in the airframe's book"
    )
    services.append(job=job, entries=[on], by="marta", at=now, confirmed="marta")
    services.append(job=job, entries=entries, by="marta", at=now)


def test_clock_counts_and_shut_down_fills_the_screen_at_a_tap(board: Any, scan: Any) -> None:
    begin()
    page = board.open(J + "run/")
    assert scan(page) == []
    assert misfits(page, J + "run/", "() => {}") == []
    first = int(page.locator("[data-secs]").inner_text())
    page.wait_for_function(
        "n => Number(document.querySelector('[data-secs]').textContent) > n", arg=first
    )
    assert page.locator("[data-left-w]").inner_text() == "left"
    page.get_by_role("link", name="SHUT DOWN").click()
    down = page.locator("[data-down]")
    box = down.bounding_box()
    assert {"width": box["width"], "height": box["height"]} == page.viewport_size
    assert page.evaluate("document.querySelector('.run-go').inert")
    assert scan(page) == []
    page.get_by_role("link", name="It still runs").click()
    assert down.is_hidden()
    page.get_by_role("button", name="PRESSURE SHOWS").click()
    page.get_by_role("heading", name="First look for leaks").wait_for()


def test_no_pressure_by_the_limit_fills_the_screen_by_itself(board: Any, scan: Any) -> None:
    begin(limit="1 s")
    page = board.open(J + "run/", (390, 844), "dim")
    page.get_by_role("alert").wait_for()
    said = page.locator("[data-down]").inner_text()
    assert "Oil pressure: none" in said
    assert "1 s after the start" in said
    assert scan(page) == []
    assert page.get_by_label("no oil pressure").is_checked()
    page.get_by_role("button", name="ENGINE HAS STOPPED").click()
    page.wait_for_url("**/run/of/1/")
    assert board.judged(FRESH).runs.last.why == "no oil pressure (at oil pressure)"


def test_axe_finds_nothing_on_torque_cards_and_run_pages(board: Any, scan: Any) -> None:
    found = []
    page = board.open(J + "torque/", (390, 844), "sun")
    for path in (
        "torque/", "torque/plug/?arm=10&length=2&angle=45", "run/", "run/drops/",
        "run/air/?speed=2210&oat=48+F&altimeter=29.92",
    ):  # fmt: skip
        page.goto(board.url + J + path)
        found += [f"{path} {line}" for line in scan(page)]
        found += misfits(page, path, "() => {}")
    assert found == []


def test_a_torque_tap_keeps_the_page_where_it_is_and_books_one_fastener(
    board: Any, scan: Any
) -> None:
    card = f"/jobs/{DEMO}/torque/rocker-cover/"
    page = board.open(f"{card}?place=2&wrench=TW-3")
    peg = page.locator("#peg-5")
    peg.scroll_into_view_if_needed()
    before = page.evaluate("window.scrollY")
    assert before > 0
    peg.click()
    page.get_by_text("Left: screws 3, 4 and 6 of cylinder 2.").wait_for()
    # What was said stands above the fasteners, so the page may move by that and by no more.
    assert abs(page.evaluate("window.scrollY") - before) < 200
    assert page.evaluate("document.activeElement.id") == "peg-5"
    assert page.url.endswith(f"{card}?place=2&wrench=TW-3")
    assert page.get_by_role("button", name="UNDO SCREW 5 OF CYLINDER 2").is_visible()
    assert scan(page) == []
    assert misfits(page, card, "() => {}") == []
    live = board.judged(DEMO).state.live()
    [entry] = [e for e in live if e.kind == "torqued" and e.fields.fasteners]
    assert entry.fields.fasteners == [5]


def test_a_torque_is_tapped_with_scripts_off(board: Any) -> None:
    card = f"/jobs/{DEMO}/torque/rocker-cover/"
    page = board.open(f"{card}?place=2&wrench=TW-3", java_script_enabled=False)
    page.locator("#peg-5").click()
    page.wait_for_url("**#tq-do")
    assert page.get_by_text("Left: screws 3, 4 and 6 of cylinder 2.").is_visible()
