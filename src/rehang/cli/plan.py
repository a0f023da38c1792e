"""``rehang plan``, ``parts`` and ``rotation`` as lines of text or JSON."""

from __future__ import annotations

import importlib
import json as jsons
from collections.abc import Iterable
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from cyclopts import App

from rehang.cli.asked import Flag, Judged, Moment, wrapped
from rehang.trade.job.again import asked_again
from rehang.trade.job.judging import JudgedJob
from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.wording import on_day, upper_first
from rehang.trade.work.owner_list import owner_lines
from rehang.trade.work.stock import (
    money_words,
    order_words,
    orders_waited_for,
    shelf_words,
    sum_words,
)
from rehang.trade.work.stock_values import OwnerLine, Stock
from rehang.trade.work.todo import people_words, places_words

if TYPE_CHECKING:
    from rehang.trade.plan.plan_values import Plan, PlanDay, PlanRow
    from rehang.trade.work.rotation import Rotation

__all__ = ["register", "seed_of"]


def register(app: App, *, judged: Judged, moment: Moment) -> None:
    """Add the commands to the program.

    ``judged`` judges a job folder, or a job in the book, as of a moment; ``moment`` reads a time.
    """

    @app.command(name="plan")
    def _plan(
        what: str,
        /,
        *,
        now: str = "",
        without_ordering: Flag = False,
        wanted: str = "",
        json: Flag = False,
        ics: Path | None = None,
    ) -> int:
        """Plan what is left: when it hangs, when it is ready, what to order by when.

        Example: rehang plan my-job --now 2026-10-21T08:00 --wanted 2026-10-30

        Parameters
        ----------
        what
            A job folder, or the name of a job in the book.
        now
            Plan from this time; a day alone means its end, so that work begins the next morning.
        without_ordering
            Plan with what is in hand or on order only.
        wanted
            A day to be ready by; the last one in the book when left out.
        json
            Print JSON for a machine.
        ics
            Calendar file (iCalendar) to write.
        """
        job = judged(what, now)
        return _show_plan(
            job,
            moment(now, job.facts.timezone_name),
            without_ordering=without_ordering,
            wanted=wanted,
            as_json=json,
            ics=ics,
        )

    @app.command(name="parts")
    def _parts(what: str, /, *, now: str = "", json: Flag = False) -> int:
        """List what to order today, what is short and on order, why, and what it costs.

        Example: rehang parts my-job

        Parameters
        ----------
        what
            A job folder, or the name of a job in the book.
        now
            Count as it stood at the end of this day (or at this time).
        json
            Print JSON for a machine.
        """
        return _show_parts(judged(what, now), as_json=json)

    @app.command(name="rotation")
    def _rotation(what: str, /, *, now: str = "", best: Flag = False, json: Flag = False) -> int:
        """Say where each plug goes, and which rules that breaks.

        Example: rehang rotation my-job --best

        Parameters
        ----------
        what
            A job folder, or the name of a job in the book.
        now
            As it stood at the end of this day (or at this time).
        best
            Look for the way that breaks the rules least, in place of the layout's map.
        json
            Print JSON for a machine.
        """
        return _show_rotation(judged(what, now), best=best, as_json=json)


def seed_of(judged: JudgedJob) -> int:
    """Where the chance of a simulation begins: with the last hash of the book."""
    last = judged.state.order[-1].hash if judged.state.order else ""
    return int(last[:8], 16) if last else 0


def _show_plan(
    judged: JudgedJob,
    now: datetime,
    *,
    without_ordering: bool,
    wanted: str,
    as_json: bool,
    ics: Path | None,
) -> int:
    """Print the plan of what is left, and write its calendar file where one is asked for."""
    here = now.astimezone(ZoneInfo(judged.facts.timezone_name))
    # Only a plan waits for what plans.
    import numpy as np

    from rehang.trade.plan.planning import plan_as_json, plan_of

    plan = plan_of(
        judged,
        here,
        rng=np.random.default_rng(seed_of(judged)),
        never_order=without_ordering,
        wanted=_day_in(wanted) if wanted else None,
    )
    if ics is not None:
        calendar = importlib.import_module("rehang.paper.calendar")
        ics.write_bytes(calendar.plan_ics(plan, judged.facts))
    if as_json:
        print(jsons.dumps(plan_as_json(plan), ensure_ascii=False, indent=2))
        return 0
    print("\n".join(_plan_lines(plan, judged)))
    if ics is not None:
        print(f"{ics} has {len(plan.rows)} pieces of work.")
    return 0


def _day_in(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise BadInput(f'"{text}" is not a day. Write --wanted 2026-10-30.') from None


def _plan_lines(plan: Plan, judged: JudgedJob) -> list[str]:
    lines = [judged.facts.title, *wrapped(plan.sentence)]
    lines += wrapped(plan.how_good)
    if plan.wanted is not None:
        lines += wrapped(plan.wanted.sentence)
    lines += _section("Either way", (one.sentence for one in plan.options))
    for decision in plan.decisions:
        lines += _section(decision.sentence, (one.sentence for one in decision.options))
    lines += _section("Order by", (one.sentence for one in plan.order_by))
    now = []
    for one in plan.can_do_now:
        where = f": {one.where}" if one.where else ""
        now.append(
            f"{one.task:<4}{one.title}{where} ({one.minutes:.0f} min{people_words(one.hands)})."
        )
    now += [one.sentence for one in asked_again(judged)]
    lines += _section("Can be done now", now)
    lines += _section("Waiting on", (one.sentence for one in plan.waiting_on))
    lines += ["", "Calendar (* move one of these and the finish moves):"]
    for day in plan.days:
        lines += _day_lines(day)
    # What is impossible is in the sentence at the head.
    for note in plan.notes:
        lines += wrapped(f"Note: {note}")
    lines += [
        "",
        *wrapped(
            "Minutes are the task sheet's, second looks a quarter of an hour, deliveries in hand "
            "from noon of their day. Ready means that the work is done; whether it may go back to "
            "service is what rehang check says."
        ),
    ]
    return lines


def _day_lines(day: PlanDay) -> list[str]:
    if day.is_free:
        return []
    lines = [
        f"  {day.day:%a} {on_day(day.day)}"
        + (f"  ({_names(day.lookers)} in)" if day.lookers else "")
    ]
    for one in day.arrivals:
        state = "due" if one.ordered else "here when ordered in time"
        lines.append(f"    arrives    {one.number} {one.name}, {state}")
    for word, rows in (("morning", day.morning), ("afternoon", day.afternoon)):
        for number, row in enumerate(rows):
            goes_on = row.start.date() != day.day or (word == "afternoon" and row in day.morning)
            begins = "  ..." if goes_on else f"{row.start:%H:%M}"
            lines += wrapped(f"    {word if not number else '':<11}{_row(row, begins)}", " " * 24)
    return lines


def _row(row: PlanRow, begins: str) -> str:
    places = f": {places_words(row.places)}" if row.places else ""
    mark = "*" if row.critical else " "
    who = f" ({_names(row.who)})" if row.who else ""
    return f"{begins:<6}{mark} {row.task:<4}{row.title}{places}{who}"


def _names(names: Iterable[str]) -> str:
    return ", ".join(names)


def _show_parts(judged: JudgedJob, *, as_json: bool) -> int:
    """Print the order list, what is short, what is on order, and what it costs."""
    stock = judged.stock
    currency = stock.cost.currency
    if as_json:
        print(jsons.dumps(_parts_as_json(stock), ensure_ascii=False, indent=2))
        return 0
    lines = [judged.facts.title]
    if not stock.parts:
        lines.append("There is no stock.toml in this job, so nobody counts its parts.")
    ordering = [order_words(one, currency) for one in stock.order_today]
    if stock.parts:
        ordering = ordering or ["Nothing is short that is not on order."]
    lines += _section("Order today", ordering)
    lines += _section("Waiting on deliveries", (one.sentence for one in orders_waited_for(stock)))
    lines += _section(
        "Parts", (shelf_words(one) for one in stock.parts.values() if one.needed or one.may_need)
    )
    lines += _section("Why", (_owner_words(line, currency) for line in owner_lines(stock)))
    lines += _section("Fitted and used", (_owner_words(line, currency) for line in stock.fitted))
    lines += _section(
        "No part on file",
        (f"{need.why}" for need in stock.without_part),
    )
    lines += _section(
        "Needed, and not in stock.toml",
        (
            f"{need.number} × {judged.facts.part_name(need.part)} ({need.part}) for {need.task}: {need.why}"
            for need in stock.uncounted
        ),
    )
    if stock.set_words:
        lines += ["", *wrapped(stock.set_words)]
    if stock.quarantine:
        names = ", ".join(item.partition(":")[2] for item in stock.quarantine)
        lines += [
            "",
            *wrapped(
                f"Rejects of which nobody wrote what became of them: {names}. Tag them and keep "
                "them off the shelf."
            ),
        ]
    lines += ["", *_cost_lines(stock)]
    lines += [note for one in stock.parts.values() if (note := one.note)]
    print("\n".join(lines))
    return 0


def _owner_words(line: OwnerLine, currency: str) -> str:
    """A part for the owner: how many, the price, and why."""
    price = money_words(line.total, currency)
    quoted = ", quoted" if line.quoted else ""
    return f"{line.head}, {price}{quoted}: {' '.join(line.why)}"


def _cost_lines(stock: Stock) -> list[str]:
    cost = stock.cost
    lines = []
    for words, parts, unknown, minutes, labour in (
        (
            "So far",
            cost.parts_so_far,
            cost.unknown_so_far,
            cost.minutes_so_far,
            cost.labour_so_far,
        ),
        (
            "To finish",
            cost.parts_to_finish,
            cost.unknown_to_finish,
            cost.minutes_to_finish,
            cost.labour_to_finish,
        ),
    ):
        said = f"{words}: parts {sum_words(parts, unknown, cost.currency)}; about {minutes / 60:.1f} hours"
        if labour is None:
            said += " (no rate for an hour on file)."
        else:
            more = "more than " if unknown else ""
            said += (
                f" at {money_words(labour, cost.currency)}, together "
                f"{more}{money_words(parts + labour, cost.currency)}."
            )
        lines += wrapped(said)
    if cost.unpriced:
        lines += wrapped(f"Without a price, and in no sum: {', '.join(cost.unpriced)}.")
    lines += [
        f"Quoted and not decided, in no sum: {name}, {money_words(price, cost.currency)}."
        for name, price in cost.quoted
    ]
    lines += wrapped(
        "Hours are estimates, also so far: the task sheet's likely minutes times the people each takes. "
        "They are not hours spent."
    )
    return lines


def _parts_as_json(stock: Stock) -> dict[str, object]:
    return {
        "parts": [
            {
                "part": one.part.id,
                "name": one.part.name,
                "needed": one.needed,
                "may_need": one.may_need,
                "on_hand": one.on_hand,
                "on_order": one.on_order,
                "to_order": one.to_order,
                "arrives_if_ordered_today": one.arrives.isoformat() if one.arrives else None,
                "price": one.part.price,
                "why": [need.why for need in one.needs],
            }
            for one in stock.parts.values()
        ],
        "orders": [
            {
                "part": one.part,
                "number": one.number,
                "to_come": one.to_come,
                "ordered_on": one.ordered_on.isoformat(),
                "due": one.due.isoformat() if one.due else None,
                "overdue": one.overdue,
            }
            for one in stock.orders
        ],
        "uncounted": [
            {"part": one.part, "number": one.number, "task": one.task} for one in stock.uncounted
        ],
        "fitted": [
            {
                "name": one.name,
                "number": one.number,
                "each": one.each,
                "total": one.total,
                "why": list(one.why),
                "photos": list(one.photos),
            }
            for one in stock.fitted
        ],
        "set": stock.set_words,
        "quarantine": list(stock.quarantine),
        "cost": {
            "currency": stock.cost.currency,
            "parts_so_far": stock.cost.parts_so_far,
            "parts_to_finish": stock.cost.parts_to_finish,
            "labour_so_far": stock.cost.labour_so_far,
            "labour_to_finish": stock.cost.labour_to_finish,
            "unpriced": list(stock.cost.unpriced),
            "unknown_so_far": list(stock.cost.unknown_so_far),
            "unknown_to_finish": list(stock.cost.unknown_to_finish),
            "quoted": [list(one) for one in stock.cost.quoted],
        },
    }


def _show_rotation(judged: JudgedJob, *, best: bool, as_json: bool) -> int:
    """Print where each plug goes, and which rules that breaks."""
    rotation = judged.rotation
    if best:
        from rehang.trade.work.rotation import best_rotation

        rotation = best_rotation(judged.facts, judged.state, judged.items)
    if as_json:
        print(jsons.dumps(_rotation_as_json(rotation), ensure_ascii=False, indent=2))
        return 0
    lines = [judged.facts.title, f"Where the plugs go, by {rotation.by}:"]
    lines += [f"  {one.sentence}" for one in rotation.places]
    lines += _section("Changed by hand", (one.sentence for one in rotation.changes))
    lines += wrapped(
        "Both magnetos are taken to begin with the same polarity. The engine's own manual governs."
    )
    print("\n".join(lines))
    return 0


def _rotation_as_json(rotation: Rotation) -> dict[str, object]:
    return {
        "by": rotation.by,
        "places": [
            {
                "hole": one.hole,
                "plug": one.plug or None,
                "name": one.name,
                "came_out_of": one.came_out_of,
                "new": one.is_new,
                "breaks": list(one.breaks),
                "by_hand": one.assigned is not None,
            }
            for one in rotation.places
        ],
        "changes": [one.sentence for one in rotation.changes],
    }


def _section(title: str, lines: Iterable[str]) -> list[str]:
    told = [line for one in lines for line in wrapped(f"  {upper_first(one)}", "    ")]
    return ["", *wrapped(title if title.endswith(".") else f"{title}:"), *told] if told else []
