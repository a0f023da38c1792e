"""What of a job's facts its book names: a thing that it names keeps its name and stays."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType

from rehang.trade.terms.entries import Entry

__all__ = ["first_named"]

# Fields of an entry that name a thing of a kind, and the kinds that are named as an item is.
_FIELDS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "person": ("under", "person", "with"),
        "meter": ("meter",),
        "part": ("part",),
        "recurring": ("recurring",),
        "task": ("task",),
        "step": ("step",),
        "group": ("group",),
        "check": ("check",),
        "word": ("word",),
        "rework": ("act",),
    }
)
_ITEMS = ("hose",)


def first_named(book: Iterable[Entry], kind: str, key: str) -> Entry | None:
    """The first entry that names the thing of that kind and key; None where none does."""
    return next((one for one in book if _names(one, kind, key)), None)


def _names(entry: Entry, kind: str, key: str) -> bool:
    if kind == "person" and entry.by == key:
        return True
    if kind in _ITEMS:
        return bool(entry.data.get("item") == f"{kind}:{key}")
    for name in _FIELDS.get(kind, ()):
        said = entry.data.get(name)
        if said == key or (isinstance(said, list) and key in said):
            return True
    return False
