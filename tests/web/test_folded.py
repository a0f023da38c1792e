"""What a page folds, what stays in sight of it, and short words in place of long ones."""

from __future__ import annotations

import re
from datetime import UTC, datetime

import pytest
from django.utils import timezone

from rehang.book import queries, services
from rehang.sheets import demo_path
from rehang.sheets.folder import read_folder
from rehang.trade.terms.kinds.items import Removed
from tests.markup import markup
from tests.pins import PIN, give_pins
from tests.web.test_begin import begun, board

J = "/jobs/tv4-2207-2026/"
LOADED = datetime(2026, 11, 20, 12, 0, tzinfo=UTC)


@pytest.fixture
def marta(db, client):
    queries.forget()
    services.load_folder(folder=read_folder(demo_path()), by="marta", at=LOADED)
    give_pins("marta")
    assert client.post("/sign-in/", {"person": "marta"}).status_code == 303
    return client


def folds(page: str) -> dict[str, bool]:
    """Each fold by the heading of its line, and whether it stands open."""
    found = re.findall(
        r"<details([^>]*)><summary class=\"bar flat\">(?:<h2>)?<b[^>]*>([^<]*)</b>", page
    )
    return {words.strip(): " open" in f"{attributes} " for attributes, words in found}


def test_the_book_has_a_line_for_each_day_and_opens_the_last(marta):
    days = folds(markup(marta.get(J + "book/")))
    assert len(days) >= 6
    assert [*days.values()] == [True] + [False] * (len(days) - 1)
    assert set(folds(markup(marta.get(J + "book/?by=marta"))).values()) == {True}


def test_a_line_that_is_struck_without_a_reason_stands_open_with_what_is_wrong(marta):
    entry = queries.entries(queries.job("tv4-2207-2026"))[60]
    back = {"entry": entry.id, "reason": "", "next": J + "book/"}
    marta.post(J + "strike/", back)
    page = markup(marta.get(J + "book/"))
    assert set(folds(page).values()) == {True}


def test_what_is_still_to_be_read_back_is_named_by_its_hole_once(marta):
    page = markup(marta.get(J + "read-back/"))
    assert "5 still to be read" in page
    [unread] = re.findall(r'<ul class="unread">(.*?)</ul>', page)
    assert unread.count("<li>") == 1 and unread.count("<a ") == 5
    assert 'href="#r-4B-gap"' in unread
    # A word takes the line, figures stand side by side.
    assert '<li id="r-4B-look" class="wide">' in page and '<li id="r-1T-gap">' in page


def test_the_engine_folds_its_oil_and_says_what_rises(marta):
    page = markup(marta.get(J + "engine/"))
    assert folds(page)["Oil"] is False
    assert "Ni, Cr, Fe rising</strong>, 5 samples" in page
    # A stamp that says NOT YET needs no words for it.
    assert "<b>Look at it.</b>" not in page
    assert "TW-3 was past its calibration date" in page


def test_the_handover_says_of_each_loose_end_how_far_it_is_and_what_stands_out(marta):
    page = markup(marta.get(J + "rest/handover/"))
    assert "2 of 6 screws torqued. <strong>TW-3 out of date; stopped 7 Oct, phone" in page
    assert "and 6 tasks more" in page and "As far are" in page
    assert folds(page) == {"Held on purpose": False, "Can be done next": False}


def test_a_stage_of_tasks_opens_where_some_are_left_out(marta):
    address = J + "rest/tasks/"
    page = markup(marta.get(address))
    assert set(folds(page).values()) == {False} and page.count('type="checkbox"') > 40
    wanted = [one for one in re.findall(r'name="task" value="(\w+)"', page) if one != "F5"]
    assert marta.post(address, {"task": wanted, "pin": PIN}).status_code == 303
    opened = [name for name, is_open in folds(markup(marta.get(address))).items() if is_open]
    assert opened == ["Top end and accessories"]


def test_the_places_open_the_first_list_that_is_not_whole(marta):
    stand = folds(markup(marta.get(J + "places/")))
    assert [name for name, is_open in stand.items() if is_open] == ["Spark plugs"]


def test_a_torque_card_opens_its_adapter_once_it_holds_something(marta):
    summary = '<summary class="button">ADAPTER, DRAG, OTHER SETTING</summary>'
    card = J + "torque/plug/"
    assert f"<details>{summary}" in markup(marta.get(card))
    assert f"<details open>{summary}" in markup(marta.get(card + "?drag=30+in-lb"))


def test_what_is_done_to_a_plug_opens_where_it_is_a_rework(marta):
    summary = '<summary class="button">WHAT WAS DONE TO IT</summary>'
    assert f"<details open>{summary}" in markup(marta.get(J + "items/plug/K0415/write/"))
    assert f"<details>{summary}" in markup(marta.get(J + "items/plug/K0413/write/"))


def test_who_is_in_no_job_yet_is_not_asked_for_an_engine(db):
    queries.forget()
    client = begun()
    assert client.get("/")["Location"] == "/new-job/"
    board(client)
    shop = queries.shop()
    text = (
        queries.files(shop)["people.toml"]
        + '\n[[person]]\nkey = "bo"\nname = "Bo Strand"\nrole = "helper"\n'
    )
    services.file_text(job=shop, name="people.toml", text=text, by="ada", at=timezone.now())
    client.post("/sign-out/")
    assert client.post("/sign-in/", {"person": "bo"}).status_code == 303
    answer = client.get("/")
    assert answer.status_code == 200
    assert "its board says that the shop has something otherwise" in markup(answer)


def test_a_part_whose_name_is_its_place_came_off_it():
    said = [
        Removed(item=item, place=place).said
        for item, place in (("cylinder:3", "3"), ("plug:K1", "1T"))
    ]
    assert [one(None) for one in said] == ["Cylinder 3 came off.", "K1 came out of 1T."]


def test_the_menu_names_the_page_of_records_by_what_it_is(marta):
    page = markup(marta.get(J + "book/"))
    assert re.search(rf'href="{J}record/"[^>]*>Records<', page)
