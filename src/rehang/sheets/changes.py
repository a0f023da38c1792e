"""What one text of a job's file says more, less and otherwise than another."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

__all__ = ["Change", "changes_between"]


@dataclass(frozen=True, slots=True)
class Change:
    """The facts of one file that a new text puts in, takes out and changes, in words."""

    file: str
    put_in: tuple[str, ...]
    taken_out: tuple[str, ...]
    changed: tuple[str, ...]

    @property
    def lines(self) -> list[str]:
        """A line for each fact; one for a file in which only the writing differs."""
        said = [f"{self.file}: taken out: {one}" for one in self.taken_out]
        said += [f"{self.file}: changed: {one}" for one in self.changed]
        said += [f"{self.file}: put in: {one}" for one in self.put_in]
        return said or [f"{self.file}: the same facts, written otherwise"]


def changes_between(old: Mapping[str, str], new: Mapping[str, str]) -> list[Change]:
    """The files whose text differs, each with its facts; ``old`` and ``new`` are texts by name.

    Both are texts that have been read already, so that they are TOML.
    """
    found = []
    for name in dict.fromkeys([*old, *new]):
        if old.get(name) == new.get(name):
            continue
        before, after = _facts(old.get(name, "")), _facts(new.get(name, ""))
        found.append(
            Change(
                name,
                tuple(one for one in after if one not in before),
                tuple(one for one in before if one not in after),
                tuple(
                    f"{one} ({_difference(before[one], after[one])})"
                    for one in before
                    if one in after and before[one] != after[one]
                ),
            )
        )
    return found


def _facts(text: str) -> dict[str, Any]:
    """Each fact by its name: a key of the file, or one table of a list."""
    found: dict[str, Any] = {}
    for key, value in tomllib.loads(text).items():
        if isinstance(value, list) and value and all(isinstance(one, dict) for one in value):
            for one in value:
                name, count = _named(key, one), 2
                while name in found:
                    name, count = f"{_named(key, one)} ({count})", count + 1
                found[name] = one
        else:
            found[key] = value
    return found


def _named(key: str, table: Mapping[str, Any]) -> str:
    """A table of a list by what tells it from its fellows: its id, or what a limit is for."""
    parts = [str(table[name]) for name in ("id", "key", "item", "check", "use") if name in table]
    return " ".join([key, *(parts or [str(table.get("name", ""))])]).strip()


def _difference(before: Any, after: Any) -> str:
    if not isinstance(before, dict) or not isinstance(after, dict):
        return f"{before} becomes {after}"
    keys = [key for key in dict.fromkeys([*before, *after]) if before.get(key) != after.get(key)]
    return ", ".join(
        f"{key} {before.get(key, 'nothing')} becomes {after.get(key, 'nothing')}" for key in keys
    )
