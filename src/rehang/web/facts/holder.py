"""Who holds the facts that the pages show: a job, or the shop's own book."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, Protocol

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone

from rehang.book import queries, services
from rehang.sheets.folder import parse_files
from rehang.sheets.job_files import SHOP, check_facts
from rehang.sheets.things import THINGS, ThingKind
from rehang.trade.known.named import first_named
from rehang.trade.terms.wording import on_day
from rehang.web.shared.desk import Desk, keeper, page

__all__ = ["DeskHolder", "Holder"]


class Holder(Protocol):
    """What a page of facts needs of whoever holds them."""

    @property
    def may_write(self) -> bool:
        """Whether the person at the page may change anything at all."""

    @property
    def is_shop(self) -> bool:
        """Whether it is the shop's own book, which jobs take copies of."""

    def kinds(self) -> Mapping[str, ThingKind]:
        """The kinds of thing that it may have, by their names."""

    def texts(self) -> Mapping[str, str]:
        """The texts of its files as they are on file."""

    def today(self) -> date:
        """The day at the shop."""

    def offered(self, kind: ThingKind) -> Mapping[str, tuple[str, ...]]:
        """What a field of a thing names that stands elsewhere on file, by the field's name."""

    def check(self, file: str, text: str) -> None:
        """Refuse a new text of a file that breaks a rule, as every door does."""

    def named(self, kind: ThingKind, key: str) -> str:
        """Where its book first names a thing, in a sentence; empty where it does not."""

    def file(self, request: HttpRequest, name: str, text: str) -> HttpResponse | None:
        """File a text by whoever keeps the shop; the page that asks for their PIN, or None."""

    def address(self, view: str, *args: str) -> str:
        """The address of one of the pages of facts: ``facts``, ``facts_kind`` and their fellows."""

    def own_page(self, kind: ThingKind) -> str:
        """The address of a page that is made for this kind alone; empty where there is none."""

    def page(self, request: HttpRequest, template: str, **context: Any) -> HttpResponse:
        """A page in its frame."""


@dataclass(frozen=True, slots=True)
class DeskHolder:
    """The book that a person stands at: that of a job, or the shop's."""

    desk: Desk

    @property
    def may_write(self) -> bool:
        return not self.desk.why_not

    @property
    def is_shop(self) -> bool:
        return self.desk.judged.facts.is_shop

    def kinds(self) -> Mapping[str, ThingKind]:
        """All but those of the files that this book cannot have."""
        odd = ("engine.toml", "layout.toml") if self.is_shop else (SHOP,)
        return {name: one for name, one in THINGS.items() if one.file not in odd}

    def texts(self) -> Mapping[str, str]:
        return queries.files(self.desk.job)

    def today(self) -> date:
        return self.desk.today()

    def offered(self, kind: ThingKind) -> Mapping[str, tuple[str, ...]]:
        if kind.name != "person":
            return {}
        return {"certificate.kind": tuple(self.desk.judged.facts.powers)}

    def check(self, file: str, text: str) -> None:
        check_facts(parse_files({**self.texts(), file: text}, self.desk.job.slug), [file])

    def named(self, kind: ThingKind, key: str) -> str:
        found = first_named(queries.entries(self.desk.job), kind.name, key)
        if found is None:
            return ""
        on = on_day(found.at.astimezone(self.desk.zone).date())
        return f"{key} stands in the book, first on {on}"

    def file(self, request: HttpRequest, name: str, text: str) -> HttpResponse | None:
        who, asked = keeper(request, self.desk, "change what is on file")
        if asked is None:
            services.file_text(job=self.desk.job, name=name, text=text, by=who, at=timezone.now())
        return asked

    def address(self, view: str, *args: str) -> str:
        return reverse(f"web:{view}", args=[self.desk.job.slug, *args])

    def own_page(self, kind: ThingKind) -> str:
        own = {"limit": "limits", "meter": "meters"}.get(kind.name)
        return self.address(own) if own else ""

    def page(self, request: HttpRequest, template: str, **context: Any) -> HttpResponse:
        return page(request, self.desk, template, current="facts", **context)
