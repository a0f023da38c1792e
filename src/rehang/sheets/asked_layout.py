"""A layout of answers as the job names it: a shipped one where it is one, else the text of its file."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import tomlkit

from rehang.sheets import layouts
from rehang.trade.facts.layout import layout_from
from rehang.trade.facts.layout_asked import layout_asked

__all__ = ["asked_layout", "layout_text"]

_HEAD = "# Made from answers when the job was begun. Change what is not as on your engine."
_SAID: dict[str, tuple[str, ...]] = {
    "locks": (
        "Oil runs down into these cylinders and locks them: one plug of each comes out first.",
    ),
    "plan": ("From the propeller end; a radial clockwise from the upright one, seen from behind.",),
    "ignition": ("Which holes each ignition source fires.",),
    "rotation": ("Where a plug goes: the next cylinder in firing order, and the other row.",),
}


def asked_layout(answers: Mapping[str, str]) -> tuple[str, str]:
    """The name for ``engine.toml`` and the text of ``layout.toml``, empty where a shipped one is meant.

    Raises
    ------
    BadInput
        As :func:`rehang.trade.facts.layout_asked.layout_asked`.
    """
    raw = layout_asked(answers)
    name = str(raw["layout"])
    shipped = layouts().get(name)
    if shipped == layout_from(raw):
        return name, ""
    if shipped is not None:
        # Two layouts of one name would be taken for each other.
        name = f"{name}-own"
        raw["title"] += ", our own"
    return name, layout_text({**raw, "layout": name})


def layout_text(raw: Mapping[str, Any]) -> str:
    """The text of a layout's file, with a comment where a reader wants one."""
    lines = [_HEAD]
    # TOML: what stands below a table belongs to it, so tables come last.
    for key, value in sorted(raw.items(), key=lambda one: isinstance(one[1], Mapping)):
        if value in ([], ""):
            continue
        is_table = isinstance(value, Mapping)
        lines += [""] * is_table + [f"# {words}" for words in _SAID.get(key, ())]
        if is_table:
            lines += [f"[{key}]", *(f"{name} = {_written(one)}" for name, one in value.items())]
        elif key == "tray":
            lines += ["tray = [", *(f"  {_written(line)}," for line in value), "]"]
        else:
            lines.append(f"{key} = {_written(value)}")
    return "\n".join(lines) + "\n"


def _written(value: Any) -> str:
    return str(tomlkit.item(value).as_string())
