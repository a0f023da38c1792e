"""The tray: a row for each hole, a column for each check. No rule is decided here.

Everything a template needs is worked out from a judged job, so that templates hold no arithmetic.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from rehang.trade.facts.items import Check, CheckSheet
from rehang.trade.facts.lines import Cell as TypedCell
from rehang.trade.facts.lines import Line
from rehang.trade.job.judging import JudgedJob
from rehang.trade.telling.sheet_parts import status_name
from rehang.trade.terms.kinds.readings import Seen
from rehang.trade.verdicts.calls import Call
from rehang.trade.verdicts.item_verdict import ItemVerdict
from rehang.web.tray.meters import Chosen, meter_words
from rehang.web.tray.scale import Scale, scale_of
from rehang.web.tray.words import (
    ENDED_WORDS,
    PLUG,
    WORDS_ON_FIRST_FACE,
    masked_at,
    plug_limit,
    short_label,
    unit_shown,
)

__all__ = [
    "TrayPage",
    "tray_page",
]


# The tray


@dataclass(frozen=True, slots=True)
class CellRow:
    """What one check of one hole shows; ``far`` says the limit and how far from it a reading is."""

    check: str
    label: str
    status: str
    text: str
    is_number: bool
    spoken: str
    is_read: bool
    is_ghost: bool = False
    is_now: bool = False
    far: str = ""


@dataclass(frozen=True, slots=True)
class HoleRow:
    """One hole: its name, what is in it, and a cell for each check."""

    hole: str
    item: str
    name: str
    ended: str
    ended_words: str
    is_now: bool
    is_why: bool
    cells: tuple[CellRow, ...]


@dataclass(frozen=True, slots=True)
class TrayCheck:
    """One check in the switch: its name, and how far it has come."""

    name: str
    label: str
    short: str
    unit: str
    letter: str
    kind: str
    is_now: bool
    read: int
    total: int
    scale: Scale | None
    choices: tuple[str, ...]
    has_numbers: bool


@dataclass(frozen=True, slots=True)
class Stitch:
    """One stitch of the walking line, between two rows of the tray, in per cent of its width."""

    x1: str
    y1: str
    x2: str
    y2: str
    done: bool


@dataclass(frozen=True, slots=True)
class WordKey:
    """A finding word on the pad: the higher severity is offered first."""

    name: str
    label: str
    severities: tuple[int, ...]

    @property
    def severity(self) -> int:
        return max(self.severities)


@dataclass(frozen=True, slots=True)
class TrayPage:
    """All that the tray shows."""

    rows: tuple[tuple[HoleRow, ...], ...]
    columns: int
    checks: tuple[TrayCheck, ...]
    now: TrayCheck
    hole: str
    item: str
    prop_end: str
    stitches: tuple[Stitch, ...]
    words: tuple[WordKey, ...]
    more_words: tuple[WordKey, ...]
    meter: str
    next_hole: str
    holes_in_all: int


def _cell(
    judged: JudgedJob, held: ItemVerdict | None, check: Check, hole: str, masked: bool, now: bool
) -> CellRow:
    if held is None:
        return CellRow(
            check.name, check.label, "not-read", "", False, f"{hole}, no plug", False, is_now=now
        )
    if masked:
        return CellRow(
            check.name,
            check.label,
            "not-read",
            "again",
            False,
            f"{hole} {check.label.lower()}, being read again",
            False,
            is_now=now,
        )
    call = held.call(check.name)
    assert call is not None
    is_read = call.entry is not None and call.call != "VOID"
    text, is_number = _cell_text(call, check, held, judged.facts.sheets[PLUG])
    spoken = f"{hole} {check.label.lower()}, {call.reading or 'not read'}, {call.call.lower()}"
    if call.kept_as_keyed:
        text += " k"
        spoken += ", kept as keyed"
    return CellRow(
        check.name,
        check.label,
        status_name(call.call),
        text,
        is_number,
        spoken,
        is_read,
        is_now=now,
        far=". ".join(one for one in (f"Limit {call.limit}", call.how_far) if one),
    )


def _cell_text(call: Call, check: Check, held: ItemVerdict, sheet: CheckSheet) -> tuple[str, bool]:
    """A call's reading in as few letters as still say it, and whether it is a number."""
    if not call.reading:
        return "", False
    if check.kind == "look":
        looks = held.state.looks
        seen = call.entry.fields if call.entry is not None else None
        word = seen.word if isinstance(seen, Seen) else ""
        if not word:
            here = [f.word for f in held.findings if f.label == call.reading]
            word = here[-1] if here else looks[-1].fields.word if looks else ""
        return str(word or call.reading).replace("_", " "), False
    if call.value is not None and call.quantity is not None:
        return call.reading.rsplit(" ", 1)[0], True
    if call.reading == "OL":
        return "OL", True
    return call.reading.removesuffix(" left"), False


def tray_page(
    judged: JudgedJob,
    *,
    check_name: str = "",
    hole: str = "",
    chosen: Mapping[str, Chosen] | None = None,
    again: str = "",
    why_hole: str = "",
    ghosts: Line | None = None,
) -> TrayPage:
    """The tray as it stands, at a check and a hole; where the work stopped when none is given.

    ``again`` is the reading being taken a second time: its value is left out of the page.
    ``ghosts`` is a line that is typed and not kept.
    """
    facts = judged.facts
    sheet = facts.sheets[PLUG]
    layout = facts.layout
    masked = masked_at(judged, again)
    held = {h: judged.at(h) for h in layout.walk}
    names = [c.name for c in sheet.checks]
    if ghosts is not None and ghosts.check is not None:
        check_name = ghosts.check.name
        hole = _next_for_line(ghosts, layout.walk)
    check_name, hole = _where(judged, check_name, hole, names)
    shown = list(sheet.checks)
    typed = {c.hole: c for c in ghosts.cells} if ghosts else {}
    rows = []
    for line in layout.tray:
        row = []
        for name in line:
            cells = []
            for check in shown:
                here = check.name == check_name and name == hole
                cell = _cell(judged, held[name], check, name, (name, check.name) == masked, here)
                ghost = typed.get(name) if ghosts and ghosts.check is check else None
                cells.append(cell if ghost is None else _ghost(ghost, cell, check))
            row.append(_hole_row(judged, held[name], name, hole, why_hole, tuple(cells)))
        rows.append(tuple(row))
    by_name = {h.hole: h for r in rows for h in r}
    checks = tuple(
        _check_row(judged, c, check_name, [by_name[h] for h in layout.walk], i)
        for i, c in enumerate(sheet.checks)
    )
    now = next(c for c in checks if c.name == check_name)
    words = tuple(WordKey(w.name, w.name.replace("_", " "), w.severities) for w in sheet.look_words)
    meter = (chosen or {}).get(check_name, Chosen())
    columns = max(len(r) for r in rows)
    return TrayPage(
        rows=tuple(rows),
        columns=columns,
        checks=checks,
        now=now,
        hole=hole,
        item=by_name[hole].item,
        prop_end=layout.prop_end,
        stitches=_stitches(layout.tray, layout.walk, by_name, check_name),
        words=words[:WORDS_ON_FIRST_FACE],
        more_words=words[WORDS_ON_FIRST_FACE:],
        meter=meter_words(meter),
        next_hole=next_unread(by_name, layout.walk, hole, check_name),
        holes_in_all=len(layout.walk),
    )


def _ghost(typed: TypedCell, cell: CellRow, check: Check) -> CellRow:
    """What is typed on the line and not kept, in place of what the cell says."""
    said = typed.written or typed.typed or "not read"
    said = _bare(said) if check.quantity is not None else said
    return CellRow(
        check.name,
        check.label,
        "unlikely" if typed.error else cell.status,
        said,
        check.quantity is not None and said[:1].isdigit(),
        f"{typed.hole} {check.label.lower()}, {said}, typed and not kept",
        cell.is_read,
        is_ghost=True,
    )


def _bare(written: str) -> str:
    """A written number without its unit; words stay as they are."""
    head, _, tail = written.partition(" ")
    return head if head[:1].isdigit() or head[:1] == "." else f"{head} {tail}".strip()


def _next_for_line(line: Line, walk: Sequence[str]) -> str:
    typed = {c.hole for c in line.cells}
    return next((h for h in walk if h not in typed), walk[-1])


def _where(judged: JudgedJob, check_name: str, hole: str, names: list[str]) -> tuple[str, str]:
    """The check and hole to open at: those asked for, else the stop, else the first unread."""
    walk = judged.facts.layout.walk
    stop = judged.state.stop
    asked = check_name in names or hole in walk
    if not asked and stop is not None and stop.fields.check in names and stop.place in walk:
        return stop.fields.check, stop.place
    unread = {name: [h for h in walk if _is_unread(judged, h, name)] for name in names}
    if check_name not in names:
        check_name = next((n for n in names if unread[n]), names[0])
    if hole not in walk:
        hole = next(iter(unread[check_name]), walk[0])
    return check_name, hole


def _is_unread(judged: JudgedJob, hole: str, check: str) -> bool:
    held = judged.at(hole)
    if held is None or held.state.ended:
        return False
    call = held.call(check)
    return call is not None and (call.entry is None or call.call == "VOID")


def next_unread(by_name: Mapping[str, HoleRow], walk: Sequence[str], hole: str, check: str) -> str:
    """The next hole of the walk, round the tray, that this check has not been read at."""
    start = walk.index(hole)
    for name in [*walk[start + 1 :], *walk[:start]]:
        row = by_name[name]
        if not row.item or row.ended:
            continue
        if not next(c for c in row.cells if c.check == check).is_read:
            return name
    return ""


def _hole_row(
    judged: JudgedJob,
    held: ItemVerdict | None,
    name: str,
    now: str,
    why_hole: str,
    cells: tuple[CellRow, ...],
) -> HoleRow:
    ended, words = "", ""
    if held is not None and held.state.ended:
        last = held.state.ended[-1]
        zone = ZoneInfo(judged.facts.timezone_name)
        ended = ENDED_WORDS[last.kind]
        local = last.at.astimezone(zone)
        words = f"{local.day} {local:%b}. Tests void."
    return HoleRow(
        hole=name,
        item=held.item if held else "",
        name=held.name if held else "",
        ended=ended,
        ended_words=words,
        is_now=name == now,
        is_why=name == why_hole,
        cells=cells,
    )


def _check_row(
    judged: JudgedJob, check: Check, now: str, holes: Sequence[HoleRow], index: int
) -> TrayCheck:
    unit = ""
    if check.quantity is not None:
        unit = unit_shown(check.quantity.keyed)
    able = [h for h in holes if h.item and not h.ended]
    return TrayCheck(
        name=check.name,
        label=check.label,
        short=short_label(check),
        unit=unit,
        letter=check.letter,
        kind=check.kind,
        is_now=check.name == now,
        read=sum(h.cells[index].is_read for h in able),
        total=len(able),
        scale=scale_of(plug_limit(judged, check), check.quantity),
        choices=tuple(c.word for c in check.choices),
        has_numbers=check.kind == "measure",
    )


def _stitches(
    tray: Sequence[Sequence[str]],
    walk: Sequence[str],
    by_name: Mapping[str, HoleRow],
    check: str,
) -> tuple[Stitch, ...]:
    """The walk drawn in the gap between two rows; other trays carry no line there."""
    if len(tray) != 2:
        return ()
    columns = max(len(row) for row in tray)
    at = {
        hole: (row, (column + 0.5) / columns * 100)
        for row, line in enumerate(tray)
        for column, hole in enumerate(line)
    }

    def read(hole: str) -> bool:
        one = by_name[hole]
        return bool(one.ended) or next(c for c in one.cells if c.check == check).is_read

    return tuple(
        Stitch(
            f"{at[a][1]:.2f}%",
            f"{at[a][0] * 100}%",
            f"{at[b][1]:.2f}%",
            f"{at[b][0] * 100}%",
            read(a) and read(b),
        )
        for a, b in itertools.pairwise(walk)
        if at[a][0] != at[b][0]
    )
