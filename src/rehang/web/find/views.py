"""Search over every book that a person may read, and the page that explains a page."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import Resolver404, resolve
from django.views.decorators.http import require_safe

from rehang.book import members, models, queries
from rehang.trade.telling.finding import LONGEST, asked_words
from rehang.trade.terms.errors import BadInput
from rehang.web.find.rows import Book, groups
from rehang.web.shared.desk import asked_for
from rehang.web.shared.help import help_of, helps

__all__ = ["find", "help_page"]


@require_safe
@login_required
def find(request: HttpRequest) -> HttpResponse:
    """All that has the words in it, in the books that the person may read; else what explains a page."""
    person = members.member_of(request.user)
    back = asked_for(request, "from")
    about, slug = came_from(back)
    asked = request.GET.get("q", "").strip()
    books = books_of(person.key if person is not None else "")
    here = next((one.job for one in books if one.job.slug == slug), None)
    found, sentence, status = [], "", 200
    if asked or "q" in request.GET:
        try:
            found = groups(books, here, asked_words(asked))
        except BadInput as reason:
            sentence, status = reason.sentence, 422
        else:
            if not found:
                sentence = (
                    f"Nothing has “{asked}” in it. Try fewer letters, or a part of the serial."
                )
    context = {
        "asked": asked[:LONGEST],
        "longest": LONGEST,
        "groups": found,
        "sentence": sentence,
        "back": back,
        "help": None if found or sentence else help_of(about),
        "books": len(books),
        "walk": demo_of(books, here),
        "job": here,
    }
    return render(request, "find/find.html", context, status=status)


@require_safe
def help_page(request: HttpRequest, name: str) -> HttpResponse:
    """The five lines that explain one page, and the way back to it."""
    if name not in helps():
        refusal = {"sentence": f'There is no page "{name}" to explain.', "job": None}
        return render(request, "shared/refused.html", refusal, status=404)
    person = members.member_of(request.user) if request.user.is_authenticated else None
    back = asked_for(request, "from")
    books = jobs_of(person.key) if person is not None else []
    here = next((job for job in books if job.slug == came_from(back)[1]), None)
    context = {
        "help": help_of(name),
        "back": back,
        "job": here,
        "walk": here if _is_demo(here) else None,
    }
    return render(request, "find/help.html", context)


def came_from(path: str) -> tuple[str, str]:
    """The name of a page and the job that it is of, by its path; empty where it is none of ours."""
    try:
        found = resolve(path.partition("?")[0])
    except Resolver404:
        return "", ""
    return found.url_name or "", str(found.kwargs.get("slug", ""))


def jobs_of(person: str) -> list[models.Job]:
    """The shop's own book and the jobs, on the board and off it, that a person may read."""
    own = queries.shop_for(person)
    return [*([own] if own is not None else []), *queries.jobs(person=person, put_away=None)]


def books_of(person: str) -> list[Book]:
    """The same with what can be found in each; one that cannot be read is found by its name alone."""
    found = []
    for job in jobs_of(person):
        try:
            rows = queries.findable(job)
        except BadInput:
            # Its own page says why.
            rows = ()
        words = "the shop" if job.is_shop else job.title
        found.append(Book(job, rows, f"{words}, off the board" if job.put_away else words))
    return found


def demo_of(books: list[Book], here: Any) -> Any:
    """The demo that the first walk goes over, for its people; None where there is none."""
    ordered = sorted(books, key=lambda book: here is None or book.job.pk != here.pk)
    return next((one.job for one in ordered if _is_demo(one.job)), None)


def _is_demo(job: models.Job | None) -> bool:
    return job is not None and not job.is_shop and queries.is_demo(job)
