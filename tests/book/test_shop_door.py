"""The shop served by HTTPS: its own certificates, one port, and the page for a phone that is new."""

from __future__ import annotations

import http.client
import os
import socket
import ssl
import stat
import subprocess
import sys
import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509

from bench.kills import LOAD
from bench.live import SERVE_SHOP, environment, trusting
from rehang.site import certificates
from rehang.trade.terms.errors import Refused
from tests.started import ForkedServer, in_store

NOW = datetime(2026, 11, 30, 12, tzinfo=UTC)


def door_of(folder: Path) -> x509.Certificate:
    return x509.load_pem_x509_certificate((folder / "certificates/door.pem").read_bytes())


def addresses(shown: x509.Certificate) -> set[str]:
    names = shown.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    return {str(one.value) for one in names}


def test_the_keys_are_their_owners_alone(tmp_path):
    certificates.OwnPapers(tmp_path).keep_good(["10.1.2.3"], NOW)
    folder = tmp_path / "certificates"
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    assert {one.name: stat.S_IMODE(one.stat().st_mode) for one in folder.iterdir()} == {
        "authority.pem": 0o600, "door.pem": 0o600,
    }  # fmt: skip


def test_the_authority_speaks_for_a_shops_network_alone(tmp_path):
    """Held against the verifier of another program, which a phone's is nearer to than our own."""
    papers = certificates.OwnPapers(tmp_path)
    papers.keep_good(["10.1.2.3", "93.184.216.34", "bench.local", "bench.example"], NOW)
    assert addresses(door_of(tmp_path)) == {"10.1.2.3", "bench.local"}
    # With the authority's key, for a name that is not the shop's.
    pair = papers._pair("authority")
    assert pair is not None
    papers._new_door(*pair, [x509.DNSName("bank.example")], NOW)
    authority = tmp_path / "authority.pem"
    authority.write_text(ssl.DER_cert_to_PEM_cert(papers.authority))
    said = subprocess.run(
        ["openssl", "verify", "-attime", str(int(NOW.timestamp())), "-CAfile", str(authority),
         str(tmp_path / "certificates/door.pem")], capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert "permitted subtree violation" in said.stderr


def test_the_doors_certificate_is_renewed_by_itself_and_the_authority_stays(tmp_path):
    papers = certificates.OwnPapers(tmp_path)
    papers.keep_good(["10.1.2.3"], NOW)
    authority, first = papers.authority, door_of(tmp_path)
    assert (first.not_valid_after_utc - first.not_valid_before_utc) <= timedelta(days=398)
    for later in (timedelta(days=1), timedelta(days=366)):
        papers.keep_good(["10.1.2.3"], NOW + later)
        assert door_of(tmp_path) == first
    papers.keep_good(["10.1.2.3"], NOW + timedelta(days=368))
    second = door_of(tmp_path)
    assert second.not_valid_after_utc > first.not_valid_after_utc
    # Another address from the router: made anew at once, by the same authority.
    again = certificates.OwnPapers(tmp_path)
    again.keep_good(["10.9.9.9"], NOW + timedelta(days=369))
    assert addresses(door_of(tmp_path)) == {"10.9.9.9"}
    assert again.authority == authority


@pytest.mark.parametrize(
    ("spoil", "sentence"),
    [
        (lambda folder: (folder / "authority.pem").write_text("half"), "authority.pem cannot be read"),
        (lambda folder: None, "ended on 2036-11-27"),
    ],
    ids=["half", "old"],
)  # fmt: skip
def test_an_authority_that_cannot_be_used_is_said_in_words(tmp_path, spoil, sentence):
    certificates.OwnPapers(tmp_path).keep_good(["10.1.2.3"], NOW)
    spoil(tmp_path / "certificates")
    with pytest.raises(Refused, match=sentence):
        certificates.OwnPapers(tmp_path).keep_good(["10.1.2.3"], NOW + timedelta(days=3651))


def test_without_a_network_of_a_shop_nothing_is_served(tmp_path):
    for reached in (["93.184.216.34", "bench.local"], ["93.184.216.34", "127.0.0.1"]):
        with pytest.raises(Refused, match=r"no address on a shop's network"):
            certificates.OwnPapers(tmp_path).keep_good(reached, NOW)
    certificates.OwnPapers(tmp_path).keep_good(["127.0.0.1", "bench.local"], NOW)


def test_the_shops_own_certificate_is_taken_and_read_again(tmp_path):
    made = certificates.OwnPapers(tmp_path)
    made.keep_good(["10.1.2.3"], NOW)
    pem = tmp_path / "certificates/door.pem"
    given = certificates.GivenPapers(pem, pem)
    given.keep_good([], NOW)
    assert given.authority == b""
    with pytest.raises(Refused, match=r"ended on 2028-01-01. Put a newer one in its place"):
        certificates.GivenPapers(pem, pem).keep_good([], NOW + timedelta(days=400))
    with pytest.raises(Refused, match="no such pair"):
        certificates.GivenPapers(pem, pem.with_name("authority.pem")).keep_good([], NOW)
    with pytest.raises(Refused, match="No such file"):
        certificates.GivenPapers(pem, tmp_path / "none.pem").keep_good([], NOW)


@pytest.fixture(scope="module")
def shop(tmp_path_factory) -> Iterator[ForkedServer]:
    data = tmp_path_factory.mktemp("shop")
    in_store(data, LOAD, "shop-job")
    one = ForkedServer(data, serve=SERVE_SHOP)
    one.start()
    yield one
    one.end()


def ask(shop: ForkedServer, path: str, *, tls: bool, host: str = "", method: str = "GET"):
    if tls:
        line = http.client.HTTPSConnection(
            "127.0.0.1", shop.port, timeout=60, context=trusting(shop.data)
        )
    else:
        line = http.client.HTTPConnection("127.0.0.1", shop.port, timeout=60)
    line.request(method, path, headers={"Host": host} if host else {})
    answer = line.getresponse()
    body = answer.read().decode()
    line.close()
    return answer, body


@pytest.mark.slow
def test_pages_come_by_https_to_whoever_trusts_the_shop(shop):
    answer, body = ask(shop, "/sign-in/", tls=True)
    assert answer.status == 200
    assert "Who is at the bench?" in body
    assert "Secure" in answer.headers["Set-Cookie"]
    with (
        pytest.raises(ssl.SSLCertVerificationError, match="unable to get local issuer"),
        socket.create_connection(("127.0.0.1", shop.port)) as line,
    ):
        ssl.create_default_context().wrap_socket(line, server_hostname="127.0.0.1")


@pytest.mark.slow
def test_without_tls_only_the_phones_page_is_answered(shop):
    """By a name that is not this machine's own, as a phone asks."""
    for path, method in (
        ("/", "GET"),
        ("/sign-in/", "POST"),
        ("/api/", "GET"),
        ("/phones/", "POST"),
    ):
        answer, body = ask(shop, path, tls=False, host="10.9.9.9", method=method)
        assert (answer.status, answer.headers["Location"], body) == (303, "/phones/", "")


def stalled(
    shop: ForkedServer, number: int, said: bytes, context: ssl.SSLContext | None
) -> list[socket.socket]:
    held = []
    for _ in range(number):
        line = socket.create_connection(("127.0.0.1", shop.port), timeout=60)
        if context is not None:
            line = context.wrap_socket(line, server_hostname="127.0.0.1")
        line.sendall(said)
        held.append(line)
    return held


@pytest.mark.slow
@pytest.mark.parametrize(
    ("number", "said", "tls"),
    [(200, b"", False), (200, b"\x16\x03\x01\x02\x00\x01", False), (50, b"GET / HTTP/1.1\r\nX-A: ", True),
     (50, b"POST /sign-in/ HTTP/1.1\r\nContent-Length: 30000000\r\n\r\n" + b"x" * 40000, True)],
    ids=["idle", "half a handshake", "half a head", "half a body"],
)  # fmt: skip
def test_slow_clients_keep_nobody_out(shop, number, said, tls):
    context = trusting(shop.data)

    def seconds() -> float:
        began = time.monotonic()
        for _ in range(5):
            assert ask(shop, "/sign-in/", tls=True)[0].status == 200
        return time.monotonic() - began

    alone = seconds()
    held = stalled(shop, number, said, context if tls else None)
    try:
        assert seconds() < 5 + 3 * alone
    finally:
        for line in held:
            line.close()


@pytest.mark.slow
def test_a_photo_travels_whole_both_ways(shop):
    """More than one record of TLS, and more than the socket takes at once."""
    body = os.urandom(3_000_000)
    line = http.client.HTTPSConnection(
        "127.0.0.1", shop.port, timeout=60, context=trusting(shop.data)
    )
    line.request("POST", "/sign-in/", body, {"Content-Type": "application/octet-stream"})
    answer = line.getresponse()
    assert (answer.status, answer.read()[:21]) == (403, b"This page was loaded ")
    line.request("GET", "/static/fonts/none.css")
    assert line.getresponse().status == 404
    line.close()


PHONE = """
import http.client, ssl, sys
host, port, folder = sys.argv[1], int(sys.argv[2]), sys.argv[3]
line = http.client.HTTPConnection(host, port, timeout=60)
for path in ("/", "/phones/", "/phones/trust.crt", "/people/"):
    line.request("GET", path)
    answer = line.getresponse()
    body = answer.read()
    print(path, answer.status, answer.headers["Location"], answer.headers["Content-Type"])
    if path.endswith("crt"):
        authority = ssl.DER_cert_to_PEM_cert(body)
line = http.client.HTTPSConnection(
    host, port, timeout=60, context=ssl.create_default_context(cadata=authority))
line.request("GET", "/sign-in/")
answer = line.getresponse()
body = answer.read().decode()
print("https", answer.status, "Sign in as" in body, "With a password" in body)
"""


@pytest.mark.slow
@pytest.mark.skipif(
    sys.platform != "linux" or os.geteuid() != 0, reason="makes networks of its own"
)
def test_a_phone_on_another_network_comes_in_by_its_address(tmp_path):
    """Two network namespaces with a line between them: the shop's machine and a phone."""
    bench, phone = f"rb{os.getpid()}", f"rp{os.getpid()}"

    def ip(*words: str) -> None:
        subprocess.run(["ip", *words], check=True, capture_output=True)

    in_store(tmp_path, LOAD, "shop-job")
    ip("netns", "add", bench)
    ip("netns", "add", phone)
    served = None
    try:
        ip(
            "link",
            "add",
            "bench0",
            "netns",
            bench,
            "type",
            "veth",
            "peer",
            "name",
            "phone0",
            "netns",
            phone,
        )
        for space, end, address in (
            (bench, "bench0", "10.77.0.1/24"),
            (phone, "phone0", "10.77.0.2/24"),
        ):
            ip("-n", space, "addr", "add", address, "dev", end)
            ip("-n", space, "link", "set", end, "up")
            ip("-n", space, "link", "set", "lo", "up")
        log = tmp_path / "server.log"
        with log.open("w") as out:
            served = subprocess.Popen(
                ["ip", "netns", "exec", bench, sys.executable, "-c", SERVE_SHOP, "8443", "0.0.0.0"],  # noqa: S104
                env=environment(tmp_path), stdout=out, stderr=out,
            )  # fmt: skip
        until = time.monotonic() + 60
        while "Rehang is at" not in log.read_text():
            assert served.poll() is None, log.read_text()
            assert time.monotonic() < until, log.read_text()
            time.sleep(0.1)
        assert "Rehang is at https://10.77.0.1:8443/" in log.read_text()
        assert "A phone in the shop's Wi-Fi opens http://10.77.0.1:8443/\n" in log.read_text()
        said = subprocess.run(
            ["ip", "netns", "exec", phone, sys.executable, "-c", PHONE, "10.77.0.1", "8443", "x"],
            capture_output=True, text=True, check=False,
        )  # fmt: skip
        assert said.stdout.splitlines() == [
            "/ 303 /phones/ None",
            "/phones/ 200 None text/html; charset=utf-8",
            "/phones/trust.crt 200 None application/x-x509-ca-cert",
            "/people/ 303 /phones/ None",
            # From the network nobody signs in with one tap.
            "https 200 False True",
        ], said.stderr
    finally:
        if served is not None:
            served.terminate()
            served.wait(30)
        ip("netns", "del", bench)
        ip("netns", "del", phone)
