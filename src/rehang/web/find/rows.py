"""What was found, group by group, each with the address that it leads to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django.urls import reverse

from rehang.trade.facts.shop_file import SHOP_BOOK
from rehang.trade.telling.finding import KINDS, Findable, find
from rehang.trade.telling.sheet_parts import status_name
from rehang.web.shared.templatetags.pages import item_url

__all__ = ["MOST", "Book", "Found", "Group", "groups"]

# More of one kind are not read through: one more letter is typed.
MOST = 8
TITLES = {
    "job": "Jobs",
    "item": "Parts of the engine",
    "task": "Tasks",
    "limit": "Limits",
    "document": "Documents",
    "meter": "Meters",
    "person": "People",
    "due": "Comes due",
    "part": "Parts to buy",
    "engine": "Engines",
}
# An item is another in each job, with its own verdict; the rest is what its words say.
EACH_ITS_OWN = ("item", "task", "due", "engine")


@dataclass(frozen=True, slots=True)
class Book:
    """One book that is looked through: the job, what can be found in it, and how it is called."""

    job: Any
    rows: tuple[Findable, ...]
    words: str


@dataclass(frozen=True, slots=True)
class Found:
    """One line: its words, where it is, its verdict with the shape of its mark, its job, its page."""

    words: str
    detail: str
    status: str
    mark: str
    job: str
    address: str
    others: int = 0


@dataclass(frozen=True, slots=True)
class Group:
    """The lines of one kind; ``more`` are not shown."""

    title: str
    rows: tuple[Found, ...]
    more: int


def groups(books: Sequence[Book], here: Any, words: list[str]) -> list[Group]:
    """What has all the words, kind by kind; that of the job ``here`` first, then by its name."""
    said: dict[str, dict[tuple[str, ...], list[tuple[Book, Findable]]]] = {}
    for book, row in find_in(books, here, words):
        own = (book.job.slug,) if row.kind in EACH_ITS_OWN else ()
        said.setdefault(row.kind, {}).setdefault((row.words, row.detail, *own), []).append(
            (book, row)
        )
    made = {
        kind: Group(
            TITLES[kind],
            # Each costs its address: only what is shown is made.
            tuple(_found(*alike[0], here, len(alike) - 1) for alike in [*each.values()][:MOST]),
            max(0, len(each) - MOST),
        )
        for kind, each in said.items()
    }
    jobs = _jobs(books, here, words)
    if jobs:
        made["job"] = Group(TITLES["job"], tuple(jobs[:MOST]), max(0, len(jobs) - MOST))
    order = ("job", *KINDS)
    # What is called just what was asked for is on top, whatever it is.
    first = _exact_kinds(said, words)
    return [made[kind] for kind in sorted(made, key=lambda k: (k not in first, order.index(k)))]


def find_in(books: Sequence[Book], here: Any, words: list[str]) -> list[tuple[Book, Findable]]:
    """The rows with all the words, those of the job ``here`` first, then book by book."""
    ordered = sorted(books, key=lambda book: here is None or book.job.pk != here.pk)
    return [(book, row) for book in ordered for row in find(book.rows, words)]


def _exact_kinds(
    said: Mapping[str, Mapping[tuple[str, ...], Sequence[tuple[Book, Findable]]]], words: list[str]
) -> set[str]:
    asked = " ".join(words)
    return {
        kind
        for kind, each in said.items()
        if any(row.called[0] == asked for alike in each.values() for _, row in alike)
    }


def _jobs(books: Sequence[Book], here: Any, words: list[str]) -> list[Found]:
    """The jobs with every word in their name or in what their engine is called."""
    found = []
    for book in books:
        engine = next((row for row in book.rows if row.kind == "engine"), None)
        text = f"{book.job.title} {book.job.slug} {engine.text if engine else ''}".casefold()
        if book.job.is_shop or not all(word in text for word in words):
            continue
        off = "off the board" if book.job.put_away else "on the board"
        address = reverse("web:board", args=[book.job.slug])
        is_here = here is not None and here.pk == book.job.pk
        found.append(
            Found(book.job.title, "this job" if is_here else off, "", "", book.job.slug, address)
        )
    return found


def _found(book: Book, row: Findable, here: Any, others: int) -> Found:
    is_here = here is not None and here.pk == book.job.pk
    is_call = row.kind == "item" and bool(row.status)
    return Found(
        row.words,
        row.detail,
        row.status,
        status_name(row.status) if is_call else "",
        "" if is_here else book.words,
        _address(book.job.slug, row),
        others,
    )


def _address(slug: str, row: Findable) -> str:
    """The page of what was found."""
    own = {"due": "recurring", "part": "part"}.get(row.kind) if slug == SHOP_BOOK else None
    if own is not None:
        return reverse("web:facts_thing", args=[slug, own, row.key])
    match row.kind:
        case "item":
            return item_url(slug, row.target)
        case "task" | "meter":
            return reverse(f"web:{row.kind}", args=[slug, row.target])
        case "limit":
            return reverse("web:limit", args=[slug, int(row.target)])
        case "document":
            return f"{reverse('web:limits', args=[slug])}?{urlencode({'q': row.target})}"
        case "person":
            return reverse("web:facts_thing", args=[slug, "person", row.target])
        case "due":
            return reverse("web:due", args=[slug])
        case "part":
            return reverse("web:parts", args=[slug])
        case _:
            return reverse("web:engine", args=[slug])
