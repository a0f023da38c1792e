"""Parts: what is needed and why, what is on the shelf, on order and short, and what it all costs.

Needs come from verdicts (a REJECT needs what replaces it), from what the tasks still to be done
use up, and from what people write. The shelf is the count in ``stock.toml``, or a later one in the
book, and what came and went since.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta
from types import MappingProxyType

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.parts import Part
from rehang.trade.known.state import JobState, item_kind
from rehang.trade.known.went_in import WentIn, went_in
from rehang.trade.terms.days import last_day
from rehang.trade.terms.entries import Entry, is_a
from rehang.trade.terms.kinds.stock import AboutStock, Arrived, Ordered, StockCounted, Used
from rehang.trade.terms.wording import on_day, so_many
from rehang.trade.verdicts.item_verdict import ItemVerdict
from rehang.trade.work.stock_needs import (
    fitted_lines,
    item_needs,
    set_words,
    task_needs,
    written_needs,
)
from rehang.trade.work.stock_values import Cost, PartNeed, PartOrder, PartStock, Stock
from rehang.trade.work.task_states import JobWork
from rehang.trade.work.todo import Waiting, minutes_left

__all__ = [
    "arrival_if_ordered",
    "last_order_day",
    "money_words",
    "order_words",
    "orders_waited_for",
    "shelf_words",
    "stock_of",
    "sum_words",
]


# ---------------------------------------------------------------- days


def arrival_if_ordered(on: date, lead_days: int) -> date:
    """The day an order is here: so many Monday to Friday days after the day it is ordered.

    >>> arrival_if_ordered(date(2026, 10, 21), 12)
    datetime.date(2026, 11, 6)
    """
    day = on
    left = lead_days
    while left:
        day += timedelta(days=1)
        # No holidays: nobody's calendar is on file.
        left -= day.weekday() < 5
    return day


def last_order_day(by: date, lead_days: int) -> date:
    """The last Monday to Friday day on which an order still comes by a day.

    >>> last_order_day(date(2026, 11, 6), 12)
    datetime.date(2026, 10, 21)
    """
    day = by
    while day.weekday() > 4 or arrival_if_ordered(day, lead_days) > by:
        day -= timedelta(days=1)
    return day


# ---------------------------------------------------------------- the fold


def stock_of(
    facts: JobFacts,
    state: JobState,
    items: Sequence[ItemVerdict],
    work: JobWork,
    today: date | None,
) -> Stock:
    """The parts of a job as its book leaves them on ``today``.

    An entry about a part that ``stock.toml`` does not have (any more) stays in the book and is
    said; the rules refuse a new one.
    """
    live = state.live()
    said: list[str] = []
    about: dict[str, list[Entry[AboutStock]]] = {name: [] for name in facts.parts}
    for entry in live:
        if not is_a(entry, AboutStock):
            continue
        if entry.fields.part in about:
            about[entry.fields.part].append(entry)
        elif facts.parts:
            said.append(
                f'An entry of {on_day(entry.at)} is about the part "{entry.fields.part}", which is '
                "not on the parts list (any more). It stays in the book and counts for nothing."
            )
    needs = [*item_needs(facts, items), *task_needs(work), *written_needs(about)]
    pieces = went_in(facts, state)
    parts = {
        name: _part_stock(
            part,
            tuple(one for one in needs if one.part == name),
            about[name],
            tuple(one for one in pieces if one.part == name),
            today,
        )
        for name, part in facts.parts.items()
    }
    return Stock(
        parts=MappingProxyType(parts),
        without_part=tuple(one for one in needs if not one.part and one.sure),
        uncounted=tuple(
            one for one in needs if one.part and one.sure and one.part not in facts.parts
        ),
        quarantine=tuple(
            one.item for one in items if one.verdict == "REJECT" and one.state.disposed is None
        ),
        set_words=set_words(facts, items),
        fitted=fitted_lines(facts, parts, pieces, items),
        cost=_cost(facts, parts, work, pieces, needs),
        said=tuple(dict.fromkeys(said)),
        today=today,
    )


def _part_stock(
    part: Part,
    needs: tuple[PartNeed, ...],
    entries: Sequence[Entry[AboutStock]],
    pieces: Sequence[WentIn],
    today: date | None,
) -> PartStock:
    gone = {one.entry.id: one.number for one in pieces}
    moves: list[Entry] = [e for e in entries if not is_a(e, Used)]
    moves += [one.entry for one in pieces]
    on_hand, since = part.stock, part.counted_on
    price = part.price
    used = below = 0
    placed: dict[str, list[int]] = {}
    orders: dict[str, Entry[Ordered]] = {}
    for entry in sorted(moves, key=lambda e: e.at):
        # What moved on the day of the count, or before, is in the count.
        after = since is None or entry.at.date() > since
        if is_a(entry, StockCounted):
            on_hand, since, below = entry.fields.number, None, 0
        elif is_a(entry, Ordered):
            orders[entry.fields.order or entry.id] = entry
            placed[entry.fields.order or entry.id] = [entry.fields.number, 0]
        elif is_a(entry, Arrived):
            paid = _arrive(placed, orders, entry.fields.order, entry.fields.number)
            # What was paid, else what was agreed on, else the price of the list.
            price = next((p for p in (entry.fields.price, paid) if p is not None), price)
            on_hand += entry.fields.number if after else 0
        elif entry.id in gone:
            used += gone[entry.id]
            on_hand -= gone[entry.id] if after else 0
        # The lowest and not the last: what came later was not there to be used (DESIGN 4b, 3).
        below = max(below, -on_hand)
    note = ""
    if on_hand < 0:
        note = f"{-on_hand} more {part.name} used than were counted. Count the shelf."
    shelf = max(0, on_hand)
    listed_orders = tuple(
        _order(key, entry, part, placed[key], today) for key, entry in orders.items()
    )
    needed = max(0, sum(one.number for one in needs if one.sure))
    to_come = sum(one.to_come for one in listed_orders)
    to_order = max(0, needed - shelf - to_come)
    arrives = None
    if today is not None and part.lead_days is not None:
        arrives = arrival_if_ordered(today, part.lead_days)
    return PartStock(
        part=part,
        needs=needs,
        on_hand=shelf,
        orders=listed_orders,
        used=used,
        each=price,
        used_cost=None if price is None else price * used,
        to_order=to_order,
        arrives=arrives,
        note=note,
        below=below,
    )


def _arrive(
    placed: Mapping[str, list[int]], orders: Mapping[str, Entry[Ordered]], order: str, number: int
) -> float | None:
    """Put an arrival to its order, or to the oldest that is still to come; the price agreed on."""
    chosen = [order] if order in placed else list(placed)
    price: float | None = None
    for key in chosen:
        ordered, arrived = placed[key]
        # An arrival that names its order is all of it, though it be more than was ordered.
        taken = max(0, number if key == order else min(number, ordered - arrived))
        placed[key][1] += taken
        number -= taken
        agreed = orders[key].fields.price
        if taken and agreed is not None:
            price = float(agreed)
    return price


def _order(
    key: str, entry: Entry[Ordered], part: Part, placed: Sequence[int], today: date | None
) -> PartOrder:
    number, arrived = placed
    ordered_on = entry.at.date()
    due = None
    if entry.fields.due:
        due = last_day(entry.fields.due)
    elif part.lead_days is not None:
        due = arrival_if_ordered(ordered_on, part.lead_days)
    price = entry.fields.price
    return PartOrder(
        id=key,
        part=part.id,
        number=number,
        arrived=arrived,
        ordered_on=ordered_on,
        due=due,
        supplier=entry.fields.supplier or part.supplier,
        price=part.price if price is None else float(price),
        overdue=arrived < number and due is not None and today is not None and due < today,
        entry=entry,
    )


def _cost(
    facts: JobFacts,
    parts: Mapping[str, PartStock],
    work: JobWork,
    pieces: Iterable[WentIn],
    needs: Iterable[PartNeed],
) -> Cost:
    so_far = sum(one.used_cost or 0.0 for one in parts.values())
    to_finish = sum((one.part.price or 0.0) * one.needed for one in parts.values())
    left = done = 0.0
    for one in work.tasks.values():
        # Offered work costs nothing until somebody begins it.
        if one.task.offered and one.state == "NOT STARTED":
            continue
        finished = sum(place.state == "DONE" for place in one.places)
        left += minutes_left(one)[1] * one.task.hands
        done += minutes_left(one, finished)[1] * one.task.hands
    rate = facts.shop.labour_per_hour
    return Cost(
        currency=facts.shop.currency,
        parts_so_far=so_far,
        parts_to_finish=to_finish,
        minutes_so_far=done,
        minutes_to_finish=left,
        labour_so_far=None if rate is None else done / 60 * rate,
        labour_to_finish=None if rate is None else left / 60 * rate,
        unpriced=tuple(
            one.part.name
            for one in parts.values()
            if (one.part.price is None and one.needed) or (one.each is None and one.used)
        ),
        unknown_so_far=_unknown(
            (_named(one, facts), parts[one.part].each if one.part in parts else None)
            for one in pieces
        ),
        unknown_to_finish=_unknown(
            (
                _named(one, facts),
                parts[one.part].part.price if one.part in parts else None,
            )
            for one in needs
            if one.sure and (one.part not in parts or parts[one.part].needed)
        ),
        quoted=tuple(
            (one.part.name, one.part.price)
            for one in parts.values()
            if one.part.quoted and one.part.price is not None and one.may_need and not one.needed
        ),
    )


def _named(one: WentIn | PartNeed, facts: JobFacts) -> str:
    return facts.part_name(one.part) if one.part else item_kind(one.item)


def _unknown(found: Iterable[tuple[str, float | None]]) -> tuple[str, ...]:
    """The names of what has no price, each once."""
    return tuple(dict.fromkeys(name for name, price in found if price is None))


# ---------------------------------------------------------------- told


def money_words(amount: float | None, currency: str) -> str:
    """An amount, or that nobody knows it.

    >>> money_words(1150, "$"), money_words(None, "$")
    ('$1,150.00', 'price not on file')
    """
    return "price not on file" if amount is None else f"{currency}{amount:,.2f}"


def sum_words(amount: float, unknown: Sequence[str], currency: str) -> str:
    """A sum of parts, which says what it leaves out; what nobody knows is never a sum of 0.

    >>> sum_words(1150, (), "$"), sum_words(6, ("wire",), "$"), sum_words(0, ("wire",), "$")
    ('$1,150.00', '$6.00, without 1 of unknown price', 'price not on file')
    """
    if not unknown or not amount:
        return money_words(None if unknown else amount, currency)
    return f"{money_words(amount, currency)}, without {len(unknown)} of unknown price"


def orders_waited_for(stock: Stock) -> tuple[Waiting, ...]:
    """What is on order, as things that work waits on."""
    found = []
    for order in stock.orders:
        name = stock.parts[order.part].part.name
        number = f"{order.to_come} " if order.to_come > 1 else ""
        due = "nobody knows when it comes"
        if order.due is not None:
            due = f"{'was due' if order.overdue else 'due'} {order.due:%a} {on_day(order.due)}"
        supplier = f" from {order.supplier}" if order.supplier else ""
        found.append(
            Waiting(
                task="",
                sentence=f"{number}{name}, ordered{supplier} {on_day(order.ordered_on)}, {due}.",
                since=order.entry.at,
                who=(order.entry.by,),
                until=order.due,
            )
        )
    return tuple(found)


def order_words(one: PartStock, currency: str) -> str:
    """A line of the order list."""
    words = so_many(one.to_order, one.part.unit, one.part.name)
    words += f", {money_words(one.order_price, currency)}"
    if one.arrives is None:
        return f"{words}; nobody knows how long it takes."
    return f"{words}; here {one.arrives:%a} {on_day(one.arrives)} when ordered today."


def shelf_words(one: PartStock) -> str:
    """Needed, on the shelf, on order, in one breath."""
    said = [f"{one.needed} needed", f"{one.on_hand} on the shelf"]
    if one.on_order:
        said.append(f"{one.on_order} on order")
    if one.may_need:
        said.append(f"{one.may_need} more if what is not decided fails")
    return f"{one.part.name}: {', '.join(said)}."
