"""The rest of the job's pages as sheets of paper: the same rows, set as lists."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rehang.paper.lists import ListRow, ListSection, ListSheet, ListTable
from rehang.trade.job.judging import JudgedJob
from rehang.trade.telling.sheet_parts import sheet_id
from rehang.trade.terms.wording import upper_first
from rehang.web.board.hand_rows import BenchPage, Handover
from rehang.web.work.parts_rows import OwnerPage, OwnerRow
from rehang.web.work.plan_rows import Column, PlanPage, Slot
from rehang.web.work.rows import Card, LaterTask
from rehang.web.work.waits import Wait

__all__ = ["bench_sheet", "handover_sheet", "owner_sheet", "plan_sheet"]


def _engine(judged: JudgedJob) -> str:
    engine = judged.facts.engine
    words = " ".join(str(engine.get(key, "")) for key in ("engine", "serial")).strip()
    airframe = str(engine.get("registration", "") or "")
    return f"{words}, off {airframe}" if airframe else words


def handover_sheet(hand: Handover, judged: JudgedJob) -> ListSheet:
    """For two people to read together, and to sign."""
    return ListSheet(
        title="Handover",
        sheet_id=sheet_id(judged.facts, judged.state),
        engine=_engine(judged),
        foot="Read it together, at the engine.",
        intro=[words for words in (hand.left_off,) if words],
        sections=[
            ListSection(
                "Left half done",
                [ListRow(one.title, " ".join([one.words, *one.notes])) for one in hand.halves],
                none="Nothing is half done.",
            ),
            ListSection("Odd things", [ListRow("", words) for words in hand.odd], none="None."),
            ListSection(
                "Still in or on it",
                [ListRow(upper_first(row.what), right=str(row.number)) for row in hand.out],
                none="Nothing that was counted is out.",
            ),
            ListSection("Waiting on", _waits(hand.waits), none="Nothing."),
            ListSection("Held on purpose", _held(hand.held), none="Nothing."),
            ListSection("Can be done next", _cards(hand.now), none="Nothing."),
            ListSection(
                f"Done on {hand.day}",
                [ListRow("", row.words, f"{row.when} {row.who}") for row in hand.done],
                none="Nothing.",
                count=f"{hand.done_more} more in the book" if hand.done_more else "",
            ),
        ],
        notes=[f"{hand.blockers} reasons not to return it to service yet stand in the book."],
        signs=("Handed over by, time", "Taken over by, time"),
    )


def _waits(waits: Iterable[Wait]) -> list[ListRow]:
    return [ListRow(one.title, upper_first(one.what), one.when) for one in waits]


def _held(held: Iterable[LaterTask]) -> list[ListRow]:
    return [ListRow(one.title, one.reason, f"after {one.after}") for one in held]


def _cards(cards: Iterable[Card]) -> list[ListRow]:
    return [
        ListRow(one.title, "; ".join([*filter(None, [one.where]), *one.notes]), one.minutes_words)
        for one in cards
    ]


def bench_sheet(bench: BenchPage, judged: JudgedJob) -> ListSheet:
    """What to fetch, with a box to tick before each line."""
    kinds = (("meter", "Meters"), ("tool", "Tools"), ("part", "Parts"), ("paper", "Paper"))
    return ListSheet(
        title="Take to the bench",
        sheet_id=sheet_id(judged.facts, judged.state),
        engine=_engine(judged),
        foot="Count it out, count it in.",
        intro=[f"About {bench.total} of work."] if bench.total else [],
        sections=[
            *(
                ListSection(
                    title,
                    [
                        ListRow(
                            row.name, row.size, ", ".join(filter(None, (row.standing, row.due)))
                        )
                        for row in bench.rows
                        if row.kind == kind
                    ],
                    none="None.",
                    boxes=True,
                )
                for kind, title in kinds
            ),
            ListSection("For", _cards(card for card, on in bench.choices if on), none="Nothing."),
            ListSection("Mind", [ListRow("", words) for words in bench.cautions], none="Nothing."),
        ],
    )


def owner_sheet(owner: OwnerPage, judged: JudgedJob) -> ListSheet:
    """For the owner: each part, why, with its photo, and what it costs; what went in, first."""
    sections = []
    if owner.fitted:
        sections.append(ListSection("Fitted and used", _owner(owner.fitted), owner.fitted_total))
    sections.append(ListSection("Needed", _owner(owner.rows), owner.total, owner.none))
    if owner.decisions:
        sections.append(ListSection("Waits for your decision", _owner(owner.decisions)))
    return ListSheet(
        title=owner.title,
        sheet_id=sheet_id(judged.facts, judged.state),
        engine=_engine(judged),
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
        engine=_engine(judged),
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


def _day_row(column: Column) -> Sequence[Sequence[tuple[str, bool]]]:
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
