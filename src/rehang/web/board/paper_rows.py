"""The bench and the handover as sheets of paper: the same rows, set as lists."""

from __future__ import annotations

from collections.abc import Iterable

from rehang.paper.lists import ListRow, ListSection, ListSheet
from rehang.trade.job.judging import JudgedJob
from rehang.trade.telling.sheet_parts import sheet_id
from rehang.trade.terms.wording import upper_first
from rehang.web.board.hand_rows import BenchPage, Handover
from rehang.web.work.paper_rows import engine_words
from rehang.web.work.rows import LaterTask, TaskCard
from rehang.web.work.waits import Wait

__all__ = [
    "bench_sheet",
    "handover_sheet",
]


def handover_sheet(hand: Handover, judged: JudgedJob) -> ListSheet:
    """For two people to read together, and to sign."""
    return ListSheet(
        title="Handover",
        sheet_id=sheet_id(judged.facts, judged.state),
        engine=engine_words(judged),
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


def _cards(cards: Iterable[TaskCard]) -> list[ListRow]:
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
        engine=engine_words(judged),
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
