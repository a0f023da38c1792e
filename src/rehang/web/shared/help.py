"""The five lines that explain each page: a ``help.toml`` in each room, by the name of the address."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

__all__ = ["ANY", "Help", "help_of", "helps"]

# What stands for a page that has none of its own.
ANY = "any"
_ROOMS = Path(__file__).resolve().parents[1]


@dataclass(frozen=True, slots=True)
class Help:
    """What a page is, its lines from the top of it down, each with what is drawn beside it."""

    name: str
    title: str
    lines: tuple[tuple[str, str], ...]


@cache
def helps() -> Mapping[str, Help]:
    """The help of every page, by the name of its address."""
    found: dict[str, Help] = {}
    for path in sorted(_ROOMS.glob("*/help.toml")):
        for name, one in tomllib.loads(path.read_text("utf-8")).items():
            lines = tuple((drawn, said) for drawn, said in one["lines"])
            found[name] = Help(name, one["title"], lines)
    return found


def help_of(name: str) -> Help:
    """The help of a page; of one that has none, what holds for all."""
    return helps().get(name, helps()[ANY])
