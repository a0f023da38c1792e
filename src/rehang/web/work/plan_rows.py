"""Rows of the plan: its sentence, the drawn calendar, and what the ways to go come to."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.job.judging import JudgedJob
from rehang.trade.plan.plan_values import Plan, PlanDay, PlanRow
from rehang.trade.terms.wording import listed, lower_first, plural, upper_first
from rehang.web.work.waits import part_words, weekday_text

__all__ = ["DayColumn", "PlanPage", "plan_page"]

# A half day's cell names so many pieces of work; more of one stage go under the stage's name.
_MOST_SLOTS = 3


@dataclass(frozen=True, slots=True)
class Slot:
    """One piece of work in a half day, or several of one stage. ``task`` is where a tap leads."""

    title: str
    who: str
    heavy: bool
    task: str
    words: str


@dataclass(frozen=True, slots=True)
class ArrivalRow:
    words: str
    ordered: bool


@dataclass(frozen=True, slots=True)
class DayColumn:
    """One day of the calendar, or a run of days on which nothing is to be done."""

    head: str
    today: bool
    lookers: str
    free: str
    morning: tuple[Slot, ...]
    afternoon: tuple[Slot, ...]
    morning_over: bool
    arrivals: tuple[ArrivalRow, ...]


@dataclass(frozen=True, slots=True)
class Span:
    """A part that is not ordered, drawn from today to the day it would be here, in columns."""

    words: str
    start: int
    width: int
    after: int


@dataclass(frozen=True, slots=True)
class DecisionRow:
    item: str
    words: str
    ways: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PlanPage:
    """``order`` is the part to order first: its id, how many, its name."""

    sentence: str
    how_good: str
    proved: bool
    columns: tuple[DayColumn, ...]
    spans: tuple[Span, ...]
    keys: tuple[tuple[str, str], ...]
    order: tuple[str, int, str] | None
    order_more: int
    order_by: tuple[str, ...]
    ways: tuple[str, ...]
    decisions: tuple[DecisionRow, ...]
    wanted: str
    wanted_on: str
    in_the_way: tuple[str, ...]
    notes: tuple[str, ...]
    made_at: str
    starts: int


def plan_page(plan: Plan, judged: JudgedJob) -> PlanPage:
    """A plan as it is drawn."""
    names = _initials(judged.facts)
    columns = _columns(plan, judged, names)
    first = judged.stock.order_today[:1]
    used = {key for row in plan.rows for key in row.who}
    return PlanPage(
        sentence=plan.sentence,
        how_good=plan.how_good,
        proved=plan.proved,
        columns=tuple(column for column, _ in columns),
        spans=tuple(_spans(plan, columns)),
        keys=tuple((short, name) for name, short in names.items() if name in used),
        order=(first[0].part.id, first[0].to_order, part_words(first[0], first[0].to_order))
        if first
        else None,
        order_more=len(judged.stock.order_today) - len(first),
        order_by=tuple(one.sentence for one in plan.order_by),
        ways=tuple(one.sentence for one in plan.options),
        decisions=tuple(
            DecisionRow(one.item, one.sentence, tuple(way.sentence for way in one.options))
            for one in plan.decisions
        ),
        wanted=plan.wanted.sentence if plan.wanted is not None else "",
        wanted_on=plan.wanted.on.isoformat() if plan.wanted is not None else "",
        in_the_way=plan.wanted.in_the_way if plan.wanted is not None else (),
        notes=(*plan.notes,),
        made_at=f"{plan.made_at:%H:%M}",
        starts=len(plan.rows),
    )


def _initials(facts: JobFacts) -> dict[str, str]:
    """Each person's name to the letter they go by; the first name where two share a letter."""
    people = [one for one in facts.people.values() if one.role != "reads"]
    letters = [one.name[:1] for one in people]
    return {
        one.name: one.name.split()[0]
        if one.second_look or letters.count(one.name[:1]) > 1
        else one.name[:1]
        for one in people
    }


def _columns(
    plan: Plan, judged: JudgedJob, names: dict[str, str]
) -> list[tuple[DayColumn, tuple[date, ...]]]:
    """A column a day, and one for each run of days with nothing in it; with the days of each."""
    found: list[tuple[DayColumn, tuple[date, ...]]] = []
    run: list[PlanDay] = []
    for day in plan.days:
        if day.is_free and not day.is_today:
            run.append(day)
            continue
        if run:
            found.append(_gap(run))
            run = []
        found.append((_day(day, plan.made_at, judged, names), (day.day,)))
    if run:
        found.append(_gap(run))
    return found


def _gap(run: Sequence[PlanDay]) -> tuple[DayColumn, tuple[date, ...]]:
    first, last = run[0].day, run[-1].day
    days = f"{first.day} {first:%b}"
    if last != first:
        start = f"{first.day}" if first.month == last.month else days
        days = f"{start} to {last.day} {last:%b}"
    word = "free" if any(one.is_open for one in run) else "shut"
    column = DayColumn("", False, "", f"{days} {word}", (), (), False, ())
    return column, tuple(one.day for one in run)


def _day(day: PlanDay, now: datetime, judged: JudgedJob, names: dict[str, str]) -> DayColumn:
    return DayColumn(
        head=weekday_text(day.day),
        today=day.is_today,
        lookers=", ".join(names.get(one, one) for one in day.lookers),
        free="",
        morning=_slots(day.morning, judged, names),
        afternoon=_slots(day.afternoon, judged, names),
        morning_over=day.is_today and now.hour >= 12,
        arrivals=tuple(
            ArrivalRow(part_words(judged.stock.parts[one.part], one.number), one.ordered)
            for one in day.arrivals
            if one.part in judged.stock.parts
        ),
    )


def _slots(rows: Iterable[PlanRow], judged: JudgedJob, names: dict[str, str]) -> tuple[Slot, ...]:
    """The pieces of work of a half day; many of one stage under the name of the stage."""
    found = list(rows)
    groups: dict[tuple[str, bool], list[PlanRow]] = {}
    for row in found:
        task = judged.facts.tasks.get(row.task)
        stage = task.stage if task is not None and len(found) > _MOST_SLOTS else row.key
        groups.setdefault((stage, row.kind == "look"), []).append(row)
    return tuple(_slot(stage, group, names) for (stage, _), group in groups.items())


def _slot(stage: str, rows: Sequence[PlanRow], names: dict[str, str]) -> Slot:
    whos = dict.fromkeys(names.get(name, name) for row in rows for name in row.who)
    titles = list(dict.fromkeys(_title(row) for row in rows))
    title = titles[0]
    if len(titles) > 1:
        is_look = rows[0].kind == "look"
        title = f"{len(titles)} second looks" if is_look else stage
    words = listed([lower_first(t) for t in titles])
    return Slot(
        title=title,
        who=", ".join(whos),
        heavy=any(row.critical for row in rows),
        task=rows[0].task,
        words=f"{len(rows)} {plural('piece', len(rows))}: {words}" if len(titles) > 1 else "",
    )


def _title(row: PlanRow) -> str:
    """A piece by its title and its place, where that is one."""
    if row.kind == "look":
        return upper_first(row.title.removeprefix("Second look: ")) + ": look"
    return f"{row.title}, {row.places[0]}" if len(row.places) == 1 else row.title


def _spans(plan: Plan, columns: Sequence[tuple[DayColumn, tuple[date, ...]]]) -> Iterable[Span]:
    """What has to be ordered first, from today to its day."""
    where = {day: number for number, (_, days) in enumerate(columns) for day in days}
    for one in plan.order_by[:1]:
        if one.arrives_if_today not in where:
            continue
        end = where[one.arrives_if_today]
        name = one.name.partition(",")[0]
        words = f"{name}, {one.lead_days} {plural('day', one.lead_days)}, if it is ordered today"
        yield Span(words, 0, end + 1, len(columns) - end - 1)
