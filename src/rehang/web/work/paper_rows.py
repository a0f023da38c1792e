"""The owner's list and the plan as sheets of paper: the same rows, set as lists."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rehang.paper.lists import ListRow, ListSection, ListSheet, ListTable
from rehang.trade.job.judging import JudgedJob
from rehang.trade.telling.sheet_parts import sheet_id
from rehang.web.work.parts_rows import OwnerPage, OwnerRow
from rehang.web.work.plan_rows import DayColumn, PlanPage, Slot

__all__ = [
    "engine_words",
    "owner_sheet",
    "plan_sheet",
]


def engine_words(judged: JudgedJob) -> str:
    engine = judged.facts.engine
    words = " ".join(str(engine.get(key, "")) for key in ("engine", "serial")).strip()
    airframe = str(engine.get("registration", "") or "")
    return f"{words}, off {airframe}" if airframe else words


def owner_sheet(owner: OwnerPage, judged: JudgedJob) -> ListSheet:
    """For the owner: each part, why, with its photo, and what it costs; what went in, first."""
    sections = []
    if owner.fitted:
        sections.append(ListSection("Fitted and used", _owner(owner.fitted), owner.fitted_total))
    sections.append(ListSection("Needed", _owner(owner.rows), owner.total, owner.none))
    if owner.decisions:
        sections.append(ListSection("Waits for your decision", _owner(owner.decisions)))
    sections += [ListSection(title, _owner(rows)) for title, rows in owner.extra]
    return ListSheet(
        title=owner.title,
        sheet_id=sheet_id(judged.facts, judged.state),
        engine=engine_words(judged),
        foot="Prices as on file, before tax and carriage.",
        sections=sections,
        notes=owner.notes,
        signs=("Agreed, date",),
    )


def _owner(rows: Iterable[OwnerRow]) -> list[ListRow]:
    found = []
    for row in rows:
        each = f"{row.each} each; " if row.number > 1 and row.each != row.total else ""
        found.append(ListRow(row.head, " ".join(row.why), f"{each}{row.total}", row.photos))
    return found


def plan_sheet(plan: PlanPage, judged: JudgedJob) -> ListSheet:
    """The calendar as a table, a day a row; what moves the finish is in bold."""
    keys = ", ".join(f"{short} {name}" for short, name in plan.keys if short != name)
    intro = [plan.sentence]
    if plan.how_good:
        intro.append(plan.how_good)
    if plan.wanted:
        intro.append(plan.wanted)
    return ListSheet(
        title="The plan",
        sheet_id=sheet_id(judged.facts, judged.state),
        engine=engine_words(judged),
        foot="In bold: move one of these and the finish moves.",
        intro=intro,
        table=ListTable(
            heads=("Day", "Arrives", "Morning", "Afternoon"),
            rows=[_day_row(column) for column in plan.columns],
            widths=("0.8", "1.1", "1.6", "1.6"),
        ),
        notes=[
            *([keys + "."] if keys else []),
            *plan.order_by,
            *(" ".join([one.words, *one.ways]) for one in plan.decisions),
            *plan.notes,
        ],
    )


def _day_row(column: DayColumn) -> Sequence[Sequence[tuple[str, bool]]]:
    if column.free:
        return ([(column.free, False)], [], [], [])
    head = [(column.head, True)]
    if column.lookers:
        head.append((f"{column.lookers} in", False))
    arrives = [
        (one.words if one.ordered else f"{one.words}, if ordered today", False)
        for one in column.arrivals
    ]
    return (head, arrives, _slot_lines(column.morning), _slot_lines(column.afternoon))


def _slot_lines(slots: Iterable[Slot]) -> list[tuple[str, bool]]:
    return [(f"{one.title} ({one.who})" if one.who else one.title, one.heavy) for one in slots]
