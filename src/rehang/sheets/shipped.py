"""What Rehang brings: the texts that a job's own file of a kind may begin with."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType

from rehang.sheets.things import ThingKind, add, put, things_in

__all__ = ["LAID_OVER", "begun", "shipped_texts"]

_HERE = Path(__file__).parent
# Kinds of which a job's file holds only what is another than what Rehang brings.
LAID_OVER = ("task", "group", "reason")


@cache
def shipped_texts(kind: ThingKind) -> Mapping[str, str]:
    """The texts for a kind, each by its name; none where Rehang brings nothing of it.

    A check sheet and a layout are one of several; of any other kind there is one.
    """
    found: Mapping[str, str] = {}
    match kind.file:
        case "checks.toml":
            found = _texts("checks/*.toml")
        case "layout.toml":
            found = _texts("layouts/*.toml")
        case "run.toml" | "torque.toml" | "reasons.toml":
            found = _texts(kind.file)
        case "tasks.toml" if kind.is_list:
            found = _texts(kind.file)
        case "people.toml" if not kind.is_list:
            found = _texts("powers.toml")
    return MappingProxyType({name: text for name, text in found.items() if things_in(text, kind)})


def _texts(pattern: str) -> dict[str, str]:
    return {one.stem: one.read_text("utf-8") for one in sorted(_HERE.glob(pattern))}


def begun(text: str, kind: ThingKind, shipped: str) -> str:
    """The text of a file with all of a kind that Rehang brings, for a job to change.

    A file that is begun with it is that text whole: its kinds speak of one another.
    """
    if not text.strip():
        return shipped
    for key, thing in things_in(shipped, kind).items():
        text = add(text, kind, thing) if kind.is_list else put(text, kind, key, thing)
    return text
