"""Small pieces of sentences: days, lists, plurals."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

__all__ = ["listed", "on_day", "plural", "upper_first", "with_stop"]


def on_day(when: date) -> str:
    """A day as sentences write it.

    >>> on_day(date(2026, 10, 7))
    '7 Oct 2026'
    """
    return f"{when.day} {when:%b %Y}"


def listed(words: Sequence[str], last: str = "and") -> str:
    """Words as a list in a sentence.

    >>> listed(["2B", "4T", "4B"])
    '2B, 4T and 4B'
    """
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {last} {words[-1]}"


def plural(word: str, number: int) -> str:
    """A word for one or for more."""
    return word if number == 1 else f"{word}s"


def upper_first(text: str) -> str:
    """A sentence's first letter made large; the rest is left as written."""
    return text[:1].upper() + text[1:]


def lower_first(text: str) -> str:
    """A sentence's first letter made small, to go on within another; "OL" and "K0412" stay."""
    within = text[1:2].islower() or text[1:2] in ("", " ")
    return text[:1].lower() + text[1:] if within else text


def with_stop(text: str) -> str:
    """A sentence with its capital and its full stop."""
    text = text.strip()
    text = text[:1].upper() + text[1:]
    return text if text.endswith((".", "!", "?")) else f"{text}."
