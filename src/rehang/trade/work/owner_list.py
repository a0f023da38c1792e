"""What an owner is shown of the parts: what, why and what it costs."""

from __future__ import annotations

from collections.abc import Sequence

from rehang.trade.terms.wording import lower_first
from rehang.trade.work.stock_values import OwnerLine, PartNeed, PartStock, Stock

__all__ = ["owner_lines"]


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


def _owner_line(
    one: PartStock, number: int, needs: Sequence[PartNeed], *, quoted: bool
) -> OwnerLine:
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


def _owner_why(need: PartNeed) -> str:
    if need.number < 0:
        return f"{-need.number} fewer: {need.why}"
    if need.task:
        return f"{need.number} for {lower_first(need.why)}"
    return need.why
