"""An engine's layout: cylinders, holes, walk, firing order, ignition wiring and rotation.

Everything is data. Nothing in code knows the letters T and B, how many cylinders there are or
which way oil runs.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

from rehang.trade.terms.errors import BadInput

__all__ = ["Layout", "Row", "layout_faults", "layout_from", "layout_remarks"]

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
    right. ``drains_to`` are the holes that oil runs to when the engine stands; ``locks`` those whose
    plugs come out before anything turns the shaft, as oil drains down into their cylinders and can
    lock them (DESIGN 4b.16). ``plan`` is where
    the cylinders stand: ``left`` and ``right`` of the crankcase from the propeller end, in
    ``line``, or ``round`` it, clockwise from the upright one, seen from behind.
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
    plan: Mapping[str, tuple[int, ...]] = field(default_factory=dict)
    locks: tuple[str, ...] = ()

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

    def rotation_loops(self) -> tuple[tuple[str, ...], ...]:
        """The rotation map as the rounds it makes, each from its first hole of the walk."""
        left = list(self.walk)
        loops = []
        while left:
            loop = [left[0]]
            while (following := self.rotation[loop[-1]]) != loop[0]:
                loop.append(following)
            loops.append(tuple(loop))
            left = [hole for hole in left if hole not in loop]
        return tuple(loops)

    def check_hole(self, hole: str, where: str = "") -> str:
        """The hole's name as the layout spells it (1t is 1T); refused when there is none."""
        found = {name.upper(): name for name in self.walk}.get(hole.strip().upper())
        if found is None:
            raise BadInput(
                f'There is no hole "{hole}" in this layout. Its holes are {", ".join(self.walk)}.',
                where,
            )
        return found


_KNOWN = (
    "layout", "title", "cylinders", "rows", "walk", "tray", "prop_end", "firing_order",
    "ignition", "rotation", "drains_to", "source", "plan", "locks",
)  # fmt: skip
_NEEDED = ("layout", "cylinders", "rows", "firing_order", "ignition", "rotation", "source")
PLANS = ("left", "right", "line", "round")
_ENDS = ("", "left", "right")


def layout_from(raw: Mapping[str, Any], where: Where = lambda *keys: "") -> Layout:
    """A layout from its sheet; the first contradiction in it is refused with a sentence."""
    faults = layout_faults(raw, where)
    if faults:
        raise faults[0]
    cylinders = tuple(raw["cylinders"])
    rows = tuple(Row(letter, name) for letter, name in raw["rows"].items())
    return Layout(
        name=raw["layout"],
        title=raw.get("title", raw["layout"]),
        cylinders=cylinders,
        rows=rows,
        walk=_walk(raw),
        tray=_tray(raw),
        prop_end=raw.get("prop_end", ""),
        firing_order=tuple(raw["firing_order"]),
        ignition=MappingProxyType({name: tuple(w) for name, w in raw["ignition"].items()}),
        rotation=MappingProxyType(dict(raw["rotation"])),
        drains_to=frozenset(raw.get("drains_to", ())),
        source=raw["source"],
        plan=MappingProxyType({key: tuple(held) for key, held in raw.get("plan", {}).items()}),
        locks=tuple(raw.get("locks", ())),
    )


def _walk(raw: Mapping[str, Any]) -> tuple[str, ...]:
    return tuple(raw.get("walk") or [f"{c}{r}" for c in raw["cylinders"] for r in raw["rows"]])


def _tray(raw: Mapping[str, Any]) -> tuple[tuple[str, ...], ...]:
    by_row = [[f"{c}{r}" for c in raw["cylinders"]] for r in raw["rows"]]
    return tuple(tuple(line) for line in (raw.get("tray") or by_row))


def layout_faults(raw: Mapping[str, Any], where: Where = lambda *keys: "") -> list[BadInput]:
    """Everything that keeps a sheet from being a layout, a sentence each; empty when it is one."""
    faults = [
        BadInput(f'A layout has no "{key}". It has {", ".join(sorted(_KNOWN))}.', where(key))
        for key in raw
        if key not in _KNOWN
    ]
    faults += [
        BadInput(f'The layout has no "{key}".', where()) for key in _NEEDED if key not in raw
    ]
    shaped = {key for key in _KNOWN if key in raw and _shape(key, raw[key], where, faults)}
    if not {"cylinders", "rows"} <= shaped:
        return faults
    cylinders = list(raw["cylinders"])
    twice = sorted({c for c in cylinders if cylinders.count(c) > 1})
    if twice:
        faults.append(
            BadInput(f'"cylinders" names {_names(twice)} more than once.', where("cylinders"))
        )
    for letter in raw["rows"]:
        if not letter.isalpha():
            faults.append(
                BadInput(
                    f'A row is named by letters, not "{letter}"; a hole is the cylinder and the '
                    "row, as in 1T.",
                    where("rows", letter),
                )
            )
    holes = {f"{c}{r}" for c in cylinders for r in raw["rows"]}
    if "walk" in shaped or "walk" not in raw:
        _each_once(_walk(raw), holes, "walk", where, faults)
    if "tray" in shaped or "tray" not in raw:
        _each_once([h for line in _tray(raw) for h in line], holes, "tray", where, faults)
    if "ignition" in shaped:
        wired = [h for held in raw["ignition"].values() for h in held]
        _each_once(wired, holes, "ignition", where, faults)
    if "rotation" in shaped:
        _each_once(raw["rotation"].keys(), holes, "rotation", where, faults)
        _each_once(raw["rotation"].values(), holes, "rotation", where, faults, "sends a plug to")
    if "firing_order" in shaped and sorted(raw["firing_order"]) != sorted(cylinders):
        faults.append(
            BadInput(
                f"The firing order {raw['firing_order']} does not name each cylinder once.",
                where("firing_order"),
            )
        )
    for key in ("drains_to", "locks"):
        if key in shaped:
            faults += [
                BadInput(f'"{key}" names {hole}, which is not a hole.', where(key))
                for hole in raw[key]
                if hole not in holes
            ]
    if "plan" in shaped:
        planned = [c for held in raw["plan"].values() for c in held]
        if sorted(planned) != sorted(cylinders):
            faults.append(
                BadInput(
                    f'"plan" places {_names(planned) or "none"}; it is to place each of '
                    f"{_names(cylinders)} once.",
                    where("plan"),
                )
            )
    return faults


def _names(values: Sequence[object]) -> str:
    return ", ".join(str(one) for one in values)


def _shape(key: str, given: Any, where: Where, faults: list[BadInput]) -> bool:
    """Whether a key holds the kind of value it takes; what is said otherwise goes on the list."""
    sentence = ""
    match key:
        case "layout" | "title" | "source":
            if not isinstance(given, str) or (key != "title" and not given.strip()):
                sentence = f'"{key}" is to be text, as in {key} = "opposed-4".'
            if key == "source" and sentence:
                sentence = '"source" is to say which document the layout is from.'
        case "prop_end":
            if given not in _ENDS:
                sentence = (
                    f'"prop_end" is "{given}". Write "left" or "right": the side of the tray that '
                    "the propeller is on."
                )
        case "cylinders" | "firing_order":
            if not _whole_numbers(given):
                sentence = f'"{key}" is to be a list of cylinder numbers, as in [1, 2, 3, 4].'
        case "walk" | "drains_to" | "locks":
            if not _texts(given):
                sentence = f'"{key}" is to be a list of holes, as in ["1T", "1B"].'
        case "tray":
            if not isinstance(given, list) or not given or not all(_texts(one) for one in given):
                sentence = '"tray" is to be a list of lines, each a list of holes.'
        case "rows":
            if not _table(given) or not all(isinstance(name, str) for name in given.values()):
                sentence = '"rows" is to name each row, as in T = "top".'
        case "ignition":
            if not _table(given) or not all(_texts(held) for held in given.values()):
                sentence = '"ignition" is to list the holes that each source fires.'
        case "rotation":
            if not _table(given) or not all(isinstance(hole, str) for hole in given.values()):
                sentence = (
                    '"rotation" is to say for each hole where its plug goes, as in 1T = "3B".'
                )
        case "plan":
            if (
                not _table(given)
                or not set(given) <= set(PLANS)
                or not all(_whole_numbers(held) for held in given.values())
            ):
                sentence = (
                    f'"plan" is to have {", ".join(PLANS[:-1])} or {PLANS[-1]}, each a list of '
                    "cylinder numbers."
                )
    if sentence:
        faults.append(BadInput(sentence, where(key)))
    return not sentence


def _whole_numbers(given: Any) -> bool:
    return (
        isinstance(given, list)
        and bool(given)
        and all(isinstance(c, int) and not isinstance(c, bool) and c > 0 for c in given)
    )


def _texts(given: Any) -> bool:
    return isinstance(given, list) and all(isinstance(one, str) for one in given)


def _table(given: Any) -> bool:
    return isinstance(given, dict) and bool(given)


def _each_once(
    given: Any,
    holes: set[str],
    key: str,
    where: Where,
    faults: list[BadInput],
    does: str = "names",
) -> None:
    names: Sequence[str] = list(given)
    faults += [
        BadInput(f'"{key}" {does} {hole}, which is not a hole of this layout.', where(key))
        for hole in dict.fromkeys(names)
        if hole not in holes
    ]
    twice = sorted({h for h in names if names.count(h) > 1})
    if twice:
        faults.append(BadInput(f'"{key}" {does} {", ".join(twice)} more than once.', where(key)))
    left = sorted(holes - set(names))
    if left:
        never = "leaves out" if does == "names" else "sends no plug to"
        faults.append(BadInput(f'"{key}" {never} {", ".join(left)}.', where(key)))


def layout_remarks(layout: Layout) -> list[str]:
    """What is allowed in a layout and yet is seldom meant; common practice, no source."""
    remarks = []
    for name, holes in layout.ignition.items():
        dark = [c for c in layout.cylinders if c not in {layout.cylinder_of(h) for h in holes}]
        if dark and len(layout.ignition) > 1:
            remarks.append(
                f"{name.capitalize()} fires nothing in cylinder {_names(dark)}; with that source "
                "alone the cylinder is cold."
            )
    order = layout.firing_order
    for hole in layout.walk:
        onto = layout.next_hole(hole)
        if onto == hole:
            remarks.append(f"A plug out of {hole} goes back to {hole}, so it never changes places.")
            continue
        following = order[(order.index(layout.cylinder_of(hole)) + 1) % len(order)]
        if layout.cylinder_of(onto) != following:
            remarks.append(
                f"A plug out of {hole} goes to {onto}; the next cylinder in the firing order is "
                f"{following}."
            )
        elif len(layout.rows) > 1 and layout.row_of(onto) == layout.row_of(hole):
            remarks.append(f"A plug out of {hole} goes to {onto}, the same row.")
    if not layout.plan:
        remarks.append('There is no "plan", so the engine is drawn as a line of cylinders.')
    if not layout.drains_to:
        remarks.append(
            'There is no "drains_to": oil in any hole is taken for more than what runs down.'
        )
    return remarks
