"""Plugs out on a phone: eight serials by few keys, all as last time by one tap, and the pad goes on."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from rehang.sheets import demo_path
from rehang.sheets.folder import JobFolder, parse_files, read_folder
from tests.browser.conftest import LOADED
from tests.browser.test_pages import misfits

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


J = "/jobs/next-time/"
OUT = f"{J}tray/out/"
SERIALS = ("K0411", "K0412", "K0398", "K0414", "K0415", "K0416", "K0417", "K0418")


def _empty_job(title: str = "next-time") -> JobFolder:
    """A job of the finished demo's engine in whose book nothing stands."""
    files = dict(read_folder(demo_path("finished")).files)
    slug = read_folder(demo_path("finished")).name
    files["engine.toml"] = files["engine.toml"].replace(f'job = "{slug}"', f'job = "{title}"')
    return JobFolder(title, files, (), parse_files(files, title), {}, ())


@pytest.fixture
def again(board: Any) -> Any:
    """The finished demo, and the next job of its engine, empty."""
    from rehang.book import services

    services.load_folder(folder=read_folder(demo_path("finished")), by="marta", at=LOADED)
    services.load_folder(folder=_empty_job(), by="marta", at=LOADED)
    return board


def _out(board: Any) -> dict[str, str]:
    held = board.judged("next-time").state.holes
    return {hole: item.removeprefix("plug:") for hole, item in held.items()}


def test_eight_serials_take_fewer_than_45_keys(again: Any) -> None:
    page = again.open(OUT)
    walk = again.judged("next-time").facts.layout.walk
    page.locator(f'.out-field input[name="{walk[0]}"]').tap()
    keys = 0
    for hole, serial in zip(walk, SERIALS, strict=True):
        field = page.locator(".out-field input:focus")
        # Enter went on to the next hole of the walk.
        assert field.get_attribute("name") == hole
        begun = field.input_value()
        while not serial.startswith(begun):
            page.keyboard.press("Backspace")
            begun, keys = begun[:-1], keys + 1
        page.keyboard.type(serial[len(begun) :])
        page.keyboard.press("Enter")
        keys += len(serial) - len(begun) + 1
    page.keyboard.press("Enter")
    page.get_by_text("8 plugs came out of their holes.").wait_for()
    assert _out(again) == dict(zip(walk, SERIALS, strict=True))
    assert keys + 1 < 45


def test_a_beginning_with_nothing_behind_it_is_no_serial(again: Any) -> None:
    page = again.open(OUT)
    page.locator('.out-field input[name="1T"]').tap()
    page.keyboard.type("K0411")
    page.keyboard.press("Enter")
    assert page.locator(".out-field input:focus").input_value() == "K04"
    page.get_by_role("button", name="THESE CAME OUT").tap()
    page.get_by_text("K0411 came out of 1T").first.wait_for()
    assert _out(again) == {"1T": "K0411"}


def test_a_whole_serial_behind_its_beginning_and_what_is_not_written_yet(again: Any) -> None:
    page = again.open(OUT)
    page.locator('.out-field input[name="1T"]').tap()
    page.keyboard.type("KV4101")
    page.get_by_role("button", name="THESE CAME OUT").tap()
    page.get_by_text("KV4101 came out of 1T").first.wait_for()
    walk = again.judged("next-time").facts.layout.walk
    page.locator(f'.out-field input[name="{walk[1]}"]').tap()
    page.keyboard.type("KV4102")
    page.keyboard.press("Enter")
    # Offered: how the last one begins; keyed: all of the next one.
    field = page.locator(".out-field input:focus")
    assert field.input_value() == "KV41"
    page.keyboard.type("kV4103")
    assert field.input_value() == "KV4103"
    page.get_by_role("link", name="READ THEM NOW").tap()
    said = f"Not written yet: {walk[1]} KV4102, {walk[2]} KV4103. Press THESE CAME OUT first."
    page.get_by_text(said).wait_for()
    assert page.url.endswith(OUT)


def test_as_last_time_is_one_tap_and_the_pad_reads_on(again: Any) -> None:
    page = again.open(OUT)
    page.get_by_role("button", name="ALL 8 AS LAST TIME").tap()
    page.get_by_text("8 plugs came out of their holes.").wait_for()
    page.get_by_role("link", name="READ THEM NOW").tap()
    page.wait_for_selector("body[data-ready=yes]")
    first = again.judged("next-time").facts.layout.walk[0]
    page.locator('[data-look="normal"]').tap()
    # What the book answered, and not what the phone keeps.
    page.locator(
        f'.hole[data-hole="{first}"] [data-for="look"] .value', has_text="normal"
    ).wait_for(state="attached")
    item = again.judged("next-time").at(first)
    assert [entry.fields.word for entry in item.state.looks] == ["normal"]


def test_the_pad_asks_an_empty_hole_for_its_plug(again: Any) -> None:
    page = again.open(f"{J}tray/?hole=2B")
    page.get_by_text("Which plug came out of 2B?").wait_for()
    page.locator("#plug-out").fill("K2")
    # Figures go into the field and not to the keys of the pad.
    page.locator("#plug-out").press_sequentially("71")
    with page.expect_navigation():
        page.locator("[data-plug-out] button").first.tap()
    page.wait_for_selector("body[data-ready=yes]")
    assert _out(again) == {"2B": "K271"}
    page.locator('[data-look="normal"]').tap()
    # The next hole has none either, and last time's stands there for a tap.
    page.locator('.hole[data-hole="3T"]').tap()
    last = page.locator("[data-plug-out] [data-as-last]")
    serial = page.locator("[data-as-last-serial]").text_content()
    with page.expect_navigation():
        last.tap()
    assert _out(again) == {"2B": "K271", "3T": serial}


@pytest.mark.parametrize(
    ("size", "mode"), [((390, 844), "day"), ((390, 844), "sun"), ((1366, 768), "dim")]
)
def test_an_empty_tray_and_plugs_out_fit_every_screen(
    again: Any, scan: Callable[..., list[str]], size: tuple[int, int], mode: str
) -> None:
    page = again.open(OUT, size, mode)
    for path in (OUT, f"{J}tray/"):
        page.goto(again.url + path)
        assert scan(page) == [], path
        assert misfits(page, path) == []
        page.set_viewport_size({"width": size[0], "height": size[1]})
