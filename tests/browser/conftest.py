"""A live board with the demo and a fresh tray, and a browser to work it.

Seven viewports, and axe with target size, enhanced contrast and orientation lock switched on:
they are off by default.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.pins import give_pins

VIEWPORTS = [(320, 568), (360, 640), (390, 844), (412, 915), (820, 1180), (1180, 820), (1366, 768)]
MODES = ("day", "dim", "sun")
DEMO, FRESH = "tv4-2207-2026", "fresh-tray"
# Five minutes ago, so that what the browser writes now comes after it.
LOADED = datetime.now(UTC) - timedelta(minutes=5)


@dataclass
class Board:
    """The live board. ``open`` gives a page of a signed-in person, Marta unless told otherwise."""

    url: str
    browser: Any
    contexts: list[Any] = field(default_factory=list)
    problems: list[str] = field(default_factory=list)
    # Requests that are being answered: one of it for each.
    under_way: list[int] = field(default_factory=list)

    def __post_init__(self) -> None:
        from django.core.signals import request_finished, request_started

        def began(**_: object) -> None:
            self.under_way.append(1)

        def ended(**_: object) -> None:
            if self.under_way:
                self.under_way.pop()

        # Held, for a signal lets go of what nobody else holds.
        self._heard = began, ended
        request_started.connect(began)
        request_finished.connect(ended)

    def close(self) -> None:
        """Close every page, and wait for what they had asked for: the tables are emptied next."""
        for context in self.contexts:
            context.close()
        until, quiet = time.monotonic() + 30, 0
        # One may stand in the queue of the port yet: a quarter of a second of nothing is quiet.
        while quiet < 5 and time.monotonic() < until:
            quiet = 0 if self.under_way else quiet + 1
            time.sleep(0.05)

    def context(self, size: tuple[int, int] = (390, 844), mode: str = "day", **more: Any) -> Any:
        touch = more.pop("touch", size[0] < 1300)
        # The worker fetches every page of a job ahead: only where that is what is looked at.
        more.setdefault("service_workers", "block")
        context = self.browser.new_context(
            viewport={"width": size[0], "height": size[1]},
            has_touch=touch,
            is_mobile=touch,
            timezone_id="America/Chicago",
            **more,
        )
        # How long is waited for what does not come: a page is drawn from the whole book, and a
        # machine may be busy with ten other things.
        context.set_default_timeout(60_000)
        context.set_default_navigation_timeout(120_000)
        context.add_cookies([{"name": "mode", "value": mode, "url": self.url}])
        self.contexts.append(context)
        return context

    def sign_in(self, page: Any, person: str = "Marta") -> None:
        page.goto(self.url + "/sign-in/")
        page.get_by_role("button", name=person).first.click()
        page.wait_for_url(lambda url: "/sign-in/" not in url)

    def _session_of(self, person: str) -> dict[str, str]:
        """The cookie of a person who has signed in, without two pages opened for it each time."""
        from django.conf import settings
        from django.test import Client

        client = Client()
        client.post("/sign-in/", {"person": person.lower()})
        name = settings.SESSION_COOKIE_NAME
        return {"name": name, "value": client.cookies[name].value, "url": self.url}

    def open(
        self,
        path: str,
        size: tuple[int, int] = (390, 844),
        mode: str = "day",
        *,
        person: str = "Marta",
        **more: Any,
    ) -> Any:
        context = self.context(size, mode, **more)
        context.add_cookies([self._session_of(person)])
        page = context.new_page()
        page.on("pageerror", lambda error: self.problems.append(str(error)))
        page.on(
            "console",
            lambda said: (
                self.problems.append(said.text)
                if said.type == "error" and "Failed to load resource" not in said.text
                else None
            ),
        )
        page.goto(self.url + path)
        if path.partition("?")[0].endswith("/tray/"):
            page.wait_for_selector("body[data-ready=yes]")
        return page

    def judged(self, slug: str) -> Any:
        from rehang.book import queries

        return queries.judged(queries.job(slug))


@pytest.fixture(scope="session")
def browser(chromium: str) -> Iterator[Any]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        one = driver.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        yield one
        one.close()


@pytest.fixture
def board(live_server: Any, browser: Any) -> Iterator[Board]:
    """The demo job and a fresh tray: the same eight plugs, out of the engine and not read."""
    from rehang.book import queries, services
    from rehang.sheets import demo_path
    from rehang.sheets.folder import JobFolder, parse_files, read_folder
    from rehang.trade.terms.entries import Entry

    queries.forget()
    demo = read_folder(demo_path())
    services.load_folder(folder=demo, by="marta", at=LOADED)
    files = dict(demo.files)
    files["engine.toml"] = files["engine.toml"].replace(f'job = "{DEMO}"', f'job = "{FRESH}"')
    removed = tuple(
        Entry(id=f"fresh-{e.id[:8]}", kind=e.kind, at=e.at, by=e.by, data=e.data)
        for e in demo.entries
        if e.kind == "removed"
    )
    fresh = JobFolder(
        name=FRESH,
        files=files,
        entries=removed,
        facts=parse_files(files, FRESH),
        where={},
        notices=(),
    )
    services.load_folder(folder=fresh, by="marta", at=LOADED)
    give_pins("marta", "tom", "ilse")
    one = Board(live_server.url, browser)
    yield one
    one.close()
    assert one.problems == []


@pytest.fixture(scope="session")
def axe() -> str:
    """axe-core as its Python package carries it."""
    import axe_playwright_python

    found = next(Path(axe_playwright_python.__file__).parent.rglob("axe.min.js"))
    return found.read_text("utf-8")


AXE_RULES = ("target-size", "color-contrast-enhanced", "css-orientation-lock")
AXE_OPTIONS = {
    "runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]},
    # Off by default, or experimental: each is switched on by name.
    "rules": {name: {"enabled": True} for name in AXE_RULES},
}


COLOUR_RULES = ("color-contrast", "color-contrast-enhanced")


@pytest.fixture
def scan(axe: str) -> Callable[..., list[str]]:
    """What axe finds on a page, a line each; it fails when a rule we count on did not run.

    ``scan(page, colours_only=True)`` is for a page that was scanned whole and changed its light
    alone.
    """

    def run(page: Any, *, colours_only: bool = False) -> list[str]:
        if not page.evaluate("'axe' in window"):
            page.evaluate(axe)
        only = {"type": "rule", "values": list(COLOUR_RULES)}
        options = {"runOnly": only} if colours_only else AXE_OPTIONS
        # What passes is named and no more: the report of each node takes a third of the time.
        options = {**options, "resultTypes": ["violations"]}
        report = page.evaluate("options => axe.run(document, options)", options)
        ran = {
            one["id"]
            for part in ("violations", "passes", "incomplete", "inapplicable")
            for one in report[part]
        }
        assert set(COLOUR_RULES if colours_only else AXE_RULES) <= ran
        return [
            f"{one['id']}: {node['target']} {node['failureSummary']}"
            for one in report["violations"]
            for node in one["nodes"]
        ]

    return run
