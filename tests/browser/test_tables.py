"""The page in a real browser: a phone chooses a file, says the columns, and keeps the readings."""

from typing import Any

import pytest

from tests.browser.conftest import FRESH
from tests.browser.test_pages import misfits

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PAGE = f"/jobs/{FRESH}/tables/"
TRAY = b"Plug,Ohms,Gap (thou),Price\nK0411,1180,18,4\nK0412,118000,17,4\nK0414,1290,17,4\n"


def _fits(page: Any) -> list[str]:
    found = misfits(page, "this page")
    page.set_viewport_size({"width": 390, "height": 844})
    return found


def test_a_tray_comes_in_from_a_phone_and_every_step_fits(board: Any, scan: Any) -> None:
    page = board.open(PAGE)
    assert _fits(page) == []
    page.set_input_files("#f-file", {"name": "tray.csv", "mimeType": "text/csv", "buffer": TRAY})
    page.get_by_role("button", name="LOOK AT IT").click()
    page.get_by_text("6 cannot be kept, so nothing is").wait_for()
    assert _fits(page) == []
    assert scan(page) == []
    page.get_by_label("Resistance was read on").select_option("AN-1|x1k")
    page.get_by_label("Gap was read on").select_option("WG-1|")
    page.get_by_label("Ohms").select_option("resistance in ohm")
    page.get_by_role("button", name="SHOW WHAT COMES OF IT").click()
    # 118 000 read off a scale that is multiplied by a thousand: it looks like a slip.
    page.get_by_text("It is unlikely.").first.wait_for()
    page.get_by_label("Resistance was read on").select_option("AN-1|x1")
    page.get_by_text("Keep unlikely numbers as they stand").click()
    page.get_by_role("button", name="SHOW WHAT COMES OF IT").click()
    page.get_by_role("button", name="KEEP 6").wait_for()
    assert _fits(page) == []
    assert scan(page) == []
    page.get_by_role("button", name="KEEP 6").click()
    page.get_by_text("6 readings came in.").wait_for()
    readings = [e for e in board.judged(FRESH).state.order if e.kind == "reading"]
    assert len(readings) == 6
    assert {e.by for e in readings} == {"marta"}
    assert [e.fields.kept_as_keyed for e in readings].count(True) == 1


def test_a_table_is_taken_away(board: Any) -> None:
    page = board.open(PAGE)
    with page.expect_download() as download:
        page.get_by_role("link", name="XLSX of meters").click()
    assert download.value.suggested_filename.startswith(f"{FRESH}-meters-")
    assert download.value.suggested_filename.endswith(".xlsx")
