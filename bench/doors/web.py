"""The doors of the site: the API by its schema, every address with its query, every form.

The site works in this process, on a store of its own with two demonstration jobs. What was
written is taken back every so often, so that the books stay as long as a real one's.
"""

from __future__ import annotations

import atexit
import io
import json
import logging
import os
import re
import shutil
import tempfile
import uuid
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import partial
from html.parser import HTMLParser
from pathlib import Path
from random import Random
from typing import Any
from urllib.parse import parse_qsl, quote, unquote, urlencode, urljoin, urlsplit

from bench.doors.files import odd_photo, odd_workbook
from bench.doors.odd import IN_JSON, as_json, changed_bytes, changed_text, odd_entry, odd_text
from bench.doors.plain import Books, odd_table
from rehang.decode.tables import write_csv
from rehang.trade.terms.kinds.register import KINDS

__all__ = ["api", "forms", "queries"]

Try = tuple[object, Callable[[], bool]]
SECRET = "480713"  # noqa: S105 - of invented people, in a store that is thrown away
PEOPLE = ("marta", "marta", "tom", "ilse")
# After so many tries the pages are looked at, and then the store is as it was.
TOGETHER = 25
LOOKS = 8
# Pages of one kind that are walked.
OF_ONE_KIND = 2
HEAVY = re.compile(r"\.(pdf|zip|xlsx|svg|json)$|/chart\.|/plan\.ics$")


class _Crash(logging.Handler):
    """Keeps the trouble that an answer of 500 was made of."""

    seen: BaseException | None = None

    def emit(self, record: logging.LogRecord) -> None:
        if record.exc_info:
            self.seen = record.exc_info[1]


@dataclass
class Site:
    """The site, a person signed in, and the store to go back to."""

    data: Path
    clients: dict[str, Any] = field(default_factory=dict)
    crash: _Crash = field(default_factory=_Crash)

    def keep(self) -> None:
        from django.db import connection

        connection.close()
        shutil.copy(self.data / "rehang.sqlite3", self.data / "kept.sqlite3")

    def restore(self) -> None:
        from django.db import connection

        from rehang.book import queries as of_book

        connection.close()
        for end in ("-wal", "-shm"):
            (self.data / f"rehang.sqlite3{end}").unlink(missing_ok=True)
        shutil.copy(self.data / "kept.sqlite3", self.data / "rehang.sqlite3")
        of_book.forget()

    def ask(self, person: str, method: str, path: str, body: Any = None, **more: Any) -> Any:
        """An answer; what broke the page where it is a 500."""
        self.crash.seen = None
        client = self.clients[person]
        if body is None:
            answer = client.generic(method, path, **more)
        else:
            answer = client.generic(method, path, body, **more)
        if answer.status_code >= 500:
            raise self.crash.seen or RuntimeError(f"{method} {path} answered {answer.status_code}")
        return answer


def _site() -> Site:
    shm = Path("/dev/shm")  # noqa: S108 - memory in place of a disk, where there is one
    data = Path(tempfile.mkdtemp(prefix="rehang-doors-", dir=shm if shm.is_dir() else None))
    atexit.register(shutil.rmtree, data, ignore_errors=True)
    os.environ |= {"REHANG_DATA": str(data), "REHANG_BOUND": "127.0.0.1"}
    os.environ.pop("REHANG_DATABASE_URL", None)
    from rehang.book.opening import open_store

    open_store()
    from django.conf import settings
    from django.contrib.auth.hashers import make_password
    from django.test import Client

    from rehang.book import accesslog, members, pins, services
    from rehang.book.writing import writing

    # Slow by design, and not what is tried here.
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    now = datetime.now(UTC)
    for demo in ("four", "finished"):
        services.load_folder(folder=Books.of(demo).folder, by="marta", at=now)
    site = Site(data)
    for name in ("django", "django.request", "rehang.api", "rehang"):
        logging.getLogger(name).addHandler(site.crash)
        logging.getLogger(name).propagate = False
    for person in set(PEOPLE):
        member = members.member(person)
        member.pin = make_password(SECRET)
        with writing():
            member.save(update_fields=["pin"])
            accesslog.write(what="pin_set", about=person, by=pins.TERMINAL, at=now)
    for person in set(PEOPLE):
        client = Client(SERVER_NAME="localhost", raise_request_exception=True)
        client.post("/sign-in/", {"person": person, "password": SECRET})
        site.clients[person] = client
    site.keep()
    return site


# ---------------------------------------------------------------- what the pages offer


@dataclass(frozen=True, slots=True)
class Form:
    """A form as a page has it: where it goes, and each field with the values offered for it."""

    page: str
    method: str
    action: str
    fields: tuple[tuple[str, str, tuple[str, ...]], ...]


class _Reader(HTMLParser):
    def __init__(self, page: str) -> None:
        super().__init__()
        self.page = page
        self.links: list[str] = []
        self.forms: list[Form] = []
        self._form: tuple[str, str] | None = None
        self._fields: dict[str, tuple[str, list[str]]] = {}
        self._select = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        for name in ("href", "hx-get"):
            if name in given and tag != "link":
                self.links.append(urljoin(self.page, given[name]))
        if tag == "form":
            action = urljoin(self.page, given.get("action", ""))
            self._form, self._fields = (given.get("method", "get"), action), {}
        if self._form is None:
            return
        if tag == "select":
            self._select = given.get("name", "")
        if tag == "option" and self._select:
            self._offer(self._select, "select", given.get("value", ""))
        if tag in ("input", "textarea", "button") and given.get("name"):
            self._offer(given["name"], given.get("type", tag), given.get("value", ""))

    def _offer(self, name: str, kind: str, value: str) -> None:
        self._fields.setdefault(name, (kind, []))[1].append(value)

    def handle_endtag(self, tag: str) -> None:
        if tag == "select":
            self._select = ""
        if tag == "form" and self._form is not None:
            fields = tuple((name, kind, tuple(of)) for name, (kind, of) in self._fields.items())
            self.forms.append(Form(self.page, *self._form, fields))
            self._form = None


def _pages_of(jobs: Iterable[str]) -> list[str]:
    """The pages of each job that need no other name in their address."""
    from django.urls import NoReverseMatch, reverse

    from rehang.web.urls import urlpatterns

    found = []
    for one in urlpatterns:
        for job in jobs:
            with suppress(NoReverseMatch):
                found.append(reverse(f"web:{one.name}", args=[job]))
    return sorted(one for one in found if not HEAVY.search(one))


def _walked(site: Site) -> tuple[list[str], list[Form]]:
    """Every kind of page that links lead to, a few of each, and the forms on them."""
    from django.urls import Resolver404, resolve

    waiting, seen = ["/", "/fleet/", "/label/", "/pin/", "/set-password/", "/sign-in/"], set()
    of_kind: dict[str, int] = defaultdict(int)
    pages: list[str] = []
    forms: dict[tuple[str, tuple[str, ...]], Form] = {}
    while waiting:
        link = waiting.pop(0)
        path = urlsplit(link).path
        if link in seen or urlsplit(link).netloc or path.startswith("/static/"):
            continue
        seen.add(link)
        try:
            found = resolve(unquote(path))
        except Resolver404:
            continue
        kind = f"{found.view_name} {found.kwargs.get('slug')}"
        of_kind[kind] += 1
        if of_kind[kind] > OF_ONE_KIND:
            continue
        pages.append(link.partition("#")[0])
        if HEAVY.search(path):
            continue
        answer = site.ask("marta", "GET", link.partition("#")[0])
        if not answer.headers.get("Content-Type", "").startswith("text/html"):
            continue
        reader = _Reader(link)
        reader.feed(answer.content.decode())
        waiting += reader.links
        for form in reader.forms:
            action = urlsplit(form.action).path
            with suppress(Resolver404):
                to = f"{resolve(unquote(action)).view_name} {form.action.split('/')[2:3]}"
                names = tuple(sorted(name for name, _, _ in form.fields))
                forms.setdefault((to, names), form)
    return pages, list(forms.values())


# ---------------------------------------------------------------- addresses and queries


def queries(dice: Random) -> Iterator[Try]:
    """Every page, with odd queries, odd names in its address, other methods and headers."""
    site = _site()
    pages, _ = _walked(site)
    names = {name for page in pages for name, _ in parse_qsl(urlsplit(page).query)} | _NAMES
    yield f"{len(pages)} pages", lambda: True
    plain = [page for page in pages if not HEAVY.search(urlsplit(page).path)]
    while True:
        page = dice.choice(pages if dice.random() < 0.05 else plain)
        path, query = urlsplit(page).path, parse_qsl(urlsplit(page).query)
        if dice.random() < 0.35:
            path = _odd_path(dice, path)
        for _ in range(dice.choice((0, 1, 1, 1, 2, 3))):
            query.append((dice.choice(sorted(names)), _odd_value(dice)))
        method = dice.choices(
            ("GET", "HEAD", "POST", "PUT", "DELETE", "OPTIONS"), (80, 5, 8, 2, 2, 3)
        )[0]
        more: dict[str, Any] = {}
        if dice.random() < 0.2:
            more["HTTP_HX_REQUEST"] = "true"
        if dice.random() < 0.05:
            more["HTTP_COOKIE_MODE"] = odd_text(dice)
            more["HTTP_REFERER"] = f"http://localhost/{quote(_sendable(odd_text(dice)))}"
        asked = f"{path}?{_query(dice, query)}" if query else path
        person = dice.choice(PEOPLE)
        yield (person, method, asked, more), partial(_asked, site, person, method, asked, more)
        if method == "POST" or dice.random() < 0.01:
            site.restore()


# What the views read out of an address, whether or not a link carries it.
_NAMES = {
    "check", "chart", "do", "within", "meter", "hole", "again", "item", "why", "type", "speed", "size",
    "show", "sample", "range", "next", "before", "after", "now", "place", "kind",
}  # fmt: skip


def _asked(site: Site, person: str, method: str, path: str, more: dict[str, Any]) -> bool:
    return bool(site.ask(person, method, path, **more).status_code < 400)


def _odd_path(dice: Random, path: str) -> str:
    steps = path.split("/")
    at = dice.randrange(1, max(2, len(steps)))
    odd = quote(_sendable(_odd_value(dice)), safe="")
    if at < len(steps):
        steps[at] = (
            odd
            if dice.random() < 0.8
            else quote(changed_text(dice, steps[at]), safe="", errors="replace")
        )
    return "/".join(steps)


def _odd_value(dice: Random) -> str:
    return dice.choice(_KNOWN) if dice.random() < 0.3 else odd_text(dice)


_KNOWN = (
    "1T", "2B", "resistance", "gap", "spark", "look", "K0411", "plug:K0411", "DM-2", "20k", "all", "letter",
    "a4", "yes", "5", "2026-11-01T09:00:00-05:00", "plug", "cylinder", "1T.resistance", "/jobs/",
)  # fmt: skip


def _query(dice: Random, query: list[tuple[str, str]]) -> str:
    text = urlencode([(name, _sendable(value)) for name, value in query])
    return (
        changed_text(dice, text).encode("ascii", "ignore").decode().replace("\n", "")
        if dice.random() < 0.1
        else text
    )


def _sendable(text: str) -> str:
    return text.encode("utf-8", "replace").decode()


# ---------------------------------------------------------------- the API by its schema


def api(dice: Random) -> Iterator[Try]:
    """Each operation of the schema, with parameters and bodies of the right shape or not."""
    site = _site()
    from rehang.web.api.views import api as ours

    schema = ours.get_openapi_schema()
    operations = [
        (method.upper(), path, one)
        for path, methods in schema["paths"].items()
        for method, one in methods.items()
    ]
    books = {book.facts.job: book for book in (Books.of("four"), Books.of("finished"))}
    looks = _pages_of(books)
    number = 0
    while True:
        for _ in range(TOGETHER):
            number += 1
            # What is written is tried most.
            method, path, one = dice.choices(
                operations, [8 if "requestBody" in one else 1 for _, _, one in operations]
            )[0]
            book = dice.choice(list(books.values()))
            slug = book.facts.job if dice.random() < 0.97 else _sendable(odd_text(dice)) or "x"
            asked = path.replace("{slug}", quote(slug, safe=""))
            query = [
                (p["name"], dice.choice(("0", "12", "-1", "2026-11-12T09:00:00Z", odd_text(dice))))
                for p in one.get("parameters", [])
                if p["in"] == "query" and dice.random() < 0.7
            ]
            if query:
                asked += f"?{_query(dice, query)}"
            person = dice.choice(PEOPLE)
            body = _body(dice, book, person, number) if "requestBody" in one else None
            yield (
                (person, method, asked, body),
                partial(_sent, site, person, method, asked, body),
            )
        for look in [f"/api/jobs/{slug}/verdicts" for slug in books] + dice.sample(looks, LOOKS):
            yield (
                f"{look} after the last {TOGETHER}",
                partial(_asked, site, "marta", "GET", look, {}),
            )
        site.restore()


def _body(dice: Random, book: Books, person: str, number: int) -> bytes:
    now = datetime.now(UTC).isoformat()
    known = {kind: found for kind, found in book.known.items() if kind != "signed"}
    sent = [
        odd_entry(
            dice, KINDS, known, book.words, {"id": f"odd-{number}-{n}", "at": now, "by": person}
        )
        for n in range(dice.choice((1, 1, 1, 2, 5)))
    ]
    body: Any = {"entries": sent}
    if dice.random() < 0.7:
        body["pin"] = SECRET
    how = dice.random()
    if how < 0.05:
        body = dice.choice(IN_JSON)
    elif how < 0.1:
        body[dice.choice(("entries", "pin", "x"))] = dice.choice(IN_JSON)
    text = as_json(body).encode("utf-8", "surrogatepass")
    return changed_bytes(dice, text) if dice.random() < 0.05 else text


def _sent(site: Site, person: str, method: str, path: str, body: bytes | None) -> bool:
    more = {"content_type": "application/json"} if body is not None else {}
    answer = site.ask(person, method, path, body, **more)
    if answer.status_code >= 400 and answer.status_code != 405:
        sentence = json.loads(answer.content)["sentence"]
        assert sentence.strip(), "a refusal without a sentence"
    return bool(answer.status_code < 400)


# ---------------------------------------------------------------- forms


class Named(io.BytesIO):
    """A file as it is sent, by any name: whoever takes it in has to look at that."""

    def __init__(self, name: str, data: bytes) -> None:
        super().__init__(data)
        self.name = name


def forms(dice: Random) -> Iterator[Try]:
    """Every form of every page, its fields as offered, odd, missing or twice; and the page after."""
    from django.test.client import BOUNDARY, MULTIPART_CONTENT, encode_multipart

    site = _site()
    pages, found = _walked(site)
    looks = [page for page in pages if not HEAVY.search(urlsplit(page).path)]
    book = Books.of("four")
    yield f"{len(found)} forms on {len(pages)} pages", lambda: True
    while True:
        for _ in range(TOGETHER):
            form = dice.choice(found)
            person = dice.choice(PEOPLE)
            given: dict[str, Any] = {}
            for name, kind, offered in form.fields:
                if kind == "file":
                    if dice.random() < 0.3:
                        given[name] = Named(
                            _sendable(odd_text(dice)[:40]) or "x", _file(dice, book)
                        )
                elif dice.random() < 0.95:
                    given[name] = _typed(dice, name, kind, offered, book)
            if dice.random() < 0.2:
                given[dice.choice(sorted(_NAMES | {"once", "confirm", "act", "who", "pin"}))] = (
                    odd_text(dice)
                )
            if any(one in form.action for one in ("sign-out",)):
                continue
            if form.method.lower() != "post":
                asked = f"{urlsplit(form.action).path}?{_query(dice, list(_flat(given)))}"
                yield (person, "GET", asked), partial(_asked, site, person, "GET", asked, {})
                continue
            body = encode_multipart(BOUNDARY, {k: _shown(v) for k, v in given.items()})
            more = {"content_type": MULTIPART_CONTENT}
            if dice.random() < 0.03:
                body = changed_bytes(dice, body)
            if dice.random() < 0.03:
                more = {"content_type": dice.choice(("multipart/form-data", "text/plain", "x", ""))}
            yield (
                (person, "POST", form.action, given),
                partial(_posted, site, person, form.action, body, more, dice.random() < 0.3),
            )
        for look in dice.sample(looks, LOOKS):
            yield (
                f"{look} after the last {TOGETHER}",
                partial(_asked, site, "marta", "GET", look, {}),
            )
        site.restore()


def _posted(
    site: Site, person: str, path: str, body: bytes, more: dict[str, Any], follow: bool
) -> bool:
    answer = site.ask(person, "POST", path, body, **more)
    if follow and answer.status_code in (302, 303):
        site.ask(person, "GET", answer.headers["Location"])
    return bool(answer.status_code < 400)


def _typed(dice: Random, name: str, kind: str, offered: tuple[str, ...], book: Books) -> Any:
    if name in ("once", "base") and dice.random() < 0.9:
        return uuid.UUID(int=dice.getrandbits(128)).hex
    if name == "pin" and dice.random() < 0.8:
        return SECRET
    if (
        kind in ("hidden", "submit", "button", "radio", "select", "checkbox")
        and dice.random() < 0.85
    ):
        return dice.choice(offered)
    if dice.random() < 0.05:
        return [odd_text(dice), odd_text(dice)]
    return dice.choice(book.words) if dice.random() < 0.2 else odd_text(dice)


def _file(dice: Random, book: Books) -> bytes:
    match dice.randrange(4):
        case 0:
            return odd_photo(dice)[:200_000]
        case 1:
            return odd_workbook(dice, book)
        case 2:
            with suppress(UnicodeEncodeError):
                return write_csv(*odd_table(dice, book))
    return changed_bytes(dice, b"Serial,Hole,Ohms\nK0411,1T,1200\nK0412,1B,1.2\n")


def _shown(value: Any) -> Any:
    if isinstance(value, str):
        return _sendable(value)
    return [_sendable(one) for one in value] if isinstance(value, list) else value


def _flat(given: dict[str, Any]) -> Iterator[tuple[str, str]]:
    for name, value in given.items():
        for one in value if isinstance(value, list) else [value]:
            if isinstance(one, str):
                yield name, one
