"""Looks, decisions and signatures ask for the PIN of whoever does them, at every door (DESIGN 4b, 2)."""

import json
import re
from datetime import UTC, datetime
from html import unescape

import pytest

from rehang.sheets import DEMO_PINS, demo_path
from rehang.sheets.folder import read_folder
from tests.markup import markup
from tests.pins import PIN, give_pins

DEMO = "tv4-2207-2026"
J = f"/jobs/{DEMO}/"
API = f"/api/jobs/{DEMO}/entries"
LOADED = datetime(2026, 10, 20, 12, 0, tzinfo=UTC)
LOOK = {"kind": "second_look", "task": "G1", "next": J + "tasks/G1/", "once": "0" * 32}
SHORT = {"kind": "closed_short", "task": "F4", "reason": "New seals next year.", "next": J}


@pytest.fixture
def shop(db):
    from rehang.book import queries, services

    queries.forget()
    return services.load_folder(folder=read_folder(demo_path()), by="marta", at=LOADED)


@pytest.fixture
def tap(shop, client):
    """The client, signed in with one tap as that person."""

    def enter(person: str):
        assert client.post("/sign-in/", {"person": person}).status_code == 303
        return client

    return enter


def text_of(answer) -> str:
    body = re.sub(r"<[^>]+>", " ", answer.content.decode())
    return re.sub(r"\s+", " ", unescape(body)).strip()


def judged():
    from rehang.book import queries

    return queries.judged(queries.job(DEMO))


def settled(kind: str) -> list[str]:
    """Who wrote entries of that kind through a door of these tests."""
    since = len(read_folder(demo_path()).entries)
    return [e.by for e in judged().state.order[since:] if e.kind == kind]


def sent(client, pin: str | None = None, **fields):
    entry = {"id": "door-0001", "at": "2026-10-21T15:00:00-05:00", **fields}
    body = {"entries": [entry]} | ({} if pin is None else {"pin": pin})
    return client.post(API, json.dumps(body), content_type="application/json")


# One tap settles nothing


def test_one_tap_as_another_person_gives_no_look(tap):
    give_pins("marta", "ilse")
    client = tap("ilse")
    asked = client.post(J + "act/", LOOK)
    assert asked.status_code == 200
    assert "To give a second look takes a PIN" in text_of(asked)
    for pin in ("", "111213"):
        assert client.post(J + "act/", LOOK | {"asked": "yes", "pin": pin}).status_code == 422
    assert settled("second_look") == []
    assert client.post(J + "act/", LOOK | {"asked": "yes", "pin": PIN}).status_code == 303
    assert settled("second_look") == ["ilse"]


def test_the_page_that_asks_posts_the_same_form_again(tap):
    give_pins("ilse")
    asked = tap("ilse").post(J + "act/", LOOK).content.decode()
    hidden = dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', asked))
    assert LOOK.items() <= hidden.items()
    assert f'action="{J}act/"' in asked


def test_another_person_gives_her_look_on_the_mechanics_phone(tap):
    give_pins("marta", "ilse")
    client = tap("marta")
    asked = client.post(J + "act/", LOOK).content.decode()
    assert '<option value="ilse">Ilse Karr</option>' in asked
    wrong = client.post(J + "act/", LOOK | {"asked": "yes", "who": "ilse", "pin": "999111"})
    assert "That is not the PIN or password of Ilse Karr." in text_of(wrong)
    client.post(J + "act/", LOOK | {"asked": "yes", "who": "ilse", "pin": PIN})
    assert settled("second_look") == ["ilse"]
    # Marta is still the one signed in.
    client.post(J + "act/", {"kind": "note", "text": "Swept the bay.", "next": J})
    assert judged().state.order[-1].by == "marta"


def test_the_helper_is_told_who_may_and_nothing_is_kept(tap):
    give_pins("marta", "tom")
    client = tap("tom")
    page = text_of(client.get(J + "tasks/F4/"))
    assert "Tom Ferrick has no paper on file to close a task short. Marta Oduya has." in page
    answer = client.post(J + "act/", SHORT | {"who": "tom", "pin": PIN}, follow=True)
    assert "Tom Ferrick has no paper on file to close a task short." in text_of(answer)
    assert settled("closed_short") == []
    client.post(J + "act/", SHORT | {"who": "marta", "pin": PIN})
    assert settled("closed_short") == ["marta"]


def test_the_button_is_off_where_nobody_may(tap):
    from rehang.book import services

    files = read_folder(demo_path()).files
    text = files["people.toml"].replace('kind = "mechanic"', 'kind = "student"')
    services.file_text(job=queries_job(), name="people.toml", text=text, by="marta", at=LOADED)
    page = markup(tap("marta").get(J + "tasks/F4/"))
    assert re.search(r'<button class="button " type="submit" disabled[^>]*>CLOSE IT SHORT', page)
    assert "Nobody in the list of people has: enter there who may" in unescape(page)


def queries_job():
    from rehang.book import queries

    return queries.job(DEMO)


ACTS = [
    SHORT,
    {"kind": "disagreed", "item": "plug:K0412", "verdict": "KEEP", "reason": "looks good to me"},
    {"kind": "complied", "recurring": "annual", "on": "2026-10-20"},
    {"kind": "disposed", "item": "plug:K0412", "how": "mutilated"},
    {"kind": "proved", "meter": "TW-3", "reason": "within 1 % at 50 in-lb"},
    {"kind": "found_out", "meter": "TW-3", "reason": "6 % low on the shop's beam"},
    {"kind": "closed", "finding": "odd-one-out:cylinder:3", "reason": "lapped in place, even"},
    LOOK,
]


@pytest.mark.parametrize("act", ACTS, ids=[one["kind"] for one in ACTS])
def test_no_door_settles_anything_without_a_pin(tap, act):
    give_pins("marta", "ilse")
    client = tap("ilse" if act["kind"] == "second_look" else "marta")
    fields = {k: v for k, v in act.items() if k not in ("next", "once")}
    assert "takes a PIN" in text_of(client.post(J + "act/", act))
    refused = sent(client, **fields)
    assert refused.status_code == 409
    assert "asks for the PIN or password of who does it" in refused.json()["sentence"]
    refused = sent(client, pin="111213", **fields)
    assert refused.status_code == 409
    assert refused.json()["sentence"].startswith("That is not the PIN or password of")
    assert settled(act["kind"]) == []


def test_the_api_keeps_a_look_with_the_pin_of_who_is_signed_in(tap):
    give_pins("ilse", "tom")
    fields = {"kind": "second_look", "task": "G1"}
    refused = sent(tap("tom"), pin=PIN, **fields)
    assert refused.status_code == 409
    assert refused.json()["sentence"] == (
        "Tom Ferrick has no paper on file to give a second look. Ilse Karr has."
    )
    assert sent(tap("ilse"), pin=PIN, **fields).status_code == 200
    # The out-tray sends again what was kept, and has no PIN to send with it.
    assert sent(tap("ilse"), **fields).json()["repeated"] == ["door-0001"]


def test_readings_need_no_pin(tap):
    client = tap("tom")
    reading = {"kind": "reading", "item": "plug:K0411", "place": "1T", "check": "gap"}
    assert sent(client, written="18 thou", meter="WG-1", **reading).status_code == 200


def test_what_another_person_wrote_is_struck_with_a_pin_and_ones_own_without(tap):
    give_pins("marta", "tom")
    client = tap("tom")
    sent(client, kind="seen", item="hose:HS1", check="look", word="sound")
    strike = {"reason": "wrong hose", "next": J}
    assert client.post(J + "strike/", strike | {"entry": "door-0001"}).status_code == 303
    assert "door-0001" in judged().state.struck
    theirs = next(e for e in judged().state.order if e.kind == "reading" and e.by == "marta")
    asked = client.post(J + "strike/", strike | {"entry": theirs.id})
    assert "To strike what another person wrote takes a PIN" in text_of(asked)
    answer = client.post(J + "strike/", strike | {"entry": theirs.id, "pin": PIN}, follow=True)
    assert "Tom Ferrick has no paper on file to strike what another person wrote." in (
        text_of(answer)
    )
    assert theirs.id not in judged().state.struck


def test_whoever_is_struck_reads_it_with_the_reason_on_their_board_and_in_the_handover(tap):
    give_pins("marta", "tom")
    sent(tap("tom"), kind="seen", item="hose:HS1", check="look", word="sound")
    client = tap("marta")
    strike = {"entry": "door-0001", "next": J, "pin": PIN}
    short = client.post(J + "strike/", strike | {"reason": "wrong"}, follow=True)
    assert '"wrong" is too little to stand on the record.' in text_of(short)
    assert "door-0001" not in judged().state.struck
    client.post(J + "strike/", strike | {"reason": "it was the other hose"})
    heading, reason = "Struck out of what you wrote", "Reason: it was the other hose"
    board = text_of(client.get(J))
    assert heading not in board
    board = text_of(tap("tom").get(J))
    assert heading in board
    assert re.search(r"Marta Oduya struck: .*" + reason, board)
    handed = text_of(client.get(J + "rest/handover/"))
    assert re.search(
        r"Struck by somebody else 1 .* Marta Oduya struck: Tom Ferrick: .*" + reason, handed
    )
    # One's own line is struck with any reason, and nobody is told.
    sent(client, id="door-0002", kind="seen", item="hose:HS1", check="look", word="sound")
    client.post(J + "strike/", {"entry": "door-0002", "reason": "slip"})
    assert "door-0002" in judged().state.struck
    assert "Reason: slip" not in text_of(client.get(J + "rest/handover/"))


def test_a_pin_is_kept_neither_in_the_session_nor_in_the_page(tap):
    give_pins("marta")
    client = tap("marta")
    answer = client.post(J + "act/", SHORT | {"reason": "ok", "pin": PIN}, follow=True)
    assert '"ok" is too little to stand on the record.' in text_of(answer)
    assert PIN not in answer.content.decode()
    assert PIN not in str(dict(client.session.items()))


def test_ten_wrong_pins_lock_and_the_right_one_waits_too(tap, settings):
    settings.AXES_COOLOFF_TIME = None
    give_pins("marta")
    client = tap("marta")
    answers = [
        client.post(J + "act/", SHORT | {"asked": "yes", "pin": f"11121{n}"}) for n in range(10)
    ]
    assert [one.status_code for one in answers] == [422] * 9 + [429]
    assert "Ten wrong PINs or passwords in a row." in text_of(answers[-1])
    assert client.post(J + "act/", SHORT | {"pin": PIN}).status_code == 429
    assert settled("closed_short") == []


# Supervision


def test_a_helper_says_once_under_whom_and_each_line_carries_it(tap):
    client = tap("tom")
    torque = {"place": "2", "wrench": "TW-3", "fastener": "3", "set": "50 in-lb"}
    refused = client.post(J + "torque/rocker-cover/", torque, follow=True)
    assert "Tom Ferrick has no paper on file to torque alone." in text_of(refused)
    page = client.get(J).content.decode()
    assert '<option value="marta">Marta Oduya</option>' in page
    assert '<option value="tom"' not in page
    assert client.post(J + "under/", {"under": "tom", "next": J}).status_code == 404
    assert client.post(J + "under/", {"under": "marta", "next": J}).status_code == 303
    assert 'data-under="marta"' in client.get(J).content.decode()
    client.post(J + "torque/rocker-cover/", torque, follow=True)
    last = judged().state.order[-1]
    assert (last.kind, last.by, last.fields.under) == ("torqued", "tom", "marta")
    assert "Supervised by Marta Oduya." in text_of(client.get(J + "book/"))
    # Another person at the same device begins with nobody named.
    assert "data-under" not in tap("marta").get(J).content.decode()


# Getting one


def set_pin(client, **fields):
    return client.post("/pin/", {"new": "593172", "again": "593172", **fields})


def test_nobody_gives_themselves_a_first_pin_or_password_with_one_tap(tap):
    client = tap("ilse")
    assert "Ilse Karr has no PIN yet." in text_of(set_pin(client))
    words = {"password": "a long bench word", "again": "a long bench word"}
    assert "Ilse Karr has no PIN yet." in text_of(client.post("/set-password/", words))
    asked = client.post(J + "act/", LOOK | {"asked": "yes", "pin": "593172"})
    assert "Ilse Karr has no PIN yet." in text_of(asked)
    assert settled("second_look") == []


def test_the_store_itself_gives_nobody_a_first_pin_of_their_own(shop):
    from rehang.book import members, pins
    from rehang.trade.terms.errors import NotAllowed

    with pytest.raises(NotAllowed, match=r"^Ilse Karr has no PIN yet\."):
        pins.set_pin(person="ilse", pin=PIN, by="ilse", at=LOADED)
    assert not members.has_secret(members.member("ilse"))


def test_nobody_sets_the_pin_of_another(tap):
    from rehang.book import members, pins
    from rehang.trade.terms.errors import NotAllowed

    give_pins("marta")
    with pytest.raises(
        NotAllowed, match=r"^Each person sets their own PIN\. Ilse Karr needs a one-time code"
    ):
        pins.set_pin(person="ilse", pin=PIN, by="marta", at=LOADED)
    # What a form names beside it changes nothing: it is Marta's own that is set.
    assert set_pin(tap("marta"), person="ilse", pin=PIN).status_code == 303
    assert not members.has_secret(members.member("ilse"))
    assert members.is_theirs(members.member("marta"), "593172")


@pytest.mark.parametrize(
    "pin", ["12345", "1234567", "123456", "987654", "000000", "48071a", "４80713"]
)
def test_a_pin_is_six_digits_in_no_order(tap, pin):
    give_pins("marta")
    answer = tap("marta").post("/pin/", {"new": pin, "again": pin, "pin": PIN})
    assert answer.status_code == 422
    assert re.search(r"A PIN is 6 digits|guessed first", text_of(answer))


def test_a_pin_is_changed_by_whoever_has_it(tap):
    give_pins("marta")
    client = tap("marta")
    assert "The two are not the same." in text_of(set_pin(client, again="593173", pin=PIN))
    assert set_pin(client, pin=PIN).status_code == 303
    assert "That is not the PIN" in text_of(set_pin(client, pin=PIN))


def test_the_terminal_sets_the_pin_of_who_keeps_the_shop_alone_and_asks_twice(
    shop, monkeypatch, capsys
):
    import io

    from cyclopts import App

    from rehang.book import members
    from rehang.cli import pins
    from rehang.trade.terms.errors import BadInput, NotAllowed

    app = App()
    pins.register(app, store=lambda: None, now=lambda: LOADED)
    run = {"result_action": "return_value"}
    monkeypatch.setattr("sys.stdin", io.StringIO(f"{PIN}\n480714\n"))
    with pytest.raises(BadInput, match=r"The two are not the same"):
        app(["pin", "marta"], **run)
    assert not members.has_secret(members.member("marta"))
    monkeypatch.setattr("sys.stdin", io.StringIO(f"{PIN}\n{PIN}\n"))
    assert app(["pin", "marta"], **run) == 0
    assert "The PIN of Marta Oduya is set." in capsys.readouterr().out
    assert members.is_theirs(members.member("marta"), PIN)
    monkeypatch.setattr("sys.stdin", io.StringIO(f"{PIN}\n{PIN}\n"))
    with pytest.raises(NotAllowed, match=r"^Ilse Karr sets their own PIN, with a one-time code\."):
        app(["pin", "ilse"], **run)
    assert not members.has_secret(members.member("ilse"))


# The demo's


def test_the_people_of_a_demo_have_pins_that_the_pages_say(tap):
    from rehang.book import members, pins

    said = pins.show_demo_pins(job=queries_job(), pins=DEMO_PINS, by="marta", at=LOADED)
    assert said == {"Marta Oduya": "407193", "Tom Ferrick": "528614", "Ilse Karr": "936205"}
    assert members.member("ilse").pin.startswith("md5$")
    client = tap("marta")
    client.post("/sign-out/")
    assert "This is a demo. The PIN of Ilse Karr is 936205" in text_of(client.get("/sign-in/"))
    asked = tap("marta").post(J + "act/", LOOK)
    assert "This is a demo. The PIN of Ilse Karr is 936205" in text_of(asked)
    # Once she sets her own, no page says it and the demo does not set it back.
    pins.set_pin(person="ilse", pin=PIN, by="ilse", at=LOADED)
    assert "936205" not in text_of(tap("marta").post(J + "act/", LOOK))
    pins.show_demo_pins(job=queries_job(), pins=DEMO_PINS, by="marta", at=LOADED)
    assert members.is_theirs(members.member("ilse"), PIN)


def test_a_job_that_is_no_demo_shows_no_pins(tap):
    from rehang.book import pins, services
    from rehang.trade.terms.errors import NotAllowed

    text = read_folder(demo_path()).files["engine.toml"].replace("invented = true", "")
    services.file_text(job=queries_job(), name="engine.toml", text=text, by="marta", at=LOADED)
    with pytest.raises(NotAllowed, match=r"is no demo\. Each person of it gets a PIN of their own"):
        pins.show_demo_pins(job=queries_job(), pins=DEMO_PINS, by="marta", at=LOADED)
