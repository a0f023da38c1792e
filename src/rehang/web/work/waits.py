"""What the job waits for: a look, a meter, a part, an opinion, a decision."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from rehang.trade.job.again import to_settle
from rehang.trade.job.judging import JudgedJob
from rehang.trade.telling.sentences import item_as_said
from rehang.trade.terms.wording import listed, lower_first, plural, upper_first
from rehang.trade.verdicts.item_verdict import ItemVerdict
from rehang.trade.work.stock_values import PartOrder, PartStock, Stock
from rehang.trade.work.todo import (
    meters_for,
    waiting_on,
    waits_for_meter,
)
from rehang.web.shared.times import zone_of

__all__ = [
    "Wait",
    "item_title",
    "part_words",
    "waits",
    "weekday_text",
]


@dataclass(frozen=True, slots=True)
class Wait:
    """Something that waits on a part, a person, a meter or a decision.

    ``when`` is since when, or until when it is known. Where ``task`` stands it leads there, else to
    ``entry`` (a close call) or ``item``.
    """

    title: str
    what: str
    when: str
    item: str = ""
    entry: str = ""
    task: str = ""
    page: str = ""


# What waits


def waits(judged: JudgedJob) -> tuple[Wait, ...]:
    """What waits on a person, a meter, a part or a decision, in that order."""
    return (
        *_look_waits(judged),
        *_meter_waits(judged),
        *_part_waits(judged),
        *_opinion_waits(judged),
        *_decision_waits(judged),
    )


def _look_waits(judged: JudgedJob) -> list[Wait]:
    found = []
    for one in waiting_on(judged.work, judged.facts):
        work = judged.work.tasks[one.task]
        assert work.look is not None
        who = judged.facts.person(one.who[0]) if one.who else "another person"
        when = weekday_text(one.until) if one.until else _since(one.since, zone_of(judged))
        found.append(Wait(work.task.title, f"{who} to look", when, task=one.task))
    return found


def _meter_waits(judged: JudgedJob) -> list[Wait]:
    found = []
    for one in waits_for_meter(judged.work, judged.facts, judged.stock.in_hand):
        work = judged.work.tasks[one.task]
        title = f"{work.task.title}, {one.where}" if one.where else work.task.title
        meters = [tool.meter for tool in work.task.tools if tool.meter]
        ids = listed(
            [
                meter.id
                for words in meters
                for meter in meters_for(words, judged.facts.meters)
                if judged.work.standing.get(meter.id)
            ]
        )
        what = f"a wrench or meter in date ({ids} is not)"
        last = work.last
        found.append(
            Wait(title, what, _since(last.at if last else None, zone_of(judged)), task=one.task)
        )
    return found


def _part_waits(judged: JudgedJob) -> list[Wait]:
    parts = judged.stock
    return [
        *_replacement_waits(parts, judged),
        *_delivery_waits(parts),
        *_order_waits(parts.order_today),
    ]


def _replacement_waits(parts: Stock, judged: JudgedJob) -> list[Wait]:
    """Rejects that no part on the stock list stands in for."""
    found = []
    for need in parts.without_part:
        verdict = judged.item(need.item)
        goes = f" for {verdict.goes_to}" if verdict.goes_to else ""
        disposed = verdict.state.disposed
        since = disposed.at if disposed else _latest(verdict)
        found.append(
            Wait(
                item_title(verdict),
                f"a replacement{goes}",
                _since(since, zone_of(judged)),
                verdict.item,
            )
        )
    return found


def _delivery_waits(parts: Stock) -> list[Wait]:
    """What is on order, what comes on the same day together."""
    together: dict[tuple[date | None, bool], list[PartOrder]] = {}
    for order in parts.orders:
        together.setdefault((order.due, order.overdue), []).append(order)
    found = []
    for (due, overdue), orders in together.items():
        names = [part_words(parts.parts[o.part], o.to_come) for o in orders]
        what = "delivery, overdue" if overdue else "delivery"
        when = weekday_text(due) if due is not None else "no day said"
        found.append(Wait(upper_first(listed(names)), what, when, page="parts"))
    return found


def _order_waits(wanted: Sequence[PartStock]) -> list[Wait]:
    """What nobody has ordered: the one that is longest in coming, and the rest together."""
    found = []
    for group in (wanted[:1], wanted[1:]):
        if not group:
            continue
        names = [part_words(one, one.to_order) for one in group]
        longest = group[0]
        what = "your order"
        if len(group) == 1 and longest.part.lead_days is not None:
            what += f": {longest.part.lead_days} {plural('day', longest.part.lead_days)}"
        title = upper_first(listed(names[:2])) if len(names) <= 2 else ""
        if not title:
            title = f"{upper_first(names[0])} and {len(names) - 1} other parts"
        found.append(Wait(title, what, "not ordered", page="parts"))
    return found


def part_words(one: PartStock, number: int) -> str:
    """A part by the first words of its name, with its number where that is more than one."""
    name = one.part.name.partition(",")[0]
    return name if number == 1 else f"{number} × {name}"


def _opinion_waits(judged: JudgedJob) -> list[Wait]:
    return [
        Wait(
            item_title(verdict),
            f"a second opinion on {call.label.lower()}",
            _since(call.entry.at, zone_of(judged)),
            verdict.item,
            call.entry.id,
        )
        for verdict in judged.items
        for call in verdict.calls
        if call.left_open and call.call == "CLOSE CALL" and call.entry is not None
        # Of what another is in for, nobody's opinion is asked.
        if not (verdict.verdict == "REJECT" and verdict.state.replaced_by)
    ]


def _decision_waits(judged: JudgedJob) -> list[Wait]:
    found = []
    for verdict in judged.items:
        if verdict.verdict == "REJECT" or not to_settle(verdict, judged):
            continue
        for finding in verdict.findings:
            if not finding.is_open or finding.severity < 2:
                continue
            act = (finding.next_act or finding.label).rstrip(".")
            found.append(
                Wait(
                    item_title(verdict),
                    lower_first(act),
                    _since(finding.entry.at, zone_of(judged)),
                    verdict.item,
                )
            )
    return found


def item_title(verdict: ItemVerdict) -> str:
    name = upper_first(item_as_said(verdict.item))
    return f"{name}, {verdict.place}" if verdict.place else name


def _latest(verdict: ItemVerdict) -> datetime | None:
    ends = [e.at for e in verdict.state.ended]
    ends += [f.entry.at for f in verdict.state.open_findings if f.severity == 3]
    ends += [c.entry.at for c in verdict.calls if c.call == "OUT" and c.entry is not None]
    return max(ends, default=None)


def _since(when: datetime | None, zone: ZoneInfo) -> str:
    if when is None:
        return ""
    local = when.astimezone(zone)
    return f"since {local.day} {local:%b}"


def weekday_text(day: date) -> str:
    """``Thu 22 Oct``."""
    return f"{day:%a} {day.day} {day:%b}"
