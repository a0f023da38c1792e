"""Eight plugs put in on a phone, by taps from the card of their task; one is dropped and replaced."""

from __future__ import annotations

import os
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from rehang.trade.telling.entry_text import draft_of
from tests.browser.test_pages import misfits
from tests.pins import PIN
from tests.web.test_places import GOES, SLUG, J, folder

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

LOADED = datetime(2026, 11, 10, 16, 29, tzinfo=UTC)


@pytest.fixture
def finished(board: Any) -> Any:
    """The finished demo on the board as it stood before the plugs went in."""
    from rehang.book import services

    services.load_folder(folder=folder(), by="marta", at=LOADED)
    return board


def _shot(page: Any, name: str) -> None:
    if os.environ.get("REHANG_SHOTS"):
        page.screenshot(path=str(Path(os.environ["REHANG_SHOTS"]) / f"{name}.png"), full_page=True)


def test_eight_plugs_go_in_by_taps_and_one_is_replaced(finished: Any) -> None:
    page = finished.open(J + "tasks/H3/", (390, 844))
    _shot(page, "h3")
    # One falls before it goes in: its page says so, and what goes in for it.
    page.goto(f"{finished.url}{J}items/plug/L0411/write/")
    _shot(page, "plug")
    page.locator('button[value="dropped"]').tap()
    page.get_by_role("button", name="MUTILATED").tap()
    page.get_by_label("Your PIN").fill(PIN)
    page.get_by_role("button", name="CONFIRM").tap()
    page.get_by_label("Serial of its replacement").fill("N0705")
    page.get_by_role("button", name="PUT IT IN ITS PLACE").tap()
    page.get_by_text("N0705 goes in for L0411").first.wait_for()
    page.goto(f"{finished.url}{J}tasks/H3/")
    serials = [serial if serial != "L0411" else "N0705" for serial in GOES.values()]
    for serial in serials:
        page.get_by_role("button", name=f"PUT IN {serial}").tap()
        page.get_by_text(f"{serial} fitted at").first.wait_for()
    _shot(page, "h3-in")
    judged = finished.judged(SLUG)
    lines = {one.id: one.drawn for one in draft_of(judged, "maintenance").lines}
    assert lines["plugs-in"] == (
        "1T L0418, 1B L0417, 2T N0703, 2B L0415, 3T N0701, 3B N0705, 4T N0702, 4B N0704."
    )
    assert "L0411" in lines["off"]
    assert "N0705" in lines["on"]
    said = [one.sentence for one in judged.blockers]
    assert any("N0705, in 3B, has no KEEP of its own" in one for one in said)
    # Five went in, three came with papers and one from the shelf with its own.
    assert any("has no release document on file" in one for one in said)
    assert any("1 more Plug KS-R went in than" in one for one in said)


def test_pages_of_places_fit_and_axe_finds_nothing(finished: Any, scan: Any) -> None:
    page = finished.open(J, (390, 844))
    found = []
    paths = [
        "tasks/H3/",
        "tasks/G4/",
        "places/",
        "items/plug/L0418/write/",
        "story/plug/L0418/",
        "tasks/C7/",
    ]
    for number, path in enumerate(paths):
        page.goto(finished.url + J + path)
        _shot(page, path.strip("/").replace("/", "-"))
        found += misfits(page, path)
        size = ((390, 844), (1366, 768))[number % 2]
        page.set_viewport_size({"width": size[0], "height": size[1]})
        if size[0] > 1000:
            _shot(page, path.strip("/").replace("/", "-") + "-wide")
        found += [f"{path} {line}" for line in scan(page)]
    assert found == []
