"""The door to the network: no stranger holds it shut, and a proxy in front is no way round it."""

from __future__ import annotations

import http.client
import re
import socket
import time
from collections.abc import Iterator

import pytest

from bench.kills import LOAD
from rehang.site import front
from tests.started import ForkedServer, in_store

pytestmark = pytest.mark.slow

# How long is waited for an answer that does not come.
PATIENCE_S = 120.0


@pytest.fixture(scope="module")
def server(tmp_path_factory) -> Iterator[ForkedServer]:
    data = tmp_path_factory.mktemp("front")
    in_store(data, LOAD, "front-job")
    one = ForkedServer(data)
    one.start()
    yield one
    one.end()


def ask(server: ForkedServer, method: str = "GET", path: str = "/sign-in/", **headers: str):
    line = http.client.HTTPConnection("127.0.0.1", server.port, timeout=PATIENCE_S)
    line.request(method, path, headers={k.replace("_", "-"): v for k, v in headers.items()})
    answer = line.getresponse()
    body = answer.read().decode()
    line.close()
    return answer, body


def seconds_for_pages(server: ForkedServer) -> float:
    began = time.monotonic()
    for _ in range(10):
        answer, _ = ask(server)
        assert answer.status == 200
    return time.monotonic() - began


def hold(server: ForkedServer, number: int, said: bytes) -> list[socket.socket]:
    """So many connections that say something and then nothing more."""
    held = []
    for _ in range(number):
        line = socket.create_connection(("127.0.0.1", server.port), timeout=PATIENCE_S)
        line.sendall(said)
        held.append(line)
    return held


@pytest.mark.parametrize(
    ("number", "said"),
    [(520, b""), (520, b"GET / HTTP/1.1\r\nHost: localhost\r\nX-A: "),
     (100, b"POST /sign-in/ HTTP/1.1\r\nHost: localhost\r\nContent-Length: 30000000\r\n\r\n" + b"x" * 4000)],
    ids=["idle", "unfinished head", "unfinished body"],
)  # fmt: skip
def test_connections_that_are_held_open_keep_nobody_out(server, number, said):
    # What they take on this machine, which may be busy with ten other things.
    alone = seconds_for_pages(server)
    held = hold(server, number, said)
    try:
        # Ten pages, each on a connection of its own; held shut, one took 42 s and more.
        assert seconds_for_pages(server) < 20 + 3 * alone
    finally:
        for line in held:
            line.close()


def test_a_request_that_is_not_whole_in_its_time_is_let_go(monkeypatch):
    """By the door's own clock, without waiting for it."""
    channel = front._Channel.__new__(front._Channel)
    channel.began = 1000.0

    class Request:
        content_length = 0
        body_bytes_received = 0

    channel.request = Request()
    assert front._patience(channel) == front.WHOLE_REQUEST_S
    Request.content_length = 20 * 1024 * 1024
    # A photo of 20 MB on a weak line has three quarters of an hour.
    assert 40 * 60 < front._patience(channel) < 50 * 60


def guesses(server: ForkedServer, number: int, address: str = "127.0.4.1") -> list[int]:
    """Statuses of so many guesses with changing names on one connection, one after the other."""
    line = http.client.HTTPConnection(
        "127.0.0.1", server.port, timeout=60, source_address=(address, 0)
    )
    line.request("GET", "/sign-in/")
    answer = line.getresponse()
    answer.read()
    token = answer.headers["Set-Cookie"].partition("=")[2].partition(";")[0]
    found = []
    for n in range(number):
        line.request(
            "POST", "/sign-in/", f"csrfmiddlewaretoken={token}&name=n{n}&password=guess",
            {"Cookie": f"rehang_csrf={token}", "Content-Type": "application/x-www-form-urlencoded"},
        )  # fmt: skip
        answer = line.getresponse()
        body = answer.read().decode()
        found.append(answer.status)
        if answer.status == 429:
            assert re.search(r"Too many tries\. Wait \d+ seconds?, then try again\.", body)
            assert 1 <= int(answer.headers["Retry-After"]) <= 300
    line.close()
    return found


def test_an_address_has_twenty_wrong_tries_and_then_waits(server):
    assert guesses(server, 20) == [422] * 20
    began = time.monotonic()
    assert guesses(server, 4) == [429] * 4
    # Told to wait, it is heard again after two seconds, each time.
    assert time.monotonic() - began > 3 * front.WAIT_S
    # Another address has all of its own.
    assert guesses(server, 1, "127.0.4.2") == [422]


def test_a_form_with_no_boundary_is_answered_in_words(server):
    answer, _ = ask(server)
    token = answer.headers["Set-Cookie"].partition("=")[2].partition(";")[0]
    for kind in ("multipart/form-data", "multipart/form-data; boundary="):
        line = http.client.HTTPConnection("127.0.0.1", server.port, timeout=30)
        line.request(
            "POST", "/sign-in/", "x", {"Cookie": f"rehang_csrf={token}", "Content-Type": kind}
        )
        answer = line.getresponse()
        body = answer.read().decode()
        line.close()
        assert (answer.status, body[:33]) in [
            (400, "The request could not be read, an"), (403, "This page was loaded too long ago"),
        ]  # fmt: skip


def test_head_is_answered_as_get_is(server):
    answer, body = ask(server, "HEAD")
    assert (answer.status, body) == (200, "")


def test_no_cache_keeps_a_page_and_the_device_is_asked_for_little(server):
    answer, _ = ask(server)
    assert "no-store" in answer.headers["Cache-Control"]
    assert "geolocation=()" in answer.headers["Permissions-Policy"]


def test_a_wrong_name_is_answered_in_words_and_leaves_no_trace_in_the_log(server):
    before = (server.data / "server.log").read_text()
    answer, body = ask(server, Host="elsewhere.example")
    assert answer.status == 400
    assert body.startswith("This machine is not asked for by that name.")
    assert (server.data / "server.log").read_text() == before


PROXIES = [
    {"X_Forwarded_For": "10.0.0.9"}, {"Forwarded": "for=10.0.0.9"}, {"Via": "1.1 door"},
    {"X_Real_IP": "10.0.0.9"}, {"X_Forwarded_Proto": "https"}, {"X_Forwarded_Host": "bench.lan"},
    {"True_Client_IP": "10.0.0.9"}, {"Host": "127.0.0.1.elsewhere.example"},
]  # fmt: skip


@pytest.mark.parametrize("headers", PROXIES, ids=[next(iter(one)) for one in PROXIES])
def test_nobody_taps_in_through_something_in_between(server, headers):
    _, at_the_machine = ask(server)
    assert 'name="person"' in at_the_machine
    _, passed_on = ask(server, **headers)
    assert 'name="person"' not in passed_on


def test_behind_a_proxy_forms_are_taken_cookies_are_secure_and_nobody_taps_in(tmp_path):
    in_store(tmp_path, LOAD, "front-job")
    give = (
        "from rehang.book import services\nfrom django.utils import timezone\n"
        "from rehang.book.models import Member\n"
        "for m in Member.objects.all():\n"
        "    services.set_password(person=m.key, password='a long one for the bench', by=m.key, at=timezone.now())"
    )
    in_store(tmp_path, give)
    one = ForkedServer(tmp_path, more={"REHANG_ADDRESS": "https://bench.shop.example"})
    one.start()
    try:
        said = {
            "Host": "bench.shop.example", "X_Forwarded_Proto": "https",
            "X_Forwarded_For": "203.0.113.9", "Origin": "https://bench.shop.example",
        }  # fmt: skip
        answer, body = ask(one, **said)
        assert 'name="person"' not in body
        cookie = answer.headers["Set-Cookie"]
        assert "Secure" in cookie
        assert "max-age=31536000" in answer.headers["Strict-Transport-Security"]
        token = cookie.partition("=")[2].partition(";")[0]
        line = http.client.HTTPConnection("127.0.0.1", one.port, timeout=PATIENCE_S)
        form = f"csrfmiddlewaretoken={token}&name=nobody&password=wrong-one"
        head = {k.replace("_", "-"): v for k, v in said.items()} | {
            "Cookie": f"rehang_csrf={token}", "Content-Type": "application/x-www-form-urlencoded",
        }  # fmt: skip
        line.request("POST", "/sign-in/", form, head)
        answer = line.getresponse()
        answer.read()
        line.close()
        # Refused for the password and not for where it came from.
        assert answer.status == 422
    finally:
        one.end()


def test_tapping_in_can_be_switched_off(tmp_path):
    in_store(tmp_path, LOAD, "front-job")
    one = ForkedServer(tmp_path, more={"REHANG_TAP_IN": "off"})
    one.start()
    try:
        assert 'name="person"' not in ask(one)[1]
    finally:
        one.end()
