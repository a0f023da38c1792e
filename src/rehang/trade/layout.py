"""An engine's layout: cylinders, holes, walk, firing order, ignition wiring and rotation.

Everything is data. Nothing in code knows the letters T and B, how many cylinders there are or
which way oil runs.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from rehang.trade.errors import BadInput

__all__ = ["Layout", "Row", "layout_from"]

Where = Callable[..., str]


@dataclass(frozen=True, slots=True)
class Row:
    """One row of plug holes: its letter and its name in words."""

    letter: str
    name: str


@dataclass(frozen=True, slots=True)
class Layout:
    """One way engines are laid out.

    ``walk`` is the order readings are taken in. ``tray`` is the picture: rows of holes, left to
    right. ``drains_to`` are the holes that oil runs to when the engine stands.
    """

    name: str
    title: str
    cylinders: tuple[int, ...]
    rows: tuple[Row, ...]
    walk: tuple[str, ...]
    tray: tuple[tuple[str, ...], ...]
    prop_end: str
    firing_order: tuple[int, ...]
    ignition: Mapping[str, tuple[str, ...]]
    rotation: Mapping[str, str]
    drains_to: frozenset[str]
    source: str

    @property
    def holes(self) -> tuple[str, ...]:
        return self.walk

    def cylinder_of(self, hole: str) -> int:
        return int("".join(c for c in hole if c.isdigit()))

    def row_of(self, hole: str) -> str:
        return "".join(c for c in hole if not c.isdigit())

    def magneto_of(self, hole: str) -> str:
        """The ignition source that fires a hole."""
        return next(name for name, holes in self.ignition.items() if hole in holes)

    def next_hole(self, hole: str) -> str:
        """Where a plug out of ``hole`` goes by the rotation map."""
        return self.rotation[hole]

    def check_hole(self, hole: str, where: str = "") -> str:
        """The hole's name as the layout spells it (1t is 1T); refused when there is none."""
        found = {name.upper(): name for name in self.walk}.get(hole.strip().upper())
        if found is None:
            raise BadInput(
                f'There is no hole "{hole}" in this layout. Its holes are {", ".join(self.walk)}.',
                where,
            )
        return found


def layout_from(raw: Mapping[str, Any], where: Where = lambda *keys: "") -> Layout:
    """A layout from its sheet; every contradiction in it is refused with a sentence."""
    known = {
        "layout", "title", "cylinders", "rows", "walk", "tray", "prop_end", "firing_order",
        "ignition", "rotation", "drains_to", "source",
    }  # fmt: skip
    for key in raw:
        if key not in known:
            raise BadInput(
                f'A layout has no "{key}". It has {", ".join(sorted(known))}.', where(key)
            )
    for key in ("layout", "cylinders", "rows", "firing_order", "ignition", "rotation", "source"):
        if key not in raw:
            raise BadInput(f'The layout has no "{key}".', where())
    cylinders = tuple(raw["cylinders"])
    rows = tuple(Row(letter, name) for letter, name in raw["rows"].items())
    holes = {f"{c}{r.letter}" for c in cylinders for r in rows}
    walk = tuple(raw.get("walk") or [f"{c}{r.letter}" for c in cylinders for r in rows])
    tray = tuple(
        tuple(line)
        for line in (raw.get("tray") or [[f"{c}{r.letter}" for c in cylinders] for r in rows])
    )
    ignition = {name: tuple(wired) for name, wired in raw["ignition"].items()}
    _each_once(walk, holes, "walk", where)
    _each_once([h for line in tray for h in line], holes, "tray", where)
    _each_once([h for wired in ignition.values() for h in wired], holes, "ignition", where)
    _each_once(raw["rotation"].keys(), holes, "rotation", where)
    _each_once(raw["rotation"].values(), holes, "rotation", where)
    if sorted(raw["firing_order"]) != sorted(cylinders):
        raise BadInput(
            f"The firing order {raw['firing_order']} does not name each cylinder once.",
            where("firing_order"),
        )
    for hole in raw.get("drains_to", ()):
        if hole not in holes:
            raise BadInput(f'"drains_to" names {hole}, which is not a hole.', where("drains_to"))
    return Layout(
        name=raw["layout"],
        title=raw.get("title", raw["layout"]),
        cylinders=cylinders,
        rows=rows,
        walk=walk,
        tray=tray,
        prop_end=raw.get("prop_end", ""),
        firing_order=tuple(raw["firing_order"]),
        ignition=MappingProxyType(ignition),
        rotation=MappingProxyType(dict(raw["rotation"])),
        drains_to=frozenset(raw.get("drains_to", ())),
        source=raw["source"],
    )


def _each_once(given: Any, holes: set[str], key: str, where: Where) -> None:
    names: Sequence[str] = list(given)
    for hole in names:
        if hole not in holes:
            raise BadInput(f'"{key}" names {hole}, which is not a hole of this layout.', where(key))
    twice = sorted({h for h in names if names.count(h) > 1})
    if twice:
        raise BadInput(f'"{key}" names {", ".join(twice)} more than once.', where(key))
    left = sorted(holes - set(names))
    if left:
        raise BadInput(f'"{key}" leaves out {", ".join(left)}.', where(key))
