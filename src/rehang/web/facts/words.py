"""What the pages call the things on file, in a mechanic's words."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from rehang.sheets.things import THINGS
from rehang.trade.declared.values import Schema
from rehang.trade.terms.wording import FILE_WORDS
from rehang.web.facts.fields import inner_of, label_of

__all__ = ["GROUPS", "KINDS", "KindWords", "choice_words", "one_of", "plain_words"]


@dataclass(frozen=True, slots=True)
class KindWords:
    """A kind of thing: all of them, one of them, and the fields that a list of them shows.

    ``without`` says what holds where nothing of it is on file.
    """

    title: str
    one: str
    columns: tuple[str, ...] = ()
    without: str = "none"


# What Rehang brings holds.
_BROUGHT = "standard"
KINDS: Mapping[str, KindWords] = MappingProxyType(
    {
        "engine": KindWords("Engine data", "engine data"),
        "shop": KindWords("The shop", "shop"),
        "hose": KindWords("Hoses", "hose", ("line", "type", "made", "fitted")),
        "accessory": KindWords("Accessories", "accessory", ("serial", "hours", "due_hours")),
        "layout": KindWords("Layout of its own", "layout", without="none of its own"),
        "person": KindWords("People", "person", ("role", "certificate", "days")),
        "people-powers": KindWords("What papers let a person do", "table", without=_BROUGHT),
        "limit": KindWords("Limits, every field", "limit", ("lower", "upper", "document")),
        "meter": KindWords("Meters, every field", "meter", ("kind", "due")),
        "part": KindWords("Parts and suppliers", "part", ("supplier", "price", "stock")),
        "recurring": KindWords(
            "Directives and inspections",
            "line",
            ("every_hours", "every_months", "last_on"),
        ),
        "reason": KindWords(
            "Why engines come off", "reason", ("tasks", "documents", "teardown"), _BROUGHT
        ),
        "task": KindWords("Tasks", "task", ("stage", "hold"), _BROUGHT),
        "tasks-sheet": KindWords("Name of the task sheet", "task sheet", without=_BROUGHT),
        "group": KindWords(
            "Fasteners to torque", "group", ("number", "fastener", "pattern"), _BROUGHT
        ),
        "step": KindWords("Steps of a ground run", "step", ("checks",), _BROUGHT),
        "run": KindWords("Rules of a ground run", "set of rules", without=_BROUGHT),
        "depends": KindWords("Work that ends figures", "line", ("voids",), _BROUGHT),
        "inspection": KindWords("What an inspection asks", "line", ("checks", "source"), _BROUGHT),
        "checks-sheet": KindWords("Check sheet of its own", "check sheet", without=_BROUGHT),
        "check": KindWords("Its checks", "check", ("kind", "letter"), _BROUGHT),
        "word": KindWords("Its finding words", "word", ("severity", "cause"), _BROUGHT),
        "rework": KindWords("Its reworks", "rework", ("done", "voids"), _BROUGHT),
    }
)
# The kinds as the first page shows them, under their heads.
GROUPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("The engine and its shop", ("engine", "shop", "hose", "accessory", "layout")),
    ("People", ("person", "people-powers")),
    ("Limits and meters", ("limit", "meter")),
    ("Parts and what comes due", ("part", "recurring")),
    ("The work", ("reason", "task", "tasks-sheet", "group")),
    ("The ground run", ("step", "run", "depends", "inspection")),
    ("A check sheet of its own", ("checks-sheet", "check", "word", "rework")),
)

# One thing of a list within a thing, by the list's field.
_ONE: Mapping[str, str] = MappingProxyType(
    {
        "away": "absence",
        "use": "part",
        "choice": "word",
        "answers": "reading",
        "acts": "piece of work",
        "powers": "kind of certificate",
    }
)
_CHOICES: Mapping[str, str] = MappingProxyType(
    {
        "": "not said",
        "pump": "a pump",
        "vacuum-pump": "vacuum pump",
        "fuel-pump": "fuel pump",
        "fuel-servo": "fuel servo",
        "none": "nothing",
        "since_overhaul": "engine, since overhaul",
        "since_new": "engine, since new",
        "torque alone": "torque without a second look",
        "look": "give a second look",
        "decide": "decide",
        "approve": "approve for return to service",
        "inspect": "sign an inspection",
    }
)


def one_of(key: str) -> str:
    """One thing of a list that a field holds."""
    return _ONE.get(key, key.replace("_", " ").removesuffix("s"))


def choice_words(value: str) -> str:
    """One of a few values, as it is picked."""
    return _CHOICES.get(value, value.replace("_", " "))


def plain_words(sentence: str, schema: Schema) -> str:
    """A refusal with the names that files have made those that pages have."""
    words = {f'"{key}"': f"“{label}”" for key, label in _labels(schema)}
    words.update({file: f"the {name}" for file, name in FILE_WORDS.items()})
    for name, one in THINGS.items():
        words[f"[[{one.table}]]"] = f"a {KINDS[name].one}"
    found = re.sub(
        "|".join(map(re.escape, sorted(words, key=len, reverse=True))),
        lambda one: words[one[0]],
        sentence,
    )
    return found[:1].upper() + found[1:]


def _labels(schema: Schema) -> Iterator[tuple[str, str]]:
    for key, one in schema.get("properties", {}).items():
        yield key, label_of(key, one)
        yield from _labels(one if "properties" in one else inner_of(one))
