"""Work found: what it was priced at, what the owner said, what it took, and whether it is done."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from rehang.trade.facts.job_facts import JobFacts
from rehang.trade.known.state import JobState
from rehang.trade.terms.entries import Entry, is_a, of_kind
from rehang.trade.terms.kinds.extra import (
    ACCEPTED,
    DECLINED,
    DONE,
    ExtraClosed,
    ExtraSent,
    ExtraSpent,
    OwnerAnswered,
    WarrantyGiven,
    WorkFound,
)
from rehang.trade.terms.kinds.stock import Arrived, Ordered, Used
from rehang.trade.terms.money import total_of

__all__ = ["CostLine", "Extra", "Priced", "extra_of", "extras_of", "part_price"]


@dataclass(frozen=True, slots=True)
class CostLine:
    """One line of a price: so many of what, at what each; None where nobody knows the price."""

    what: str
    number: Decimal
    unit: str
    each: Decimal | None

    @property
    def total(self) -> Decimal | None:
        return None if self.each is None else self.number * self.each


@dataclass(frozen=True, slots=True)
class Priced:
    """What work comes to: parts, labour and outside work."""

    parts: tuple[CostLine, ...]
    labour: CostLine | None
    outside: tuple[CostLine, ...]

    @property
    def lines(self) -> tuple[CostLine, ...]:
        labour = (self.labour,) if self.labour is not None else ()
        return (*self.parts, *labour, *self.outside)

    @property
    def total(self) -> tuple[Decimal, int]:
        """The sum of what has a price, and how many lines have none."""
        return total_of(one.total for one in self.lines)

    @property
    def hours(self) -> Decimal:
        return self.labour.number if self.labour is not None else Decimal(0)


@dataclass(frozen=True, slots=True)
class Extra:
    """One piece of work found, as the book leaves it."""

    entry: Entry[WorkFound]
    sent: tuple[Entry[ExtraSent], ...]
    answer: Entry[OwnerAnswered] | None
    spent: tuple[Entry[ExtraSpent], ...]
    used: tuple[Entry[Used], ...]
    closed: Entry[ExtraClosed] | None
    warranties: tuple[Entry[WarrantyGiven], ...]
    estimate: Priced
    actual: Priced

    @property
    def id(self) -> str:
        return self.entry.id

    @property
    def told(self) -> WorkFound:
        return self.entry.fields

    @property
    def is_accepted(self) -> bool:
        return self.answer is not None and self.answer.fields.answer == ACCEPTED

    @property
    def is_declined(self) -> bool:
        return self.answer is not None and self.answer.fields.answer == DECLINED

    @property
    def is_done(self) -> bool:
        return self.closed is not None and self.closed.fields.outcome == DONE

    @property
    def standing(self) -> str:
        """One of DONE, TAKEN BACK, ACCEPTED, DECLINED, WAITS FOR THE OWNER, NOT SENT."""
        if self.closed is not None:
            return self.closed.fields.outcome.upper()
        if self.answer is not None:
            return self.answer.fields.answer.upper()
        return "WAITS FOR THE OWNER" if self.sent else "NOT SENT"


def extras_of(facts: JobFacts, state: JobState) -> tuple[Extra, ...]:
    """All work found that is not struck, in the order of the book."""
    return state.once("extras", lambda: _extras(facts, state), facts)


def _extras(facts: JobFacts, state: JobState) -> tuple[Extra, ...]:
    live = state.live()
    return tuple(_extra(one, live, facts) for one in of_kind(live, WorkFound))


def extra_of(facts: JobFacts, state: JobState, extra: str) -> Extra | None:
    """One piece of work found; None where the book has none by that id that stands."""
    return next((one for one in extras_of(facts, state) if one.id == extra), None)


def part_price(part: str, facts: JobFacts, live: Iterable[Entry]) -> Decimal | None:
    """The price of one: as last paid or ordered, else as on the list of parts; None for neither."""
    paid = [
        one.fields.price
        for one in live
        if is_a(one, Ordered, Arrived) and one.fields.part == part and one.fields.price is not None
    ]
    listed = facts.parts[part].price if part in facts.parts else None
    found = paid[-1] if paid else listed
    # By its shortest spelling: 4.1 in a file is 4.10, not the fraction that a machine makes of it.
    return None if found is None else Decimal(str(found))


def _extra(entry: Entry[WorkFound], live: list[Entry], facts: JobFacts) -> Extra:
    def of_it(kind: type[Any]) -> tuple[Any, ...]:
        return tuple(one for one in of_kind(live, kind) if one.fields.extra == entry.id)

    answers, closed = of_it(OwnerAnswered), of_it(ExtraClosed)
    spent, used = of_it(ExtraSpent), of_it(Used)
    estimate = _estimate(entry.fields, facts)
    return Extra(
        entry=entry,
        sent=tuple(one for one in of_kind(live, ExtraSent) if entry.id in one.fields.extras),
        answer=answers[-1] if answers else None,
        spent=spent,
        used=used,
        closed=closed[-1] if closed else None,
        warranties=of_it(WarrantyGiven),
        estimate=estimate,
        actual=_actual(entry.fields, spent, used, live, facts),
    )


def _known(text: object) -> Decimal | None:
    return Decimal(str(text)) if text not in (None, "") else None


def _estimate(told: WorkFound, facts: JobFacts) -> Priced:
    return Priced(
        parts=tuple(_part_line(one, facts) for one in told.parts),
        labour=CostLine("Labour", Decimal(told.hours), "h", _known(told.rate))
        if told.hours
        else None,
        outside=tuple(
            CostLine(str(one["what"]), Decimal(1), "", _known(one.get("price")))
            for one in told.outside
        ),
    )


def _part_line(one: Mapping[str, Any], facts: JobFacts) -> CostLine:
    name = str(one["part"])
    return CostLine(facts.part_name(name), Decimal(one["number"]), "", _known(one.get("each")))


def _actual(
    told: WorkFound,
    spent: Iterable[Entry[ExtraSpent]],
    used: Iterable[Entry[Used]],
    live: list[Entry],
    facts: JobFacts,
) -> Priced:
    """What it took, at the rate that was said and the prices that were paid."""
    spent = list(spent)
    hours = sum((Decimal(one.fields.hours) for one in spent if one.fields.hours), Decimal(0))
    offered = {str(one["part"]): _known(one.get("each")) for one in told.parts}
    parts = []
    for one in used:
        name = one.fields.part
        each = part_price(name, facts, live)
        parts.append(
            CostLine(
                facts.part_name(name),
                Decimal(one.fields.number),
                "",
                offered.get(name) if each is None else each,
            )
        )
    return Priced(
        parts=tuple(parts),
        labour=CostLine("Labour", hours, "h", _known(told.rate)) if hours else None,
        outside=tuple(
            CostLine(one.fields.what, Decimal(1), "", Decimal(one.fields.cost))
            for one in spent
            if one.fields.cost
        ),
    )
