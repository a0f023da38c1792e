"""An engine's layout: cylinders, holes, walk, firing order, ignition wiring and rotation.

Everything is data. Nothing in code knows the letters T and B, how many cylinders there are or
which way oil runs.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Annotated, Any, ClassVar, TypedDict

from pydantic import Field

from rehang.trade.declared.taken import Fault, Where, faults_in, read
from rehang.trade.declared.values import STRICT, ListOf, OneOf, TableOf, Text, Whole, nothing, unfit
from rehang.trade.terms.errors import BadInput

__all__ = ["Layout", "Row", "layout_faults", "layout_from", "layout_remarks"]

PLANS = ("left", "right", "line", "round")
_TEXT = '"{key}" is to be text, as in {key} = "opposed-4".'
_SOURCE = '"source" is to say which document the layout is from.'
_ROWS = '"rows" is to name each row, as in T = "top".'
_TRAY = '"tray" is to be a list of lines, each a list of holes.'
_IGNITION = '"ignition" is to list the holes that each source fires.'
_ROTATION = '"rotation" is to say for each hole where its plug goes, as in 1T = "3B".'
_PLAN = (
    f'"plan" is to have {", ".join(PLANS[:-1])} or {PLANS[-1]}, each a list of cylinder numbers.'
)
_HOLE = "Cylinder number and row letter, as in 1T."


class _Words(TypedDict):
    wrong: str
    mistyped: str


def _all(words: str) -> _Words:
    """The one sentence of a key, whatever is wrong with it."""
    return {"wrong": words, "mistyped": words}


def _numbers(words: str) -> ListOf:
    number = Whole(least=1, **_all(words))
    return ListOf(number, least=1, needs=words, **_all(words))


def _holes(words: str, description: str = "") -> ListOf:
    return ListOf(Text(_HOLE, mistyped=words), description, **_all(words))


def _hole_list(key: str, description: str) -> ListOf:
    return _holes(f'"{key}" is to be a list of holes, as in ["1T", "1B"].', description)


def _cylinders(key: str) -> ListOf:
    return _numbers(f'"{key}" is to be a list of cylinder numbers, as in [1, 2, 3, 4].')


def _rows(given: Mapping[str, str]) -> "tuple[Row, ...]":
    return tuple(Row(letter, name) for letter, name in given.items())


def _plans(given: Mapping[str, tuple[int, ...]]) -> Mapping[str, tuple[int, ...]]:
    if not given.keys() <= set(PLANS):
        raise unfit()
    return given


@dataclass(frozen=True, slots=True)
class Row:
    """One row of plug holes: its letter and its name in words."""

    letter: str
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """One way engines are laid out.

    ``walk`` and ``tray`` are by cylinders and rows where the sheet leaves them out. ``locks`` are
    DESIGN 4b.16. ``plan`` is where the cylinders stand: ``left`` and ``right`` of the crankcase from
    the propeller end, in ``line``, or ``round`` it, clockwise from the upright one, seen from behind.
    """

    __pydantic_config__ = STRICT
    __thing__: ClassVar[str] = "A layout"
    __words__: ClassVar[str] = "An engine's layout."

    name: Annotated[
        str,
        Text(needed=True, needs=_TEXT, mistyped=_TEXT),
        Field(alias="layout", title="Short name"),
    ]
    title: Annotated[str, Text(mistyped=_TEXT), Field(title="Name")] = ""
    cylinders: Annotated[tuple[int, ...], _cylinders("cylinders")]
    rows: Annotated[
        tuple[Row, ...],
        TableOf(Text("Name of the row.", mistyped=_ROWS), least=1, into=_rows, **_all(_ROWS)),
        Field(title="Rows of holes"),
    ]
    walk: Annotated[
        tuple[str, ...],
        _hole_list("walk", "The order readings are taken in."),
        Field(title="Order of reading"),
    ] = ()
    tray: Annotated[
        tuple[tuple[str, ...], ...],
        ListOf(_holes(_TRAY), "Rows of the picture.", **_all(_TRAY)),
        Field(title="Rows of the picture"),
    ] = ()
    prop_end: Annotated[
        str,
        OneOf(
            ("", "left", "right"),
            **_all(
                '"prop_end" is "{given}". Write "left" or "right": the side of the tray that the '
                "propeller is on."
            ),
        ),
        Field(title="Propeller is on the"),
    ] = ""
    firing_order: Annotated[tuple[int, ...], _cylinders("firing_order")]
    ignition: Annotated[
        Mapping[str, tuple[str, ...]],
        TableOf(_holes(_IGNITION), least=1, **_all(_IGNITION)),
        Field(title="What fires which holes"),
    ]
    rotation: Annotated[
        Mapping[str, str],
        TableOf(Text(_HOLE, mistyped=_ROTATION), least=1, **_all(_ROTATION)),
        Field(title="Where each plug goes next"),
    ]
    drains_to: Annotated[
        tuple[str, ...],
        _hole_list("drains_to", "Holes that oil runs to."),
        Field(title="Holes that oil runs to"),
    ] = ()
    locks: Annotated[
        tuple[str, ...],
        _hole_list(
            "locks",
            "Holes whose plugs come out before anything turns the shaft: oil drains down into "
            "their cylinders and can lock them.",
        ),
        Field(title="Holes whose plugs come out first"),
    ] = ()
    plan: Annotated[
        Mapping[str, tuple[int, ...]],
        TableOf(
            _numbers(_PLAN),
            "Where the cylinders stand.",
            names=PLANS,
            least=1,
            into=_plans,
            **_all(_PLAN),
        ),
        Field(title="Where the cylinders stand"),
    ] = field(default_factory=nothing)
    source: Annotated[
        str, Text(needed=True, needs=_SOURCE, mistyped=_SOURCE), Field(title="Where it is from")
    ]

    @property
    def holes(self) -> tuple[str, ...]:
        return self.walk

    def cylinder_of(self, hole: str) -> int:
        # Rows are named by letters alone, so the digits are the cylinder's.
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
            # It ends, as a map that does not send one plug to each hole is refused.
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


def layout_from(raw: Mapping[str, Any], where: Where = lambda *keys: "") -> Layout:
    """A layout from its sheet; the first contradiction in it is refused with a sentence."""
    faults = layout_faults(raw, where)
    if faults:
        raise faults[0]
    found = read(Layout, raw, where)
    return replace(found, title=found.title or found.name, walk=_walk(raw), tray=_tray(raw))


def _walk(raw: Mapping[str, Any]) -> tuple[str, ...]:
    return tuple(raw.get("walk") or [f"{c}{r}" for c in raw["cylinders"] for r in raw["rows"]])


def _tray(raw: Mapping[str, Any]) -> tuple[tuple[str, ...], ...]:
    by_row = [[f"{c}{r}" for c in raw["cylinders"]] for r in raw["rows"]]
    return tuple(tuple(line) for line in (raw.get("tray") or by_row))


def layout_faults(raw: Mapping[str, Any], where: Where = lambda *keys: "") -> list[BadInput]:
    """Everything that keeps a sheet from being a layout, a sentence each; empty when it is one."""
    found: dict[str | int, Fault] = {}
    for fault in faults_in(Layout, raw):
        found.setdefault(fault.path[0], fault)
    faults = [
        BadInput(one.sentence if one.is_written else f'The layout has no "{key}".', where(key))
        for key, one in found.items()
    ]
    shaped = raw.keys() - found.keys()
    # Without both there is no hole to hold the rest against.
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
        # Two plugs sent to one hole would leave another without.
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
