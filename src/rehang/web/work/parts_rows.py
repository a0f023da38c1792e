"""Rows of the parts page, of the owner's page, and of where each plug goes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.job.judging import JudgedJob
from rehang.trade.known.extras import Extra, extras_of
from rehang.trade.known.photos import live_photos
from rehang.trade.release.extra import BEARS, owner_of
from rehang.trade.terms.money import money_said, sum_of
from rehang.trade.terms.wording import listed, lower_first, on_day, stopped
from rehang.trade.work.owner_list import owner_lines
from rehang.trade.work.rotation import RULES, best_rotation
from rehang.trade.work.stock import money_words, sum_words
from rehang.trade.work.stock_values import Cost, OwnerLine, PartNeed, PartStock, Stock
from rehang.web.work.rows import minutes_text
from rehang.web.work.waits import item_title, part_words, weekday_text

__all__ = [
    "OwnerPage",
    "PartsPage",
    "RotationPage",
    "owner_page",
    "parts_page",
    "rotation_page",
]


@dataclass(frozen=True, slots=True)
class WhyRow:
    """Why so many of a part are needed, and what it is for."""

    words: str
    item: str
    task: str
    number: int
    sure: bool


@dataclass(frozen=True, slots=True)
class OrderRow:
    """A part to be ordered today. ``number`` is what neither the shelf nor an order covers."""

    part: str
    name: str
    number: int
    price: str
    arrives: str
    supplier: str
    why: tuple[WhyRow, ...]


@dataclass(frozen=True, slots=True)
class ComingRow:
    part: str
    order: str
    name: str
    number: int
    due: str
    overdue: bool
    words: str


@dataclass(frozen=True, slots=True)
class ShelfRow:
    part: str
    name: str
    needed: int
    may_need: int
    on_hand: int
    on_order: int
    short: int
    price: str
    note: str
    why: tuple[WhyRow, ...]


@dataclass(frozen=True, slots=True)
class CostRow:
    label: str
    parts: str
    labour: str
    total: str


@dataclass(frozen=True, slots=True)
class PartsPage:
    order: tuple[OrderRow, ...]
    order_total: str
    coming: tuple[ComingRow, ...]
    shelf: tuple[ShelfRow, ...]
    replacements: tuple[WhyRow, ...]
    uncounted: tuple[WhyRow, ...]
    quarantine: tuple[tuple[str, str], ...]
    set_words: str
    costs: tuple[CostRow, ...]
    cost_notes: tuple[str, ...]
    fitted: tuple[OwnerRow, ...]
    fitted_total: str
    said: tuple[str, ...]
    listed: bool


@dataclass(frozen=True, slots=True)
class OwnerRow:
    head: str
    number: int
    each: str
    total: str
    why: tuple[str, ...]
    photos: tuple[str, ...]
    quoted: bool


@dataclass(frozen=True, slots=True)
class OwnerPage:
    """What the owner asks: which parts, why, with which photo, at what price.

    ``fitted`` is what went in already, ``rows`` what is still needed; ``none`` says in their place
    that nothing is, or that nobody knows. ``extra`` is the work found, by what the owner said of it.
    """

    title: str
    fitted: tuple[OwnerRow, ...]
    fitted_total: str
    rows: tuple[OwnerRow, ...]
    decisions: tuple[OwnerRow, ...]
    extra: tuple[tuple[str, tuple[OwnerRow, ...]], ...]
    total: str
    none: str
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TurnRow:
    """One hole and the plug that goes into it; ``rules`` are those that breaks."""

    hole: str
    name: str
    item: str
    came_out_of: str
    by_map: bool
    is_new: bool
    to_come: bool
    rules: tuple[str, ...]
    words: str
    entry: str


@dataclass(frozen=True, slots=True)
class RotationPage:
    rows: tuple[tuple[TurnRow, ...], ...]
    by: str
    best: bool
    changes: tuple[str, ...]
    plugs: tuple[tuple[str, str], ...]
    holes: tuple[str, ...]
    broken: int
    said: tuple[str, ...]


def parts_page(judged: JudgedJob) -> PartsPage:
    """What to order today, what is on its way, what is short, what it costs."""
    parts = judged.stock
    money = judged.facts.shop.currency
    order = parts.order_today
    priced = [one.order_price for one in order if one.order_price is not None]
    return PartsPage(
        order=tuple(_order_row(one, judged) for one in order),
        order_total=money_words(sum(priced), money) if priced else "",
        coming=tuple(_coming_rows(parts)),
        shelf=tuple(
            _shelf_row(one, judged)
            for one in parts.parts.values()
            if one.needs or one.orders or one.on_hand
        ),
        replacements=tuple(_why(one, judged) for one in parts.without_part),
        uncounted=tuple(
            WhyRow(
                f"{one.number} × {judged.facts.part_name(one.part)}, for {lower_first(one.why)}",
                one.item,
                one.task,
                one.number,
                one.sure,
            )
            for one in parts.uncounted
        ),
        quarantine=tuple((one, item_title(judged.item(one))) for one in parts.quarantine),
        set_words=parts.set_words,
        costs=_costs(parts.cost),
        cost_notes=(
            *_cost_notes(parts.cost),
            *_labour_notes(parts.cost),
            *_spent_notes(judged),
        ),
        fitted=tuple(_owner_row(one, money) for one in parts.fitted),
        fitted_total=sum_words(parts.cost.parts_so_far, parts.cost.unknown_so_far, money),
        said=parts.said,
        listed=bool(parts.parts),
    )


def _order_row(one: PartStock, judged: JudgedJob) -> OrderRow:
    arrives = "nobody wrote down how long it takes"
    if one.arrives is not None:
        arrives = f"here {weekday_text(one.arrives)}"
    return OrderRow(
        part=one.part.id,
        name=one.part.name,
        number=one.to_order,
        price=money_words(one.order_price, judged.facts.shop.currency),
        arrives=arrives,
        supplier=one.part.supplier,
        why=tuple(_why(need, judged) for need in one.needs if need.sure),
    )


def _why(need: PartNeed, judged: JudgedJob) -> WhyRow:
    words = need.why
    if need.task:
        words = f"{need.number} for {lower_first(words)}"
    return WhyRow(words, need.item, need.task, need.number, need.sure)


def _coming_rows(parts: Stock) -> list[ComingRow]:
    found = []
    for order in parts.orders:
        one = parts.parts[order.part]
        due = "no day said"
        if order.due is not None:
            due = f"{'was due' if order.overdue else 'due'} {weekday_text(order.due)}"
        words = f"ordered {on_day(order.ordered_on)}"
        if order.supplier:
            words += f" from {order.supplier}"
        found.append(
            ComingRow(
                order.part,
                order.id,
                part_words(one, order.to_come),
                order.to_come,
                due,
                order.overdue,
                words,
            )
        )
    return found


def _shelf_row(one: PartStock, judged: JudgedJob) -> ShelfRow:
    return ShelfRow(
        part=one.part.id,
        name=one.part.name,
        needed=one.needed,
        may_need=one.may_need,
        on_hand=one.on_hand,
        on_order=one.on_order,
        short=one.short,
        price=money_words(one.part.price, judged.facts.shop.currency),
        note=one.note or one.part.note,
        why=tuple(_why(need, judged) for need in one.needs),
    )


def _costs(cost: Cost) -> tuple[CostRow, ...]:
    rows = []
    for label, parts, unknown, labour, minutes in (
        (
            "So far",
            cost.parts_so_far,
            cost.unknown_so_far,
            cost.labour_so_far,
            cost.minutes_so_far,
        ),
        (
            "To finish",
            cost.parts_to_finish,
            cost.unknown_to_finish,
            cost.labour_to_finish,
            cost.minutes_to_finish,
        ),
    ):
        hours = (minutes_text(minutes) if minutes else "0 h").replace(" ", "\N{NO-BREAK SPACE}")
        # By the task sheet's times, done or not: nobody writes down what a task took.
        about = f"about {hours}" if minutes else hours
        work = about if labour is None else f"{money_words(labour, cost.currency)} ({about})"
        total = "no rate" if labour is None else money_words(parts + labour, cost.currency)
        paid = money_words(parts if parts or not unknown else None, cost.currency)
        if unknown and parts:
            paid = f"more than {paid}"
        if unknown and labour is not None:
            total = f"more than {total}"
        rows.append(CostRow(label, paid, work, total))
    return tuple(rows)


def _cost_notes(cost: Cost) -> tuple[str, ...]:
    found = []
    if cost.unpriced:
        found.append(f"No price on file, so in none of the sums: {listed(cost.unpriced)}.")
    found += [
        f"{name}, {money_words(price, cost.currency)}, waits for a decision and is in none of the sums."
        for name, price in cost.quoted
    ]
    return tuple(found)


def _labour_notes(cost: Cost) -> tuple[str, ...]:
    found = ["Labour is estimated, also so far: the task sheet's likely minutes, not hours spent."]
    if cost.labour_to_finish is None:
        found.append("No rate for labour is on file, so only its hours are said.")
    return tuple(found)


def _spent_notes(judged: JudgedJob) -> tuple[str, ...]:
    """Hours that people wrote down as spent, which no estimate is."""
    hours = sum((one.actual.hours for one in extras_of(judged.facts, judged.state)), Decimal(0))
    if not hours:
        return ()
    return (f"Hours written down as spent: {hours.normalize():f} h, on work found.",)


# The owner's page


def owner_page(judged: JudgedJob) -> OwnerPage:
    """Per part how many, why, with which photo, at what price: what went in, what is needed."""
    parts = judged.stock
    cost = parts.cost
    engine = judged.facts.engine
    needed = owner_lines(parts)
    name = (
        " ".join(str(engine.get(key, "")) for key in ("engine", "serial")).strip()
        or judged.facts.title
    )
    owner = str(engine.get("owner", ""))
    sure = tuple(_owner_row(one, cost.currency) for one in needed if not one.quoted)
    is_needed = bool(sure or parts.uncounted or parts.without_part)
    what = "needs" if is_needed or not parts.fitted else "was given"
    none = "No part on the list is needed." if is_needed else "No more parts are needed."
    if not parts.parts:
        none = "This job has no list of parts, so nobody knows what its parts cost."
    return OwnerPage(
        title=f"{f'For {owner}: what' if owner else 'What'} {name} {what}, and why",
        fitted=tuple(_owner_row(one, cost.currency) for one in parts.fitted),
        fitted_total=sum_words(cost.parts_so_far, cost.unknown_so_far, cost.currency),
        rows=sure,
        decisions=tuple(_owner_row(one, cost.currency) for one in needed if one.quoted),
        extra=_extra_rows(judged),
        total=_sum_of([one for one in needed if not one.quoted], cost.currency) if sure else "",
        none=none,
        notes=tuple(
            filter(
                None,
                (
                    parts.set_words,
                    _uncounted_words(parts, judged.facts),
                    *_cost_notes(cost),
                    "Labour is in none of the sums of parts; work found has its own.",
                ),
            )
        ),
    )


# Work found, by how it stands with the owner, as headings.
_STANDING: tuple[tuple[str, Callable[[Extra], bool]], ...] = (
    ("Work found that waits for your word", lambda one: not (one.answer or one.closed)),
    ("Work found and accepted", lambda one: one.is_accepted and not one.closed),
    ("Work found and declined", lambda one: one.is_declined and not one.closed),
    ("Work found and done", lambda one: one.is_done),
)


def _extra_rows(judged: JudgedJob) -> tuple[tuple[str, tuple[OwnerRow, ...]], ...]:
    """Each piece of work found with why and its price; what was taken back is left out."""
    extras = extras_of(judged.facts, judged.state)
    found = [
        (title, tuple(_extra_row(one, judged) for one in extras if is_so(one)))
        for title, is_so in _STANDING
    ]
    return tuple((title, rows) for title, rows in found if rows)


def _extra_row(one: Extra, judged: JudgedJob) -> OwnerRow:
    told = one.told
    # What it took stands for what it was priced at, once it is done.
    priced = one.actual if one.is_done and one.actual.lines else one.estimate
    why = [stopped(told.reason), BEARS if told.airworthiness and not one.is_done else ""]
    if one.answer is not None:
        said = one.answer.fields.answer.capitalize()
        why.append(f"{said} by {owner_of(one, judged.facts)} on {on_day(one.answer.at)}.")
    if one.is_done:
        took = "The price is what it took." if one.actual.lines else ""
        why.append(took or "The price is the estimate: what it took is not written.")
    total = sum_of([line.total for line in priced.lines], told.currency)
    return OwnerRow(
        head=told.what,
        number=1,
        each=total,
        total=total if priced.lines else money_said(None, told.currency),
        why=tuple(filter(None, why)),
        photos=tuple(e.fields.photo for e in live_photos(judged.state, entry=one.id)),
        quoted=not one.is_done,
    )


def _owner_row(one: OwnerLine, money: str) -> OwnerRow:
    return OwnerRow(
        head=one.head,
        number=one.number,
        each=money_words(one.each, money),
        total=money_words(one.total, money),
        why=one.why,
        photos=one.photos,
        quoted=one.quoted,
    )


def _sum_of(lines: list[OwnerLine], money: str) -> str:
    """What lines come to, and how many of them have no price."""
    priced = [one.total for one in lines if one.total is not None]
    return sum_words(sum(priced), [one.name for one in lines if one.total is None], money)


def _uncounted_words(parts: Stock, facts: JobFacts) -> str:
    if not parts.uncounted:
        return ""
    wanted = dict.fromkeys(one.part for one in parts.uncounted)
    numbers = {part: sum(n.number for n in parts.uncounted if n.part == part) for part in wanted}
    told = listed([f"{number} × {facts.part_name(part)}" for part, number in numbers.items()])
    return f"Needed, not on the list of parts and so in none of the sums: {told}."


# Rotation


def rotation_page(judged: JudgedJob, *, best: bool) -> RotationPage:
    """The tray as it goes back in: by the map with the changes by hand, or the cheapest way."""
    found = judged.rotation
    if best:
        found = best_rotation(judged.facts, judged.state, judged.items)
    rows = []
    for holes in judged.facts.layout.tray:
        row = []
        for hole in holes:
            one = found.place(hole)
            if one is None:
                continue
            row.append(
                TurnRow(
                    hole=hole,
                    name=one.name,
                    item=one.plug or one.slot,
                    came_out_of=one.came_out_of,
                    by_map=one.by_map == hole,
                    is_new=one.is_new,
                    to_come=one.is_new and not one.plug,
                    rules=one.breaks,
                    words=one.sentence,
                    entry=one.assigned.id if one.assigned is not None else "",
                )
            )
        rows.append(tuple(row))
    plugs = [
        (
            one.plug or f"{one.slot}|new",
            f"{one.name} ({one.came_out_of})"
            if one.is_new
            else _plug_words(one.name, one.came_out_of),
        )
        for one in found.places
        if one.slot
    ]
    return RotationPage(
        rows=tuple(rows),
        by=found.by,
        best=best,
        changes=tuple(one.sentence for one in found.changes),
        plugs=tuple(sorted(plugs, key=lambda pair: pair[1])),
        holes=judged.facts.layout.walk,
        broken=sum(len(one.breaks) for one in found.places),
        said=(*found.said, _rules_words()),
    )


def _plug_words(name: str, source: str) -> str:
    return f"{name}, out of {source}"


def _rules_words() -> str:
    return f"The rules, the weightiest first: {listed(list(RULES))} (common practice, no source)."
