"""All that a job waits on: a person, a meter, a part, a decision. One list for plan, check and pages."""

from __future__ import annotations

from collections.abc import Iterator

from rehang.trade.job.again import to_settle
from rehang.trade.job.judging import JudgedJob
from rehang.trade.terms.wording import lower_first, on_day, upper_first
from rehang.trade.verdicts.item_verdict import ItemVerdict
from rehang.trade.work.stock import orders_waited_for
from rehang.trade.work.todo import Waiting, meter_waits, waiting_on

__all__ = ["waits_of"]


def waits_of(judged: JudgedJob) -> tuple[Waiting, ...]:
    """Second looks, meters, replacements, deliveries, parts nobody ordered, opinions, decisions."""
    stock = judged.stock
    return (
        *waiting_on(judged.work, judged.facts),
        *meter_waits(judged.work, judged.facts, stock.in_hand),
        *(
            Waiting("", f"No part on file replaces it: {need.why}", None, (), None)
            for need in stock.without_part
        ),
        *orders_waited_for(stock),
        *(
            Waiting("", f"{one.to_order} {one.part.name}: not ordered.", None, (), one.arrives)
            for one in stock.order_today
        ),
        *_opinions(judged),
        *_decisions(judged),
    )


def _opinions(judged: JudgedJob) -> Iterator[Waiting]:
    """Close calls that were left open for another person."""
    for verdict in judged.items:
        for call in verdict.calls:
            if call.left_open and call.call == "CLOSE CALL" and call.entry is not None:
                yield Waiting(
                    "",
                    f"{_named(verdict)} waits since {on_day(call.entry.at)} for a second opinion on "
                    f"{call.label.lower()}.",
                    call.entry.at,
                    (),
                    None,
                )


def _decisions(judged: JudgedJob) -> Iterator[Waiting]:
    """Open findings that a person has to settle."""
    for verdict in judged.items:
        if verdict.verdict == "REJECT" or not to_settle(verdict, judged):
            continue
        for finding in verdict.findings:
            if finding.is_open and finding.severity >= 2:
                yield Waiting(
                    "",
                    f"{_named(verdict)} waits for your decision since {on_day(finding.entry.at)}: "
                    f"{lower_first(finding.label)}.",
                    finding.entry.at,
                    (),
                    None,
                )


def _named(verdict: ItemVerdict) -> str:
    """An item as a sentence begins with it."""
    return verdict.name if verdict.kind == "plug" else f"{upper_first(verdict.kind)} {verdict.name}"
