"""What the lists of the things on file show."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from rehang.sheets.shipped import LAID_OVER, shipped_texts
from rehang.sheets.things import ThingKind, things_in
from rehang.trade.declared.published import schema_of
from rehang.trade.declared.values import Schema
from rehang.trade.terms.wording import upper_first
from rehang.web.facts.fields import label_of, shape_of, told
from rehang.web.facts.holder import Holder
from rehang.web.facts.words import GROUPS, KINDS, one_of

__all__ = ["KindRow", "ThingRow", "brought", "groups", "name_of", "thing_rows"]

# Names of so many characters stand beside the number of things; of more, the number says enough.
LONGEST_NAMES = 48


@dataclass(frozen=True, slots=True)
class KindRow:
    """One kind on the first page: what it is called, what there is of it, and its page."""

    title: str
    words: str
    address: str


@dataclass(frozen=True, slots=True)
class ThingRow:
    """One thing of a list. ``mark`` says whether it is the job's own where Rehang brings such."""

    name: str
    key: str
    cells: tuple[tuple[str, str], ...]
    mark: str
    address: str


def groups(holder: Holder) -> list[tuple[str, list[KindRow]]]:
    """The kinds that a holder may have, under their heads."""
    kinds, texts = holder.kinds(), holder.texts()
    found = []
    for head, names in GROUPS:
        rows = [_kind_rows(kinds[name], texts, holder) for name in names if name in kinds]
        if rows:
            found.append((head, [one for each in rows for one in each]))
    return found


def _kind_rows(kind: ThingKind, texts: Mapping[str, str], holder: Holder) -> list[KindRow]:
    said = KINDS[kind.name]
    held = things_in(texts.get(kind.file, ""), kind)
    own = KindRow(said.title, _count_words(kind, held), holder.address("facts_kind", kind.name))
    page = holder.own_page(kind)
    # The page that is made for them stands first; this one has the fields that it leaves out.
    return [KindRow(f"{said.one.capitalize()}s", own.words, page), own] if page else [own]


def _count_words(kind: ThingKind, held: Mapping[str, Mapping[str, Any]]) -> str:
    said = KINDS[kind.name]
    if not held:
        return said.without
    if not kind.is_list:
        return "on file"
    names = ", ".join(name_of(key, one) for key, one in held.items())
    return f"{len(held)}" if len(names) > LONGEST_NAMES else f"{len(held)}: {names}"


def name_of(key: str, thing: Mapping[str, Any]) -> str:
    """What a thing is called: by its words where it has them, else by its key."""
    words = (str(thing[one]) for one in ("label", "title", "name") if thing.get(one))
    return next(words, key.replace("_", " "))


def brought(kind: ThingKind) -> dict[str, dict[str, Any]]:
    """The things of a kind that hold where a job's own file says nothing of them."""
    if kind.name not in LAID_OVER:
        return {}
    return {
        key: one
        for text in shipped_texts(kind).values()
        for key, one in things_in(text, kind).items()
    }


def thing_rows(holder: Holder, kind: ThingKind, asked: str) -> tuple[list[str], list[ThingRow]]:
    """The heads of a list of things, and those of them that have what is asked for anywhere."""
    held = things_in(holder.texts().get(kind.file, ""), kind)
    shipped = brought(kind)
    every = {**shipped, **held}
    # What none of them says takes no room.
    columns = [
        one for one in KINDS[kind.name].columns if any(each.get(one) for each in every.values())
    ]
    known = schema_of(kind.declaration)["properties"]
    labels = {one: label_of(one, known[one]) for one in columns}
    rows = []
    for key, thing in every.items():
        if asked and asked.casefold() not in f"{key} {_all_of(thing)}".casefold():
            continue
        mark = ""
        if key in held and kind.name in LAID_OVER:
            mark = "left out" if thing.get("leave_out") else "changed" if key in shipped else "own"
        cells = [(labels[one], cell_words(one, known[one], thing.get(one))) for one in columns]
        rows.append(
            ThingRow(
                name_of(key, thing),
                # What tells two limits apart is their name already.
                key if len(kind.key) == 1 else "",
                tuple(cells),
                mark,
                holder.address("facts_thing", kind.name, key),
            )
        )
    return [upper_first(KINDS[kind.name].one), *labels.values()], rows


def cell_words(key: str, schema: Schema, value: Any) -> str:
    """A value in a cell of a list, in a line."""
    if shape_of(schema) == "rows" and isinstance(value, list):
        one = one_of(key)
        return f"{len(value)} {one}{'' if len(value) == 1 else 's'}" if value else ""
    return told(value)


def _all_of(value: Any) -> str:
    if isinstance(value, Mapping):
        return " ".join(map(_all_of, value.values()))
    return " ".join(map(_all_of, value)) if isinstance(value, list) else str(value)
