"""No page speaks of files, keys and hashes, nor in sentences with a hole in them.

Every page that links lead to, read as a person reads it.
"""

from __future__ import annotations

import ast
import re
from collections import Counter
from collections.abc import Iterator
from datetime import UTC, datetime
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import urljoin, urlsplit

import pytest
from django.test import Client
from django.urls import resolve

import rehang
from tests.pins import give_pins
from tests.web.test_begin import begun, board

SRC = Path(rehang.__file__).parent
LOADED = datetime(2026, 11, 20, 12, 0, tzinfo=UTC)

# What a mechanic has no use for, by what it is.
INNER = {
    "a file": r"\b[\w-]+\.(?:toml|jsonl)\b|\b(?:TOML|JSON|schema)\b",
    "a key of a file": r"\b[a-z]+(?:_[a-z0-9]+)+\b|\[\[",
    "how the book is kept": r"\b(?:chain|hash(?:es|ed)?|seals? begins|sealed|payload|slug)\b",
    "an entry": r"\bentr(?:y|ies)\b",
    "a symbol": r"\bU and k\b|\bk ?= ?\d|\bk \d",
    "an id": r"\b(?:plug|cylinder|magneto|hose|filter|lead|engine|ignition|hole|person|meter|task"
    r"|recurring|record|torque|promised):[\w-]",
    "stiff": r"\baccus|\bexpected to cost\b|\boutlived\b|\bgo nowhere\b|\bCLOSE SHORT\b",
}
# A sentence that was put together and came out wrong.
UGLY = {
    "two stops": r"(?<!\.)\.\.(?!\.)|[,;:]\.(?!\d)|\.[,;]|,,|;;|: ?:",
    "nothing before its stop": r"(?<!\.)[\w:] [.,;](?!\d)|: *[.;,](?!\d)|\(\s*\)|\(\s|\s\)",
    "a value that is none": r"\bNone\b(?! (?:of|on file|yet)|:)|\bnan\b|\{[{%]|%\}|&\w+;",
    "one as many": r"(?<![\d.,/:×-])\b1 (?:are|were|have|(?:blocker|day|hole|job|line|meter|opening|part"
    r"|person|piece|place|plug|reading|reason|sample|task|thing|time|visit)s|entries|people)\b",
    "many as one": r"(?<![\d.,/:×-])\b(?:[2-9]|[1-9]\d) (?:blocker|job|reason|sample)\b",
    "a word twice": r"\b(?!Ilse\b)([A-Za-z]{2,}) \1\b",
    "a wall of codes": r"(?:\b[A-K]\d+ \([^)]*\)(?:,| and) ){2}",
}
# Words that only look like it, and why each may stand.
ALLOWED = (
    # What 14 CFR 43.9 and 43.11 ask for is called so.
    r"\b(?:maintenance|inspection|logbook) entry\b",
    # So it is typed into the one field that takes any item or a kind of them.
    r"\b(?:as in magneto:right|or hose:HS2)\b",
)
# Sentences that only look like it, and why each may stand.
MAY_STAND = (
    # Which of three grades of a spark it is; and how a model and a serial are typed.
    r"^None$",
    r"as in \.\.\. s/n",
    # The label of a check and the word that was picked for it both hold it.
    r"\b(?:locked and safetied safetied|leaks and fittings fittings)\b",
    # A limit on file is named by its part and by its check.
    r"\bengine engine mount torque\b",
    # A job may be named by what came off.
    r"\bTake [\w-]+-off off the board\b",
)
# Addresses whose readers do want it, and why.
APART = {
    "/api/": "the page of the programs' interface names the fields that they send",
}
# So many pages of one address and its query in a walk: more show other rows of the same.
OF_A_KIND = 2

_SPOKEN = ("alt", "aria-label", "placeholder", "title")
_WITHIN_A_WORD = ("b", "em", "i", "strong")


class Page(HTMLParser):
    """The links of a page, and what is seen or heard of it, block by block."""

    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.links: list[str] = []
        self._said = [""]
        self._unseen = 0
        self.feed(html)

    @property
    def lines(self) -> list[str]:
        said = (re.sub(r"\s+", " ", one).strip() for one in self._said)
        return [one for one in said if one]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._unseen += tag in ("script", "style")
        told = dict(attrs)
        if tag == "a" and told.get("href"):
            self.links.append(str(told["href"]))
        if tag not in _WITHIN_A_WORD:
            self._said.append("")
        self._said[:0] = [str(told[name]) for name in _SPOKEN if told.get(name)]

    def handle_endtag(self, tag: str) -> None:
        self._unseen -= tag in ("script", "style")
        if tag not in _WITHIN_A_WORD:
            self._said.append("")

    def handle_data(self, data: str) -> None:
        if not self._unseen:
            self._said[-1] += data


def walked(client: Client, *begin: str) -> Iterator[tuple[str, Page]]:
    """Every page that links lead to."""
    todo, seen = list(begin), set()
    counts: Counter[object] = Counter()
    while todo:
        address = todo.pop(0).partition("#")[0]
        parts = urlsplit(address)
        if parts.netloc or address in seen or parts.path.startswith(tuple(APART)):
            continue
        seen.add(address)
        at = resolve(parts.path)
        asked = tuple(one.partition("=")[0] for one in parts.query.split("&"))
        # Each kind of thing on file has pages of its own at one address.
        what = at.kwargs["name"] if str(at.url_name).startswith("facts_") else ""
        kind = (at.url_name, at.kwargs.get("slug"), what, asked)
        counts[kind] += 1
        if counts[kind] > OF_A_KIND or str(at.url_name).endswith(("_pdf", "_zip", "_file")):
            continue
        answer = client.get(address)
        if answer.status_code in (301, 302, 303):
            todo.append(urljoin(address, answer["Location"]))
        elif not answer.streaming and answer["Content-Type"].startswith("text/html"):
            page = Page(answer.content.decode())
            yield (address if answer.status_code == 200 else f"DEAD {address}"), page
            todo += [urljoin(address, one) for one in page.links]


def inner_words(line: str) -> list[str]:
    """What of a line is inner or ugly: what it is, and the words."""
    return [
        f"{what}, {found[0]!r}"
        for wrong, may_stand in ((INNER, ALLOWED), (UGLY, MAY_STAND))
        for what, one in wrong.items()
        for found in re.finditer(one, _without(line, may_stand))
    ]


def _without(line: str, ones: tuple[str, ...]) -> str:
    for one in ones:
        line = re.sub(one, "X", line, flags=re.IGNORECASE)
    return line


def found_on(client: Client, *begin: str) -> tuple[int, list[str]]:
    pages, found = 0, {}
    for address, page in walked(client, *begin):
        pages += 1
        if address.startswith("DEAD "):
            found["leads nowhere", ""] = address
        for line in page.lines:
            for inner in inner_words(line):
                found.setdefault((inner, line), address)
    return pages, [f"{address}: {inner}: {line[:160]}" for (inner, line), address in found.items()]


@pytest.mark.django_db
@pytest.mark.parametrize("which", ["", "finished"])
def test_no_page_of_the_demo_speaks_of_files_keys_and_hashes(which):
    from rehang.book import beginning, queries, services
    from rehang.sheets import demo_path
    from rehang.sheets.folder import read_folder

    queries.forget()
    folder = read_folder(demo_path(which) if which else demo_path())
    job = services.load_folder(folder=folder, by="marta", at=LOADED)
    beginning.offer_shop(job=job, by="marta", at=LOADED)
    give_pins("marta")
    client = Client()
    client.post("/sign-in/", {"person": "marta"})
    pages, found = found_on(client, "/", "/?list", f"/jobs/{job.slug}/")
    assert found == []
    assert pages > 60


@pytest.mark.django_db
def test_no_page_of_a_new_empty_job_speaks_of_files_keys_and_hashes():
    from rehang.book import queries

    queries.forget()
    client = begun()
    pages, found = found_on(client, "/", "/?list", board(client))
    assert found == []
    assert pages > 60


@pytest.mark.parametrize(
    ("line", "what"),
    [
        ("Write flying_hours_per_year in engine.toml.", ["a file", "a key of a file"]),
        ("The chain holds. 599 entries; the last seal begins 4336.",
         ["how the book is kept", "how the book is kept", "an entry"]),
        ("Has a certificate with U and k", ["a symbol"]),
        ("No drop on LEFT accuses the right magneto", ["stiff"]),
        ("Look at plug:K0411", ["an id"]),
        ("Sign the maintenance entry. Baffles and seals; 4.80 kΩ; 10:30", []),
        ("Drawn from: way out: Look at it..", ["two stops"]),
        ("Limit: .", ["nothing before its stop"]),
        ("Set by , with ( )", ["nothing before its stop", "nothing before its stop"]),
        ("Due None.", ["a value that is none"]),
        ("None on file yet. None of these: draw mine", []),
        ("1 reasons not to return it", ["one as many"]),
        ("58 reason not to return it", ["many as one"]),
        ("58 reasons, 1 reason, 0.5 of 1.5 times, run 2 line by line", []),
        ("Cylinder 5 went on on 2 Nov 2026", ["a word twice"]),
        ("G2 (Engine hung), H7 (First run) and H8 (Second run) take 2 people", ["a wall of codes"]),
    ],
)  # fmt: skip
def test_inner_words_are_known_when_they_are_read(line, what):
    assert [one.partition(", ")[0] for one in inner_words(line)] == what


def test_a_page_is_read_with_what_is_heard_and_without_its_scripts():
    page = Page(
        '<p title="a key">Write <b>flying</b>_hours</p><script>one_key</script><a href="/x/">on</a>'
    )
    assert page.lines == ["a key", "Write flying_hours", "on"]
    assert page.links == ["/x/"]


def sentences(path: Path) -> Iterator[str]:
    """The texts of a module that stand for themselves: no docstring, no bare name of a file."""
    tree = ast.parse(path.read_text("utf-8"))
    docs = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef)
        and node.body
        and isinstance(node.body[0], ast.Expr)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in docs:
            yield node.value


# The same programs' interface, and the place of a line, which a page does not show.
_NAMES_A_FILE = ("web/api/views.py", "trade/terms/chain.py")


def test_no_sentence_of_a_rule_or_a_page_names_a_file():
    # What a page shows only when something is refused or blocks is not met on a walk.
    named = re.compile(r"\b\w+\.(?:toml|jsonl)\b")
    found = [
        f"{path.relative_to(SRC)}: {said}"
        for room in ("trade", "web")
        for path in sorted((SRC / room).rglob("*.py"))
        for said in sentences(path)
        if named.search(said) and " " in said.strip()
        if str(path.relative_to(SRC)) not in _NAMES_A_FILE
    ]
    assert found == []
