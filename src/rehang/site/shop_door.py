"""What serving the shop takes beside the door: addresses that stay true, and a page for new phones."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable
from contextlib import suppress
from datetime import UTC, datetime
from ipaddress import ip_address
from types import TracebackType
from typing import Any

from django.conf import settings
from zeroconf import IPVersion, ServiceInfo, Zeroconf

from rehang.book.members import is_loopback
from rehang.paper.codes import code_text
from rehang.site.addresses import bracketed, reached_at, spelled_name
from rehang.site.certificates import Papers
from rehang.trade.terms.errors import Refused

__all__ = ["ShopDoor", "only_phones_page"]

PHONES = "/phones/"
# How often the addresses and the certificate are looked at, seconds.
LOOK_S = 60
Application = Callable[[dict[str, Any], Callable[..., Any]], Iterable[bytes]]


def only_phones_page(application: Application) -> Application:
    """What is asked for without TLS: the page that says how a phone comes in, and nothing else.

    This machine's own browser needs no certificate, for nothing of it travels.
    """

    def inner(environ: dict[str, Any], start: Callable[..., Any]) -> Iterable[bytes]:
        host = str(environ.get("HTTP_HOST", "")).rpartition(":")[0]
        at_the_machine = is_loopback(str(environ.get("REMOTE_ADDR", ""))) and is_loopback(host)
        if environ["wsgi.url_scheme"] == "https" or at_the_machine:
            return application(environ, start)
        # Nothing that this line carries says who somebody is.
        environ.pop("HTTP_COOKIE", None)
        path = str(environ.get("PATH_INFO", ""))
        if environ["REQUEST_METHOD"] in ("GET", "HEAD") and path.startswith((PHONES, "/static/")):
            return application(environ, start)
        start("303 See Other", [("Location", PHONES), ("Content-Length", "0")])
        return [b""]

    return inner


class ShopDoor:
    """Certificate, address and name of the shop, from when it is opened until it is closed."""

    def __init__(self, papers: Papers, host: str, port: int) -> None:
        self._papers, self._host, self._port = papers, host, port
        self._looked = 0.0
        self._reached: list[str] = []
        self._said = ""
        self._names = list(settings.ALLOWED_HOSTS)
        self._spoken: Zeroconf | None = None
        settings.SESSION_COOKIE_SECURE = settings.CSRF_COOKIE_SECURE = True

    @property
    def address(self) -> str:
        """The one that is shown first."""
        found: str = settings.REHANG_REACHED_AT[0]
        return found

    def __enter__(self) -> ShopDoor:
        self._look(datetime.now(UTC))
        # A phone that does not trust the shop yet is told how, on the line that needs no trust.
        first = self.address
        if self._papers.authority:
            first = first.replace("https:", "http:")
        sys.stdout.write(f"A phone in the shop's Wi-Fi opens {first}\n")
        # A terminal of few characters has no blocks to draw with; the address stands above.
        with suppress(UnicodeEncodeError):
            sys.stdout.write(f"{code_text(first)}\n")
        return self

    def __exit__(
        self, kind: type[BaseException] | None, one: BaseException | None, at: TracebackType | None
    ) -> None:
        if self._spoken is not None:
            self._spoken.close()

    def look_after(self, now: float) -> None:
        """Once a minute: another address of this machine, or a certificate that is about to end."""
        if now - self._looked < LOOK_S:
            return
        try:
            self._look(datetime.fromtimestamp(now, UTC))
        except Refused as why:
            # Out of the Wi-Fi for a while: what was good stays, and is looked at again.
            if str(why) != self._said:
                self._said = str(why)
                sys.stderr.write(f"{why}\n")

    def _look(self, now: datetime) -> None:
        self._looked = now.timestamp()
        reached = reached_at(self._host)
        self._papers.keep_good([*reached, *self._names_given()], now)
        settings.REHANG_AUTHORITY = self._papers.authority
        if reached == self._reached:
            return
        self._reached, self._said = reached, ""
        of_the_shop = [one for one in reached if _is_shown(one, self._host)]
        settings.REHANG_REACHED_AT = [
            f"https://{bracketed(one)}:{self._port}/"
            for one in [*self._names_given(), *of_the_shop]
        ]
        settings.ALLOWED_HOSTS = [*self._names, *map(bracketed, reached)]
        self._speak([one for one in of_the_shop if one != spelled_name()])

    def _names_given(self) -> list[str]:
        return [one for one in self._names if not (is_loopback(one) or one == self._host)]

    def _speak(self, addresses: list[str]) -> None:
        """Answer for this machine's name on the network, so that it is found by name too."""
        if self._spoken is not None:
            self._spoken.close()
            self._spoken = None
        if not addresses:
            return
        try:
            self._spoken = Zeroconf(interfaces=addresses, ip_version=IPVersion.All)
            self._spoken.register_service(
                ServiceInfo(
                    "_https._tcp.local.",
                    f"Rehang on {spelled_name().removesuffix('.local')}._https._tcp.local.",
                    port=self._port,
                    server=f"{spelled_name()}.",
                    parsed_addresses=addresses,
                ),
                allow_name_change=True,
            )
        except OSError as problem:
            # No multicast here: the address does without the name.
            sys.stderr.write(
                f"The name {spelled_name()} cannot be told to this network "
                f"({problem.strerror}); phones use the address.\n"
            )


def _is_shown(one: str, host: str) -> bool:
    """Whether a phone may be sent there: an address of a network, or the name on it."""
    try:
        return not ip_address(one).is_loopback or one == host
    except ValueError:
        return one in (spelled_name(), host)
