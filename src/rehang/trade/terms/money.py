"""Money as people write it: decimals, never binary fractions, with the shop's own sign."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import ROUND_HALF_EVEN, Decimal

from rehang.trade.terms.errors import BadInput
from rehang.trade.terms.quantities import parse_number

__all__ = ["CENT", "money_from", "money_said", "plain_money", "sum_of", "total_of"]

CENT = Decimal("0.01")
# Beyond any price of one job: a slip of the key (our choice, no source).
_MOST = Decimal(10_000_000)


def money_from(text: str, what: str, where: str = "") -> Decimal:
    """An amount of money out of what somebody wrote, without a sign.

    >>> money_from("1,240.5", "The price")
    Decimal('1240.50')

    Raises
    ------
    BadInput
        It is no number, below 0, or finer than a hundredth.
    """
    amount = parse_number(text, where)
    if not 0 <= amount <= _MOST:
        raise BadInput(f"{what} is {text.strip()}. Write 0 to {_MOST:,}.", where)
    if amount != amount.quantize(CENT):
        raise BadInput(f"{what} is {text.strip()}. Write two decimals at most.", where)
    return amount.quantize(CENT)


def plain_money(amount: Decimal) -> str:
    """An amount as an entry keeps it: digits and a point.

    >>> plain_money(Decimal("1240.5"))
    '1240.50'
    """
    # DESIGN 4a, 19: round half to even.
    return f"{amount.quantize(CENT, ROUND_HALF_EVEN):f}"


def money_said(amount: Decimal | None, sign: str) -> str:
    """An amount as people read it, or that nobody knows it.

    >>> money_said(Decimal("1240.5"), "$"), money_said(Decimal(-3), "€"), money_said(None, "$")
    ('$1,240.50', '-€3.00', 'price not on file')
    """
    if amount is None:
        return "price not on file"
    rounded = amount.quantize(CENT, ROUND_HALF_EVEN)
    return f"{'-' if rounded < 0 else ''}{sign}{abs(rounded):,.2f}"


def sum_of(amounts: Iterable[Decimal | None], sign: str) -> str:
    """A sum that says what it leaves out; what nobody knows is never 0.

    >>> sum_of([Decimal(3), None], "$"), sum_of([None], "$")
    ('$3.00, without 1 of unknown price', 'price not on file')
    """
    known, unknown = total_of(amounts)
    if not unknown:
        return money_said(known, sign)
    return (
        f"{money_said(known, sign)}, without {unknown} of unknown price"
        if known
        else money_said(None, sign)
    )


def total_of(amounts: Iterable[Decimal | None]) -> tuple[Decimal, int]:
    """The sum of those that are known, and how many are not."""
    found = list(amounts)
    return sum((one for one in found if one is not None), Decimal(0)), found.count(None)
