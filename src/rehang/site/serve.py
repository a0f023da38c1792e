"""Serving the board: on this machine alone, or on the shop's network once everyone has a password."""

from __future__ import annotations

import os
import signal
import sys
import threading
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING

from rehang.book.holding import SERVED, hold, is_held, say
from rehang.book.opening import open_store
from rehang.site.addresses import bracketed, reached_at
from rehang.site.certificates import Papers
from rehang.trade.terms.errors import NotAllowed, Refused

if TYPE_CHECKING:
    from rehang.site.front import Door

__all__ = ["check_everyone_has_a_password", "check_served_once", "serve", "served_at"]

# One process and a few threads: SQLite has one writer, and a shop has a few phones.
THREADS = 4


def _say(address: str) -> None:
    sys.stdout.write(f"Rehang is at {address} (stop it with Ctrl+C).\n")
    sys.stdout.flush()


def serve(
    host: str = "127.0.0.1",
    port: int = 8000,
    *,
    papers: Papers | None = None,
    ready: Callable[[str], None] = _say,
) -> None:
    """Serve until stopped with Ctrl+C or SIGTERM; ``ready`` is told the address.

    Port 0 takes a free one. With ``papers`` the shop's network is served by TLS, and whoever asks
    there without it is told how a phone comes in.

    Raises
    ------
    NotAllowed
        ``host`` is reached from the network and someone on the board has no password.
    Refused
        The port is taken, the books are served already, the store cannot be opened, or there is no
        certificate to show.
    """
    # What the server writes is its owner's alone.
    os.umask(0o077)
    os.environ["REHANG_BOUND"] = host
    open_store()
    from django.conf import settings
    from django.utils import timezone

    from rehang.book import backup_rules, members, queries

    held = check_served_once()
    if behind := queries.clock_behind(timezone.now()):
        sys.stdout.write(f"{behind}\n")

    settings.REHANG_BOUND = host
    settings.ALLOWED_HOSTS = [*settings.ALLOWED_HOSTS, bracketed(host)]
    if not members.is_loopback(host) or settings.REHANG_ADDRESS:
        if papers is None:
            check_everyone_has_a_password()
            settings.ALLOWED_HOSTS = [*settings.ALLOWED_HOSTS, *map(bracketed, reached_at(host))]
        _make_begin_code()

    server = _opened(host, port, papers)
    signal.signal(signal.SIGTERM, _stop)
    from rehang.site.shop_door import ShopDoor

    port = _port_of(server, port)

    def ready_at(address: str) -> None:
        if held is not None:
            say(held, address)
        ready(address)

    stopped = threading.Event()
    threading.Thread(target=backup_rules.watch, args=(stopped,), daemon=True).start()
    try:
        if papers is None:
            ready_at(f"http://{bracketed(reached_at(host)[0])}:{port}/")
            server.run()
        else:
            with ShopDoor(papers, host, port) as shop:
                server.look_after = shop.look_after
                _give_first_codes()
                ready_at(shop.address)
                server.run()
    finally:
        stopped.set()
        server.close()


def _opened(host: str, port: int, papers: Papers | None) -> Door:
    """The server on its port, its pages loaded, so that the first one asked for is as quick as the others."""
    from django.conf import settings
    from django.urls import get_resolver

    from rehang.site.front import open_door
    from rehang.site.shop_door import only_phones_page
    from rehang.site.wsgi import application

    if papers is not None:
        # Before the port is open: without a certificate nothing is served.
        papers.keep_good(reached_at(host), datetime.now(UTC))
    get_resolver().check()
    try:
        return open_door(
            application if papers is None else only_phones_page(application),
            host=host,
            port=port,
            proxy=settings.REHANG_PROXY,
            context=papers.context if papers else None,
            threads=THREADS,
            ident=None,
            # A phone that walks out of range keeps its connection open: it is let go of after
            # half a minute.
            channel_timeout=30,
            # A request that says it was passed on must be seen to say so: it is not local, and
            # nobody signs in with one tap through it.
            clear_untrusted_proxy_headers=False,
            # A photo may weigh 20 MB; what is far beyond that is turned away at the door.
            max_request_body_size=32 * 1024 * 1024,
        )
    except OSError as problem:
        raise Refused(
            f"Port {port} on {host} cannot be used: {problem.strerror}. Give another with --port."
        ) from None


def check_served_once() -> int | None:
    """Hold the data folder until this process ends; with SQLite one server has it.

    Raises
    ------
    NotAllowed
        Another one has it.
    """
    from django.conf import settings
    from django.db import connection

    if connection.vendor != "sqlite" or settings.REHANG_READ_ONLY:
        return None
    held = hold(settings.REHANG_DATA / SERVED)
    if held is None:
        raise NotAllowed(
            f"These books are served already, at {served_at() or 'an address it has not said yet'}. Stop that "
            "one, or give this one a folder of its own with REHANG_DATA."
        )
    say(held, "")
    return held


def served_at() -> str:
    """Where the books are served now; empty where they are not."""
    from django.conf import settings

    file: Path = settings.REHANG_DATA / SERVED
    return file.read_text("utf-8", "replace").strip()[:200] if is_held(file) else ""


def _stop(number: int, frame: FrameType | None) -> None:
    """Waitress takes this as the end of its work: it lets the threads finish and returns."""
    raise SystemExit(0)


def _port_of(server: object, port: int) -> int:
    found = getattr(server, "effective_port", None)
    if found is None:
        listening: list[tuple[str, int]] = getattr(server, "effective_listen", [])
        found = listening[0][1] if listening else port
    return int(found)


def _make_begin_code() -> None:
    """A code for whoever begins the shop from elsewhere: who sees this screen is no stranger."""
    from django.conf import settings

    from rehang.book import beginning, pins

    if beginning.is_empty():
        code = pins.new_code()
        settings.REHANG_BEGIN_CODE = pins.as_code(code)
        sys.stdout.write(
            f"No shop has been begun here. To begin it from a phone, the code is {code}\n"
        )
        sys.stdout.flush()


def _give_first_codes() -> None:
    """A code for whoever keeps the shop and cannot sign in from a phone yet: others get theirs there."""
    from rehang.book import members, pins, queries

    shop = queries.shop()
    for one in members.people_without_password() if shop is not None else ():
        if queries.kept_by(one.key) and members.is_at_home(one):
            code = pins.give_code(person=one.key, by=pins.TERMINAL, at=datetime.now(UTC))
            sys.stdout.write(f"{one.name} has no password yet. Their one-time code is {code}\n")
    sys.stdout.flush()


def check_everyone_has_a_password() -> None:
    from rehang.book import members

    # Those of a demo and of another shop are nobody here: from the network they do not sign in.
    missing = [
        member.name
        for member in members.people_without_password()
        if members.is_at_home(member) and not members.is_of_a_demo(member)
    ]
    if missing:
        raise NotAllowed(
            "Serving on the shop's network waits until each person has a password. "
            f"Still without one: {', '.join(missing)}. "
            "Serve on this machine alone, give each a one-time code on the page People, or put their "
            "jobs away."
        )
