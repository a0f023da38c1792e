"""Parts: what is needed and why, what is on the shelf, on order and short, and what it all costs.

Needs come from verdicts (a REJECT needs what replaces it), from what the tasks still to be done
use up, and from what people write. The shelf is the count in ``stock.toml``, or a later one in the
book, and what came and went since.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from types import MappingProxyType

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.facts.parts import Part
from rehang.trade.gate.stock_rules import STOCK_KINDS
from rehang.trade.known.state import JobState, item_kind, item_name
from rehang.trade.known.went_in import WentIn, part_for, went_in
from rehang.trade.terms.entries import Entry, last_day
from rehang.trade.terms.wording import listed, lower_first, on_day, upper_first
from rehang.trade.verdicts.item_verdict import ItemVerdict
from rehang.trade.work.progress import Work
from rehang.trade.work.todo import Waiting, minutes_left, uses_of

__all__ = [
    "Cost",
    "Need",
    "Order",
    "OwnerLine",
    "PartStock",
    "Stock",
    "arrival_if_ordered",
    "last_order_day",
    "order_words",
    "orders_waited_for",
    "owner_lines",
    "part_for",
    "shelf_words",
    "stock_of",
    "sum_words",
]

# Common practice, no source: with half of a set or more past saving, buy the whole set.
SET_RULE = 0.5


@dataclass(frozen=True, slots=True)
class Need:
    """So many of a part, and why.

    ``part`` is empty where no part on the stock list replaces the item. ``sure`` is False for what
    may be needed: an item that is not decided yet. ``item`` and ``task`` say what it is for.
    """

    part: str
    number: int
    why: str
    sure: bool
    item: str = ""
    task: str = ""
    photos: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Order:
    """An order, and what is still to come of it.

    ``due`` is the day it was said for, or the day its lead time gives; None where nobody knows.
    ``overdue`` says that the day has gone by.
    """

    id: str
    part: str
    number: int
    arrived: int
    ordered_on: date
    due: date | None
    supplier: str
    price: float | None
    overdue: bool
    entry: Entry

    @property
    def to_come(self) -> int:
        return max(0, self.number - self.arrived)


@dataclass(frozen=True, slots=True)
class PartStock:
    """One part: needed, on the shelf, on order, short.

    ``to_order`` is what neither the shelf nor an order covers; ``arrives`` the day it is here when
    it is ordered today, None where nobody knows its lead time. ``each`` is what one cost: the
    price of the last arrival or its order, else the list's. ``note`` says what was found odd.
    ``below`` is how far the count stood below zero at its lowest since the shelf was last counted.
    """

    part: Part
    needs: tuple[Need, ...]
    on_hand: int
    orders: tuple[Order, ...]
    used: int
    each: float | None
    used_cost: float | None
    to_order: int
    arrives: date | None
    note: str
    below: int = 0

    @property
    def needed(self) -> int:
        """How many are needed for sure; what people took off is taken off."""
        return max(0, sum(one.number for one in self.needs if one.sure))

    @property
    def may_need(self) -> int:
        return sum(one.number for one in self.needs if not one.sure)

    @property
    def on_order(self) -> int:
        return sum(one.to_come for one in self.orders)

    @property
    def short(self) -> int:
        """How many are needed and not on the shelf, ordered or not."""
        return max(0, self.needed - self.on_hand)

    @property
    def order_price(self) -> float | None:
        return None if self.part.price is None else self.part.price * self.to_order


@dataclass(frozen=True, slots=True)
class Cost:
    """Money so far and still to come; ``unpriced`` names parts whose price nobody wrote down.

    ``unknown_so_far`` and ``unknown_to_finish`` name all that each sum of parts leaves out because
    its price is not known, what is not on the list of parts with it. Labour is the task sheet's likely minutes at the shop's rate, None where no rate is on file.
    ``quoted`` are parts that wait for a decision and are in none of the sums.
    """

    currency: str
    parts_so_far: float
    parts_to_finish: float
    minutes_so_far: float
    minutes_to_finish: float
    labour_so_far: float | None
    labour_to_finish: float | None
    unpriced: tuple[str, ...]
    unknown_so_far: tuple[str, ...]
    unknown_to_finish: tuple[str, ...]
    quoted: tuple[tuple[str, float], ...]

    @property
    def so_far(self) -> float:
        return self.parts_so_far + (self.labour_so_far or 0.0)

    @property
    def to_finish(self) -> float:
        return self.parts_to_finish + (self.labour_to_finish or 0.0)


@dataclass(frozen=True, slots=True)
class Stock:
    """All the parts of a job.

    ``without_part`` are rejects that no part on the list replaces, ``uncounted`` what tasks use up
    and the list does not have. ``quarantine`` names rejects
    of which nobody wrote what became of them. ``fitted`` is what went in, part by part, with why
    and what it cost. ``set_words`` is the rule about whole sets, where it
    has something to say. ``said`` are sentences about entries that found no place here.
    """

    parts: Mapping[str, PartStock]
    without_part: tuple[Need, ...]
    uncounted: tuple[Need, ...]
    quarantine: tuple[str, ...]
    set_words: str
    fitted: tuple[OwnerLine, ...]
    cost: Cost
    said: tuple[str, ...]
    today: date | None

    def in_hand(self, part: str) -> int | None:
        """How many are on the shelf; None where the part is not on the list."""
        return self.parts[part].on_hand if part in self.parts else None

    @property
    def order_today(self) -> tuple[PartStock, ...]:
        """What is to be ordered, the longest in coming first."""
        found = [one for one in self.parts.values() if one.to_order]
        return tuple(
            sorted(found, key=lambda one: (one.arrives is not None, -_ordinal(one.arrives)))
        )

    @property
    def orders(self) -> tuple[Order, ...]:
        """What is on order, the soonest first."""
        found = [o for one in self.parts.values() for o in one.orders if o.to_come]
        return tuple(sorted(found, key=lambda o: (o.due is None, o.due or date.max)))

    @property
    def overdue(self) -> tuple[Order, ...]:
        return tuple(one for one in self.orders if one.overdue)


@dataclass(frozen=True, slots=True)
class OwnerLine:
    """One line of the owner's page: a part, how many, why, the photos, and the price."""

    name: str
    unit: str
    number: int
    each: float | None
    total: float | None
    why: tuple[str, ...]
    photos: tuple[str, ...]
    quoted: bool

    @property
    def head(self) -> str:
        """How many of what: ``4 × Plug``, ``8 qt of Oil``."""
        return f"{self.number} {f'{self.unit} of' if self.unit else '×'} {self.name}"


def _ordinal(day: date | None) -> int:
    return day.toordinal() if day is not None else 0


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
    work: Work,
    today: date | None,
) -> Stock:
    """The parts of a job as its book leaves them on ``today``.

    An entry about a part that ``stock.toml`` does not have (any more) stays in the book and is
    said; the rules refuse a new one.
    """
    live = state.live()
    said: list[str] = []
    about: dict[str, list[Entry]] = {name: [] for name in facts.parts}
    for entry in live:
        if entry.kind not in STOCK_KINDS:
            continue
        if entry.data["part"] in about:
            about[entry.data["part"]].append(entry)
        elif facts.parts:
            said.append(
                f'An entry of {on_day(entry.at)} is about the part "{entry.data["part"]}", which is '
                "not in stock.toml (any more). It stays in the book and counts for nothing."
            )
    needs = [*_item_needs(facts, items), *_task_needs(work), *_written_needs(about)]
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
        set_words=_set_words(facts, items),
        fitted=_fitted_lines(facts, parts, pieces, items),
        cost=_cost(facts, parts, work, pieces, needs),
        said=tuple(dict.fromkeys(said)),
        today=today,
    )


def _item_needs(facts: JobFacts, items: Sequence[ItemVerdict]) -> list[Need]:
    """What verdicts ask for: a REJECT for sure, what is not decided perhaps."""
    found = []
    for one in items:
        if one.verdict == "KEEP" or one.state.replaced_by:
            continue
        part = part_for(one.item, facts)
        sure = one.verdict == "REJECT"
        if part is None and not sure:
            continue
        reason = one.reasons[0] if one.reasons else one.next
        found.append(
            Need(
                part=part.id if part else "",
                number=1,
                why=f"{_item_words(one)} is {one.verdict}: {reason}",
                sure=sure,
                item=one.item,
                photos=tuple(e.data["photo"] for e in one.state.pictures),
            )
        )
    return found


def _item_words(one: ItemVerdict) -> str:
    if one.kind == "plug":
        return f"{one.name} ({one.place})" if one.place else one.name
    return f"{one.kind.capitalize()} {one.name}"


def _task_needs(work: Work) -> list[Need]:
    """What the tasks still to be done use up; offered work only once it is begun."""
    return [
        Need(use.part, use.number, f"{one.task.title}.", True, task=one.task.id)
        for one in work.tasks.values()
        if one.unfinished and not (one.task.offered and one.state == "NOT STARTED")
        for use in uses_of(one)
    ]


def _written_needs(about: Mapping[str, Sequence[Entry]]) -> list[Need]:
    found = []
    for name, entries in about.items():
        for entry in entries:
            if entry.kind in ("needed", "not_needed"):
                sign = 1 if entry.kind == "needed" else -1
                why = str(entry.data["reason"])
                found.append(
                    Need(name, sign * entry.data["number"], why, True, item=str(entry.get("item")))
                )
    return found


def _part_stock(
    part: Part,
    needs: tuple[Need, ...],
    entries: Sequence[Entry],
    pieces: Sequence[WentIn],
    today: date | None,
) -> PartStock:
    gone = {one.entry.id: one.number for one in pieces}
    moves = [e for e in entries if e.kind != "used"] + [one.entry for one in pieces]
    on_hand, since = part.stock, part.counted_on
    price = part.price
    used = below = 0
    placed: dict[str, list[int]] = {}
    orders: dict[str, Entry] = {}
    for entry in sorted(moves, key=lambda e: e.at):
        after = since is None or entry.at.date() > since
        number = gone.get(entry.id) or entry.get("number", 1)
        match entry.kind:
            case "stock_counted":
                on_hand, since, below = number, None, 0
            case "ordered":
                orders[str(entry.get("order") or entry.id)] = entry
                placed[str(entry.get("order") or entry.id)] = [number, 0]
            case "arrived":
                paid = _arrive(placed, orders, str(entry.get("order")), number)
                given = entry.get("price", None)
                price = next((p for p in (given, paid) if p is not None), price)
                on_hand += number if after else 0
            case "used" | "replaced" | "fitted":
                used += number
                on_hand -= number if after else 0
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
    placed: Mapping[str, list[int]], orders: Mapping[str, Entry], order: str, number: int
) -> float | None:
    """Put an arrival to its order, or to the oldest that is still to come; the price agreed on."""
    chosen = [order] if order in placed else list(placed)
    price: float | None = None
    for key in chosen:
        ordered, arrived = placed[key]
        taken = max(0, number if key == order else min(number, ordered - arrived))
        placed[key][1] += taken
        number -= taken
        if taken and orders[key].get("price", None) is not None:
            price = float(orders[key].get("price"))
    return price


def _order(key: str, entry: Entry, part: Part, placed: Sequence[int], today: date | None) -> Order:
    number, arrived = placed
    ordered_on = entry.at.date()
    due = None
    if entry.get("due"):
        due = last_day(str(entry.get("due")))
    elif part.lead_days is not None:
        due = arrival_if_ordered(ordered_on, part.lead_days)
    price = entry.get("price", None)
    return Order(
        id=key,
        part=part.id,
        number=number,
        arrived=arrived,
        ordered_on=ordered_on,
        due=due,
        supplier=str(entry.get("supplier") or part.supplier),
        price=part.price if price is None else float(price),
        overdue=arrived < number and due is not None and today is not None and due < today,
        entry=entry,
    )


def _set_words(facts: JobFacts, items: Sequence[ItemVerdict]) -> str:
    """What common practice says of a set of plugs that fails in part."""
    plugs = [one for one in items if one.kind == "plug" and one.state.came_out_of]
    whole = len(facts.layout.walk)
    most = math.ceil(whole * SET_RULE)
    rejects = [one for one in plugs if one.verdict == "REJECT"]
    gone = [one.name for one in rejects]
    perhaps = [one.name for one in plugs if one.verdict in ("REWORK", "NOT YET")]
    rule = (
        f"from {most} of {whole} past saving the whole set is bought (common practice, no source)"
    )
    if not perhaps and all(one.state.replaced_by for one in rejects):
        # What to buy is settled: each has its new one.
        return ""
    if len(gone) >= most:
        return f"{len(gone)} of {whole} plugs are rejects ({listed(gone)}): {rule}."
    if gone and len(gone) + len(perhaps) >= most:
        more = most - len(gone)
        return (
            f"{len(gone)} of {whole} plugs are rejects. If {more} of {listed(perhaps)} "
            f"{'goes' if more == 1 else 'go'} too, {rule}."
        )
    return ""


def _fitted_lines(
    facts: JobFacts,
    parts: Mapping[str, PartStock],
    pieces: Iterable[WentIn],
    items: Sequence[ItemVerdict],
) -> tuple[OwnerLine, ...]:
    """What went in, a line for each part: how many, for what, the photos, and what it cost."""
    verdicts = {one.item: one for one in items}
    grouped: dict[str, list[WentIn]] = {}
    for piece in pieces:
        # What no part is tied to has a line of its own, by its kind.
        grouped.setdefault(piece.part or f"kind {item_kind(piece.item)}", []).append(piece)
    lines = []
    for key, ones in grouped.items():
        known = parts.get(key)
        number = sum(one.number for one in ones)
        each = known.each if known is not None else None
        lines.append(
            OwnerLine(
                name=known.part.name
                if known is not None
                else ones[0].part or upper_first(item_kind(ones[0].item)),
                unit=known.part.unit if known is not None else "",
                number=number,
                each=each,
                total=None if each is None else each * number,
                why=(
                    *(_piece_why(one, verdicts) for one in ones if one.item),
                    *_used_why(facts, [one for one in ones if not one.item]),
                ),
                photos=tuple(
                    dict.fromkeys(
                        str(entry.data["photo"])
                        for one in ones
                        for about in (one.stands_for, one.item)
                        if about in verdicts
                        for entry in verdicts[about].state.pictures
                    )
                ),
                quoted=False,
            )
        )
    return tuple(sorted(lines, key=lambda line: (line.total is None, -(line.total or 0.0))))


def _piece_why(one: WentIn, verdicts: Mapping[str, ItemVerdict]) -> str:
    """Which item went in, for which, and why that had to go."""
    name = item_name(one.item)
    if item_kind(one.item) != "plug":
        name = f"{item_kind(one.item).capitalize()} {name}"
    old = verdicts.get(one.stands_for)
    if old is None:
        return f"{name}, {one.place}." if one.place else f"{name}."
    return f"{name} went in. {_item_words(old)} is {old.verdict}: {(*old.reasons, old.next)[0]}"


def _used_why(facts: JobFacts, ones: Iterable[WentIn]) -> list[str]:
    """What was used without a name, by the work it was used for."""
    summed: dict[str, int] = {}
    for one in ones:
        task = facts.tasks.get(one.task)
        for_what = lower_first(task.title) if task is not None else one.task or one.place
        summed[for_what] = summed.get(for_what, 0) + one.number
    return [
        f"{number} for {for_what}." if for_what else f"{number} used."
        for for_what, number in summed.items()
    ]


def _cost(
    facts: JobFacts,
    parts: Mapping[str, PartStock],
    work: Work,
    pieces: Iterable[WentIn],
    needs: Iterable[Need],
) -> Cost:
    so_far = sum(one.used_cost or 0.0 for one in parts.values())
    to_finish = sum((one.part.price or 0.0) * one.needed for one in parts.values())
    left = done = 0.0
    for one in work.tasks.values():
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
            (one.part or item_kind(one.item), parts[one.part].each if one.part in parts else None)
            for one in pieces
        ),
        unknown_to_finish=_unknown(
            (
                one.part or item_kind(one.item),
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


def _unknown(found: Iterable[tuple[str, float | None]]) -> tuple[str, ...]:
    """The names of what has no price, each once."""
    return tuple(dict.fromkeys(name for name, price in found if price is None))


# ---------------------------------------------------------------- told


def sum_words(amount: float, unknown: Sequence[str], currency: str) -> str:
    """A sum of parts, which says what it leaves out; what nobody knows is never a sum of 0.

    >>> sum_words(1150, (), "$"), sum_words(6, ("wire",), "$"), sum_words(0, ("wire",), "$")
    ('$1,150.00', '$6.00, without 1 of unknown price', 'price not on file')
    """
    if not unknown:
        return f"{currency}{amount:,.2f}"
    if not amount:
        return "price not on file"
    return f"{currency}{amount:,.2f}, without {len(unknown)} of unknown price"


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


def owner_lines(stock: Stock) -> tuple[OwnerLine, ...]:
    """The owner's page: per part how many, why, the photos and the price; dearest first.

    A need that people took off is told with its reason. What waits for a decision comes last.
    """
    sure, perhaps = [], []
    for one in stock.parts.values():
        certain = [need for need in one.needs if need.sure]
        doubtful = [need for need in one.needs if not need.sure]
        if one.needed:
            sure.append(_owner_line(one, one.needed, certain, quoted=one.part.quoted))
        if doubtful and one.part.quoted:
            perhaps.append(_owner_line(one, len(doubtful), doubtful, quoted=True))
    sure.sort(key=lambda line: -(line.total or 0.0))
    return (*sure, *perhaps)


def _owner_line(one: PartStock, number: int, needs: Sequence[Need], *, quoted: bool) -> OwnerLine:
    each = one.part.price
    return OwnerLine(
        name=one.part.name,
        unit=one.part.unit,
        number=number,
        each=each,
        total=None if each is None else each * number,
        why=tuple(_owner_why(need) for need in needs),
        photos=tuple(dict.fromkeys(photo for need in needs for photo in need.photos)),
        quoted=quoted,
    )


def _owner_why(need: Need) -> str:
    if need.number < 0:
        return f"{-need.number} fewer: {need.why}"
    if need.task:
        return f"{need.number} for {lower_first(need.why)}"
    return need.why


def order_words(one: PartStock) -> str:
    """A line of the order list."""
    price = one.order_price
    unit = f"{one.part.unit} of " if one.part.unit else ""
    words = f"{one.to_order} {unit}{one.part.name}"
    words += ", price not on file" if price is None else f", {price:,.2f}"
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
