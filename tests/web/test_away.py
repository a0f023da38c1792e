"""A form out of a phone's out-tray: dated when it was written, kept once, and answered for a program."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime, timedelta

import pytest
from django.test import Client

from rehang.sheets import demo_path
from rehang.sheets.folder import read_folder
from rehang.web.shared import away

J = "/jobs/tv4-2207-2026/"
LOADED = datetime(2026, 10, 20, 12, 0, tzinfo=UTC)


@pytest.fixture
def client(db) -> Client:
    from rehang.book import queries, services

    queries.forget()
    services.load_folder(folder=read_folder(demo_path()), by="marta", at=LOADED)
    one = Client()
    assert one.post("/sign-in/", {"person": "marta"}).status_code == 303
    return one


def book():
    from rehang.book import queries

    return queries.entries(queries.job("tv4-2207-2026"))


def send(client: Client, written: str, clock: str = "", **more: str):
    form = {"kind": "stopped", "where": "tray", "place": "4B", "next": J, **more}
    heads = {away.WRITTEN: written} | ({away.CLOCK: clock} if clock else {})
    return client.post(f"{J}act/", form, headers=heads)


def test_it_is_dated_when_it_was_written_and_kept_once(client):
    before = len(book())
    written = (datetime.now(UTC) - timedelta(hours=3)).replace(microsecond=0)
    once = uuid.uuid4().hex
    for _ in range(2):
        answer = send(client, written.isoformat(), "2025-01-01T10:00:00-06:00", once=once)
        assert (answer.status_code, answer.json()["kept"]) == (200, True)
    (entry,) = book()[before:]
    assert (entry.at, entry.fields.clock) == (written, "2025-01-01T10:00:00-06:00")
    assert entry.kept > entry.at
    # No page says it: nobody who looks at one wrote it just now.
    assert "said" not in client.session


@pytest.mark.parametrize(
    ("written", "sentence"),
    [
        ("yesterday", '"yesterday" is no date and time.'),
        ("2026-11-30T10:00:00", "has no offset."),
        ((datetime.now(UTC) + timedelta(days=2)).isoformat(), "which is still to come."),
    ],
    ids=["words", "no offset", "to come"],
)
def test_a_time_that_cannot_be_is_refused_in_words_and_nothing_is_kept(client, written, sentence):
    before = len(book())
    answer = send(client, written, once=uuid.uuid4().hex)
    assert answer.status_code == 422
    assert sentence in answer.json()["sentence"]
    assert len(book()) == before


def test_what_takes_a_pin_and_what_is_refused_says_so(client):
    now = datetime.now(UTC).isoformat()
    answer = send(client, now, kind="second_look", task="H6", once=uuid.uuid4().hex)
    assert answer.status_code == 422
    assert answer.json()["sentence"]
    answer = send(client, now, kind="started", task="nowhere", once=uuid.uuid4().hex)
    assert answer.status_code == 422
    assert answer.json()["sentence"] not in ("", away.NOT_TAKEN)


def test_a_page_asked_for_ahead_says_nothing_that_was_meant_for_who_looks_at_it(client):
    session = client.session
    session["said"] = {"sentence": "Bolts torqued.", "undo": ""}
    session.save()
    ahead = client.get(f"{J}rest/", headers={"Rehang-Ahead": "yes"})
    assert ahead.headers["Rehang-Person"] == "marta"
    assert "Bolts torqued." in client.get(f"{J}rest/").content.decode()
    assert "Bolts torqued." not in client.get(f"{J}rest/").content.decode()
    assert Client().get("/sign-in/").headers["Rehang-Person"] == ""


def test_others_are_where_they_said_until_they_stop_saying_so():
    from rehang.web.away.presence import STANDS_S, Presence

    now = [0.0]
    here = Presence(lambda: now[0])
    assert here.others(1, "marta", "Marta Oduya", "1T") == []
    assert here.others(1, "tom", "Tom Ferrick", "3B") == [{"name": "Marta Oduya", "at": "1T"}]
    # Another job is another bench.
    assert here.others(2, "ilse", "Ilse Karr", "3B") == []
    assert here.others(1, "marta", "Marta Oduya", "") == [{"name": "Tom Ferrick", "at": "3B"}]
    assert here.others(1, "tom", "Tom Ferrick", "<b>3B</b>") == []
    here.others(1, "tom", "Tom Ferrick", "3B")
    now[0] = STANDS_S + 1
    assert here.others(1, "marta", "Marta Oduya", "1T") == []
