"""Parts and orders, as values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from rehang.trade.facts.parts import Part
from rehang.trade.terms.entries import Entry
from rehang.trade.terms.kinds.stock import Ordered
from rehang.trade.terms.wording import so_many

__all__ = ["Cost", "OwnerLine", "PartNeed", "PartOrder", "PartStock", "Stock"]


@dataclass(frozen=True, slots=True)
class PartNeed:
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
class PartOrder:
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
    entry: Entry[Ordered]

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
    needs: tuple[PartNeed, ...]
    on_hand: int
    orders: tuple[PartOrder, ...]
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
    without_part: tuple[PartNeed, ...]
    uncounted: tuple[PartNeed, ...]
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
            # Of which nobody knows how long it takes comes first: it may take the longest.
            sorted(found, key=lambda one: (one.arrives is not None, -_ordinal(one.arrives)))
        )

    @property
    def orders(self) -> tuple[PartOrder, ...]:
        """What is on order, the soonest first."""
        found = [o for one in self.parts.values() for o in one.orders if o.to_come]
        return tuple(sorted(found, key=lambda o: (o.due is None, o.due or date.max)))

    @property
    def overdue(self) -> tuple[PartOrder, ...]:
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
        return so_many(self.number, self.unit, self.name)


def _ordinal(day: date | None) -> int:
    return day.toordinal() if day is not None else 0
