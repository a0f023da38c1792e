"""How an engine is laid out, asked on the page that begins its job."""

from __future__ import annotations

import re
from html import unescape

import pytest
from django.utils import timezone

from rehang.sheets import layouts
from rehang.trade.facts.layout_asked import ANSWERS, settled
from tests.pins import PIN

PREVIEW, ENGINE = "/new-job/layout/", "/new-job/engine/"
SHOP = {"shop": "Test shop (invented)", "place": "", "timezone": "UTC"}


@pytest.fixture
def mechanic(db, client):
    """Ada, who has begun her shop and is signed in."""
    from rehang.book import beginning, queries

    queries.forget()
    member = beginning.begin_shop(
        shop=SHOP, person={"name": "Ada Quist"}, pin=PIN, password="", at=timezone.now()
    )
    client.force_login(member.user, "django.contrib.auth.backends.ModelBackend")
    return client


def asked(**answers: str) -> dict[str, str]:
    return {"layout": "asked", **settled(answers)}


def begun(client, **posted: str):
    from rehang.book import queries

    form = {"serial": "X-1", "purpose": "spark plugs", "removed_on": "", **posted}
    answer = client.post(ENGINE, form)
    assert answer.status_code == 303, text_of(answer)
    return queries.job(answer["Location"].split("/")[2])


def text_of(answer) -> str:
    body = re.sub(r"<[^>]+>", " ", answer.content.decode())
    return re.sub(r"\s+", " ", unescape(body)).strip()


def picked(page: str, key: str) -> str:
    """The choice of a question that is taken on the page."""
    held = re.findall(rf'name="{key}" value="([^"]*)"[^>]*?checked', page)
    assert len(held) == 1, (key, held)
    return str(held[0])


def order_on(page: str) -> str:
    return re.search(r'id="f-firing_order" value="([^"]*)"', page)[1]


def test_the_engine_page_offers_each_shipped_layout_by_its_picture_and_takes_none_for_granted(
    mechanic,
):
    page = mechanic.get(ENGINE).content.decode()
    for one in layouts().values():
        assert f'value="{one.name}"' in page
        assert one.title in page
    assert page.count('class="outline"') == len(layouts()) + 1
    assert not re.search(r'name="layout"[^>]*checked', page)


def test_a_shipped_layout_is_named_and_no_file_is_written(mechanic):
    from rehang.book import queries

    job = begun(mechanic, layout="radial-9")
    assert "layout.toml" not in queries.files(job)
    assert queries.facts(job).layout == layouts()["radial-9"]


@pytest.mark.parametrize(
    ("arrangement", "cylinders", "name", "locks"),
    [
        ("radial", "7", "radial-7", 4),
        ("radial", "9", "radial-9", 4),
        ("radial", "14", "radial-14", 7),
        ("inverted", "4", "inverted-4", 4),
        ("inverted", "6", "inverted-6", 6),
        ("line", "6", "line-6", 0),
        ("opposed", "8", "opposed-8", 0),
        ("v", "12", "v-12", 0),
    ],
)
def test_an_engine_is_begun_with_the_layout_that_was_answered(
    mechanic, arrangement, cylinders, name, locks
):
    from rehang.book import queries

    job = begun(mechanic, **asked(arrangement=arrangement, cylinders=cylinders))
    found = queries.facts(job).layout
    assert (found.name, len(found.cylinders), len(found.locks)) == (name, int(cylinders), locks)
    assert ("layout.toml" in queries.files(job)) == (name not in layouts())


def test_the_next_job_on_an_engine_has_its_own_layout_again(mechanic):
    from rehang.book import queries

    first = begun(mechanic, **asked(arrangement="radial", cylinders="7"))
    away = {"reason": "hung again", "pin": PIN}
    assert mechanic.post(f"/jobs/{first.slug}/put-away/", away).status_code == 303
    answer = mechanic.post(
        f"/new-job/of/{first.slug}/", {"purpose": "spark plugs", "removed_on": ""}
    )
    assert answer.status_code == 303, text_of(answer)
    again = queries.job(answer["Location"].split("/")[2])
    assert queries.facts(again).layout == queries.facts(first).layout


@pytest.mark.parametrize(
    ("change", "field", "sentence"),
    [
        ({"layout": ""}, "layout", "Pick the picture that is like your engine, or draw it."),
        ({"layout": "rotary-9"}, "layout", 'There is no layout "rotary-9".'),
        ({"firing_order": "1-3-2"}, "firing_order", "leaves out 4. Each of the 4 cylinders fires once."),
        ({"firing_order": "1-3-3-4"}, "firing_order", "names more than once 3 and leaves out 2."),
        ({"arrangement": "radial"}, "cylinders", '"4" does not go with the rest.'),
    ],
)  # fmt: skip
def test_what_does_not_go_together_is_one_sentence_beside_its_question_and_begins_nothing(
    mechanic, change, field, sentence
):
    from rehang.book import queries

    posted = {"serial": "X-1", "purpose": "spark plugs", **asked(), **change}
    answer = mechanic.post(ENGINE, posted)
    page = answer.content.decode()
    assert answer.status_code == 422
    beside = re.search(rf'id="w-{field}">(.*?)</p>', page, re.DOTALL)
    assert sentence in unescape(beside[1])
    assert f'href="#f-{field}"' in page
    assert f'id="f-{field}"' in page
    # What was typed is kept.
    assert 'value="X-1"' in page
    assert queries.jobs(put_away=None) == []


def test_show_draws_what_was_answered_keeps_what_was_typed_and_begins_nothing(mechanic):
    from rehang.book import queries

    posted = {
        "owner": "R. Dale (invented)",
        "layout": "asked",
        "arrangement": "radial",
        "show": "layout",
    }
    answer = mechanic.post(ENGINE, posted)
    page = answer.content.decode()
    assert answer.status_code == 200
    assert "refused" not in page
    assert "R. Dale (invented)" in page
    assert (picked(page, "arrangement"), picked(page, "cylinders")) == ("radial", "9")
    assert order_on(page) == "1-3-5-7-9-2-4-6-8"
    assert queries.jobs(put_away=None) == []


def preview(client, **posted: str) -> str:
    answer = client.post(PREVIEW, posted)
    assert answer.status_code == 200
    return answer.content.decode()


def test_another_kind_of_engine_brings_what_is_usual_for_it(mechanic):
    page = preview(mechanic, **asked(), order_of="opposed 4 alternating")
    assert (picked(page, "cylinders"), picked(page, "rows")) == ("4", "top-bottom")
    page = preview(
        mechanic, **asked() | {"arrangement": "inverted"}, order_of="opposed 4 alternating"
    )
    assert (picked(page, "rows"), order_on(page)) == ("left-right", "1-3-4-2")
    assert "Seen from the side, propeller on the left. A drop: oil can lock it." in page
    # Numbering is not asked of an engine in line, nor where oil runs to of one that is inverted.
    assert 'name="numbering"' not in page
    assert 'name="drains"' not in page


def test_more_cylinders_bring_their_own_firing_order_and_what_a_person_wrote_stays(mechanic):
    page = preview(mechanic, **asked() | {"cylinders": "6"}, order_of="opposed 4 alternating")
    assert order_on(page) == "1-4-5-2-3-6"
    assert "Common practice, no source: check your manual." in text_of_page(page)
    own = asked() | {"firing_order": "1-2-3-4", "rows": "one"}
    page = preview(mechanic, **own, order_of="opposed 4 alternating")
    assert order_on(page) == "1-2-3-4"
    assert "Common practice, no source: check" not in text_of_page(page)


def text_of_page(page: str) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", page)))


def test_the_firing_order_is_tapped_one_cylinder_after_the_other(mechanic):
    form = asked() | {"order_of": "opposed 4 alternating"}
    said = ["1 of 4. Tap", "2 of 4. Tap", "3 of 4. Tap", "As you wrote it."]
    page = preview(mechanic, **form, fires="clear")
    assert "0 of 4. Tap the cylinder that fires next." in page
    for key, words in zip("1234", said, strict=True):
        page = preview(mechanic, **form | {"firing_order": order_on(page)}, fires=key)
        assert words in page
        assert re.search(rf'value="{key}" id="fires-{key}"[^>]*disabled', page)
    assert order_on(page) == "1-2-3-4"
    page = preview(mechanic, **form | {"firing_order": "1-2-3-4"}, fires="back")
    assert order_on(page) == "1-2-3"
    assert "WHERE PLUGS GO NEXT" not in page
    page = preview(mechanic, **form | {"firing_order": "1-2-3"}, fires="1-4-2-3")
    assert order_on(page) == "1-4-2-3"
    assert "1T → 4B → 2T → 3B → 1T" in page


def test_odd_answers_are_drawn_as_the_usual_ones(mechanic):
    for odd in ("", "<b>", "9" * 400, "١"):
        page = preview(mechanic, **dict.fromkeys((*ANSWERS, "layout", "order_of", "fires"), odd))
        assert picked(page, "arrangement") == "opposed"
        assert '<b>"' not in page


def test_a_stranger_is_sent_to_sign_in(db, client):
    assert client.post(PREVIEW, {}).status_code == 302
