"""Small pieces of sentences: days, lists, plurals."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from types import MappingProxyType

from rehang.trade.terms.days import last_day

__all__ = [
    "FILE_WORDS",
    "NOT_JUDGED_FOR_NO_LIMIT",
    "NOT_JUDGED_FOR_NO_SOURCE",
    "NO_LIMIT",
    "NO_SERIAL",
    "NO_SOURCE",
    "accuracy_not_known",
    "at_time",
    "invisible_in",
    "is_blank",
    "listed",
    "lower_first",
    "on_day",
    "plural",
    "so_many",
    "stopped",
    "upper_first",
    "whole",
    "with_stop",
    "written_day",
]

# What sentences and pages call what each file of a job holds, after "the": a mechanic opens no file.
FILE_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "engine.toml": "engine data",
        "shop.toml": "shop's data",
        "people.toml": "list of people",
        "limits.toml": "limits",
        "meters.toml": "meters",
        "layout.toml": "layout",
        "checks.toml": "check sheet",
        "tasks.toml": "task sheet",
        "stock.toml": "parts list",
        "recurring.toml": "directives and inspections",
        "reasons.toml": "reasons to come off",
        "run.toml": "ground run's sheet",
        "torque.toml": "fasteners to torque",
    }
)
# What people write for a serial or a number that they do not have.
NO_SERIAL = (
    "", "?", "??", "-", "--", "none", "n/a", "na", "unknown", "unk", "no serial", "not known", "tbd", "tba",
)  # fmt: skip
# Letters and symbols that Unicode draws as nothing: Hangul fillers and the empty Braille cell.
_DRAWN_AS_NOTHING = "\u115f\u1160\u2800\u3164\uffa0"

# Said wherever a reading has nothing to be judged by.
NO_LIMIT = "no limit on file"
NO_SOURCE = "the limit on file names no source"
NOT_JUDGED_FOR_NO_LIMIT = "No limit on file, so it is measured and not judged."
NOT_JUDGED_FOR_NO_SOURCE = (
    "The limit on file names no document, revision and person, so it judges nothing."
)


def accuracy_not_known(meter: str) -> str:
    """Why what a meter of unknown accuracy read is NOT READ, and what to do."""
    return (
        f"The accuracy of {meter} is not known. Write it down as its certificate or its maker's sheet "
        "says, or read it on another meter."
    )


def is_blank(text: str) -> bool:
    """Whether nothing of a text can be seen: spaces of every kind, invisible characters, none.

    >>> is_blank(" \\u00a0\\u200b\\ufeff"), is_blank("ok")
    (True, False)
    """
    # Separators, controls and formats, and marks that stand on no letter (Unicode, chapter 4.5).
    return all(unicodedata.category(one)[0] in "ZCM" or one in _DRAWN_AS_NOTHING for one in text)


def on_day(when: date) -> str:
    """A day as sentences write it.

    >>> on_day(date(2026, 10, 7))
    '7 Oct 2026'
    """
    return f"{when.day} {when:%b %Y}"


def at_time(when: datetime) -> str:
    """A moment as sentences write it, on the clock that it carries.

    >>> at_time(datetime(2026, 10, 7, 9, 5))
    '7 Oct 2026, 09:05'
    """
    return f"{on_day(when)}, {when:%H:%M}"


def written_day(text: str) -> str:
    """A date as a file holds it, as sentences write it; a month or a quarter stays one.

    >>> written_day("2026-10-07"), written_day("2027-01"), written_day("2027-Q1")
    ('7 Oct 2026', 'Jan 2027', 'Q1 2027')
    """
    if not text:
        return ""
    if "Q" in text:
        year, _, quarter = text.partition("-")
        return f"{quarter} {year}"
    last = last_day(text)
    return f"{last:%b %Y}" if len(text) == len("2027-01") else on_day(last)


def listed(words: Sequence[str], last: str = "and") -> str:
    """Words as a list in a sentence.

    >>> listed(["2B", "4T", "4B"])
    '2B, 4T and 4B'
    """
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {last} {words[-1]}"


def plural(word: str, number: int) -> str:
    """A word for one or for more.

    >>> plural("can", 2), plural("box", 2), plural("can", 1)
    ('cans', 'boxes', 'can')
    """
    if number == 1:
        return word
    return f"{word}{'es' if word.endswith(('s', 'x', 'ch', 'sh')) else 's'}"


def so_many(number: int, unit: str, name: str) -> str:
    """How many of what; a unit of one or two letters is a symbol, which has no plural.

    >>> so_many(2, "can", "Solvent"), so_many(8, "qt", "Oil"), so_many(4, "", "Plug")
    ('2 cans of Solvent', '8 qt of Oil', '4 × Plug')
    """
    if not unit:
        return f"{number} × {name}"
    return f"{number} {unit if len(unit) < len('can') else plural(unit, number)} of {name}"


def upper_first(text: str) -> str:
    """A sentence's first letter made large; the rest is left as written."""
    return text[:1].upper() + text[1:]


def lower_first(text: str) -> str:
    """A sentence's first letter made small, to go on within another; "OL" and "K0412" stay."""
    within = text[1:2].islower() or text[1:2] in ("", " ")
    return text[:1].lower() + text[1:] if within else text


def whole(text: str) -> int | None:
    """A whole number of a form or an address, 0 to 9 and at most nine of them; None for anything else."""
    return int(text) if len(text) <= 9 and text.isascii() and text.isdigit() else None


def with_stop(text: str) -> str:
    """A sentence with its capital and its full stop."""
    return stopped(upper_first(text.strip()))


def stopped(text: str) -> str:
    """A sentence as it is, with its full stop where it has none."""
    return text if text.endswith((".", "!", "?")) else f"{text}."


def invisible_in(text: str) -> str:
    """The first character of a text that cannot be seen, the plain space left aside; empty if none.

    >>> invisible_in("K0\u200b412") == "\u200b", invisible_in("K 0412")
    (True, '')
    """
    return next(
        (
            c
            for c in text
            if c != " " and (unicodedata.category(c)[0] in "ZC" or c in _DRAWN_AS_NOTHING)
        ),
        "",
    )
