"""Limits as one table: by part and check, each with its bound and whose it is."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from rehang.trade.facts.items import Check, CheckSheet
from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.limits import Limit, limit_for, limit_words
from rehang.trade.terms.wording import lower_first, on_day

__all__ = [
    "LimitRow",
    "Part",
    "Sources",
    "after",
    "bound_words",
    "limit_rows",
    "parts",
    "short_name",
    "sourced",
    "wanted",
]

ENGINE = "engine"
TORQUES = "Torques"


@dataclass(frozen=True, slots=True)
class LimitRow:
    """One limit, or the place where one is missing (``number`` -1).

    ``mark`` is the letter of its source at the foot of the table, ``source`` that source in full.
    """

    number: int
    item: str
    check: str
    part: str
    label: str
    words: str
    source: str
    judges: bool
    page: str = ""
    note: str = ""
    for_type: str = ""
    mark: str = ""
    is_look: bool = False

    @property
    def is_missing(self) -> bool:
        return self.number < 0


@dataclass(frozen=True, slots=True)
class Part:
    """The rows of one part of the engine; ``alone`` where the one look at it is all there is."""

    title: str
    rows: tuple[LimitRow, ...]

    @property
    def alone(self) -> bool:
        return len(self.rows) == 1 and self.rows[0].is_look


@dataclass(frozen=True, slots=True)
class Sources:
    """The rows, each marked with its source, and what each mark stands for."""

    rows: tuple[LimitRow, ...]
    marks: tuple[tuple[str, str], ...]


def limit_rows(facts: JobFacts) -> list[LimitRow]:
    """Limits by part: what this job inspects, its run and its torques first, then the other sheets."""
    numbers = {id(one): number for number, one in enumerate(facts.limits)}
    of_job = dict.fromkeys((*facts.inspect, "run"))
    rows = _of_kinds(of_job, numbers, facts)
    groups = sorted(facts.torque_groups.values(), key=lambda one: one.task in facts.left_out)
    titles = {one.limit: one.title for one in groups}
    for name, title in titles.items():
        mine = [one for one in facts.limits if (one.item, one.check) == (ENGINE, name)]
        rows += [_row(one, numbers[id(one)], TORQUES, title, facts) for one in mine]
        if not mine:
            rows.append(_missing(ENGINE, name, TORQUES, title))
    rows += _of_kinds([kind for kind in facts.sheets if kind not in of_job], numbers, facts)
    # Of what this engine does not have, what is on file alone.
    limited = {one.item for one in facts.limits}
    others = _of_kinds([kind for kind in facts.other_sheets if kind in limited], numbers, facts)
    rows += [row for row in others if row.number >= 0]
    shown = {row.number for row in rows}
    rows += [
        _row(one, number, TORQUES, one.check.replace("_", " "), facts)
        for number, one in enumerate(facts.limits)
        if number not in shown
    ]
    return rows


def _of_kinds(kinds: Iterable[str], numbers: Mapping[int, int], facts: JobFacts) -> list[LimitRow]:
    return [
        row
        for kind in kinds
        for check in facts.every_sheet[kind].checks
        for row in _of_check(facts.every_sheet[kind], check, numbers, facts)
    ]


def _of_check(
    sheet: CheckSheet, check: Check, numbers: Mapping[int, int], facts: JobFacts
) -> list[LimitRow]:
    mine = [one for one in facts.limits if (one.item, one.check) == (sheet.item, check.name)]
    rows = [_row(one, numbers[id(one)], sheet.title, check.label, facts) for one in mine]
    if check.method == "age":
        types = {hose.type for hose in facts.hoses.values()}
        rows += [
            _missing(sheet.item, check.name, sheet.title, f"{check.label}, {one}", for_type=one)
            for one in sorted(types - {limit.wants.get("type") for limit in mine})
        ]
    elif not (facts.has_for(sheet) and facts.has_for(check)):
        return rows
    elif limit_for(facts.limits, sheet.item, check.name, "service") is None:
        is_look = check.kind == "look"
        rows.append(_missing(sheet.item, check.name, sheet.title, check.label, is_look=is_look))
    return rows


def _missing(
    item: str, check: str, part: str, label: str, *, for_type: str = "", is_look: bool = False
) -> LimitRow:
    return LimitRow(
        -1, item, check, part, label, "", "", judges=False, for_type=for_type, is_look=is_look
    )


def _row(limit: Limit, number: int, part: str, label: str, facts: JobFacts) -> LimitRow:
    for_type = limit.wants.get("type", "")
    source = "no document"
    if limit.document.strip():
        source = limit.document + (f", rev {limit.revision}" if limit.revision else "")
    if limit.entered_by:
        source += f", put in by {facts.person(limit.entered_by)}"
        source += f" on {on_day(limit.entered_on)}" if limit.entered_on else ""
    return LimitRow(
        number=number,
        item=limit.item,
        check=limit.check,
        part=part,
        label=f"{label}, {for_type}" if for_type else label,
        words=bound_words(limit),
        source=source,
        judges=limit.has_source,
        page=limit.page,
        note=limit.note,
        for_type=for_type,
        is_look=limit.worst is not None,
    )


def bound_words(limit: Limit) -> str:
    """The bound, short enough for a column of a phone: ``max 475 °F``, ``16 to 19 thou``."""
    words = limit_words(limit)
    if limit.worst is not None:
        words = f"max severity {limit.worst}"
    elif limit.floor:
        words = "min master of the day"
    # What follows is the speed that a drop is taken from.
    one_end = re.fullmatch(r"(.+) or (less|more)( from .+)?", words)
    if one_end is not None:
        short = "max" if one_end[2] == "less" else "min"
        words = f"{short} {one_end[1]}{one_end[3] or ''}"
    if limit.short_is_out:
        words += ", no short"
    if limit.use:
        words += ", to go back as found" if limit.use == "service" else ", to be set to"
    under = [one for name, one in limit.wants.items() if name != "type"]
    return ", ".join([words, *under])


def wanted(rows: Sequence[LimitRow], asked: str) -> list[LimitRow]:
    """The rows that have every word that was asked for somewhere in them."""
    words = asked.casefold().split()
    return [row for row in rows if all(word in _all_words(row) for word in words)]


def _all_words(row: LimitRow) -> str:
    said = (row.part, row.label, row.words, row.source, f"page {row.page}", row.note)
    return " ".join((*said, "no limit" if row.is_missing else "")).casefold()


def parts(rows: Sequence[LimitRow]) -> list[Part]:
    """The rows by the part that they are of, in their order."""
    by_part: dict[str, list[LimitRow]] = {}
    for row in rows:
        by_part.setdefault(row.part, []).append(row)
    return [Part(title, tuple(mine)) for title, mine in by_part.items()]


def sourced(rows: Sequence[LimitRow]) -> Sources:
    """Each row with a letter for its source, where there are several; they are told once, below."""
    named = list(dict.fromkeys(row.source for row in rows if not row.is_missing))
    if len(named) == 1:
        return Sources(tuple(rows), (("", named[0]),))
    marks = {source: _letter(number) for number, source in enumerate(named)}
    return Sources(
        tuple(replace(row, mark=marks.get(row.source, "")) for row in rows),
        tuple((letter, source) for source, letter in marks.items()),
    )


def _letter(number: int) -> str:
    """A, B ... Z, AA, AB ..."""
    before = _letter(number // 26 - 1) if number >= 26 else ""
    return before + chr(ord("A") + number % 26)


def after(rows: Sequence[LimitRow], kind: str, check: str, for_type: str = "") -> LimitRow | None:
    """The next check without a limit, from this one on and round to the start; None: there is none."""
    here = [n for n, r in enumerate(rows) if (r.item, r.check) == (kind, check)]
    at = next((n for n in here if rows[n].for_type == for_type), here[-1] if here else -1)
    turned = [*rows[at + 1 :], *rows[: max(at, 0)]]
    return next((row for row in turned if row.is_missing), None)


def short_name(row: LimitRow) -> str:
    """What a row is of, on a button: ``spark plug, gap``."""
    return f"{lower_first(row.part)}, {lower_first(row.label)}"
