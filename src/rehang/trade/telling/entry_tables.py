"""A record by headings: tables of what was fitted, measured and run, each with its sentences.

The sentences are what is signed; a table only shows the values that they were made of. Where a
person wrote a sentence anew or left it out, their words stand in place of its part of the table.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple
from zoneinfo import ZoneInfo

from rehang.trade.job.judging import JudgedJob, judge
from rehang.trade.known.drafts import Draft, LineRows, RecordLine
from rehang.trade.papers.signing import Signed
from rehang.trade.telling.entry_text import draft_of
from rehang.trade.telling.open_items import LISTS
from rehang.trade.terms.wording import upper_first

__all__ = [
    "EntryBlock",
    "EntryPiece",
    "EntryTable",
    "blocks_of",
    "draft_as_signed",
    "key_figures",
    "pieces_of",
]

ADDED = "Added"
# The headings of the list for the owner, one for each of its two parts.
OWED = dict(zip(LISTS, ("Unairworthy or open", "Work not done"), strict=True))


@dataclass(frozen=True, slots=True)
class EntryTable:
    """Heads and rows. Of ``figures`` the first cell of a row names what it is of; else it is words."""

    heads: tuple[str, ...]
    rows: LineRows
    figures: bool = False
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class EntryBlock:
    """One heading of a record. ``words`` are those of its ``lines`` that its ``table`` does not tell."""

    title: str
    lines: tuple[RecordLine, ...]
    table: EntryTable | None
    words: tuple[RecordLine, ...]

    @property
    def count(self) -> int:
        """How many things it tells."""
        rows = len(self.table.rows) if self.table is not None else 0
        return rows + len(self.words)


Lines = Mapping[str, RecordLine]


def blocks_of(draft: Draft) -> tuple[EntryBlock, ...]:
    """The whole draft under its headings, in the order of the record."""
    under: dict[str, list[RecordLine]] = {}
    for line in draft.lines:
        under.setdefault(_heading(line, draft), []).append(line)
    order = (*_HEADS, *OWED.values(), ADDED)
    return tuple(_block(head, under[head]) for head in order if head in under)


def draft_as_signed(judged: JudgedJob, signed: Signed) -> Draft | None:
    """The draft that was signed, from the book as it stood; None where it no longer gives that text.

    The text that was signed is in the book whatever comes of this: only tables are drawn from it.
    """
    order = judged.state.order
    before = order[: order.index(signed.entry)]
    day = signed.entry.at.astimezone(ZoneInfo(judged.facts.timezone_name)).date()
    draft = draft_of(judge(judged.facts, before, today=day), signed.what)
    return draft if draft.text == signed.text and not signed.fault else None


def _heading(line: RecordLine, draft: Draft) -> str:
    if not line.drawn:
        return ADDED
    if draft.what == "discrepancies":
        return OWED[line.title.rpartition(" ")[0]]
    return _HEAD_OF[_name(line)]


def _name(line: RecordLine) -> str:
    """Each day of compressions is a sentence of its own: compression-2 is another compression."""
    head, cut, number = line.id.rpartition("-")
    return head if cut and number.isdigit() else line.id


def _block(title: str, lines: Sequence[RecordLine]) -> EntryBlock:
    head = _HEADS.get(title)
    told = {
        one.id: one
        for one in lines
        if head is not None and _name(one) in head.tabled and one.rows and not one.own
    }
    table = head.build(told) if head is not None and told else None
    return EntryBlock(title, tuple(lines), table, tuple(one for one in lines if one.id not in told))


# Tables


def pivoted(rows: LineRows, corner: str) -> EntryTable:
    """Rows of name, column and value as a table, both in the order in which they come."""
    columns = list(dict.fromkeys(row[1] for row in rows))
    values: dict[str, dict[str, str]] = {}
    for name, column, value, *_ in rows:
        values.setdefault(name, {})[column] = value
    return EntryTable(
        (corner, *columns),
        tuple((name, *(held.get(one, "") for one in columns)) for name, held in values.items()),
        figures=True,
    )


def _plugs(told: Lines) -> EntryTable:
    """Each hole with what came out, what went in and how that was tested."""
    rows: list[tuple[str, ...]] = []
    for name, column in (("plugs-out", "Out"), ("plugs-in", "In")):
        rows += [(hole, column, serial) for hole, serial in told[name].rows] if name in told else []
    if "plugs" in told:
        tested = told["plugs"].rows
        if "plugs-in" not in told:
            rows += [(hole, "Tested", serial) for hole, serial, *_ in tested]
        rows += [(hole, label, read) for hole, _, label, read in tested]
    return pivoted(tuple(rows), "Hole")


def _cylinders(told: Lines) -> EntryTable:
    """Each cylinder by days; how it was read stands below them."""
    by_cylinder = [row for one in told.values() for row in one.rows if row[0] not in _HOW]
    how = [row for one in told.values() for row in one.rows if row[0] in _HOW]
    table = pivoted(
        tuple(
            (name if name not in _HOW else upper_first(name), upper_first(column), *rest)
            for name, column, *rest in (*by_cylinder, *how)
        ),
        "Cylinder",
    )
    notes = [
        f"Cylinder {name}, {column}: {more[0]}."
        for name, column, _, *more in by_cylinder
        if more and more[0]
    ]
    return replace(table, notes=tuple(notes))


# How cylinders were read, beside the cylinders themselves.
_HOW = ("tester", "orifice", "master")


def _runs(told: Lines) -> EntryTable:
    return _of_runs(told["run"].rows)


def key_figures(line: RecordLine) -> EntryTable:
    """Those figures of the runs that an inspection asks for (14 CFR 43.15(c)(2))."""
    return _of_runs(tuple(row for row in line.rows if row[3]))


def _of_runs(rows: LineRows) -> EntryTable:
    return pivoted(tuple((upper_first(what), run, said) for run, what, said, _ in rows), "Figure")


def _plain(*heads: str) -> Callable[[Lines], EntryTable]:
    """A table of the rows as they are, those of several sentences below each other."""

    def build(told: Lines) -> EntryTable:
        rows = [tuple(row) for one in told.values() for row in one.rows]
        full = [(upper_first(row[0]), *row[1:], *[""] * (len(heads) - len(row))) for row in rows]
        return EntryTable(heads, tuple(full))

    return build


class _Head(NamedTuple):
    """What stands under one heading: the sentences that its table tells, and those beside it."""

    build: Callable[[Lines], EntryTable]
    tabled: tuple[str, ...]
    beside: tuple[str, ...] = ()


# The headings, what is looked for first on top.
_HEADS: Mapping[str, _Head] = {
    "Plugs": _Head(_plugs, ("plugs-out", "plugs-in", "plugs")),
    "Cylinders": _Head(_cylinders, ("compression", "tappets")),
    "Off and on": _Head(_plain("Cylinder", "What was done and read"), ("cylinders-off",)),
    "Measured": _Head(_plain("What", "Read"), ("bench",)),
    "Ground run": _Head(_runs, ("run",)),
    "Torque": _Head(_plain("Fasteners", "Torque", "How"), ("torque",)),
    "Parts off": _Head(_plain("Part", "Why"), ("off",)),
    "Parts on": _Head(_plain("Part", "What, and its papers"), ("on",)),
    "Timing, oil": _Head(_plain("What", "Found", "Meter"), ("timing", "oil")),
    "Magnetos inside": _Head(_plain("Magneto", "Read"), ("inside",)),
    "Fuel and accessories": _Head(_plain("What", "Read"), ("carried",)),
    "Work done": _Head(_plain("Work", "On"), ("reworked",), ("work", "extra", "short")),
    "Findings": _Head(
        _plain("Where", "Found", "Day", "How it ended"), ("findings",), ("called", "promised")
    ),
    "Looks": _Head(_plain("Of", "By", "Day"), ("looks",)),
    "Directives": _Head(_plain("What", "Done", "How", "Next due"), ("directives",)),
    "Meters": _Head(_plain("Meter", "Calibration"), ("meters",)),
    "Engine": _Head(_plain(), (), ("engine", "why", "extent", "data")),
}
_HEAD_OF = {name: title for title, one in _HEADS.items() for name in (*one.tabled, *one.beside)}


# The one page that is signed


@dataclass(frozen=True, slots=True)
class EntryPiece:
    """One thing on the page that a mechanic writes: a table, or a line of text where there is none.

    On a sticker its ``text`` stands; the ``narrow`` table where it has one, and else nothing.
    """

    title: str
    text: str
    table: EntryTable | None = None
    narrow: EntryTable | None = None


def pieces_of(draft: Draft) -> tuple[EntryPiece, ...]:
    """What stands on the page that is signed, what may stand behind it at the end."""
    blocks = {one.title: one for one in blocks_of(draft)}
    lines = {one.id: one for one in draft.lines}
    found = []
    if "Plugs" in blocks:
        told = [lines[name] for name in ("plugs-out", "plugs-in") if name in lines]
        text = " ".join(f"{one.title}: {one.text}" for one in told)
        found.append(EntryPiece("Spark plugs", text, blocks["Plugs"].table))
    if "Cylinders" in blocks and (table := blocks["Cylinders"].table) is not None:
        of_cylinders = replace(
            table, rows=tuple(row for row in table.rows if row[0].lower() not in _HOW), notes=()
        )
        found.append(EntryPiece("Cylinders", "", _turned(table), _turned(of_cylinders)))
    run = lines.get("run")
    if run is not None and not run.own and (figures := key_figures(run)).rows:
        found.append(EntryPiece("Ground run", "", _in_halves(figures)))
    found += [EntryPiece(one.title, one.text) for one in draft.lines if not one.drawn]
    for name in (
        "why", "extent", "cylinders-off", "directives", "off", "on", "reworked", "extra", "short",
    ):  # fmt: skip
        if name in lines:
            found.append(EntryPiece(lines[name].title, _told_short(lines[name])))
    return tuple(found)


def _told_short(line: RecordLine) -> str:
    """A sentence, of parts without reasons and papers; in a person's words as they wrote it."""
    if line.own or line.id not in ("off", "on"):
        return line.text
    return f"{upper_first('; '.join(row[0] for row in line.rows))}."


def _turned(table: EntryTable) -> EntryTable:
    """Rows as columns."""
    heads, *columns = zip(table.heads, *table.rows, strict=True)
    return replace(table, heads=heads, rows=tuple(columns))


def _in_halves(table: EntryTable) -> EntryTable:
    """What was read last of each figure, the second half beside the first."""
    rows = [(name, next(one for one in reversed(read) if one)) for name, *read in table.rows]
    half = -(-len(rows) // 2)
    beside = [*rows[half:], ("", "")][:half]
    return EntryTable(
        ("Figure", "Last read") * 2,
        tuple((*one, *other) for one, other in zip(rows[:half], beside, strict=True)),
        figures=True,
    )
