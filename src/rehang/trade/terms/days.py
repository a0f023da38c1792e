"""A day as people write it: whole, or as a month or a quarter."""

from __future__ import annotations

import re
from datetime import date

from rehang.trade.terms.errors import BadInput

__all__ = ["last_day"]

# Years that a written day can lie in: nothing of a hangar is older, or promised for longer.
_DAYS = (1900, 2100)


def last_day(text: str, where: str = "") -> date:
    """The last good day of a written date: a month or quarter means its last day."""
    # [0-9] and not \d, which takes the digits of every script.
    full = re.fullmatch(r"([0-9]{4})-([0-9]{2})-([0-9]{2})", text)
    month = re.fullmatch(r"([0-9]{4})-([0-9]{2})", text)
    quarter = re.fullmatch(r"([0-9]{4})-Q([1-4])", text)
    written = full or month or quarter
    if written and not _DAYS[0] <= int(written[1]) <= _DAYS[1]:
        raise BadInput(f'"{text}" is in the year {written[1]}. Look at the digits again.', where)
    try:
        if full:
            return date.fromisoformat(text)
        if month:
            return _end_of_month(int(month[1]), int(month[2]))
        if quarter:
            return _end_of_month(int(quarter[1]), 3 * int(quarter[2]))
    except ValueError:
        # A form that is none and a day that is none, as 30 February, get the one sentence.
        pass
    raise BadInput(
        f'"{text}" is not a date. Write 2027-01-31, 2027-01 or 2027-Q1.',
        where,
    )


def _end_of_month(year: int, month: int) -> date:
    if not 1 <= month <= 12:
        raise ValueError(month)
    following = date(year + month // 12, month % 12 + 1, 1)
    return date.fromordinal(following.toordinal() - 1)
