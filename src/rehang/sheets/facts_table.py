"""Meters and limits as a table, out of their TOML texts and back into them.

A row changes what it names and adds what is not there; it takes nothing away, and an empty cell
leaves what is on file. A meter has a row for each of its ranges.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from decimal import Decimal
from types import MappingProxyType
from typing import Any

from rehang.decode.tables import Cell, Row, Table, beyond_words
from rehang.sheets import edit
from rehang.sheets.limit_cells import limit_cells
from rehang.sheets.readings_table import LEFT_OUT, Column, Target, numbered
from rehang.trade.declared.published import columns
from rehang.trade.facts.items import CheckSheet
from rehang.trade.facts.limits import Limit, limit_from, limit_to_file, limit_words
from rehang.trade.facts.meters import Meter, meter_from
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.quantities import parse_number

__all__ = [
    "FACT_TABLES",
    "FactsPlan",
    "FactsRow",
    "fact_fields",
    "facts_table",
    "field_words",
    "guess_facts",
    "kind_of_table",
    "plan_facts",
]

_RANGE = "range."
_WANTS = "wants."
# Who put a limit in is who brings it in, and a calibration counts from then, so these are not taken from a table.
_WHO = ("entered_by", "entered_on")

_WORDS: Mapping[str, Mapping[str, str]] = MappingProxyType(
    {
        "meters": {
            "meter": "id", "meter id": "id", "serial": "id", "calibration due": "due",
            "cal due": "due", "due date": "due", "measures": "quantity", "shows": "keyed",
            "notes": "note", "range": "range.name", "top": "range.top", "u": "expanded",
            "k": "coverage", "calibration by": "calibrated_by", "used for": "use", "for": "use",
        },
        "limits": {
            "no": "number", "not below": "lower", "minimum": "lower", "min": "lower",
            "not above": "upper", "maximum": "upper", "max": "upper", "rev": "revision",
            "manual": "document", "notes": "note", "used for": "use", "part": "item",
            "component": "item", "test": "check", "measurement": "check", "lower limit": "lower",
            "from": "lower", "least": "lower", "upper limit": "upper", "to": "upper", "most": "upper",
            "units": "unit", "set to": "aim", "issue": "revision",
        },
    }
)  # fmt: skip


# What a page calls a column whose name in the file is no word of the shop.
_SAID: Mapping[str, str] = MappingProxyType(
    {
        "item": "part", "lower": "not below", "upper": "not above", "aim": "set it to",
        "short": "a short is out", "worst": "worst finding", "at_psi": "pressure of a spark test",
        "floor": "master reading of the day", "use": "used for", "number": "its number in the list",
        "expanded": "uncertainty on the certificate", "coverage": "its coverage factor",
        "keyed": "unit of a bare number", "id": "id on the meter", "quantity": "measures",
        "master_mm2": "area of the master orifice", "master_u_mm2": "uncertainty of that area",
        "due": "calibration due", "step": "from wire to wire",
    }
)  # fmt: skip


def field_words(name: str) -> str:
    """A column of meters or limits as a page calls it."""
    inner = name.removeprefix(_RANGE)
    said = _SAID.get(inner, inner.replace("_", " "))
    return f"range: {said}" if inner != name else said


@dataclass(frozen=True, slots=True)
class FactTable:
    """One kind of fact: its file, the name of its tables there, and the class that declares one."""

    name: str
    file: str
    array: str
    kind: type

    @property
    def columns(self) -> Mapping[str, str]:
        """The columns it may have, each with its type in the file."""
        # A limit has no id: a row names its place in the file.
        # The unit of its bounds may have a column of its own, as in a manual.
        more = {"number": "string", "unit": "string"} if self.name == "limits" else {}
        return {**more, **columns(self.kind)}

    @property
    def fields(self) -> tuple[str, ...]:
        return tuple(self.columns)


FACT_TABLES: Mapping[str, FactTable] = MappingProxyType(
    {
        "meters": FactTable("meters", "meters.toml", "meter", Meter),
        "limits": FactTable("limits", "limits.toml", "limit", Limit),
    }
)


@dataclass(frozen=True, slots=True)
class FactsRow:
    """One meter or limit of the table. ``standing``: new, changed, as on file, or cannot."""

    line: int
    place: str
    says: str
    standing: str
    reason: str = ""

    @property
    def is_bad(self) -> bool:
        return self.standing == "cannot"


@dataclass(frozen=True, slots=True)
class FactsPlan:
    """The text the file would have; the same as on file when there is nothing to keep."""

    rows: tuple[FactsRow, ...]
    text: str
    notices: tuple[str, ...]

    @property
    def bad(self) -> tuple[FactsRow, ...]:
        return tuple(row for row in self.rows if row.is_bad)

    def count(self, standing: str) -> int:
        return sum(1 for row in self.rows if row.standing == standing)

    @property
    def can_be_kept(self) -> bool:
        return not self.bad and bool(self.count("new") + self.count("changed"))


def facts_table(what: str, text: str) -> tuple[list[str], list[list[str]]]:
    """Headings and rows of the meters or limits of a text, columns that nothing uses left out."""
    kind = FACT_TABLES[what]
    rows: list[dict[str, str]] = []
    for number, raw in enumerate(edit.tables(text, kind.array), start=1):
        flat = {name: _shown(value) for name, value in raw.items() if not _is_table(value)}
        wants = raw.get("wants")
        if isinstance(wants, Mapping):
            flat |= {f"{_WANTS}{name}": _shown(value) for name, value in wants.items()}
        if what == "limits":
            flat["number"] = str(number)
        ranges = raw.get("range")
        for one in ranges if isinstance(ranges, list) and ranges else [{}]:
            rows.append(flat | {f"{_RANGE}{name}": _shown(value) for name, value in one.items()})
    used = {name for row in rows for name in row}
    wants_names = sorted(name for name in used if name.startswith(_WANTS))
    headings = [name for name in (*kind.fields, *wants_names) if name in used]
    return headings, [[row.get(name, "") for name in headings] for row in rows]


def _is_table(value: object) -> bool:
    return isinstance(value, Mapping | list)


def _shown(value: object) -> str:
    return value.isoformat() if isinstance(value, date) else str(value)


def fact_fields(what: str) -> tuple[str, ...]:
    """What a column of this kind of table may be; limits take ``wants.CONDITION`` too."""
    return FACT_TABLES[what].fields


def kind_of_table(table: Table) -> str:
    """Readings, meters or limits, by the headings alone."""
    plain = {_plain(heading) for heading in table.headings}
    if {"kind", "quantity"} <= plain or {"id", "kind", "name"} <= plain:
        return "meters"
    as_limits = {_WORDS["limits"].get(one, one) for one in plain}
    if {"item", "check"} <= plain and not plain & {"written", "reading", "value"}:
        return "limits"
    if {"item", "check"} <= as_limits and as_limits & {"lower", "upper"}:
        return "limits"
    return "readings"


def _plain(heading: str) -> str:
    return " ".join(re.sub(r"[^\w%]+", " ", heading.casefold()).replace("_", " ").split())


def guess_facts(
    what: str, table: Table, said: Mapping[str, str] | Mapping[int, str] | None = None
) -> list[Column]:
    """What each column is taken for: as ``said``, else by its heading's words."""
    given = numbered(table, said)
    known = {_plain(name): name for name in FACT_TABLES[what].fields} | dict(_WORDS[what])
    columns: dict[int, Column] = {}
    taken: dict[str, str] = {}
    # What was said comes before what is guessed, so that a guess never takes its place.
    for number in sorted(range(len(table.headings)), key=lambda n: n not in given):
        heading = table.headings[number]
        wanted = given.get(number)
        if wanted is not None:
            field, how = _said(what, wanted), "said"
        elif heading in FACT_TABLES[what].fields or _is_wants(what, heading):
            field, how = heading, "exact"
        else:
            field, how = known.get(_plain(heading), LEFT_OUT), "guessed"
        if field in taken and field != LEFT_OUT:
            if how == "said":
                raise BadInput(
                    f'"{taken[field]}" and "{heading}" are both said to be {field}. '
                    "Leave one of them out.",
                    table.name,
                )
            field = LEFT_OUT
        if field in _WHO:
            words = "left out: it is put in by who brings the table in, on that day"
            columns[number] = Column(heading, Target(), "left out", words)
            continue
        if field == LEFT_OUT:
            columns[number] = Column(heading, Target(), "left out", "left out")
            continue
        taken[field] = heading
        columns[number] = Column(heading, Target(field), how, field.replace("_", " "))
    return [columns[number] for number in range(len(table.headings))]


def _is_wants(what: str, name: str) -> bool:
    return what == "limits" and name.startswith(_WANTS) and len(name) > len(_WANTS)


def _said(what: str, name: str) -> str:
    name = name.strip()
    if name in ("", LEFT_OUT) or name in FACT_TABLES[what].fields or _is_wants(what, name):
        return name or LEFT_OUT
    more = ", wants.CONDITION" if what == "limits" else ""
    raise BadInput(
        f'"{name}" is not something a column of {what} can be. It can be '
        f"{', '.join(FACT_TABLES[what].fields)}{more}, or - to leave it out."
    )


def plan_facts(
    what: str,
    table: Table,
    columns: Sequence[Column],
    text: str,
    sheets: Mapping[str, CheckSheet],
    *,
    by: str,
    on: date,
    torques: Mapping[str, str] = MappingProxyType({}),
) -> FactsPlan:
    """The text with the table's rows in it, and what becomes of each row. Nothing is written.

    ``torques`` are the groups of fasteners by what they are called, each with the check of its limit.
    """
    fields = [column.target.field for column in columns]
    wanted = ("id",) if what == "meters" else ("item", "check")
    for name in wanted:
        if name not in fields and not (what == "limits" and "number" in fields):
            raise BadInput(
                f"No column says the {name} of the {what}. Say which one does, as in Name={name}.",
                table.name,
            )
    rows: list[FactsRow] = []
    groups = _groups(what, table, fields, rows)
    # Numbers of limits are those of the file as it stands, not of what the table adds to it.
    count = len(edit.tables(text, FACT_TABLES[what].array))
    for lines, cells, ranges in groups:
        place = table.place(lines[0])
        try:
            if what == "meters":
                text, row = _meter(text, cells, ranges, on, lines[0], place)
            else:
                cells = limit_cells(cells, sheets, torques)
                text, row = _limit(text, cells, sheets, by, on, count, lines[0], place)
        except BadInput as refusal:
            shown = cells.get("id") or f"{cells.get('item', '')} {cells.get('check', '')}".strip()
            row = FactsRow(lines[0], place, shown, "cannot", refusal.sentence)
        rows.append(row)
    rows.sort(key=lambda row: row.line)
    return FactsPlan(tuple(rows), text, table.notices)


Group = tuple[list[int], dict[str, str], list[dict[str, str]]]


def _groups(what: str, table: Table, fields: Sequence[str], bad: list[FactsRow]) -> list[Group]:
    """Rows as things: each limit its row, each meter its rows, one for each range."""
    groups: list[Group] = []
    by_id: dict[str, Group] = {}
    for row in table.rows:
        place = table.place(row.line)
        try:
            cells = _cells(row, fields, table)
        except BadInput as refusal:
            bad.append(FactsRow(row.line, place, "", "cannot", refusal.sentence))
            continue
        one_range = {
            name.removeprefix(_RANGE): text
            for name, text in cells.items()
            if name.startswith(_RANGE)
        }
        own = {name: text for name, text in cells.items() if not name.startswith(_RANGE)}
        held = by_id.get(own.get("id", "")) if what == "meters" else None
        if held is None:
            held = ([row.line], own, [])
            groups.append(held)
            if what == "meters" and own.get("id"):
                by_id[own["id"]] = held
        else:
            clash = [n for n, text in own.items() if held[1].get(n, text) != text]
            if clash:
                bad.append(
                    FactsRow(
                        row.line,
                        place,
                        own["id"],
                        "cannot",
                        f'"{clash[0]}" of {own["id"]} is {own[clash[0]]} here and '
                        f"{held[1][clash[0]]} at {table.place(held[0][0])}. A further row of a "
                        "meter is a further range of it.",
                    )
                )
                continue
            held[0].append(row.line)
            held[1].update(own)
        if one_range:
            held[2].append(one_range)
    return groups


def _cells(row: Row, fields: Sequence[str], table: Table) -> dict[str, str]:
    if row.beyond:
        raise BadInput(beyond_words(row))
    found = {}
    for number, name in enumerate(fields):
        text = _cell_text(row.cells[number], name, table.place(row.line, number))
        if name != LEFT_OUT and text:
            found[name] = text
    return found


def _cell_text(cell: Cell, name: str, place: str) -> str:
    if isinstance(cell, str):
        return cell.strip()
    if name == LEFT_OUT:
        return ""
    if name == "due" and not isinstance(cell, time):
        return (cell.date() if isinstance(cell, datetime) else cell).isoformat()
    raise BadInput(
        f"{place} holds a date where there should be text. A spreadsheet turns 7-4 into one; set "
        "the column to text and write it again."
    )


def _typed(what: str, name: str, text: str) -> str | int | float:
    wanted = FACT_TABLES[what].columns.get(name)
    if wanted == "number":
        number = parse_number(text)
        if not 0 <= number < 1_000_000_000:
            raise BadInput(f'"{name}" is {text}: below zero or too large to mean a meter.')
        return int(number) if number == number.to_integral_value() else float(number)
    if wanted == "boolean":
        if text.casefold() not in ("yes", "no", "true", "false"):
            raise BadInput(f'"{name}" is "{text}". Write yes or no.')
        return text.casefold() in ("yes", "true")
    if wanted == "integer":
        if not (text.isascii() and text.isdigit() and len(text) < 10):
            raise BadInput(f'"{name}" is "{text}". Write a whole number, as in 100.')
        return int(text)
    return text


def _same(on_file: object, given: str | int | float) -> bool:
    if isinstance(on_file, (int, float)) and not isinstance(on_file, bool):
        if isinstance(given, str):
            return str(on_file) == given
        return Decimal(str(on_file)) == Decimal(str(given))
    return _shown(on_file) == str(given)


def _meter(
    text: str,
    cells: dict[str, str],
    ranges: list[dict[str, str]],
    on: date,
    line: int,
    place: str,
) -> tuple[str, FactsRow]:
    name = cells.get("id", "")
    if not name:
        raise BadInput("The row has no id. Every meter has one: write what stands on it.")
    on_file = next((one for one in edit.tables(text, "meter") if one.get("id") == name), None)
    changes: dict[str, edit.Value | None] = {}
    for key, given in cells.items():
        typed = _typed("meters", key, given)
        if on_file is None or key not in on_file or not _same(on_file[key], typed):
            changes[key] = typed
    typed_ranges = [
        {k: _typed("meters", f"{_RANGE}{k}", v) for k, v in one.items()} for one in ranges
    ]
    if typed_ranges and not _same_ranges(on_file, typed_ranges):
        changes["range"] = typed_ranges
    if on_file is not None and not changes:
        return text, FactsRow(line, place, name, "as on file")
    if changes.keys() & {"due", "calibrated_by"}:
        changes["entered_on"] = on
    raw: dict[str, Any] = dict(on_file or {}) | changes
    made = meter_from(raw, _no_place)
    if on_file is None:
        fields = {key: value for key, value in changes.items() if value is not None}
        due = f"due {made.due_text}" if made.due_text else "no calibration on record"
        told = ", ".join(part for part in (made.name, made.worth, due) if part)
        return edit.add_meter(text, fields), FactsRow(line, place, f"{name}: {told}", "new")
    return edit.change_meter(text, name, changes), FactsRow(
        line, place, f"{name}: {_difference(on_file, changes)}", "changed"
    )


def _no_place(*keys: str | int) -> str:
    return ""


def _same_ranges(
    on_file: Mapping[str, object] | None, given: Sequence[Mapping[str, str | int | float]]
) -> bool:
    held = on_file.get("range") if on_file is not None else None
    if not isinstance(held, list) or len(held) != len(given):
        return False
    return all(
        set(old) == set(new) and all(_same(old[key], new[key]) for key in new)
        for old, new in zip(held, given, strict=True)
    )


def _difference(on_file: Mapping[str, object], changes: Mapping[str, edit.Value | None]) -> str:
    said = []
    for key, value in changes.items():
        if key in _WHO:
            continue
        if _is_table(value):
            said.append(f"{key} changed")
        else:
            old = _shown(on_file[key]) if key in on_file else "nothing"
            said.append(f"{key} {old} becomes {_shown(value)}")
    return ", ".join(said)


def _judges(limit: Limit) -> str:
    """The bound of a limit and where it stands."""
    where = (limit.document, f"rev {limit.revision}" if limit.revision else "",
             f"page {limit.page}" if limit.page else "")  # fmt: skip
    return "; ".join(
        one for one in (limit_words(limit), ", ".join(part for part in where if part)) if one
    )


def _limit(
    text: str,
    cells: dict[str, str],
    sheets: Mapping[str, CheckSheet],
    by: str,
    on: date,
    count: int,
    line: int,
    place: str,
) -> tuple[str, FactsRow]:
    limits = edit.tables(text, "limit")
    number = _number_of(cells, limits, count)
    wants = {k.removeprefix(_WANTS): v for k, v in cells.items() if k.startswith(_WANTS)}
    given: dict[str, Any] = {
        key: _typed("limits", key, value)
        for key, value in cells.items()
        if key != "number" and not key.startswith(_WANTS)
    }
    if wants:
        given["wants"] = wants
    on_file = limits[number] if number is not None else None
    changes: dict[str, edit.Value | None] = {
        key: value
        for key, value in given.items()
        if on_file is None or key not in on_file or not _same_part(on_file[key], value)
    }
    shown = f"{_of(cells, on_file, 'item')} {_of(cells, on_file, 'check')}".replace("_", " ")
    if on_file is not None and not changes:
        held = limit_from(dict(on_file), sheets, _no_place)
        return text, FactsRow(line, place, f"{shown}: {_judges(held)}", "as on file")
    changes |= {"entered_by": by, "entered_on": on}
    raw: dict[str, Any] = dict(on_file or {}) | changes
    made = limit_to_file(raw, sheets, _no_place)
    reason = "" if made.has_source else "It names no document and revision, so it judges nothing."
    if on_file is None or number is None:
        fields = {key: value for key, value in changes.items() if value is not None}
        row = FactsRow(line, place, f"{shown}: {_judges(made)}", "new", reason)
        return edit.add_limit(text, fields), row
    row = FactsRow(line, place, f"{shown}: {_difference(on_file, changes)}", "changed", reason)
    return edit.change_limit(text, number, changes), row


def _of(cells: Mapping[str, str], on_file: Mapping[str, object] | None, key: str) -> str:
    return cells.get(key) or str((on_file or {}).get(key, ""))


def _same_part(on_file: object, given: object) -> bool:
    if isinstance(given, dict):
        return isinstance(on_file, Mapping) and {k: _shown(v) for k, v in on_file.items()} == given
    return isinstance(given, str | int | float) and _same(on_file, given)


def _number_of(
    cells: Mapping[str, str], limits: Sequence[Mapping[str, object]], count: int
) -> int | None:
    """The place (from 0) of the limit that a row means; None where it is a new one."""
    text = cells.get("number", "")
    named = bool(cells.get("item") and cells.get("check"))
    # Beyond nine digits it is no place in a file, and some thousand of them are no number here.
    if text.isascii() and text.isdigit() and len(text) < 10 and 1 <= int(text) <= count:
        held = limits[int(text) - 1]
        if all(_shown(held.get(k, "")) == cells[k] for k in ("item", "check") if k in cells):
            return int(text) - 1
    elif text and not named:
        raise BadInput(f'There is no limit number "{text}" on file. Write its item and check.')
    if not named:
        raise BadInput("The row names no item and check. Write both.")
    # A table out of another job brings numbers that are not this file's: go by what it says.
    found = [n for n, one in enumerate(limits) if _identity(one) == _identity(_as_limit(cells))]
    return found[0] if len(found) == 1 else None


def _as_limit(cells: Mapping[str, str]) -> dict[str, object]:
    wants = {k.removeprefix(_WANTS): v for k, v in cells.items() if k.startswith(_WANTS)}
    return {**cells, "wants": wants}


def _identity(limit: Mapping[str, object]) -> tuple[object, ...]:
    """What two limits share that are the same one: what for, under what, out of which document."""
    wants = limit.get("wants")
    under = wants.items() if isinstance(wants, Mapping) else ()
    return (
        *(_shown(limit.get(name, "")) for name in ("item", "check", "use", "document", "revision")),
        tuple(sorted((str(key), _shown(value)) for key, value in under)),
    )
