"""A newcomer's walk on the finished demo, on a phone: from signing in to a printed, signed record."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from tests.browser.test_pages import misfits
from tests.pins import PIN

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

JOB = "tv4-2207-finished"
J = f"/jobs/{JOB}/"
PHONE = {"width": 390, "height": 844}
OPEN_ALL = "() => document.querySelectorAll('details').forEach(d => { d.open = true; })"


@pytest.fixture
def finished(board: Any, monkeypatch: pytest.MonkeyPatch) -> Any:
    """The finished demo beside the others, on the afternoon of its last entry."""
    from rehang.book import services
    from rehang.sheets import demo_path
    from rehang.sheets.folder import read_folder

    start = datetime.now(UTC)
    then = datetime(2026, 11, 12, 20, 0, tzinfo=UTC)
    monkeypatch.setattr(
        "django.utils.timezone.now", lambda: then + (datetime.now(UTC) - start) + timedelta(hours=1)
    )
    services.load_folder(folder=read_folder(demo_path("finished")), by="marta", at=then)
    return board


def test_newcomer_reads_signs_and_prints_on_a_phone(finished: Any, scan: Any) -> None:
    page = finished.open(J)
    # Two taps from the board: is anything in the way, and what goes in the book?
    page.get_by_role("link", name="0 reasons not to return it to service yet").click()
    assert "No reason on these sheets stands" in page.locator("h1").inner_text()
    page.get_by_role("link", name="THE RECORDS").click()
    page.get_by_role("link", name="READ AND SIGN maintenance entry").click()
    found = misfits(page, "record/maintenance/", OPEN_ALL)
    page.set_viewport_size(PHONE)
    page.get_by_role("link", name="READ IT WHOLE, SIGN").click()
    found += scan(page)
    assert "Marta Oduya: mechanic certificate DEMO-114" in page.locator("main").inner_text()
    # SIGN stands within two screens of a phone, and nothing of the page is far below it.
    button = page.get_by_role("button", name="SIGN", exact=True).bounding_box()
    assert button["y"] + button["height"] <= 2 * PHONE["height"]
    assert page.evaluate("document.documentElement.scrollHeight") < 2000
    page.get_by_label("Your PIN").fill("111213")
    page.get_by_role("button", name="SIGN", exact=True).click()
    assert "That is not the PIN or password of Marta Oduya." in page.locator("#held").inner_text()
    assert page.get_by_label("Your PIN").input_value() == ""
    page.get_by_label("Your PIN").fill(PIN)
    page.get_by_role("button", name="SIGN", exact=True).click()
    page.wait_for_url("**/record/signed/**")
    assert "It stands." in page.locator(".chain").inner_text()
    found += scan(page)
    link = page.get_by_role("link", name="PRINT ON LETTER").get_attribute("href")
    printed = page.request.get(finished.url + link)
    assert printed.status == 200
    assert printed.body().startswith(b"%PDF")
    assert not found, "\n".join(map(str, found))
    one = finished.judged(JOB).signed[0]
    assert (one.name, one.certificate, one.stands) == ("Marta Oduya", "DEMO-114", True)
