"""The pencil sheet: ``tray.txt``, a tray written down with nothing but a text editor.

    on 2026-11-02 09:30
    by ada
    plugs P1 P2 P3 P4 P5 P6 P7 P8
    hours 412.5
    done clean
    l nnnnnlnn
    meter DM-1
    o 1.2 1.2 1.3 4.9 1.2 1.2 1.4 ol

Each line becomes the entries it stands for, with ids worked out from the content, so that
loading the same sheet twice is harmless.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.lines import parse_line
from rehang.trade.terms.entries import Entry, is_a, new_entry, parse_when
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.kinds.items import Moved, Removed

__all__ = ["entries_from"]

_WORDS = "on, by, plugs, hours, meter, psi, done, drop, or a line that begins with a check's letter"


@dataclass(slots=True)
class _Sheet:
    at: datetime | None = None
    by: str = ""
    meter: str = ""
    range: str = ""
    psi: int | None = None
    hours: float | None = None
    holes: dict[str, str] = field(default_factory=dict)


def entries_from(
    text: str, facts: JobFacts, book: Sequence[Entry] = ()
) -> tuple[list[Entry], dict[str, str]]:
    """The entries a pencil sheet stands for and the line each comes from.

    Raises
    ------
    BadInput
        With the line of the sheet.
    """
    sheet = _Sheet()
    for entry in book:
        if is_a(entry, Removed, Moved):
            sheet.holes[entry.place] = entry.item
    found: list[Entry] = []
    where: dict[str, str] = {}
    for number, raw in enumerate(text.splitlines(), start=1):
        line = raw.partition("#")[0].strip()
        if not line:
            continue
        place = f"tray.txt, line {number}"
        for entry in _line(line, sheet, facts, place):
            if entry.id in where:
                raise BadInput(f"This says the same as {where[entry.id]}. Take one away.", place)
            found.append(entry)
            where[entry.id] = place
    return found, where


def _line(line: str, sheet: _Sheet, facts: JobFacts, place: str) -> list[Entry]:
    word, _, rest = line.partition(" ")
    rest = rest.strip()
    match word.lower():
        case "on":
            sheet.at = _when(rest, facts, place)
            return []
        case "by":
            if rest not in facts.people:
                raise BadInput(f'"{rest}" is not in the list of people.', place)
            sheet.by = rest
            return []
        case "meter":
            name, _, sheet.range = rest.partition(" ")
            if name not in facts.meters:
                raise BadInput(
                    f'There is no meter "{name}" on file. '
                    f"The meters are {', '.join(facts.meters) or 'none'}.",
                    place,
                )
            sheet.meter = name
            return []
        case "psi":
            # No gauge of this bench has more than four digits.
            if not re.fullmatch(r"[0-9]{1,4}", rest):
                raise BadInput(
                    f'"{rest[:60]}" is not a pressure. Write whole psi, as in psi 100.', place
                )
            sheet.psi = int(rest)
            return []
        case "hours":
            if not re.fullmatch(r"[0-9]{1,6}(\.[0-9]{1,3})?", rest):
                raise BadInput(
                    f'"{rest[:60]}" is not a number of hours. Write it as in hours 412.5.', place
                )
            sheet.hours = float(rest)
            return []
        case "plugs":
            return _plugs(rest, sheet, facts, place)
        case "done" | "drop":
            return _acts(word.lower(), rest, sheet, facts, place)
    if len(word) > 1:
        raise BadInput(f'"{word}" begins no line here. A line is {_WORDS}.', place)
    return _row(line, sheet, facts, place)


def _when(text: str, facts: JobFacts, place: str) -> datetime:
    try:
        when = datetime.fromisoformat(text)
    except ValueError:
        raise BadInput(
            f'"{text}" is not a date. Write on 2026-11-02 or on 2026-11-02 09:30.', place
        ) from None
    if len(text) <= 10:
        when = when.replace(hour=12)
    when = when if when.tzinfo else when.replace(tzinfo=ZoneInfo(facts.timezone_name))
    # Its year and its offset are held to those of any entry.
    return parse_when(when.isoformat(), "on", place)


def _head(sheet: _Sheet, place: str) -> tuple[datetime, str]:
    if sheet.at is None or not sheet.by:
        raise BadInput(
            'Say when and who first: a line "on 2026-11-02" and a line "by" with a key of '
            "people.toml.",
            place,
        )
    # Entries of one sheet keep the order of its lines.
    sheet.at += timedelta(seconds=1)
    return sheet.at, sheet.by


def _plugs(rest: str, sheet: _Sheet, facts: JobFacts, place: str) -> list[Entry]:
    at, by = _head(sheet, place)
    serials = rest.split()
    walk = facts.layout.walk
    if len(serials) != len(walk):
        raise BadInput(
            f"{len(serials)} serials for {len(walk)} holes. Write one for each hole, in the order "
            f"{' '.join(walk)}; - for an empty one.",
            place,
        )
    found = []
    for hole, serial in zip(walk, serials, strict=True):
        if serial == "-":
            continue
        item = f"plug:{serial}"
        if item in sheet.holes.values():
            other = next(h for h, i in sheet.holes.items() if i == item)
            raise BadInput(f"{serial} is in {other} already; it cannot be in {hole} too.", place)
        sheet.holes[hole] = item
        found.append(new_entry("removed", at=at, by=by, item=item, place=hole, hours=sheet.hours))
    return found


def _acts(word: str, rest: str, sheet: _Sheet, facts: JobFacts, place: str) -> list[Entry]:
    at, by = _head(sheet, place)
    parts = rest.split()
    if word == "drop":
        kind, act, named = "dropped", "", parts
        if not named:
            raise BadInput('Say which: "drop 3B".', place)
    else:
        if not parts:
            raise BadInput('Say what was done: "done clean" or "done regap 3T".', place)
        kind, act, named = "reworked", parts[0], parts[1:]
        facts.sheets["plug"].rework(act, place)
    holes = [facts.layout.check_hole(h, place) for h in named] or [
        h for h in facts.layout.walk if h in sheet.holes
    ]
    found = []
    for hole in holes:
        found.append(
            new_entry(kind, at=at, by=by, item=_held(hole, sheet, place), place=hole, act=act)
        )
    return found


def _held(hole: str, sheet: _Sheet, place: str) -> str:
    if hole not in sheet.holes:
        raise BadInput(
            f'No plug has been written down for {hole}. Begin with a line "plugs".', place
        )
    return sheet.holes[hole]


def _row(line: str, sheet: _Sheet, facts: JobFacts, place: str) -> list[Entry]:
    at, by = _head(sheet, place)
    plug = facts.sheets["plug"]
    meter = facts.meters.get(sheet.meter)
    check = plug.by_letter(line[0], place)
    if meter is not None and check.quantity is not None and meter.quantity is not check.quantity:
        meter = None
    parsed = parse_line(line, sheet=plug, layout=facts.layout, meter=meter, range_name=sheet.range)
    if not parsed.complete:
        raise BadInput(parsed.message, place)
    found = []
    for cell in parsed.cells:
        if cell.skipped:
            continue
        item = _held(cell.hole, sheet, place)
        if check.kind == "look":
            found += [
                new_entry(
                    "seen",
                    at=at,
                    by=by,
                    item=item,
                    place=cell.hole,
                    check=check.name,
                    word=name,
                    set=f"{place}" if len(cell.words) > 1 else "",
                )
                for name in cell.words
            ]
        else:
            found.append(
                new_entry(
                    "reading",
                    at=at,
                    by=by,
                    item=item,
                    place=cell.hole,
                    check=check.name,
                    written=cell.written,
                    meter=meter.id if meter else "",
                    range=sheet.range if meter and meter.ranges else "",
                    at_psi=sheet.psi if check.kind == "grade" else None,
                )
            )
    return found
