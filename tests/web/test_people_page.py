"""Codes, access that is ended, visits, and what whoever keeps the shop is told of the door."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from html import unescape

import pytest
from django.test import Client
from django.utils import timezone

from rehang.sheets import demo_path
from rehang.sheets.folder import read_folder
from tests.pins import PIN, give_pins

J = "/jobs/tv4-2207-2026/"
LOADED = datetime(2026, 10, 20, 12, 0, tzinfo=UTC)
OWN = "thick washer under it"


@pytest.fixture
def shop(db):
    from rehang.book import queries, services

    queries.forget()
    job = services.load_folder(folder=read_folder(demo_path()), by="marta", at=LOADED)
    give_pins("marta")
    return job


def tapped(person: str, **at: str) -> Client:
    client = Client(**at)
    assert client.post("/sign-in/", {"person": person}).status_code == 303
    return client


def text_of(answer) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", answer.content.decode()))).strip()


def change(client: Client, person: str, act: str, pin: str = PIN):
    return client.post("/people/", {"person": person, "act": act, "pin": pin})


def code_of(person: str) -> str:
    page = change(tapped("marta"), person, "code")
    assert page.status_code == 200, text_of(page)
    return re.search(r'"big mono">([\w-]+)<', page.content.decode())[1]


def use(client: Client, name: str, code: str, new: str = OWN, again: str = ""):
    return client.post(
        "/code/", {"name": name, "code": code, "new": new, "again": again or new}
    )  # fmt: skip


def member(key: str):
    from rehang.book import members

    return members.member(key)


def lines() -> list[tuple[str, str, str]]:
    from rehang.book.models import AccessLine

    return list(AccessLine.objects.order_by("seq").values_list("what", "about", "by"))


# Codes


def test_a_colleague_sets_a_first_password_with_a_code_that_works_once(shop):
    from rehang.book import members

    code = code_of("ilse")
    phone = Client()
    assert use(phone, "ilse", code.lower().replace("-", " ")).status_code == 303
    assert "rehang_session" in phone.cookies
    assert members.is_theirs(member("ilse"), OWN)
    assert "That name and code do not go together" in text_of(use(Client(), "ilse", code))
    assert Client().post("/sign-in/", {"name": "ilse", "password": OWN}).status_code == 303
    assert ("code_given", "ilse", "marta") in lines()
    assert ("secrets_reset", "ilse", "ilse") in lines()


def test_a_code_resets_what_there_was_and_ends_the_other_visits(shop):
    from rehang.book import members

    give_pins("ilse")
    old = tapped("ilse")
    code = code_of("ilse")
    # Until it is used nothing is different.
    assert members.is_theirs(member("ilse"), PIN)
    assert old.get(J).status_code == 200
    assert use(Client(), "ilse", code, "593172").status_code == 303
    assert members.is_theirs(member("ilse"), "593172")
    assert not members.is_theirs(member("ilse"), PIN)
    assert old.get(J).status_code == 302


def test_a_code_is_no_password_and_no_pin(shop):
    from rehang.book import members

    code = code_of("ilse").replace("-", "")
    assert not members.is_theirs(member("ilse"), code)
    assert Client().post("/sign-in/", {"name": "ilse", "password": code}).status_code == 422


@pytest.mark.parametrize(
    ("name", "new", "again", "sentence"),
    [
        ("", OWN, OWN, "Enter your sign-in name."),
        ("ilse", OWN, "other", "The two are not the same."),
        ("ilse", "ilse karr", "ilse karr", "too similar to the name"),
        ("ilse", "short", "short", "at least 12 characters"),
        ("ilse", "123456", "123456", "That PIN is guessed first."),
        ("tom", OWN, OWN, "That name and code do not go together"),
        ("zed", OWN, OWN, "That name and code do not go together"),
    ],
)
def test_what_is_wrong_with_a_code_is_said_and_the_code_still_works(
    shop, name, new, again, sentence
):
    code = code_of("ilse")
    refused = use(Client(), name, code, new, again)
    assert (refused.status_code, sentence in text_of(refused)) == (422, True)
    assert use(Client(), "ilse", code).status_code == 303


def test_a_code_of_long_ago_works_no_more(shop):
    code = code_of("ilse")
    ilse = member("ilse")
    ilse.code_until = timezone.now() - timedelta(seconds=1)
    ilse.save()
    assert "too old" in text_of(use(Client(), "ilse", code))


def test_where_the_network_signs_in_a_code_sets_a_password(shop, settings):
    code = code_of("ilse")
    settings.REHANG_TAP_IN = False
    assert "A PIN signs nobody in here." in text_of(use(Client(), "ilse", code, "593172"))


def test_what_the_page_changes_is_what_verify_goes_by(shop):
    from rehang.book import verifying

    change(tapped("marta"), "tom", "end")
    change(tapped("marta"), "tom", "give")
    code = code_of("ilse")
    assert verifying.access_checked().changed == []
    ilse = member("ilse")
    ilse.code_until += timedelta(days=9)
    ilse.save()
    assert verifying.access_checked().changed == [
        '"ilse": the one-time code is not what the access log gives.'
    ]
    ilse.code_until -= timedelta(days=9)
    ilse.save()
    assert use(Client(), "ilse", code).status_code == 303
    assert verifying.access_checked().changed == []


# Who may


@pytest.mark.parametrize("act", ["code", "end", "give"])
def test_only_who_keeps_the_shop_changes_a_persons_access_with_their_own_pin(shop, act):
    give_pins("tom")
    assert change(tapped("tom"), "ilse", act).status_code == 403
    wrong = change(tapped("marta"), "ilse", act, "111213")
    assert "That is not the PIN or password of Marta Oduya." in text_of(wrong)
    own = change(tapped("marta"), "marta", act)
    assert "does that for others" in text_of(own)
    assert [one for one in lines() if one[0].startswith(("code", "access"))] == []


def test_a_person_of_another_shop_is_out_of_reach(shop):
    from rehang.book import services
    from tests.book.shop import KEPT, folder

    services.load_folder(folder=folder(), by="ada", at=KEPT)
    said = text_of(change(tapped("marta"), "ada", "code"))
    assert "Marta Oduya does not keep the shop of Ada." in said


def test_access_that_is_ended_lets_nobody_in_and_loses_nothing(shop):
    from rehang.book import members, queries
    from rehang.trade.terms.errors import NotAllowed

    give_pins("ilse")
    old = tapped("ilse")
    wrote = [one for one in queries.entries(shop) if one.by == "ilse"]
    said = text_of(change(tapped("marta"), "ilse", "end"))
    assert "Ilse Karr is let in no more. What they wrote stays." in said
    assert "ACCESS ENDED." in said
    assert old.get(J).status_code == 302
    assert Client().post("/sign-in/", {"person": "ilse"}).status_code == 422
    assert "Ilse Karr" not in text_of(Client().get("/sign-in/"))
    assert [one for one in queries.entries(shop) if one.by == "ilse"] == wrote != []
    # Her PIN settles nothing on another's device, and no entry is taken in her name.
    look = {"kind": "second_look", "task": "G1", "who": "ilse", "pin": PIN, "asked": "yes"}
    assert tapped("marta").post(J + "act/", look).status_code == 422
    from rehang.book import services

    with pytest.raises(NotAllowed, match=r"^The access of Ilse Karr has been ended\.$"):
        services.write(job=shop, kind="note", data={"text": "Swept."}, by="ilse", at=timezone.now())
    assert "is let in again" in text_of(change(tapped("marta"), "ilse", "give"))
    assert members.is_theirs(member("ilse"), PIN)
    assert tapped("ilse").get(J).status_code == 200
    assert [w for w, about, by in lines() if (about, by) == ("ilse", "marta") and "access" in w] == [
        "access_ended", "access_given",
    ]  # fmt: skip


# Visits


def test_own_visits_are_listed_and_ended(shop):
    here, there, third = (
        tapped("tom", headers={"user-agent": f"Browser/1 ({name}; 64)"})
        for name in ("Tablet", "Phone", "Laptop")
    )
    page = here.get("/visits/")
    assert re.findall(r"<b>(This device|\w+; 64)</b>", page.content.decode()) == [
        "Laptop; 64", "Phone; 64", "This device",
    ]  # fmt: skip
    laptop, phone = re.findall(r'name="visit" value="(\w+)"', page.content.decode())
    assert third.session.session_key not in page.content.decode()
    assert here.post("/visits/", {"visit": phone}).status_code == 303
    assert [one.get(J).status_code for one in (here, there, third)] == [200, 302, 200]
    # Another person's is out of reach.
    tapped("ilse").post("/visits/", {"visit": laptop})
    assert third.get(J).status_code == 200
    here.post("/visits/", {})
    assert [one.get(J).status_code for one in (here, there, third)] == [200, 302, 302]


def test_a_visit_that_is_not_used_ends_and_one_that_is_goes_on(shop, monkeypatch, settings):
    client = tapped("tom")
    began = client.session["began"]

    def later(hours: float) -> int:
        from rehang.book.models import Visit

        clock = began + hours * 3600
        monkeypatch.setattr("rehang.web.shop.turned_away.time.time", lambda: clock)
        # What is left of it on the disk, with so much time gone by.
        visit = Visit.objects.get(session_key=client.session.session_key)
        assert visit.expire_date - timezone.now() > timedelta(
            seconds=settings.SESSION_COOKIE_AGE - 60
        )
        return client.get(J).status_code

    assert settings.SESSION_COOKIE_AGE == 24 * 3600
    assert [later(hours) for hours in (1, 20, 40, 14 * 24 - 1)] == [200] * 4
    assert later(14 * 24 + 1) == 302


def test_a_visit_is_moved_on_once_in_five_minutes(shop, monkeypatch, django_assert_num_queries):
    client = tapped("tom")
    began = client.session["began"]
    for ahead, written in ((60, False), (301, True)):
        monkeypatch.setattr(
            "rehang.web.shop.turned_away.time.time", lambda ahead=ahead: began + ahead
        )
        client.get(J)
        assert (client.session["seen"] > began) is written


# What is told


def test_whoever_keeps_the_shop_is_told_who_came_in_and_who_was_sent_away(shop):
    Client().post("/sign-in/", {"name": "tom", "password": "guess"}, REMOTE_ADDR="203.0.113.9")
    Client().post("/sign-in/", {"name": "my secret word", "password": "x"})
    tapped("tom")
    change(tapped("marta"), "ilse", "code")
    page = text_of(tapped("marta").get("/people/"))
    for line in (
        "Tom Ferrick : wrong PIN, password or code, from 203.0.113.9",
        "A name nobody has : wrong PIN, password or code",
        "Tom Ferrick : signed in with one tap",
        "Ilse Karr : one-time code given, by Marta Oduya",
    ):
        assert line in page
    assert "my secret word" not in page
    assert tapped("tom").get("/people/").status_code == 403
    assert Client().get("/people/").status_code == 302


def test_the_page_says_what_each_may_do(shop):
    page = text_of(tapped("marta").get("/people/"))
    assert (
        "Marta Oduya marta writes, approve, decide, inspect, torque alone and keeps the shop"
        in page
    )
    assert "Tom Ferrick tom writes Has no PIN and no password yet." in page


def test_who_began_the_shop_set_a_pin_then_and_times_are_the_shops(db, client):
    from rehang.book import beginning, models, queries
    from tests.web.test_layout_form import SHOP

    queries.forget()
    at = datetime(2026, 11, 30, 23, 30, tzinfo=UTC)
    told = dict(SHOP) | {"timezone": "America/Denver"}
    beginning.begin_shop(shop=told, person={"name": "Ada Quist"}, pin=PIN, password="", at=at)
    [ada] = models.Member.objects.all()
    client.force_login(ada.user, "django.contrib.auth.backends.ModelBackend")
    words = text_of(client.get("/people/"))
    assert "Ada Quist : PIN set when the shop was begun" in words
    assert "one-time code" not in words.partition("At the door")[2]
    # Seven hours behind: still the afternoon there.
    assert "30 Nov, 16:30" in words
    assert "UTC" not in words


def test_a_lost_phone_is_put_out_with_one_tap_by_whoever_keeps_the_shop(shop):
    lost, keeper = (
        tapped("tom", HTTP_USER_AGENT="Mozilla/5.0 (Bench phone; invented)"),
        tapped("marta"),
    )
    page = keeper.get("/people/").content.decode()
    assert "Bench phone; invented" in page
    key = re.search(
        r'name="person" value="tom">\s*<input\s+type="hidden" name="visit" value="(\w+)"', page
    )[1]
    # Nobody else puts a phone out, and nothing of one person's is ended as another's.
    assert tapped("ilse").post("/people/", {"person": "tom", "visit": key}).status_code == 403
    keeper.post("/people/", {"person": "ilse", "visit": key})
    assert lost.get(J).status_code == 200
    assert "That device is signed out." in text_of(
        keeper.post("/people/", {"person": "tom", "visit": key})
    )
    assert lost.get(J).status_code == 302
    assert "signed out before" in text_of(keeper.post("/people/", {"person": "tom", "visit": key}))


def test_a_code_is_a_square_that_tells_no_line_of_the_code(shop, settings):
    settings.REHANG_REACHED_AT, settings.REHANG_AUTHORITY = ["https://10.1.2.3:8000/"], b"x"
    page = change(tapped("marta"), "tom", "code").content.decode()
    code = re.search(r'"big mono">([\w-]+)<', page)[1].replace("-", "")
    assert read_square(page) == f"http://10.1.2.3:8000/phones/#tom.{code}"
    settings.REHANG_AUTHORITY = b""
    page = change(tapped("marta"), "tom", "code").content.decode()
    assert read_square(page).startswith("https://10.1.2.3:8000/code/#tom.")


def read_square(page: str) -> str:
    """What another program's reader finds in the square of a page."""
    import numpy as np
    import zxingcpp

    side = int(re.search(r'class="square-mark" viewBox="0 0 (\d+)', page)[1])
    drawn = np.full((side, side), 255, dtype=np.uint8)
    for x, y in re.findall(r"M(\d+) (\d+)h1v1h-1z", page):
        drawn[int(y), int(x)] = 0
    (found,) = zxingcpp.read_barcodes(np.kron(drawn, np.ones((4, 4), dtype=np.uint8)))
    return found.text


def test_at_the_terminal_only_whoever_keeps_the_shop_gets_a_code(shop):
    from rehang.book import pins
    from rehang.trade.terms.errors import NotAllowed

    code = pins.give_code(person="marta", by=pins.TERMINAL, at=timezone.now())
    assert use(Client(), "marta", code).status_code == 303
    with pytest.raises(NotAllowed, match="from whoever keeps the shop"):
        pins.give_code(person="tom", by=pins.TERMINAL, at=timezone.now())
