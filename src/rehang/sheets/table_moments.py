"""Days, times of day and yes or no, out of the cells of a table."""

from __future__ import annotations

import re
from datetime import date, datetime, time

from rehang.decode.tables import Cell
from rehang.trade.terms.errors import BadInput

__all__ = ["cell_text", "moment", "yes_or_no"]


def yes_or_no(text: str, name: str) -> bool | None:
    if not text:
        return None
    plain = text.casefold()
    if plain in ("yes", "true", "x"):
        return True
    if plain in ("no", "false"):
        return False
    raise BadInput(f'"{name}" is "{text}". Write yes or no.')


def moment(day: Cell, clock: Cell) -> datetime:
    if isinstance(day, time):
        raise BadInput("There is a time of day where there should be a day. Write the day too.")
    if isinstance(day, str):
        day = _written_moment(day)
    clock_given = clock.strip() if isinstance(clock, str) else clock
    if isinstance(day, datetime):
        if clock_given != "":
            raise BadInput("The day has a time of day in it and another beside it. Leave one out.")
        return day
    if clock_given == "":
        raise BadInput(
            f'"{day.isoformat()}" is a day with no time. Write both, as in 2026-10-12 09:05.'
        )
    if isinstance(clock_given, str):
        try:
            clock_given = time.fromisoformat(clock_given.zfill(5))
        except ValueError:
            raise BadInput(f'"{clock_given}" is not a time of day. Write it as in 09:05.') from None
    if isinstance(clock_given, datetime):
        clock_given = clock_given.time()
    if not isinstance(clock_given, time):
        raise BadInput(f'"{clock_given.isoformat()}" is a day where a time of day should be.')
    return datetime.combine(day, clock_given)


def _written_moment(text: str) -> datetime | date:
    no_date = BadInput(
        f'"{text}" is not a date that reads one way only. Write year, month and day, as in '
        "2026-10-12 09:05."
    )
    if not re.match(r"\d{4}-\d{2}-\d{2}($|[T ]\d{2}:\d{2})", text):
        raise no_date
    try:
        return date.fromisoformat(text) if len(text) == 10 else datetime.fromisoformat(text)
    except ValueError:
        raise no_date from None


def cell_text(cell: Cell) -> str:
    return cell if isinstance(cell, str) else cell.isoformat()
