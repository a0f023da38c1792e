"""Work found as its pages show it: what, why, for how much, and how it stands."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from rehang.paper.lists import ListRow, ListSection, ListSheet
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.extras import CostLine, Extra, Priced, extras_of
from rehang.trade.known.photos import live_photos
from rehang.trade.release.extra import BEARS, MAY_FLY, owner_of
from rehang.trade.telling.sheet_parts import sheet_id
from rehang.trade.terms.money import money_said, sum_of, total_of
from rehang.trade.terms.wording import at_time, stopped
from rehang.web.shared.photo_rows import PhotoRow, photo_rows

__all__ = [
    "CompareRow",
    "ExtraRow",
    "PriceRow",
    "compare_rows",
    "extra_row",
    "extra_rows",
    "owner_name",
    "owner_sheet",
]

_MARKS = {"DONE": "within", "ACCEPTED": "not-yet", "DECLINED": "reject", "TAKEN BACK": "void"}


@dataclass(frozen=True, slots=True)
class PriceRow:
    """One line of a price in words."""

    what: str
    number: str
    each: str
    total: str


@dataclass(frozen=True, slots=True)
class CompareRow:
    """What was priced beside what it took."""

    what: str
    estimate: str
    actual: str
    apart: str


@dataclass(frozen=True, slots=True)
class ExtraRow:
    """One piece of work found. ``told`` is what the owner said, and to whom it was put."""

    id: str
    what: str
    reason: str
    item: str
    bears: bool
    bears_words: str
    standing: str
    mark: str
    total: str
    lines: tuple[PriceRow, ...]
    asked: tuple[str, ...]
    told: str
    ended: str
    found: str
    photos: tuple[PhotoRow, ...]
    is_open: bool
    is_accepted: bool
    is_waiting: bool


def extra_rows(judged: JudgedJob) -> tuple[ExtraRow, ...]:
    """All work found: what is open first, each part in the order of the book."""
    rows = [extra_row(one, judged) for one in extras_of(judged.facts, judged.state)]
    return tuple(sorted(rows, key=lambda row: not row.is_open))


def extra_row(one: Extra, judged: JudgedJob) -> ExtraRow:
    facts, sign = judged.facts, one.told.currency
    answer, closed = one.answer, one.closed
    return ExtraRow(
        id=one.id,
        what=one.told.what,
        reason=stopped(one.told.reason),
        item=one.told.item,
        bears=one.told.airworthiness,
        bears_words=BEARS if one.told.airworthiness else MAY_FLY,
        standing=one.standing,
        mark=_MARKS.get(one.standing, "not-yet"),
        total=_total(one.estimate, sign),
        lines=tuple(_price_row(line, sign) for line in one.estimate.lines),
        asked=tuple(
            f"Put before {facts.person(e.fields.person) if e.fields.person else e.fields.to} "
            f"{e.fields.how}, {at_time(e.at)}, by {facts.person(e.by)}."
            for e in one.sent
        ),
        told=""
        if answer is None
        else f"{answer.fields.answer.capitalize()} by {owner_of(one, facts)}, {answer.fields.how}, "
        f"{at_time(answer.at)}; written by {facts.person(answer.by)}."
        + (f" {stopped(answer.note)}" if answer.note else ""),
        ended=""
        if closed is None
        else f"{closed.fields.outcome.capitalize()}, {at_time(closed.at)}, by "
        f"{facts.person(closed.by)}: {stopped(closed.fields.reason)}",
        found=f"Found by {facts.person(one.entry.by)}, {at_time(one.entry.at)}.",
        photos=tuple(photo_rows(judged, entry=one.id)),
        is_open=closed is None,
        is_accepted=one.is_accepted,
        is_waiting=closed is None and answer is None,
    )


def _price_row(line: CostLine, sign: str) -> PriceRow:
    number = f"{line.number.normalize():f}{' ' + line.unit if line.unit else ''}"
    return PriceRow(line.what, number, money_said(line.each, sign), money_said(line.total, sign))


def _total(priced: Priced, sign: str) -> str:
    return sum_of([one.total for one in priced.lines], sign)


def compare_rows(one: Extra) -> tuple[CompareRow, ...]:
    """Hours, parts, outside work and all of it: priced, taken, and how far apart."""
    sign = one.told.currency
    then, now = one.estimate, one.actual
    hours = now.hours - then.hours
    rows = [
        CompareRow(
            "Hours",
            _hours(then.hours),
            _hours(now.hours),
            f"{hours.normalize():+f} h" if hours else "0",
        )
    ]
    for what, before, after in (
        ("Parts", then.parts, now.parts),
        ("Labour", _one(then.labour), _one(now.labour)),
        ("Outside, bought", then.outside, now.outside),
        ("All", then.lines, now.lines),
    ):
        if not before and not after:
            continue
        sums = [total_of(line.total for line in lines) for lines in (before, after)]
        apart = sums[1][0] - sums[0][0]
        known = not (sums[0][1] or sums[1][1])
        rows.append(
            CompareRow(
                what,
                sum_of([line.total for line in before], sign),
                sum_of([line.total for line in after], sign),
                (("+" if apart > 0 else "") + money_said(apart, sign)) if known else "not known",
            )
        )
    return tuple(rows)


def _one(line: CostLine | None) -> tuple[CostLine, ...]:
    return (line,) if line is not None else ()


def _hours(hours: Decimal) -> str:
    return f"{hours.normalize():f} h"


def owner_name(judged: JudgedJob) -> str:
    """The owner's name as it stands with the engine; empty where none does."""
    return str(judged.facts.engine.get("owner", "") or "")


def owner_sheet(judged: JudgedJob, engine: str) -> ListSheet:
    """The page for the owner on paper: what waits with boxes to tick, then what was answered."""
    rows = [row for row in extra_rows(judged) if row.is_open]
    waits = [row for row in rows if row.is_waiting]
    answered = [row for row in rows if not row.is_waiting]
    name = owner_name(judged)
    return ListSheet(
        title=f"Work found{f', for {name}' if name else ''}",
        sheet_id=sheet_id(judged.facts, judged.state),
        engine=engine,
        foot="Prices before tax and carriage. Declined work on which airworthiness hangs stays on the "
        "list of discrepancies.",
        sections=[
            ListSection(
                "Waits for your word: tick what you accept",
                [_list_row(row, judged) for row in waits],
                none="Nothing waits for your word.",
                boxes=True,
            ),
            *(
                [ListSection("Answered", [_list_row(row, judged) for row in answered])]
                if answered
                else []
            ),
        ],
        notes=["What is ticked I accept, the rest I decline."] if waits else [],
        signs=("Name, signature", "Date and time") if waits else (),
    )


def _line_words(one: PriceRow) -> str:
    number = (
        "" if one.number == "1" else f" {one.number}" if " " in one.number else f" × {one.number}"
    )
    return f"{one.what}{number}, {one.total}."


def _list_row(row: ExtraRow, judged: JudgedJob) -> ListRow:
    told = [row.reason, row.bears_words]
    told += [_line_words(one) for one in row.lines]
    told += [row.told] if row.told else []
    names = [one.fields.photo for one in live_photos(judged.state, entry=row.id)]
    return ListRow(row.what, " ".join(told), row.total, names)
