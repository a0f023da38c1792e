"""Every page at every size, with letters twice as large and with wide spacing: nothing goes sideways.

WCAG 2.2, 1.4.4 (200 per cent), 1.4.10 (reflow at 320) and 1.4.12 (text spacing); keys of 44 px as 2.5.5
asks. One walk: each page is loaded once and measured at every size.
"""

from __future__ import annotations

from typing import Any

import pytest
from django.urls import NoReverseMatch, get_resolver, reverse

from rehang.book import outlook, services
from rehang.sheets import demo_path
from rehang.sheets.folder import read_folder
from tests.browser.conftest import DEMO, LOADED
from tests.trade.drawn import odds

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

SIZES = [
    (320, 568), (360, 640), (390, 844), (844, 390), (820, 1180), (1024, 600), (1024, 768), (1366, 768),
]  # fmt: skip
J = f"/jobs/{DEMO}/"
NAMED = [
    J + path
    for path in (
        "plugs/K0413/", "items/cylinder/4/", "items/plug/K0413/read/resistance/", "tray/why/2T/resistance/",
        "meters/of/AN-1/", "limits/2/", "facts/part/", "facts/engine/", "facts/task/of/C2/", "tasks/C2/",
        "tasks/G1/", "torque/plug/", "story/plug/K0413/", "record/maintenance/", "record/annual/",
    )
]  # fmt: skip
# What answers with no page, and what changes something.
NO_PAGES = {
    "archive_zip", "blank_pdf", "line_preview", "plan_live", "record_pdf", "tags_pdf", "labels_pdf", "tray_partial",
}  # fmt: skip
TWICE = "html { font-size: 200% !important; }"
SPACED = """* { line-height: 1.5 !important; letter-spacing: .12em !important; word-spacing: .16em !important; }
p { margin-bottom: 2em !important; }"""
WIDE = "document.documentElement.scrollWidth"
# A key is whole on the screen, as large as a thumb, and holds all of its words.
KEYS = """() => [...document.querySelectorAll('[data-face="number"] [data-key]:not(.blank)')].map(key => {
  const box = key.getBoundingClientRect();
  return { key: key.dataset.key, width: box.width, height: box.height, low: box.bottom - innerHeight,
    cut: Math.max(key.scrollWidth - key.clientWidth, key.scrollHeight - key.clientHeight) };
})"""


def addresses(slug: str) -> list[str]:
    """Every page that needs no more than a job, or no job."""
    found = []
    for pattern in get_resolver("rehang.web.urls").url_patterns:
        for more in ({"slug": slug}, {}):
            try:
                one = reverse(f"web:{pattern.name}", kwargs=more)
            except NoReverseMatch:
                continue
            if pattern.name not in NO_PAGES and not one.endswith((".pdf", ".ics")):
                found.append(one)
    return found


def resize(page: Any, size: tuple[int, int]) -> None:
    page.set_viewport_size({"width": size[0], "height": size[1]})


def with_style(page: Any, style: str, found: list[str], name: str, *sizes: tuple[int, int]) -> None:
    held = page.add_style_tag(content=style)
    for size in sizes:
        resize(page, size)
        if (over := page.evaluate(WIDE) - size[0]) > 0:
            found.append(f"{name}: {over} px at {size}")
    held.evaluate("style => style.remove()")


def test_no_page_goes_sideways_at_any_size(board: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(outlook, "forecasts_of", lambda job, **more: odds())
    page = board.open(J, bypass_csp=True)
    found: list[str] = []
    walked = 0
    for path in [*addresses(DEMO), *NAMED]:
        answer = page.goto(board.url + path)
        if answer.status != 200 or "text/html" not in answer.headers["content-type"]:
            continue
        walked += 1
        for size in SIZES:
            resize(page, size)
            if (over := page.evaluate(WIDE) - size[0]) > 0:
                found.append(f"{path}: {over} px at {size}")
        with_style(page, TWICE, found, f"{path} at 200 %", (320, 568), (1366, 768))
        with_style(page, SPACED, found, f"{path} spaced", (320, 568))
    assert found == []
    assert walked >= 55


@pytest.fixture
def radial(board: Any) -> Any:
    """The invented nine-cylinder radial, in Lene's hands."""
    folder = read_folder(demo_path("radial"))
    services.load_folder(folder=folder, by="lene", at=LOADED)
    return board.open(f"/jobs/{folder.name}/tray/", (1366, 768), person="Lene", bypass_csp=True)


def test_a_radial_fits_a_phone_and_its_tray_opens_at_its_head(board: Any, radial: Any) -> None:
    assert radial.evaluate("scrollY") == 0
    found: list[str] = []
    for path in ("tray/", "", "rest/", "engine/"):
        where = radial.url.partition("tray/")[0] + path
        radial.goto(where)
        for size in SIZES:
            resize(radial, size)
            if (over := radial.evaluate(WIDE) - size[0]) > 0:
                found.append(f"{path}: {over} px at {size}")
        radial.goto(where.partition("?")[0].removesuffix(path) + "tray/")
    assert found == []


def test_the_whole_pad_is_on_the_screen_at_every_size(board: Any) -> None:
    page = board.open(J + "tray/?check=resistance&hole=4B", bypass_csp=True)
    for size in SIZES[:-1]:
        resize(page, size)
        page.evaluate("scrollTo(0, 0)")
        keys = page.evaluate(KEYS)
        assert len(keys) == 14
        assert [k for k in keys if min(k["width"], k["height"]) < 44] == [], size
        assert [k for k in keys if k["low"] > 0] == [], size
        assert [k for k in keys if k["cut"] > 0] == [], size
    resize(page, (320, 568))
    for style in (SPACED, TWICE):
        held = page.add_style_tag(content=style)
        assert [k for k in page.evaluate(KEYS) if k["cut"] > 0] == [], style
        held.evaluate("style => style.remove()")


def test_a_key_holds_its_point_and_next_its_width_and_undo_its_place(board: Any) -> None:
    page = board.open(J + "tray/?check=resistance&hole=4B")
    page.emulate_media(forced_colors="active")
    point = page.locator(".point").evaluate(
        "dot => getComputedStyle(dot).borderTopColor !== getComputedStyle(dot.parentElement).backgroundColor"
    )
    assert point
    page.emulate_media(forced_colors="none")
    page.evaluate(
        "for (const one of document.querySelectorAll('.face')) one.hidden = one.dataset.face !== 'done'"
    )
    card, onward = (page.locator(f'[data-face="done"] {one}') for one in (".ask-head", ".next"))
    assert onward.bounding_box()["width"] == card.bounding_box()["width"]
    at = [
        page.evaluate(
            """shown => {
              const [why, undo] = ['why', 'undo'].map(one => document.querySelector(`[data-act="${one}"]`));
              why.hidden = !shown;
              undo.classList.remove('gone');
              return undo.getBoundingClientRect().x;
            }""",
            shown,
        )
        for shown in (False, True)
    ]
    assert at[0] == at[1]


def test_a_pad_that_has_no_scripts_yet_says_so(board: Any) -> None:
    page = board.open(J, bypass_csp=True)
    page.route("**/pad.js", lambda route: route.abort())
    page.goto(board.url + J + "tray/?check=resistance&hole=4B")
    page.get_by_text("The pad is coming.").wait_for()
    page.get_by_role("link", name="KEY IT ON A PLAIN PAGE").click()
    page.wait_for_url("**/read/resistance/")
    assert page.get_by_role("heading", name="Resistance").is_visible()


def test_on_paper_what_was_white_on_a_ground_is_black_in_a_frame(board: Any) -> None:
    page = board.open(J, (1024, 768))
    page.emulate_media(media="print")
    inks = page.locator(".chip:visible, .button.main:visible, .pickup-at:visible").evaluate_all(
        """marks => marks.map(one => {
          const style = getComputedStyle(one);
          return [style.color, style.backgroundColor, style.borderTopWidth !== '0px'];
        })"""
    )
    assert len(inks) >= 5
    assert {tuple(one) for one in inks} == {("rgb(0, 0, 0)", "rgba(0, 0, 0, 0)", True)}
    assert not page.locator(".foot-bar").is_visible()
