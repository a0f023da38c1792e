"""One check of every injector on one page: a row each, all of it kept or nothing."""

from __future__ import annotations

import re

import pytest

from tests.trade.injected import STEPS, Injected
from tests.web.test_injected_pages import J, judged, load, text_of

FLOW, LINE = J + "read-all/injector/flow/", J + "read-all/injector/line/"
BACK = {"back": J + "tasks/G8/"}
GIVEN = {"1": "300", "2": "305", "3": "298", "4": "30", "5": "299", "6": "301"}


@pytest.fixture
def marta(db, client):
    steps = list(STEPS)
    load(Injected(*steps[steps.index("injectors") :]))
    assert client.post("/sign-in/", {"person": "marta"}).status_code == 303
    return client


def flows() -> dict[str, str]:
    return {
        one.name: call.reading
        for one in judged().items
        if one.kind == "injector" and (call := one.call("flow")) is not None and call.reading
    }


def typed(page: str, given: dict[str, str], **more: str) -> dict[str, str]:
    meter = next(one for one in re.findall(r'<option value="([^"]*)"', page) if one)
    rows = {f"r-{name}": text for name, text in given.items()}
    return {"once": "", "meter": meter, **BACK, **rows, **more}


def test_the_task_of_the_injectors_has_a_line_for_each_and_one_way_to_all(marta):
    page = marta.get(J + "tasks/G8/").content.decode()
    assert f'href="{FLOW}?back=' in page and f'href="{LINE}?back=' in page
    # What is worked out from all of them is read of none.
    assert "/read/spread/" not in page and "/injector/1/read/" not in page
    assert page.count('name="word" value="sound"') == 6


def test_six_figures_are_kept_by_one_tap_and_the_task_comes_back(marta):
    page = marta.get(FLOW, BACK).content.decode()
    answer = marta.post(FLOW, typed(page, GIVEN | {"4": "302"}))
    assert (answer.status_code, answer["Location"]) == (303, J + "tasks/G8/")
    assert flows() == {**{n: f"{v} mL" for n, v in GIVEN.items()}, "4": "302 mL"}
    assert "Ran into its vessel of 6 kept." in text_of(marta.get(J + "tasks/G8/"))
    assert "None of them asks for it now." in text_of(marta.get(FLOW))


def test_one_that_is_unlikely_beside_the_others_is_asked_about_and_nothing_is_kept(marta):
    page = marta.get(FLOW, BACK).content.decode()
    answer = marta.post(FLOW, typed(page, GIVEN))
    assert answer.status_code == 422
    assert "30 is unlikely. The others are about 300 mL." in text_of(answer)
    assert 'name="k-4"' in answer.content.decode() and 'value="305"' in answer.content.decode()
    assert flows() == {}
    assert marta.post(FLOW, typed(page, GIVEN, **{"k-4": "yes"})).status_code == 303
    assert flows()["4"] == "30 mL"


def test_rows_left_empty_stay_to_be_read_and_none_at_all_is_no_reading(marta):
    page = marta.get(FLOW, BACK).content.decode()
    nothing = marta.post(FLOW, typed(page, {}))
    assert nothing.status_code == 422
    assert "Enter ran into its vessel of one of them at the least." in text_of(nothing)
    assert marta.post(FLOW, typed(page, {"2": "305"})).status_code == 303
    assert [*flows()] == ["2"]
    assert 'name="r-2"' not in marta.get(FLOW).content.decode()


def test_a_word_is_picked_for_each_where_no_meter_is_asked_for(marta):
    page = marta.get(LINE).content.decode()
    assert "NEW METER" not in page and page.count("Tight, clear of edges") == 6
    words = {f"r-{one}": "tight, clear of edges" for one in GIVEN}
    assert marta.post(LINE, {"once": "", **BACK, **words}).status_code == 303
    assert "None of them asks for it now." in text_of(marta.get(LINE))


@pytest.mark.parametrize(
    ("path", "said"),
    [
        ("injector/look/", "Look is read of one part at a time, on the page of each."),
        ("injector/spread/", "From the mean of all is read of one part at a time"),
        ("cylinder/compression/", "Compression is read of one part at a time"),
        ("rag/look/", "There is no check sheet for a rag."),
    ],
)
def test_what_is_not_read_in_rows_is_refused_with_its_reason(marta, path, said):
    answer = marta.get(f"{J}read-all/{path}")
    assert answer.status_code in (400, 404, 422) and said in text_of(answer)
