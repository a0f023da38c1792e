"""The page of each field of each file: what the manual lists, and what a test holds complete."""

from __future__ import annotations

import re
from collections.abc import Iterator

from django.http import HttpRequest

from rehang.sheets.file_schemas import FILES
from rehang.sheets.things import THINGS, ThingKind
from rehang.trade.declared.published import schema_of
from rehang.trade.declared.values import Schema
from rehang.web.facts.fields import properties_of
from rehang.web.facts.forms import Part, ThingForm

__all__ = ["declared", "on_pages", "page"]

_HEAD = """# Where each fact is seen and changed

Every field that the files of a job or of the shop may hold, what its page calls it, and the page.
The addresses stand under `/jobs/JOB/facts/`, for the shop under `/jobs/the_shop/facts/`; in one with `of/`, KEY is what tells the thing from the others.
Limits and meters have pages of their own besides, at `/jobs/JOB/limits/` and `/jobs/JOB/meters/`.
This page is written from the declarations by `make docs`.
"""


def declared() -> set[tuple[str, str]]:
    """Every field of every file: the file, and the names that lead to it."""
    return {(file, path) for file, whole in FILES.items() for path in _paths(schema_of(whole))}


def _paths(schema: Schema, above: str = "") -> Iterator[str]:
    for key, one in properties_of(schema).items():
        inner = list(_paths(one, f"{above}{key}."))
        yield from inner or [f"{above}{key}"]


def on_pages() -> dict[tuple[str, str], tuple[str, str]]:
    """What stands on a page: the field, with what it is called there and the address."""
    found = {}
    for kind in THINGS.values():
        address = f"{kind.name}/of/KEY/" if kind.is_list else f"{kind.name}/"
        for path, label in _of_form(kind):
            found[kind.file, path] = label, address
    # An older file says it in two fields, and the page in the first of its certificates.
    found["people.toml", "person.certificate_kind"] = found[
        "people.toml", "person.certificate.kind"
    ]
    return found


def _of_form(kind: ThingKind) -> Iterator[tuple[str, str]]:
    form = ThingForm(HttpRequest(), kind, {})
    prefix = f"{kind.table}." if kind.is_list else ""
    for part in (*form.parts, *form.seldom):
        for name, label in _of_part(part):
            yield prefix + re.sub(r"\.\d+\b", "", name), label


def _of_part(part: Part, above: str = "") -> Iterator[tuple[str, str]]:
    label = f"{above}{part.label}"
    rows = [inner for row in part.rows or () for inner in row.parts]
    # Values side by side, and those of a free table, are one field of the file.
    if part.shape in ("group", "rows") and not all(
        one.name[-1].isdigit() for one in rows + part.parts
    ):
        for inner in (*rows, *part.parts):
            yield from _of_part(inner, f"{label}: ")
    else:
        yield part.name, label


def page() -> str:
    """The page of the manual."""
    there = on_pages()
    lines = [_HEAD]
    for file in FILES:
        mine = sorted(path for name, path in declared() if name == file)
        if mine:
            lines += [f"\n## {file}\n", "| Field | Called | Page |", "|---|---|---|"]
        for path in mine:
            label, address = there.get((file, path), ("none", "none"))
            lines.append(f"| `{path}` | {label} | `{address}` |")
    return "\n".join(lines) + "\n"
