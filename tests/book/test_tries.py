"""Who may try a password how often, where a try is counted, and the line of hashes."""

import threading

import pytest
from django.http import HttpResponse
from django.test import Client

from rehang.book import hashing, members, services, tries
from tests.book.shop import KEPT

pytestmark = pytest.mark.django_db
GOOD = "feeler-gauge-018"
STRANGER = "203.0.113.9"


@pytest.fixture
def ada(job):
    services.set_password(person="ada", password=GOOD, by="ada", at=KEPT)
    return members.member("ada")


def sign_in(client: Client, name: str, password: str, address: str = STRANGER):
    return client.post("/sign-in/", {"name": name, "password": password}, REMOTE_ADDR=address)


def test_changing_names_use_up_the_share_of_one_address_and_cost_no_hash_then(ada, monkeypatch):
    client = Client()
    found = [sign_in(client, f"n{n}", "guess").status_code for n in range(22)]
    assert found == [422] * 20 + [429] * 2
    monkeypatch.setattr(
        "django.contrib.auth.backends.ModelBackend.authenticate",
        lambda *given, **more: pytest.fail("it was hashed"),
    )
    waits = sign_in(client, "ada", GOOD)
    assert waits.status_code == 429
    assert 290 <= int(waits["Retry-After"]) <= 300
    assert "Too many tries. Wait" in waits.content.decode()
    # It is the IPv6 network that one line is given whose share it is.
    assert tries.share_of("2001:db8::1") == tries.share_of("2001:db8::ffff")


def test_a_stranger_locks_nobody_out_of_the_device_they_signed_in_at(ada):
    """The same address, as behind one router or a proxy that names nobody."""
    own = Client()
    assert sign_in(own, "ada", GOOD).status_code == 303
    for _ in range(25):
        sign_in(Client(), "ada", "guess")
    assert sign_in(Client(), "ada", GOOD).status_code == 429
    own.post("/sign-out/")
    assert sign_in(own, "ada", GOOD).status_code == 303


def test_a_stranger_elsewhere_locks_nobody_out(ada):
    for _ in range(25):
        sign_in(Client(), "ada", "guess")
    assert sign_in(Client(), "ada", GOOD, "192.0.2.7").status_code == 303


def test_a_known_device_is_signed_and_has_its_own_tries(ada, rf):
    answer = HttpResponse()
    tries.remember_device(answer, "ada")
    cookie = answer.cookies["rehang_device"]
    assert cookie["httponly"]
    request = rf.get("/", REMOTE_ADDR=STRANGER)
    request.COOKIES["rehang_device"] = cookie.value
    assert tries.counted_at(request).startswith("fd")
    request.COOKIES["rehang_device"] = "ada:forged:forged"
    assert tries.counted_at(request) == STRANGER


def test_a_right_pin_forgets_no_wrong_tries_made_elsewhere(ada, job):
    for _ in range(9):
        sign_in(Client(), "ada", "guess")
    here = Client()
    assert sign_in(here, "ada", GOOD, "192.0.2.7").status_code == 303
    words = {"now": GOOD, "password": "another-gauge-019", "again": "another-gauge-019"}
    assert here.post("/set-password/", words, REMOTE_ADDR="192.0.2.7").status_code == 303
    assert sign_in(Client(), "ada", "guess").status_code == 429


def test_a_stranger_hears_the_same_of_every_name(job):
    services.set_password(person="ada", password=GOOD, by="ada", at=KEPT)
    said = {
        Client().post("/sign-in/", {"person": name}, REMOTE_ADDR=STRANGER).content.decode()
        .partition('id="w-name">')[2].partition("<")[0]
        for name in ("ada", "ben", "nobody")
    }  # fmt: skip
    assert said == {"Signing in with one tap works only at the machine itself."}


def test_one_hash_is_worked_out_at_a_time_and_one_more_may_wait(settings):
    settings.PASSWORD_HASHERS = ["rehang.book.hashing.Argon2"]
    go, running = threading.Event(), threading.Event()

    def slow() -> str:
        running.set()
        go.wait(10)
        return "done"

    waiting = [threading.Thread(target=hashing._in_line, args=(slow,)) for _ in range(2)]
    for one in waiting:
        one.start()
    assert running.wait(10)
    for _ in range(200):
        if hashing._ROOM._value == 0:
            break
        threading.Event().wait(0.01)
    try:
        with pytest.raises(tries.TooManyTries, match=r"^Too many tries\. Wait 2 seconds, then"):
            hashing.check_room()
        with pytest.raises(tries.TooManyTries, match=r"Wait 2 seconds"):
            hashing.Argon2().encode("words", "salt-of-some-kind")
        # A tap tries nothing, and is let through.
    finally:
        go.set()
        for one in waiting:
            one.join()
    hashing.check_room()


def test_the_schema_of_the_interface_is_for_who_is_signed_in(job):
    answer = Client().get("/api/openapi.json", REMOTE_ADDR=STRANGER)
    assert (answer.status_code, answer.url.partition("?")[0]) == (302, "/sign-in/")


def test_a_wrong_pin_too_many_is_said_to_the_interface_too(ada, rf):
    here = Client()
    assert sign_in(here, "ada", GOOD).status_code == 303
    for _ in range(tries.WRONG_TRIES):
        request = rf.post("/")
        request.COOKIES = {"rehang_device": here.cookies["rehang_device"].value}
        tries.count_wrong(request)
    body = {
        "entries": [
            {
                "id": "note-00001",
                "kind": "note",
                "text": "Swept.",
                "at": "2026-11-02T10:00:00-05:00",
            }
        ]
    }
    answer = here.post(
        "/api/jobs/case/entries", body | {"pin": GOOD}, content_type="application/json"
    )
    assert answer.status_code == 429, answer.json()
    assert answer.json()["sentence"].startswith("Too many tries. Wait")
    assert answer["Retry-After"]
    # Without a PIN nothing is tried, and the work goes on.
    assert (
        here.post("/api/jobs/case/entries", body, content_type="application/json").status_code
        == 200
    )
