"""The form of one thing, made from its declaration."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from datetime import date
from hashlib import sha256
from types import MappingProxyType
from typing import Any

from django import forms
from django.forms import BoundField
from django.http import HttpRequest, QueryDict

from rehang.sheets.new_shop import person_key
from rehang.sheets.things import ThingKind
from rehang.trade.declared.published import schema_of
from rehang.trade.declared.taken import Fault, faults_in
from rehang.trade.declared.values import Schema
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.wording import upper_first
from rehang.web.facts.fields import (
    default_of,
    hint_of,
    inner_of,
    label_of,
    options_of,
    properties_of,
    shape_of,
    shown,
    taken,
    told,
)
from rehang.web.facts.words import choice_words, one_of, plain_words
from rehang.web.shared.forms import BenchForm, Pick, TextField

__all__ = ["NOT_ASKED", "READ_ONLY", "Part", "Row", "ThingForm"]

# What a page shows and does not change: it is the same for the life of a book.
READ_ONLY = ("format", "job")
# What an older file says and a newer one in another way: see ``_of_today``.
NOT_ASKED = ("certificate_kind",)
# Empty rows that a form offers below those on file.
NEW_ROWS = 3
# A text of more characters has a box of several lines, of so many characters on a phone.
LONG = 44
_LINE = 28
# A form of more fields folds away what is seldom asked for.
MANY = 12
_NOTHING = object()


@dataclass(frozen=True, slots=True)
class Row:
    """One thing of a list within a thing; ``number`` is its place as the form names it."""

    name: str
    number: int
    parts: list[Part]
    is_new: bool
    words: str

    @property
    def is_open(self) -> bool:
        """Whether something is wrong in it, or was typed in a new one, that is to be seen."""
        bound = [one.bound for one in _all(self.parts) if one.bound is not None]
        return any(one.errors or (self.is_new and one.value()) for one in bound)


@dataclass(frozen=True, slots=True)
class Part:
    """One field of a form, or several under one head; ``shape`` as ``fields.shape_of`` says it."""

    name: str
    shape: str
    label: str
    hint: str = ""
    bound: BoundField | None = None
    value: str = ""
    parts: list[Part] = field(default_factory=list)
    rows: list[Row] | None = None
    one: str = ""

    @property
    def is_long(self) -> bool:
        return self.bound is not None and isinstance(self.bound.field.widget, forms.Textarea)

    @property
    def is_open(self) -> bool:
        """Whether something is wrong in a group that is folded away."""
        return any(one.bound is not None and one.bound.errors for one in _all(self.parts))


class _Lenient:
    """Reads any amount: what it is an amount of is known where the whole file is read."""

    def steps(self, text: str, key: str, *, above_zero: bool) -> int:
        return 1


class ThingForm(BenchForm):
    """A thing of a kind: as it is on file, and as it was typed.

    Attributes
    ----------
    parts : list of Part
        What the page shows, in the order of the declaration.
    taken_names : collection of str
        Short names of people that are somebody's already.
    """

    def __init__(
        self,
        request: HttpRequest,
        kind: ThingKind,
        thing: Mapping[str, Any],
        *,
        taken_names: Collection[str] = (),
        offered: Mapping[str, tuple[str, ...]] = MappingProxyType({}),
        today: date | None = None,
    ) -> None:
        super().__init__(request)
        self.kind = kind
        self.taken_names = taken_names
        self.offered = offered
        self.today = today
        self.on_file = _of_today(thing)
        # What the page was made of, so that nobody undoes unseen what another wrote meanwhile.
        self.was = sha256(repr(thing).encode()).hexdigest()[:16]
        self.schema = schema_of(kind.declaration)
        self.asked = {
            key: self.schema["properties"][key] for key in kind.fields if key not in NOT_ASKED
        }
        needed = self.schema["required"]
        self.posted: QueryDict | None = self.data if isinstance(self.data, QueryDict) else None
        self._rows_taken: dict[str, list[int]] = {}
        made = [self._part(key, key, one, self.on_file.get(key)) for key, one in self.asked.items()]
        seldom = len(made) > MANY
        self.parts = [one for one in made if not seldom or self._first(one, needed)]
        self.seldom = [one for one in made if one not in self.parts]
        self.fallback = next(iter(self.fields), "")

    # ------------------------------------------------------------ what the page shows

    def _first(self, part: Part, needed: list[str]) -> bool:
        """Whether a field of a long form stands open: it is asked for, or something is in it."""
        if part.shape == "fixed":
            return False
        return part.name in needed or part.name in self.on_file or part.name in self.kind.key

    def _part(self, name: str, key: str, schema: Schema, value: Any) -> Part:
        shape, label, hint = shape_of(schema), label_of(key, schema), hint_of(key, schema)
        if shape == "fixed" or name in READ_ONLY:
            return Part(name, "fixed", label, value=shown(schema, value))
        if shape == "group":
            held = value if isinstance(value, Mapping) else {}
            parts = [
                self._part(f"{name}.{inner}", inner, one, held.get(inner))
                for inner, one in properties_of(schema).items()
            ]
            return Part(name, shape, label, hint, parts=parts)
        if shape in ("rows", "named"):
            return Part(
                name, shape, label, hint, rows=self._rows(name, schema, value), one=one_of(key)
            )
        if shape == "few":
            parts = self._few(name, key, schema, value)
            return Part(name, shape, label, hint, parts=parts)
        offered = self.offered.get(re.sub(r"\.\d+\.", ".", name))
        self.fields[name] = (
            Pick(label, _offered(offered, shown(schema, value)))
            if offered
            else _field(shape, label, hint, schema, shown(schema, value))
        )
        self.initial[name] = _initial(shape, schema, value)
        return Part(name, shape, label, hint, bound=self[name])

    def _few(self, name: str, key: str, schema: Schema, value: Any) -> list[Part]:
        held = value if isinstance(value, list) else []
        words = FEW_WORDS.get(key, tuple(str(n + 1) for n in range(schema["minItems"])))
        return [
            self._part(f"{name}.{n}", word, inner_of(schema), held[n] if n < len(held) else None)
            for n, word in zip(range(schema["minItems"]), words, strict=False)
        ]

    def _rows(self, name: str, schema: Schema, value: Any) -> list[Row]:
        held = _as_rows(value)
        count = len(held)
        for key in self.posted or ():
            found = re.match(rf"{re.escape(name)}\.(\d{{1,3}})\.", key)
            count = max(count, int(found[1]) + 1 if found else 0)
        count = count if self.posted is not None else count + NEW_ROWS
        return [
            Row(
                f"{name}.{n}",
                n,
                self._of_row(f"{name}.{n}", schema, held, n),
                n >= len(held),
                told(held[n]) if n < len(held) else "",
            )
            for n in range(min(count, 999))
        ]

    def _of_row(self, name: str, schema: Schema, held: list[Any], number: int) -> list[Part]:
        value = held[number] if number < len(held) else None
        item = _row_schema(schema)
        if shape_of(item) == "few":
            return self._few(name, name.split(".", 1)[0], item, value)
        return self._part(name, "", item, value).parts

    @property
    def opens_seldom(self) -> bool:
        """Whether the sentence of a refusal stands among the fields that are folded away."""
        return any(self.place.startswith(one.name) for one in self.seldom if self.place)

    # ------------------------------------------------------------ what was typed

    def table(self) -> dict[str, Any]:
        """The thing as it was typed, with what the page does not ask for as it was.

        Raises
        ------
        BadInput
            With the field, for the first that cannot be read or that a thing of the kind needs.
        """
        assert self.posted is not None
        if self.posted.get("was", self.was) != self.was:
            raise BadInput(
                "Somebody changed this while the page was open here. Open it again to see what, then "
                "write yours; filed now, yours stands in its place."
            )
        thing = {key: one for key, one in self.on_file.items() if key not in self.asked}
        for key, schema in self.asked.items():
            value = self._typed(key, schema, self.on_file.get(key, _NOTHING))
            if value is not _NOTHING:
                thing[key] = value
        if self.kind.name == "person" and not thing.get("key") and thing.get("name"):
            thing["key"] = person_key(str(thing["name"]), self.taken_names)
        # As the file has them, what is new behind.
        order = [*self.on_file, *self.asked]
        thing = dict(sorted(thing.items(), key=lambda one: order.index(one[0])))
        faults = faults_in(self.kind.declaration, thing, _Lenient())
        if faults:
            raise BadInput(plain_words(faults[0].sentence, self.schema), self._place(faults[0]))
        return thing

    def _place(self, fault: Fault) -> str:
        """The field that a fault is about: that of its path, or the nearest above it."""
        path = list(fault.path)
        for depth, step in enumerate(path):
            kept = self._rows_taken.get(".".join(map(str, path[:depth])))
            if kept is not None and isinstance(step, int) and step < len(kept):
                path[depth] = kept[step]
        while path:
            name = ".".join(map(str, path))
            found = next((one for one in self.fields if f"{one}.".startswith(f"{name}.")), "")
            if found:
                return found
            path.pop()
        return ""

    def _typed(self, name: str, schema: Schema, old: Any) -> Any:
        shape = shape_of(schema)
        if shape == "fixed" or name in READ_ONLY:
            return old
        if shape == "group":
            return self._typed_group(name, schema, old)
        if shape == "rows":
            return self._typed_rows(name, schema, old)
        if shape == "named":
            return self._typed_named(name, schema, old)
        if shape == "few":
            return self._typed_few(name, schema, old)
        return self._typed_value(name, shape, schema, old)

    def _typed_value(self, name: str, shape: str, schema: Schema, old: Any) -> Any:
        assert self.posted is not None
        given: Any
        if shape == "flag":
            given = name in self.posted
        elif shape == "many":
            given = [one for one in self.posted.getlist(name) if one] or _NOTHING
        else:
            text = self.posted.get(name, "").strip().replace("\r\n", "\n")
            # Untouched, it stays what it was: a day without quotes, a whole number.
            if old is not _NOTHING and text == shown(schema, old):
                return old
            given = self._taken(name, schema, text) if text else _NOTHING
        return _NOTHING if old is _NOTHING and given == default_of(schema) else given

    def _taken(self, name: str, schema: Schema, text: str) -> Any:
        try:
            return taken(schema, text)
        except BadInput as refusal:
            raise BadInput(refusal.sentence, name) from None

    def _typed_group(self, name: str, schema: Schema, old: Any) -> Any:
        held = old if isinstance(old, Mapping) else {}
        asked = properties_of(schema)
        found = {key: one for key, one in held.items() if key not in asked}
        for key, one in asked.items():
            value = self._typed(f"{name}.{key}", one, held.get(key, _NOTHING))
            if value is not _NOTHING:
                found[key] = value
        return found or (old if old == {} else _NOTHING)

    def _typed_few(self, name: str, schema: Schema, old: Any) -> Any:
        held = old if isinstance(old, list) else []
        found = [
            self._typed(f"{name}.{n}", inner_of(schema), held[n] if n < len(held) else _NOTHING)
            for n in range(schema["minItems"])
        ]
        return [one for one in found if one is not _NOTHING] or _NOTHING

    def _typed_named(self, name: str, schema: Schema, old: Any) -> Any:
        rows = self._typed_rows(name, schema, old)
        if rows is _NOTHING:
            return rows
        found: dict[str, Any] = {}
        for number, row in zip(self._rows_taken[name], rows, strict=True):
            called = row.get("name", "")
            if not called or called in found:
                said = f'"{called}" stands here twice.' if called else "This one has no name."
                raise BadInput(f"{said} Give each its own.", f"{name}.{number}.name")
            found[called] = row.get("powers", [])
        return found

    def _typed_rows(self, name: str, schema: Schema, old: Any) -> Any:
        assert self.posted is not None
        held, found, kept = _as_rows(old), [], []
        part = next(one for one in _all(self.parts + self.seldom) if one.name == name)
        for row in part.rows or ():
            if f"{row.name}.out" in self.posted:
                continue
            was = held[row.number] if row.number < len(held) else _NOTHING
            one = self._typed(row.name, _row_schema(schema), was)
            if one is not _NOTHING:
                found.append(self._dated(one, _row_schema(schema)) if was is _NOTHING else one)
                kept.append(row.number)
        self._rows_taken[name] = kept
        return found or _NOTHING

    def _dated(self, one: Any, schema: Schema) -> Any:
        """A new row with the day it is put in, where it is to have one and none was typed."""
        if self.today is None or "entered_on" not in properties_of(schema):
            return one
        return {**one, "entered_on": one.get("entered_on", self.today)}


FEW_WORDS = {
    "away": ("First day", "Last day"),
    "minutes": ("Least", "Likely", "Most"),
    "believable": ("From", "To"),
    "answers": ("Kind of item", "Check"),
    "acts": ("Kind of item", "Work"),
}
_NAMED: Schema = {"type": "string", "title": "Kind of certificate"}


def _row_schema(schema: Schema) -> Schema:
    """The schema of one row; of a table of names, the name and what it has."""
    if shape_of(schema) != "named":
        return inner_of(schema)
    powers = {**inner_of(schema), "title": "Lets a person"}
    return {"type": "object", "properties": {"name": _NAMED, "powers": powers}}


def _as_rows(value: Any) -> list[Any]:
    if isinstance(value, Mapping):
        return [{"name": name, "powers": one} for name, one in value.items()]
    if isinstance(value, list):
        return value
    return []


def _of_today(thing: Mapping[str, Any]) -> dict[str, Any]:
    """A thing as it is written today: the one certificate of an older file has a table of its own."""
    found = dict(thing)
    number = found.get("certificate")
    kind = found.pop("certificate_kind", "")
    if isinstance(number, str):
        found["certificate"] = [{"kind": kind, "number": number}] if number.strip() else []
    return found


def _all(parts: list[Part]) -> list[Part]:
    return [one for part in parts for one in (part, *_all(part.parts))]


def _field(shape: str, label: str, hint: str, schema: Schema, value: str) -> TextField:
    match shape:
        case "choice":
            return Pick(label, _choices(schema, value))
        case "flag":
            return TextField(label, hint, widget=forms.CheckboxInput())
        case "many":
            words = [(one, choice_words(one)) for one in options_of(inner_of(schema)) or ()]
            return TextField(label, hint, widget=forms.CheckboxSelectMultiple(choices=words))
        case "day":
            return TextField(label, hint, short=True, widget=forms.DateInput({"type": "date"}))
        case "number":
            return TextField(label, hint, short=True, inputmode="decimal")
        case "lines":
            rows = max(2, min(6, value.count("\n") + 2))
            return TextField(
                label, hint or "One in each line.", widget=forms.Textarea({"rows": rows})
            )
    if len(value) > LONG:
        return TextField(
            label, hint, widget=forms.Textarea({"rows": min(8, len(value) // _LINE + 1)})
        )
    return TextField(label, hint)


def _offered(options: tuple[str, ...], value: str) -> list[tuple[str, str]]:
    """What is on file elsewhere, and what stands here though it is not there."""
    odd = [value] if value and value not in options else []
    return [("", "not said"), *((one, upper_first(one)) for one in (*options, *odd))]


def _choices(schema: Schema, value: str) -> list[tuple[str, str]]:
    options = options_of(schema) or []
    default = default_of(schema)
    blank = [] if default in options else [("", "not said")]
    # What an older file has and nothing offers any more.
    odd = [value] if value and value not in options else []
    return blank + [(one, choice_words(one)) for one in (*options, *odd)]


def _initial(shape: str, schema: Schema, value: Any) -> Any:
    default = default_of(schema)
    if shape == "flag":
        return bool(default if value is None else value)
    if shape == "many":
        return value or []
    if shape == "choice" and value is None and default is not None:
        return default
    return shown(schema, value)
